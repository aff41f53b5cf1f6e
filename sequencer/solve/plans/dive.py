"""A first plan in no time, at any size: one order, grown by what costs least next, never taken back.

Options are decided first, so what is left has no choices. Every lot that changes nothing is made at once. Then
the lot is made that adds least to the cost so far plus, for each dial, the cheapest move to every value that some
lot left insists on. Lots of the same needs at the same station are one *kind*, and what a need adds is kept per
dial until the dial moves, so a step costs a few sums per kind.

A group of mates is opened only with the whole visit in hand: its lots and all that must come between them, in an
order found by trying, which is then made as one. So no group is ever left open, and no rule of mates is bent.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from sequencer.solve.plans.openings import Openings
from sequencer.solve.plans.standing import Standings
from sequencer.solve.plans.visit import NONE_HELD, Visit, Visiting
from sequencer.solve.problem import FAR, Need, Problem
from sequencer.solve.relation import bits, mask_of


@dataclass
class _Place:
    """How one dial stands, and what each need of it would add."""

    standing: int
    adds: list[int]
    left: list[int]  # for each value, how many lots left insist on it
    stale: bool = True


@dataclass
class _Run:
    """An order growing. `waiting`: lots still to come before each lot; `ready`: by kind, those that wait for none."""

    left: int
    waiting: list[int]
    places: list[_Place]
    ready: dict[int, list[int]] = field(default_factory=dict)
    order: list[int] = field(default_factory=list)
    station: int = -1
    parties: dict[int, tuple[int, int]] = field(default_factory=dict)


class Diver:
    """A problem, prepared for many dives that differ in the options taken."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        count = len(problem.lots)
        self.standings = [Standings(dial) for dial in problem.dials]
        self.before, self.after = [0] * count, [0] * count
        for a, b in problem.precedence:
            self.after[a] |= 1 << b
            self.before[b] |= 1 << a
        self.groups = [(mask_of(group.lots), group.held) for group in problem.mates]
        self.groups_of: dict[int, list[int]] = {}
        for g, group in enumerate(problem.mates):
            for lot in group.lots:
                self.groups_of.setdefault(lot, []).append(g)
        self.broken: dict[int, list[tuple[int, int]]] = {}  # lot -> lots wished before it, with their price
        for wish in problem.wishes:
            self.broken.setdefault(wish.after, []).append((wish.before, wish.price))
        self.forgetful = [
            [d for d, dial in enumerate(problem.dials) if dial.station == s and not dial.keeps]
            for s in range(len(problem.walk))
        ]
        self.openings = Openings(problem, self.standings)
        self.tail = self._tails()
        self._number_needs()
        self._number_kinds()

    def _tails(self) -> list[int]:
        """For each lot, how many lots the longest row has that must come after it; 0 in a circle."""
        tails = [0] * len(self.after)
        waiting = [after.bit_count() for after in self.after]
        ready = [lot for lot, count in enumerate(waiting) if not count]
        while ready:
            lot = ready.pop()
            for earlier in bits(self.before[lot]):
                tails[earlier] = max(tails[earlier], tails[lot] + 1)
                waiting[earlier] -= 1
                if not waiting[earlier]:
                    ready.append(earlier)
        return tails

    def _number_needs(self) -> None:
        self.needs: list[list[Need]] = [[] for _ in self.problem.dials]
        number: list[dict[Need, int]] = [{} for _ in self.problem.dials]
        self.asked: list[list[tuple[int, int]]] = []  # per lot: dial and number of the need
        self.insists: list[list[tuple[int, int]]] = []  # per lot: dial and the one value accepted
        for lot in self.problem.lots:
            asked, insists = [], []
            for d, need in sorted(lot.needs.items()):
                asked.append((d, number[d].setdefault(need, len(number[d]))))
                if need.stay and not need.stay & (need.stay - 1):
                    insists.append((d, need.stay.bit_length() - 1))
            self.asked.append(asked)
            self.insists.append(insists)
        for d, found in enumerate(number):
            self.needs[d] = list(found)
        self.paid = []  # per dial and value, the cheapest move to it
        for dial in self.problem.dials:
            columns = range(dial.values)
            moves = [
                [cost for a in columns if a != b and (cost := dial.move[a][b]) is not None] for b in columns
            ]
            self.paid.append([min([dial.first[b], *moves[b]]) for b in columns])

    def _number_kinds(self) -> None:
        """Lots of one station and the same needs are one kind; those that mates or wishes bind are each of
        their own.
        """
        number: dict[tuple[object, ...], int] = {}
        self.kind: list[int] = []
        self.special = mask_of(list(self.groups_of)) | mask_of(list(self.broken))
        for n, lot in enumerate(self.problem.lots):
            own = n if self.special >> n & 1 else -1
            self.kind.append(number.setdefault((lot.station, tuple(self.asked[n]), own), len(number)))
        self.kinds: list[tuple[int, list[tuple[int, int]], bool]] = [(0, [], False)] * len(number)
        for n, lot in enumerate(self.problem.lots):
            self.kinds[self.kind[n]] = (lot.station, self.asked[n], bool(self.special >> n & 1))

    def dive(
        self, options: tuple[int, ...], stop: Callable[[], bool] = lambda: False
    ) -> tuple[int, ...] | None:
        """An order under these options; None if it came to a dead end or was stopped."""
        run = self._begin(options)
        strict = True  # open no group while a lot that could come before it is left, and close none
        while run.left:
            self._make_free(run)
            if not run.left:
                break
            if stop():
                return None
            visit = self._next(run, strict)
            if visit is None and not strict:
                return None
            strict = visit is not None
            for lot, held in visit or ():
                self._make(run, lot, held)
        return tuple(run.order)

    def _begin(self, options: tuple[int, ...]) -> _Run:
        made = mask_of(self.problem.made(options))
        places = []
        for d, dial in enumerate(self.problem.dials):
            places.append(_Place(self.standings[d].start, [0] * len(self.needs[d]), [0] * dial.values))
        run = _Run(made, [(before & made).bit_count() for before in self.before], places)
        for lot in bits(made):
            for d, v in self.insists[lot]:
                places[d].left[v] += 1
            if not run.waiting[lot]:
                run.ready.setdefault(self.kind[lot], []).append(lot)
        return run

    def _make_free(self, run: _Run) -> None:
        """Make every lot that is ready and changes nothing, at the station where the work is."""
        again = True
        while again:
            again = False
            for kind in list(run.ready):
                station, asked, special = self.kinds[kind]
                if special or station != run.station or not all(self._idle(run, d, n) for d, n in asked):
                    continue
                for lot in list(run.ready[kind]):
                    if self.openings.preparing >> lot & 1 and self._closes(run, [(lot, NONE_HELD)]):
                        continue
                    self._make(run, lot, NONE_HELD)
                    again = True

    def _idle(self, run: _Run, d: int, n: int) -> bool:
        """Whether a need neither moves the dial nor narrows where it may stand."""
        standing = run.places[d].standing
        return self.standings[d].step(standing, self.needs[d][n], False) == (standing, 0)

    def _next(self, run: _Run, strict: bool) -> Visit | None:
        """The lots to make next: one, or a visit; None if there is none."""
        for d, place in enumerate(run.places):
            if place.stale:
                self._look(d, place)
        leaving = sum(
            self._ahead(d, run.places[d], self.standings[d].nothing)
            - self._ahead(d, run.places[d], run.places[d].standing)
            for d in (self.forgetful[run.station] if run.station >= 0 else ())
        )
        ranked = []
        for kind, lots in run.ready.items():
            station, asked, special = self.kinds[kind]
            cost = 0
            if station != run.station and run.station >= 0:
                cost = leaving + self.problem.walk[run.station][station]
            for d, n in asked:
                cost += run.places[d].adds[n]
            if special:
                for before, price in self.broken.get(lots[0], ()):
                    cost += price if run.left >> before & 1 else 0
            if cost < FAR // 2:  # all its dials can be moved
                ranked.append((cost, -len(lots) - self.tail[lots[0]], lots[0]))
        if not self.groups:
            return [(min(ranked)[2], NONE_HELD)] if ranked else None
        for _, _, lot in sorted(ranked):
            visit = self._visit(run, lot, strict)
            if visit is not None and not (strict and self.openings and self._closes(run, visit)):
                return visit
        return None

    def _closes(self, run: _Run, visit: Visit) -> bool:
        """Whether mates that are left after these lots can be begun no more."""
        standing = [place.standing for place in run.places]
        station, left = run.station, run.left
        for lot, held in visit:
            if self.problem.lots[lot].station != station:
                for d in self.forgetful[station] if station >= 0 else ():
                    standing[d] = self.standings[d].nothing
                station = self.problem.lots[lot].station
            left ^= 1 << lot
            for d, n in self.asked[lot]:
                after = self.standings[d].step(standing[d], self.needs[d][n], d in held)
                assert after is not None
                standing[d], _ = after
        return self.openings.lost(mask_of(run.order) | run.left ^ left, left, left, standing)

    def _look(self, d: int, place: _Place) -> None:
        """What each need of the dial would add where it stands."""
        now = self._ahead(d, place, place.standing)
        for n, need in enumerate(self.needs[d]):
            after = self.standings[d].step(place.standing, need, False)
            place.adds[n] = FAR if after is None else after[1] + self._ahead(d, place, after[0]) - now
        place.stale = False

    def _ahead(self, d: int, place: _Place, standing: int) -> int:
        """One move to each value insisted on that the dial does not stand at."""
        accepted = self.standings[d].accepted(standing)
        return sum(
            paid
            for v, (left, paid) in enumerate(zip(place.left, self.paid[d], strict=True))
            if left and not accepted >> v & 1
        )

    def _visit(self, run: _Run, lot: int, strict: bool) -> Visit | None:
        """The lot, with all that mates make come with it; None if no order of these was found, or (if `strict`)
        a lot is left that could be made before they are begun.
        """
        members = self._party(run, lot)
        if not members:
            return [(lot, NONE_HELD)]
        if lot not in run.parties:
            run.parties[lot] = self._needed(run, members)
        needed, outer = run.parties[lot]
        if strict and outer & run.left:
            return None
        return Visiting(self, run.station, [place.standing for place in run.places], needed & run.left).begin(
            lot
        )

    def _party(self, run: _Run, lot: int) -> int:
        """The lots left of the groups this lot is one of, where it is not the only one left."""
        members = 0
        for g in self.groups_of.get(lot, ()):
            members |= self.groups[g][0] & run.left
        return members if members != 1 << lot else 0

    def _needed(self, run: _Run, members: int) -> tuple[int, int]:
        """These lots with all lots left that come before one of them, and with their mates and what comes before
        those; and which of all these come after none of the mates.
        """
        needed, todo = members, members
        while todo:
            new = 0
            for lot in bits(todo):
                new |= self.before[lot] & run.left
                party = self._party(run, lot)
                members |= party
                new |= party
            todo = new & ~needed
            needed |= todo
        inner, todo = members, members
        while todo:
            new = 0
            for lot in bits(todo):
                new |= self.after[lot] & needed
            todo = new & ~inner
            inner |= todo
        return needed, needed & ~inner

    def _make(self, run: _Run, lot: int, held: frozenset[int]) -> None:
        station = self.problem.lots[lot].station
        if station != run.station:
            for d in self.forgetful[run.station] if run.station >= 0 else ():
                self._stand(run.places[d], self.standings[d].nothing)
            run.station = station
        run.left ^= 1 << lot
        run.order.append(lot)
        lots = run.ready[self.kind[lot]]
        lots.remove(lot)
        if not lots:
            del run.ready[self.kind[lot]]
        for d, n in self.asked[lot]:
            after = self.standings[d].step(run.places[d].standing, self.needs[d][n], d in held)
            assert after is not None
            self._stand(run.places[d], after[0])
        for d, v in self.insists[lot]:
            place = run.places[d]
            place.left[v] -= 1
            place.stale = place.stale or not place.left[v]
        for later in bits(self.after[lot] & run.left):
            run.waiting[later] -= 1
            if not run.waiting[later]:
                run.ready.setdefault(self.kind[later], []).append(later)

    def _stand(self, place: _Place, standing: int) -> None:
        if place.standing != standing:
            place.standing, place.stale = standing, True
