"""Points and directions, of the board (arrays) and on paper (spots), as all drawings reckon with them."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from sequencer.report.drawing.figure import Spot

Array = NDArray[np.float64]


def unit_vector(vector: Array) -> Array:
    """The direction of a vector of some length."""
    return np.asarray(vector / np.linalg.norm(vector))


def sides(loop: Array) -> Iterator[tuple[Array, Array]]:
    """The sides of an outline in order, by the corners (n, 2) or (n, 3) at their ends."""
    return zip(loop, np.roll(loop, -1, axis=0), strict=True)


def towards(start: Spot, end: Spot) -> Spot:
    """The direction on paper from one spot to another, unit; none where they are one."""
    size = math.dist(start, end) or 1.0
    return (end[0] - start[0]) / size, (end[1] - start[1]) / size


def beyond(spot: Spot, way: Spot, distance: float) -> Spot:
    """The spot `distance` mm off, on the way told (a unit direction)."""
    return spot[0] + way[0] * distance, spot[1] + way[1] * distance


def polar(centre: Spot, radius: float, degrees: float) -> Spot:
    """The spot at `radius` mm from `centre` in the direction `degrees`."""
    turn = math.radians(degrees)
    return centre[0] + radius * math.cos(turn), centre[1] + radius * math.sin(turn)
