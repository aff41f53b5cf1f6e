"""Dials eased for patterns: moves only cheaper or possible, so that what is cheapest for them bounds the whole.

An eased dial (`Wheel`) may be moved to every value that is accepted, and its costs keep the triangle inequality; so
lots that move nothing can be made at once. Where lots can serve as stops, the tables are kept as they are.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from sequencer.solve.bounds.stops import MANY_VALUES, Stops, stops_of
from sequencer.solve.relation import bits
from sequencer.solve.transitions.floor import Floor
from sequencer.solve.transitions.knobs import price_of_reaching


@dataclass(frozen=True)
class Wheel:
    """A dial as a pattern has it: eased (`ease`, `narrow`), or in the pattern of the whole as it is (`rules`).

    Eased, every value that is accepted may be moved to, costs keep the triangle inequality but for the `stops` told,
    and losing gains nothing, unless the dial was taken as losing its value. As it is, moves that do not exist cost FAR.

    `cost` rows: value left, NOTHING, ELSEWHERE; `price[v]`, the cost of reaching v from any other value; None where
    that is not the same from all (or the dial, as it is, is not plain). `level` is whether the first value costs what
    any other move to it costs, less one constant. `accept[v]`: lots that accept v or do not name the dial; `serves[v]`:
    those that name it and accept v; `only[v]`: those that accept nothing else (told of eased dials only, as `stay` is).
    """

    values: int
    cost: tuple[tuple[int, ...], ...]
    price: tuple[int, ...] | None
    level: bool
    accept: tuple[int, ...]
    serves: tuple[int, ...]
    only: tuple[int, ...]
    named: int
    stay: dict[int, int]
    keeps: bool
    station: int
    stops: Stops | None = None


def ease(floor: Floor, d: int, *, losing: bool = False, sharp: bool = False) -> Wheel:
    """Dial d of the floor, eased.

    Lower costs keep any bound: a move that does not exist gets the least cost of its column, a dial that forgets may be
    set afresh at any time (unless it is taken as `losing` its value by leaving), and all costs are replaced by those of
    the cheapest way round (shortest paths); or (`sharp`), unless values are too many, it is told what stops help.
    """
    knob = floor.knobs[d]
    k = knob.values
    stay = {item: need for item, needs in enumerate(floor.needs) for dial, need, _ in needs if dial == d}
    used = 0
    for need in stay.values():
        used |= need
    if knob.start < k:
        used |= 1 << knob.start
    live = list(bits(used))
    first = list(knob.cost[k])
    rows = [[0] * k for _ in range(k)]
    for b in live:
        column = [c for a in live if a != b and (c := knob.cost[a][b]) is not None]
        least = min(column, default=0)
        for a in live:
            if a != b:
                c = knob.cost[a][b]
                rows[a][b] = least if c is None else c
                if not knob.keeps and not losing:
                    rows[a][b] = min(rows[a][b], first[b] or 0)
    price = price_of_reaching(rows, live, k)
    stops = None
    tabled = price is None and sharp and k <= MANY_VALUES
    if tabled:
        stops = stops_of([*rows, [c or 0 for c in first]], stay)
    elif price is None:
        for via in live:
            onward = rows[via]
            for a in live:
                out = rows[a][via]
                if a != via:
                    rows[a] = [
                        min(c, out + on) if b != a else 0
                        for b, (c, on) in enumerate(zip(rows[a], onward, strict=True))
                    ]
        price = price_of_reaching(rows, live, k)
    start = [first[b] or 0 for b in range(k)]
    if not tabled:
        start = [min([start[b], *(start[a] + rows[a][b] for a in live if a != b)]) for b in range(k)]
    level = price is not None and len({start[b] - price[b] for b in live}) <= 1
    serves = [0] * k
    named = 0
    for item, need in stay.items():
        named |= 1 << item
        for v in bits(need):
            serves[v] |= 1 << item
    only = [0] * k
    for item, need in stay.items():
        if need & (need - 1) == 0 and need:
            only[need.bit_length() - 1] |= 1 << item
    return Wheel(
        k,
        (*(tuple(row) for row in rows), tuple(start), price or (0,) * k),
        price,
        level,
        (*(lots | ~named for lots in serves), ~named, ~named),
        tuple(serves),
        tuple(only),
        named,
        stay,
        knob.keeps,
        knob.station,
        stops,
    )


def stopping(wheels: Iterable[Wheel]) -> int:
    """The lots that can serve as stops (mask)."""
    lots = 0
    for wheel in wheels:
        if wheel.stops:
            lots |= wheel.stops.lots
    return lots


def narrow(wheel: Wheel, group: int) -> Wheel:
    """The wheel for the lots only that are content with the values of `group` (a mask).

    Where a move costs by the value reached, the moves to different groups of values are paid apart. So the
    bounds of narrowed wheels on disjoint groups add up, as those of dials do.
    """
    stay = {item: need for item, need in wheel.stay.items() if not need & ~group}
    if len(stay) == len(wheel.stay):
        return wheel  # the only group with lots: its first value is paid in full
    named = 0
    for item in stay:
        named |= 1 << item
    assert wheel.price is not None
    # only one group is entered first of all; the others must not be charged more than a later move costs
    price, first = wheel.price, wheel.cost[wheel.values]
    start = tuple(min(pair) for pair in zip(first, price, strict=True))
    level = len({start[v] - price[v] for v in range(wheel.values) if group >> v & 1}) <= 1
    serves = tuple(lots & named for lots in wheel.serves)
    return replace(
        wheel,
        cost=(*wheel.cost[: wheel.values], start, price),
        level=level,
        accept=(*(lots | ~named for lots in serves), ~named, ~named),
        serves=serves,
        only=tuple(lots & named for lots in wheel.only),
        named=named,
        stay=stay,
    )
