"""The independent checker: replays a plan step by step as the shop file words it, and counts the cost afresh.

It knows nothing of dials, bit sets or bounds. Every plan that is ordered passes through it before it is shown or
written; one read from its file is held to its own word (`files/plan_replay.py`).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from sequencer.model.shop import Setting, Shop
from sequencer.operations import Between, Edge, OneOf, Operation, Wanted, Worklist, the_one
from sequencer.planfile import Plan, Reading, Step

CENT = 1e-6
"""Minutes, mm or degrees that may be lost to the rounding of decimal numbers."""


class RecountError(AssertionError):
    """A plan that does not hold: which step, and what is wrong with it. A fault of the program, never of
    the job.
    """


def recount(plan: Plan, worklist: Worklist, edges: Iterable[Edge], shop: Shop) -> None:
    """Replay the plan; raise RecountError at the first thing that does not hold.

    Checked: the operations of the options chosen, each exactly once; every must-edge; every setting within
    what the operation wants, tolerance included; a setting that is measured at another one only where it was set at
    what is asked of that one, too; every reset listed, none too many, each from where the setting stood and at its
    price; settings with `keeps = false` lost on leaving; mates undisturbed; pieces and their work; walks; the sums.
    """
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
    _replay(plan, wanted, worklist, shop)
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
    _demand(plan.bound_minutes <= plan.cost_minutes + CENT, "bound above the cost")
    proven = plan.bound_minutes >= plan.cost_minutes - CENT
    _demand((plan.status == "optimal") == proven, "status does not match the bound")


def _made(worklist: Worklist, chosen: Mapping[str, str]) -> dict[str, Operation]:
    """The operations made under the options chosen."""
    optional = {op for choice in worklist.choices for ops in choice.options.values() for op in ops}
    taken = {op for choice in worklist.choices for op in choice.options[chosen[choice.id]]}
    return {op.id: op for op in worklist.operations if op.id not in optional or op.id in taken}


def _replay(plan: Plan, wanted: Mapping[str, Operation], worklist: Worklist, shop: Shop) -> None:
    """Walk through the steps, keeping every setting of the shop."""
    settings = {(st.id, setting.id): setting for st in shop.stations for setting in st.settings}
    standing: dict[tuple[str, str], Reading | None] = {
        key: setting.start for key, setting in settings.items()
    }
    bases = {(st.id, setting.id): st.base(setting) for st in shop.stations for setting in st.settings}
    measured = {key: setting.start_at for key, setting in settings.items()}
    guarded = _guarded(plan, worklist)
    here: str | None = None
    for index, step in enumerate(plan.steps):
        at = f"step {index + 1} ({step.operation})"
        operation = wanted[step.operation]
        _demand(step.station == operation.station, f"{at}: wrong station")
        _demand(
            step.quantity == operation.quantity, f"{at}: {step.quantity} pieces, wanted {operation.quantity}"
        )
        _close(step.work_minutes, operation.work_minutes, f"{at}: work")
        walk = 0.0 if here in (None, step.station) else shop.walk_minutes(here, step.station)
        _close(step.walk_minutes, walk, f"{at}: walk")
        if here is not None and here != step.station:
            for key in standing:
                if key[0] == here and not settings[key].keeps:
                    standing[key] = None
                    _demand(f"{key[0]}.{key[1]}" not in guarded[index], f"{at}: {key} is lost between mates")
        here = step.station
        for reset in step.resets:
            key = (step.station, reset.setting)
            _demand(reset.setting in operation.settings, f"{at}: {reset.setting} reset without need")
            _demand(f"{key[0]}.{key[1]}" not in guarded[index], f"{at}: {reset.setting} moved between mates")
            old, new = standing[key], settings[key].in_mm(reset.to, plan.unit)
            before = None if reset.from_ is None else settings[key].in_mm(reset.from_, plan.unit)
            _demand(
                _alike(settings[key], before, old),
                f"{at}: {reset.setting} moved from {before}, stood at {old}",
            )
            base = bases[key]
            level = the_one(operation.settings.get(base.id)) if base else None
            if not _alike(base, measured[key], level):
                old = None  # what it read at another level it reads no longer
            measured[key] = level
            _demand(
                old is None or not settings[key].same(old, new), f"{at}: {reset.setting} reset to where it is"
            )
            _demand(
                _meets(settings[key], operation.settings[reset.setting], new, 0.0),
                f"{at}: reset beside the mark",
            )
            _close(reset.minutes, settings[key].move_minutes(old, new), f"{at}: minutes for {reset.setting}")
            standing[key] = new
        _demand(step.settings.keys() == operation.settings.keys(), f"{at}: settings named differ")
        for name, want in operation.settings.items():
            setting, value = settings[step.station, name], standing[step.station, name]
            _demand(
                value is not None and _meets(setting, want, value, setting.tolerance),
                f"{at}: {name} stands at {value}, wanted {want}",
            )
            base = bases[step.station, name]
            level = the_one(operation.settings.get(base.id)) if base else None
            _demand(
                level is None or _alike(base, measured[step.station, name], level),
                f"{at}: {name} was not set with {base and base.id} at {level}",
            )
            _check_shown(setting, step, name, value, plan, at)


def _alike(setting: Setting | None, one: Reading | None, two: Reading | None) -> bool:
    """Whether the two are one reading of the setting, None being one of its own; true where there is no setting."""
    if setting is None or one is None or two is None:
        return setting is None or one is two
    return setting.same(one, two)


def _guarded(plan: Plan, worklist: Worklist) -> list[set[str]]:
    """For each step the settings ("station.setting") that mates forbid to move just before it."""
    guarded: list[set[str]] = [set() for _ in plan.steps]
    for group in worklist.mates:
        at = [index for index, step in enumerate(plan.steps) if step.operation in group.operations]
        for index in range(at[0] + 1, at[-1] + 1) if at else ():
            guarded[index].update(group.hold)
    return guarded


def _check_shown(setting: Setting, step: Step, name: str, value: Reading | None, plan: Plan, at: str) -> None:
    shown = setting.in_mm(step.settings[name], plan.unit)
    _demand(
        value is not None and setting.same(shown, value), f"{at}: {name} shown as {shown}, stands at {value}"
    )


def _meets(setting: Setting, want: Wanted, value: Reading, slack: float) -> bool:
    """Whether a setting standing at `value` is what the operation wants, give or take `slack`."""
    match want:
        case OneOf(any=values):
            return any(_meets(setting, each, value, slack) for each in values)
        case Between(min=low, max=high):
            return not isinstance(value, str) and low - slack - CENT <= value <= high + slack + CENT
        case str():
            return value == want
        case _:
            return not isinstance(value, str) and abs(value - want) <= slack + CENT


def _demand(holds: bool, what: str) -> None:
    if not holds:
        raise RecountError(what)


def _close(claimed: float, counted: float, what: str) -> None:
    """Both are sums of decimal numbers: large ones round in their last places."""
    lost = max(CENT, 1e-12 * abs(counted))
    _demand(abs(claimed - counted) <= lost, f"{what}: the plan says {claimed}, recounted {counted}")
