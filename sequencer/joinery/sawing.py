"""The saw operations of joints: bevelled and mitred ends, bevelled edges, setting blocks."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import asin, degrees, radians, tan

from sequencer.joinery import cautions
from sequencer.joinery.floor import Floor, even
from sequencer.joinery.making import SQUARE, Collected, height_over, slug
from sequencer.joinery.refusal import Refusal
from sequencer.joinery.rings import EndCut, plane_cut
from sequencer.model.parts import Part
from sequencer.operations import (
    Caution,
    Check,
    Notes,
    OneOf,
    Operation,
    PencilLine,
    PlaneCut,
    Wanted,
)
from sequencer.quantity import format_angle


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
    where = [c.at for c in group]
    # a bevelled board is turned about for its second end, so that its other edge lies against the gauge
    turned = len(group) > 1 and tilt > SQUARE
    guides: tuple[str, ...] = () if edges else ("edge", "far edge") if turned else ("edge",)
    table, beside = "back (inside face)", "the edge on the other side" if edges else "edge, against the gauge"
    beds: tuple[str, ...] = ("back",)
    if compound:
        lies = {"left end": ("edge", "back"), "right end": ("far edge", "face")}
        guides, beds = tuple(lies[at][0] for at in where), tuple(lies[at][1] for at in where)
        several = len(where) > 1
        beside = _apart(zip(where, guides, strict=True), several) + ", against the gauge"
        table = _apart(zip(where, beds, strict=True), several)
    kind = "bevel" if tilt > SQUARE else "mitre"
    says = " and ".join(where)
    count = work.pieces(part.id) * len(group)
    hows = (
        {"height": "measured along the blade: a tilted blade must stand out farther"} if tilt > SQUARE else {}
    )
    if tilt > SQUARE and not edges:
        hows["stop"] = "from the blade, low down at the table, to the square end of the board"
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
        registers_on=tuple(f"{part.id}/{side}" for side in (*guides, *beds)),
        makes=names,
        destroys=tuple(f"{part.id}/{c.at}" for c in group),
        joint=joint,
        surface=names[0],
        cuts=tuple(plane_cut(c, part) for c in group),
        notes=Notes(
            what=f"{kind} the {says} of {part.id}",
            fence=beside,
            table=table,
            way_round=_way_round(group, compound, edges, floor, part),
            lines=_mitre_lines(group, part) if compound else (),
            check=_bevel_check(floor, part, tilt, gauge, edges),
            how_to_set=hows,
            cautions=tuple(found),
        ),
    )


def _apart(told: Iterable[tuple[str, str]], several: bool) -> str:
    """What lies where for each end, told apart where there are several."""
    return ", ".join(f"{what} (for the {at})" if several else what for at, what in told)


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
    if compound:
        long_edge = "far edge" if group[0].angle.gauge > 0 else "edge"
        lies = {
            "left end": "left ends outside face up",
            "right end": "right ends face down on the other side of the blade, the gauge in its other slot, so that "
            "tilt and gauge stay",
        }
        return (
            f"{'; '.join(lies[cut.at] for cut in group)} (left and right, edges and faces change places on a saw that "
            f"tilts to the right). Cut to the line, stop off: the {long_edge} keeps its full "
            f"{floor.length(part.length)}"
        )
    if len(group) == 1:
        return "outside face up, the edge against the gauge" if group[0].angle.tilt > SQUARE else "face up"
    if group[0].angle.tilt > SQUARE:
        return (
            "outside face up; for the second end turn the board end for end, the other edge against the gauge, and "
            "lay an offcut of a first bevel against the stop: it fills the space under the sharp edge"
        )
    return (
        "face up; for the second end turn the board end over end, the same edge against the gauge, and lay an offcut "
        "of a first mitre against the stop: it fills the space beside the sharp point"
    )


def _bevel_check(floor: Floor, part: Part, tilt: float, gauge: float, edges: bool) -> Check:
    """What to measure after the first piece."""
    if tilt > SQUARE and gauge < SQUARE:
        full = floor.length(part.width if edges else part.length)
        inset = part.thickness * tan(radians(tilt))
        return Check(
            measure="the heel on the inside face, over all from long point to long point",
            expect=f"{floor.length(inset)} from the square line to the heel, {full} over all",
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
        makes=(f"/setting block of {format_angle(fence_angle)}",),
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
