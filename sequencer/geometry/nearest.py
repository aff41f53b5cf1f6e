"""The distance between two convex bodies known only by their support points.

The method of Gilbert, Johnson and Keerthi ("A fast procedure for computing the distance between complex
objects in three-dimensional space", IEEE J. Robotics and Automation 4, 1988; cited from memory): the point of
the difference body nearest to the origin is approached by the nearest point of a simplex of support points,
and the next support point proves how far from the truth that still is.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

Vec = NDArray[np.float64]
Support = Callable[[Vec], Vec]
"""The point of a body farthest in a direction."""
TINY = 1e-8
"""mm: no distance at all."""
SINGULAR = 1e-15
"""Of the largest number of an equation: what is left of its own after elimination that tells nothing."""


def _nearest_of_simplex(points: list[Vec]) -> tuple[Vec, list[Vec]]:
    """The point of the simplex nearest to the origin, and the corners that carry it."""
    corners = [tuple(map(float, point)) for point in points]  # so few numbers are quicker by themselves
    best: tuple[float, tuple[float, ...], tuple[int, ...]] | None = None
    for size in range(1, len(points) + 1):
        for chosen in combinations(range(len(points)), size):
            base = corners[chosen[0]]
            sides = [tuple(p - q for p, q in zip(corners[k], base, strict=True)) for k in chosen[1:]]
            rest = _solved(
                [[_dot(one, two) for two in sides] for one in sides], [-_dot(one, base) for one in sides]
            )
            if rest is None or 1.0 - sum(rest) < -1e-12 or any(weight < -1e-12 for weight in rest):
                continue
            point = tuple(
                q + sum(weight * side[k] for weight, side in zip(rest, sides, strict=True))
                for k, q in enumerate(base)
            )
            size2 = _dot(point, point)
            if best is None or size2 < best[0] - 1e-18:
                best = (size2, point, chosen)
    assert best is not None
    return np.array(best[1]), [points[k] for k in best[2]]


def _dot(one: Sequence[float], two: Sequence[float]) -> float:
    return one[0] * two[0] + one[1] * two[1] + one[2] * two[2]


def _solved(rows: list[list[float]], right: list[float]) -> list[float] | None:
    """The solution of up to three equations, symmetric and positive, by elimination; None where they are as good as
    dependent: a face of the simplex is as near then.
    """
    rows, found = [[*row, last] for row, last in zip(rows, right, strict=True)], [0.0] * len(rows)
    for k, row in enumerate(rows):
        if row[k] <= SINGULAR * max(1e-300, *(abs(each) for each in row[:-1])):
            return None
        for later in rows[k + 1 :]:
            share = later[k] / row[k]
            later[k:] = [x - share * y for x, y in zip(later[k:], row[k:], strict=True)]
    for k in reversed(range(len(rows))):
        known = sum(rows[k][j] * found[j] for j in range(k + 1, len(rows)))
        found[k] = (rows[k][-1] - known) / rows[k][k]
    return found


def distance(one: Support, other: Support) -> float:
    """Least distance between two convex bodies, mm, to within TINY; 0 when they touch or overlap.

    >>> ball = lambda centre: lambda d: np.array(centre) + d / np.linalg.norm(d)
    >>> round(distance(ball([0.0, 0, 0]), ball([5.0, 0, 0])), 7)
    3.0
    """

    size = 0.0
    for proven, size in _narrowed(one, other):
        if size - proven <= TINY:
            break
    return size if size > TINY else 0.0


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
