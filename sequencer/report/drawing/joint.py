"""The two halves of a joint brought together as they will be glued, by the plan's meetings.

Each half is a mortise in its finished board: its axis leaves the wood at the effective mouth, and there the mouths of
both meet, axes opposed, long sides along one line. In the plane square to the slips' width that line is a point, the
origin: x runs across the slip, y along it out of the first board. All lengths mm.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from sequencer.operations import Meeting, Mortises, Operation, PlaneCut, Slip, Slot
from sequencer.planfile import PartRecord, Plan
from sequencer.report.drawing.history import PartState, finished
from sequencer.report.drawing.nearness import DUST, NEVER, POINT, SHOWN, WOOD
from sequencer.report.drawing.outline import Flat, alike, common, kept
from sequencer.report.drawing.solid import Convex, outward
from sequencer.report.drawing.vectors import Array, sides

_BESIDE = 0.8  # of a board's thickness is shown beyond its mortise
_EQUAL = 1e-5  # mm: walls that differ by less are equally thin (they are reckoned to a millionth)
_SQUARE = (
    0.999  # cosine, 2.6 degrees: slots are plunged square to their surface, and no other stands so near to it
)


@dataclass(frozen=True)
class LeastWall:
    """The least wood between a mortise and a surface it does not open on: from `corner` of the mortise square to the
    surface at `foot`."""

    size: float
    corner: Flat
    foot: Flat


@dataclass(frozen=True)
class Half:
    """A mortise in its finished board, and both in the plane of the section."""

    part: PartRecord
    surface: str
    """The surface plunged into."""
    slot: Slot
    depth: float
    """From where the mortise's axis leaves the finished wood."""
    board: Flat
    """The board's outline."""
    shown: Flat
    """The outline near the joint: what is drawn."""
    hollow: Flat
    """The mortise."""
    others: tuple[Flat, ...]
    """Other mortises and grooves the section meets."""
    walls: tuple[LeastWall, ...]
    """The least wall, more than one where several sides of the board are equally near."""
    angled: bool
    """Whether the board has a surface that is not square."""


@dataclass(frozen=True)
class Place:
    """A surface of a part that is plunged into."""

    part: str
    surface: str


@dataclass(frozen=True)
class Halves:
    """Two halves of a joint, the first plunged by the operation in question. `meets` are all the places that meet as
    these two do: the one plunged, its mate; `slots` are the mortises there, one of each."""

    joint: str
    slip: Slip
    first: Half
    second: Half
    meets: tuple[tuple[Place, Place], ...]
    slots: tuple[tuple[Slot, Slot], ...]

    @property
    def glue_room(self) -> float:
        """mm left at each end of the slip."""
        return (self.first.depth + self.second.depth - self.slip.length) / 2

    def looks_like(self, other: Halves) -> bool:
        """Whether its section is the other's, or the mirror image of it."""
        if self.slip != other.slip:
            return False
        mine, its = self._loops(), other._loops()
        return len(mine) == len(its) and any(
            all(alike(a, b, mirrored) for a, b in zip(mine, its, strict=True)) for mirrored in (False, True)
        )

    def _loops(self) -> list[Flat]:
        return [
            loop for half in (self.first, self.second) for loop in (half.shown, half.hollow, *half.others)
        ]


def halves_at(plan: Plan, operations: Sequence[Operation]) -> tuple[Halves, ...]:
    """The pairs of mortises that the operations plunge, one for all meetings that look alike.

    A meeting whose parts or mortises the plan does not carry in full gives none.
    """
    names = [operation.id for operation in operations]
    found: list[Halves] = []
    states: dict[str, PartState] = {}
    for meeting in plan.meetings:
        here = [half.operation in names for half in (meeting.first, meeting.second)]
        if not any(here):
            continue
        pair = _pair(plan, meeting, swapped=not here[0], states=states)
        if pair is None:
            continue
        same = next((n for n, other in enumerate(found) if pair.looks_like(other)), None)
        if same is None:
            found.append(pair)
        else:
            meets = tuple(dict.fromkeys((*found[same].meets, *pair.meets)))
            slots = (*found[same].slots, *pair.slots)
            found[same] = replace(found[same], meets=meets, slots=slots)
    return tuple(found)


def _pair(plan: Plan, meeting: Meeting, swapped: bool, states: dict[str, PartState]) -> Halves | None:
    one, other = (meeting.second, meeting.first) if swapped else (meeting.first, meeting.second)
    middle = len(one.cuts) // 2
    first = _half(plan, one, middle, states, False, False)
    second = _half(plan, other, middle, states, True, meeting.turned)
    if first is None or second is None:
        return None
    meet = (Place(first.part.id, first.surface), Place(second.part.id, second.surface))
    return Halves(meeting.joint, meeting.slip, first, second, (meet,), ((first.slot, second.slot),))


