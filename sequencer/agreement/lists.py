"""Whether the lists of a plan file speak of the same work: every name in one of them is known by the others."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import NamedTuple

from sequencer.diagnostics import nearest, quoted
from sequencer.operations import Between, Slot
from sequencer.planfile import Plan, Reading
from sequencer.quantity import MM, MOST_LENGTH, as_written


class Contradiction(NamedTuple):
    """Where a plan does not agree with itself, and what would: a fault but for the file's name."""

    where: str
    message: str
    accepted: str = ""


BEYOND = 2 * MOST_LENGTH
"""mm: no reading comes to more where sizes are what a shop can hold, whatever is added to them."""


def torn(plan: Plan) -> Iterator[Contradiction]:
    """Where the plan's lists do not speak of the same work. What the steps come to is another matter
    (`replay`)."""
    yield from _twice(plan)
    yield from _parts(plan)
    yield from _work(plan)
    yield from _stations(plan)
    yield from _options(plan)
    yield from _bonds(plan)
    yield from _again(plan)
    yield from _going_on(plan)
    yield from _meetings(plan)


def _twice(plan: Plan) -> Iterator[Contradiction]:
    for name, ids in (
        ("steps", [step.operation for step in plan.steps]),
        ("operations", [operation.id for operation in plan.operations]),
        ("done", [operation.id for operation in plan.done]),
        ("parts", [part.id for part in plan.parts]),
        ("stations", [station.id for station in plan.stations]),
    ):
        seen: set[str] = set()
        for index, id in enumerate(ids):
            if id in seen:
                yield Contradiction(f"{name}.{index}", f'"{id}" is there twice', "each of them once")
            seen.add(id)


def _parts(plan: Plan) -> Iterator[Contradiction]:
    work = {operation.id for operation in (*plan.operations, *plan.done)}
    for index, part in enumerate(plan.parts):
        if part.spare >= part.quantity:
            yield Contradiction(
                f"parts.{index}.spare",
                "the spares are counted in quantity, and there must be more than these",
                f"at most {part.quantity - 1}",
            )
        elif not part.again and (part.quantity - part.spare) % plan.batch:
            message = f"without the spares, it must be shared out evenly among a batch of {plan.batch}"
            least = part.spare + plan.batch
            accepted = f"{least}, {least + plan.batch}, {least + 2 * plan.batch} ..."
            yield Contradiction(f"parts.{index}.quantity", message, accepted)
        before = [other.id for other in plan.parts[:index]]
        if not set(before).issuperset(part.named[1:]):
            message = "the parts that it is made again of must come before it"
            yield Contradiction(f"parts.{index}", message, quoted(before) or "no part: it is the first")
        yield from _unknown(f"parts.{index}.passes", part.passes, work)


def _work(plan: Plan) -> Iterator[Contradiction]:
    """Steps, setups and operations: the same work, once each, by the same station on as many pieces."""
    known = {operation.id: operation for operation in plan.operations}
    stepped = [step.operation for step in plan.steps]
    for index, step in enumerate(plan.steps):
        at = f"steps.{index}"
        operation = known.get(step.operation)
        if operation is None:
            yield Contradiction(at, f'"{step.operation}" is none of the plan\'s operations', quoted(known))
            continue
        for key, told, meant in (
            ("station", step.station, operation.station),
            ("quantity", step.quantity, operation.quantity),
        ):
            if told != meant:
                yield Contradiction(
                    f"{at}.{key}", f'"{step.operation}" has another in operations', f"{meant}"
                )
        if step.settings.keys() != operation.settings.keys():
            message = f'"{step.operation}" asks for other settings in operations'
            yield Contradiction(f"{at}.settings", message, quoted(operation.settings) or "none")
    for index, operation in enumerate(plan.operations):
        if operation.id not in stepped:
            yield Contradiction(f"operations.{index}", f'"{operation.id}" is in no step', quoted(stepped))
        for name, wanted in operation.settings.items():
            if isinstance(wanted, Between) and wanted.min > wanted.max:
                where = f"operations.{index}.settings.{name}"
                yield Contradiction(where, "min must not be above max", f"a min of at most {wanted.max:g}")
    for index, operation in enumerate(plan.done):
        if operation.id in known:
            message = f'"{operation.id}" is done already, and in the plan'
            yield Contradiction(f"done.{index}", message, "operations that are in no step")
    for index, step in enumerate(plan.steps):
        before = plan.steps[index - 1].setup if index else 0
        if step.setup not in ((before, before + 1) if index else (1,)):
            accepted = f"{before} or {before + 1}" if index else "1"
            yield Contradiction(f"steps.{index}.setup", f"setup {before} stands before it", accepted)
    for index, setup in enumerate(plan.setups):
        run = [step for step in plan.steps if step.setup == index + 1]
        made = tuple(step.operation for step in run)
        if setup.number != index + 1 or setup.operations != made or not made:
            message = f"this is not setup {index + 1} as the steps have it"
            yield Contradiction(f"setups.{index}", message, f"number {index + 1}, operations {quoted(made)}")
        if any(step.station != setup.station for step in run):
            message = "the steps of the setup are at another station"
            yield Contradiction(f"setups.{index}.station", message, quoted(step.station for step in run))
    if any(step.setup > len(plan.setups) for step in plan.steps):
        message = "a step belongs to a setup that is not there"
        yield Contradiction("steps", message, f"setups from 1 to {len(plan.setups)}")


