"""The slips of a plan gone on with: which are there already, since their joints were put together."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from math import ceil

from sequencer.joinery.slips import slips_told
from sequencer.model.job import Job
from sequencer.operations import PUT_TOGETHER, Meeting, Mortises, Operation, Slip
from sequencer.planfile import PartRecord, Plan


def meetings_left(
    plan: Plan, made: Iterable[Operation], left: Iterable[Operation], remade: Mapping[str, PartRecord]
) -> tuple[Meeting, ...]:
    """The meetings of a plan, each with how many of its times its slips are there.

    Those are there whose joint was put together, dry or for good, before or now (`made`); but a piece made again
    (`remade`, by the part it was of) needs slips wherever it meets others, unless what it replaces was still to be put
    together.
    """
    made, left = tuple(made), tuple(left)
    return tuple(
        meeting.model_copy(update={"fitted": _fitted(plan, meeting, made, left, remade)})
        for meeting in plan.meetings
    )


def _fitted(
    plan: Plan,
    meeting: Meeting,
    made: Sequence[Operation],
    left: Sequence[Operation],
    remade: Mapping[str, PartRecord],
) -> int:
    """How often the slips of a meeting are there."""
    works_on = {operation.id: operation for operation in (*plan.done, *plan.operations)}
    halves = [_parts(works_on[half.operation], half) for half in (meeting.first, meeting.second)]
    both = set().union(*halves)
    once = any(_puts_together(operation, meeting, both) for operation in made)
    awaiting = {part for each in left if _puts_together(each, meeting, both) for part in each.awaited_by}
    records = {part.id: part for part in plan.parts}
    new = 0
    for part, record in remade.items():
        if part not in awaiting:
            first = records[records[part].named[-1]]  # of the parts that it descends from
            met = sum(first.id in parts for parts in halves)
            new += met * ceil(record.quantity * meeting.times / (first.quantity - first.spare))
    return max(0, (meeting.times if once else meeting.fitted) - new)


def _parts(operation: Operation, half: Mortises) -> set[str]:
    """The parts whose mortises are one half of a meeting."""
    return {operation.cuts[number].part for number in half.cuts}


def _puts_together(operation: Operation, meeting: Meeting, parts: set[str]) -> bool:
    """Whether an operation puts the joint of a meeting together; where it does not say which, those of its parts."""
    joints = operation.joints
    fits = meeting.joint in joints if joints else parts.issubset(operation.parts)
    return operation.kind in PUT_TOGETHER and fits


def remarks_left(
    job: Job, remarks: Iterable[str], before: Iterable[Meeting], after: Iterable[Meeting]
) -> tuple[str, ...]:
    """The remarks of a plan, with the slips that its meetings took `before` told as they are `after`: those that are
    there no more, those for pieces made again once more.
    """
    told, now = _told(job, before), _told(job, after)
    found = []
    for remark in remarks:
        label, _, says = remark.rpartition(": ")
        sizes = (key for key, words in told.items() if words == says and _is_of(label, key[0]))
        size = next(sizes, None)
        if size is None:
            found.append(remark)
        elif now.get(size):
            found.append(f"{label}: {now[size]}")
    new = (f"{joint}: {says}" for (joint, slip), says in now.items() if says and not told[joint, slip])
    return (*found, *new)


def _told(job: Job, meetings: Iterable[Meeting]) -> dict[tuple[str, Slip], str]:
    """For each joint and size of slip what is said of it."""
    of: dict[str, list[Meeting]] = {}
    for meeting in meetings:
        of.setdefault(meeting.joint, []).append(meeting)
    return {(joint, slip): says for joint, met in of.items() for slip, says in slips_told(job, met).items()}


def _is_of(label: str, joint: str) -> bool:
    """Whether a remark's label names a joint, perhaps with the way it is made."""
    return label == joint or label.startswith(f"{joint} (")
