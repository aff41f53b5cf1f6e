"""A virtual build: the operations' own cuts made on solid stock, step by step, and the parts put together.

The solids are manifold3d's. Where a part lies in the assembly follows from the trade's definition of each joint (which
surfaces meet, what is flush, how far from which end), never from the slots, so slots that do not meet are found out.
Lengths in mm, angles in degrees.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from math import cos, radians, sin, tan

import numpy as np
from manifold3d import CrossSection, Manifold

from sequencer.geometry.board import Board
from sequencer.geometry.slots import SlotSolid
from sequencer.model.job import Job
from sequencer.model.parts import (
    CaseMitre,
    EdgeToEdge,
    EndToEdge,
    EndToFace,
    FrameMitre,
    LegToApron,
    Part,
    Splayed,
    Stave,
)
from sequencer.operations import Operation, PlaneCut, Slot, Trench, Worklist
from tests.joinery.board_corners import area_of, volume_of

CLOSE = 0.01
"""mm: mates coincide and walls hold within this."""
ROUGH = 7.0
"""mm: how much larger than the part its stock is where the part is still to be cut to size."""


def slot_solid(slot: Slot | SlotSolid, grow: float = 0.0, corners: int = 64) -> Manifold:
    """The wood a slot removes; made larger all round (smaller for a negative figure) by `grow`."""
    s = SlotSolid.of(slot) if isinstance(slot, Slot) else slot
    circle = CrossSection.circle(s.width / 2 + grow, corners)
    half = (s.length - s.width) / 2
    stadium = CrossSection.batch_hull([circle.translate((half, 0)), circle.translate((-half, 0))])
    frame = np.column_stack([s.along, np.cross(s.axis, s.along), s.axis, s.mouth])
    return Manifold.extrude(stadium, s.depth).transform(frame)


def trench_solid(trench: Trench) -> Manifold:
    """The wood a trench removes."""
    low, high = np.array(trench.low), np.array(trench.high)
    return Manifold.cube(tuple(high - low)).translate(tuple(low))


def chosen(worklist: Worklist, turn: int) -> list[Operation]:
    """The operations made when every choice takes its option number `turn`."""
    dropped: set[str] = set()
    for choice in worklist.choices:
        options = list(choice.options.values())
        kept = set(options[turn % len(options)])
        dropped |= {op for option in options for op in option} - kept
    return [op for op in worklist.operations if op.id not in dropped]


def in_order(operations: Iterable[Operation]) -> list[Operation]:
    """An order in which every surface is made before it is registered on and destroyed only afterwards.

    Worked out from the operations' own surfaces. Raises AssertionError where there is none.
    """
    left = list(operations)
    order: list[Operation] = []
    while left:
        waiting = {op.id for op in left}

        def ready(op: Operation, left: list[Operation] = left, waiting: set[str] = waiting) -> bool:
            others = [o for o in left if o is not op]
            unmade = {s for o in others for s in o.makes}
            needed = {s for o in others for s in o.registers_on}
            return (
                not waiting & set(op.after) - {op.id}
                and not unmade & set(op.registers_on) - set(op.makes)
                and not needed & set(op.destroys)
            )

        following = next((op for op in left if ready(op)), None)
        assert following is not None, f"no order: {sorted(waiting)} all wait for one another"
        left.remove(following)
        order.append(following)
    return order


@dataclass
class Made:
    """One part as machined: `body` without slots and trenches, `wood` with them, `board` the same by the package."""

    part: Part
    body: Manifold
    wood: Manifold
    board: Board
    slots: list[tuple[Operation, Slot]] = field(default_factory=list)
    cut_after: dict[str, set[str]] = field(default_factory=dict)
    """Surfaces made in one joint, by the joint's id."""
    left: dict[tuple[str, str], float] = field(default_factory=dict)
    """Share of a surface (1 = whole as it was made) there when an operation registers on it, by both names."""


