"""What the derivation collects, and the operations that every kind of joint needs: saw cuts, blocks and plunges."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from math import asin, cos, degrees, radians, tan

from sequencer.joinery import cautions
from sequencer.joinery.floor import Floor, even
from sequencer.joinery.placement import Fit
from sequencer.joinery.refusal import Refusal
from sequencer.joinery.rings import EndCut, plane_cut
from sequencer.joinery.seats import OPPOSITE, Seat
from sequencer.model.parts import Part
from sequencer.operations import (
    Between,
    Caution,
    Check,
    Choice,
    MatesGroup,
    Notes,
    OneOf,
    Operation,
    PencilLine,
    PlaneCut,
    StruckOut,
    Wanted,
    WayRemark,
)
from sequencer.quantity import format_angle

SQUARE = 1e-6


def slug(*words: str) -> str:
    """Words as an id: small letters, digits and hyphens.

    >>> slug("plunge", "Large front", "left end")
    'plunge-large-front-left-end'
    """
    return "-".join(s for s in (re.sub(r"[^\w]+", "-", w.lower()).strip("-") for w in words) if s)


@dataclass
class Collected:
    """The worklist while it grows."""

    floor: Floor
    parts: Mapping[str, Part]
    operations: list[Operation] = field(default_factory=list)
    mates: list[MatesGroup] = field(default_factory=list)
    choices: list[Choice] = field(default_factory=list)
    struck_out: list[StruckOut] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)
    way_remarks: list[WayRemark] = field(default_factory=list)
    blocks: dict[float, Operation] = field(default_factory=dict)
    """Setting blocks made whatever is chosen, by their tilt: one serves every joint of that angle."""

    def pieces(self, part: str) -> int:
        """Pieces of a part for the whole batch, spares included."""
        found = self.parts[part]
        return found.quantity * self.floor.job.batch + found.spare

    def remark(self, text: str) -> None:
        """Add a remark once."""
        if text not in self.remarks:
            self.remarks.append(text)

    def hold(self, operations: Sequence[Operation], role: str, settings: Iterable[str], why: str) -> None:
        """Make operations mates in those settings on which all of them agree."""
        if len(operations) < 2:
            return
        station = self.floor.station(role)
        first = operations[0].settings
        held = tuple(
            f"{station}.{name}"
            for name in settings
            if name in first and all(op.settings.get(name) == first[name] for op in operations)
        )
        if held:
            self.mates.append(MatesGroup(operations=tuple(op.id for op in operations), hold=held, why=why))


def height_over(floor: Floor, thickness: float, tilt: float = 0.0) -> Between:
    """Blade height for stock of a thickness, measured along the blade, so that a tilted cut asks for more."""
    over, lean = floor.limits.blade_over, cos(radians(tilt))
    return Between(min=even((thickness + over.min) / lean), max=even((thickness + over.max) / lean))


def short_cautions(floor: Floor, part: Part) -> tuple[Caution, ...]:
    """The caution for a short piece."""
    return (cautions.SHORT,) if part.length < floor.limits.shortest_piece * 1.5 else ()


def end_cuts(
    work: Collected, joint: str, way: str, cuts: Sequence[EndCut], minutes: float
) -> list[Operation]:
    """The saw operations of a ring's ends or edges: one for each part and setting."""
    groups: dict[tuple[str, float, float], list[EndCut]] = {}
    for cut in cuts:
        groups.setdefault((cut.part, abs(cut.angle.gauge), cut.angle.tilt), []).append(cut)
    made = [
        _end_cut(work, joint, way, group, minutes, len(groups) > len({g[0] for g in groups}))
        for group in groups.values()
    ]
    by_tilt: dict[object, list[Operation]] = {}
    for op in made:
        by_tilt.setdefault(str(op.settings.get("tilt")), []).append(op)
    for same in by_tilt.values():
        work.hold(same, "saw", ("tilt", "gauge"), "both halves of a corner are sawn at the very same angle")
    return made


