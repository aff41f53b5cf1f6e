"""A plunged slot as a solid, and how far it stays from grooves and from other slots.

The slot is a stadium prism: a rectangle with a half round at each end, pushed straight in. Lengths in mm.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cached_property
from itertools import product
from math import copysign, cos, dist, hypot, inf, pi, sin

import numpy as np

from sequencer.geometry import nearest
from sequencer.geometry.convex import CONTACT, Plane, Polygon, Vec
from sequencer.geometry.refusal import FigureError, number, require_between
from sequencer.operations import Slot, Trench


@dataclass(frozen=True, eq=False)
class SlotSolid:
    """The wood a slot removes: `mouth` is the middle of its opening, `axis` points into the wood, `along`
    along its long side (unit, square to each other); `length` over all, `width` the cutter's diameter,
    `depth` from the mouth.
    """

    mouth: Vec
    axis: Vec
    along: Vec
    length: float
    width: float
    depth: float

    def __post_init__(self) -> None:
        for what in ("length", "width", "depth"):
            require_between(f"slot {what}", getattr(self, what), 0, inf, "mm")
        if self.length < self.width - 1e-9:
            raise FigureError(
                f"slot length {number(self.length)} mm is less than the cutter's diameter",
                f"{number(self.width)} mm or more",
            )
        for name in ("mouth", "axis", "along"):
            object.__setattr__(self, name, np.asarray(getattr(self, name), dtype=float))
        for name in ("axis", "along"):
            if abs(np.linalg.norm(getattr(self, name)) - 1.0) > 1e-6:
                raise FigureError(f"slot {name} is not of unit length", "a unit vector")
        if abs(float(self.axis @ self.along)) > 1e-6:
            raise FigureError(
                "slot axis and long side are not square to each other", "directions at 90 degrees"
            )

    @classmethod
    def of(cls, slot: Slot) -> SlotSolid:
        """The solid of a slot among an operation's cuts, in its board's frame."""
        return cls(
            np.array(slot.mouth),
            np.array(slot.axis),
            np.array(slot.along),
            slot.length,
            slot.width,
            slot.depth,
        )

    @cached_property
    def across(self) -> Vec:
        """Unit direction across the slot, square to its cheeks."""
        return np.asarray(np.cross(self.axis, self.along))

    def farthest(self, direction: Vec) -> Vec:
        """The point of the slot farthest in a direction."""
        d = np.asarray(direction, dtype=float)
        point = self.mouth + self.depth * self.axis if float(d @ self.axis) > 0 else self.mouth
        run, side = float(d @ self.along), float(d @ self.across)
        point = point + copysign((self.length - self.width) / 2, run) * self.along
        size = hypot(run, side)
        if size > 0:
            point = point + self.width / 2 / size * (run * self.along + side * self.across)
        return np.asarray(point)

    def reach(self, normal: Vec) -> float:
        """How far the slot reaches along `normal` from the origin, mm."""
        return float(self.farthest(normal) @ np.asarray(normal, dtype=float))

    def outline(self, corners: int = 64) -> Polygon:
        """The mouth's outline as a polygon with its corners on the round, mm, anticlockwise seen against the
        axis.
        """
        straight, r = (self.length - self.width) / 2, self.width / 2
        half = max(2, corners // 2)
        points = []
        for end, start in ((straight, -pi / 2), (-straight, pi / 2)):
            for k in range(half + 1):
                angle = start + pi * k / half
                points.append((end + r * cos(angle), r * sin(angle)))
        flat = np.array(points)
        return np.asarray(self.mouth + flat[:, :1] * self.along - flat[:, 1:] * self.across)


def distance(one: SlotSolid, other: SlotSolid) -> float:
    """Least distance between two slots in the same board, mm, to 1e-6; 0 when they run into each other."""
    return nearest.distance(one.farthest, other.farthest)


def apart(one: Slot, other: Slot) -> float:
    """Least distance between two slots of the same board, mm; a lower bound where they are far apart."""
    far = dist(one.mouth, other.mouth) - one.length - other.length - one.depth - other.depth
    return far if far > 10.0 else distance(SlotSolid.of(one), SlotSolid.of(other))


def too_near(slot: SlotSolid, other: SlotSolid, least: float) -> tuple[float, float] | None:
    """From where to where, mm, a slot moved along its long side is nearer to another one than `least`, to PLACE; None
    where it never is. Both are convex, so going along the distance falls and then rises.
    """
    flat = [np.eye(3)[k] for k in range(3) if abs(slot.along[k]) < UNMOVED]
    if any(max(-slot.reach(-n) - other.reach(n), -other.reach(-n) - slot.reach(n)) >= least for n in flat):
        return None
    along = slot.along
    low = -other.reach(-along) - least - slot.reach(along)
    high = other.reach(along) + least + slot.reach(-along)

    def moved(by: float) -> nearest.Support:
        return lambda direction: slot.farthest(direction) + by * along

    def near(by: float) -> bool:
        return nearest.nearer(moved(by), other.farthest, least)

    inside = (low + high) / 2  # nearest there, but for slots that lie askew
    if not near(inside):
        inside = _least(lambda by: nearest.distance(moved(by), other.farthest), low, high)
    return (_edge(near, inside, low), _edge(near, inside, high)) if near(inside) else None


def _least(value: Callable[[float], float], low: float, high: float) -> float:
    """Where a value that falls and then rises is least, to PLACE."""
    while high - low > PLACE:
        one, two = low + (high - low) / 3, high - (high - low) / 3
        low, high = (low, two) if value(one) < value(two) else (one, high)
    return (low + high) / 2


def _edge(holds: Callable[[float], bool], inside: float, outside: float) -> float:
    """The last place between these, to PLACE, at which something holds inside."""
    while abs(outside - inside) > PLACE:
        middle = (inside + outside) / 2
        inside, outside = (middle, outside) if holds(middle) else (inside, middle)
    return inside


UNMOVED = 1e-7
"""Of a direction of length 1, along an axis: what moves in it stays where it is along that axis."""
PLACE = 0.01
"""mm: places along a slot are found to so much."""
CORNERS = 32
"""Of the polygon that stands for a slot's outline where planes cut it: for a 12 mm cutter it is 0.03 mm off."""