def surface_area(solid: Manifold, normal: np.ndarray, offset: float) -> float:
    """Area of the solid's surface that lies in a plane and faces along its normal, mm2."""
    mesh = solid.to_mesh()
    points, triangles = mesh.vert_properties[:, :3].astype(float), mesh.tri_verts
    on = np.abs(points @ normal - offset) < 2e-3
    corners = points[triangles[on[triangles].all(axis=1)]]
    if len(corners) == 0:
        return 0.0
    twice = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    return float(np.sum(np.maximum(twice @ normal, 0))) / 2


def bearing(made: Made, planes: Mapping[str, tuple[np.ndarray, float]], op: Operation, rim: float) -> None:
    """Check that mortiser, fence and rule bear on whole wood at every slot of an operation about to be made.

    Whole are, to a thousandth of their area: on the surface plunged into, strips of `rim` mm along both sides of the
    mouth, as long as the slot (a groove no wider than the mouth leaves the base both its lands); on the fence's
    surface (the one the row runs along), beside the slot and from the base down to the slot's depth, at most 10 mm.
    No slot, trench, bevel or mitre may have taken any of it. Of the surface the pencil line is squared from, slots
    and trenches have left at least half of a strip 2 mm wide along the base, from side to side.
    """
    part = made.part.id
    for slot in (c for c in op.cuts if isinstance(c, Slot) and c.part == part):
        solid = SlotSolid.of(slot)
        names = [n.partition("/")[2] for n in op.registers_on if n.startswith(f"{part}/")]
        on = {n: planes[n] for n in names}
        base = next(
            n for n, (normal, _) in on.items() if normal @ solid.axis < -0.99 and _lies(on[n], solid.mouth)
        )
        for side in (-1, 1):
            near, far = side * (solid.width / 2 + 0.01), side * (solid.width / 2 + rim)
            strip = [
                solid.mouth + solid.along * u + solid.across * v + solid.axis * w
                for u in (-solid.length / 2, solid.length / 2)
                for v in (near, far)
                for w in (1e-3, 0.02)
            ]
            _demand_whole(made, strip, f"{op.id}: {part}/{base} beside the mouth")
        down, others = on[base][0], [n for n in names if n != base]
        rows = [n for n in others if abs(float(on[n][0] @ solid.along)) < 0.01]
        off = {n: on[n][1] - float(on[n][0] @ solid.mouth) for n in others}
        for name in others:
            row = name in rows
            if off[name] > min(off[n] for n in others if (n in rows) == row) + 1e-6:
                continue  # the slot is beside another of its kind: a row at each end, each from its own
            normal = on[name][0]
            run = np.cross(normal, down)
            run = run / np.linalg.norm(run)
            inward = np.cross(run, normal)
            inward = inward if float(inward @ down) < 0 else -inward
            # Where the surface meets the base: square from the row for the fence, in the row's own line for the rule.
            towards = np.cross(down, run) if row else solid.along
            corner = solid.mouth + towards * off[name] / float(normal @ towards)
            guides = row and not op.notes.fence.startswith(
                "none"
            )  # along a batten a rule is all that is laid there
            half, deep = (solid.length / 2, min(10.0, solid.depth)) if guides else (1e3, 2.0)
            patch = [
                corner + run * u + inward * v - normal * w
                for u in (-half, half)
                for v in (0.05, deep)
                for w in (1e-3, 0.02)
            ]
            if guides:
                _demand_whole(made, patch, f"{op.id}: {part}/{name} beside the fence")
            else:
                strip = Manifold.hull_points(np.array(patch)) ^ made.body
                share = (strip ^ made.wood).volume() / strip.volume()
                assert share > 0.5, f"{op.id}: {share:.1%} of {part}/{name} is left where the rule bears"


def _lies(plane: tuple[np.ndarray, float], point: np.ndarray) -> bool:
    return abs(float(plane[0] @ point) - plane[1]) < 1e-4


def _demand_whole(made: Made, corners: list[np.ndarray], what: str) -> None:
    patch = Manifold.hull_points(np.array(corners))
    share = (patch ^ made.wood).volume() / patch.volume()
    assert share > 0.999, f"{what} is not whole: {share:.1%} of it is left"


