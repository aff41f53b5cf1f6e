"""A plan file replayed and counted by its own word: what its steps come to, and where they leave the settings.

Whatever needs the shop (what a move costs, what is within tolerance) is `recount`'s, before a plan is written. Here a
file is held to itself: the sums, the settings from step to step, the order and the mates that it tells of.
"""

from __future__ import annotations

from collections.abc import Iterator

from sequencer.agreement.lists import Contradiction
from sequencer.diagnostics import quoted
from sequencer.planfile import Plan, Reading, Step

SAME_MINUTES = 1e-6
"""What rounding may add to a cost; of large ones it is their last places."""
SAME_READING = 1e-6
"""In the job's unit, or degrees: what a reading told twice may differ by."""

Where = tuple[str, str]
"""A setting: (station, setting)."""


def miscounted(plan: Plan) -> Iterator[Contradiction]:
    """Where a plan whose lists agree (`lists`) does not come to what it says."""
    yield from _sums(plan)
    yield from _proof(plan)
    yield from _order(plan)
    yield from _setups(plan)
    yield from _settings(plan)
    yield from _mates(plan)


def _same(told: float, counted: float) -> bool:
    return abs(told - counted) <= max(SAME_MINUTES, 1e-12 * abs(counted))


def _sums(plan: Plan) -> Iterator[Contradiction]:
    operations = {operation.id: operation for operation in plan.operations}
    resets = [reset for step in plan.steps for reset in step.resets]
    place = {step.operation: index for index, step in enumerate(plan.steps)}
    broken = {  # a preference may be told twice, but is paid once
        (edge.before, edge.after, edge.price_minutes, edge.rule)
        for edge in plan.precedence
        if edge.strength == "prefer" and place.get(edge.before, -1) > place.get(edge.after, len(place))
    }
    for index, step in enumerate(plan.steps):
        work = operations[step.operation].work_minutes
        if not _same(step.work_minutes, work):
            message = f'"{step.operation}" takes other minutes in operations'
            yield Contradiction(
                f"steps.{index}.work_minutes", message, f"{work:.10g}, its pieces times minutes_each"
            )
    for name, told, counted, by in (
        ("reset_minutes", plan.reset_minutes, sum(reset.minutes for reset in resets), "the steps' resets"),
        (
            "walk_minutes",
            plan.walk_minutes,
            sum(step.walk_minutes for step in plan.steps),
            "the steps' walks",
        ),
        ("work_minutes", plan.work_minutes, sum(step.work_minutes for step in plan.steps), "the steps' work"),
        (
            "preference_minutes",
            plan.preference_minutes,
            sum(p for _, _, p, _ in broken),
            "preferences not met",
        ),
        (
            "cost_minutes",
            plan.cost_minutes,
            plan.reset_minutes + plan.walk_minutes + plan.work_minutes,
            "reset_minutes, walk_minutes and work_minutes",
        ),
    ):
        if not _same(told, counted):
            yield Contradiction(name, f"must be the sum of {by}, not {told:.10g}", f"{counted:.10g}")
    if plan.reset_count != len(resets):
        message = f"must be the number of the steps' resets, not {plan.reset_count}"
        yield Contradiction("reset_count", message, str(len(resets)))


def _proof(plan: Plan) -> Iterator[Contradiction]:
    cost, bound = f"{plan.cost_minutes:.10g}", plan.bound_minutes
    proven = _same(bound, plan.cost_minutes)
    if bound > plan.cost_minutes and not proven:
        message = "no order costs less than the bound, so it must not be above cost_minutes"
        yield Contradiction("bound_minutes", message, f"at most {cost}")
    elif plan.status == "optimal" and not proven:
        message = 'it must be cost_minutes where the status is "optimal"'
        yield Contradiction("bound_minutes", message, cost)
    elif plan.status == "feasible" and proven:
        message = "no order costs less than this plan, by its bound_minutes"
        yield Contradiction("status", message, '"optimal", or a lower bound')
    if plan.interrupted and plan.status == "optimal":
        yield Contradiction("interrupted", 'a search whose plan is "optimal" came to its end', "false")


