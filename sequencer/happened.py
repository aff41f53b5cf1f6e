"""What has come about at the bench since a plan was begun, and how it is told on the command line."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field

from sequencer.diagnostics import Fault, InputError, nearest
from sequencer.model.job import Job, read_wanted
from sequencer.model.shop import Setting
from sequencer.planfile import Plan

SAME = 1e-6
"""mm: sizes no further apart are one size."""
Moved = tuple[tuple[str, str], float | str | None]


@dataclass(frozen=True)
class Happened:
    """What has come about since a plan was begun.

    `done`: so many of its first steps are made, but for those of `skipped` (numbers from 1). `spoiled`: how many pieces
    of a part are to be made again. `moved`: where a setting ("station", "setting") stands now, as the shop keeps it
    (mm, degrees), None where nobody knows.
    """

    done: int
    skipped: frozenset[int] = frozenset()
    spoiled: Mapping[str, int] = field(default_factory=dict)
    moved: Mapping[tuple[str, str], float | str | None] = field(default_factory=dict)


def told(
    job: Job, plan: Plan, done: int, skipped: str = "", spoiled: Sequence[str] = (), moved: Sequence[str] = ()
) -> Happened:
    """What is told in words of a plan: skipped steps as "7, 9", spoiled pieces as "rail=2" or "rail" (one), settings as
    "saw.tilt" (nobody knows) or "saw.tilt=45", lengths in the job's unit.

    Raises InputError for all that cannot be read so, and for what the plan or the shop does not have.
    """
    faults: list[Fault] = []
    steps = [step.strip() for step in skipped.split(",") if step.strip()]
    if not all(_counts(step) for step in steps):
        faults.append(_fault(f'"{skipped}" names no steps', "--skipped", "numbers of steps, such as 7,9"))
    pieces: dict[str, int] = {}
    for words in spoiled:
        part, counted, count = (word.strip() for word in words.rpartition("="))
        if not counted:
            part, count = count, "1"
        if not part or not _counts(count):
            faults.append(_fault(f'"{words}" tells no pieces', "--spoiled", 'a part and how many: "rail=2"'))
        else:
            pieces[part] = pieces.get(part, 0) + int(count)
    settings: dict[tuple[str, str], float | str | None] = {}
    for words in moved:
        found = _moved(job, words)
        if isinstance(found, Fault):
            faults.append(found)
        else:
            settings[found[0]] = found[1]
    happened = Happened(done, frozenset(int(step) for step in steps if _counts(step)), pieces, settings)
    faults += unknown(job, plan, happened)
    if faults:
        raise InputError(faults)
    return happened


def unknown(job: Job, plan: Plan, happened: Happened) -> list[Fault]:
    """The steps, parts and counts that the plan does not have, and whether it is one of this job at all."""
    faults = [*_strange(job, plan)]
    count, records = len(plan.steps), {part.id: part for part in plan.parts}
    if not 0 <= happened.done <= count:
        faults.append(_fault(f"the plan has no step {happened.done}", "--done", f"0 to {count}"))
    for step in sorted(happened.skipped):
        if not 1 <= step <= happened.done:
            accepted = f"steps from 1 to {happened.done}"
            faults.append(_fault(f"step {step} is not among those done", "--skipped", accepted))
    for part, pieces in happened.spoiled.items():
        if part not in records:
            message = f'the plan has no part "{part}"{nearest(part, records)}'
            faults.append(_fault(message, "--spoiled", ", ".join(records)))
        elif not 1 <= pieces <= (most := records[part].quantity - _pending(plan, happened, part)):
            accepted = f"1 to {most}"
            faults.append(_fault(f"{pieces} of {part} cannot be spoiled", "--spoiled", accepted))
    return faults


def _pending(plan: Plan, happened: Happened, part: str) -> int:
    """How many pieces of a part are still being made again under a name of their own."""
    left = {
        step.operation for n, step in enumerate(plan.steps, 1) if n > happened.done or n in happened.skipped
    }
    named = {name for operation in plan.operations if operation.id in left for name in operation.parts}
    return sum(record.quantity for record in plan.parts if record.again == part and record.id in named)


def _strange(job: Job, plan: Plan) -> Iterator[Fault]:
    """Where the plan was made for another job, shop or size of part."""
    settings = {(station.id, each.id) for station in job.shop.stations for each in station.settings}
    stations = {station.id for station in job.shop.stations}
    asked = {(op.station, name) for op in plan.operations for name in op.settings}
    same = (plan.job, plan.unit, plan.batch) == (job.name, job.unit, job.batch)
    if not same or not asked <= settings or any(op.station not in stations for op in plan.operations):
        yield Fault(
            "this plan is of another job, or of another shop", job.path, accepted="the job it was made for"
        )
        return
    records = {part.id: part for part in plan.parts}
    for part in job.parts:
        record = records.get(part.id)
        sizes = (part.length, part.width, part.thickness)
        if record and any(
            abs(one - two) > SAME
            for one, two in zip(sizes, (record.length, record.width, record.thickness), strict=True)
        ):
            planned = " × ".join(f"{size:g}" for size in (record.length, record.width, record.thickness))
            yield job.fault(
                "part", part.id, f"the plan was made for {planned} mm", "the sizes planned, or a new plan"
            )


def _moved(job: Job, words: str) -> Moved | Fault:
    """Where a setting stands now."""
    name, has_value, text = (word.strip() for word in words.partition("="))
    known: dict[str, Setting] = {f"{s.id}.{each.id}": each for s in job.shop.stations for each in s.settings}
    if name not in known:
        listed = ", ".join(sorted(known))
        return _fault(f'the shop has no setting "{name}"{nearest(name, known)}', "--moved", listed)
    station, _, setting = name.partition(".")
    if not has_value:
        return (station, setting), None
    read = read_wanted(_number(text), known[name], job.unit)
    wrong = [*read.wrong, *read.beyond]
    if wrong or not isinstance(read.wanted, (int, float, str)):
        message = wrong[0].message if wrong else "must be one value"
        return _fault(f'"{words}": {message}', "--moved", wrong[0].accepted if wrong else "")
    return (station, setting), read.wanted


def _counts(text: str) -> bool:
    """Whether a text is a whole number from 1 that a job may hold."""
    return text.isdecimal() and len(text) < 10 and int(text) > 0


def _number(text: str) -> float | str:
    """A number where the text is one, as a job file would have it."""
    for read in (int, float):
        with suppress(ValueError):
            return read(text)
    return text


def _fault(message: str, where: str, accepted: str) -> Fault:
    return Fault(message, where=where, accepted=accepted)
