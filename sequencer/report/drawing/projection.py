"""The isometric view of a board: which way it is turned, and where its points fall on paper.

In an isometric view the three axes are foreshortened alike, by sqrt(2/3), and stand at 120 degrees to one another on
paper (ISO 5456-3). The board's axes can be turned to it in 24 ways; `best_view` takes the one that shows most of what
the step is about.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from sequencer.report.drawing.figure import Spot
from sequencer.report.drawing.nearness import DUST, MOSTLY
from sequencer.report.drawing.vectors import Array, unit_vector

_EDGE_ON = 1e-6  # cosine: a surface turned no more than this to the viewer is seen edge on


@dataclass(frozen=True)
class View:
    """Unit vectors in the board's frame: to the right and up on paper, and towards the viewer; `rises` is the axis that
    stands upright. `scale` is paper mm for one mm of wood (before foreshortening)."""

    right: Array
    up: Array
    viewer: Array
    rises: Array
    scale: float = 1.0

    def spots(self, points: Array) -> Array:
        """Points (n, 3) in the board's frame as points (n, 2) on paper."""
        return np.asarray(points @ np.stack([self.right, self.up], axis=1) * self.scale)

    @cached_property
    def _rows(self) -> tuple[tuple[float, ...], tuple[float, ...]]:
        return tuple((self.right * self.scale).tolist()), tuple((self.up * self.scale).tolist())

    def spot(self, point: Iterable[float]) -> Spot:
        """One point on paper."""
        x, y, z = (float(c) for c in point)
        right, up = self._rows
        return right[0] * x + right[1] * y + right[2] * z, up[0] * x + up[1] * y + up[2] * z

    def direction(self, vector: Iterable[float]) -> Spot:
        """A direction as it appears on paper, unit length (zero if it points at the viewer)."""
        x, y = self.spot(vector)
        size = math.hypot(x, y)
        return (x / size, y / size) if size > DUST else (0.0, 0.0)

    def sees(self, normal: Iterable[float]) -> bool:
        """Whether a surface with this outward normal is turned to the viewer."""
        return float(np.array(tuple(normal)) @ self.viewer) > _EDGE_ON


def isometric_views() -> tuple[View, ...]:
    """The 24 isometric views along the board's axes, the plainest first: face up, reference edge and left end seen."""
    views: list[View] = []
    axes = [
        np.array(axis, dtype=float)
        for axis in ((0, 0, 1), (0, 1, 0), (0, -1, 0), (0, 0, -1), (1, 0, 0), (-1, 0, 0))
    ]
    corners = [np.array(c, dtype=float) / math.sqrt(3) for c in itertools.product((-1, 1), repeat=3)]
    for rises in axes:
        for viewer in corners:
            if viewer @ rises <= 0:
                continue
            right = unit_vector(np.cross(rises, viewer))
            views.append(View(right, np.cross(viewer, right), viewer, rises))
    return tuple(views)


@dataclass(frozen=True)
class Wish:
    """Something a view should do, by outward normals: `seen` or standing upwards; the weights of wishes met add up."""

    normal: Array
    weight: float
    upright: bool = False


def best_view(wishes: Sequence[Wish]) -> View:
    """The isometric view that meets the heaviest wishes; the plainest of equals."""

    def worth(view: View) -> float:
        met = 0.0
        for wish in wishes:
            if wish.upright:
                met += wish.weight * (float(wish.normal @ view.rises) > 0.99)
            else:
                met += wish.weight * view.sees(wish.normal)
        # The left end on the left, and the length running across the paper rather than upwards.
        met += 1.5 * float(view.right[0] > 0.1) + 3.0 * float(abs(view.rises[0]) < MOSTLY)
        return float(met)

    return max(isometric_views(), key=worth)  # max keeps the first of equals
