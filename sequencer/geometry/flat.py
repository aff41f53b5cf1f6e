"""Convex figures in a plane: what half-planes leave of one, and how far two are apart. Plain numbers, mm.

For sections that are looked at many thousand times, where arrays of a few corners cost more than they save.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import hypot, inf

Dot = tuple[float, float]
Figure = Sequence[Dot]
"""Corners of a convex figure in order; none: nothing left."""
HalfPlane = tuple[float, float, float]
"""a, b and c: where a * u + b * v <= c."""


def around(dots: Iterable[Dot]) -> list[Dot]:
    """The convex figure around some points, anticlockwise.

    >>> around([(0, 0), (2, 0), (1, 1), (2, 2), (0, 2)])
    [(0, 0), (2, 0), (2, 2), (0, 2)]
    """
    ordered = sorted(set(dots))
    return ordered if len(ordered) < 3 else [*_half(ordered), *_half(ordered[::-1])]


def _half(ordered: Iterable[Dot]) -> list[Dot]:
    """One side of the figure around points in order, without its last corner."""
    found: list[Dot] = []
    for u, v in ordered:
        while len(found) > 1:
            (a, b), (c, d) = found[-2:]
            if (c - a) * (v - b) - (d - b) * (u - a) > 0:
                break
            found.pop()
        found.append((u, v))
    return found[:-1]


def left(figure: Figure, planes: Iterable[HalfPlane]) -> Figure:
    """What half-planes leave of a convex figure.

    >>> left([(0, 0), (2, 0), (2, 2), (0, 2)], [(1, 0, 1)])
    [(0, 0), (1.0, 0.0), (1.0, 2.0), (0, 2)]
    """
    for a, b, c in planes:
        out = [a * u + b * v - c for u, v in figure]
        if not out or max(out) <= 0:
            continue
        kept: list[Dot] = []
        for k, (u, v) in enumerate(figure):
            (s, t), there, here = figure[k - 1], out[k - 1], out[k]
            if (here > 0) != (there > 0):
                share = there / (there - here)
                kept.append((s + share * (u - s), t + share * (v - t)))
            if here <= 0:
                kept.append((u, v))
        figure = kept
    return figure


def apart(one: Figure, other: Figure) -> float:
    """Least distance between two convex figures, mm; 0 where they meet, infinite where one is nothing.

    >>> apart([(0, 0), (1, 0), (0, 1)], [(3, 4), (3, 5)]), apart([(0, 0), (2, 0), (2, 2)], [(1, 0), (1, 5)])
    (4.242640687119285, 0.0)
    """
    if not one or not other:
        return inf
    if not (_parted(one, other) or _parted(other, one)):
        return 0.0
    return min(_to_sides(one, other), _to_sides(other, one))


def _parted(one: Figure, other: Figure) -> bool:
    """Whether all of the other lies beyond a line along, or across, a side of one, or across the way to it."""
    (u, v), (s, t) = other[0], one[0]
    ways = [(u - s, v - t)]
    for k, (u, v) in enumerate(one):
        s, t = one[k - 1]
        ways += [(v - t, s - u), (t - v, u - s), (u - s, v - t), (s - u, t - v)]
    return any(
        min(a * p + b * q for p, q in other) > max(a * p + b * q for p, q in one)
        for a, b in dict.fromkeys(ways)
    )


def _to_sides(one: Figure, other: Figure) -> float:
    """Least distance from a corner of one to a side of the other."""
    least = inf
    for k, (u, v) in enumerate(other):
        s, t = other[k - 1]
        du, dv = u - s, v - t
        size = du * du + dv * dv
        for p, q in one:
            share = min(1.0, max(0.0, ((p - s) * du + (q - t) * dv) / size)) if size else 0.0
            least = min(least, hypot(p - s - share * du, q - t - share * dv))
    return least
