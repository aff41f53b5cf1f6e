"""The slips of a plan gone on with: which are there already, since their joints were put together."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Set

from sequencer.joinery.ways.slips import slips_told
from sequencer.model.job import Job
from sequencer.operations import PUT_TOGETHER, Meeting, Operation, Slip
from sequencer.planfile import PartRecord, Plan

_Slots = tuple[str, frozenset[int]]
"""The slots of a piece that one meeting uses: the operation that plunges them, and which of its cuts they are."""


def meetings_left(
    plan: Plan, made: Iterable[Operation], left: Iterable[Operation], remade: Mapping[str, PartRecord]
) -> tuple[Meeting, ...]:
    """The meetings of a plan, each with how many of its times its slips are there.

    Those are there whose joint was put together, dry or for good, before or now (`made`); but the pieces made again
    that await being put together (`remade`, by the part they were of, and earlier ones) need slips wherever they meet
    others. Which of a part's pieces they are nobody knows: as many are needed as they may take at most.
    """
    # what was made and is opened for some sets has been put together, too
    once = (*made, *(operation for operation in plan.operations if operation.of_sets))
    fits = [operation for operation in left if operation.awaited_by]
    works_on = {operation.id: operation for operation in (*plan.done, *plan.operations)}
    records = {part.id: part for part in (*plan.parts, *remade.values())}
    slots = [_slots(meeting, works_on) for meeting in plan.meetings]
    alike: dict[tuple[str, Slip], list[int]] = {}  # slips of one size must suffice without those of another
    for number, meeting in enumerate(plan.meetings):
        alike.setdefault((meeting.joint, meeting.slip), []).append(number)
    found = list(plan.meetings)
    for numbers in alike.values():
        awaited: set[str] = set()
        room: dict[int, int] = {}
        for number in numbers:
            meeting, parts = plan.meetings[number], set(slots[number].values())
            there = any(_puts_together(operation, meeting, parts) for operation in once)
            room[number] = meeting.times if there else 0
            awaited.update(*(fit.awaited_by for fit in fits if _puts_together(fit, meeting, parts)))
        new = _pieces(awaited, records)
        asked = {each: new[part] for number in numbers for each, part in slots[number].items()}
        taken = _at_most(asked, {number: slots[number] for number in numbers}, room)
        for number in numbers:
            found[number] = found[number].model_copy(update={"fitted": room[number] - taken[number]})
    return tuple(found)


def _slots(meeting: Meeting, works_on: Mapping[str, Operation]) -> dict[_Slots, str]:
    """The slots that are the two halves of a meeting, with the part that each is in."""
    return {
        (half.operation, frozenset(half.cuts)): works_on[half.operation].cuts[number].part
        for half in (meeting.first, meeting.second)
        for number in half.cuts
    }


def _pieces(awaited: Set[str], records: Mapping[str, PartRecord]) -> Counter[str]:
    """How many pieces are awaited of each part of the first plan; one that replaces another that is awaited is counted
    with that one."""
    count: Counter[str] = Counter()
    for part in awaited:
        record = records[part]
        if awaited.isdisjoint(record.named[1:2]):
            count[record.named[-1]] += record.quantity
    return count


def _at_most(
    asked: Mapping[_Slots, int], slots: Mapping[int, Iterable[_Slots]], room: Mapping[int, int]
) -> Counter[int]:
    """How often each meeting at most has one of the new pieces, so that it comes to most in all.

    A piece has its slots once: of the meetings that use the same `slots` (one side of a leg meets a long apron or a
    short one) each of the `asked` pieces is at one. A meeting takes as many as it has `room` for; where it is full, one
    of the pieces at its other half makes room if it can be at another meeting.
    """
    given: Counter[tuple[_Slots, int]] = Counter()
    taken: Counter[int] = Counter()

    def give(each: _Slots, most: int, seen: set[int]) -> int:
        for number in (number for number, its in slots.items() if each in its):
            if number in seen:
                continue
            seen.add(number)
            if count := min(most, room[number] - taken[number]):
                taken[number] += count
                given[each, number] += count
                return count
            for other in slots[number]:
                others = given[other, number]
                if other != each and others and (count := give(other, min(most, others), seen)):
                    given[other, number] -= count
                    given[each, number] += count
                    return count
        return 0

    for each, pieces in asked.items():
        while pieces and (count := give(each, pieces, set())):
            pieces -= count
    return taken


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
