"""Irregular rings: whether sides and corners close, what is missing to close them, and each corner's own saw
setting.

Corner i lies between side i and side i + 1 (the last one between the last side and the first), so that going
round, the corners follow the sides. Lengths in mm along the line where the corners are measured, inside
angles in degrees.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import acos, atan2, cos, degrees, hypot, isfinite, pi, radians, sin

import numpy as np

from sequencer.geometry.angles import CompoundAngle, dihedral, unequal
from sequencer.geometry.refusal import FigureError, number, require_between

OPEN = 0.05
"""mm: a ring whose ends meet nearer than this is closed."""


@dataclass(frozen=True)
class Ring:
    """A closed convex ring: side lengths and the inside angle after each side."""

    sides: tuple[float, ...]
    corners: tuple[float, ...]


@dataclass(frozen=True)
class RingCorner:
    """Saw settings at one corner: `before` for the end of the side before it, `after` for the start of the
    next.
    """

    corner: float
    before: CompoundAngle
    after: CompoundAngle
    dihedral: float


def _directions(corners: Sequence[float]) -> list[float]:
    """Direction of each side, radians from the first, for all corners but the last."""
    headings = [0.0]
    for corner in corners[:-1]:
        headings.append(headings[-1] + pi - radians(corner))
    return headings


def gap_of(sides: Sequence[float], corners: Sequence[float]) -> float:
    """How far apart the first and the last point of the ring end, mm, when laid out with these figures."""
    headings = _directions(corners)
    return hypot(
        sum(s * cos(h) for s, h in zip(sides, headings, strict=True)),
        sum(s * sin(h) for s, h in zip(sides, headings, strict=True)),
    )


def closed_ring(sides: Sequence[float | None], corners: Sequence[float | None]) -> Ring:
    """The ring of these sides and corners, with what is left out (None) worked out.

    May be left out: one corner (from the sum of all), and besides up to two sides; or three corners with all
    sides given. Raises FigureError for what does not close, with the figure that would.

    >>> closed_ring([300, 400, 500], [None, None, None]).corners[0]
    90.0
    >>> ring = closed_ring([200, 200, None, None], [120, 80, 100, None])
    >>> [round(side, 2) for side in ring.sides]
    [200, 200, 175.88, 269.46]
    """
    count = len(sides)
    if count < 3 or len(corners) != count:
        raise FigureError(
            f"{count} sides with {len(corners)} corners do not enclose anything",
            "3 sides or more, with a corner after each",
        )
    for i, side in enumerate(sides, 1):
        if side is not None and not (isfinite(side) and side > 0):
            raise FigureError(f"side {i} of {number(side)} mm is not possible", "more than 0 mm")
    for corner in corners:
        if corner is not None:
            require_between("corner", corner, 0, 180, "degrees inside")
    open_corners = [i for i, corner in enumerate(corners) if corner is None]
    open_sides = [i for i, side in enumerate(sides) if side is None]
    if len(open_corners) == 3 and not open_sides:
        found = _three_corners([s for s in sides if s is not None], corners, open_corners)
    elif len(open_corners) <= 1:
        found = _last_corner(corners, open_corners)
    else:
        raise FigureError(
            f"with {len(open_corners)} corners and {len(open_sides)} sides left out the ring has many shapes",
            "one corner and two sides left out, or three corners and no side",
        )
    if len(open_sides) > 2:
        raise FigureError(f"{len(open_sides)} sides left out", "two sides left out at most")
    lengths = _open_sides(sides, found, open_sides)
    gap = gap_of(lengths, found)
    if gap > OPEN:
        raise FigureError(
            f"the ring does not close: its ends are {number(round(gap, 2))} mm apart",
            _nearest(found, lengths),
        )
    return Ring(tuple(lengths), tuple(found))


def _last_corner(corners: Sequence[float | None], open_corners: Sequence[int]) -> list[float]:
    total = 180.0 * (len(corners) - 2)
    known = sum(corner for corner in corners if corner is not None)
    if open_corners:
        missing = total - known
        if not 0 < missing < 180:
            raise FigureError(
                f"the corner left out would be {number(missing)} degrees", "one between 0 and 180 degrees"
            )
        return [missing if corner is None else corner for corner in corners]
    if abs(known - total) > 0.01:
        raise FigureError(
            f"the corners sum to {number(known)} degrees", f"{number(total)} degrees for {len(corners)} sides"
        )
    return [corner for corner in corners if corner is not None]


def _three_corners(
    sides: Sequence[float], corners: Sequence[float | None], unknown: Sequence[int]
) -> list[float]:
    """Three unknown corners cut the ring into three stiff chains; their chords make a triangle."""
    count = len(sides)
    chords, ends = [], []
    for a, b in zip(unknown, [*unknown[1:], unknown[0] + count], strict=True):
        heading, x, y = 0.0, 0.0, 0.0
        for k in range(a + 1, b + 1):
            x, y = x + sides[k % count] * cos(heading), y + sides[k % count] * sin(heading)
            if k < b:
                heading += pi - radians(corners[k % count] or 0.0)
        chord = atan2(y, x)
        chords.append(hypot(x, y))
        ends.append((chord, heading - chord))
    found = list(corners)
    for j in range(3):
        before, after, facing = chords[j - 1], chords[j], chords[(j + 1) % 3]
        cosine = (before**2 + after**2 - facing**2) / (2 * before * after)
        if not -1 < cosine < 1:
            raise FigureError(
                f"chains of {number(before)}, {number(after)} and {number(facing)} mm make no triangle",
                "sides of which none is as long as all the others together",
            )
        corner = degrees(acos(cosine) + ends[j - 1][1] + ends[j][0])
        require_between("a corner left out would be", corner, 0, 180, "degrees inside")
        found[unknown[j]] = round(corner, 9)
    return [corner for corner in found if corner is not None]


def _open_sides(
    sides: Sequence[float | None], corners: Sequence[float], open_sides: Sequence[int]
) -> list[float]:
    lengths = [0.0 if side is None else side for side in sides]
    if not open_sides:
        return lengths
    headings = np.array(_directions(corners))
    rows = np.array([np.cos(headings), np.sin(headings)])
    rest = -rows @ np.array(lengths)
    matrix = rows[:, list(open_sides)]
    if np.linalg.matrix_rank(matrix, tol=1e-9) < len(open_sides):
        raise FigureError("the two sides left out are parallel", "two sides left out that are not parallel")
    found = np.linalg.lstsq(matrix, rest, rcond=None)[0]
    for i, length in zip(open_sides, found, strict=True):
        if length <= 0:
            raise FigureError(f"side {i + 1} would be {number(round(float(length), 2))} mm", "more than 0 mm")
        lengths[i] = float(length)
    return lengths


def _nearest(corners: Sequence[float], lengths: Sequence[float]) -> str:
    """What would close the ring: its last two sides that are not parallel, with all else as given."""
    for second in range(len(lengths) - 1, 0, -1):
        try:
            found = _open_sides(
                [None if i in (second - 1, second) else s for i, s in enumerate(lengths)],
                corners,
                [second - 1, second],
            )
        except FigureError:
            continue
        return (
            f"side {second} of {number(round(found[second - 1], 2))} mm and side {second + 1} of "
            f"{number(round(found[second], 2))} mm, or other corners"
        )
    return "other corners"


def ring_corners(ring: Ring, slopes: Sequence[float] | float = 90.0) -> tuple[RingCorner, ...]:
    """Each corner's saw settings for sides with one slope or one each (degrees from horizontal).

    Boards of one thickness; at a corner of two slopes both boards have the same tilt and each its own gauge.
    """
    count = len(ring.sides)
    each = [float(slopes)] * count if isinstance(slopes, (int, float)) else list(slopes)
    if len(each) != count:
        raise FigureError(f"{len(each)} slopes for {count} sides", f"one slope or {count}")
    out = []
    for i, corner in enumerate(ring.corners):
        own, following = each[i], each[(i + 1) % count]
        before, after = unequal(corner, own, following)
        out.append(RingCorner(corner, before, after, dihedral(corner, own, following)))
    return tuple(out)
