"""The saw operations of joints: bevelled and mitred ends, bevelled edges, setting blocks."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import asin, atan, degrees, radians, tan

from sequencer.joinery.basis import cautions
from sequencer.joinery.basis.checks import MITRE
from sequencer.joinery.basis.floor import Floor, even
from sequencer.joinery.basis.making import Collected, height_over
from sequencer.joinery.basis.nearness import ANGLE_HAIR
from sequencer.joinery.basis.refusal import Refusal
from sequencer.joinery.basis.seats import OPPOSITE
from sequencer.joinery.meetings.rings import NOTHING, EndCut, RingJoint, plane_cut
from sequencer.joinery.work.blades import blade_for
from sequencer.model.parts import Part, Stave
from sequencer.operations import (
    Caution,
    Check,
    Notes,
    Operation,
    PencilLine,
    PlaneCut,
    Wanted,
    slug,
)
from sequencer.quantity import SLIGHTEST, format_angle, format_number

ENDS = ("left end", "right end")
CHANGE = "(the edges change places on a saw that tilts to the right)"


def end_cuts(
    work: Collected, joint: str, way: str, cuts: Sequence[EndCut], minutes: float
) -> list[Operation]:
    """The saw operations of a ring's ends or edges: one for each part, setting and side of square."""
    groups: dict[tuple[str, float, float, str], list[EndCut]] = {}
    for cut in cuts:
        key = (cut.part, abs(cut.angle.gauge), cut.angle.tilt, cut.full_edge)
        groups.setdefault(key, []).append(cut)
    sawn = {
        cut.part: _at(c for c in cuts if c.part == cut.part) | _sawn_elsewhere(work, joint, cut)
        for cut in cuts
    }
    apart = len(groups) > len({part for part, *_ in groups})
    made = []
    by_tilt: dict[str, list[Operation]] = {}
    sides: dict[str, set[str]] = {}
    for (name, *_, full_edge), group in groups.items():
        part = work.parts[name]
        op = _end_cut(work, joint, way, _Group(part, tuple(group), sawn[name] - _at(group)), minutes, apart)
        made.append(op)
        tilt = str(op.settings.get("tilt"))
        by_tilt.setdefault(tilt, []).append(op)
        sides.setdefault(tilt, set()).add(full_edge)
    for setting, same in by_tilt.items():
        held = ("tilt", "gauge") if len(sides[setting]) == 1 else ("tilt",)  # swung past square it has moved
        work.hold(same, "saw", held, "both halves of a corner are sawn at the very same angle")
    return made


def _at(cuts: Iterable[EndCut]) -> frozenset[str]:
    """The ends or edges that cuts saw away."""
    return frozenset(cut.at for cut in cuts)


def _sawn_elsewhere(work: Collected, joint: str, cut: EndCut) -> frozenset[str]:
    """The ends of a part that another ring may saw: both, where it is in one."""
    rings = (j for j in work.floor.job.joints if isinstance(j, RingJoint) and not isinstance(j, Stave))
    return frozenset(ENDS if any(j.id != joint and cut.part in j.parts for j in rings) else ())


@dataclass(frozen=True)
class _Group:
    """Ends or edges of one part sawn with the same settings."""

    part: Part
    cuts: tuple[EndCut, ...]
    others: frozenset[str]
    """The part's ends (or edges) that other operations bevel or mitre, before or after."""

    @property
    def gauge(self) -> float:
        """Of the mitre gauge from square, to either side, degrees."""
        return abs(self.cuts[0].angle.gauge)

    @property
    def tilt(self) -> float:
        """Of the blade from vertical, degrees."""
        return self.cuts[0].angle.tilt

    @property
    def edges(self) -> bool:
        """Whether edges are ripped, not ends."""
        return self.cuts[0].at in ("edge", "far edge")

    @property
    def bevelled(self) -> bool:
        """Whether the blade is tilted."""
        return self.tilt > ANGLE_HAIR

    @property
    def compound(self) -> bool:
        """Whether blade and gauge both stand at an angle."""
        return self.bevelled and self.gauge > ANGLE_HAIR

    @property
    def kind(self) -> str:
        """The kind of operation."""
        return "bevel" if self.bevelled else "mitre"

    @property
    def where(self) -> tuple[str, ...]:
        """The surfaces sawn away."""
        return tuple(cut.at for cut in self.cuts)

    @property
    def lone_stop(self) -> str:
        """The end at the stop where one end only is sawn, "" where both are or the cut is made to a line."""
        if self.edges or self.compound or len(self.cuts) > 1:
            return ""
        return OPPOSITE[self.cuts[0].at]

    @property
    def feathery(self) -> bool:
        """Whether the edge or point that the cut leaves is too thin to bear on anything."""
        return self.tilt > 40 or self.gauge > 40

    @property
    def slanted_at(self) -> str:
        """What an end or edge that is bevelled or mitred already may have to lie at: "stop", "fence" or nothing."""
        if self.compound:
            return ""
        if self.edges:
            return "fence" if len(self.cuts) > 1 or OPPOSITE[self.cuts[0].at] in self.others else ""
        return "stop" if len(self.cuts) > 1 or self.lone_stop in self.others else ""


