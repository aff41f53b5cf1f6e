"""From parts and joints to operations: sizing, joints by every way the limits allow, glue-ups."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from itertools import pairwise

from sequencer.diagnostics import Fault, InputError, NoOrderError
from sequencer.geometry.refusal import FigureError
from sequencer.joinery.collisions import clear_of_trenches, near_slots
from sequencer.joinery.floor import Floor
from sequencer.joinery.gluing import TRENCHES, assemblies, glue_up
from sequencer.joinery.held import held_remarks
from sequencer.joinery.making import Collected
from sequencer.joinery.mating import meetings_of
from sequencer.joinery.meetings import Meeting, centred, pairs_of, panel_boards
from sequencer.joinery.placement import Fit, Placement
from sequencer.joinery.places import taken_twice
from sequencer.joinery.plunging import Row, plunges
from sequencer.joinery.refusal import Refusal
from sequencer.joinery.rings import Ring, level_cuts, plane_cut, ring_of, ring_pairs
from sequencer.joinery.sawing import block, end_cuts, level_rip
from sequencer.joinery.seats import Body, Pair, Seat
from sequencer.joinery.stock import sizing
from sequencer.joinery.trenches import TrenchJoint, across, fits_into, lengthwise, trench
from sequencer.joinery.truing import truing
from sequencer.model.job import Job
from sequencer.model.parts import (
    CaseMitre,
    EdgeToEdge,
    EndToEdge,
    EndToFace,
    FrameMitre,
    Joint,
    LegToApron,
    Part,
    Splayed,
    Stave,
)
from sequencer.operations import Choice, Operation, PlaneCut, Slip, StruckOut, WayRemark, Worklist
from sequencer.quantity import format_angle, format_length

RINGS = (CaseMitre, Splayed, FrameMitre, Stave)


@dataclass(frozen=True)
class Way:
    """One way of making a joint that fits: its name, the seats in pairs, and how they are placed."""

    name: str
    pairs: tuple[Pair, ...]
    fits: tuple[tuple[tuple[Pair, ...], Fit], ...]
    """Pairs placed alike, with their placement; most joints have one."""


@dataclass
class Joined:
    """A joint worked out: its ring where it is one, the ways that fit and those struck out."""

    joint: Joint
    ring: Ring | None = None
    ways: list[Way] = field(default_factory=list)
    struck: list[StruckOut] = field(default_factory=list)


@dataclass
class Workshop:
    """A job worked out as far as geometry goes: every joint with its ways."""

    floor: Floor
    parts: dict[str, Part]
    bodies: dict[str, Body]
    joined: list[Joined]


def work_out(job: Job) -> Workshop:
    """Work out every joint. Raises InputError with all faults, NoOrderError where no way of a choice is left."""
    floor, parts = Floor(job), {part.id: part for part in job.parts}
    faults = _dangling(job, parts)
    if faults:
        raise InputError(faults)
    joined = [Joined(joint) for joint in job.joints]
    cuts: dict[str, list[PlaneCut]] = {p: [] for p in parts}
    for each in joined:
        joint = each.joint
        try:
            if isinstance(joint, RINGS):
                each.ring = ring_of(joint, parts)
                for cut in each.ring.cuts:
                    cuts[cut.part].append(plane_cut(cut, parts[cut.part]))
                for name in dict.fromkeys(joint.parts):
                    cuts[name] += level_cuts(each.ring, parts[name])
            elif isinstance(joint, TRENCHES):
                for name in joint.parts:
                    fits_into(joint, parts[name])
        except Refusal as refusal:
            faults.append(floor.fault("joint", joint.id, refusal))
    faults += [
        floor.fault("joint", joint, refusal) for joint, refusal in taken_twice(floor, job.joints, parts)
    ]
    if faults:
        raise InputError(faults)
    bodies = {}
    for name, part in parts.items():
        try:
            bodies[name] = Body.of(part, cuts[name], lengthwise(job.joints, part))
        except FigureError as error:
            faults.append(job.fault("part", name, error.message, error.accepted))
    if faults:
        raise InputError(faults)
    hopeless: list[Fault] = []
    for each in joined:
        _find_ways(each, bodies, floor, faults, hopeless)
    if faults:
        raise InputError([*faults, *hopeless])
    if hopeless:
        raise NoOrderError(hopeless)
    return Workshop(floor, parts, bodies, joined)


def _dangling(job: Job, parts: Mapping[str, Part]) -> list[Fault]:
    from sequencer.diagnostics import nearest

    faults = []
    for joint in job.joints:
        named = [*joint.parts]
        if isinstance(joint, LegToApron):
            named.append(joint.leg)
        if isinstance(joint, TRENCHES) and joint.holds:
            named.append(joint.holds)
        faults += [
            job.fault(
                "joint",
                joint.id,
                f'there is no part "{name}"{nearest(name, parts)}',
                ", ".join(parts),
                "parts",
            )
            for name in named
            if name not in parts
        ]
    return faults


def _find_ways(
    each: Joined, bodies: Mapping[str, Body], floor: Floor, faults: list[Fault], hopeless: list[Fault]
) -> None:
    """Place the slips of a joint by every way, striking out those that do not fit."""
    joint = each.joint
    if isinstance(joint, TRENCHES):
        return
    tried: list[tuple[str, Callable[[], tuple[Pair, ...]]]]
    if each.ring is not None:
        ring = each.ring
        tried = [("bevel-first", lambda: ring_pairs(ring, bodies, "bevel-first"))]
        if isinstance(joint, CaseMitre):
            known = {
                "square-first": lambda: ring_pairs(ring, bodies, "square-first"),
                "bevel-first": tried[0][1],
            }
            tried = [(way, known[way]) for way in dict.fromkeys(joint.ways)]
            if abs(joint.corner - 90.0) > 1e-6 and len(tried) > 1:
                each.struck.append(
                    StruckOut(
                        joint=joint.id,
                        way="square-first",
                        why=f"with the fence at 90 it makes a corner of 90°, not {format_angle(joint.corner)}",
                    )
                )
                tried = [t for t in tried if t[0] != "square-first"]
    else:
        assert not isinstance(joint, RINGS)
        meeting: Meeting = joint
        tried = [("square", lambda: pairs_of(meeting, bodies, floor))]
    refusals = []
    for way, seats in tried:
        try:
            if way == "square-first" and isinstance(joint, CaseMitre) and abs(joint.corner - 90.0) > 1e-6:
                raise Refusal("square first makes corners of 90° only", 'ways = ["bevel-first"]', "ways")
            pairs = seats()
            each.ways.append(Way(way, pairs, tuple(_placed(floor, pairs, joint, way))))
            if isinstance(joint, (EndToEdge, EndToFace)):
                centred(joint, bodies, each.ways[-1].fits[0][1].centres)
            _reachable(floor, each.ways[-1], each.ring)
        except Refusal as refusal:
            each.ways = [w for w in each.ways if w.name != way]
            refusals.append((way, refusal))
    if each.ways:
        each.struck += [StruckOut(joint=joint.id, way=way, why=r.sentence) for way, r in refusals]
    elif len(refusals) == 1:
        faults.append(floor.fault("joint", joint.id, refusals[0][1]))
    else:
        text = "; ".join(f"{way}: {r.sentence}" for way, r in refusals)
        fault = floor.job.fault("joint", joint.id, f"no way of making this joint is left: {text}")
        if not _asks(joint):
            hopeless.append(fault)
        elif len({r.message for _, r in refusals}) == 1:
            faults.append(floor.fault("joint", joint.id, refusals[0][1]))
        else:
            works = "; ".join(f"{way}: {r.accepted}" for way, r in refusals if r.accepted)
            text = "; ".join(f"{way}: {r.message}" for way, r in refusals)
            faults.append(floor.fault("joint", joint.id, Refusal(text, works, refusals[0][1].key)))


def _asks(joint: Joint) -> bool:
    """Whether the job itself asks for figures of the slips."""
    from sequencer.model.parts import Slips

    slips = getattr(joint, "slips", None)
    return slips is not None and slips != Slips(slack=slips.slack)


def _placed(
    floor: Floor, pairs: tuple[Pair, ...], joint: Joint, way: str
) -> list[tuple[tuple[Pair, ...], Fit]]:
    """All pairs placed alike where that works, else each corner by itself."""
    wishes = getattr(joint, "slips")  # noqa: B009 - every joint that comes here has slips
    thin = min(min(p.first.part.thickness, p.most) for p in pairs)
    equal = way == "square-first"
    boards = {seat.part.id: seat.part for p in pairs for seat in (p.first, p.second)}
    crossing = (
        tuple(box for part in boards.values() for box in across(floor.job.joints, part))
        if isinstance(joint, EdgeToEdge)  # elsewhere both ends of a piece, and mirror images, must agree
        else ()
    )
    try:
        return [(pairs, Placement(floor, pairs, wishes, thin, equal, crossing).fit())]
    except Refusal:
        if len(pairs) == 1:
            raise
    return [((pair,), Placement(floor, (pair,), wishes, thin, equal, crossing).fit()) for pair in pairs]


def _reachable(floor: Floor, way: Way, ring: Ring | None) -> None:
    """Refuse a way whose angles or plunges a machine cannot reach, or whose slots run into a groove."""
    trial = Collected(floor, {p.id: p for p in floor.job.parts})
    bodies = {seat.part.id: seat.body for pair in way.pairs for seat in (pair.first, pair.second)}
    made = _make(trial, "trial", way, ring, dict.fromkeys(bodies, 1), 1)
    clear_of_trenches(floor, made, bodies)


def derive(job: Job) -> Worklist:
    """The operations of a job's parts and joints, with mates, choices, ways struck out and remarks."""
    shop = work_out(job)
    work = Collected(shop.floor, shop.parts)
    faults: list[Fault] = []
    for part in job.parts:
        try:
            work.operations += sizing(work, part)
        except Refusal as refusal:
            faults.append(shop.floor.fault("part", part.id, refusal))
    number: dict[str, int] = {}
    for each in shop.joined:
        try:
            _joint(work, each, number)
        except Refusal as refusal:
            faults.append(shop.floor.fault("joint", each.joint.id, refusal))
    if not faults:
        faults += [
            shop.floor.fault("joint", joint, refusal)
            for joint, refusal in near_slots(shop.floor, work.operations, work.choices)
        ]
    if faults:
        raise InputError(faults)
    for name, members in assemblies(job.joints).items():
        count = max((number.get(j.id, 0) for j in job.joints if set(j.parts) & set(members)), default=0)
        surfaces = {
            s
            for op in work.operations
            if op.kind in ("plunge", "bevel", "mitre") and set(op.parts) & set(members)
            for s in (op.makes if op.kind != "plunge" else ())
        }
        inside = {
            p: "back"
            for j in job.joints
            if isinstance(j, (CaseMitre, Splayed, Stave, EndToFace))
            for p in j.parts
            if p in members
        }
        mine = [each for each in shop.joined if set(each.joint.parts) <= set(members)]
        true = truing([(each.joint, each.ring) for each in mine], shop.parts)
        work.operations += glue_up(
            work, name, members, tuple(sorted(surfaces)), count or job.batch, inside, true
        )
    _bevels_apart(work)
    for remark in held_remarks(shop.floor, job.joints, shop.parts):
        work.remark(remark)
    return Worklist(
        operations=tuple(work.operations),
        mates=tuple(work.mates),
        choices=tuple(work.choices),
        struck_out=tuple(work.struck_out),
        remarks=tuple(work.remarks),
        way_remarks=tuple(work.way_remarks),
        meetings=tuple(work.meetings),
    )


