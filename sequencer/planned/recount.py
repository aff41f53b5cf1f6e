"""The independent checker: replays a plan step by step as the shop file words it, and counts the cost afresh.

It knows nothing of dials, bit sets or bounds. Every plan that is ordered passes through it before it is shown or
written; one read from its file is held to its own word (`agreement/replay.py`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from sequencer.listing import listed
from sequencer.model.shop import Setting, Shop
from sequencer.operations import Between, Edge, OneOf, Operation, Wanted, Worklist, the_one
from sequencer.planfile import Plan, Reading, Reset, Step
from sequencer.planned.habits_counted import count_habits

ROUNDING = 1e-6
"""Minutes, mm or degrees that may be lost to the rounding of decimal numbers."""


class RecountError(AssertionError):
    """A plan that does not hold: which step, and what is wrong with it. A fault of the program, never of
    the job.
    """


def recount(plan: Plan, worklist: Worklist, edges: Sequence[Edge], shop: Shop) -> None:
    """Replay the plan; raise RecountError at the first thing that does not hold.

    Checked: the operations of the options chosen, each exactly once; every must-edge; every setting within
    what the operation wants, tolerance included; a setting that is measured at another one only where it was set at
    what is asked of that one, too; every reset listed, none too many, each from where the setting stood and at its
    price; settings with `keeps = false` lost on leaving; mates undisturbed; pieces and their work; walks; the sums; the
    cards: runs of steps without a reset, with what is moved for them and all that is known to stand there; where
    settings stand when the plan begins, and what the habits cost, where it speaks of these.
    """
    _begun(plan, shop)
    wanted = _made(worklist, plan.choices)
    place = {step.operation: index for index, step in enumerate(plan.steps)}
    _demand(
        len(place) == len(plan.steps) and place.keys() == wanted.keys(), "not each operation exactly once"
    )
    for edge in edges:
        if edge.strength == "must" and edge.before in place and edge.after in place:
            _demand(
                place[edge.before] < place[edge.after], f"{edge.before} must precede {edge.after}: {edge.why}"
            )
    _cards(plan, _replay(plan, wanted, worklist, shop), shop)
    preference = sum(
        edge.price_minutes
        for edge in {(e.before, e.after, e.price_minutes, e.rule): e for e in edges}.values()
        if edge.strength == "prefer" and place.get(edge.before, -1) > place.get(edge.after, len(place))
    )
    _close(plan.preference_minutes, preference, "the price of preferences")
    _close(
        plan.reset_minutes,
        sum(reset.minutes for step in plan.steps for reset in step.resets),
        "reset minutes",
    )
    _close(plan.walk_minutes, sum(step.walk_minutes for step in plan.steps), "walk minutes")
    _close(plan.work_minutes, sum(op.quantity * op.minutes_each for op in wanted.values()), "work minutes")
    _close(plan.cost_minutes, plan.reset_minutes + plan.walk_minutes + plan.work_minutes, "cost")
    _demand(plan.reset_count == sum(len(step.resets) for step in plan.steps), "reset count")
    _demand(plan.bound_minutes <= plan.cost_minutes + ROUNDING, "bound above the cost")
    proven = plan.bound_minutes >= plan.cost_minutes - ROUNDING
    _demand((plan.status == "optimal") == proven, "status does not match the bound")
    _habits(plan, wanted, worklist, edges, shop)


def _made(worklist: Worklist, chosen: Mapping[str, str]) -> dict[str, Operation]:
    """The operations made under the options chosen."""
    optional = {op for choice in worklist.choices for op in choice.operations}
    taken = {op for choice in worklist.choices for op in choice.options[chosen[choice.id]]}
    return {op.id: op for op in worklist.operations if op.id not in optional or op.id in taken}


def _begun(plan: Plan, shop: Shop) -> None:
    """Where settings stand when the plan begins, as the shop says, and what they are measured at: all that it says."""
    starts, levels = {}, {}
    for station in shop.stations:
        for setting in station.settings:
            base, name = station.base(setting), f"{station.id}.{setting.id}"
            if setting.start is not None:
                starts[name] = setting, setting.start
                if base is not None and setting.start_at is not None:
                    levels[name] = base, setting.start_at
    for what, told, known in (("begins", plan.begins, starts), ("begins_at", plan.begins_at, levels)):
        if told is None:
            continue  # nothing is said
        for name in sorted(told.keys() | known.keys()):
            _demand(name in known, f"{what}: nobody knows where {name} stands")
            _demand(name in told, f"{what}: {name} is missing")
            setting, reading = known[name]
            says = setting.in_mm(told[name], plan.unit)
            _demand(_equal(says, reading), f"{what}: {name} at {says}, stands at {reading}")


def _replay(
    plan: Plan, wanted: Mapping[str, Operation], worklist: Worklist, shop: Shop
) -> list[dict[str, Reading]]:
    """Walk through the steps, keeping every setting of the shop. For each step, what is known to stand at its station:
    the settings that work has named so far, less those that were lost.
    """
    walk, known = _Walk(plan, shop), []
    for number, (step, guarded) in enumerate(zip(plan.steps, _guarded(plan, worklist), strict=True), 1):
        at, operation = f"step {number} ({step.operation})", wanted[step.operation]
        _demand(step.station == operation.station, f"{at}: wrong station")
        _demand(
            step.quantity == operation.quantity, f"{at}: {step.quantity} pieces, wanted {operation.quantity}"
        )
        _close(step.work_minutes, operation.work_minutes, f"{at}: work")
        walk.go(step, guarded, at)
        for reset in step.resets:
            walk.move(step, reset, operation, guarded, at)
        walk.make(step, operation, at)
        known.append(walk.known())
    return known


class _Walk:
    """A walk through the shop: where the work is, and where every setting stands.

    `guarded` are the settings ("station.setting") that mates forbid to move or lose before a step, each with between
    which mates; `at` names the step.
    """

    def __init__(self, plan: Plan, shop: Shop) -> None:
        self.plan, self.shop = plan, shop
        self.here: str | None = None
        self.settings = {(st.id, setting.id): setting for st in shop.stations for setting in st.settings}
        self.bases = {
            (st.id, setting.id): st.base(setting) for st in shop.stations for setting in st.settings
        }
        self.standing: dict[tuple[str, str], Reading | None] = {
            key: setting.start for key, setting in self.settings.items()
        }
        self.measured = {key: setting.start_at for key, setting in self.settings.items()}
        """At which reading of its base each setting was set."""
        self.named: set[tuple[str, str]] = set()
        """What work has named so far."""

    def go(self, step: Step, guarded: Mapping[str, str], at: str) -> None:
        """Take the work to the step's station; what does not keep its value is lost where it leaves."""
        left, self.here = self.here, step.station
        walk = 0.0 if left in (None, step.station) else self.shop.walk_minutes(left, step.station)
        _close(step.walk_minutes, walk, f"{at}: walk")
        for key, setting in self.settings.items() if left != step.station else ():
            if key[0] == left and not setting.keeps:
                self.standing[key] = None
                name = ".".join(key)
                _demand(name not in guarded, f"{at}: {name} is lost {guarded.get(name)}")

    def move(
        self, step: Step, reset: Reset, operation: Operation, guarded: Mapping[str, str], at: str
    ) -> None:
        """Move a setting from where it stands to what the operation wants, at its price."""
        key = (step.station, reset.setting)
        _demand(reset.setting in operation.settings, f"{at}: {reset.setting} reset without need")
        name, setting = ".".join(key), self.settings[key]
        _demand(name not in guarded, f"{at}: {name} is moved {guarded.get(name)}")
        old, new = self.standing[key], setting.in_mm(reset.to, self.plan.unit)
        before = None if reset.from_ is None else setting.in_mm(reset.from_, self.plan.unit)
        _demand(_alike(setting, before, old), f"{at}: {reset.setting} moved from {before}, stood at {old}")
        base, level = self._base(key, operation)
        if not _alike(base, self.measured[key], level):
            old = None  # what it read at another level it reads no longer
        self.measured[key] = level
        _demand(old is None or not setting.same(old, new), f"{at}: {reset.setting} reset to where it is")
        _demand(_meets(setting, operation.settings[reset.setting], new, 0.0), f"{at}: reset beside the mark")
        _close(reset.minutes, setting.move_minutes(old, new), f"{at}: minutes for {reset.setting}")
        self.standing[key] = new

    def make(self, step: Step, operation: Operation, at: str) -> None:
        """Make the step: everything stands where its operation wants it, and is shown where it stands."""
        _demand(step.settings.keys() == operation.settings.keys(), f"{at}: settings named differ")
        for name, want in operation.settings.items():
            key = step.station, name
            setting, value = self.settings[key], self.standing[key]
            _demand(
                value is not None and _meets(setting, want, value, setting.tolerance),
                f"{at}: {name} stands at {value}, wanted {want}",
            )
            base, level = self._base(key, operation)
            _demand(
                level is None or _alike(base, self.measured[key], level),
                f"{at}: {name} was not set with {base and base.id} at {level}",
            )
            shown = setting.in_mm(step.settings[name], self.plan.unit)
            _demand(
                value is not None and setting.same(shown, value),
                f"{at}: {name} shown as {shown}, stands at {value}",
            )
            self.named.add(key)

    def known(self) -> dict[str, Reading]:
        """What is known to stand at the station where the work is."""
        return {
            setting: value
            for (station, setting), value in self.standing.items()
            if station == self.here and (station, setting) in self.named and value is not None
        }

    def _base(self, key: tuple[str, str], operation: Operation) -> tuple[Setting | None, Reading | None]:
        """The setting that one is measured at, and the reading of it that the operation asks for, if it is one."""
        base = self.bases[key]
        return base, the_one(operation.settings.get(base.id)) if base else None