def _stations(plan: Plan) -> Iterator[Contradiction]:
    """Stations and settings that are named, and readings of another kind: a text where something is measured, or a
    number for a name."""
    measures = {station.id: station.measures for station in plan.stations}
    named: list[tuple[str, str, str, Reading | None]] = [
        (f"steps.{i}.settings", step.station, name, value)
        for i, step in enumerate(plan.steps)
        for name, value in step.settings.items()
    ]
    named += [
        (f"setups.{i}.settings", setup.station, name, value)
        for i, setup in enumerate(plan.setups)
        for name, value in setup.settings.items()
    ]
    named += [
        ("begins", name.partition(".")[0], name.partition(".")[2], value)
        for name, value in (plan.begins or {}).items()
    ]
    for where, station, name, value in named:
        may_be_length = measures.get(station, {}).get(name, "length") == "length"
        if may_be_length and not isinstance(value, str) and abs(value or 0) * float(MM[plan.unit]) > BEYOND:
            key = f"{station}.{name}" if where == "begins" else name
            yield Contradiction(f"{where}.{key}", f"must be a length a shop can hold, not {value:g}")
    if not measures:
        return  # nothing is said of the stations
    named += [
        (f"mates.{i}.hold", name.partition(".")[0], name.partition(".")[2], None)
        for i, group in enumerate(plan.mates)
        for name in group.hold
        if not (plan.going_on or plan.done)  # of a rest the shop may have lost what was held
    ]
    for index, step in enumerate(plan.steps):
        if step.station not in measures:
            yield Contradiction(
                f"steps.{index}.station",
                f'the plan has no station "{step.station}"{nearest(step.station, measures)}',
                quoted(measures),
            )
    for where, station, name, value in named:
        if name not in measures.get(station, {}):
            near = [station] if measures.get(station) else measures
            known = quoted(f"{each}.{setting}" for each in near for setting in measures[each])
            yield Contradiction(where, f'the plan has no setting "{station}.{name}"', known)
        elif value is not None and isinstance(value, str) != (measures[station][name] == "name"):
            key = f"{station}.{name}" if where == "begins" else name
            kind = "a number" if isinstance(value, str) else "a name"
            accepted = {
                "length": f"a length in {plan.unit}",
                "angle": "an angle in degrees",
                "name": 'text such as "flat"',
            }
            yield Contradiction(
                f"{where}.{key}",
                f"must be {kind}, not {as_written(value)}",
                accepted.get(measures[station][name], "a number"),
            )


def _options(plan: Plan) -> Iterator[Contradiction]:
    """Choices: of each exactly the operations of the option it names, where the plan tells the options."""
    if not plan.options:
        return
    work = {operation.id for operation in (*plan.operations, *plan.done)}
    for choice in sorted(plan.options.keys() ^ plan.choices.keys()):
        lacks, has = ("options", plan.choices) if choice in plan.choices else ("choices", plan.options)
        yield Contradiction(lacks, f'"{choice}" is missing', quoted(has))
    for choice, taken in plan.choices.items():
        ways = plan.options.get(choice, {})
        optional = {id for ids in ways.values() for id in ids}
        fitting = [way for way, ids in ways.items() if work & optional == set(ids)]
        if ways and taken not in fitting:
            message = f'the operations of the plan are not those of "{taken}"'
            accepted = (
                quoted(fitting) or "an option all of whose operations are there, and none of the others'"
            )
            yield Contradiction(f"choices.{choice}", message, accepted)