def _joint(work: Collected, each: Joined, number: dict[str, int]) -> None:
    """Add the operations of one joint, by all its ways."""
    joint = each.joint
    work.struck_out += each.struck
    if isinstance(joint, TRENCHES):
        found: TrenchJoint = joint
        work.operations += trench(work, found)
        return
    pieces = {p: work.parts[p].quantity * work.floor.job.batch for p in work.parts}
    if each.ring is not None:
        rings = each.ring.rings(pieces)
        ends = {pieces[p] / each.ring.places.count(p) for p in set(each.ring.places)}
        if len(ends) > 1 or abs(rings - round(rings)) > 1e-9:
            asked = ", ".join(f"{each.ring.places.count(p)} {p}" for p in dict.fromkeys(each.ring.places))
            raise Refusal(
                f"the pieces do not make whole rings of {asked}", "quantities in that proportion", "parts"
            )
        number[joint.id] = round(rings)
    elif isinstance(joint, EdgeToEdge):
        boards = panel_boards(joint, work.parts)
        number[joint.id] = sum(pieces[p] for p in dict.fromkeys(joint.parts)) // boards
    else:
        number[joint.id] = work.floor.job.batch
        _counts(joint, work)
    options = {}
    for way in each.ways:
        name = way.name if len(each.ways) > 1 else ""
        made = _make(work, joint.id, way, each.ring, _times(joint, work), number[joint.id], name)
        work.operations += made
        options[way.name.replace("-", "_")] = tuple(op.id for op in made)
        met = meetings_of(joint, each.ring, way, made, pieces, number[joint.id])
        work.meetings += met
        slips: dict[Slip, int] = {}
        for meeting in met:
            slips[meeting.slip] = slips.get(meeting.slip, 0) + meeting.slips
        for slip, count in slips.items():
            said = f" ({way.name})" if name else ""
            thick = format_length(
                slip.thickness, work.floor.job.shop.unit, decimals=True
            )  # as its cutter is marked
            size = " × ".join((thick, work.floor.length(slip.width), work.floor.length(slip.length)))
            says = f"{joint.id}{said}: {count} slips of {size} (thickness x width x length)"
            if name:
                option = way.name.replace("-", "_")
                work.way_remarks.append(WayRemark(choice=joint.id, option=option, says=says))
            else:
                work.remark(says)
    if len(options) > 1:
        work.choices.append(Choice(id=joint.id, options=options))