def _order(plan: Plan) -> Iterator[Contradiction]:
    """What must come before what, among the steps; and whether preferences are kept as they are told."""
    place = {step.operation: index for index, step in enumerate(plan.steps)}
    for index, edge in enumerate(plan.precedence):
        if edge.before not in place or edge.after not in place:
            continue
        kept = place[edge.before] < place[edge.after]
        if edge.strength == "must" and not kept:
            message = f'step {place[edge.after] + 1} ("{edge.after}") must come after step '
            message += f'{place[edge.before] + 1} ("{edge.before}"): {edge.why}'
            yield Contradiction(f"precedence.{index}", message, "steps in an order that keeps every must")
        elif edge.kept != kept:
            message = f"it is {'kept' if kept else 'not kept'} by the order of the steps"
            yield Contradiction(f"precedence.{index}.kept", message, str(kept).lower())


def _setups(plan: Plan) -> Iterator[Contradiction]:
    """A setup begins with its first step: whatever is moved or walked for it is that step's."""
    first: dict[int, Step] = {}
    for index, step in enumerate(plan.steps):
        begins = first.setdefault(step.setup, step) is step
        for key, there in (("resets", bool(step.resets)), ("walk_minutes", step.walk_minutes > 0)):
            if there and not begins:
                message = f"nothing is moved or walked within setup {step.setup}"
                accepted = f"only at its first step, {first[step.setup].operation}"
                yield Contradiction(f"steps.{index}.{key}", message, accepted)
        if step.walk_minutes > 0 and (index == 0 or plan.steps[index - 1].station == step.station):
            message = "there is no walk where the work does not come from another station"
            yield Contradiction(f"steps.{index}.walk_minutes", message, "0")
    for index, setup in enumerate(plan.setups):
        step = first[setup.number]
        if setup.resets != step.resets:
            message = f'they are not those of the setup\'s first step ("{step.operation}")'
            yield Contradiction(
                f"setups.{index}.resets", message, f"the resets of step {plan.steps.index(step) + 1}"
            )
        if not _same(setup.walk_minutes, step.walk_minutes):
            message = f'it is not that of the setup\'s first step ("{step.operation}")'
            yield Contradiction(f"setups.{index}.walk_minutes", message, f"{step.walk_minutes:.10g}")


def _settings(plan: Plan) -> Iterator[Contradiction]:
    """Every setting from step to step: moved from where it stood, and shown where it was moved to. Of each the first
    contradiction: what follows may follow from it.
    """
    standing: dict[Where, Reading | None] = {}
    wrong: set[Where] = set()
    left: set[str] = set()
    """Stations that the work has been taken from: what a visit loses does not stand any more there."""
    for index, step in enumerate(plan.steps):
        if index and plan.steps[index - 1].station != step.station:
            left.add(plan.steps[index - 1].station)
        for name in (*step.settings, *(reset.setting for reset in step.resets)):
            if plan.begins is not None:  # otherwise it stands where the first step finds it
                where = step.station, name
                standing.setdefault(where, plan.begins.get(".".join(where)))
        found = [*_moved(step, f"steps.{index}.resets", standing, step.station in left)]
        for name, shown in step.settings.items():
            where = step.station, name
            if not _reads(standing.setdefault(where, shown), shown):
                message = f"{name} does not stand there by the resets so far"
                told = _told(standing[where])
                found.append((where, Contradiction(f"steps.{index}.settings.{name}", message, told)))
        if step is plan.steps[-1] or plan.steps[index + 1].setup != step.setup:
            found += _shown(plan, step.setup - 1, standing)
        for where, contradiction in found:
            if where not in wrong:
                wrong.add(where)
                yield contradiction