def _bonds(plan: Plan) -> Iterator[Contradiction]:
    """Operations that precedence and mates name."""
    work = {operation.id for operation in (*plan.operations, *plan.done)}
    for index, edge in enumerate(plan.precedence):
        yield from _unknown(f"precedence.{index}", (edge.before, edge.after), work)
    if plan.choices and not plan.options:
        return  # mates may name operations of ways that were not taken, and nothing is said of these
    optional = {id for ways in plan.options.values() for ids in ways.values() for id in ids}
    for index, group in enumerate(plan.mates):
        yield from _unknown(f"mates.{index}.operations", group.operations, work | optional)


def _again(plan: Plan) -> Iterator[Contradiction]:
    """What is made again repeats an operation of the first plan, which was made, and is told by parts it was on; fits
    await parts there are.
    """
    work = [(name, i, each) for name in ("done", "operations") for i, each in enumerate(getattr(plan, name))]
    first = {operation.id for _, _, operation in work if not operation.again}
    parts = [part.id for part in plan.parts]
    for name, index, operation in work:
        if operation.again and operation.again not in first:
            message = f'the first plan has no operation "{operation.again}"{nearest(operation.again, first)}'
            yield Contradiction(f"{name}.{index}.again", message, f'{quoted(sorted(first))}, or ""')
        for part in operation.what_alone:
            if part not in operation.parts:
                message = f'"{operation.id}" is not on "{part}"{nearest(part, operation.parts)}'
                yield Contradiction(f"{name}.{index}.what_alone", message, quoted(operation.parts) or "none")
        for part in operation.awaited_by:
            if part not in parts:
                message = f'the plan has no part "{part}"{nearest(part, parts)}'
                yield Contradiction(f"{name}.{index}.awaited_by", message, quoted(parts))


def _unknown(where: str, names: Iterable[str], known: Iterable[str]) -> Iterator[Contradiction]:
    known = sorted(known)
    for name in names:
        if name not in known:
            yield Contradiction(
                where, f'the plan has no operation "{name}"{nearest(name, known)}', quoted(known)
            )


def _going_on(plan: Plan) -> Iterator[Contradiction]:
    """What is told of the plans before: how much was done, and by which remarks it is told."""
    told = len(plan.remarks)
    if plan.going_on > told:
        yield Contradiction(
            "going_on", "it counts the first remarks", f"at most {told}, as many as there are"
        )
    elif plan.going_on and not (plan.steps_before or plan.done):
        message = "no plan stands before this one: neither steps_before nor done tells of any"
        yield Contradiction("going_on", message, "0")
    if not plan.steps_before:
        return  # the first plan, or a file that does not say
    made, counted = len(plan.done), sum(plan.steps_before)
    opened = any(operation.of_sets for operation in (*plan.operations, *plan.done))
    if counted < made or (counted > made and not opened):
        message = "these steps are not those that are done"
        at_least = "at least " if opened else ""  # a dry fit that is opened again was a step each time
        yield Contradiction("steps_before", message, f"numbers that come to {at_least}{made}, as in done")


def _meetings(plan: Plan) -> Iterator[Contradiction]:
    cuts = {operation.id: operation.cuts for operation in (*plan.done, *plan.operations)}
    for index, meeting in enumerate(plan.meetings):
        halves = (meeting.first, meeting.second)
        if len(meeting.first.cuts) != len(meeting.second.cuts) or not meeting.first.cuts:
            message = "each mortise of the first needs one of the second"
            yield Contradiction(f"meetings.{index}", message, "as many cuts of both, at least one")
        if meeting.fitted > meeting.times:
            message = "no more of them can be fitted than there are"
            yield Contradiction(f"meetings.{index}.fitted", message, f"at most {meeting.times}")
        for half in halves:
            cut = cuts.get(half.operation, ())
            if not all(0 <= n < len(cut) and isinstance(cut[n], Slot) for n in half.cuts):
                slots = [str(n) for n, each in enumerate(cut) if isinstance(each, Slot)]
                message = f'"{half.operation}" does not plunge these mortises'
                yield Contradiction(
                    f"meetings.{index}", message, ", ".join(slots) or "operations that plunge"
                )