def _cards(plan: Plan, known: Sequence[Mapping[str, Reading]], shop: Shop) -> None:
    """Every card is a run of steps at one station without a reset on the way; it tells what is moved for it, and all
    that is `known` to stand there by its last step.
    """
    firsts = [
        index
        for index, (step, before) in enumerate(zip(plan.steps, (None, *plan.steps), strict=False))
        if before is None or step.resets or step.station != before.station
    ]
    _demand(len(plan.setups) == len(firsts), f"{len(plan.setups)} setups, counted {len(firsts)}")
    ends = (*firsts, len(plan.steps))[1:]
    for number, (setup, first, end) in enumerate(zip(plan.setups, firsts, ends, strict=False), 1):
        at, run = f"setup {number}", plan.steps[first:end]
        _demand(
            setup.number == number and {step.setup for step in run} == {number}, f"{at}: numbered otherwise"
        )
        _demand(setup.station == run[0].station, f"{at}: wrong station")
        _demand(
            setup.operations == tuple(step.operation for step in run), f"{at}: not its steps in their order"
        )
        _demand(setup.resets == run[0].resets, f"{at}: not the resets of its first step")
        _close(setup.walk_minutes, run[0].walk_minutes, f"{at}: walk")
        stands = known[end - 1]
        for name in sorted(setup.settings.keys() | stands.keys()):
            _demand(name in stands, f"{at}: {name} is not known to stand anywhere")
            _demand(name in setup.settings, f"{at}: {name} is missing")
            shown = shop.station(setup.station).setting(name).in_mm(setup.settings[name], plan.unit)
            _demand(_equal(shown, stands[name]), f"{at}: {name} shown as {shown}, stands at {stands[name]}")