def _end_cut(
    work: Collected, joint: str, way: str, group: Sequence[EndCut], minutes: float, apart: bool
) -> Operation:
    floor, part, cut = work.floor, work.parts[group[0].part], group[0]
    gauge, tilt = abs(cut.angle.gauge), cut.angle.tilt
    edges = cut.at in ("edge", "far edge")
    compound = gauge > SQUARE and tilt > SQUARE
    lean = part.thickness * tan(radians(tilt))
    least = floor.limits.narrowest_piece if edges else floor.limits.shortest_piece
    if (part.width if edges else part.length) < least:
        what, size = ("narrow", part.width) if edges else ("short", part.length)
        raise Refusal(
            f"{part.id} is too {what} to hold safely at the saw ({floor.length(size)}, shop minimum "
            f"{floor.length(least)})",
            f"{floor.length(least)} or more, or a smaller "
            f"{'narrowest_piece' if edges else 'shortest_piece'} in the shop's [joinery] if a carrier holds it",
        )
    wanted: dict[str, Wanted | None] = {
        "tilt": tilt,
        "gauge": None if edges else gauge,
        "fence": part.width - lean if edges else None,
        "stop": None if edges or compound else part.length - lean,
        "height": height_over(floor, part.thickness, tilt),
        "blade": OneOf(any=("rip", "combination") if edges else ("crosscut", "combination")),
    }
    names = tuple(f"{part.id}/{c.makes}" for c in group)
    # a bevelled board is turned about for its second end, so that its other edge lies against the gauge
    turned = len(group) > 1 and tilt > SQUARE
    guides = () if edges else ("edge", "far edge") if turned else ("edge",)
    kind = "bevel" if tilt > SQUARE else "mitre"
    where = [c.at for c in group]
    says = " and ".join(where)
    count = work.pieces(part.id) * len(group)
    hows = (
        {"height": "measured along the blade: a tilted blade must stand out farther"} if tilt > SQUARE else {}
    )
    if gauge > SQUARE:
        hows["gauge"] = (
            f"{format_angle(gauge)} from a square crosscut (a scale that reads 90 square shows "
            f"{format_angle(90 - gauge)})"
        )
    hows["tilt"] = f"{format_angle(tilt)} from vertical" + (
        ", at the stop"
        if floor.is_stop("saw", "tilt", tilt)
        else ", proved with a test cut on scrap of this thickness"
    )
    found: list[Caution] = [cautions.GUARDS, cautions.TILTED] if tilt > SQUARE else [cautions.GUARDS]
    if not edges:
        found.append(cautions.CROSSCUT)
    if tilt > 40 or gauge > 40:
        found.append(cautions.FEATHER)
    for name, value in (("tilt", tilt), ("gauge", gauge)):
        stop = floor.near_stop("saw", name, value)
        if stop is not None and value > SQUARE:
            text = f"{name} {format_angle(value)}"
            found.append(cautions.near_stop(text, format_angle(stop)))
            work.remark(
                f"{joint}: {text} is near the positive stop at {format_angle(stop)}; it is a setting of its own"
            )
    found += short_cautions(floor, part)
    return Operation(
        id=slug(joint, way, kind, part.id, *(where if apart else ())),
        station=floor.station("saw"),
        kind=kind,
        parts=(part.id,),
        quantity=count,
        minutes_each=minutes,
        settings=floor.settings("saw", wanted),
        registers_on=tuple(f"{part.id}/{side}" for side in (*guides, "back")),
        makes=names,
        destroys=tuple(f"{part.id}/{c.at}" for c in group),
        joint=joint,
        surface=names[0],
        cuts=tuple(plane_cut(c, part) for c in group),
        notes=Notes(
            what=f"{kind} the {says} of {part.id}",
            fence="the edge on the other side" if edges else "edge, against the gauge",
            table="back (inside face)",
            way_round=_way_round(group, compound, edges, floor, part),
            lines=_mitre_lines(group, part) if compound else (),
            check=_bevel_check(floor, part, tilt, gauge),
            how_to_set=hows,
            cautions=tuple(found),
        ),
    )


def _mitre_lines(group: Sequence[EndCut], part: Part) -> tuple[PencilLine, ...]:
    """The lines a compound cut is made to: drawn on the face from the long point to a mark on the shorter edge."""
    sides = {True: ("edge", "far edge"), False: ("far edge", "edge")}
    return tuple(
        PencilLine(
            part=part.id,
            start=cut.at,
            across=sides[cut.angle.gauge > 0][0],
            at=(even(part.width * tan(radians(abs(cut.angle.gauge)))),),
            what=f"joined across the face to the corner of {cut.at} and {sides[cut.angle.gauge > 0][1]}",
        )
        for cut in group
    )


