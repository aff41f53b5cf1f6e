"""From parts and joints to operations: sizing, joints by every way the limits allow, glue-ups."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence

from sequencer.diagnostics import Fault, InputError
from sequencer.joinery.basis.checks import coarse_remarks
from sequencer.joinery.basis.making import Collected
from sequencer.joinery.basis.refusal import Refusal
from sequencer.joinery.besides import told_besides
from sequencer.joinery.meetings.bevelled import narrow_backs
from sequencer.joinery.meetings.joined import Joined
from sequencer.joinery.meetings.legs import leg_remarks
from sequencer.joinery.meetings.upended import upended_remarks
from sequencer.joinery.near_stops import angle_remarks, warned
from sequencer.joinery.stations import without_stations
from sequencer.joinery.trenches.cuts import TrenchJoint, trench
from sequencer.joinery.trenches.lips import lip_remarks
from sequencer.joinery.trenches.sawn_off import sawn_remarks
from sequencer.joinery.trenches.webs import web_remarks
from sequencer.joinery.ways.collisions import near_slots
from sequencer.joinery.ways.mating import meetings_of
from sequencer.joinery.ways.slips import given_way, slips_told
from sequencer.joinery.whole.captive import shut_out
from sequencer.joinery.whole.held import held_remarks
from sequencer.joinery.whole.spans import unlike_spans
from sequencer.joinery.work.gluing import assemblies, glue_up
from sequencer.joinery.work.stock import sizing
from sequencer.joinery.work.way_operations import operations_by
from sequencer.joinery.workshop import work_out
from sequencer.model.job import Job
from sequencer.operations import Choice, Operation, WayRemark, Worklist


def derive(job: Job) -> Worklist:
    """The operations of a job's parts and joints, with mates, choices, ways struck out and remarks."""
    without_stations(job, stock=True)
    worked = work_out(job)
    work = Collected(worked.floor, worked.parts)
    faults: list[Fault] = []
    for part in job.parts:
        try:
            work.operations += sizing(work, part)
        except Refusal as refusal:
            faults.append(worked.floor.fault("part", part.id, refusal))
    for each in worked.joined:
        try:
            _joint(work, each)
        except Refusal as refusal:
            faults.append(worked.floor.fault("joint", each.joint.id, refusal))
    if not faults:
        faults += [
            worked.floor.fault("joint", joint, refusal)
            for joint, refusal in near_slots(worked.floor, work.operations, work.choices)
        ]
    if faults:
        raise InputError(faults)
    glued = assemblies(worked.joined)
    if faults := [
        worked.floor.fault("joint", joint, refusal) for joint, refusal in shut_out(glued, worked.outward)
    ]:
        raise InputError(faults)
    for assembly in glued:
        work.operations += glue_up(work, assembly)
    for remark in angle_remarks(work.floor, work.operations):
        work.remark(remark)
    rings = [each.ring for each in worked.joined if each.ring]
    for remark in narrow_backs(rings, worked.parts, worked.floor):
        work.remark(remark)
    for remark in held_remarks(worked.floor, job.joints, worked.parts, rings, worked.outward):
        work.remark(remark)
    for remarks in (web_remarks, leg_remarks):
        for remark in remarks(worked.floor, job.joints, worked.parts):
            work.remark(remark)
    for of_bodies in (sawn_remarks, lip_remarks):
        for remark in of_bodies(worked.floor, job.joints, worked.bodies):
            work.remark(remark)
    for remark in (*worked.remarks, *upended_remarks(worked.joined, job.joints, worked.parts)):
        work.remark(remark)
    for unlike in unlike_spans(worked.floor, job.joints, worked.parts):
        work.remark(unlike.says)
    for remark in coarse_remarks(work.floor, work.parts, work.operations):
        work.remark(remark)
    operations = tuple(warned(work.floor, each) for each in told_besides(work))
    return Worklist(
        operations=tuple(_told_apart(operations)),
        mates=tuple(work.mates),
        choices=tuple(work.choices),
        struck_out=tuple(work.struck_out),
        remarks=tuple(work.remarks),
        way_remarks=tuple(work.way_remarks),
        meetings=tuple(work.meetings),
    )


def _joint(work: Collected, each: Joined) -> None:
    """Add the operations of one joint, by all its ways."""
    joint = each.joint
    work.struck_out += each.struck
    if isinstance(joint, TrenchJoint):
        work.operations += trench(work, joint)
        return
    pieces = {name: part.quantity * work.floor.job.batch for name, part in work.parts.items()}
    several = len(each.ways) > 1
    options = {}
    for way in each.ways:
        made = operations_by(work, each, way, way.name if several else "")
        met = meetings_of(joint, each.ring, way, made, pieces, each.number)
        work.operations += made
        work.meetings += met
        option = way.name.replace("-", "_")
        options[option] = tuple(op.id for op in made)
        for told in (*slips_told(work.floor.job, met).values(), *given_way(work.floor, each, way)):
            if several:
                says = f"{joint.id} ({way.name}): {told}"
                work.way_remarks.append(WayRemark(choice=joint.id, option=option, says=says))
            else:
                work.remark(f"{joint.id}: {told}")
    if several:
        work.choices.append(Choice(id=joint.id, options=options))


def _told_apart(operations: Sequence[Operation]) -> Iterator[Operation]:
    """The operations, with their joint's name where those of several joints are told in the same words."""
    joints = defaultdict(set)
    for operation in operations:
        joints[operation.notes.what].add(operation.joint)
    for operation in operations:
        notes = operation.notes
        if operation.joint and len(joints[notes.what]) > 1:
            notes = notes.model_copy(update={"what": f'{notes.what}, for "{operation.joint}"'})
        yield operation.model_copy(update={"notes": notes})
