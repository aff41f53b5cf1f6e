"""Stand-ins: what is certain about a choice before it is taken.

Whichever option is taken, its lots will need settings. A *row* names one lot of each option of a choice; it is
represented in the bounds by one *stand-in* that accepts what any of them accepts, on the dials that all of them name.
Whatever is chosen, the lot of the row that is made satisfies the stand-in at that moment, so put the stand-in
there and an order of the whole has become an order with stand-ins. Each lot of each option gets a row, with the
lots most like it in the other options; one lot may so appear in several rows, which are then all made beside it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from sequencer.solve.relation import bits
from sequencer.solve.transitions.knobs import Needs

Row = tuple[int, ...]
"""One lot of each option."""


def rows(
    options: Sequence[int], needs: Sequence[Needs], price: Callable[[int], int] = lambda dial: 1
) -> list[Row]:
    """The rows of one choice, given the lots (mask) of each option, each row once; none if an option makes
    nothing. `price` weighs the dials in telling which lots are alike.
    """
    if len(options) < 2 or not all(options):
        return []
    found: dict[Row, None] = {}
    for o, mask in enumerate(options):
        for place, lot in enumerate(bits(mask)):
            row = []
            for other, others in enumerate(options):
                if other == o or others >> lot & 1:
                    row.append(lot)
                    continue
                ranked = [
                    (_likeness(needs[lot], needs[partner], price), -abs(place - k), -partner)
                    for k, partner in enumerate(bits(others))
                ]
                row.append(-max(ranked)[2])
            found[tuple(row)] = None
    return list(found)


def _likeness(one: Needs, other: Needs, price: Callable[[int], int]) -> int:
    """How much two lots have in common: dials both name, and values both accept there."""
    mine = {d: stay for d, stay, _ in one}
    return sum(price(d) * (1 + 3 * bool(mine[d] & stay)) for d, stay, _ in other if d in mine)