def _way_round(group: Sequence[EndCut], compound: bool, edges: bool, floor: Floor, part: Part) -> str:
    """How the piece lies, and how the other end is cut without moving a setting."""
    if edges:
        return "outside face up, the blade leaning away from the fence; the second edge end for end"
    long_edge = "far edge" if group[0].angle.gauge > 0 else "edge"
    if compound:
        full = floor.length(part.length)
        first = f"outside face up, cut to the line: the {long_edge} keeps its full {full}; stop off"
        if len(group) == 1:
            return first
        return (
            f"{first}. For the mirrored end turn the board face for face: other edge against the gauge, face down, "
            "the piece kept on the other side of the blade; gauge and tilt stay"
        )
    if group[0].angle.tilt > SQUARE:
        return (
            "outside face up; for the second end turn the board end for end, the other edge against the gauge, and "
            "lay an offcut of a first bevel against the stop: it fills the space under the sharp edge"
        )
    return "face up; for the second end turn the board end over end, the same edge against the gauge"


def _bevel_check(floor: Floor, part: Part, tilt: float, gauge: float) -> Check:
    """What to measure after the first piece."""
    if tilt > SQUARE and gauge < SQUARE:
        inset = part.thickness * tan(radians(tilt))
        return Check(
            measure="the heel on the inside face, over all from long point to long point",
            expect=f"{floor.length(inset)} from the square line to the heel, {floor.length(part.length)} over all",
            tolerance=floor.length(0.2),
        )
    return Check(
        measure="two first pieces held together at the corner, and the length",
        expect=f"no light in the corner; {floor.length(part.length)} over the long points",
        tolerance=floor.length(0.3),
    )


def level_rip(work: Collected, joint: str, part: Part, planes: Sequence[PlaneCut]) -> Operation:
    """Both edges of a leaning board ripped level: parallel planes, so one tilt and one fence do for both."""
    floor = work.floor
    tilt = even(degrees(asin(min(1.0, abs(planes[0].normal[2])))))
    lean = part.thickness * tan(radians(tilt))
    return Operation(
        id=slug(joint, "level", part.id),
        station=floor.station("saw"),
        kind="bevel",
        parts=(part.id,),
        quantity=work.pieces(part.id) * 2,
        minutes_each=floor.limits.minutes.rip,
        settings=floor.settings(
            "saw",
            {
                "tilt": tilt,
                "fence": part.width - lean,
                "height": height_over(floor, part.thickness, tilt),
                "blade": OneOf(any=("rip", "combination")),
            },
        ),
        registers_on=(f"{part.id}/face", f"{part.id}/back"),
        makes=tuple(f"{part.id}/{cut.surface}" for cut in planes),
        destroys=(f"{part.id}/edge", f"{part.id}/far edge"),
        joint=joint,
        surface=f"{part.id}/{planes[0].surface}",
        cuts=tuple(planes),
        notes=Notes(
            what=f"rip both edges of {part.id} so that they lie level",
            fence="the other edge",
            table="the face for one edge, the back for the other",
            way_round="the longer side up, the blade leaning away from the fence; second edge face for face",
            check=Check(
                measure="width on the face",
                expect=floor.length(part.width - lean),
                tolerance=floor.length(0.2),
            ),
            how_to_set={"tilt": f"{format_angle(tilt)} from vertical: the lean of the board from upright"},
            cautions=(cautions.GUARDS, cautions.TILTED),
        ),
    )


def block(
    work: Collected, joint: str, way: str, fence_angle: float, bevels: Sequence[Operation]
) -> Operation | None:
    """The setting block for a fence angle that is no stop, cut in the saw setup of that very tilt."""
    floor = work.floor
    if abs(fence_angle - 90.0) < 0.005 or floor.setting("mortiser", "fence_angle") is None:
        return None
    if floor.is_stop("mortiser", "fence_angle", even(fence_angle)):
        return None
    tilt = even(90.0 - fence_angle)
    if tilt in work.blocks:
        return work.blocks[tilt]
    made = Operation(
        id=slug(joint, way, "block", f"{tilt:.2f}"),
        station=floor.station("saw"),
        kind="block",
        quantity=1,
        minutes_each=floor.limits.minutes.block,
        settings=floor.settings("saw", {"tilt": tilt, "gauge": None}),
        joint=joint,
        notes=Notes(
            what=f"saw a setting block of {format_angle(fence_angle)} from straight scrap, with the saw as it stands",
            check=Check(
                measure="block against a bevelled first piece",
                expect="no light between them",
                tolerance="",
            ),
            cautions=(cautions.GUARDS, cautions.SHORT),
        ),
    )
    if not way:
        work.blocks[tilt] = made
    same = [op for op in bevels if op.settings.get("tilt") == made.settings.get("tilt")]
    work.hold([*same, made], "saw", ("tilt",), "the block is cut at the very tilt of the bevel")
    return made


