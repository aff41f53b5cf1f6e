"""Rings of boards: case mitres, splayed corners, flat frame mitres and staves, with their cuts and their seats.

All four are one geometry: slope 90 is a case, slope 0 a flat frame, anything between is splayed; staves turn the
same corner along their edges. Parts follow one another anticlockwise seen from above, faces outward, reference edge
down (outward in a flat frame): so the right end of each meets the left end of the next; for staves the edge of each
meets the far edge of the next. Lengths in mm, angles in degrees.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import cos, hypot, radians, sin, tan

from sequencer.geometry.angles import CompoundAngle, frame_mitre, mitre, unequal
from sequencer.geometry.refusal import FigureError
from sequencer.joinery.basis.floor import Floor, even
from sequencer.joinery.basis.refusal import Refusal
from sequencer.joinery.basis.seats import Body, Pair, Seat, add, cross, dot, unit
from sequencer.model.parts import CaseMitre, FrameMitre, Part, Splayed, Stave, enclose_nothing
from sequencer.operations import PlaneCut, Point
from sequencer.quantity import counted, format_angle

RingJoint = CaseMitre | Splayed | FrameMitre | Stave
OUT: Point = (0.0, 0.0, 1.0)
NOTHING = 0.05
"""mm: boards as high as one another within this are equally high."""


@dataclass(frozen=True)
class EndCut:
    """How one end (or edge, for staves) of a part is sawn: `at` the surface it replaces, `makes` the new one."""

    part: str
    at: str
    makes: str
    angle: CompoundAngle

    @property
    def full_edge(self) -> str:
        """The edge along which the board keeps its full length, where the gauge stands to either side of square."""
        if not self.angle.gauge:
            return ""
        return "far edge" if self.angle.gauge > 0 else "edge"


@dataclass(frozen=True)
class Corner:
    """One corner: places in the ring, inside angle in plan, and the two cuts that make it."""

    here: int
    next: int
    inside: float
    first: EndCut
    second: EndCut


@dataclass(frozen=True)
class Ring:
    """Parts in their order with the corners between them."""

    joint: RingJoint
    places: tuple[str, ...]
    slopes: tuple[float, ...]
    corners: tuple[Corner, ...]
    levels: tuple[float, float] | None = None
    """Where its edges are ripped level: how high both levels are above the outside's lower arris."""

    @property
    def cuts(self) -> tuple[EndCut, ...]:
        """Every cut once, in the order of the parts."""
        found = [cut for corner in self.corners for cut in (corner.second, corner.first)]
        return tuple(dict.fromkeys(sorted(found, key=lambda c: self.joint.parts.index(c.part))))


def ring_of(joint: RingJoint, parts: Mapping[str, Part], floor: Floor) -> Ring:
    """The ring a joint describes. Raises Refusal for what encloses nothing or does not close."""
    try:
        places, inside, slopes = _places(joint, parts)
        _alike(joint, [parts[p] for p in places], slopes, floor)
        closed = not isinstance(joint, CaseMitre) or joint.closed
        corners = []
        n = len(places)
        for i in range(n if closed else n - 1):
            j = (i + 1) % n
            one, other = _angles(joint, inside[i], slopes[i], slopes[j])
            corners.append(
                Corner(
                    i, j, inside[i], _cut(joint, places[i], one, False), _cut(joint, places[j], other, True)
                )
            )
    except FigureError as error:
        raise Refusal(
            error.message, error.accepted, "slope" if isinstance(joint, Splayed) else "corner"
        ) from None
    ring = Ring(joint, places, slopes, tuple(corners), _levels(joint, [parts[p] for p in places], slopes))
    _one_way_each(ring)
    if closed:
        _closes(ring, parts, floor)
    return ring


def closing(joint: CaseMitre | FrameMitre) -> float:
    """The inside angle nearest to the one asked for whose corners close a ring, degrees."""
    return 180.0 - 360.0 / max(3, round(360.0 / (180.0 - joint.corner)))