def _end_cut(work: Collected, joint: str, way: str, group: _Group, minutes: float, apart: bool) -> Operation:
    floor, part = work.floor, group.part
    _held_safely(floor, group)
    _told_from_square(floor, part, "tilt", group.tilt, part.thickness)
    _told_from_square(floor, part, "gauge", group.gauge, part.width)
    names = tuple(f"{part.id}/{cut.makes}" for cut in group.cuts)
    return Operation(
        id=slug(joint, way, group.kind, part.id, *(group.where if apart else ())),
        station=floor.station("saw"),
        kind=group.kind,
        parts=(part.id,),
        quantity=work.pieces(part.id) * len(group.cuts),
        minutes_each=minutes,
        settings=floor.settings("saw", _wanted(work, group)),
        registers_on=tuple(f"{part.id}/{side}" for side in _registers(group)),
        makes=names,
        destroys=tuple(f"{part.id}/{at}" for at in group.where),
        joint=joint,
        surface=names[0],
        cuts=tuple(plane_cut(cut, part) for cut in group.cuts),
        notes=_notes(floor, group, _cautions(floor, group)),
    )


def _held_safely(floor: Floor, group: _Group) -> None:
    part, edges = group.part, group.edges
    least = floor.limits.narrowest_piece if edges else floor.limits.shortest_piece
    what, size = ("narrow", part.width) if edges else ("short", part.length)
    if size < least:
        raise Refusal(
            f"{part.id} is too {what} to hold safely at the saw ({floor.length(size)}, shop minimum "
            f"{floor.length(least)})",
            f"{floor.length(least)} or more, or a smaller "
            f"{'narrowest_piece' if edges else 'shortest_piece'} in the shop's [joinery] if a carrier holds it",
        )


def _told_from_square(floor: Floor, part: Part, name: str, angle: float, across: float) -> None:
    """Raises Refusal for an angle so near square that the cut, so far across, passes its check without it."""
    if angle > ANGLE_HAIR and across * tan(radians(angle)) <= SLIGHTEST:
        least = (int(degrees(atan(SLIGHTEST / across)) * 100) + 1) / 100
        raise Refusal(
            f"a {name} of {format_number(float(f'{angle:.3g}'))}° moves the cut of {part.id} by no more than its check "
            f"lets it be off ({floor.length(SLIGHTEST)})",
            f"angles that ask for a {name} of {format_angle(least)} or more, or for none",
        )


def _wanted(work: Collected, group: _Group) -> dict[str, Wanted | None]:
    """The saw's settings."""
    floor, part, edges = work.floor, group.part, group.edges
    lean = part.thickness * tan(radians(group.tilt))
    return {
        "tilt": group.tilt,
        "gauge": None if edges else group.gauge,
        "fence": part.width - lean if edges else None,
        "stop": None if edges or group.compound else part.length - lean,
        "height": height_over(floor, part.thickness, group.tilt),
        "blade": blade_for(work, "rip" if edges else "crosscut"),
    }


