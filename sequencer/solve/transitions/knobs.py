"""The dials of a problem and walking, prepared for searching: what each move costs, who accepts what, and which
dials are plain.

A dial is *plain* when it never helps to pass through any of its values (`passing`): then a lot that accepts the value
it stands at does not move it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sequencer.solve.problem import Problem
from sequencer.solve.reduction.passing import in_use
from sequencer.solve.relation import bits, mask_of

Needs = list[tuple[int, int, tuple[int, ...]]]
"""(dial, values at which the lot can be made as a mask, values worth moving to) for each dial named."""


@dataclass(frozen=True)
class Knob:
    """A dial of the floor. Costs are rows by the value left (then NOTHING, then ELSEWHERE), columns by the
    value reached.

    `price[v]` is the cost of reaching v from any other value; None where that is not the same from all, or the dial
    is not plain. `accept[v]`: lots that can be made with the dial at v because they name it and accept v. `named`:
    lots naming it.
    """

    label: str
    values: int
    cost: tuple[tuple[int | None, ...], ...]
    price: tuple[int, ...] | None
    accept: tuple[int, ...]
    named: int
    start: int
    keeps: bool
    station: int
    plain: bool

    @property
    def nothing(self) -> int:
        """The index that stands for "holds no value"."""
        return self.values

    @property
    def elsewhere(self) -> int:
        """The index that stands for "at a value no remaining lot accepts"."""
        return self.values + 1


def knob_of(problem: Problem, d: int, needs: Sequence[Needs], vain: Sequence[int]) -> Knob:
    """Dial d, or walking (one more than the dials).

    `needs` of the lots, in the searcher's numbering; `vain` values of each dial (`passing`).
    """
    mine: list[tuple[int, int, tuple[int, ...]]] = []
    for item, wants in enumerate(needs):
        mine += [(item, stay, reach) for dial, stay, reach in wants if dial == d]
    named = mask_of([item for item, _, _ in mine])
    if d < len(problem.dials):
        dial = problem.dials[d]
        label, values, station, keeps = dial.label, dial.values, dial.station, dial.keeps
        rows: list[tuple[int | None, ...]] = list(dial.move)
        first: tuple[int, ...] = dial.first
        start = values if dial.start is None else dial.start
    else:
        label, values, station, keeps = "walking", len(problem.walk), -1, True
        rows, first, start = list(problem.walk), (0,) * len(problem.walk), len(problem.walk)
    used = 0
    accept = [0] * (values + 2)
    for item, stay, _ in mine:
        used |= stay
        for v in bits(stay):
            accept[v] |= 1 << item
    live = list(bits(used))
    if start < values and not used >> start & 1:
        live.append(start)
    price = price_of_reaching(rows, live, values)
    plain = d == len(problem.dials) or not in_use(problem, d) & ~vain[d]
    if not plain and d < len(problem.dials):
        price = None
    elsewhere = tuple(price) if price is not None else (0,) * values
    return Knob(
        label,
        values,
        (*rows, first, elsewhere),
        price,
        tuple(accept),
        named,
        start,
        keeps,
        station,
        plain,
    )


def price_of_reaching(
    rows: Sequence[Sequence[int | None]], live: Sequence[int], values: int
) -> tuple[int, ...] | None:
    """The cost of reaching each value where it is the same from every other value in use, else None."""
    price = [0] * values
    for b in live:
        column = {rows[a][b] for a in live if a != b}
        if len(column) > 1 or None in column:
            return None
        price[b] = column.pop() or 0 if column else 0
    return tuple(price)