def inside_of(joint: CaseMitre | FrameMitre) -> float:
    """The inside angle of each corner, degrees: as asked for, but of a closed ring the exact one where what was asked
    for is that within 0.01, or rounded to a tenth as tables tell it (128.6 for seven sides; 90.1 is nothing rounded).
    """
    if not 0.0 < joint.corner < 180.0 or (isinstance(joint, CaseMitre) and not joint.closed):
        return joint.corner
    exact = closing(joint)
    told = abs(joint.corner - exact) < 0.01 + 1e-9 or abs(joint.corner - round(exact, 1)) < 1e-9
    return exact if told else joint.corner


def _places(
    joint: RingJoint, parts: Mapping[str, Part]
) -> tuple[tuple[str, ...], tuple[float, ...], tuple[float, ...]]:
    """The parts round the ring, the inside angle after each, and the slope of each."""
    listed = joint.parts
    if isinstance(joint, CaseMitre) and not joint.closed:
        if len(listed) < 2:
            raise Refusal(
                f"{listed[0]} alone makes no corner", "two parts or more, each with its own id", "parts"
            )
        return listed, (joint.corner,) * len(listed), (90.0,) * len(listed)
    n = _sides(joint, parts)
    times = n // len(listed)
    if isinstance(joint, Splayed):
        return listed * times, _corners(joint, n), _slopes(joint) * times
    upright = isinstance(joint, (CaseMitre, Stave))
    return listed * times, _regular(n), (90.0 if upright else 0.0,) * n


def _sides(joint: RingJoint, parts: Mapping[str, Part]) -> int:
    """How many sides a closed ring has: so many that its list of parts goes round it whole times."""
    listed = joint.parts
    if isinstance(joint, (CaseMitre, FrameMitre)):
        n = _sides_by_corner(joint)
    elif isinstance(joint, Stave):
        n = joint.sides or sum(parts[p].quantity for p in listed)
    else:
        n = joint.sides or len(listed if joint.corners is None else joint.corners)
    if n < 3:
        raise Refusal(enclose_nothing(n), "3 sides or more", "sides")
    if n % len(listed):
        raise Refusal(
            f"{counted(len(listed), 'part')} cannot be repeated round {n} sides",
            f"a list of parts that {n} is a multiple of",
            "parts",
        )
    return n


def _sides_by_corner(joint: CaseMitre | FrameMitre) -> int:
    if not 0 < joint.corner < 180:
        raise Refusal(
            f"a corner of {format_angle(joint.corner)} is none",
            "an inside angle above 0 and below 180",
            "corner",
        )
    n = round(360.0 / (180.0 - joint.corner))
    if inside_of(joint) != closing(joint):
        raise Refusal(
            f"corners of {format_angle(joint.corner, decimals=True)} do not close a ring",
            f"{format_angle(180 - 360 / max(3, n))} ({max(3, n)} sides), or closed = false",
            "corner",
        )
    return n


def _regular(n: int) -> tuple[float, ...]:
    return (180.0 - 360.0 / n,) * n


def _corners(joint: Splayed, n: int) -> tuple[float, ...]:
    """The inside angles of so many sides."""
    if joint.corners is None:
        return _regular(n)
    inside = joint.corners
    if len(inside) != n:
        raise Refusal(
            f"{counted(len(inside), 'corner')} for {n} sides", "one inside angle after each side", "corners"
        )
    if abs(sum(inside) - (n - 2) * 180.0) > 0.01:
        raise Refusal(
            f"the corner angles add up to {format_angle(sum(inside))}",
            f"{format_angle((n - 2) * 180.0)} for {n} sides",
            "corners",
        )
    return inside


def _slopes(joint: Splayed) -> tuple[float, ...]:
    """The slope of each part listed."""
    listed = joint.parts
    given = joint.slope if isinstance(joint.slope, tuple) else (joint.slope,) * len(listed)
    if len(given) != len(listed):
        raise Refusal(
            f"{counted(len(given), 'slope')} for {counted(len(listed), 'part')}",
            "one slope for each part",
            "slope",
        )
    for slope in given:
        if not 0 < slope <= 90:
            raise Refusal(
                f"a slope of {format_angle(slope)} from horizontal stands on nothing",
                "more than 0 and at most 90 degrees from horizontal",
                "slope",
            )
    return given