def _counts(joint: Joint, work: Collected) -> None:
    """The ends of the first part must be as many as the places they go to."""
    if isinstance(joint, (EndToEdge, EndToFace)):
        first, second = work.parts[joint.parts[0]], work.parts[joint.parts[1]]
        have = first.quantity * len(joint.ends)
        rows = len(joint.at) if joint.at is not None else 2
        sides = len(joint.edges) if isinstance(joint, EndToEdge) else len(joint.on)
        if have != second.quantity * rows * sides:
            raise Refusal(
                f"{first.quantity} {first.id} have {have} ends, {second.quantity} {second.id} have places for "
                f"{second.quantity * rows * sides}",
                "quantities that match",
                "parts",
            )
    if isinstance(joint, LegToApron):
        ends = sum(work.parts[p].quantity for p in joint.parts) * 2
        legs = work.parts[joint.leg].quantity
        if ends != legs * 2:
            raise Refusal(f"aprons with {ends} ends for {legs} legs", f"{ends // 2} legs", "parts")


def _times(joint: Joint, work: Collected) -> dict[str, int]:
    """How many pieces of each part are plunged."""
    names = [*joint.parts, *([joint.leg] if isinstance(joint, LegToApron) else [])]
    return {p: work.pieces(p) for p in names}


def _make(
    work: Collected,
    joint: str,
    way: Way,
    ring: Ring | None,
    times: Mapping[str, int],
    number: int,
    name: str = "",
) -> list[Operation]:
    """The operations of a joint by one way."""
    made: list[Operation] = []
    bevels: list[Operation] = []
    if ring is not None:
        minutes = work.floor.limits.minutes
        tilted = any(c.angle.tilt for c in ring.cuts)
        bevels = end_cuts(work, joint, name, ring.cuts, minutes.bevel if tilted else minutes.mitre)
    for pairs, fit in way.fits:
        blocks: list[str] = []
        if way.name == "bevel-first" and ring is not None:
            for angle in dict.fromkeys(round(s.angle, 6) for p in pairs for s in (p.first, p.second)):
                found = block(work, joint, name, angle, bevels)
                known = [*work.operations, *made]
                if found is not None and all(found.id != op.id for op in known):
                    made.append(found)
                if found is not None and found.joint != joint:
                    blocks += found.makes  # for the joint's own block the rule book has the rule
        rows = [
            Row(seats, half, times[seats[0].part.id]) for half in (0, 1) for seats in _by_part(pairs, half)
        ]
        boards = _panel_rows(pairs, ring, times, work, joint)
        lots = plunges(work, joint, name, boards or rows, fit, tuple(blocks))
        taken = {op.id for op in made}
        made += [op if op.id not in taken else op.model_copy(update={"id": f"{op.id}-2"}) for op in lots]
    level = []
    if ring is not None:
        for part in (work.parts[p] for p in dict.fromkeys(ring.joint.parts)):
            if planes := level_cuts(ring, part):
                level.append(level_rip(work, joint, part, planes))
    return [*bevels, *made, *level]