def _habits(
    plan: Plan, wanted: Mapping[str, Operation], worklist: Worklist, edges: Sequence[Edge], shop: Shop
) -> None:
    """What the habits cost that the plan speaks of."""
    if not plan.habits:
        return
    counted = count_habits(wanted, worklist.operations, edges, shop)
    names = [habit.name for habit in plan.habits]
    _demand(len({*names} & counted.keys()) == len(names), f"habits {listed(names)}: not each of these once")
    for habit in plan.habits:
        minutes, resets = counted[habit.name]
        _close(habit.cost_minutes, minutes, f'habit "{habit.name}"')
        _demand(
            habit.reset_count == resets,
            f'habit "{habit.name}": {habit.reset_count} resets, recounted {resets}',
        )


def _equal(one: Reading, two: Reading) -> bool:
    """Whether two readings are the very same, lengths in mm."""
    if isinstance(one, str) or isinstance(two, str):
        return one == two
    return abs(one - two) <= max(ROUNDING, 1e-12 * abs(two))


def _alike(setting: Setting | None, one: Reading | None, two: Reading | None) -> bool:
    """Whether the two are one reading of the setting, None being one of its own; true where there is no setting."""
    if setting is None or one is None or two is None:
        return setting is None or one is two
    return setting.same(one, two)


def _guarded(plan: Plan, worklist: Worklist) -> list[dict[str, str]]:
    """For each step the settings ("station.setting") that mates forbid to move or lose just before it, each with
    between which mates: all that are made of one group.
    """
    guarded: list[dict[str, str]] = [{} for _ in plan.steps]
    for group in worklist.mates:
        at = [index for index, step in enumerate(plan.steps) if step.operation in group.operations]
        between = f"between mates: {listed(plan.steps[index].operation for index in at)}" if at else ""
        for index in range(at[0] + 1, at[-1] + 1) if at else ():
            for held in group.hold:
                guarded[index].setdefault(held, between)
    return guarded


def _meets(setting: Setting, want: Wanted, value: Reading, slack: float) -> bool:
    """Whether a setting standing at `value` is what the operation wants, give or take `slack`."""
    match want:
        case OneOf(any=values):
            return any(_meets(setting, each, value, slack) for each in values)
        case Between(min=low, max=high):
            return not isinstance(value, str) and low - slack - ROUNDING <= value <= high + slack + ROUNDING
        case str():
            return value == want
        case _:
            return not isinstance(value, str) and abs(value - want) <= slack + ROUNDING


def _demand(holds: bool, what: str) -> None:
    if not holds:
        raise RecountError(what)


def _close(claimed: float, counted: float, what: str) -> None:
    """Both are sums of decimal numbers: large ones round in their last places."""
    lost = max(ROUNDING, 1e-12 * abs(counted))
    _demand(abs(claimed - counted) <= lost, f"{what}: the plan says {claimed}, recounted {counted}")
