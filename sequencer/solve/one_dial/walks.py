"""Walks through a network: a lower bound for what is left, by prices and short memories.

A walk takes as many steps as an order and keeps to the places and arcs that precedence leaves, but may come to
a group again. Two things draw it towards an order:

* *prices*: coming to a group earns its price, and all prices are charged once, so orders cost what they did and
  walks that come to dear groups too often cost more (N. Christofides, A. Mingozzi, P. Toth, State-space
  relaxation procedures for the computation of bounds to routing problems, Networks 11(2), 1981);
* *memories*: at each node a walk remembers some of the marks it has left, those in the node's memory that have
  been in every memory since, and obeys what they bar (R. Baldacci, A. Mingozzi, R. Roberti, New route relaxation
  and pricing strategies for the vehicle routing problem, Operations Research 59(5), 2011). Memories begin empty
  and grow where the best walk forgets what it should not have (R. Roberti, A. Mingozzi, Dynamic ng-path
  relaxation for the delivery man problem, Transportation Science 48(3), 2014).

The bound: an order is a walk that never does what its marks bar, whatever of them is remembered, so the cheapest
walk costs no more than the cheapest order, whatever the prices. The same holds from any place on for walks that
begin with the marks that stand. Titles from memory.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import numpy.typing as npt

from sequencer.solve.compiled import FAR_64
from sequencer.solve.compiled.sequencing import learn, sift, walk_back
from sequencer.solve.one_dial.network import SCALE, Costs, Network

Small = npt.NDArray[np.int32]


class Walks:
    """The cheapest walks of a network under the best prices found so far.

    Costs are in parts of a cost unit. `fits` and the arcs shrink as better orders are known: they hold for orders
    that cost less than the limit last given. `load` is the number of steps one table of walks takes. `tell` hears of
    each better bound, in cost units.
    """

    def __init__(self, network: Network, tick: Callable[[], None], tell: Callable[[int], None]) -> None:
        self.network, self.tick, self.tell = network, tick, tell
        self.places, count = network.fits.shape
        self.fits = network.fits.copy()
        self.prices: Costs = np.zeros(self.places, dtype=np.int64)
        self.memories: list[list[int]] = [[] for _ in range(count)]
        self.marks = [_marks(words) for words in network.leaves]
        self.bars = [_marks(words) for words in network.barred]
        self.top = -FAR_64
        self.walk: Small = np.zeros(self.places, dtype=np.int32)
        self._lay(network.arc)

    @property
    def given(self) -> int:
        """All prices together: what each order earns, whichever way it goes."""
        return int(self.prices.sum())

    @property
    def bound(self) -> int:
        """What no order costs less than, in cost units, of those cheaper than the limits given so far."""
        return -(-self.top // SCALE)

    def costs(self, prices: Costs) -> tuple[Costs, Costs]:
        """What each node costs as the first, and each arc, less the price of the group come to."""
        earned = prices[self.network.group]
        return self.network.enter * SCALE - earned, self.paid - earned[self.head]

    def climb(self, rounds: int, pace: float, best: int) -> None:
        """Change the prices up to so many times, towards walks that come to each group once.

        Each time a group's price moves with the times it was missed, and on as before, by steps that would lead
        to the cost `best` of the best order known if the bound were a plane (B. T. Polyak, Minimization of
        unsmooth functionals, 1969); they grow shorter where that does not help.
        """
        prices, idle = self.prices, 0
        way = np.zeros(self.places)
        self.top = -FAR_64
        for _ in range(rounds):
            self.tick()
            cost, walk = self._cheapest(prices)
            if cost > self.top:
                self.top, self.prices, self.walk, idle = cost, prices, walk, 0
                self.tell(self.bound)
            else:
                idle += 1
                if idle == 6:
                    pace, idle = pace / 2, 0
            off = 1 - np.bincount(self.network.group[walk], minlength=self.places)
            if not off.any() or self.bound >= best or pace < 0.01:
                break
            way = off + 0.6 * way
            step = pace * max(1.02 * best * SCALE - cost, SCALE) / max(1.0, float(way @ way))
            prices = prices + np.rint(step * way).astype(np.int64)

    def remember(self, most: int, load: int) -> bool:
        """Let the memories grow where the best walk forgot; whether any grew.

        Where the walk left a mark and later did what it bars, the nodes between are to remember it; the shortest
        such stretches first, as long as no memory holds more than `most` and one table takes at most `load` steps.
        """
        ways = np.diff(self.out) * self.places
        grown = False
        for _, first, last, mark in sorted(self._slips()):
            between = {int(self.walk[k]) for k in range(first + 1, last)}
            wanting = [b for b in between if mark not in self.memories[b]]
            if any(len(self.memories[b]) >= most for b in wanting):
                continue
            self.load += sum(int(ways[b]) << len(self.memories[b]) for b in wanting)
            if self.load > load:
                break
            for b in wanting:
                self.memories[b].append(mark)
                grown = True
        self._lay_memories()
        return grown

    def drop(self, best: int) -> None:
        """Drop places and arcs that no order cheaper than `best` uses, and make the table of walks anew."""
        self._cheapest(self.prices)
        enter, price = self.costs(self.prices)
        useful = np.zeros(len(self.head), dtype=np.bool_)
        limit = SCALE * (best - 1) - self.given
        paths = np.empty((2, self.base[-1]), dtype=np.int64)
        sift(
            self.out,
            self.head,
            enter,
            price,
            self.base,
            self.at,
            self.known,
            self.rest,
            limit,
            self.fits,
            useful,
            paths,
        )
        arc = np.zeros_like(self.network.arc)
        arc[self.tail[useful], self.head[useful]] = True
        self._lay(arc)
        self._cheapest(self.prices)

    def _slips(self) -> list[tuple[int, int, int, int]]:
        """Where the best walk did what a mark it had left bars: length, first and last place, mark."""
        found = []
        for last in range(2, self.places):
            bars = self.bars[self.walk[last]]
            for first in range(last - 2, -1, -1):
                common = bars & self.marks[self.walk[first]]
                if common:
                    found.append((last - first, first, last, min(common)))
                    break
        return found

    def _cheapest(self, prices: Costs) -> tuple[int, Small]:
        """The cost of the cheapest walk under these prices, and the walk; `rest` is filled on the way."""
        enter, price = self.costs(prices)
        walk_back(self.out, self.head, price, self.fits, self.base, self.at, self.known, self.rest)
        walk = np.zeros(self.places, dtype=np.int32)
        whole = enter + self.rest[0, self.base[:-1]]
        walk[0] = node = int(whole.argmin())
        subset = 0
        for k in range(1, self.places):
            arcs = slice(self.out[node], self.out[node + 1])
            if arcs.start == arcs.stop:
                break  # no walk at all
            becomes = self.known[self.at[arcs] + subset]
            step = int((price[arcs] + self.rest[k, self.base[self.head[arcs]] + becomes]).argmin())
            walk[k] = node = int(self.head[arcs][step])
            subset = int(becomes[step])
        return int(whole[walk[0]]) + int(prices.sum()), walk

    def _lay(self, arc: npt.NDArray[np.bool_]) -> None:
        """Number the arcs, those out of one node together."""
        tail, head = np.nonzero(arc)
        self.tail, self.head = tail, head.astype(np.int32)
        self.out = np.searchsorted(tail, np.arange(len(arc) + 1)).astype(np.int64)
        self.paid = self.network.cost[tail, head] * SCALE
        self._lay_memories()

    def _lay_memories(self) -> None:
        """The columns of the tables of walks, and what becomes of what is remembered along each arc."""
        room = np.array([len(memory) for memory in self.memories])
        self.held = np.array([mark for memory in self.memories for mark in memory], dtype=np.int32)
        self.begin = np.concatenate(([0], np.cumsum(room))).astype(np.int64)
        self.base = np.concatenate(([0], np.cumsum((1 << room) + 1))).astype(np.int64)
        self.at = np.concatenate(([0], np.cumsum(1 << room[self.tail]))).astype(np.int64)
        self.known = np.empty(self.at[-1], dtype=np.int32)
        becomes = np.empty(max(1, room.max()), dtype=np.int64)
        leaves, barred = self.network.leaves, self.network.barred
        learn(self.out, self.head, leaves, barred, self.begin, self.held, self.at, self.known, becomes)
        self.rest = np.empty((self.places, self.base[-1]), dtype=np.int64)
        self.load = int(self.at[-1]) * self.places


def _marks(words: npt.NDArray[np.uint64]) -> frozenset[int]:
    """The marks that stand in these words."""
    return frozenset(64 * w + i for w, word in enumerate(words.tolist()) for i in range(64) if word >> i & 1)