def _panel_rows(
    pairs: tuple[Pair, ...], ring: Ring | None, times: Mapping[str, int], work: Collected, joint: str
) -> list[Row]:
    """Rows of a panel: the first and last board have one edge without slots."""
    found = next((j for j in work.floor.job.joints if j.id == joint), None)
    if not isinstance(found, EdgeToEdge):
        return []
    boards = panel_boards(found, work.parts)
    row = found.parts * (boards // len(found.parts))
    panels = sum(work.parts[p].quantity for p in found.parts) * work.floor.job.batch // boards
    rows = []
    for pair in pairs:
        count = sum(1 for a, b in pairwise(row) if (a, b) == (pair.first.part.id, pair.second.part.id))
        rows += [Row((pair.first,), 0, count * panels), Row((pair.second,), 1, count * panels)]
    return rows


def _by_part(pairs: tuple[Pair, ...], half: int) -> list[tuple[Seat, ...]]:
    """The seats of one half by part, each once; of the second half only those a single piece has."""
    found: dict[str, dict[tuple[object, ...], Seat]] = {}
    for pair in pairs:
        seat = (pair.first, pair.second)[half]
        place = _rows_alike(seat)
        found.setdefault(seat.part.id, {}).setdefault(place, seat)
    return [tuple(seats.values()) for seats in found.values()]


def _rows_alike(seat: Seat) -> tuple[object, ...]:
    """What tells the seats of one piece apart. A row and the same row seen from the part's other end, as the
    mating part at the other end needs it, lie in the same wood when the places are symmetrical."""
    if seat.base in ("edge", "far edge") and abs(seat.along[0]) > 0.5 and seat.fence == "face":
        return (seat.base, seat.at)
    if seat.base in ("face", "back") and abs(seat.along[1]) > 0.5:
        return (seat.base, seat.shift, seat.fence)
    return (seat.base, seat.shift, seat.line_shift)


def _bevels_apart(work: Collected) -> None:
    """Say which angles are so near each other that they might be taken for one."""
    near = work.floor.limits.near_stop
    for name in ("tilt", "gauge", "fence_angle"):
        values = sorted({v for op in work.operations if isinstance(v := op.settings.get(name), float)})
        for a, b in pairwise(values):
            if 0 < b - a <= near:
                work.remark(
                    f"{name.replace('_', ' ')} {format_angle(a)} and {format_angle(b)} are two settings, kept apart: "
                    "do not cut one at the other"
                )
