"""The distance between two convex bodies known only by their support points.

The method of Gilbert, Johnson and Keerthi ("A fast procedure for computing the distance between complex
objects in three-dimensional space", IEEE J. Robotics and Automation 4, 1988; cited from memory): the point of
the difference body nearest to the origin is approached by the nearest point of a simplex of support points,
and the next support point proves how far from the truth that still is.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

Vec = NDArray[np.float64]
Support = Callable[[Vec], Vec]
"""The point of a body farthest in a direction."""
TINY = 1e-8
"""mm: no distance at all."""


def _nearest_of_simplex(points: list[Vec]) -> tuple[Vec, list[Vec]]:
    """The point of the simplex nearest to the origin, and the corners that carry it."""
    best: tuple[float, Vec, list[Vec]] | None = None
    for size in range(1, len(points) + 1):
        for chosen in combinations(points, size):
            base = chosen[0]
            if size == 1:
                weights = np.ones(1)
            else:
                sides = np.array([p - base for p in chosen[1:]])
                rest, *_ = np.linalg.lstsq(sides @ sides.T, -sides @ base, rcond=None)
                weights = np.concatenate([[1.0 - rest.sum()], rest])
                if (weights < -1e-12).any():
                    continue
            point = np.sum([w * p for w, p in zip(weights, chosen, strict=True)], axis=0)
            size2 = float(point @ point)
            if best is None or size2 < best[0] - 1e-18:
                best = (size2, point, list(chosen))
    assert best is not None
    return best[1], best[2]


def distance(one: Support, other: Support, tolerance: float = TINY) -> float:
    """Least distance between two convex bodies, mm, to within `tolerance`; 0 when they touch or overlap.

    >>> ball = lambda centre: lambda d: np.array(centre) + d / np.linalg.norm(d)
    >>> round(distance(ball([0.0, 0, 0]), ball([5.0, 0, 0])), 7)
    3.0
    """

    size = 0.0
    for proven, size in _narrowed(one, other):
        if size - proven <= tolerance:
            break
    return size if size > tolerance else 0.0


def nearer(one: Support, other: Support, than: float) -> bool:
    """Whether two convex bodies are nearer to each other than so many mm: told sooner than how near they are."""
    for proven, size in _narrowed(one, other):
        if size < than:
            return True
        if proven >= than:
            return False
    return False


def _narrowed(one: Support, other: Support) -> Iterator[tuple[float, float]]:
    """Lengths that the distance lies between, closer and closer to it."""

    def support(direction: Vec) -> Vec:
        return one(direction) - other(-direction)

    simplex = [support(np.array([1.0, 0.0, 0.0]))]
    nearest = simplex[0]
    proven = 0.0
    for _ in range(500):
        size = float(np.linalg.norm(nearest))
        if size <= TINY:
            yield 0.0, 0.0
            return
        ahead = support(-nearest)
        proven = max(proven, float(nearest @ ahead) / size)
        yield proven, size
        if any(np.array_equal(ahead, p) for p in simplex):
            return
        nearest, simplex = _nearest_of_simplex([*simplex, ahead])
