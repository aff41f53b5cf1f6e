"""Convex bodies as the wood behind a set of named planes: faces, areas, volume. Plain arrays, mm."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sequencer.geometry.refusal import FigureError

Vec = NDArray[np.float64]
Polygon = NDArray[np.float64]
"""Corners of a flat convex polygon in order, one row of x, y, z each, mm; no rows: nothing left."""

CONTACT = 1e-7
"""mm: a point nearer to a plane than this lies on it."""
SLIVER = 1e-6
"""mm2: a surface smaller than this is gone."""


@dataclass(frozen=True, eq=False)
class Plane:
    """A named surface's plane: the wood is where normal . x <= offset; `normal` is unit and points out of the
    wood.
    """

    name: str
    normal: Vec
    offset: float

    @classmethod
    def through(cls, name: str, point: Sequence[float] | Vec, normal: Sequence[float] | Vec) -> Plane:
        """The plane through `point` (mm) with `normal` out of the wood, made unit. Raises FigureError for no
        direction.
        """
        n = np.asarray(normal, dtype=float)
        size = float(np.linalg.norm(n))
        if not (np.isfinite(size) and size > 1e-12):
            raise FigureError(f"the plane of {name} has no direction", "a normal of some length")
        n = n / size
        return cls(name, n, float(n @ np.asarray(point, dtype=float)))

    def height(self, points: Vec) -> Vec:
        """How far points lie outside the plane, mm (negative inside)."""
        return np.asarray(points @ self.normal - self.offset)

    def is_same(self, other: Plane) -> bool:
        """Whether both planes coincide and face the same way."""
        return bool(
            float(self.normal @ other.normal) > 1 - 1e-12 and abs(self.offset - other.offset) < CONTACT
        )


def clip(polygon: Polygon, plane: Plane) -> Polygon:
    """The part of a convex polygon inside a plane (Sutherland and Hodgman's rule for one plane)."""
    if len(polygon) == 0:
        return polygon
    heights = plane.height(polygon)
    if (heights <= CONTACT).all():
        return polygon
    if (heights >= -CONTACT).all():
        return polygon[:0]
    kept = []
    for i in range(len(polygon)):
        j = (i + 1) % len(polygon)
        a, b = float(heights[i]), float(heights[j])
        if a <= CONTACT:
            kept.append(polygon[i])
        if (a < -CONTACT and b > CONTACT) or (a > CONTACT and b < -CONTACT):
            kept.append(polygon[i] + a / (a - b) * (polygon[j] - polygon[i]))
    return np.array(kept)


def area(polygon: Polygon) -> float:
    """Area of a flat polygon, mm2."""
    if len(polygon) < 3:
        return 0.0
    spokes = polygon - polygon[0]
    return float(np.linalg.norm(np.cross(spokes[1:-1], spokes[2:]).sum(axis=0))) / 2


def frame_of(normal: Vec) -> tuple[Vec, Vec]:
    """Two unit directions in the plane of `normal`, right-handed with it."""
    start = np.eye(3)[int(np.argmin(np.abs(normal)))]
    u = np.cross(start, normal)
    u = u / np.linalg.norm(u)
    return u, np.asarray(np.cross(normal, u))


def face(plane: Plane, others: Sequence[Plane], size: float) -> Polygon:
    """What of a plane bounds the body behind all planes: corners anticlockwise seen from outside.

    `size`, mm, is any length greater than the body and its distance from the origin.
    """
    u, v = frame_of(plane.normal)
    middle = plane.normal * plane.offset
    polygon = np.array(
        [middle - size * (u + v), middle + size * (u - v), middle + size * (u + v), middle - size * (u - v)]
    )
    for other in others:
        if other is not plane:
            polygon = clip(polygon, other)
            if len(polygon) == 0:
                break
    return _tidy(polygon)


def _tidy(polygon: Polygon) -> Polygon:
    """The polygon without corners that fall together; empty when no area is left."""
    if len(polygon) < 3:
        return polygon[:0].reshape(0, 3)
    kept = [p for i, p in enumerate(polygon) if np.linalg.norm(p - polygon[i - 1]) > 10 * CONTACT]
    tidy = np.array(kept) if kept else polygon[:0]
    return tidy if len(tidy) >= 3 and area(tidy) > SLIVER else polygon[:0].reshape(0, 3)


def hull_in(normal: Vec, points: Vec) -> Polygon:
    """Convex hull of points in one plane, anticlockwise seen against `normal` (Andrew's monotone chain)."""
    u, v = frame_of(normal)
    flat = np.column_stack([points @ u, points @ v])
    order = np.lexsort((flat[:, 1], flat[:, 0]))

    def chain(indices: Sequence[int]) -> list[int]:
        out: list[int] = []
        for i in indices:
            while len(out) >= 2:
                a, b = flat[out[-1]] - flat[out[-2]], flat[i] - flat[out[-2]]
                if a[0] * b[1] - a[1] * b[0] > 1e-12:
                    break
                out.pop()
            out.append(i)
        return out[:-1]

    ring = chain(list(order)) + chain(list(order[::-1]))
    return _tidy(points[ring])
