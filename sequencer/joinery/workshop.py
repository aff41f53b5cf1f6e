"""A job worked out as far as geometry goes: the wood of every part, every joint with the ways that fit."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from sequencer.diagnostics import Fault, InputError, nearest
from sequencer.geometry.refusal import FigureError
from sequencer.joinery.basis.floor import Floor
from sequencer.joinery.basis.places import Overlap, taken_twice
from sequencer.joinery.basis.refusal import Refusal
from sequencer.joinery.basis.seats import Body
from sequencer.joinery.meetings.bevelled import vanished
from sequencer.joinery.meetings.joined import Joined, parts_of
from sequencer.joinery.meetings.quantities import (
    LeftOver,
    few_enough,
    meetings_made,
    needed,
    outside_in,
    rings_made,
    shared_out,
)
from sequencer.joinery.meetings.rings import RingJoint, level_cuts, plane_cut, ring_of
from sequencer.joinery.meetings.square import MeetingJoint
from sequencer.joinery.stations import without_stations
from sequencer.joinery.trenches.cuts import TrenchJoint, fits_into, lengthwise
from sequencer.joinery.trenches.sawn_off import sawn_off
from sequencer.joinery.trenches.webs import parted
from sequencer.joinery.ways.giving_way import find_all_ways
from sequencer.joinery.whole.outward import Outward
from sequencer.joinery.whole.spans import unlike_spans
from sequencer.joinery.whole.together import go_together
from sequencer.model.job import Job
from sequencer.model.parts import Part
from sequencer.operations import PlaneCut


@dataclass
class Workshop:
    """A job worked out as far as geometry goes: every joint with its ways."""

    floor: Floor
    parts: dict[str, Part]
    bodies: dict[str, Body]
    joined: list[Joined]
    remarks: list[str]
    """On how all goes together."""
    outward: list[Outward]
    """What looks away from the board that it should hold."""


def work_out(job: Job) -> Workshop:
    """Work out every joint. Raises InputError with all faults, NoOrderError where no way of a choice is left."""
    floor, parts = Floor(job), {part.id: part for part in job.parts}
    _stop(_dangling(job, parts))
    without_stations(job)
    joined = [Joined(joint) for joint in job.joints]
    refused: list[tuple[str, Refusal]] = []
    for each in joined:
        try:
            _lay_out(each, floor, parts)
        except Refusal as refusal:
            refused.append((each.joint.id, refusal))
    refused += (*outside_in(job.joints), *taken_twice(floor, job.joints, parts))
    _stop([floor.fault("joint", joint, refusal) for joint, refusal in _of_own_parts(refused, joined, job)])
    _stop([floor.fault("joint", joint, refusal) for joint, refusal in parted(floor, job.joints, parts)])
    bodies = _bodies(job, parts, joined)
    rings = [each.ring for each in joined if each.ring is not None]
    _stop([floor.fault("joint", joint, refusal) for joint, refusal in vanished(rings, bodies, floor)])
    _stop([floor.fault("joint", joint, refusal) for joint, refusal in sawn_off(job.joints, bodies)])
    find_all_ways(joined, bodies, floor)
    misfits, remarks, outward = go_together(joined, bodies, floor)
    misfits = _with_lengths(misfits, job, floor, parts)
    _stop([floor.fault("joint", joint, refusal) for joint, refusal in misfits])
    return Workshop(floor, parts, bodies, joined, remarks, outward)


def _with_lengths(
    misfits: Iterable[tuple[str, Refusal]], job: Job, floor: Floor, parts: Mapping[str, Part]
) -> list[tuple[str, Refusal]]:
    """Joints that do not go together; where a board of one is too long or too short, or one that it is compared with,
    that is why."""
    on = {joint.id: joint.parts for joint in job.joints}
    unlike = list(unlike_spans(floor, job.joints, parts))
    found = []
    for joint, refusal in misfits:
        ours = [each for each in unlike if set(each.boards) & set(on[joint])]
        why = next((each for each in ours if each.board in on[joint]), ours[0] if ours else None)
        found.append((joint, Refusal(why.says, why.works, "parts") if why is not None else refusal))
    return found


def _stop(faults: Sequence[Fault]) -> None:
    if faults:
        raise InputError(faults)


def _dangling(job: Job, parts: Mapping[str, Part]) -> list[Fault]:
    """A fault for every part that a joint names and the job does not have."""
    return [
        job.fault(
            "joint",
            joint.id,
            f'there is no part "{name}"{nearest(name, parts)}',
            ", ".join(parts),
            "parts",
        )
        for joint in job.joints
        for name in parts_of(joint)
        if name not in parts
    ]


def _lay_out(each: Joined, floor: Floor, parts: Mapping[str, Part]) -> None:
    """The ring of a joint, and how many of it there will be. Raises Refusal for what encloses nothing, does not close,
    leaves pieces over, or is not in its part.
    """
    joint = each.joint
    pieces = {name: part.quantity * floor.job.batch for name, part in parts.items()}
    few_enough(joint, parts)
    if isinstance(joint, RingJoint):
        each.ring = ring_of(joint, parts, floor)
        each.number = rings_made(each.ring, pieces)
    elif isinstance(joint, TrenchJoint):
        for name in joint.parts:
            fits_into(joint, parts[name], floor)
    else:
        each.number = meetings_made(joint, parts, pieces)


def _of_own_parts(
    refused: Sequence[tuple[str, Refusal]], joined: Sequence[Joined], job: Job
) -> Iterator[tuple[str, Refusal]]:
    """What is refused; joints that share a part, but cannot be of one thing, are told to have one each, which also
    leaves what they put on it its room."""
    parts = {part.id: part for part in job.parts}
    needs: dict[str, tuple[str, ...]] = {}
    for each in joined:
        try:
            if each.ring is not None:
                needs[each.joint.id] = each.ring.places
            elif isinstance(each.joint, MeetingJoint):
                needs[each.joint.id] = needed(each.joint, parts)
        except Refusal:
            pass  # one of those refused
    # (what a joint of one end asks is not sure: its boards' other ends may be meant for the pieces left over)
    both = {each.joint.id for each in joined if len(getattr(each.joint, "ends", ())) != 1}
    own = shared_out(needs, {name: part.quantity * job.batch for name, part in parts.items()})
    own = {joint: works for joint, works in own.items() if joint in both}
    crossed = {joint for joint, refusal in refused if joint in own and isinstance(refusal, Overlap)}
    unlike = {board for each in unlike_spans(Floor(job), job.joints, parts) for board in each.boards}
    for joint, refusal in refused:
        if joint in own and isinstance(refusal, LeftOver):
            apart = crossed or unlike & set(needs[joint])
            works = own[joint] if apart else f"{refusal.accepted}, or {own[joint]}"
            yield joint, Refusal(refusal.message, works, refusal.key)
        elif joint not in crossed:
            yield joint, refusal


def _bodies(job: Job, parts: Mapping[str, Part], joined: Sequence[Joined]) -> dict[str, Body]:
    """The wood of each part after all sawing. Raises InputError where nothing is left of one."""
    cuts: dict[str, list[PlaneCut]] = {name: [] for name in parts}
    for ring in (each.ring for each in joined if each.ring is not None):
        for cut in ring.cuts:
            cuts[cut.part].append(plane_cut(cut, parts[cut.part]))
        for name in dict.fromkeys(ring.joint.parts):
            cuts[name] += level_cuts(ring, parts[name])
    bodies, faults = {}, []
    for name, part in parts.items():
        try:
            bodies[name] = Body.of(part, cuts[name], lengthwise(job.joints, part))
        except FigureError as error:
            faults.append(job.fault("part", name, error.message, error.accepted))
    _stop(faults)
    return bodies
