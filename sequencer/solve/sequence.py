"""One dial, one value for each lot, a change-over table: the sequential ordering problem, by dynamic programming.

The states are those of M. Held and R. M. Karp, A dynamic programming approach to sequencing problems, J. SIAM
10(1), 1962: the set of lots done and the lot made last. Sets that precedence forbids never arise, so the denser
the precedence the fewer the states. The problem is that of L. F. Escudero, An inexact algorithm for the
sequential ordering problem, European J. Operational Research 37(2), 1988.

What is left is bounded by the cheapest walk that takes each step within the places precedence leaves a lot, may
come to a lot again (though not at once), and pays a price for each lot it comes to; the prices are raised on
lots it comes to too often and lowered on those it leaves out (N. Christofides, A. Mingozzi, P. Toth, State-space
relaxation procedures for the computation of bounds to routing problems, Networks 11(2), 1981). Exchanges of
neighbouring stretches improve the plan (L. M. Gambardella, M. Dorigo, An ant colony system hybridized with a new
local search for the sequential ordering problem, INFORMS J. Computing 12(3), 2000). All titles from memory.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable
from contextlib import suppress
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from sequencer.solve.price import price
from sequencer.solve.problem import Impossible, Limits, Outcome, Problem, Progress, Reason
from sequencer.solve.relation import bits, relation_of
from sequencer.solve.search import Clock, Stopped

MOST_LOTS = 300
"""Lots beyond which the bounds cost more time than they save."""

MOST_STATES = 4_000_000
"""States in memory at once; a wider sweep is not begun."""

SCALE = 64
"""Parts of a cost unit in which prices are whole numbers."""

FAR = 1 << 50
"""More than any cost."""

ROUNDS = 300
"""Times the prices are changed."""

Costs = npt.NDArray[np.int64]


def applies(problem: Problem) -> bool:
    """Whether the problem is one sequencing dial and nothing else that costs.

    No choices, mates or wishes; one dial kept for good, named by every lot, each at one value and few at the
    same; moves that depend on where they start, none missing between values wanted; all else free.
    """
    if problem.choices or problem.mates or problem.wishes or not 2 <= len(problem.lots) <= MOST_LOTS:
        return False
    dear = [d for d, dial in enumerate(problem.dials) if any(dial.first) or any(map(any, dial.move))]
    if len(dear) != 1 or not problem.dials[dear[0]].keeps:
        return False
    dial = problem.dials[dear[0]]
    for lot in problem.lots:
        for d, need in lot.needs.items():
            if d != dear[0] and (not need.reach or any(None in row for row in problem.dials[d].move)):
                return False
        mine = lot.needs.get(dear[0])
        if mine is None or mine.reach != mine.stay or mine.reach.bit_count() != 1:
            return False
    wanted = {lot.needs[dear[0]].reach.bit_length() - 1 for lot in problem.lots}
    start = set() if dial.start is None else {dial.start}
    if 4 * len(wanted) < 3 * len(problem.lots):
        return False
    if any(dial.move[a][b] is None for a in wanted | start for b in wanted if a != b):
        return False
    return any(len({dial.move[a][b] for a in wanted if a != b}) > 1 for b in wanted)


def sequence(
    problem: Problem, limits: Limits, progress: Callable[[Progress], None], stop: Callable[[], bool]
) -> Outcome | Impossible:
    """The cheapest order of a problem this module `applies` to, proven unless time, memory or `stop` forbid.

    The sweep over all sets is first narrow, keeping the most promising states of each size, then ever wider,
    until nothing that could be cheaper is left out.
    """
    clock = Clock(limits.seconds, stop)
    relation = relation_of(problem)
    if isinstance(relation, Impossible):
        return relation
    run = Sequencing(problem, relation.before, relation.after, clock, progress)
    with suppress(Stopped, MemoryError):
        run.prove()
    return run.outcome()


class Sequencing:
    """One run: the best order and bound so far, in cost units without the work."""

    def __init__(
        self,
        problem: Problem,
        before: tuple[int, ...],
        after: tuple[int, ...],
        clock: Clock,
        progress: Callable[[Progress], None],
    ) -> None:
        self.problem, self.clock, self.progress = problem, clock, progress
        self.before, self.after = before, after
        self.lots = range(len(problem.lots))
        self.work = sum(lot.work for lot in problem.lots)
        self.dial, self.enter, self.cost = _table(problem)
        self.order = self._nearest()
        self.least = self._cost_of(self.order)
        self.bound = 0
        self._told = -1.0

    def prove(self) -> None:
        """Better the first plan, find the prices, then sweep until the sweep leaves nothing out."""
        self._take(self.order)
        self._set_prices()
        width = 200
        while self.bound < self.least and width * len(self.lots) <= 64 * MOST_STATES:
            left_out = self._sweep(width)
            if left_out is None:
                return  # memory: what a wider sweep would need
            self._raise_bound(min(left_out, self.least))
            width *= 8

    def outcome(self) -> Outcome:
        """The best order with what is proven of it."""
        priced = price(self.problem, tuple(self.order))
        assert priced is not None
        bound = min(self.bound + self.work, priced.cost)
        why = "changing from each value needed to the next costs that much in any order the work allows"
        label = self.problem.dials[self.dial].label
        return Outcome(
            order=tuple(self.order),
            options=(),
            cost=priced.cost,
            bound=bound,
            seconds=self.clock.seconds,
            engine="sequence",
            interrupted=self.clock.by_hand,
            reasons=(Reason((label,), bound - self.work, why),) if bound > self.work else (),
        )

    def _nearest(self) -> list[int]:
        """An order to begin with: always the cheapest lot that may come next."""
        order: list[int] = []
        done = 0
        while len(order) < len(self.lots):
            ready = [b for b in self.lots if not done >> b & 1 and not self.before[b] & ~done]
            row = self.cost[order[-1]] if order else self.enter
            order.append(min(ready, key=lambda b: (row[b], b)))
            done |= 1 << order[-1]
        return order

    def _cost_of(self, order: list[int]) -> int:
        return self.enter[order[0]] + sum(self.cost[a][b] for a, b in pairwise(order))

    def _take(self, order: list[int]) -> None:
        """Exchange stretches while that pays, and keep the order if it is the best."""
        while (better := self._exchange(order)) is not None:
            order = better
        cost = self._cost_of(order)
        if cost < self.least or self.order is order:
            self.least, self.order = cost, order
            self._news(force=True)

    def _exchange(self, order: list[int]) -> list[int] | None:
        """The best order that comes from exchanging two neighbouring stretches, if any is cheaper."""
        cost, count = self.cost, len(order)
        best, found = 0, None
        for i in range(count):
            self.clock.tick()
            into = self.enter if i == 0 else cost[order[i - 1]]
            held = 0  # what must come after the first stretch
            for j in range(i + 1, count):
                held |= self.after[order[j - 1]]
                head, tail, row = order[i], order[j - 1], into[order[j]]
                saved = into[head] + cost[tail][order[j]]
                for k in range(j + 1, count + 1):
                    last = order[k - 1]
                    if held >> last & 1:
                        break
                    gain = saved - row - cost[last][head]
                    if k < count:
                        gain += cost[last][order[k]] - cost[tail][order[k]]
                    if gain > best:
                        best, found = gain, (i, j, k)
        if found is None:
            return None
        i, j, k = found
        return order[:i] + order[j:k] + order[i:j] + order[k:]

    def _set_prices(self) -> None:
        """Prices under which the cheapest walk costs most, and what each place and lot leaves to pay."""
        count = len(self.lots)
        first = [mask.bit_count() for mask in self.before]
        last = [count - 1 - mask.bit_count() for mask in self.after]
        fits = np.array([[first[b] <= k <= last[b] for b in self.lots] for k in self.lots])
        arcs = np.array(self.cost, dtype=np.int64) * SCALE
        enter = np.array(self.enter, dtype=np.int64) * SCALE
        for a in self.lots:
            arcs[a, a] = FAR
            for b in bits(self.before[a]):
                arcs[a, b] = FAR
            for b in bits(self.after[a]):
                if self.after[a] & self.before[b]:
                    arcs[a, b] = FAR  # some lot must come between
        prices = np.zeros(count, dtype=np.int64)
        top, pace, idle = -FAR, 1.0, 0
        for _ in range(ROUNDS):
            rest, total, visits = self._walk(arcs - prices, enter - prices, fits)
            value = total + int(prices.sum())
            if value > top:
                top, idle = value, 0
                self.prices, self.rest = prices, rest
                self._raise_bound(min(-(-top // SCALE), self.least))
            else:
                idle += 1
                if idle == 8:
                    pace, idle = pace / 2, 0
            off = 1 - visits
            size = int((off * off).sum())
            if size == 0 or self.bound >= self.least or pace < 0.005:
                break
            step = pace * max(1.05 * self.least * SCALE - value, SCALE) / size
            prices = prices + np.rint(step * off).astype(np.int64)

    def _walk(
        self, arcs: Costs, enter: Costs, fits: npt.NDArray[np.bool_]
    ) -> tuple[list[list[int]], int, npt.NDArray[np.int64]]:
        """The cheapest walk: what is left to pay at each place from each lot, its cost, and its visits.

        It never returns to a lot at once: each lot knows its best way on, and the best by another next lot.
        """
        count = len(enter)
        lots = np.arange(count)
        rest = np.zeros((count, count), dtype=np.int64)
        follow = np.zeros((count, count), dtype=np.int64)
        other = np.zeros((count, count), dtype=np.int64)
        rest[-1] = np.where(fits[-1], 0, FAR)
        second = rest[-1]
        for k in range(count - 2, -1, -1):
            self.clock.tick()
            onward = arcs + rest[k + 1]
            if k < count - 2:
                back = follow[k + 1]
                onward[back, lots] = arcs[back, lots] + second
            follow[k] = onward.argmin(axis=1)
            rest[k] = np.where(fits[k], np.minimum(onward[lots, follow[k]], FAR), FAR)
            onward[lots, follow[k]] = 2 * FAR
            other[k] = onward.argmin(axis=1)
            second = np.where(fits[k], np.minimum(onward[lots, other[k]], FAR), FAR)
        at, came = int((enter + rest[0]).argmin()), -1
        total = int(enter[at] + rest[0][at])
        visits = np.zeros(count, dtype=np.int64)
        for k in range(count):
            visits[at] += 1
            onto = int(follow[k][at])
            at, came = (int(other[k][at]) if onto == came else onto), at
        return rest.tolist(), total, visits

    def _sweep(self, width: int) -> int | None:
        """All sets by size, at most `width` states of each; the least that a state left out could have led to.

        None when there is no room for so many states. A state (set, last) has one set it can come from, so
        each is reached once, with its least cost.
        """
        prices, rest, tick = self.prices.tolist(), self.rest, self.clock.tick
        given = sum(prices)
        into = [[SCALE * row[b] - prices[b] for row in self.cost] for b in self.lots]
        limit = SCALE * (self.least - 1) - given  # only what is cheaper than the best is of use
        start = {1 << b: {b: SCALE * self.enter[b] - prices[b]} for b in self.lots if not self.before[b]}
        layers, states, left_out = [start], len(start), FAR
        for k in range(1, len(self.lots)):
            place = rest[k]
            ready = [(b, 1 << b, self.before[b], into[b], place[b]) for b in self.lots if place[b] < FAR // 2]
            reached: dict[int, dict[int, int]] = {}
            promises: list[int] = []
            for done, lasts in layers[-1].items():
                tick()
                for b, bit, before, column, onward in ready:
                    if done & bit or before & ~done:
                        continue
                    cost = min([paid + column[a] for a, paid in lasts.items()])
                    if cost + onward <= limit:
                        reached.setdefault(done | bit, {})[b] = cost
                        promises.append(cost + onward)
                if states + len(promises) > MOST_STATES:
                    return None
            promises.sort()
            if promises:
                # the best order not left out so far goes through one of these
                self._raise_bound(min(self.least, -(-(min(left_out, promises[0]) + given) // SCALE)))
            if len(promises) > width:
                cut = promises[width]
                left_out = min(left_out, cut)
                reached = _most_promising(reached, place, cut, width - bisect_left(promises, cut))
            states += sum(map(len, reached.values()))
            layers.append(reached)
            if not reached:
                break
        if layers[-1] and len(layers) == len(self.lots):
            self._take(self._trace(layers, into))
        return self.least if left_out == FAR else -(-(left_out + given) // SCALE)

    def _trace(self, layers: list[dict[int, dict[int, int]]], into: list[list[int]]) -> list[int]:
        """The order that leads to the cheapest state of the last layer."""
        ((done, lasts),) = layers[-1].items()
        paid, last = min((paid, last) for last, paid in lasts.items())
        order = [last]
        for layer in reversed(layers[:-1]):
            done ^= 1 << last
            paid, last = next((p, a) for a, p in layer[done].items() if p + into[last][a] == paid)
            order.append(last)
        return order[::-1]

    def _raise_bound(self, bound: int) -> None:
        if bound > self.bound:
            self.bound = bound
            self._news()

    def _news(self, force: bool = False) -> None:
        """Tell of a better plan, and a few times a second of a better bound."""
        seconds = self.clock.seconds
        if force or seconds - self._told > 0.3:
            self._told = seconds
            self.progress(Progress(seconds, self.least + self.work, self.bound + self.work))


def _table(problem: Problem) -> tuple[int, list[int], list[list[int]]]:
    """The dial that costs, what each lot costs as the first, and what it costs after each other lot."""
    index = next(d for d, dial in enumerate(problem.dials) if any(dial.first) or any(map(any, dial.move)))
    dial = problem.dials[index]
    value = [lot.needs[index].reach.bit_length() - 1 for lot in problem.lots]

    def move(a: int, b: int) -> int:
        paid = 0 if a == b else dial.move[a][b]
        assert paid is not None  # as `applies` has made sure
        return paid

    enter = [dial.first[b] if dial.start is None else move(dial.start, b) for b in value]
    return index, enter, [[move(a, b) for b in value] for a in value]


def _most_promising(
    reached: dict[int, dict[int, int]], place: list[int], cut: int, ties: int
) -> dict[int, dict[int, int]]:
    """The states that promise less than `cut`, and the first `ties` of those that promise just that."""
    kept: dict[int, dict[int, int]] = {}
    for done, lasts in reached.items():
        for b, paid in lasts.items():
            over = paid + place[b] - cut
            if over == 0:
                ties -= 1
            if over < 0 or (over == 0 and ties >= 0):
                kept.setdefault(done, {})[b] = paid
    return kept