def _half(
    plan: Plan, mortises: Mortises, number: int, states: dict[str, PartState], mate: bool, turned: bool
) -> Half | None:
    """The mortise in the finished board; None if the plan does not carry them or nothing is left."""
    made = (*plan.operations, *plan.done)
    operation = next((op for op in made if op.id == mortises.operation), None)
    slot = operation.cuts[mortises.cuts[number]] if operation else None
    part = next((part for part in plan.parts if isinstance(slot, Slot) and part.id == slot.part), None)
    if not isinstance(slot, Slot) or part is None or min(part.length, part.width, part.thickness) <= 0:
        return None
    if part.id not in states:
        states[part.id] = finished(plan, part)
    state = states[part.id]
    if not state.after.faces:
        return None
    mouth, axis, along = (np.array(v, dtype=float) for v in (slot.mouth, slot.axis, slot.along))
    bottom = mouth + axis * slot.depth
    _, leave = state.after.chord(bottom[None, :], -axis, 0.0)
    depth = min(float(leave[0]), slot.depth)
    if not 0.0 < depth < float("inf"):
        return None
    along = -along if turned else along
    across = np.cross(axis, along) * (-1.0 if mate else 1.0)
    frame = np.stack([across, axis if mate else -axis], axis=1)
    origin = bottom - axis * depth

    def flat(body: Convex) -> Flat:
        return np.asarray((slice_of(body, origin, along) - origin) @ frame)

    board = flat(state.after)
    hollows = [common(flat(cutter), board) for cutter in state.cutters]
    own = min(range(len(hollows)), key=lambda n: _off(hollows[n], depth, mate), default=None)
    if own is None or not len(hollows[own]):
        return None
    others = tuple(loop for n, loop in enumerate(hollows) if n != own and len(loop))
    shown = _near(board, hollows[own], part)
    beyond = np.array([0.0, -1.0 if mate else 1.0]) * (slot.depth - depth)
    return Half(
        part=part,
        surface=_surface(state, slot),
        slot=slot,
        depth=depth,
        board=board,
        shown=shown,
        hollow=hollows[own],
        others=tuple(loop for loop in (common(loop, shown) for loop in others) if len(loop)),
        walls=_least_walls(board, hollows[own], (np.zeros(2), beyond)),
        angled=any(float(np.abs(face.normal).max()) < 1 - DUST for face in state.after.faces),
    )


def slice_of(body: Convex, point: Array, normal: Array) -> Array:
    """The convex polygon where a plane cuts a body, in order; no rows where it does not."""
    found: list[Array] = []
    for ridge in body.ridges:
        a, b = float((ridge.start - point) @ normal), float((ridge.end - point) @ normal)
        if a * b < 0 or (abs(a) < DUST) != (abs(b) < DUST):
            found.append(ridge.start + (ridge.end - ridge.start) * a / (a - b))
    if len(found) < 3:
        return np.zeros((0, 3))
    cloud = np.array(found)
    middle = cloud.mean(axis=0)
    u = cloud[0] - middle
    v = np.cross(normal, u)
    order = np.argsort(np.arctan2((cloud - middle) @ v, (cloud - middle) @ u))
    return np.asarray(cloud[order])


def _off(loop: Flat, depth: float, mate: bool) -> float:
    """How far an outline is from being the mortise at the origin."""
    if not len(loop):
        return math.inf
    deepest = float(loop[:, 1].max() if mate else -loop[:, 1].min())
    middle = float(loop[:, 0].min() + loop[:, 0].max()) / 2
    return abs(deepest - depth) + abs(middle)


def _near(board: Flat, hollow: Flat, part: PartRecord) -> Flat:
    """The board's outline near its mortise, cut off square to its longest side."""
    spans = [(b - a, float(np.linalg.norm(b - a))) for a, b in sides(board)]
    run, size = max(spans, key=lambda span: span[1])
    run = run / size
    beside = _BESIDE * part.thickness
    places = [float(place) for place in hollow @ run]
    loop = kept(board, run, max(places) + beside)
    return kept(loop, -run, beside - min(places)) if len(loop) else loop


def _least_walls(board: Flat, hollow: Flat, mouths: Sequence[Flat]) -> tuple[LeastWall, ...]:
    """The least wood from a corner of the mortise, the deepest first, square to a side of the board that it does not
    open on. `mouths` are where the mortise's axis leaves the finished and the fresh wood.

    The joint's report reckons to the plane of a surface even where the surface ends before (at an inner arris); here
    the foot lies on the surface.
    """
    found: list[LeastWall] = []
    corners = sorted(hollow, key=lambda corner: -abs(round(float(corner[1]), 6)))
    for a, b in sides(board):
        span = b - a
        size = float(np.linalg.norm(span))
        normal = np.array([span[1], -span[0]]) / max(size, NEVER)
        if size < POINT or any(abs(float((mouth - a) @ normal)) < SHOWN for mouth in mouths):
            continue
        feet = [
            (round(abs(float((corner - a) @ normal)), 6), n, a + span * share)
            for n, corner in enumerate(corners)
            if -POINT <= (share := float((corner - a) @ span) / size**2) <= 1 + POINT
        ]
        if feet:
            gap, n, foot = min(feet, key=lambda each: each[:2])
            found.append(LeastWall(gap, corners[n], foot))
    least = min((wall.size for wall in found), default=0.0)
    return tuple(wall for wall in found if wall.size < least + _EQUAL)


def _surface(state: PartState, slot: Slot) -> str:
    """The surface the mortise was plunged into: a fresh one of the board, or one a cut has made."""
    mouth, axis = np.array(slot.mouth), np.array(slot.axis)
    size = np.array([state.part.length, state.part.width, state.part.thickness])
    planes = [
        (cut.surface, np.array(cut.normal), np.array(cut.point))
        for cut in state.old
        if isinstance(cut, PlaneCut)
    ]
    for name in ("left end", "right end", "edge", "far edge", "back", "face"):
        normal = outward(name)
        if normal is not None:
            planes.append((name, normal, np.maximum(normal, 0.0) * size))
    for name, normal, point in planes:
        if float(axis @ normal) < -_SQUARE and abs(float((mouth - point) @ normal)) < WOOD:
            return name
    return ""