def _lies(group: _Group) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The surfaces against the gauge, and those on the table, for each end; for edges the one on the table.

    A bevelled end is cut with the blade leaning over the offcut. The board turned end for end has its other edge
    against the gauge, turned end over end (a mitre) its other face on the table.
    """
    if group.edges:
        return (), ("back",)
    if not group.bevelled:
        return ("edge",) * len(group.cuts), ("back", "face")[: len(group.cuts)]
    lies = {"left end": ("edge", "back"), "right end": ("far edge", "face" if group.compound else "back")}
    return tuple(lies[at][0] for at in group.where), tuple(lies[at][1] for at in group.where)


def _registers(group: _Group) -> tuple[str, ...]:
    """The surfaces on gauge, table and stop, and those that lines are drawn on."""
    guides, beds = _lies(group)
    lined = ("edge", "far edge", "face") if group.compound else ()
    stop = (group.lone_stop,) if group.lone_stop and group.lone_stop not in group.others else ()
    return tuple(dict.fromkeys((*guides, *beds, *lined, *stop)))


def _cautions(floor: Floor, group: _Group) -> tuple[Caution, ...]:
    """The cautions, but for those of angles near a stop (`sequencer.joinery.near_stops`)."""
    found: list[Caution] = [cautions.GUARDS, cautions.TILTED] if group.bevelled else [cautions.GUARDS]
    if not group.edges:
        found.append(cautions.CROSSCUT)
    if group.feathery:
        found.append(cautions.fragile(group.kind, group.slanted_at))
    if group.part.length < floor.limits.shortest_piece * 1.5:
        found.append(cautions.SHORT)
    return tuple(found)


def _notes(floor: Floor, group: _Group, found: tuple[Caution, ...]) -> Notes:
    """What the card says."""
    guides, beds = _lies(group)
    beside = f"{_apart(group.where, guides)}, against the gauge" if guides else "the edge on the other side"
    table = _apart(group.where, beds) if group.compound else "back (inside face)"
    if not group.bevelled and len(beds) > 1:
        table = "back (the face for the second end)"
    return Notes(
        what=f"{group.kind} the {' and '.join(group.where)} of {group.part.id}",
        fence=beside,
        table=table,
        way_round=_way_round(floor, group),
        lines=_mitre_lines(group) if group.compound else (),
        check=_bevel_check(floor, group),
        how_to_set=_how_to_set(floor, group),
        cautions=found,
    )


def _how_to_set(floor: Floor, group: _Group) -> dict[str, str]:
    """How settings are set whose scale does not tell all."""
    hows = {}
    if group.bevelled:
        hows["height"] = "measured along the blade: a tilted blade must stand out farther"
    if not group.edges and not group.compound:
        hows["stop"] = (
            "from the blade, low down at the table, to the square end of the board"
            if group.bevelled
            else "along the gauge's fence, from the blade (at the long point) to the square end of the board"
        )
        if group.lone_stop in group.others:
            hows["stop"] += (
                f", or, if it is {'bevelled' if group.bevelled else 'mitred'} already, to where it was"
            )
    if group.gauge > ANGLE_HAIR:
        hows["gauge"] = (
            f"{format_angle(group.gauge)} from a square crosscut (a scale that reads 90 square shows "
            f"{format_angle(90 - group.gauge)})"
        )
    hows["tilt"] = f"{format_angle(group.tilt)} from vertical, {_proved(floor, group.tilt)}"
    return hows


def _proved(floor: Floor, tilt: float) -> str:
    """How a tilt is known to stand right: whatever cut it is set for first tells this."""
    return (
        "at the stop"
        if floor.is_stop("saw", "tilt", tilt)
        else "proved with a test cut on scrap of this thickness"
    )


def _apart(ends: Sequence[str], surfaces: Sequence[str]) -> str:
    """Which surface lies there for each end, told apart where there are several."""
    if len(set(surfaces)) == 1:
        return surfaces[0]
    return ", ".join(f"{surface} (for the {at})" for at, surface in zip(ends, surfaces, strict=True))


def _mitre_lines(group: _Group) -> tuple[PencilLine, ...]:
    """The lines a compound cut is made to: drawn on the face from the long point to a mark on the shorter edge."""
    return tuple(
        PencilLine(
            part=group.part.id,
            start=cut.at,
            across=OPPOSITE[cut.full_edge],
            at=(even(group.part.width * tan(radians(abs(cut.angle.gauge)))),),
            what=f"joined across the face to the corner of {cut.at} and {cut.full_edge}",
        )
        for cut in group.cuts
    )


def _way_round(floor: Floor, group: _Group) -> str:
    """How the piece lies, and how the other end is cut without moving a setting."""
    if group.edges:
        second = "outside face up, the blade leaning away from the fence; the second edge end for end"
        if not (group.feathery and group.slanted_at):
            return second
        return (
            f"{second}, with an offcut of a first bevel along the fence, taped to the board so that it goes along: it "
            "fills the space under the sharp edge"
        )
    if group.compound:
        lies = {
            "left end": "left ends outside face up",
            "right end": "right ends face down on the other side of the blade, the gauge in its other slot, so that "
            "tilt and gauge stay",
        }
        full = group.cuts[0].full_edge
        foot = f"sight the foot of the mark on the {OPPOSITE[full]}, at the table"
        down = "right end" in group.where
        there = "" if down else f": face down the line lies underneath, {foot}"
        return (
            f"{'; '.join(lies[at] for at in group.where)} (left and right, edges and faces change places on a saw that "
            f"tilts to the right{there}). Cut to the line, stop off: the {full} keeps its full "
            f"{floor.length(group.part.length)}"
            + (
                f". {'Right ends: the' if len(group.cuts) > 1 else 'The'} line lies underneath: {foot}"
                if down
                else ""
            )
        )
    up = f"outside face up {CHANGE}" if group.bevelled else "face up"
    if len(group.cuts) == 1:
        if not group.slanted_at:
            return up
        return (
            f"{up}; where the {group.lone_stop} is sawn already, lay an offcut of it against the stop: it fills the "
            f"space {'under the sharp edge' if group.bevelled else 'beside the sharp point'}"
        )
    if group.bevelled:
        return (
            f"{up}; for the second end turn the board end for end, the other edge against the gauge, and "
            "lay an offcut of a first bevel against the stop: it fills the space under the sharp edge"
        )
    return (
        "face up; for the second end turn the board end over end, the same edge against the gauge, and lay an offcut "
        "of a first mitre against the stop: it fills the space beside the sharp point"
    )


def _bevel_check(floor: Floor, group: _Group) -> Check:
    """What to measure after the first piece."""
    part = group.part
    if group.bevelled and not group.compound:
        full = floor.length(part.width if group.edges else part.length)
        inset = part.thickness * tan(radians(group.tilt))
        square = group.lone_stop and group.lone_stop not in group.others
        return Check(
            measure="the heel on the inside face, over all from long point to "
            + ("square end" if square else "long point"),
            expect=f"{floor.length(inset)} from the square line to the heel, {full} over all",
            tolerance=floor.length(SLIGHTEST),
        )
    return Check(
        measure="the first piece held at the corner against another one, and the length",
        expect=f"no light in the corner; {floor.length(part.length)} over the long points",
        tolerance=floor.length(MITRE),
    )


def level_rip(work: Collected, joint: str, part: Part, planes: Sequence[PlaneCut]) -> Operation:
    """Both edges of a leaning board ripped level: parallel planes, so one tilt and one fence do for both. Of an upright
    one among them the one edge that stands beyond their level. Raises Refusal where it is too narrow then.
    """
    floor = work.floor
    tilt = even(degrees(asin(min(1.0, abs(planes[0].normal[2])))))
    wide = _level_width(part, planes)
    _told_from_square(floor, part, "tilt", tilt, part.thickness)
    if wide < floor.limits.narrowest_piece:
        raise Refusal(
            f"{part.id}, ripped level, is too narrow to hold safely at the saw ({floor.length(wide)} on the face, "
            f"shop minimum {floor.length(floor.limits.narrowest_piece)})",
            f"a width of {floor.fine(part.width + floor.limits.narrowest_piece - wide)} or more",
            "parts",
        )
    edges = tuple(cut.surface.removeprefix("level ") for cut in planes)
    other = "far edge" if edges == ("edge",) else "edge"
    both, beds = len(edges) == 2, _beds(planes)
    return Operation(
        id=slug(joint, "level", part.id),
        station=floor.station("saw"),
        kind="bevel",
        parts=(part.id,),
        quantity=work.pieces(part.id) * len(planes),
        minutes_each=floor.limits.minutes.rip,
        settings=floor.settings(
            "saw",
            {
                "tilt": tilt,
                "fence": wide,
                "height": height_over(floor, part.thickness, tilt),
                "blade": blade_for(work, "rip"),
            },
        ),
        registers_on=tuple(f"{part.id}/{side}" for side in (("face", "back") if both else ("face", other))),
        makes=tuple(f"{part.id}/{cut.surface}" for cut in planes),
        destroys=tuple(f"{part.id}/{edge}" for edge in edges),
        joint=joint,
        surface=f"{part.id}/{planes[0].surface}",
        cuts=tuple(planes),
        notes=Notes(
            what=f"rip both edges of {part.id} so that they lie level"
            if both
            else f"rip the {edges[0]} of {part.id} down to the level of the leaning boards",
            fence="the other edge" if both else other,
            table=_apart(edges, beds) if both else "face",
            way_round=_rolled_over(part, planes) if both else "",
            check=_level_check(floor, edges, beds, wide),
            how_to_set={
                "tilt": f"{format_angle(tilt)} from vertical: the lean of the board from upright, "
                + _proved(floor, tilt)
            },
            cautions=(cautions.GUARDS, cautions.TILTED) if both else (cautions.GUARDS,),
        ),
    )


def _beds(planes: Sequence[PlaneCut]) -> tuple[str, ...]:
    """The side of the board on the table for each level edge: with the blade leaning away from the fence, the side that
    loses more there, since the upper one keeps its corner."""
    return tuple("face" if cut.normal[2] > 0 else "back" for cut in planes)


def _rolled_over(part: Part, planes: Sequence[PlaneCut]) -> str:
    """How the board comes from its first level edge to the second; turned end for end it would become a trapezium."""
    first = _ripped_first(part, planes)
    return (
        "the blade leaning away from the fence; for the second edge roll the board over about its length, the same "
        "end ahead" + (f"; the {first} first" if first else "")
    )


def _level_check(floor: Floor, edges: Sequence[str], beds: Sequence[str], wide: float) -> Check:
    """The width, and of leaning boards the corners that stay sharp: the same parallelogram leaning the other way is as
    wide."""
    if len(edges) == 1:
        return Check(
            measure="width on the face", expect=floor.length(wide), tolerance=floor.length(SLIGHTEST)
        )
    sharp = ", ".join(f"{OPPOSITE[bed]} (at the {edge})" for edge, bed in zip(edges, beds, strict=True))
    return Check(
        measure="width on the face and on the back, and which side of each edge has the sharp corner",
        expect=f"{floor.length(wide)} on both, sharp corners on the {sharp}",
        tolerance=floor.length(SLIGHTEST),
    )


def _level_width(part: Part, planes: Sequence[PlaneCut]) -> float:
    """Width on the face, and on the back, of a board between its level edges, mm."""
    first, last = planes[0].point, planes[-1].point
    if len(planes) == 1:
        return part.width - first[1] if planes[0].surface == "level edge" else first[1]
    return last[1] - first[1] + (last[2] - first[2]) * planes[-1].normal[2] / planes[-1].normal[1]


def _ripped_first(part: Part, planes: Sequence[PlaneCut]) -> str:
    """The edge that loses more than its lean, so as to lie level with other boards: ripped while the one beside the
    fence is still square and where it was."""
    return (
        "edge"
        if planes[0].point[1] > NOTHING
        else "far edge"
        if planes[-1].point[1] < part.width - NOTHING
        else ""
    )


def block(
    work: Collected, joint: str, way: str, fence_angle: float, bevels: Sequence[Operation]
) -> Operation | None:
    """The setting block for a fence angle that is no stop, cut in the saw setup of that very tilt; None where none is
    needed. One that was made for another joint serves this one, too, and is a mate of the bevels of both.

    It is held against the first of the bevels of that tilt, so it comes after that one, under its very blade.
    """
    floor = work.floor
    if abs(fence_angle - 90.0) < 0.005:
        return None
    if floor.is_stop("mortiser", "fence_angle", even(fence_angle)):
        return None
    tilt = even(90.0 - fence_angle)
    asked = floor.settings("saw", {"tilt": tilt}).get("tilt")
    same = [op for op in bevels if op.settings.get("tilt") == asked]
    made = work.blocks.get(tilt) or _new_block(work, joint, way, fence_angle, same[0])
    if not way:
        work.blocks[tilt] = made
    work.hold([*same, made], "saw", ("tilt",), "the block is cut at the very tilt of the bevel")
    return made


def _new_block(work: Collected, joint: str, way: str, fence_angle: float, bevel: Operation) -> Operation:
    """The sawing of a setting block with the saw as a bevel of its tilt leaves it."""
    floor, kept = work.floor, ("tilt", "height")
    of, _, surface = bevel.surface.rpartition("/")
    gauge = "" if surface.endswith("edge bevel") else ", against the gauge"
    return Operation(
        id=slug(joint, way, "block", f"{even(90.0 - fence_angle):.2f}"),
        station=floor.station("saw"),
        kind="block",
        quantity=1,
        minutes_each=floor.limits.minutes.block,
        settings={name: wanted for name, wanted in bevel.settings.items() if name in kept},
        registers_on=(bevel.surface,),
        makes=(f"/setting block of {format_angle(fence_angle)}",),
        joint=joint,
        notes=Notes(
            what=f"saw a setting block of {format_angle(fence_angle)} from straight scrap, with the saw as it stands",
            fence=f"straight side of the scrap{gauge}",
            table=f"scrap as thick as {of}, lying flat (the blade stands high enough for that)",
            check=Check(
                measure=f"block against the {surface} of the first piece of {of}",
                expect="no light between them",
                tolerance="",
            ),
            how_to_set={name: how for name, how in bevel.notes.how_to_set.items() if name in kept},
            cautions=(cautions.GUARDS, cautions.SHORT),
        ),
    )
