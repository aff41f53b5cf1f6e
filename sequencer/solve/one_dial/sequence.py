"""Orders in which every cost lies between two neighbours: sweeps over states, bounded by walks with memories.

The way through: `network` (the problem as nodes to visit), `walks` (what is left costs at least so much),
`layers` (the sweep over sets of nodes visited), `compiled/sequencing.py` (the loops of both). The best order and
the bound proven so far are in hand at every moment.

The first plan is bettered by exchanging neighbouring stretches, which turns no stretch round and so keeps the
costs inside (L. M. Gambardella, M. Dorigo, An ant colony system hybridized with a new local search for the
sequential ordering problem, INFORMS J. Computing 12(3), 2000). A better order makes the bounds sharper, since they
speak only of what is cheaper; sharper bounds make the sweeps narrower. So the three take turns, each turn with more
effort: prices and memories of the walks, a sweep, exchanges. Title from memory.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from sequencer.solve.clock import Clock, Stopped
from sequencer.solve.one_dial.network import MOST_COST, Network, dear_dials, has_network, network_of, packed
from sequencer.solve.price import price
from sequencer.solve.problem import Dial, Impossible, Limits, Lot, Need, Outcome, Problem, Progress, Reason
from sequencer.solve.relation import Relation, relation_of

if TYPE_CHECKING:
    from sequencer.solve.one_dial.walks import Walks

MOST_STATES = 60_000_000
"""States a sweep may keep, of all layers together."""

FIRST_WIDTH, WIDER = 500, 8
"""States kept of a layer in the first sweep, and how many times as many in each further one."""

FIRST_STEPS, SHARE = 30_000_000, 50
"""Steps that tables of walks may take in the first turn, and in each further one for each arc the last sweep tried:
a step is so much quicker than an arc that about half of the time goes to either."""

LONGEST = 14
"""Marks that one memory holds at most."""

ROUNDS = 3
"""Rounds of prices for which one table of walks must leave steps."""

FIRST_CLIMB, CLIMB = 150, 25
"""Changes of prices at the beginning, and after memories have grown."""

TIMES, SHAKES = 2, 10
"""Times the best order is bettered in each turn, and shakes for each of its nodes each time."""

MOST_EXCHANGES = 1_000_000_000
"""Exchanges to look at each time, if each shake looked at all."""

AT_ONCE = 40_000_000
"""Exchanges looked at between two looks at the clock, if each shake looked at all."""

REACH = 15
"""Nodes in a stretch exchanged at random, at most."""


def applies(problem: Problem) -> bool:
    """Whether the problem is one for this module: every cost lies between two neighbours, and most differ.

    At one station or without choices, few lots may ask for the same values, and moves must depend on where they
    start: where they do not, the search over patterns is better.
    """
    if not has_network(problem):
        return False
    if problem.choices and len({lot.station for lot in problem.lots}) > 1:
        return True
    dear = dear_dials(problem)
    wanted = {tuple(lot.needs[d].stay for d in dear if d in lot.needs) for lot in problem.lots}
    return 4 * len(wanted) >= 3 * len(problem.lots) and any(_depends(problem, d) for d in dear)


def _depends(problem: Problem, d: int) -> bool:
    """Whether moves of a dial to some value depend on the value they start from."""
    wanted = 0
    for lot in problem.lots:
        wanted |= lot.needs[d].stay if d in lot.needs else 0
    values = [v for v in range(problem.dials[d].values) if wanted >> v & 1]
    return any(len({problem.dials[d].move[a][b] for a in values if a != b}) > 1 for b in values)


def sequence(
    problem: Problem, limits: Limits, progress: Callable[[Progress], None], stop: Callable[[], bool]
) -> Outcome | Impossible:
    """The cheapest order of a problem this module `applies` to, proven unless time, memory or `stop` forbid.

    Raises TimeoutError if not one order was found.
    """
    clock = Clock(limits.seconds, stop)
    relation = relation_of(problem)
    if isinstance(relation, Impossible):
        return relation
    run = Sequencing(problem, relation, clock, progress, limits.seed)
    with suppress(Stopped, MemoryError):
        run.prove()
    return run.outcome()


class Sequencing:
    """One run: the best order and bound so far, in cost units without the work all orders share."""

    def __init__(
        self,
        problem: Problem,
        relation: Relation,
        clock: Clock,
        progress: Callable[[Progress], None],
        seed: int,
    ) -> None:
        self.problem, self.clock, self.progress = problem, clock, progress
        self.network: Network = network_of(problem, relation)
        self.following = packed(self.network.after)
        self.random = np.random.default_rng(abs(seed))
        self.order: list[int] | None = None
        self.least = self.ceiling = self._ceiling()
        self.bound = 0
        self._told = -1.0
        self.prepared = False  # whether nobody need wait for the kernels

    def prove(self) -> None:
        """Turns of exchanges, walks and sweeps, until a sweep drops nothing or memory ends."""
        self._take(self._nearest())
        if not self.prepared:
            _prepare(self.clock.tick)
        from sequencer.solve.one_dial.layers import (
            Sweep,
        )  # compiled kernels are loaded only when an order is asked for
        from sequencer.solve.one_dial.walks import Walks

        self._shake(1, 0)
        walks = Walks(self.network, self.clock.tick, self._raise_bound)
        walks.climb(max(1, min(FIRST_CLIMB, 20 * FIRST_STEPS // (walks.load + 1))), 1.0, self.least)
        count = len(self.network.fits)
        shakes = min(SHAKES * count, MOST_EXCHANGES // count**3)
        width, steps = FIRST_WIDTH, FIRST_STEPS
        while self.bound < self.least:
            self._shake(TIMES, shakes)
            self._draw(walks, steps)
            if self.bound >= self.least:
                return
            walks.drop(self.least)
            sweep = Sweep(walks, self.least, width, MOST_STATES, self.clock.tick, self._raise_bound)
            sweep.run()
            bound = sweep.least
            self._take(sweep.order)
            self._raise_bound(bound)
            if sweep.full:
                return
            width, steps = width * WIDER, max(FIRST_STEPS, SHARE * sweep.tries)

    def _draw(self, walks: Walks, steps: int) -> None:
        """Draw the walks nearer to an order by memories and prices in turn, until the steps are spent."""
        load = steps // (ROUNDS * CLIMB)
        while steps > 0 and self.bound < self.least and walks.remember(LONGEST, load):
            walks.climb(CLIMB, 0.3, self.least)
            steps -= CLIMB * walks.load

    def outcome(self) -> Outcome | Impossible:
        """The best order with what is proven of it; that there is none, if that is proven."""
        if self.order is None and self.bound >= self.ceiling:
            return Impossible("whatever is chosen, some lots must come before each other")
        if self.order is None:
            raise TimeoutError("no order was found in the time given")
        lots = tuple(self.network.lot[b] for b in self.order)
        priced = price(self.problem, lots)
        assert priced is not None
        work = self.network.work
        bound = min(self.bound + work, priced.cost)
        why = "changing from each value needed to the next costs that much in any order the work allows"
        labels = [self.problem.dials[d].label for d in dear_dials(self.problem)]
        if any(map(any, self.problem.walk)):
            labels.append("walking")
        if self.problem.choices:
            labels = []  # options differ in work, too
            why = "no order under any options changes and walks, and works beyond the least, for less"
        return Outcome(
            order=lots,
            options=self._options(lots),
            cost=priced.cost,
            bound=bound,
            seconds=self.clock.seconds,
            engine="sequence",
            interrupted=self.clock.by_hand,
            reasons=(Reason(tuple(labels) if len(labels) <= 4 else (), bound - work, why),)
            if bound > work
            else (),
        )

    def _options(self, lots: tuple[int, ...]) -> tuple[int, ...]:
        """The option each choice takes where these lots are made."""
        made = frozenset(lots)
        return tuple(
            next(o for o, option in enumerate(choice) if option <= made) for choice in self.problem.choices
        )

    def _ceiling(self) -> int:
        """More than any order costs."""
        network = self.network
        dearest = max(network.cost[network.arc].max(initial=0), network.enter[network.fits[0]].max(initial=0))
        return 1 + len(network.fits) * int(dearest)

    def _nearest(self) -> list[int] | None:
        """An order to begin with: always the cheapest node that may come next; None where that leads nowhere."""
        network = self.network
        order: list[int] = []
        stood = np.zeros_like(network.leaves[0])
        for _ in network.fits:
            ready = ~(network.barred & stood).any(axis=1) & ~(network.needs & ~stood).any(axis=1)
            if not ready.any():
                return None
            row = network.cost[order[-1]] if order else network.enter
            order.append(int(np.where(ready, row, 2 * MOST_COST).argmin()))
            stood |= network.leaves[order[-1]]
        return order

    def _take(self, order: list[int] | None) -> None:
        """Keep an order if it is the best."""
        if order is not None and (cost := self._cost_of(order)) < self.least:
            self.least, self.order = cost, order
            self._news(force=True)

    def _cost_of(self, order: list[int]) -> int:
        return int(self.network.enter[order[0]] + self.network.cost[order[:-1], order[1:]].sum())

    def _shake(self, times: int, shakes: int) -> None:
        """Better the best order, so many times, by shaking it and exchanging its stretches."""
        from sequencer.solve.compiled.sequencing import shake

        network = self.network
        for _ in range(times):
            if self.order is None or self.bound >= self.least:
                return
            order, at = np.array(self.order), np.array([-1])
            held = np.empty_like(self.following[:1])
            moved, now, trial = (np.empty_like(order) for _ in range(3))
            places, shares = self._drawn(shakes)
            few = max(1, AT_ONCE // len(order) ** 3)
            fixed = (network.enter, network.cost, self.following)
            try:
                for begin in range(0, max(1, shakes), few):
                    self.clock.tick()
                    some = slice(begin, begin + few)
                    shake(*fixed, order, places[some], shares[some], held, moved, now, trial, at)
            finally:
                self._take(order.tolist())

    def _drawn(self, shakes: int) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.float64]]:
        """Three random exchanges of short stretches for each shake, and the share by which it may be dearer.

        The share is random, below a twentieth at first, and falls to nothing.
        """
        count = len(self.network.fits)
        chance = self.random.random((4, shakes, 3))
        begin = (chance[0] * (count - 1)).astype(np.int64)
        middle = begin + 1 + (chance[1] * np.minimum(REACH, count - begin - 1)).astype(np.int64)
        end = middle + 1 + (chance[2] * np.minimum(REACH, count - middle)).astype(np.int64)
        return np.stack((begin, middle, end), axis=2), 0.05 * chance[3, :, 0] * np.linspace(1, 0, shakes)

    def _raise_bound(self, bound: int) -> None:
        bound = min(bound, self.least)
        if bound > self.bound:
            self.bound = bound
            self._news()

    def _news(self, force: bool = False) -> None:
        """Tell of a better plan, and a few times a second of a better bound."""
        seconds = self.clock.seconds
        if force or seconds - self._told > 0.3:
            self._told = seconds
            work = self.network.work
            best = None if self.order is None else self.least + work
            self.progress(Progress(seconds, best, self.bound + work))


def _prepare(tick: Callable[[], None]) -> None:
    """Have the kernels compiled, the first time on a machine; `tick` may raise meanwhile."""
    from sequencer.solve.compiled import prepare, sequencing

    needed = (sequencing.learn, sequencing.walk_back, sequencing.sift, sequencing.spread, sequencing.shake)
    prepare(needed, __name__, tick)


def warm() -> None:
    """Order a few lots, so that the kernels are compiled and kept."""
    from sequencer.solve.compiled.sequencing import rehash
    from sequencer.solve.one_dial.layers import Sweep
    from sequencer.solve.one_dial.walks import Walks

    values = range(9)
    move = tuple(tuple((7 * a + 5 * b) % 11 + 1 if a != b else 0 for b in values) for a in values)
    lots = tuple(Lot(str(v), 0, {0: Need(1 << v, 1 << v)}) for v in values)
    problem = Problem(lots, (Dial("0", 0, move, (1,) * len(values)),), ((0,),), ((0, 8), (1, 7)))
    run = Sequencing(problem, relation_of(problem), Clock(60.0, lambda: False), lambda news: None, 0)  # type: ignore[arg-type]
    run.prepared = True
    run.prove()
    walks = Walks(run.network, lambda: None, lambda bound: None)
    walks.climb(1, 1.0, run.least)
    walks.drop(2 * run.least)
    Sweep(walks, 2 * run.least, 4, 1000, lambda: None, lambda bound: None).run()
    rehash(np.zeros(4, np.int32), np.zeros((1, 1), np.uint64), np.zeros(1, np.int32), 1)


if __name__ == "__main__":
    warm()