def _alike(joint: RingJoint, boards: list[Part], slopes: tuple[float, ...], floor: Floor) -> None:
    """The boards of one ring must be equally thick, and rise equally high."""
    first = boards[0]
    for board, slope in zip(boards, slopes, strict=True):
        if abs(board.thickness - first.thickness) > 1e-6:
            raise Refusal(
                f"{board.id} is {floor.fine(board.thickness)} thick and {first.id} {floor.fine(first.thickness)}",
                "one thickness round the corner",
                "parts",
            )
        if isinstance(joint, Stave):
            continue
        rise, wanted = board.width, first.width
        if isinstance(joint, Splayed):
            rise, wanted = rise * sin(radians(slope)), wanted * sin(radians(slopes[0]))
        if abs(rise - wanted) > NOTHING:
            raise Refusal(
                f"{board.id} is not as high as {first.id} ({floor.fine(rise)} against {floor.fine(wanted)})",
                f"a width of {floor.fine(board.width * wanted / rise)} for {board.id}",
                "parts",
            )


def _angles(
    joint: RingJoint, inside: float, slope: float, other: float
) -> tuple[CompoundAngle, CompoundAngle]:
    """Saw angles of the two boards of a corner; gauge positive where a board is longer on its far edge."""
    if isinstance(joint, FrameMitre):
        flat = frame_mitre(inside)
        return (CompoundAngle(-flat.gauge, 0.0),) * 2
    if abs(slope - other) < 1e-9:
        same = mitre(inside, slope)
        both = (same, same)
    else:
        both = unequal(inside, slope, other)
    if isinstance(joint, Splayed) and joint.lean == "in":
        both = (
            CompoundAngle(-both[0].gauge + 0.0, both[0].tilt),
            CompoundAngle(-both[1].gauge + 0.0, both[1].tilt),
        )
    one, two = (CompoundAngle(even(a.gauge), even(a.tilt)) for a in both)
    return one, two


def _cut(joint: RingJoint, part: str, angle: CompoundAngle, left: bool) -> EndCut:
    if isinstance(joint, Stave):
        at = "far edge" if left else "edge"
        return EndCut(part, at, f"{at} bevel", angle)
    side = "left" if left else "right"
    return EndCut(part, f"{side} end", f"{side} {'bevel' if angle.tilt else 'mitre'}", angle)


def _one_way_each(ring: Ring) -> None:
    """A part that stands in several places must be cut the same in all of them, or in none."""
    before = {corner.next: corner.second for corner in ring.corners}
    after = {corner.here: corner.first for corner in ring.corners}
    for cuts in (before, after):
        seen: dict[str, EndCut | None] = {}
        for place, part in enumerate(ring.places):
            cut = cuts.get(place)
            other = seen.setdefault(part, cut)
            if other == cut:
                continue
            if cut is not None and other is not None:
                says = f"{part} would need unlike cuts at its {cut.at} in different places of the ring"
            else:
                end = next(known.at for known in (cut, other) if known is not None)
                says = f"{part} would need its {end} cut in one place and left square in another"
            raise Refusal(says, "a part of its own for each place", "parts")


def _short(part: Part, angle: CompoundAngle, y: float) -> float:
    """How much shorter a part is at the height y of its face than at its long point, at one end."""
    slant = tan(radians(angle.gauge))
    return (part.width - y) * slant if slant >= 0 else -y * slant


def lower_run(ring: Ring, place: int, parts: Mapping[str, Part]) -> float:
    """How long a side of a closed ring is along its reference edge, outside; of a stave how wide it is there."""
    part, before, after = parts[ring.places[place]], ring.corners[place - 1], ring.corners[place]
    size = part.width if isinstance(ring.joint, Stave) else part.length
    return size - _short(part, before.second.angle, 0.0) - _short(part, after.first.angle, 0.0)


