"""The sweep over the states of a network, layer by layer.

A state is the set of marks that stand and the node visited last (M. Held, R. M. Karp, A dynamic programming
approach to sequencing problems, J. SIAM 10(1), 1962): of two ways to the same state the cheaper one does. Layer
k holds states with k nodes visited; a state promises what it has paid and the least its walks leave to pay.
Kept narrow, the sweep is a beam that may miss the best order, but knows the least promise it dropped; widened
until nothing is dropped it is a proof (W. Zhang, Complete anytime beam search, AAAI 1998). Titles from memory.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sequencer.solve.compiled import FAR_64
from sequencer.solve.compiled.sequencing import rehash, spread
from sequencer.solve.one_dial.network import SCALE
from sequencer.solve.one_dial.walks import Walks

EFFORT = 200_000
"""Arcs tried between two looks at the clock."""

FIRST_ROOM = 1 << 12
"""States for which a layer has room at first."""


@dataclass
class Layer:
    """States of one layer: marks, last node, paid, promise, and the state of the layer before they came from."""

    stood: npt.NDArray[np.uint64]
    last: npt.NDArray[np.int32]
    paid: npt.NDArray[np.int64]
    promise: npt.NDArray[np.int64]
    parent: npt.NDArray[np.int32]

    @classmethod
    def empty(cls, room: int, words: int) -> Layer:
        """Room for so many states."""
        return cls(
            np.empty((room, words), dtype=np.uint64),
            np.empty(room, dtype=np.int32),
            np.empty(room, dtype=np.int64),
            np.empty(room, dtype=np.int64),
            np.empty(room, dtype=np.int32),
        )

    def take(self, chosen: npt.NDArray[np.int64] | slice) -> Layer:
        """The chosen states."""
        return Layer(
            self.stood[chosen].copy(),
            self.last[chosen].copy(),
            self.paid[chosen].copy(),
            self.promise[chosen].copy(),
            self.parent[chosen].copy(),
        )

    def moved(self, count: int, room: int) -> Layer:
        """The first `count` states with room for more."""
        wide = Layer.empty(room, self.stood.shape[1])
        for name in ("stood", "last", "paid", "promise", "parent"):
            getattr(wide, name)[:count] = getattr(self, name)[:count]
        return wide


class Sweep:
    """One sweep, keeping at most `width` states of each layer, for orders that cost less than `best`.

    After `run`, no order cheaper than `best` costs less than `least` (in cost units) unless it is `order`, and
    `order` (nodes) is the best found, if any; `full` tells that memory ended the sweep, `tries` how many arcs it
    has tried. `tell` hears of a better
    bound on the way.
    """

    def __init__(
        self,
        walks: Walks,
        best: int,
        width: int,
        room: int,
        tick: Callable[[], None],
        tell: Callable[[int], None],
    ) -> None:
        self.walks, self.width, self.room, self.tick, self.tell = walks, width, room, tick, tell
        self.enter, self.price = walks.costs(walks.prices)
        self.limit = SCALE * (best - 1) - walks.given
        self.best, self.dropped = best, FAR_64
        self.full, self.tries = False, 0
        self.order: list[int] | None = None
        self.layers: list[tuple[npt.NDArray[np.int32], npt.NDArray[np.int32]]] = []

    @property
    def least(self) -> int:
        """What an order dropped or not found costs at least."""
        return min(self.best, -(-(self.dropped + self.walks.given) // SCALE))

    def run(self) -> None:
        """Layer after layer to the last."""
        layer = self._first()
        states = len(layer.last)
        for k in range(1, self.walks.places):
            layer = self._next(layer, k)
            states += len(layer.last)
            if not len(layer.last):
                return
            if states > self.room:
                self.full = True
                self.dropped = min(self.dropped, int(layer.promise.min()))
                return
            promised = min(self.dropped, int(layer.promise.min())) + self.walks.given
            self.tell(min(self.best, -(-promised // SCALE)))
        self._trace(int(layer.paid.argmin()))

    def _first(self) -> Layer:
        """The nodes that may come first."""
        walks, network = self.walks, self.walks.network
        promise = self.enter + walks.rest[0, walks.base[:-1]]
        open_ = walks.fits[0] & ~network.needs.any(axis=1) & (promise <= self.limit)
        nodes = np.flatnonzero(open_).astype(np.int32)
        self.layers.append((nodes, np.zeros(len(nodes), dtype=np.int32)))
        return Layer(
            network.leaves[nodes],
            nodes,
            self.enter[nodes],
            promise[nodes],
            np.zeros(len(nodes), dtype=np.int32),
        )

    def _next(self, layer: Layer, k: int) -> Layer:
        """The states that come from a layer by one more node, the most promising of them."""
        walks, network = self.walks, self.walks.network
        widest = int(np.diff(walks.out).max())
        room = max(FIRST_ROOM, 1 << (2 * widest).bit_length())  # a power of two, for the hash table
        grown, slots = Layer.empty(room, layer.stood.shape[1]), np.zeros(2 * room, dtype=np.int32)
        self.tries += int(np.diff(walks.out)[layer.last].sum())
        limit, state, count = self.limit, 0, 0
        marks = np.empty(layer.stood.shape[1], dtype=np.uint64)
        while state < len(layer.last):
            self.tick()
            state, count = spread(
                walks.out,
                walks.head,
                self.price,
                walks.base,
                walks.begin,
                walks.held,
                walks.rest[k],
                network.leaves,
                network.barred,
                network.needs,
                limit,
                layer.stood,
                layer.last,
                layer.paid,
                state,
                slots,
                grown.stood,
                grown.last,
                grown.paid,
                grown.promise,
                grown.parent,
                count,
                EFFORT,
                marks,
            )
            if state == len(layer.last) or count + widest <= room:
                continue
            if count > 4 * self.width:
                grown, limit = self._narrowed(grown, count, limit)
                count = len(grown.last)
            else:
                room *= 2
            grown = grown.moved(count, room)
            slots = np.zeros(2 * room, dtype=np.int32)
            rehash(slots, grown.stood, grown.last, count)
        kept = self._narrowed(grown, count, limit)[0]
        self.layers.append((kept.last, kept.parent))
        return kept

    def _narrowed(self, layer: Layer, count: int, limit: int) -> tuple[Layer, int]:
        """The most promising states, ties in the order they came, and the promise up to which more are welcome."""
        if count <= self.width:
            return layer.take(slice(count)), limit
        promise = layer.promise[:count]
        cut = int(np.partition(promise, self.width)[self.width])
        better = promise < cut
        ties = np.flatnonzero(promise == cut)[: self.width - int(better.sum())]
        better[ties] = True
        self.dropped = min(self.dropped, cut)
        return layer.take(np.flatnonzero(better)), min(limit, cut - 1)

    def _trace(self, state: int) -> None:
        """The nodes that lead to a state of the last layer."""
        order = []
        for last, parent in reversed(self.layers):
            order.append(int(last[state]))
            state = int(parent[state])
        self.order = order[::-1]
