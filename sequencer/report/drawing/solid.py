"""A board as a convex body with cavities, and which parts of its edges are seen from a given side.

The body is convex: a box with planes cut off. Mortises and grooves are convex cutters taken out of it. All lengths are
mm in the board's own frame (see `sequencer.operations`).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from sequencer.geometry.convex import Plane, clip, hull_in
from sequencer.operations import Slot, Trench
from sequencer.report.drawing.nearness import NEVER, POINT, WOOD
from sequencer.report.drawing.vectors import Array, sides, unit_vector

_SKIN = 1e-3  # wood thinner than this hides nothing
_CLEAR = 1.0  # how far a cutter reaches out of the surface it enters
_FACETS = 12  # flats that stand for the rounded end of a mortise


@dataclass(frozen=True)
class Face:
    """A flat face: its corners, counter-clockwise seen from outside, and its outward unit normal."""

    name: str
    points: Array
    normal: Array
    smooth: bool = False
    """Part of a rounded surface: no edge is drawn where it meets another smooth face."""


@dataclass(frozen=True)
class Ridge:
    """An edge of a body between two faces."""

    start: Array
    end: Array
    first: Face
    second: Face


@dataclass(frozen=True)
class Convex:
    """A convex body given by its faces."""

    faces: tuple[Face, ...]

    @cached_property
    def planes(self) -> tuple[Array, Array]:
        """Normals (n, 3) and offsets (n,): the body is where normal . x <= offset."""
        normals = np.array([face.normal for face in self.faces])
        return normals, np.array([face.normal @ face.points[0] for face in self.faces])

    @cached_property
    def corners(self) -> Array:
        return np.vstack([face.points for face in self.faces])

    @property
    def low(self) -> Array:
        return np.asarray(self.corners.min(axis=0))

    @property
    def high(self) -> Array:
        return np.asarray(self.corners.max(axis=0))

    def face(self, name: str) -> Face | None:
        return next((face for face in self.faces if face.name == name), None)

    def moved(self, by: Array) -> Convex:
        return Convex(tuple(Face(f.name, f.points + by, f.normal, f.smooth) for f in self.faces))

    def clipped(self, plane: Plane) -> Convex:
        """What is left on the inner side of a plane, whose name the new face gets. May be empty (no faces)."""
        if not self.faces or plane.height(self.corners).max() <= -POINT:
            return self
        faces: list[Face] = []
        rims: list[Array] = []
        for face in self.faces:
            heights = plane.height(face.points)
            if np.all(np.abs(heights) < POINT):
                if face.normal @ plane.normal > 0:  # the plane lies on this face: it is only renewed
                    renewed = Face(plane.name, face.points, face.normal)
                    return Convex(tuple(renewed if other is face else other for other in self.faces))
                continue
            kept = clip(face.points, plane)
            if len(kept):
                rims.append(kept[np.abs(plane.height(kept)) < POINT])
            if len(kept) >= 3:
                faces.append(Face(face.name, kept, face.normal, face.smooth))
        rim = np.vstack(rims) if rims else np.zeros((0, 3))
        cap = hull_in(plane.normal, rim) if len(rim) >= 3 else np.zeros((0, 3))
        if len(cap) >= 3:
            faces.append(Face(plane.name, cap, plane.normal))
        return Convex(tuple(faces) if len(faces) >= 4 else ())

    @cached_property
    def ridges(self) -> tuple[Ridge, ...]:
        """Every edge once, with its two faces."""
        found: list[Ridge] = []
        rims = [(face, a, b) for face in self.faces for a, b in sides(face.points)]
        middles = np.array([(a + b) / 2 for _, a, b in rims])
        for number, (face, a, b) in enumerate(rims):
            gaps = np.abs(middles[number + 1 :] - middles[number]).max(axis=1)
            twins = np.flatnonzero(gaps < 10 * POINT)
            if len(twins):
                found.append(Ridge(a, b, face, rims[number + 1 + int(twins[0])][0]))
        return tuple(found)

    def chord(self, points: Array, direction: Array, grow: float) -> tuple[Array, Array]:
        """Where the rays from `points` (n, 3) run inside the body grown by `grow` mm: from and to, mm along the ray."""
        normals, offsets = self.planes
        room = (offsets + grow) - points @ normals.T
        speed = normals @ direction
        with np.errstate(divide="ignore", invalid="ignore"):
            times = room / speed
        enter = np.where(speed < -NEVER, times, -np.inf).max(axis=1)
        leave = np.where(speed > NEVER, times, np.inf).min(axis=1)
        outside = ((np.abs(speed) <= NEVER) & (room < 0)).any(axis=1)
        return np.where(outside, np.inf, enter), np.where(outside, -np.inf, leave)

    def holds(self, points: Array, grow: float) -> NDArray[np.bool_]:
        """Which of the points (n, 3) lie in the body grown by `grow` mm."""
        normals, offsets = self.planes
        return np.asarray((points @ normals.T <= offsets + grow).all(axis=1))


def _facing(rim: Array, normal: Array) -> Array:
    """The corners of a convex polygon turned to run counter-clockwise seen against `normal`."""
    spokes = rim - rim[0]
    area = np.cross(spokes[1:-1], spokes[2:]).sum(axis=0)
    return rim if area @ normal > 0 else rim[::-1].copy()


_SIDES: tuple[tuple[str, int, int], ...] = (
    ("left end", 0, -1),
    ("right end", 0, 1),
    ("edge", 1, -1),
    ("far edge", 1, 1),
    ("back", 2, -1),
    ("face", 2, 1),
)


def outward(surface: str) -> Array | None:
    """The outward normal of a surface of a fresh board by its name, None for another name."""
    for name, axis, sign in _SIDES:
        if name == surface:
            normal = np.zeros(3)
            normal[axis] = sign
            return normal
    return None


def box(low: Iterable[float], high: Iterable[float]) -> Convex:
    """A box with sides along the axes, its faces named as those of a board."""
    ends = np.array([tuple(low), tuple(high)], dtype=float)
    faces: list[Face] = []
    for name, axis, sign in _SIDES:
        normal = np.zeros(3)
        normal[axis] = sign
        others = [a for a in range(3) if a != axis]
        rim: list[Array] = []
        for i, j in ((0, 0), (1, 0), (1, 1), (0, 1)):
            corner = np.zeros(3)
            corner[axis] = ends[(sign + 1) // 2, axis]
            corner[others[0]], corner[others[1]] = ends[i, others[0]], ends[j, others[1]]
            rim.append(corner)
        faces.append(Face(name, _facing(np.array(rim), normal), normal))
    return Convex(tuple(faces))


@lru_cache(maxsize=1024)
def slot_cutter(slot: Slot) -> Convex:
    """The wood a mortise takes out, reaching a little out of its mouth."""
    mouth, axis, along = (np.array(v, dtype=float) for v in (slot.mouth, slot.axis, slot.along))
    across = np.cross(axis, along)
    radius, straight = slot.width / 2, max(slot.length - slot.width, 0.0) / 2
    turns = np.linspace(-np.pi / 2, np.pi / 2, _FACETS + 1)
    half = np.stack([straight + radius * np.cos(turns), radius * np.sin(turns)], axis=1)
    flat = np.vstack([half, -half])
    rim = mouth + flat[:, :1] * along + flat[:, 1:] * across
    top, bottom = rim - axis * _CLEAR, rim + axis * slot.depth
    faces = [Face("mouth", _facing(top, -axis), -axis), Face("bottom", _facing(bottom, axis), axis)]
    for number, following in enumerate(np.roll(np.arange(len(rim)), -1)):
        side = np.array([top[number], top[following], bottom[following], bottom[number]])
        if np.abs(rim[number] - rim[following]).max() < POINT:
            continue
        middle = (rim[number] + rim[following]) / 2 - mouth
        normal = np.cross(rim[following] - rim[number], axis)
        normal = unit_vector(normal) * (1.0 if normal @ middle > 0 else -1.0)
        name = "end" if abs(middle @ along) > straight + POINT else "cheek"
        faces.append(Face(name, _facing(side, normal), normal, smooth=True))
    return Convex(tuple(faces))


def trench_cutter(trench: Trench, body: Convex) -> Convex:
    """The wood a groove takes out, reaching a little out of the surfaces it is open to."""
    low, high = np.array(trench.low, dtype=float), np.array(trench.high, dtype=float)
    low = np.where(low <= body.low + WOOD, np.minimum(low, body.low) - _CLEAR, low)
    high = np.where(high >= body.high - WOOD, np.maximum(high, body.high) + _CLEAR, high)
    return box(low, high)


@dataclass(frozen=True)
class Solid:
    """A convex body with cutters taken out; the cutters named in `fresh` are those the step makes."""

    body: Convex
    cutters: tuple[Convex, ...] = ()
    fresh: tuple[bool, ...] = ()


@dataclass(frozen=True)
class Segment:
    """A straight piece of an edge, and whether it is seen; `cutter` is the cutter it belongs to, -1 for the body."""

    start: Array
    end: Array
    seen: bool
    cutter: int = -1
    faces: tuple[str, str] = ("", "")


def segments(solids: Sequence[Solid], view: Array) -> tuple[Segment, ...]:
    """All edges of the solids as pieces that are seen or hidden when looked at against `view` (unit, to the viewer)."""
    found: list[Segment] = []
    for solid in solids:
        edges = [(ridge, -1) for ridge in solid.body.ridges]
        for number, cutter in enumerate(solid.cutters):
            edges += [(ridge, number) for ridge in _cavity_ridges(cutter, solid.body, view)]
        found += _pieces(edges, solid, solids, view)
    return tuple(found)


def cavity(cutter: Convex, body: Convex) -> Convex:
    """The wood a cutter takes out of a body; where it opens on a surface its face is named "body/" and the surface."""
    inside = cutter
    for face in body.faces:
        inside = inside.clipped(Plane.through(f"body/{face.name}", face.points[0], face.normal))
        if not inside.faces:
            break
    return inside


def _cavity_ridges(cutter: Convex, body: Convex, view: Array) -> list[Ridge]:
    """The edges a cutter leaves in the body: its mouth, its inner edges and the outline of its rounded ends."""
    ridges: list[Ridge] = []
    for ridge in cavity(cutter, body).ridges:
        of_body = [face.name.startswith("body/") for face in (ridge.first, ridge.second)]
        if all(of_body):
            continue
        if ridge.first.smooth and ridge.second.smooth:
            first, second = (float(face.normal @ view) for face in (ridge.first, ridge.second))
            if first * second > 0:
                continue
        ridges.append(ridge)
    return ridges


def _pieces(
    edges: Sequence[tuple[Ridge, int]], solid: Solid, solids: Sequence[Solid], view: Array
) -> list[Segment]:
    """The edges of one solid in pieces: sampled along their length, the places of change found by halving."""
    starts = np.array([ridge.start for ridge, _ in edges])
    spans = np.array([ridge.end - ridge.start for ridge, _ in edges])
    owners = np.array([cutter for _, cutter in edges])
    size = float(np.linalg.norm(solid.body.high - solid.body.low))
    counts = np.maximum(3, (64 * np.linalg.norm(spans, axis=1) / size).astype(int))
    which = np.repeat(np.arange(len(edges)), counts)
    at = np.concatenate([(np.arange(n) + 0.5) / n for n in counts])

    def state(edge: NDArray[np.int_], along: Array) -> NDArray[np.int_]:
        """For places along edges: 0 cut away, 1 hidden, 2 seen."""
        points = starts[edge] + along[:, None] * spans[edge]
        gone = np.zeros(len(along), dtype=bool)
        for number, cutter in enumerate(solid.cutters):
            gone |= cutter.holds(points, -_SKIN) & (owners[edge] != number)
        return np.where(gone, 0, np.where(occluded(points, solids, view), 1, 2))

    states = state(which, at)
    turns = np.flatnonzero((which[1:] == which[:-1]) & (states[1:] != states[:-1]))
    low, high = at[turns].copy(), at[turns + 1].copy()
    for _ in range(14 if len(turns) else 0):
        middle = (low + high) / 2
        same = state(which[turns], middle) == states[turns]
        low, high = np.where(same, middle, low), np.where(same, high, middle)
    change = dict(zip(turns.tolist(), ((low + high) / 2).tolist(), strict=True))
    found: list[Segment] = []
    first = 0
    for number, (ridge, cutter) in enumerate(edges):
        last, begin = first + int(counts[number]) - 1, 0.0
        for sample in range(first, last + 1):
            if sample < last and sample not in change:
                continue
            end = change.get(sample, 1.0)
            if states[sample]:
                ends = (ridge.start + begin * spans[number], ridge.start + end * spans[number])
                names = (ridge.first.name, ridge.second.name)
                found.append(Segment(*ends, bool(states[sample] == 2), cutter, names))
            begin = end
        first = last + 1
    return found


def occluded(points: Array, solids: Sequence[Solid], view: Array) -> NDArray[np.bool_]:
    """Which of the points (n, 3) have wood between them and the viewer."""
    hidden = np.zeros(len(points), dtype=bool)
    for solid in solids:
        enter, leave = solid.body.chord(points, view, -_SKIN)
        start = np.maximum(enter, _SKIN)
        gaps = [cutter.chord(points, view, _SKIN) for cutter in solid.cutters]
        hidden |= _wood(start, leave, gaps) > 4 * _SKIN
    return hidden


def _wood(start: Array, end: Array, gaps: Sequence[tuple[Array, Array]]) -> Array:
    """Length of [start, end] not covered by any of the gaps, elementwise."""
    length = np.maximum(end - start, 0.0)
    reach = start.copy()
    if not gaps:
        return np.asarray(length)
    enters = np.array([g[0] for g in gaps])
    leaves = np.array([g[1] for g in gaps])
    order = np.argsort(enters, axis=0)
    enters, leaves = np.take_along_axis(enters, order, axis=0), np.take_along_axis(leaves, order, axis=0)
    for enter, leave in zip(enters, leaves, strict=True):
        low, high = np.maximum(enter, reach), np.minimum(leave, end)
        length = length - np.maximum(high - low, 0.0)
        reach = np.maximum(reach, high)
    return np.asarray(length)
