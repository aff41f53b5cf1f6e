"""What has come about at the bench since a plan was begun, and how it is told on the command line."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field

from sequencer.bench.standing import settable, settings_of
from sequencer.diagnostics import Fault, InputError, nearest
from sequencer.model.job import Job
from sequencer.model.wanted import read_wanted
from sequencer.planfile import PartRecord, Plan
from sequencer.quantity import as_written, counted

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
    steps: list[int] = []
    for step in skipped.split(",") if skipped.strip() else ():
        if not _counts(step.strip()):
            faults.append(_fault(f'"{skipped}" names no steps', "--skipped", "numbers of steps, such as 7,9"))
            break
        if int(step) in steps:
            faults.append(_fault(f"step {int(step)} is told twice", "--skipped", "each step once"))
        steps.append(int(step))
    pieces: dict[str, int] = {}
    for words in spoiled:
        part, tells, count = (word.strip() for word in words.rpartition("="))
        if not tells:
            part, count = count, "1"
        if not part or not _counts(count):
            faults.append(_fault(f'"{words}" tells no pieces', "--spoiled", 'a part and how many: "rail=2"'))
        elif part in pieces:
            faults.append(_fault(f"{part} is told twice", "--spoiled", "each part once, with all its pieces"))
        else:
            pieces[part] = int(count)
    settings: dict[tuple[str, str], float | str | None] = {}
    for words in moved:
        found = _moved(job, words)
        if isinstance(found, Fault):
            faults.append(found)
        elif found[0] in settings:
            faults.append(_fault(f"{'.'.join(found[0])} is told twice", "--moved", "each setting once"))
        else:
            settings[found[0]] = found[1]
    happened = Happened(done, frozenset(steps), pieces, settings)
    faults += unknown(job, plan, happened)
    if faults:
        raise InputError(faults)
    return happened


def unknown(job: Job, plan: Plan, happened: Happened) -> list[Fault]:
    """The steps, parts, counts and settings that are not there, and whether the plan is one of this job at all."""
    faults = [*_strange(job, plan)]
    count, records = len(plan.steps), {part.id: part for part in plan.parts}
    count_of = _Pieces(plan, happened)
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
        elif not count_of.left(part):
            message = f"no piece of {part} is left: others were made for them since"
            faults.append(_fault(message, "--spoiled", ", ".join(count_of.beside(part))))
        elif not 1 <= pieces <= (most := count_of.spoilable(part)):
            some = "1" if most == 1 else f"1 to {most}"
            accepted = some if most > 0 else "none: all are being made again"
            faults.append(_fault(f"{pieces} of {part} cannot be spoiled", "--spoiled", accepted))
    known = settings_of(job.shop)
    for where, value in happened.moved.items():
        name = ".".join(where)
        if where not in known:
            listed = [".".join(each) for each in known]
            message = f'the shop has no setting "{name}"{nearest(name, listed)}'
            faults.append(_fault(message, "--moved", ", ".join(sorted(listed))))
        elif value is not None and not settable(known[where], value):
            accepted = known[where].accepted(job.unit)
            faults.append(_fault(f"{name} cannot stand at {as_written(value)}", "--moved", accepted))
    return faults


class _Pieces:
    """The pieces there are of the parts of a plan, as it stands now.

    A piece made again goes by its own name until it has caught up: until no step left names it. From then on it is one
    of the part it was made for, too, and may be told by either name.
    """

    def __init__(self, plan: Plan, happened: Happened) -> None:
        left = {
            step.operation
            for n, step in enumerate(plan.steps, 1)
            if n > happened.done or n in happened.skipped
        }
        self.named = {name for op in plan.operations if op.id in left for name in op.parts}
        """Parts that steps still to come name."""
        self.records = {part.id: part for part in plan.parts}
        self.told = happened.spoiled

    def spoilable(self, part: str) -> int:
        """How many of a part may be spoiled, less those told by the names of pieces that have caught up."""
        most = self._there(part)
        record = self.records[part]
        if record.descent and part not in self.named:  # one of these already
            most = min(most, self._there(record.descent[0]))
        return most - sum(self._spoiled(child) for child in self._caught_up(part))

    def left(self, part: str) -> int:
        """How many pieces of a part there can be still."""
        return pieces_left(self.records, part)

    def beside(self, part: str) -> list[str]:
        """The names of pieces like those of a part of which some can be spoiled."""
        first = self.records[part].named[-1]
        return [name for name, each in self.records.items() if each.named[-1] == first and self.left(name)]

    def _there(self, part: str) -> int:
        """Pieces of a part that are no longer, or not, being made again."""
        return self.left(part) - self._pending(part)

    def _pending(self, part: str) -> int:
        """How many pieces of a part are being made again under a name of their own."""
        return sum(
            record.quantity if record.id in self.named else self._pending(record.id)
            for record in self.records.values()
            if part in record.named[1:2]
        )

    def _caught_up(self, part: str) -> list[str]:
        return [
            record.id
            for record in self.records.values()
            if part in record.named[1:2] and record.id not in self.named
        ]

    def _spoiled(self, part: str) -> int:
        """Pieces told as spoiled by the name of a part, and of those that are of it again."""
        return self.told.get(part, 0) + sum(self._spoiled(child) for child in self._caught_up(part))


def pieces_left(records: Mapping[str, PartRecord], part: str) -> int:
    """How many pieces of a part there can be still, by the records of all parts, in the order they came about. Of those
    that were told as spoiled by the name of a part they are of again nobody knows which they were; but as many of its
    pieces as were made for them are later ones.
    """
    record, ids = records[part], list(records)
    most = record.quantity
    for name in record.named[1:]:
        later = [records[each] for each in ids[ids.index(part) + 1 :]]
        made = [each.quantity for each in later if each.named[1:2] == (name,)]
        most = min(most, pieces_left(records, name), *(records[name].quantity - pieces for pieces in made))
    return max(0, most)


def _strange(job: Job, plan: Plan) -> Iterator[Fault]:
    """Where the plan was made for another job, or for other parts than the job has now.

    A plan without records of parts is not compared with them.
    """
    yield from _otherwise(job, plan)
    if plan.job != job.name:
        return  # most likely it has other parts altogether
    records = {part.id: part for part in plan.parts if not part.again}
    if not records:
        return
    besides = "the parts planned, until this work is done; what is wanted besides is a job of its own"
    for part in job.parts:
        record = records.pop(part.id, None)
        if record is None:
            yield job.fault("part", part.id, "the plan was made without this part", besides)
            continue
        planned = (record.length, record.width, record.thickness)
        sizes = (part.length, part.width, part.thickness)
        if any(abs(one - two) > SAME for one, two in zip(sizes, planned, strict=True)):
            told = " × ".join(f"{size:g}" for size in planned)
            yield job.fault(
                "part", part.id, f"the plan was made for {told} mm", "the sizes planned, or a new plan"
            )
        if (part.quantity * plan.batch + part.spare, part.spare) != (record.quantity, record.spare):
            told = counted(record.quantity, "piece") + (
                f", {record.spare} of them spare" if record.spare else ""
            )
            message = f"the plan was made for {told}, the whole batch counted"
            accepted = "as many as planned: those to be made again are told by --spoiled, others are a job of their own"
            yield job.fault("part", part.id, message, accepted)
    for gone in records:
        yield Fault(
            f'the plan was made for part "{gone}", which the job does not have', job.path, accepted=besides
        )


def _otherwise(job: Job, plan: Plan) -> Iterator[Fault]:
    """What `[job]` says otherwise than when the plan was made, each key by itself."""
    for key, now, planned in (
        ("name", job.name, plan.job),
        ("unit", job.unit, plan.unit),
        ("batch", job.batch, plan.batch),
    ):
        if now != planned:
            file, line = job.stands("job", "", key) if job.stands else (job.path, None)
            were = "were" if key == "batch" else "was"
            message = f"{key} is {as_written(now)}, planned {were} {as_written(planned)}"
            yield Fault(message, file, "[job]", line, as_written(planned))


def _moved(job: Job, words: str) -> Moved | Fault:
    """Where a setting stands now."""
    name, has_value, text = (word.strip() for word in words.partition("="))
    known = {".".join(where): setting for where, setting in settings_of(job.shop).items()}
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
        return _fault(f'"{words}": {message}', "--moved", known[name].accepted(job.unit))
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
