"""A visit: mates with all that must come between them, in an order that moves nothing they hold."""

from __future__ import annotations

from typing import Protocol

from sequencer.solve.problem import Need, Problem
from sequencer.solve.relation import bits
from sequencer.solve.standing import Standings

TRIES = 400
"""Lots tried in all for one visit."""

FAR = 1 << 50
"""More than any cost."""

NOTHING: frozenset[int] = frozenset()

Visit = list[tuple[int, frozenset[int]]]
"""Lots in order, each with the dials that mates hold when it comes."""


class Ground(Protocol):
    """What a visit is planned on: see `dive.Diver`."""

    problem: Problem
    standings: list[Standings]
    before: list[int]
    groups: list[tuple[int, frozenset[int]]]
    forgetful: list[list[int]]
    asked: list[list[tuple[int, int]]]
    needs: list[list[Need]]


class Visiting:
    """An order of a few lots that finishes every group of mates it opens, looked for depth first."""

    def __init__(self, ground: Ground, station: int, standing: list[int], lots: int) -> None:
        self.ground, self.before = ground, {lot: ground.before[lot] & lots for lot in bits(lots)}
        self.groups = [(mates & lots, held) for mates, held in ground.groups if mates & lots]
        self.station, self.standing, self.lots = station, standing, lots
        self.tries = TRIES

    def begin(self, lot: int) -> Visit | None:
        """The visit that this lot begins."""
        found: Visit = []
        return found if self._go(lot, self.lots, self.station, self.standing, found) else None

    def _go(self, lot: int, left: int, station: int, standing: list[int], found: Visit) -> bool:
        """Make this lot, then the others."""
        self.tries -= 1
        held = NOTHING
        for mates, dials in self.groups:
            if mates & left and mates & ~left:
                held |= dials
        stepped = self._step(lot, station, standing, held)
        if stepped is None or self.tries < 0:
            return False
        found.append((lot, held))
        left ^= 1 << lot
        if not left:
            return True
        station = self.ground.problem.lots[lot].station
        ranked = []
        for other in bits(left):
            if not self.before[other] & left:
                ranked.append((self._cost(other, station, stepped[1]), other))
        for _, other in sorted(ranked):
            if self._go(other, left, station, stepped[1], found):
                return True
        found.pop()
        return False

    def _cost(self, lot: int, station: int, standing: list[int]) -> int:
        stepped = self._step(lot, station, standing, NOTHING)
        return FAR if stepped is None else stepped[0]

    def _step(
        self, lot: int, station: int, standing: list[int], held: frozenset[int]
    ) -> tuple[int, list[int]] | None:
        """What the lot adds and how the dials stand then; None if a dial held would have to move or be lost."""
        ground = self.ground
        here = ground.problem.lots[lot].station
        cost, after = 0, standing
        if here != station and station >= 0:
            cost = ground.problem.walk[station][here]
            after = list(after)
            for d in ground.forgetful[station]:
                if d in held:
                    return None
                after[d] = ground.standings[d].nothing
        for d, n in ground.asked[lot]:
            step = ground.standings[d].step(after[d], ground.needs[d][n], d in held)
            if step is None:
                return None
            cost += step[1]
            if step[0] != after[d]:
                after = after if after is not standing else list(standing)
                after[d] = step[0]
        return cost, after