def machine(part: Part, order: Iterable[Operation], rim: float = 2.0) -> Made:
    """Cut one part out of its stock in that order, checking every surface that is registered on as it is needed.

    Raises AssertionError where a surface is not there, where any wood stands proud of its plane, where slots and
    trenches leave less than half of it, where less than a quarter of what was made of it is left for the saw
    (`Made.left` tells how much), or where a plunge does not bear on whole wood (`bearing`, with the rim in mm).
    """
    mine = [op for op in order if part.id in op.parts or any(c.part == part.id for c in op.cuts)]
    sized = any(op.kind in ("rip", "crosscut") for op in mine)
    grow = ROUGH if sized else 0.0
    stock = Manifold.cube((part.length + 2 * grow, part.width + 2 * grow, part.thickness)).translate(
        (-grow, -grow, 0)
    )
    fresh = Board.fresh(part.length, part.width, part.thickness)
    planes = {p.name: (p.normal, p.offset) for p in fresh.planes}
    whole = {name: area_of(fresh, name) for name in planes}
    made = Made(part, stock, stock, fresh)
    if not any(f"{part.id}/edge" in op.makes and op.cuts for op in mine) and sized:
        # The mill leaves face, edge and back true, so the edge is there before the rip.
        made.body = made.body.trim_by_plane((0, 1, 0), 0.0)
        made.wood = made.body
    trenched: set[str] = set()  # surfaces of grooves, rebates and housings that are cut
    for op in mine:
        for name in op.registers_on:
            owner, _, surface = name.partition("/")
            if owner == part.id and surface not in trenched:
                assert surface in planes, f"{op.id} registers on {name}, which nothing has made"
                normal, offset = planes[surface]
                there = surface_area(made.wood, normal, offset)
                share = made.left[op.id, surface] = min(1.0, there / whole[surface])
                # A pencil line needs the surface only where the rule bears; the saw's fence and table need more of it.
                needed = 0.5 * area_of(made.board, surface)
                needed = needed if op.kind == "plunge" else max(needed, 0.25 * whole[surface])
                assert there > needed > 0, f"{op.id} registers on {name}: {share:.1%} of it is left"
                proud = float((made.wood.to_mesh().vert_properties[:, :3] @ normal).max()) - offset
                assert proud < 2e-3, f"{op.id} registers on {name}: wood stands {proud:.3f} mm proud of it"
        bearing(made, planes, op, rim)
        for cut in op.cuts:
            if cut.part != part.id:
                continue
            if isinstance(cut, PlaneCut):
                normal = np.array(cut.normal) / np.linalg.norm(cut.normal)
                planes[cut.surface] = (normal, float(normal @ np.array(cut.point)))
                made.body = made.body.trim_by_plane(tuple(-normal), -planes[cut.surface][1])
                made.wood = made.wood.trim_by_plane(tuple(-normal), -planes[cut.surface][1])
                made.board = made.board.after([cut])
                whole[cut.surface] = area_of(made.board, cut.surface)
                if op.joint:
                    made.cut_after.setdefault(op.joint, set()).add(cut.surface)
                assert surface_area(made.body, *planes[cut.surface]) > 1, (
                    f"{op.id} does not make {cut.surface}"
                )
            elif isinstance(cut, Slot):
                made.wood = made.wood - slot_solid(cut)
                made.slots.append((op, cut))
            else:
                before = made.wood.volume()
                made.wood = made.wood - trench_solid(cut)
                assert made.wood.volume() < before, f"{op.id} cuts nothing"
                trenched |= {name.partition("/")[2] for name in op.makes if name.startswith(f"{part.id}/")}
        for name in op.destroys:
            owner, _, surface = name.partition("/")
            if owner == part.id:
                assert surface_area(made.wood, *planes[surface]) < 1, f"{op.id} does not destroy {name}"
    assert abs(made.body.volume() / volume_of(made.board) - 1) < 1e-5
    return made


