"""Whether the compiled kernels can take a problem, and the unit in which they count its costs."""

from __future__ import annotations

from collections.abc import Iterator
from math import gcd

from sequencer.solve.transitions.floor import Floor

COSTS = 1 << 20
"""Costs that fit a key of the kernels' heap."""

DIALS = 60
"""Dials that fit one word, walking among them."""


def compiles(floor: Floor) -> bool:
    """Whether the kernels can take the problem: dials and costs that fit.

    A way with lots revoked (`stops`) may pay for one more than once. But it is followed only while it costs less than
    what is asked for, `dearest` at most; a step from there costs no more than that, nor does what is known of the rest.
    So three times as much must fit a key.
    """
    return len(floor.knobs) <= DIALS and dearest(floor) // unit(floor) < COSTS // 4


def unit(floor: Floor) -> int:
    """What all costs but those of the work are multiples of."""
    return gcd(*_costs(floor)) or 1


def dearest(floor: Floor) -> int:
    """What no sensible order costs more than: each lot moves all it names, dearly, and goes against all wishes."""
    dear = [max((cost for row in knob.cost for cost in row if cost), default=0) for knob in floor.knobs]
    moves = sum(dear[d] for needs in floor.needs for d, _, _ in needs)
    return moves + sum(price for wishes in floor.wish_before for _, price in wishes)


def _costs(floor: Floor) -> Iterator[int]:
    """All that is ever paid for moves, walks and wishes."""
    for knob in floor.knobs:
        for row in knob.cost:
            yield from (cost for cost in row if cost)
    for wishes in floor.wish_before:
        yield from (price for _, price in wishes)
