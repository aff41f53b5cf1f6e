"""A visit: mates with all that must come between them, in an order that moves nothing they hold."""

from __future__ import annotations

from typing import Protocol

from sequencer.solve.plans.standing import Standings
from sequencer.solve.problem import FAR, Need, Problem
from sequencer.solve.relation import bits

TRIES = 400
"""Lots tried in all for one visit."""

NONE_HELD: frozenset[int] = frozenset()

Visit = list[tuple[int, frozenset[int]]]
"""Lots in order, each with the dials that mates hold when it comes."""


class LaidOut(Protocol):
    """The problem as a visit is planned on it: see `dive.Diver`."""

    problem: Problem
    standings: list[Standings]
    before: list[int]
    groups: list[tuple[int, frozenset[int]]]
    forgetful: list[list[int]]
    asked: list[list[tuple[int, int]]]
    needs: list[list[Need]]


class Visiting:
    """An order of a few lots that finishes every group of mates it opens, looked for depth first."""

    def __init__(self, laid_out: LaidOut, station: int, standing: list[int], lots: int) -> None:
        self.laid_out, self.before = laid_out, {lot: laid_out.before[lot] & lots for lot in bits(lots)}
        self.groups = [(mates & lots, held) for mates, held in laid_out.groups if mates & lots]
        self.station, self.standing, self.lots = station, standing, lots
        self.tries = TRIES

    def begin(self, lot: int) -> Visit | None:
        """The visit that this lot begins."""
        found: Visit = []
        return found if self._go(lot, self.lots, self.station, self.standing, found) else None

    def _go(self, lot: int, left: int, station: int, standing: list[int], found: Visit) -> bool:
        """Make this lot, then the others."""
        self.tries -= 1
        held = NONE_HELD
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
        station = self.laid_out.problem.lots[lot].station
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
        stepped = self._step(lot, station, standing, NONE_HELD)
        return FAR if stepped is None else stepped[0]

    def _step(
        self, lot: int, station: int, standing: list[int], held: frozenset[int]
    ) -> tuple[int, list[int]] | None:
        """What the lot adds and how the dials stand then; None if a dial held would have to move or be lost."""
        laid_out = self.laid_out
        here = laid_out.problem.lots[lot].station
        cost, after = 0, standing
        if here != station and station >= 0:
            cost = laid_out.problem.walk[station][here]
            after = list(after)
            for d in laid_out.forgetful[station]:
                if d in held:
                    return None
                after[d] = laid_out.standings[d].nothing
        for d, n in laid_out.asked[lot]:
            step = laid_out.standings[d].step(after[d], laid_out.needs[d][n], d in held)
            if step is None:
                return None
            cost += step[1]
            if step[0] != after[d]:
                after = after if after is not standing else list(standing)
                after[d] = step[0]
        return cost, after