def _closes(ring: Ring, parts: Mapping[str, Part], floor: Floor) -> None:
    """Follow the outside along the reference edge (for staves along their left ends); Refusal where it does not come
    back to its start."""
    x = y = heading = 0.0
    staves = isinstance(ring.joint, Stave)
    size = {name: part.width if staves else part.length for name, part in parts.items()}
    ways: list[tuple[float, float]] = []
    for corner in ring.corners:
        part = parts[ring.places[corner.here]]
        run = lower_run(ring, corner.here, parts)
        if run <= 0:
            raise Refusal(
                f"{part.id} is too short for its two mitres",
                f"more than {floor.length(part.length - run)}",
                "parts",
            )
        ways.append((cos(radians(heading)), sin(radians(heading))))
        x, y = x + run * ways[-1][0], y + run * ways[-1][1]
        heading += 180.0 - corner.inside
    if hypot(x, y) <= 0.25:
        return
    open_ = f"the ring does not close: {floor.fine(hypot(x, y))} are left open"
    works = f"{'widths' if staves else 'lengths'} that lead back to the start"
    names = list(ring.places)
    free = [i for i in range(len(names)) if names.count(names[i]) == 1]
    for i in reversed(free):
        for j in reversed(free):
            (a, b), (c, d) = ways[j], ways[i]
            area = a * d - b * c
            if j < i and abs(area) > 0.2:
                one, two = (-x * d + y * c) / area, (-y * a + x * b) / area
                works = (
                    f"{names[j]} {floor.fine(size[names[j]] + one)} and {names[i]} {floor.fine(size[names[i]] + two)} "
                    f"{'wide' if staves else 'long'}, the others as they are"
                )
                raise Refusal(open_, works, "parts")
    raise Refusal(open_, works, "parts")


def plane_of(cut: EndCut, part: Part) -> tuple[Point, Point]:
    """A point of the cut's plane and its normal into the waste, in the board's frame."""
    m, t = radians(cut.angle.gauge), radians(cut.angle.tilt)
    if cut.at in ("edge", "far edge"):
        sign = -1.0 if cut.at == "edge" else 1.0
        return (0.0, 0.0 if cut.at == "edge" else part.width, part.thickness), (0.0, sign * cos(t), -sin(t))
    sign = -1.0 if cut.at == "left end" else 1.0
    point = (
        0.0 if cut.at == "left end" else part.length,
        part.width if cut.angle.gauge >= 0 else 0.0,
        part.thickness,
    )
    return point, (sign * cos(t) * cos(m), -cos(t) * sin(m), -sin(t))


def plane_cut(cut: EndCut, part: Part) -> PlaneCut:
    """The cut as geometry."""
    point, normal = plane_of(cut, part)
    return PlaneCut(part=part.id, surface=cut.makes, point=point, normal=normal)


def level_cuts(ring: Ring, part: Part) -> tuple[PlaneCut, ...]:
    """The two parallel planes that make a board's edges level with those of the whole ring, if the joint asks for it.

    Up, in the board's frame, is sin s along the width and cos s through the thickness, inward when the board leans
    out. Of an upright board among leaning ones only what stands beyond the levels is taken off.
    """
    if ring.levels is None:
        return ()
    slope = ring.slopes[ring.places.index(part.id)]
    s, c = sin(radians(slope)), rise_outward(ring.joint, slope)
    own = _own_levels(part, s, c)
    low, high = ((level - corner) / s for level, corner in zip(ring.levels, own, strict=True))
    # through the corner of its edge that leaves the most wood where no other board asks for more
    below, above = (0.0, part.thickness) if c < 0 else (part.thickness, 0.0)
    both = (
        PlaneCut(part=part.id, surface="level edge", point=(0.0, low, below), normal=(0.0, -s, -c)),
        PlaneCut(
            part=part.id, surface="level far edge", point=(0.0, part.width + high, above), normal=(0.0, s, c)
        ),
    )
    return both if c else tuple(cut for cut, off in zip(both, (low, -high), strict=True) if off > NOTHING)


def _levels(joint: RingJoint, boards: Sequence[Part], slopes: Sequence[float]) -> tuple[float, float] | None:
    """The levels all edges of a ring are ripped to: as low and as high as every board allows."""
    if not isinstance(joint, Splayed) or not joint.level_edges or all(slope == 90.0 for slope in slopes):
        return None
    own = [
        _own_levels(board, sin(radians(slope)), rise_outward(joint, slope))
        for board, slope in zip(boards, slopes, strict=True)
    ]
    return max(low for low, _ in own), min(high for _, high in own)


