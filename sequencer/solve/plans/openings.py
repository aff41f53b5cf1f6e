"""Mates that ask for more dials than any one of them names: some must be moved before the first mate is made, by a lot
that does not belong to them. When the last such lot was made, its value must stay until they are begun.

What is said here only ranks what to try: it sees one dial at a time, and takes precedence to hold by way of lots that
may not be made.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from sequencer.solve.plans.standing import Standings
from sequencer.solve.problem import Problem
from sequencer.solve.relation import Direct, bits, mask_of, reached


class Moved(NamedTuple):
    """A dial to be moved beforehand: the values that serve all mates that name it, the lots outside that can move it to
    one, and those before the mates that need another (all masks).
    """

    dial: int
    values: int
    movers: int
    spoilers: int


class Openings:
    """The groups of mates of a problem that a lot outside may have to prepare for."""

    def __init__(self, problem: Problem, standings: Sequence[Standings]) -> None:
        """`standings` of the dials, in which the states asked about are told."""
        self._problem, self._standings = problem, standings
        self._groups = [
            (mask_of(group.lots), group.held)
            for group in problem.mates
            if any(len({d in problem.lots[lot].needs for lot in group.lots}) > 1 for d in group.held)
        ]
        direct = Direct(problem)
        self._later = [lots | reached(direct.after, lots) for lots, _ in self._groups]
        self._earlier = [reached(direct.before, lots) & ~lots for lots, _ in self._groups]
        dials = {d for _, held in self._groups for d in held}
        self.preparing = mask_of([n for n, lot in enumerate(problem.lots) if lot.needs.keys() & dials])
        """The lots that name a dial that must perhaps be moved beforehand: not to be made early, be they free."""
        self._ways: dict[tuple[int, int, int], list[Moved]] = {}

    def __bool__(self) -> bool:
        return bool(self._groups)

    def lost(self, done: int, left: int, certain: int, standing: Sequence[int]) -> bool:
        """Whether some group can be begun no more, as it seems: the lots made, those that may still be, those of them
        that will be whatever is chosen, how the dials stand.
        """
        for g, (lots, _) in enumerate(self._groups):
            mine = lots & certain
            if lots & done or not mine & (mine - 1):
                continue
            ways = (self._way(g, mine, first) for first in bits(lots & left))
            if not any(self._open(way, left, certain, standing) for way in ways):
                return True
        return False

    def _open(self, way: list[Moved], left: int, certain: int, standing: Sequence[int]) -> bool:
        return all(
            each.movers & left
            or (
                self._standings[each.dial].holds(standing[each.dial]) & each.values
                and not each.spoilers & certain
            )
            for each in way
        )

    def _way(self, g: int, mine: int, first: int) -> list[Moved]:
        """The dials to be moved before a group is begun with this lot, where these of it will be made."""
        key = g, mine, first
        if key not in self._ways:
            lots = self._problem.lots
            self._ways[key] = way = []
            for d in sorted(self._groups[g][1] - lots[first].needs.keys()):
                stays = [need.stay for lot in bits(mine) if (need := lots[lot].needs.get(d))]
                if stays:
                    values = -1
                    for stay in stays:
                        values &= stay
                    needs = [(n, lot.needs[d]) for n, lot in enumerate(lots) if d in lot.needs]
                    movers = mask_of([n for n, need in needs if need.reach & values])
                    spoilers = mask_of([n for n, need in needs if not need.stay & values])
                    way.append(Moved(d, values, movers & ~self._later[g], spoilers & self._earlier[g]))
        return self._ways[key]
