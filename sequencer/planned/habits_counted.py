"""What the usual habits cost, counted from the shop's own words: for `recount`, which holds a plan's habits to it.

It shares with what is counted (`habits.py`, `solve/price.py`) only the readings that can matter (`candidates.py`).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from heapq import heappop, heappush
from itertools import pairwise
from typing import NamedTuple

from sequencer.encoding.candidates import candidates
from sequencer.model.shop import SLACK, Setting, Shop, Station
from sequencer.operations import Between, Edge, OneOf, Operation, Wanted, the_one
from sequencer.planfile import Reading
from sequencer.quantity import MINUTE_PLACES

Standing = tuple[Reading | None, Reading | None]
"""Where a setting stands, and what the one it is measured at read when it was set; None where nobody knows."""
Paid = tuple[int, int]
"""Minutes, in the last of `MINUTE_PLACES`, and moves."""
_MINUTE: int = 10**MINUTE_PLACES


def count_habits(
    made: Mapping[str, Operation], listed: Sequence[Operation], edges: Iterable[Edge], shop: Shop
) -> dict[str, tuple[float, int]]:
    """Minutes and resets of each habit by name, mates not minded. `made` is what is made, in the order it is `listed`
    among all that might be.
    """
    part = {operation.id: operation.parts[0] if operation.parts else "" for operation in listed}
    parts = {name: number for number, name in enumerate(dict.fromkeys(part.values()))}
    stations = {station.id: number for number, station in enumerate(shop.stations)}
    musts = {(edge.before, edge.after) for edge in edges if edge.strength == "must"}
    orders = {
        "as listed": _follow(made, musts, dict.fromkeys(made, 0)),
        "part by part": _follow(made, musts, {id: parts[part[id]] for id in made}),
        "machine by machine": _follow(made, musts, {id: stations[op.station] for id, op in made.items()}),
    }
    settings = [
        _Along(station, setting, made.values(), listed)
        for station in shop.stations
        for setting in station.settings
    ]
    return {name: _cost(order, settings, shop) for name, order in orders.items()}


def _follow(
    made: Mapping[str, Operation], musts: Iterable[tuple[str, str]], group: Mapping[str, int]
) -> list[Operation]:
    """The order of who makes of all that waits for nothing what is listed first of the group in hand, where nothing of
    that is left of the first group.
    """
    waits = dict.fromkeys(made, 0)
    onward: dict[str, list[str]] = defaultdict(list)
    for before, after in musts:
        if before in made and after in made:
            waits[after] += 1
            onward[before].append(after)
    listed, place = list(made.values()), {id: index for index, id in enumerate(made)}
    free: dict[int, list[int]] = defaultdict(list)
    """Of each group the places of what waits for nothing, the first at the top."""
    for id in made:
        if not waits[id]:
            heappush(free[group[id]], place[id])
    order: list[Operation] = []
    while any(free.values()):
        in_hand = group[order[-1].id] if order else None
        taken = in_hand if in_hand is not None and free[in_hand] else min(each for each in free if free[each])
        order.append(listed[heappop(free[taken])])
        for id in onward[order[-1].id]:
            waits[id] -= 1
            if not waits[id]:
                heappush(free[group[id]], place[id])
    return order


def _cost(order: Sequence[Operation], settings: Iterable[_Along], shop: Shop) -> tuple[float, int]:
    """Minutes and moves of an order, each setting handled as cheaply as it can be."""
    paid = [along.cheapest(order) for along in settings]
    count = sum(minutes for minutes, _ in paid) + sum(_count(operation.work_minutes) for operation in order)
    count += sum(_count(shop.walk_minutes(one.station, two.station)) for one, two in pairwise(order))
    return count / _MINUTE, sum(moves for _, moves in paid)


def _count(minutes: float) -> int:
    return round(minutes * _MINUTE)


class _Asked(NamedTuple):
    """What an operation asks of a setting."""

    stays: frozenset[Reading]
    """The readings at which it may be left."""
    offers: tuple[tuple[Reading, int], ...]
    """The readings it may be moved to, each with what that costs where none stood before."""
    level: Reading | None
    """What the one it is measured at must have read when it was set; None: at whatever reading."""


class _Along:
    """One setting along orders: the cheapest of all ways of moving it, and of those the one with the fewest moves."""

    def __init__(
        self, station: Station, setting: Setting, made: Iterable[Operation], listed: Iterable[Operation]
    ) -> None:
        self.station, self.setting, self.base = station.id, setting, station.base(setting)
        named = [op for op in listed if op.station == station.id and setting.id in op.settings]
        wanted = [op.settings[setting.id] for op in named]
        readings = dict.fromkeys(candidates(setting, wanted)) if wanted else {}
        known = (*readings, setting.start) if setting.start is not None else (*readings,)
        ids = {op.id for op in made}
        self.asked = {
            op.id: _Asked(
                frozenset(each for each in known if _within(setting, want, each, setting.tolerance)),
                tuple(
                    (each, _count(setting.move_minutes(None, each)))
                    for each in readings
                    if _within(setting, want, each, 0.0)
                ),
                the_one(op.settings.get(self.base.id)) if self.base else None,
            )
            for op, want in zip(named, wanted, strict=True)
            if op.id in ids
        }

    def cheapest(self, order: Iterable[Operation]) -> Paid:
        """What the moves come to, and how many there are."""
        start = self.setting.start
        start_at = self.setting.start_at if self.base and start is not None else None
        standing: dict[Standing, Paid] = {(start, start_at): (0, 0)}
        there = False
        for operation in order:
            if there and operation.station != self.station and not self.setting.keeps:
                standing = {(None, None): min(standing.values())}
            there = operation.station == self.station
            if operation.id in self.asked:
                standing = self._onward(standing, self.asked[operation.id])
        return min(standing.values())

    def _onward(self, standing: Mapping[Standing, Paid], asked: _Asked) -> dict[Standing, Paid]:
        """Where it may stand for an operation, and what it took to get there: left alone where that will do, or moved
        to whatever is asked.
        """
        setting, level = self.setting, asked.level
        found: dict[Standing, Paid] = {
            (value, at): paid
            for (value, at), paid in standing.items()
            if value in asked.stays and (level is None or self._alike(at, level))
        }
        cheapest_first = [
            (value, value is not None and self._alike(at, level), minutes, moves)
            for (value, at), (minutes, moves) in sorted(standing.items(), key=lambda each: each[1])
        ]
        for new, price in asked.offers:
            for value, reads, minutes, moves in cheapest_first:
                if value is not None and (reads or level is None) and setting.same(value, new):
                    continue  # it stands there: nothing moves
                known = reads and setting.minutes is not None
                paid = minutes + (_count(setting.move_minutes(value, new)) if known else price), moves + 1
                found[new, level] = min(paid, found.get((new, level), paid))
                if setting.minutes is None:
                    break  # where it comes from makes no other price
        return found

    def _alike(self, one: Reading | None, two: Reading | None) -> bool:
        """Whether the setting it is measured at stands alike."""
        if self.base is None or one is None or two is None:
            return one is two
        return self.base.same(one, two)


def _within(setting: Setting, wanted: Wanted, value: Reading, tolerance: float) -> bool:
    """Whether a reading is what is wanted, give or take a tolerance."""
    slack = tolerance + SLACK
    match wanted:
        case OneOf(any=values):
            return any(_within(setting, each, value, tolerance) for each in values)
        case Between(min=low, max=high):
            return not isinstance(value, str) and low - slack <= value <= high + slack
        case str():
            return value == wanted
        case _:
            return not isinstance(value, str) and abs(value - wanted) <= slack
