"""Convex outlines in a plane: cut to a side of a line, to one another, and lines less what runs inside them.

An outline is an array (n, 2) of its corners in order; no rows: nothing left. A piece is the two ends of a line.
"""

from __future__ import annotations

from collections.abc import Iterable
from math import dist

import numpy as np

from sequencer.geometry.flat import left
from sequencer.report.drawing.figure import Spot
from sequencer.report.drawing.nearness import DUST, NEVER, POINT, SHOWN
from sequencer.report.drawing.vectors import Array, sides

Flat = Array
"""Points in the plane, (n, 2), or one."""
Piece = tuple[Flat, Flat]


def spot(point: Flat) -> Spot:
    """A point as figures take it."""
    return float(point[0]), float(point[1])


def half_planes(loop: Flat) -> list[tuple[Flat, float]]:
    """For each side of some length its unit normal out of the outline and offset: inside is normal . p <= offset."""
    middle = loop.mean(axis=0)
    found = []
    for a, b in sides(loop):
        normal = np.array([b[1] - a[1], a[0] - b[0]])
        size = float(np.linalg.norm(normal))
        if size > DUST:  # else it has none
            normal = normal / size if (a - middle) @ normal > 0 else -normal / size
            found.append((normal, float(normal @ a)))
    return found


def kept(loop: Flat, normal: Flat, offset: float) -> Flat:
    """The part of the outline where normal . p <= offset; nothing of one that only touches it."""
    a, b = normal.tolist()
    corners = left([(u, v) for u, v in loop.tolist()], [(a, b, offset + DUST)])
    found = [corner for k, corner in enumerate(corners) if dist(corner, corners[k - 1]) > POINT]
    return np.array(found) if len(found) >= 3 else np.zeros((0, 2))


def common(loop: Flat, other: Flat) -> Flat:
    """What two outlines have in common."""
    for normal, offset in half_planes(other) if len(loop) and len(other) else ():
        loop = kept(loop, normal, offset) if len(loop) else loop
    return loop if len(other) else other


def without(pieces: Iterable[Piece], loop: Flat, grow: float = 0.0) -> list[Piece]:
    """The pieces less what runs inside the outline grown by `grow` mm."""
    bounds = half_planes(loop)
    found: list[Piece] = []
    for a, b in pieces:
        enter, leave = 0.0, 1.0
        for normal, offset in bounds:
            room, speed = offset + grow - float(normal @ a), float(normal @ (b - a))
            if abs(speed) < NEVER:
                if room < 0:
                    enter, leave = 1.0, 0.0
            elif speed > 0:
                leave = min(leave, room / speed)
            else:
                enter = max(enter, room / speed)
        if leave <= enter:
            found.append((a, b))
            continue
        found += [
            (a + (b - a) * start, a + (b - a) * end)
            for start, end in ((0.0, enter), (leave, 1.0))
            if (end - start) * float(np.linalg.norm(b - a)) > POINT
        ]
    return found


def alike(loop: Flat, other: Flat, mirrored: bool) -> bool:
    """Whether each corner of both outlines lies on one of the other, within 0.05 mm; `mirrored` in the line x = 0."""
    turned = other * np.array([-1.0, 1.0]) if mirrored else other
    if not len(loop) or not len(other):
        return len(loop) == len(other)
    gaps = np.linalg.norm(loop[:, None, :] - turned[None, :, :], axis=2)
    return bool((gaps.min(axis=0) < SHOWN).all() and (gaps.min(axis=1) < SHOWN).all())
