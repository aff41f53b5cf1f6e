"""Lots that another one makes room for: taken out, and put back where they cost nothing.

A lot is taken out where in every order there is a place for it at which nothing has to be moved, and where it
never helps the rest to have it elsewhere. Interchangeable lots go this way, lots less particular than a
neighbour of theirs, and chains whose links need the same.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from sequencer.solve.problem import Problem
from sequencer.solve.reduction.making import Making
from sequencer.solve.reduction.passing import first_visit_helps, vain_stations, vain_values
from sequencer.solve.relation import Relation, bits


@dataclass(frozen=True)
class Beside:
    """Lot `lot` is made right after the last of `hosts`, or (not `after`) right before the first of them."""

    lot: int
    hosts: tuple[int, ...]
    after: bool

    def put_back(self, order: list[int]) -> None:
        """Enter the lot in an order of the others."""
        places = [k for k, lot in enumerate(order) if lot in self.hosts]
        order.insert(places[-1] + 1 if self.after else places[0], self.lot)


@dataclass(frozen=True)
class Absorbed:
    """A problem without the lots that others make room for, its relation, the lots kept, where the others go.

    The others are to be put back in the reverse order, as far as they are made. Their work is added to a lot
    made exactly when they are.
    """

    problem: Problem
    relation: Relation
    kept: tuple[int, ...]
    log: tuple[Beside, ...]


def absorb(problem: Problem, relation: Relation) -> Absorbed:
    """Take out the lots that others make room for.

    Let x be a lot and H lots at its station, made whenever x is, that name every dial x names and accept no
    value there that x does not. Let every lot that must come before x be one of H or come before one of H,
    and every lot that must come after x come after all of H. Then x may stand right after the last of H in
    any order of the rest: what must precede it does, it finds every dial at a value it accepts, and nothing
    moves or walks for it. So the rest costs no less than the whole. And the rest costs no more: x accepts only
    values that do not help in passing, is made at a station that does not either, and no dial there starts at a
    value that is better lost (`passing`); so taking x out of its
    place makes nothing dearer; no wish names x; and if x is one of a group of mates, all of H are,
    so that x only comes in at the end of the group, or within it. The same holds with before and after
    exchanged, if x names every dial held by mates that it may then be the first of: what was moved for the
    first of H is moved for x. What was ordered by way of x is said directly afterwards.
    """
    return _Absorbing(problem, relation).result()


class _Absorbing:
    def __init__(self, problem: Problem, relation: Relation) -> None:
        self.problem = problem
        self.relation = relation
        self.before, self.after = relation.before, relation.after
        self.vain = vain_values(problem)
        stations = bits(vain_stations(problem))
        self.left_out = {s for s in stations if not first_visit_helps(problem, s)}
        self.making = Making(problem)
        self.alive = (1 << len(problem.lots)) - 1
        self.succ, self.pred = [0] * len(problem.lots), [0] * len(problem.lots)
        for a, b in problem.precedence:
            self.succ[a] |= 1 << b
            self.pred[b] |= 1 << a
        self.work = [lot.work for lot in problem.lots]
        self.wished = {lot for wish in problem.wishes for lot in (wish.before, wish.after)}
        self.groups = [sum(1 << lot for lot in group.lots) for group in problem.mates]
        self.at = [0] * len(problem.walk)
        self.naming: dict[tuple[int, int], int] = {}  # dial and values accepted -> the lots
        for n, lot in enumerate(problem.lots):
            self.at[lot.station] |= 1 << n
            for d, need in lot.needs.items():
                self.naming[d, need.stay] = self.naming.get((d, need.stay), 0) | 1 << n
        self.content: dict[tuple[int, int], int] = {}  # dial, values -> lots that accept only some of these
        for d, stay in self.naming:
            self.content[d, stay] = 0
            for (e, less), lots in self.naming.items():
                if d == e and not less & ~stay:
                    self.content[d, stay] |= lots
        self.log: list[Beside] = []

    def result(self) -> Absorbed:
        """Take out lots until none is left that can be."""
        todo = [x for x in bits(self.alive) if self._may_go(x)]
        count = -1
        while count != len(self.log):
            count = len(self.log)
            todo = [x for x in todo if not self._absorbed(x)]
        kept = tuple(bits(self.alive))
        if not self.log:
            return Absorbed(self.problem, self.relation, kept, ())
        return Absorbed(self._built(kept), self._related(kept), kept, tuple(self.log))

    def _related(self, kept: tuple[int, ...]) -> Relation:
        """The relation between the lots kept: it holds as before."""
        number = {lot: n for n, lot in enumerate(kept)}

        def renumbered(lots: int) -> int:
            return sum(1 << number[lot] for lot in bits(lots & self.alive))

        return Relation(
            always=renumbered(self.relation.always),
            options=tuple(
                tuple((o, renumbered(lots)) for o, lots in choice) for choice in self.relation.options
            ),
            before=tuple(renumbered(self.before[lot]) for lot in kept),
            after=tuple(renumbered(self.after[lot]) for lot in kept),
        )

    def _may_go(self, x: int) -> bool:
        lot = self.problem.lots[x]
        if x in self.wished or lot.station not in self.left_out:
            return False
        return not any(need.stay & ~self.vain[d] for d, need in lot.needs.items())

    def _may_begin(self, x: int) -> bool:
        """Whether lot x may stand before all others of its mates: a held dial is then moved for x or not at
        all.
        """
        needs = self.problem.lots[x].needs
        return all(group.held <= needs.keys() for group in self.problem.mates if x in group.lots)

    def _absorbed(self, x: int) -> bool:
        """Take lot x out if others make room for it."""
        lot = self.problem.lots[x]
        room = self.alive & self.at[lot.station] & ~(1 << x)
        for d, need in lot.needs.items():
            room &= self.content[d, need.stay]
        for group in self.groups:
            if group >> x & 1:
                room &= group
        if not room:
            return False
        room &= self.making.along(x)
        payers = self.alive & self.making.alike(x) & ~(1 << x) if self.work[x] else -1
        if not room or not payers:
            return False
        for after in (True, False) if self._may_begin(x) else (True,):
            hosts = self._hosts(x, room, after)
            if hosts:
                self._take_out(x, hosts, after)
                if self.work[x]:
                    self.work[next(bits(payers & hosts or payers))] += self.work[x]
                return True
        return False

    def _hosts(self, x: int, room: int, after: bool) -> int:
        """Lots with room for x right after the last of them (or before the first); none if they do not do."""
        behind, ahead = (self.pred[x], self.succ[x]) if after else (self.succ[x], self.pred[x])
        follow, lead = (self.after, self.before) if after else (self.before, self.after)
        room &= ~(ahead | follow[x])
        for s in bits(ahead):
            room &= lead[s]
        hosts = 0
        for p in bits(behind & ~room):
            fitting = follow[p] & room
            if not fitting:
                return 0
            if not fitting & hosts:
                hosts |= fitting & -fitting
        hosts |= behind & room
        return hosts or room & -room

    def _take_out(self, x: int, hosts: int, after: bool) -> None:
        bit = 1 << x
        before, behind = self.pred[x], self.succ[x]
        self.alive &= ~bit
        for a in bits(before):
            self.succ[a] &= ~bit
        for b in bits(behind):
            self.pred[b] &= ~bit
        for h in bits(hosts):
            near = (before & ~hosts) & self.before[h], (behind & ~hosts) & self.after[h]
            for a in bits(near[0]):
                self._order(a, h)
            for b in bits(near[1]):
                self._order(h, b)
        self.log.append(Beside(x, tuple(bits(hosts)), after))

    def _order(self, a: int, b: int) -> None:
        self.succ[a] |= 1 << b
        self.pred[b] |= 1 << a

    def _built(self, kept: tuple[int, ...]) -> Problem:
        """The problem of the lots kept: no wish names another lot, and of mates some are always kept."""
        number = {lot: n for n, lot in enumerate(kept)}
        return replace(
            self.problem.part(kept),
            lots=tuple(replace(self.problem.lots[lot], work=self.work[lot]) for lot in kept),
            precedence=tuple((number[a], number[b]) for a in kept for b in bits(self.succ[a])),
        )