def _moved(
    step: Step, at: str, standing: dict[Where, Reading | None], left: bool
) -> Iterator[tuple[Where, Contradiction]]:
    """The resets before a step made on what stands; `left`: the work was away from the station before."""
    moved: set[str] = set()
    for number, reset in enumerate(step.resets):
        where = step.station, reset.setting
        if reset.setting in moved or reset.setting not in step.settings:
            message = f'"{step.operation}" does not ask for "{reset.setting}" to be moved, or not twice'
            yield where, Contradiction(f"{at}.{number}", message, f"each once, of {quoted(step.settings)}")
        moved.add(reset.setting)
        stood = standing.get(where, reset.from_)
        if not _reads(reset.from_, stood) and not (reset.from_ is None and left):
            message = f"{reset.setting} does not stand there before the step"
            yield where, Contradiction(f"{at}.{number}.from", message, _told(stood))
        standing[where] = reset.to


def _shown(
    plan: Plan, index: int, standing: dict[Where, Reading | None]
) -> Iterator[tuple[Where, Contradiction]]:
    """A setup's card: the settings of its steps, and others only where they stand."""
    setup = plan.setups[index]
    at = f"setups.{index}.settings"
    asked = {name for step in plan.steps if step.setup == setup.number for name in step.settings}
    for name in sorted(asked - setup.settings.keys()):
        where = setup.station, name
        yield where, Contradiction(at, f"{name} is missing, which its steps ask for", _told(standing[where]))
    for name, shown in setup.settings.items():
        where = setup.station, name
        if not _reads(standing.get(where), shown):
            message = f"{name} does not stand there in this setup"
            yield where, Contradiction(f"{at}.{name}", message, _told(standing.get(where)))


def _mates(plan: Plan) -> Iterator[Contradiction]:
    """What mates hold is neither moved nor lost from the first of them to the last."""
    lost = _lost(plan)
    for number, group in enumerate(plan.mates):
        at = [index for index, step in enumerate(plan.steps) if step.operation in group.operations]
        if not at:
            continue
        mates = f"between mates (mates.{number}): {quoted(plan.steps[index].operation for index in at)}"
        inside, steps = range(at[0] + 1, at[-1] + 1), f"from step {at[0] + 1} to step {at[-1] + 1}"
        for index, step in enumerate(plan.steps):
            for reset in step.resets:
                name, key = f"{step.station}.{reset.setting}", f"steps.{index}.resets"
                leaving = lost.get((index, name), ())
                if name not in group.hold:
                    continue
                if leaving and all(each in inside for each in leaving):
                    message = f"by this move {name} is lost as the work leaves {step.station} {mates}"
                    yield Contradiction(key, message, f"work that stays at {step.station} {steps}")
                elif index in inside:
                    yield Contradiction(key, f"{name} is moved {mates}", f"no move of it {steps}")


def _lost(plan: Plan) -> dict[tuple[int, str], tuple[int, ...]]:
    """Of what is set from nothing though it was known to stand, by step and "station.setting": the steps before which
    the work has left its station since. At one of them it was lost."""
    found: dict[tuple[int, str], tuple[int, ...]] = {}
    left: dict[str, tuple[int, ...]] = dict.fromkeys(plan.begins or (), ())
    """Of each setting that has stood: when its station was left since."""
    for index, step in enumerate(plan.steps):
        before = plan.steps[index - 1].station if index else step.station
        if before != step.station:
            left |= {name: (*since, index) for name, since in left.items() if name.startswith(f"{before}.")}
        for reset in step.resets:
            name = f"{step.station}.{reset.setting}"
            if reset.from_ is None and name in left:
                found[index, name] = left[name]
        left |= {f"{step.station}.{name}": () for name in step.settings}
    return found


def _reads(told: Reading | None, other: Reading | None) -> bool:
    """Whether two readings are the same."""
    if isinstance(told, (int, float)) and isinstance(other, (int, float)):
        return abs(told - other) <= max(SAME_READING, 1e-12 * abs(other))
    return told == other


def _told(reading: Reading | None) -> str:
    if reading is None:
        return "null: nobody knows where it stands, so it must be moved"
    return f'"{reading}"' if isinstance(reading, str) else f"{reading:.12g}"
