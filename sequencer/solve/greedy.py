"""A quick plan, to start the other engines from: a narrow beam of orders, grown one decision at a time.

Every lot that changes nothing is made at once; what is left to decide is which lot comes next where
something must be paid. Partial orders are ranked by their cost so far plus, for each dial, the cheapest
move to every value that some remaining lot insists on. Choices are settled as late as possible: making a
lot takes the options that name it, and making one whose predecessor stands open gives up the options that
name the predecessor.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from sequencer.solve.price import price
from sequencer.solve.problem import Outcome, Problem
from sequencer.solve.standing import Standings

WIDTHS = (1, 8, 64, 512)
"""Beam widths tried in turn while no plan is found (mates can lead a narrow beam into dead ends)."""


@dataclass(frozen=True, slots=True)
class _Partial:
    """A partial order: cost, what is done (a mask), where the work is, how the dials stand, options open."""

    cost: int
    rank: int
    done: int
    station: int | None
    standing: tuple[int, ...]
    options: tuple[int, ...]
    parent: _Partial | None
    lots: tuple[int, ...]

    def order(self) -> tuple[int, ...]:
        """All lots made so far."""
        chain: list[tuple[int, ...]] = []
        node: _Partial | None = self
        while node is not None:
            chain.append(node.lots)
            node = node.parent
        return tuple(lot for lots in reversed(chain) for lot in lots)


def greedy(problem: Problem, width: int = 8, stop: Callable[[], bool] = lambda: False) -> Outcome | None:
    """A plan from a beam of this width; None if the beam dies out (mates) or is stopped. Its bound is 0."""
    beam = _Beam(problem)
    best: _Partial | None = None
    front = [beam.root()]
    while front and not stop():
        grown: dict[tuple[object, ...], _Partial] = {}
        for node in front:
            if stop():
                return _outcome(beam, best)
            for child in beam.children(node):
                if best is not None and child.cost >= best.cost:
                    continue
                if beam.complete(child):
                    best = child
                    continue
                key = (child.done, child.station, child.standing, child.options)
                if key not in grown or child.cost < grown[key].cost:
                    grown[key] = child
        front = sorted(grown.values(), key=lambda node: (node.rank, node.cost, node.done))[:width]
    if beam.complete(beam.root()):
        best = beam.root()
    return _outcome(beam, best)


def _outcome(beam: _Beam, best: _Partial | None) -> Outcome | None:
    """The complete order as an outcome."""
    if best is None:
        return None
    order = best.order()
    priced = price(beam.problem, order)
    assert priced is not None
    return Outcome(order=order, options=beam.taken(best), cost=priced.cost, bound=0, engine="greedy")


def quick_plan(problem: Problem, stop: Callable[[], bool] = lambda: False) -> Outcome | None:
    """A plan from the narrowest beam that finds one and the next wider one; None if none of `WIDTHS` does."""
    best: Outcome | None = None
    for width in WIDTHS:
        found = greedy(problem, width, stop)
        last = best is not None
        if found is not None and (best is None or found.cost < best.cost):
            best = found
        if last or stop() or len(problem.lots) * width > 20_000:
            break
    return best


class _Beam:
    """The problem, prepared for growing orders."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        lots = range(len(problem.lots))
        self.standings = [Standings(dial) for dial in problem.dials]
        self.before = [0] * len(problem.lots)
        for a, b in problem.precedence:
            self.before[b] |= 1 << a
        self.choice_of: dict[int, int] = {}  # lot -> its choice
        self.naming: dict[int, int] = {}  # lot -> mask of the options that name it
        for c, choice in enumerate(problem.choices):
            for o, option in enumerate(choice):
                for lot in option:
                    self.choice_of[lot] = c
                    self.naming[lot] = self.naming.get(lot, 0) | 1 << o
        self.always = sum(1 << lot for lot in lots if lot not in self.choice_of)
        self.options = [[_mask(option) for option in choice] for choice in problem.choices]
        self.groups = [(_mask(group.lots), group.held) for group in problem.mates]
        self.wishes: dict[int, list[tuple[int, int]]] = {}  # lot -> (lot better made later, price)
        for wish in problem.wishes:
            self.wishes.setdefault(wish.before, []).append((wish.after, wish.price))
        self.wished = {lot for wish in problem.wishes for lot in (wish.before, wish.after)}
        self.working = [n for n in lots if problem.lots[n].work]
        self.known_certain: dict[tuple[int, ...], int] = {}
        self.insisted = self._insisted()

    def _insisted(self) -> list[list[tuple[int, int, int]]]:
        """For each dial and value: the lots made only at that value, the value, the cheapest move to it."""
        table = []
        for d, dial in enumerate(self.problem.dials):
            rows = []
            for v in range(dial.values):
                lots = [
                    n
                    for n, lot in enumerate(self.problem.lots)
                    if d in lot.needs and lot.needs[d].stay == 1 << v
                ]
                paid = [row[v] for u, row in enumerate(dial.move) if u != v]
                if lots:
                    rows.append(
                        (_mask(lots), 1 << v, min([dial.first[v], *(p for p in paid if p is not None)]))
                    )
            table.append(rows)
        return table

    def root(self) -> _Partial:
        """Nothing made yet."""
        options = tuple((1 << len(choice)) - 1 for choice in self.problem.choices)
        return _Partial(0, 0, 0, None, tuple(s.start for s in self.standings), options, None, ())

    def complete(self, node: _Partial) -> bool:
        """Whether every lot is made that must be, under some option of every choice."""
        return not self.always & ~node.done and all(
            any(open_ >> o & 1 and not lots & ~node.done for o, lots in enumerate(choice))
            for open_, choice in zip(node.options, self.options, strict=True)
        )

    def taken(self, node: _Partial) -> tuple[int, ...]:
        """The option each choice has taken, once complete."""
        return tuple(
            next(o for o, lots in enumerate(choice) if open_ >> o & 1 and not lots & ~node.done)
            for open_, choice in zip(node.options, self.options, strict=True)
        )

    def children(self, node: _Partial) -> Iterator[_Partial]:
        """The partial orders one decision further, each with all lots made that then change nothing."""
        certain = self._certain(node.options)
        for lot in range(len(self.problem.lots)):
            if not node.done >> lot & 1:
                for child in self._make(node, lot, certain):
                    yield self._make_free(child)

    def _certain(self, options: tuple[int, ...]) -> int:
        """The lots made under every combination of the open options."""
        if options in self.known_certain:
            return self.known_certain[options]
        certain = self.always
        for open_, choice in zip(options, self.options, strict=True):
            common = -1
            for o, lots in enumerate(choice):
                if open_ >> o & 1:
                    common &= lots
            certain |= common
        self.known_certain[options] = certain
        return certain

    def _without(self, options: tuple[int, ...], lots: int) -> tuple[int, ...] | None:
        """The options left when none of these lots is made; None if one of them must be."""
        if lots & self.always:
            return None
        left = list(options)
        while lots:
            lot = lots.bit_length() - 1
            lots ^= 1 << lot
            left[self.choice_of[lot]] &= ~self.naming[lot]
        return tuple(left) if all(left) else None

    def _make(self, node: _Partial, lot: int, certain: int) -> Iterator[_Partial]:
        """The ways to make this lot next: with open groups of mates kept open, and with them given up."""
        options: tuple[int, ...] | None = node.options
        if lot in self.choice_of:
            left = list(node.options)
            left[self.choice_of[lot]] &= self.naming[lot]
            if not left[self.choice_of[lot]]:
                return
            options = tuple(left)
        missing = self.before[lot] & ~node.done
        if missing and (missing & certain or (options := self._without(options or (), missing)) is None):
            return
        assert options is not None
        for settled, held in self._holding(node, lot, [(options, frozenset())]):
            yield from self._step(node, lot, settled, held)

    def _holding(
        self, node: _Partial, lot: int, ways: list[tuple[tuple[int, ...], frozenset[int]]]
    ) -> list[tuple[tuple[int, ...], frozenset[int]]]:
        """The open options and the dials held at this lot; a group that may be over is taken both ways."""
        for members, dials in self.groups:
            if not members & node.done:
                continue
            rest = members & ~node.done & ~(1 << lot)
            now = []
            for options, held in ways:
                over = options if not rest else self._without(options, rest)
                if members >> lot & 1 or rest:
                    now.append((options, held | dials))
                if not members >> lot & 1 and over is not None:
                    now.append((over, held))
            ways = now
        return ways

    def _step(
        self, node: _Partial, lot: int, options: tuple[int, ...], held: frozenset[int]
    ) -> Iterator[_Partial]:
        """The partial order with this lot made next, if the dials allow it."""
        made = self.problem.lots[lot]
        standing = list(node.standing)
        cost = node.cost + made.work
        if node.station is not None and node.station != made.station:
            cost += self.problem.walk[node.station][made.station]
            for d, dial in enumerate(self.problem.dials):
                if not dial.keeps and dial.station == node.station:
                    if d in held:
                        return
                    standing[d] = self.standings[d].nothing
        for d, need in made.needs.items():
            after = self.standings[d].step(standing[d], need, d in held)
            if after is None:
                return
            standing[d], paid = after
            cost += paid
        cost += sum(paid for later, paid in self.wishes.get(lot, ()) if node.done >> later & 1)
        done = node.done | 1 << lot
        rank = cost + self._ahead(done, tuple(standing), options)
        yield _Partial(cost, rank, done, made.station, tuple(standing), options, node, (lot,))

    def _ahead(self, done: int, standing: tuple[int, ...], options: tuple[int, ...]) -> int:
        """What is certainly still to be paid, roughly: work, and one move to each value insisted on."""
        rest = self._certain(options) & ~done
        cost = 0
        for d, rows in enumerate(self.insisted):
            for lots, value, paid in rows:
                if rest & lots and not self.standings[d].accepts(standing[d], value):
                    cost += paid
        return cost + sum(self.problem.lots[lot].work for lot in self.working if rest >> lot & 1)

    def _make_free(self, node: _Partial) -> _Partial:
        """Make every lot that costs nothing beyond its work and settles nothing."""
        mates = 0
        for members, _ in self.groups:
            mates |= members
        done, made = node.done, list(node.lots)
        work = 0
        found = True
        while found:
            found = False
            for n, lot in enumerate(self.problem.lots):
                if (
                    not done >> n & 1
                    and lot.station == node.station
                    and self.always >> n & 1
                    and not mates >> n & 1
                    and n not in self.wished
                    and not self.before[n] & ~done
                    and all(
                        self.standings[d].step(node.standing[d], need, held) == (node.standing[d], 0)
                        for d, need in lot.needs.items()
                        for held in (
                            False,
                            True,
                        )  # True: moving early may pay, for a mate
                    )
                ):
                    done |= 1 << n
                    made.append(n)
                    work += lot.work
                    found = True
        return _Partial(
            node.cost + work,
            node.rank,
            done,
            node.station,
            node.standing,
            node.options,
            node.parent,
            tuple(made),
        )


def _mask(lots: object) -> int:
    """A bit mask of these indices."""
    mask = 0
    for lot in lots:  # type: ignore[attr-defined]
        mask |= 1 << lot
    return mask
