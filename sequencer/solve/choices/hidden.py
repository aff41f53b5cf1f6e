"""What the stand-ins of an outline do not show of the lots they stand for, and what that might save.

A lot of an open choice is *shown* on a dial where a stand-in of a row with it names the dial, and at its station where
there is such a row at all. What is not shown is *hidden*: an order of the outline leaves it out. That makes the rest
dearer only

* where going by way of a value to which a hidden lot moves the dial is cheaper than going straight, or where such a
  value is kept by a lot that cannot be moved to it. So going by way of these values counts as one move, and whoever
  accepts them may be moved to them;
* where a visit of another station loses a dial and setting it afresh is cheaper than moving it. From one lot of the
  dial's station to the next the whole walks there and back, the outline stays; so a move costs no more than setting
  afresh and that walk, shared out evenly among the dials lost by it. If a lot of another station lies between in the
  outline, too, the dial is lost there as well. Only what a dial stands at from the start may be lost without such a
  walk: by leaving a hidden lot of its station made before all that is shown there;
* where a station on the way makes a walk shorter: so walking goes the shortest ways.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from sequencer.solve.choices.standins import Row
from sequencer.solve.problem import FAR, Dial, Lot, Need, Problem
from sequencer.solve.relation import bits


class Hidden:
    """What of the optional lots the stand-ins of these rows do not show."""

    def __init__(self, problem: Problem, optional: Sequence[int], rows: Sequence[Row]) -> None:
        self._dials = problem.dials
        self.walk = shortest(problem.walk)
        lots = problem.lots
        shown: dict[int, frozenset[int]] = {}
        for row in rows:
            named = common(problem, row)
            for lot in row:
                shown[lot] = shown.get(lot, frozenset()) | named
        self._stations = {lots[lot].station for lot in optional if lot not in shown}
        self._values = [0] * len(self._dials)
        for lot in optional:
            for d, need in lots[lot].needs.items():
                if d not in shown.get(lot, ()):
                    self._values[d] |= need.reach

    def moves(self, d: int) -> bool:
        """Whether hidden lots may move this dial or lose it."""
        return bool(self._values[d] or (self._stations and not self._dials[d].keeps))

    def lot(self, lot: Lot) -> Lot:
        """A lot that is shown."""
        return replace(lot, needs={d: self.need(d, need) for d, need in lot.needs.items()})

    def need(self, d: int, need: Need) -> Need:
        """What a lot needs of a dial that hidden lots may have moved."""
        return replace(need, reach=need.reach | need.stay & self._values[d])

    def dial(self, d: int) -> Dial:
        """The dial as far as it is shown, no move dearer than with hidden lots on the way."""
        dial = self._dials[d]
        if not self.moves(d):
            return dial
        rows = [[FAR if cost is None else cost for cost in row] for row in dial.move]
        for a, row in enumerate(rows):
            losing = self._losing(dial, a)
            row[:] = [min(cost, losing + afresh) for cost, afresh in zip(row, dial.first, strict=True)]
            row[a] = 0
        first = list(dial.first)
        for via in bits(self._values[d]):
            for row in (*rows, first):
                _by_way_of(row, via, rows[via])
        move = tuple(tuple(None if cost >= FAR else cost for cost in row) for row in rows)
        return replace(dial, move=move, first=tuple(first))

    def _losing(self, dial: Dial, value: int) -> int:
        """What losing a dial that stands at this value costs at least, where hidden lots lose it."""
        here = dial.station
        if dial.keeps:
            return FAR
        if value == dial.start and here in self._stations:
            return 0
        trips = [self.walk[here][there] + self.walk[there][here] for there in self._stations - {here}]
        if not trips:
            return FAR
        return min(trips) // sum(not other.keeps and other.station == here for other in self._dials)


def common(problem: Problem, row: Row) -> frozenset[int]:
    """The dials that all lots of a row name."""
    return frozenset.intersection(*(frozenset(problem.lots[lot].needs) for lot in row))


def shortest(costs: Sequence[Sequence[int]]) -> tuple[tuple[int, ...], ...]:
    """The costs of the cheapest ways round (Floyd, 1962)."""
    rows = [list(row) for row in costs]
    for via, onward in enumerate(rows):
        for row in rows:
            _by_way_of(row, via, onward)
    return tuple(map(tuple, rows))


def _by_way_of(row: list[int], via: int, onward: Sequence[int]) -> None:
    """Make the costs of going somewhere no dearer than by way of another place."""
    out = row[via]
    row[:] = [min(cost, out + on) for cost, on in zip(row, onward, strict=True)]
