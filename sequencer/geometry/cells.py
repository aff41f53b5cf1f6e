"""What boxes cut out of a board leave of it: in how many pieces it is, and which of its sides are gone.

Their sides divide the board into cells, each all wood or none; cells that share a side hang together. Lengths in mm.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from sequencer.geometry.convex import Vec
from sequencer.operations import Point, Trench

Cells = NDArray[np.bool_]
THINNEST = 1e-6
"""mm: wood no thicker holds nothing together, and is no piece."""


def wood_left(size: Point, boxes: Iterable[Trench]) -> Cells:
    """The cells of a board of this length, width and thickness, along these axes: which are left without the boxes.

    >>> halved = Trench(part="side", surface="housing a", low=(90, 0, 0), high=(110, 100, 18))
    >>> wood_left((200, 100, 18), [halved]).ravel().tolist()
    [True, False, True]
    """
    found = list(boxes)
    borders = [_borders(size[k], [x for box in found for x in (box.low[k], box.high[k])]) for k in range(3)]
    wood = np.ones([len(each) - 1 for each in borders], dtype=bool)
    for box in found:
        wood[tuple(_cells(borders[k], box.low[k], box.high[k]) for k in range(3))] = False
    return wood


def pieces(wood: Cells) -> int:
    """How many pieces the cells that are wood make.

    >>> pieces(np.array([[[True]], [[False]], [[True]]])), pieces(np.array([[[False]]]))
    (2, 0)
    """
    left, count = wood.copy(), 0
    while left.any():
        left &= ~_hanging_together(left)
        count += 1
    return count


def sides_gone(wood: Cells) -> tuple[tuple[int, bool], ...]:
    """The sides of the board nothing is left of: the axis, and whether it is the one far along it.

    >>> sides_gone(np.array([[[True]], [[False]]]))
    ((0, True),)
    """
    return tuple(
        (k, far) for k in range(3) for far in (False, True) if not wood.take(-1 if far else 0, axis=k).any()
    )


def _borders(size: float, places: Iterable[float]) -> Vec:
    """Where cells end along an axis, from 0 to the size of the board; places that are as good as one are one."""
    found = [0.0]
    for place in sorted(places):
        if place - found[-1] > THINNEST and size - place > THINNEST:
            found.append(place)
    return np.array([*found, size])


def _cells(borders: Vec, low: float, high: float) -> slice:
    """The cells between two borders."""
    start, end = (int(np.abs(borders - place).argmin()) for place in (low, high))
    return slice(start, end)


def _hanging_together(wood: Cells) -> Cells:
    """The cells of one piece: that of the first cell that is wood."""
    piece = np.zeros_like(wood)
    piece.flat[int(wood.argmax())] = True
    size = 0
    while size != (size := int(piece.sum())):
        for axis in range(3):
            along, there = np.moveaxis(piece, axis, 0), np.moveaxis(wood, axis, 0)
            for k in range(1, len(along)):
                along[k] |= along[k - 1] & there[k]
            for k in reversed(range(len(along) - 1)):
                along[k] |= along[k + 1] & there[k]
    return piece
