"""What the plan as a whole says: cost by station and by setting, savings, how far it is proven, and why."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from sequencer.cards.planbook import PlanBook, goes_on
from sequencer.operations import StruckOut, as_words
from sequencer.planfile import Plan


@dataclass(frozen=True)
class SettingCost:
    """How often a setting is moved, and the minutes it takes."""

    name: str
    resets: int
    minutes: float


@dataclass(frozen=True)
class StationCost:
    """What a station takes: arrivals (the first included), setups, resets, and minutes of each kind."""

    name: str
    visits: int
    setups: int
    resets: int
    reset_minutes: float
    walk_minutes: float
    work_minutes: float
    settings: tuple[SettingCost, ...]
    """Those that are moved, in the shop's order."""


@dataclass(frozen=True)
class HabitCost:
    """What a usual habit would cost, and what the plan saves against it (negative if it costs more)."""

    name: str
    cost_minutes: float
    resets: int
    saves_minutes: float


@dataclass(frozen=True)
class LeastCost:
    """Part of what no order can save: `settings` cannot cost less than `minutes` together."""

    settings: tuple[str, ...]
    minutes: float
    why: str


@dataclass(frozen=True)
class Unmet:
    """A preference not met: `before` stands at step `before_step`, later than `after` at `after_step`."""

    rule: str
    before: str
    before_step: int
    after: str
    after_step: int
    why: str
    price_minutes: float


@dataclass(frozen=True)
class RuleSaving:
    """What the plan would save without a rule; exact when `proven`, else at least so much.

    `preference_minutes` of it are no time but prices of other preferences; None where nobody knows how many.
    """

    rule: str
    saves_minutes: float
    proven: bool
    preference_minutes: float | None


@dataclass(frozen=True)
class Overview:
    """The whole plan in figures. `gap_minutes` is what is not ruled out yet, 0 if proven."""

    job: str
    goes_on: str
    """Of a plan that goes on from another, the how-manieth it is and after how many steps; else empty."""
    shop: str
    batch: int
    proven: bool
    interrupted: bool
    cost_minutes: float
    bound_minutes: float
    gap_minutes: float
    reset_minutes: float
    reset_count: int
    walk_minutes: float
    walk_count: int
    work_minutes: float
    preference_minutes: float
    preferences: int
    """How many preferences bear on the order, met or not: the proof weighs their prices in."""
    steps: int
    setups: int
    stations: tuple[StationCost, ...]
    habits: tuple[HabitCost, ...]
    least_costs: tuple[LeastCost, ...]
    unmet: tuple[Unmet, ...]
    choices: tuple[tuple[str, str], ...]
    """Each choice and the way taken, in words."""
    struck_out: tuple[StruckOut, ...]
    rule_savings: tuple[RuleSaving, ...]
    """Those that would save anything, dearest first."""
    rules_free: int
    """Rules without which nothing would be saved, proven."""
    rules_unknown: tuple[str, ...]
    """Rules of which it was not found out."""
    rules_not_tried: tuple[str, ...]
    """Rules whose pricing was stopped by hand before."""
    remarks: tuple[str, ...]
    engine: str
    seconds: float


def overview(plan: Plan) -> Overview:
    """The figures of a plan."""
    book = PlanBook(plan)
    return Overview(
        job=plan.job,
        goes_on=goes_on(plan),
        shop=plan.shop,
        batch=plan.batch,
        proven=plan.status == "optimal",
        interrupted=plan.interrupted,
        cost_minutes=plan.cost_minutes,
        bound_minutes=plan.bound_minutes,
        gap_minutes=max(0.0, plan.cost_minutes - plan.bound_minutes),
        reset_minutes=plan.reset_minutes,
        reset_count=plan.reset_count,
        walk_minutes=plan.walk_minutes,
        walk_count=sum(visits for visits in _visits(plan).values()) - 1 if plan.steps else 0,
        work_minutes=plan.work_minutes,
        preference_minutes=plan.preference_minutes,
        preferences=sum(
            edge.strength == "prefer" and {edge.before, edge.after} <= book.number.keys()
            for edge in plan.precedence
        ),
        steps=len(plan.steps),
        setups=len(plan.setups),
        stations=_stations(book),
        habits=tuple(
            HabitCost(
                habit.name,
                habit.cost_minutes,
                habit.reset_count,
                habit.cost_minutes - plan.cost_minutes,
            )
            for habit in plan.habits
        ),
        least_costs=tuple(
            LeastCost(tuple(_dial(book, label) for label in reason.settings), reason.minutes, reason.why)
            for reason in plan.reasons
        ),
        unmet=tuple(
            Unmet(
                edge.rule,
                book.what(edge.before),
                book.number[edge.before],
                book.what(edge.after),
                book.number[edge.after],
                edge.why,
                edge.price_minutes,
            )
            for edge in plan.precedence
            if not edge.kept and {edge.before, edge.after} <= book.number.keys()
        ),
        choices=tuple((as_words(choice), as_words(way)) for choice, way in plan.choices.items()),
        struck_out=plan.struck_out,
        rule_savings=tuple(
            RuleSaving(cost.rule, cost.saves_minutes, cost.proven, cost.preference_minutes)
            for cost in sorted(plan.rule_costs, key=lambda cost: (-cost.saves_minutes, cost.rule))
            if cost.saves_minutes > 0
        ),
        rules_free=sum(cost.saves_minutes <= 0 and cost.proven for cost in plan.rule_costs),
        rules_unknown=tuple(
            cost.rule for cost in plan.rule_costs if cost.saves_minutes <= 0 and not cost.proven
        ),
        rules_not_tried=plan.rules_not_tried,
        remarks=plan.remarks,
        engine=plan.engine,
        seconds=plan.planning_seconds,
    )


def _visits(plan: Plan) -> Counter[str]:
    """How often the work arrives at each station."""
    before = [None, *(step.station for step in plan.steps)]
    return Counter(
        step.station for step, last in zip(plan.steps, before, strict=False) if step.station != last
    )


def _stations(book: PlanBook) -> tuple[StationCost, ...]:
    """The stations that are used, in the order of their first step."""
    return tuple(_station(book, station, visits) for station, visits in _visits(book.plan).items())


def _station(book: PlanBook, station: str, visits: int) -> StationCost:
    setups = book.at_station(station)
    steps = [step for step in book.plan.steps if step.station == station]
    resets = [reset for setup in setups for reset in setup.resets]
    order = dict.fromkeys(name for setup in setups[-1:] for name in book.settings_in_order(setup))
    names = {**order, **dict.fromkeys(reset.setting for reset in resets)}
    moved = {name: [reset.minutes for reset in resets if reset.setting == name] for name in names}
    return StationCost(
        name=book.station_name(station),
        visits=visits,
        setups=len(setups),
        resets=len(resets),
        reset_minutes=sum(reset.minutes for reset in resets),
        walk_minutes=sum(step.walk_minutes for step in steps),
        work_minutes=sum(step.work_minutes for step in steps),
        settings=tuple(
            SettingCost(book.setting_name(station, name), len(minutes), sum(minutes))
            for name, minutes in moved.items()
            if minutes
        ),
    )


def _dial(book: PlanBook, label: str) -> str:
    """A label of the bound ("saw.tilt", "walking") in words."""
    station, dot, setting = label.partition(".")
    return f"{book.station_name(station)} {book.setting_name(station, setting)}" if dot else label