def walls(made: Made, op: Operation, slot: Slot) -> dict[str, float]:
    """Wood left between a slot and each surface of the finished part it does not open on, measured on solids, mm."""
    base = op_base(made, slot)
    opens = {base} | made.cut_after.get(slot.joint, set())
    inside = slot_solid(slot) ^ made.body
    points = inside.to_mesh().vert_properties[:, :3].astype(float)
    assert len(points), f"{op.id}: nothing of the slot is left in {made.part.id}"
    return {
        plane.name: plane.offset - float((points @ plane.normal).max())
        for plane in made.board.planes
        if plane.name not in opens or not _reaches(slot, plane)
    }


def _reaches(slot: Slot, plane: object) -> bool:
    return SlotSolid.of(slot).reach(plane.normal) > plane.offset - 1e-6  # type: ignore[attr-defined]


def op_base(made: Made, slot: Slot) -> str:
    """The surface a slot was plunged into: the one its mouth lies on."""
    planes = [*made.board.planes, *Board.fresh(made.part.length, made.part.width, made.part.thickness).planes]
    axis, mouth = np.array(slot.axis), np.array(slot.mouth)
    found = [p for p in planes if abs(float(p.height(mouth))) < 1e-4 and float(p.normal @ axis) < -0.99]
    assert found, f"the mouth of a slot of {slot.joint} lies on no surface of {made.part.id}"
    return found[0].name


@dataclass(frozen=True, eq=False)
class Place:
    """Where a part lies in the assembly: its axes' directions and its origin, in space."""

    part: str
    x: np.ndarray
    y: np.ndarray
    z: np.ndarray
    origin: np.ndarray

    @property
    def matrix(self) -> np.ndarray:
        """The 3 x 4 matrix that takes the board's frame to space."""
        return np.column_stack([self.x, self.y, self.z, self.origin])

    def point(self, p: Iterable[float]) -> np.ndarray:
        """A point of the board in space."""
        return self.matrix @ np.array([*p, 1.0])

    def turn(self, v: Iterable[float]) -> np.ndarray:
        """A direction of the board in space."""
        return self.matrix[:, :3] @ np.array(list(v))

    def slot(self, slot: Slot) -> SlotSolid:
        """A slot of the board in space."""
        return SlotSolid(
            self.point(slot.mouth),
            self.turn(slot.axis),
            self.turn(slot.along),
            slot.length,
            slot.width,
            slot.depth,
        )


X, Y, Z = np.eye(3)