def levelled(ring: Ring, parts: Mapping[str, Part]) -> Ring:
    """The same ring of these boards, as wide as its own: its levels are theirs."""
    boards = [parts[place] for place in ring.places]
    return replace(ring, levels=_levels(ring.joint, boards, ring.slopes))


def rise_outward(joint: RingJoint, slope: float) -> float:
    """How much higher a step of 1 through the thickness, from the inside out, ends: below 0 when a board leans out."""
    if slope == 90.0:
        return 0.0
    return cos(radians(slope)) * (1.0 if isinstance(joint, Splayed) and joint.lean == "in" else -1.0)


def _own_levels(board: Part, s: float, c: float) -> tuple[float, float]:
    """Between which levels, above the outside's lower arris, a board is there through its thickness."""
    lift = -board.thickness * c
    return max(0.0, lift), board.width * s + min(0.0, lift)


def bevel_seat(cut: EndCut, body: Body) -> Seat:
    """The seat on the sawn end or edge, the outside face on the fence."""
    point, normal = plane_of(cut, body.part)
    along = unit(cross(normal, OUT))
    lengthwise = cut.at in ("edge", "far edge")
    if along[0 if lengthwise else 1] < 0:
        along = (-along[0], -along[1], -along[2])
    away = add(OUT, normal, -dot(OUT, normal))
    across = unit((-away[0], -away[1], -away[2]))
    # s = 0 on the reference edge (for staves on the left end)
    back = point[0] / along[0] if lengthwise else point[1] / along[1]
    return Seat(
        body=body,
        base=cut.makes,
        fence="face",
        origin=add(point, along, -back),
        along=along,
        across=across,
        axis=(-normal[0], -normal[1], -normal[2]),
        start="left end" if lengthwise else "edge",
    )


def bevel_pair(ring: Ring, corner: Corner, bodies: Mapping[str, Body]) -> Pair:
    """The seats of a corner on its sawn surfaces."""
    one, two = corner.first, corner.second
    if len(ring.joint.parts) == 2 and one.part == ring.joint.parts[1]:
        one, two = two, one
    most = bodies[one.part].part.thickness / cos(radians(one.angle.tilt))
    return Pair(bevel_seat(one, bodies[one.part]), bevel_seat(two, bodies[two.part]), most / 2, 0.0, most)


def square_pair(ring: Ring, corner: Corner, bodies: Mapping[str, Body]) -> Pair:
    """The seats of a corner while its ends are square: face board first, end board second."""
    face, end = corner.second, corner.first
    if len(ring.joint.parts) == 2 and face.part == ring.joint.parts[1]:
        face, end = end, face
    thick = bodies[face.part].part.thickness
    return Pair(_face_seat(face, bodies[face.part]), _end_seat(end, bodies[end.part]), thick / 2, 0.0, thick)


def ring_pairs(ring: Ring, bodies: Mapping[str, Body], way: str) -> tuple[Pair, ...]:
    """The pairs of seats of a way, one for each kind of corner."""
    pair = square_pair if way == "square-first" else bevel_pair
    return tuple(dict.fromkeys(pair(ring, corner, bodies) for corner in ring.corners))


def _face_seat(cut: EndCut, body: Body) -> Seat:
    left = cut.at == "left end"
    return Seat(
        body=body,
        base="back",
        fence=cut.at,
        origin=(0.0 if left else body.part.length, 0.0, 0.0),
        along=(0.0, 1.0, 0.0),
        across=(1.0 if left else -1.0, 0.0, 0.0),
        axis=OUT,
        start="edge",
        waste=(body.part.thickness, -1.0),
        opens=(cut.makes,),
    )


def _end_seat(cut: EndCut, body: Body) -> Seat:
    left = cut.at == "left end"
    return Seat(
        body=body,
        base=cut.at,
        fence="face",
        origin=(0.0 if left else body.part.length, 0.0, body.part.thickness),
        along=(0.0, 1.0, 0.0),
        across=(0.0, 0.0, -1.0),
        axis=(1.0 if left else -1.0, 0.0, 0.0),
        start="edge",
        waste=(0.0, 1.0),
        opens=(cut.makes,),
    )