def distance_to_box(slot: SlotSolid, box: Trench, planes: Iterable[Plane] = ()) -> float:
    """Least distance, mm, between what the planes leave of a slot and of a groove, rebate or housing of the same board;
    0 when they run into each other, infinite where nothing is left of one. To 1e-6 where no plane cuts the slot.
    """
    corners = corners_of(box)
    mouth = slot.outline(CORNERS)
    outline = np.vstack([mouth, mouth + slot.depth * slot.axis])
    cutting = [
        plane
        for plane in planes
        if max(plane.height(corners).max(), slot.reach(plane.normal) - plane.offset) > CONTACT
    ]
    if not cutting:
        return nearest.distance(slot.farthest, _support(corners))
    left, around = _left(outline, cutting), _left(corners, cutting)
    return nearest.distance(_support(left), _support(around)) if len(left) and len(around) else inf


def corners_of(box: Trench) -> Vec:
    """The eight corners of a groove, rebate or housing, mm."""
    return np.array(list(product(*zip(box.low, box.high, strict=True))))


def _support(corners: Vec) -> nearest.Support:
    """The corner farthest in a direction."""
    return lambda direction: np.asarray(corners[int(np.argmax(corners @ direction))])


def _left(corners: Vec, planes: Iterable[Plane]) -> Vec:
    """Points whose hull is what the planes leave of the hull of these: where a line from one kept to one cut off meets
    the plane there is another.
    """
    for plane in planes:
        heights = plane.height(corners)
        kept, cut = heights <= CONTACT, heights > CONTACT
        if cut.any():
            share = heights[kept][:, None] / (heights[kept][:, None] - heights[cut][None, :])
            met = corners[kept][:, None] + share[..., None] * (corners[cut][None] - corners[kept][:, None])
            corners = np.vstack([corners[kept], met.reshape(-1, 3)])
    return corners
