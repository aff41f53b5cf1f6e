"""How many places and sizes are tried: no more of a thick board than of a thin one, however its sizes were written."""

from __future__ import annotations

from collections.abc import Callable
from math import ceil, floor
from typing import TypeVar

from sequencer.joinery.basis.floor import even
from sequencer.joinery.basis.nearness import HAIR

Found = TypeVar("Found")
SIZES = 32
"""So many thicknesses or walls are tried, evenly shared out, before the least that passes is told more closely: all of
them for stock of 32 mm or 2 in."""


def marks(low: float, high: float, grid: float, most: int) -> list[float]:
    """The multiples of a grid above `low` and up to `high`, mm, ascending; of more than `most` every second, third
    ... one, so that no more are left.

    >>> marks(1.0, 3.0, 0.5, 10), marks(1.0, 3.0, 0.5, 2)
    ([1.5, 2.0, 2.5, 3.0], [1.5, 2.5])
    """
    first, last = floor(low / grid) + 1, floor(high / grid + HAIR)
    every = max(1, ceil((last - first + 1) / most))
    return [even(k * grid) for k in range(first, last + 1, every)]


def least_that_passes(number: int, passes: Callable[[int], Found | None]) -> tuple[int, Found] | None:
    """The least of 1 to `number` that passes, with what `passes` says of it; None where none does. Of more than
    `SIZES` only some are tried, evenly shared out, then those halfway between one that passes and one below it that
    does not: the one before what is told does not pass, but one well below it may.

    >>> least_that_passes(1000, lambda k: "yes" if k >= 717 else None), least_that_passes(1000, lambda k: None)
    ((717, 'yes'), None)
    """
    every = max(1, ceil(number / SIZES))
    below = 0
    for k in [*range(every, number, every), number] if number > 0 else ():
        found = passes(k)
        if found is None:
            below = k
            continue
        while k - below > 1:
            halfway = (k + below) // 2
            nearer = passes(halfway)
            if nearer is None:
                below = halfway
            else:
                k, found = halfway, nearer
        return k, found
    return None