def ring_places(
    joint: CaseMitre | Splayed | FrameMitre | Stave, job: Job, made: Mapping[str, Made]
) -> list[Place]:
    """The boards of a ring round their outside polygon, anticlockwise from above.

    Outside face out (up in a flat frame); the outside line along the reference edge is the polygon (for staves, along
    the left end). Where each board begins and ends on it follows from its own cuts.
    """
    if isinstance(joint, Splayed):
        count = joint.sides or len(joint.corners or joint.parts)
    elif isinstance(joint, Stave):
        count = joint.sides or sum(p.quantity for p in job.parts if p.id in joint.parts)
    elif isinstance(joint, CaseMitre) and not joint.closed:
        count = len(joint.parts)
    else:
        count = round(360 / (180 - joint.corner))
    names = list(joint.parts) * (count // len(joint.parts))
    corners = [180 - 360 / count] * count
    slopes = [90.0] * count
    lean_in = isinstance(joint, FrameMitre)
    if isinstance(joint, FrameMitre):
        slopes = [0.0] * count
    if isinstance(joint, CaseMitre) and not joint.closed:
        corners = [joint.corner] * count
    if isinstance(joint, Splayed):
        corners = list(joint.corners or corners)
        slopes = slopes_of(joint, count)
        lean_in = joint.lean == "in"
    places, at, heading = [], np.zeros(3), 0.0
    for name, corner, slope in zip(names, corners, slopes, strict=True):
        part, board = made[name].part, made[name].board
        h, s = radians(heading), radians(slope)
        along, out = np.array([cos(h), sin(h), 0]), np.array([sin(h), -cos(h), 0])
        if isinstance(joint, Stave):
            x, y, z = Z, -along, out
            start, end = np.array([0, part.width, part.thickness]), np.array([0, 0, part.thickness])
        else:
            up = (-out if lean_in else out) * cos(s) + Z * sin(s)
            x, y, z = along, up, np.cross(along, up)
            line = np.array([0.0, 0.0, part.thickness])
            start, end = (line + X * _meets(board, line, sign, part.length) for sign in (-1, 1))
        turn = np.column_stack([x, y, z])
        places.append(Place(name, x, y, z, at - turn @ start))
        at = at + turn @ (end - start)
        heading += 180 - corner
    if not (isinstance(joint, CaseMitre) and not joint.closed):
        assert np.linalg.norm(at) < 0.3, f"{joint.id}: the ring does not come back to its start by {at}"
    return places


def slopes_of(joint: Splayed, count: int) -> list[float]:
    """Slope of each of the `count` boards round a splayed ring."""
    given = joint.slope if isinstance(joint.slope, tuple) else (joint.slope,) * len(joint.parts)
    return list(given) * (count // len(given))


def slab_of(joint: Splayed, places: Sequence[Place], made: Mapping[str, Made]) -> tuple[float, float, float]:
    """Between which levels every board of a splayed ring is there through its thickness, and the ring's volume there.

    The volume is worked out from outline, slopes and thicknesses alone: each outside and inside face is a plane, the
    section at any level a polygon of lines, its area a quadratic in the level, so Simpson's rule gives the frustum's
    volume exactly (as V = h/3 (A0 + A1 + sqrt(A0 A1)) does where all slopes are equal).
    """
    lean = -1.0 if joint.lean == "in" else 1.0
    slopes = [radians(s) for s in slopes_of(joint, len(places))]
    parts = [made[p.part].part for p in places]
    # The outside's lower arris is at level 0; leaning out, the inside's is above it, leaning in, below.
    lifts = [lean * b.thickness * cos(s) for b, s in zip(parts, slopes, strict=True)]
    low = max(max(0.0, up) for up in lifts)
    high = min(b.width * sin(s) + min(0.0, up) for b, s, up in zip(parts, slopes, lifts, strict=True))
    outs = [np.array([p.x[1], -p.x[0]]) for p in places]
    starts = [
        float(out @ p.point((0, 0, b.thickness))[:2]) for out, p, b in zip(outs, places, parts, strict=True)
    ]

    def area(level: float, thick: bool) -> float:
        offsets = [
            d + lean * level / tan(s) - (b.thickness / sin(s) if thick else 0.0)
            for d, s, b in zip(starts, slopes, parts, strict=True)
        ]
        lines = list(zip(outs, offsets, strict=True))
        corners = [np.linalg.solve([a, b], [d, e]) for (a, d), (b, e) in pairwise([*lines, lines[0]])]
        return sum(float(p[0] * q[1] - p[1] * q[0]) for p, q in pairwise([*corners, corners[0]])) / 2

    levels = ((low, 1), ((low + high) / 2, 4), (high, 1))
    volume = sum(w * (area(z, False) - area(z, True)) for z, w in levels) * (high - low) / 6
    return low, high, volume


def _meets(board: Board, line: np.ndarray, sign: int, length: float) -> float:
    """Where the line along x through `line` leaves the board, towards one end."""
    found = [
        (p.offset - float(p.normal @ line)) / float(p.normal[0])
        for p in board.planes
        if p.normal[0] * sign > 1e-6
    ]
    return max(found) if sign < 0 else min(found)


def meetings(
    joint: EndToEdge | EndToFace | EdgeToEdge | LegToApron, made: Mapping[str, Made]
) -> Iterator[tuple[Place, Place]]:
    """Each way two parts meet, the first at rest: from what the joint's table says is flush and how far from where."""
    first = made[joint.parts[0]].part
    rest = Place(first.id, X, Y, Z, np.zeros(3))
    if isinstance(joint, EdgeToEdge):
        row = [made[p].part for p in joint.parts]
        if len(row) == 1:
            row = row * 2
        for one, two in pairwise(row):
            origin = np.array([0, one.width, one.thickness - two.thickness])
            yield Place(one.id, X, Y, Z, np.zeros(3)), Place(two.id, X, Y, Z, origin)
        return
    if isinstance(joint, LegToApron):
        leg = made[joint.leg].part
        for name in joint.parts:
            apron = made[name].part
            at = Place(name, X, Y, Z, np.zeros(3))
            front = apron.thickness + joint.setback
            right = np.array([apron.length + leg.width, -joint.drop, front - leg.thickness])
            yield at, Place(leg.id, Y, -X, Z, right)
            yield at, Place(leg.id, Y, -Z, -X, np.array([0, -joint.drop, front]))
        return
    second = made[joint.parts[1]].part
    flush = first.thickness - second.thickness
    for end in joint.ends:
        left = end == "left end"
        x = 0.0 if left else first.length
        if isinstance(joint, EndToEdge):
            room = second.length - first.width
            for edge in joint.edges:
                for a in joint.at if joint.at is not None else (0.0, room):
                    # Two rails of a frame have their reference edges inside, so that one kind of stile serves both
                    # sides: towards its left end a stile meets a rail's right end, else a left one.
                    leftward = left == (edge == "edge")
                    if len(joint.ends) == 2 and abs(a - room / 2) > 1e-6 and (a > room / 2) != leftward:
                        continue
                    side = -1.0 if leftward else 1.0
                    y, reach = side * X, 0.0 if edge == "edge" else second.width
                    x_axis = np.cross(y, Z)
                    start = -a if x_axis[1] > 0 else first.width + a
                    inward = -1.0 if left else 1.0
                    yield rest, Place(second.id, x_axis, y, Z, np.array([x + inward * reach, start, flush]))
        else:
            # Two sides that are one part can lie with their left ends both down where the shelf is as wide as they.
            alike = len(joint.ends) == 2 and first.width == second.width
            for face in joint.on:
                for a in joint.at:
                    out = X if left else -X  # out of the side, into the shelf
                    z = -out if face == "back" else out
                    y = np.cross(z, Z) if alike else Y
                    yield rest, side_at(first, second, np.array([x, 0.0, 0.0]), y, z, a)


def side_at(shelf: Part, side: Part, end: np.ndarray, y: np.ndarray, z: np.ndarray, at: float) -> Place:
    """A side that a shelf at rest meets with its end at `end`: the side's own axes y and z told, edges flush, and from
    its left end to the near side of the shelf, back or face, the distance `at`."""
    x = np.cross(y, z)
    near = at if x[2] > 0 else at + shelf.thickness
    origin = end - x * near
    if z @ (np.array([shelf.length / 2, 0, 0]) - end) > 0:  # the face is met
        origin = origin - z * side.thickness
    if y[1] < 0:
        origin = origin - y * side.width
    return Place(side.id, x, y, z, origin)


def shelf_on(joint: EndToFace, end: str, at: float, side: Place, made: Mapping[str, Made]) -> Place:
    """A shelf on a side in its place: the end named against the side's face, the reference edges flush, and the near
    side of the shelf, back or face, so far from the side's left end. Lies with its face towards its own z = x by y."""
    shelf, board = made[joint.parts[0]].part, made[joint.parts[1]].part
    back = joint.on[0] == "back"
    out = -side.z if back else side.z
    x, y = (out if end == "left end" else -out), side.y
    z = np.cross(x, y)
    near = at if float(z @ side.x) > 0 else at + shelf.thickness
    origin = side.point((near, 0.0, 0.0 if back else board.thickness))
    return Place(shelf.id, x, y, z, origin if end == "left end" else origin - x * shelf.length)


def opposite(side: Place, part: Part, apart: float) -> Place:
    """The side that faces one whose back is inside, so far away: mirror images, face outside, reference edges and ends
    level. A board cannot be its mirror image, so its left end is where the other's right end is."""
    origin = side.point((part.length, 0.0, 0.0)) - side.z * apart
    return Place(part.id, -side.x, side.y, -side.z, origin)


@dataclass(frozen=True, eq=False)
class Mate:
    """Two slots that hold one slip, in space."""

    one: SlotSolid
    other: SlotSolid

    @property
    def slip(self) -> SlotSolid:
        """The largest slip the two slots hold, end to end, a hair smaller all round."""
        bottom = self.one.mouth + self.one.axis * self.one.depth
        room = float((bottom - self.other.mouth - self.other.axis * self.other.depth) @ self.one.axis)
        width, length = self.one.width - 2 * CLOSE, min(self.one.length, self.other.length) - 2 * CLOSE
        start = bottom - self.one.axis * (room - CLOSE)
        return SlotSolid(start, self.one.axis, self.one.along, length, width, room - 2 * CLOSE)


def mates(one: Place, other: Place, joint: str, made: Mapping[str, Made]) -> list[Mate]:
    """The slots of a joint that coincide where two parts meet, in space."""
    return [Mate(one.slot(a), other.slot(b)) for (_, a), (_, b) in mates_of(one, other, joint, made)]


def mates_of(
    one: Place, other: Place, joint: str, made: Mapping[str, Made]
) -> list[tuple[tuple[Operation, Slot], tuple[Operation, Slot]]]:
    """The slots that coincide, with their operations: on one line, facing, cheeks in one plane."""
    found = []
    for op, a in made[one.part].slots:
        for op_b, b in made[other.part].slots:
            if a.joint != joint or b.joint != joint:
                continue
            s, t = one.slot(a), other.slot(b)
            gap = t.mouth - s.mouth
            off = gap - (gap @ s.axis) * s.axis
            if (
                float(np.linalg.norm(s.axis + t.axis)) * max(s.depth, t.depth) < CLOSE
                and min(float(np.linalg.norm(s.along + k * t.along)) for k in (-1, 1)) * s.length < CLOSE
                and float(np.linalg.norm(off)) < CLOSE
                and abs(s.width - t.width) < 1e-9
                and 0 < s.depth + t.depth - float(gap @ s.axis) < s.depth + t.depth + CLOSE
            ):
                found.append(((op, a), (op_b, b)))
    return found


def expected(one: Place, other: Place, joint: str, made: Mapping[str, Made]) -> int:
    """How many slips must hold two parts: the slots of the first whose plunge points out of it into the other."""
    count = 0
    for place, across in ((one, other), (other, one)):
        here = 0
        for _, slot in made[place.part].slots:
            if slot.joint == joint:
                s = place.slot(slot)
                back = SlotSolid(s.mouth, -s.axis, s.along, s.length, s.width, 4.0)
                inside = slot_solid(back, -0.5) ^ made[across.part].body.transform(across.matrix)
                here += inside.volume() > 0.8 * slot_solid(back, -0.5).volume()
        count = max(count, here)
    return count


def contact(one: Place, other: Place, made: Mapping[str, Made]) -> float:
    """Area on which two parts touch, mm2: faces of both in one plane, looking at each other (package's polygons)."""
    total = 0.0
    for p in made[one.part].board.planes:
        for q in made[other.part].board.planes:
            n, m = one.turn(p.normal), other.turn(q.normal)
            if float(n @ m) > -1 + 1e-7:
                continue
            here = [one.point(v) for v in made[one.part].board.polygons[p.name]]
            there = [other.point(v) for v in made[other.part].board.polygons[q.name]]
            if abs(float((there[0] - here[0]) @ n)) > CLOSE:
                continue
            u = np.cross(n, X if abs(n[0]) < 0.9 else Y)
            u = u / np.linalg.norm(u)
            v = np.cross(n, u)
            flat = [
                CrossSection([[(float(w @ u), float(w @ v)) for w in ring]]) for ring in (here, there[::-1])
            ]
            total += (flat[0] ^ flat[1]).area()
    return total