@dataclass(frozen=True)
class Row:
    """The seats of one half that one lot of plunges works on; `times` how often each seat occurs in the batch."""

    seats: tuple[Seat, ...]
    half: int
    times: int


def plunges(
    work: Collected, joint: str, way: str, rows: Sequence[Row], fit: Fit, after: tuple[str, ...] = ()
) -> list[Operation]:
    """The plunge operations of a joint: seats of a part with the same settings are one lot."""
    groups: dict[tuple[object, ...], list[tuple[Seat, Row]]] = {}
    for row in rows:
        for seat in row.seats:
            parted = (seat.part.id, row.half, row.times, _kind_of(seat), even(seat.shift), even(seat.angle))
            groups.setdefault(parted, []).append((seat, row))
    crowded: dict[tuple[object, ...], int] = {}
    for key in groups:
        crowded[key[:1] + key[3:4]] = crowded.get(key[:1] + key[3:4], 0) + 1
    made: list[Operation] = []
    for key, group in groups.items():
        extra = group[0][0].base if crowded[key[:1] + key[3:4]] > 1 else ""
        op = _plunge(work, joint, way, [seat for seat, _ in group], group[0][1], fit, extra, after)
        same = sum(other.id == op.id or other.id.startswith(f"{op.id}-no-") for other in made)
        if same:
            op = op.model_copy(update={"id": f"{op.id}-no-{same + 1}"})
        made.append(op)
    by_fence: dict[object, list[Operation]] = {}
    for op in made:
        by_fence.setdefault(
            (str(op.settings.get("fence_angle")), str(op.settings.get("fence_height"))), []
        ).append(op)
    for placed in by_fence.values():
        work.hold(
            placed,
            "mortiser",
            ("fence_height", "fence_angle", "depth"),
            "both mortises of a joint are plunged with the fence where it stands, so that the faces come flush",
        )
    return made


def _kind_of(seat: Seat) -> str:
    """What seats that can be plunged in one lot have in common."""
    if seat.base.endswith(("bevel", "mitre")):
        return seat.base.split()[-1] + "s"
    if seat.base.endswith("end"):
        return "ends"
    return seat.base


def _plunge(
    work: Collected,
    joint: str,
    way: str,
    seats: Sequence[Seat],
    row: Row,
    fit: Fit,
    extra: str,
    after: tuple[str, ...],
) -> Operation:
    floor, seat = work.floor, seats[0]
    part, half = seat.part, row.half
    least = floor.limits.shortest_piece
    if part.length < least:
        raise Refusal(
            f"{part.id} is too short to hold safely ({floor.length(part.length)}, shop minimum {floor.length(least)})",
            f"{floor.length(least)} or more, or a smaller shortest_piece in the shop's [joinery] if a jig holds it",
        )
    angle, place = even(seat.angle), even(fit.height + seat.shift)
    dial = place
    if seat.fence and abs(angle - 90.0) > 1e-6:
        from sequencer.geometry.pivot import Pivot

        dial = even(Pivot(floor.limits.pivot.behind, floor.limits.pivot.ahead).dial(place, angle))
    depth, slot = fit.depths[half], fit.slots[half]
    wanted: dict[str, Wanted | None] = {
        "cutter": fit.thickness,
        "slot_length": slot,
        "fence_angle": angle if seat.fence else None,
        "fence_height": dial if seat.fence else None,
        "depth": depth,
    }
    hows: dict[str, str] = {"depth": "from the surface under the base to the bottom of the slot"}
    fences = tuple(dict.fromkeys(_outside(s.fence) for s in seats))
    if fit.slots[0] != fit.slots[1]:
        wider = slot - min(fit.slots)
        hows["slot_length"] = (
            f"the slack half: {floor.length(wider)} longer than the slip is wide"
            if wider > 0
            else "the tight half: as long as the slip is wide"
        )
    says_fence = " or ".join(fences) if seat.fence else "a batten clamped along its line"
    if len(fences) > 1:
        says_fence += ", whichever the slots are beside"
    if seat.fence and abs(angle - 90.0) > 1e-6:
        stop = floor.is_stop("mortiser", "fence_angle", angle)
        hows["fence_angle"] = (
            f"{format_angle(angle)} between base and fence, at the stop"
            if stop
            else f"{format_angle(angle)} between base and fence: hold the setting block between them until no light "
            "shows"
        )
        hows["fence_height"] = (
            f"slot centre {floor.length(place)} from the sharp edge, along the bevel; dial {floor.length(dial)} "
            "(the scale is true at 90 only). Plunge the first test a little too far inside, measure, correct by "
            "the difference"
        )
    found = [cautions.PLUNGING, cautions.DUST]
    near = floor.near_stop("mortiser", "fence_angle", angle) if seat.fence else None
    if near is not None and abs(angle - 90) > 1e-6:
        found.append(cautions.near_stop(f"fence angle {format_angle(angle)}", format_angle(near)))
        work.remark(
            f"{joint}: fence angle {format_angle(angle)} is near the positive stop at {format_angle(near)}"
        )
    lines = []
    for each in {(s.start, s.base, s.line_shift, s.fence): s for s in seats}.values():
        start, at = _from_nearer_end(each, fit.centres)
        lines.append(
            PencilLine(part=part.id, start=start, across=each.base, at=at, what="centres of the slots")
        )
        if not each.fence:
            batten = even(place - floor.limits.batten_offset)
            lines.append(
                PencilLine(
                    part=part.id, start="left end", across=each.base, at=(batten,), what="side of the batten"
                )
            )
    registers = {f"{part.id}/{s.base}" for s in seats} | {f"{part.id}/{s.fence}" for s in seats if s.fence}
    starts = tuple(dict.fromkeys(_from_nearer_end(s, fit.centres)[0] for s in seats))
    registers |= {f"{part.id}/{start}" for start in starts if start not in [o.base for o in seats]}
    sides = tuple(dict.fromkeys(s.base for s in seats))
    bases = " and ".join(sides)
    apiece = f", {fit.count * len(seats) // len(sides)} in each" if len(sides) > 1 else ""
    if len(fences) > 1:
        apiece = f", {fit.count * len(seats) // len(fences)} beside each end"
    return Operation(
        id=slug(joint, way, "plunge", part.id, extra or _kind_of(seat)),
        station=floor.station("mortiser"),
        kind="plunge",
        parts=(part.id,),
        quantity=row.times * len({s.base for s in seats}),
        minutes_each=even(
            floor.limits.minutes.plunge * fit.count * len(seats) / len({s.base for s in seats})
        ),
        settings=floor.settings("mortiser", wanted),
        after=after,
        registers_on=tuple(sorted(registers)),
        joint=joint,
        surface=f"{part.id}/{seat.base}",
        cuts=tuple(
            s.slot(joint, along, fit.height, slot, fit.thickness, depth)
            for s in seats
            for along in fit.centres
        ),
        notes=Notes(
            what=f"plunge {_slots(fit.count * len(seats))} in the {bases} of {part.id}{apiece}",
            fence=says_fence,
            table=f"base on the {bases}",
            way_round=f"pencil lines measured from the {' and the '.join(starts)}, carried across while the mates "
            "lie together",
            lines=tuple(lines),
            check=Check(
                measure=f"along the surface plunged into, from the {' or '.join(fences) if seat.fence else 'left end'}"
                f"; the depth may be {floor.length(0.5)} out",
                expect=f"{floor.length(place)} to the middle of the slot, {floor.length(depth)} deep",
                tolerance=floor.length(0.2),
            ),
            how_to_set=hows,
            cautions=tuple(found),
        ),
    )


def _from_nearer_end(seat: Seat, centres: Sequence[float]) -> tuple[str, tuple[float, ...]]:
    """The surface a row's lines are measured from, the nearer of two ends, and their distances from it."""
    at, length = tuple(even(seat.line_shift + s) for s in centres), seat.part.length
    if seat.start in ("left end", "right end") and min(at) > length / 2:
        return OPPOSITE[seat.start], tuple(even(length - a) for a in at)
    return seat.start, at


def _slots(count: int) -> str:
    return "1 slot" if count == 1 else f"{count} slots"


def _outside(surface: str) -> str:
    return {"face": "face (outside)", "back": "back (inside)"}.get(surface, surface)
