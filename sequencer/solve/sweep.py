"""All states with the same number of lots left at once: breadth-first search in layers, on arrays.

Making lots only ever shortens what is left, so the states of a pattern fall into layers by the number of lots
still to be made, and a move always leads to a later layer. When a layer's turn comes, every way into it is
known and its costs are final: each state is opened once (breadth-first heuristic search; Zhou and Hansen,
2006). A layer is a few arrays (bit masks, values, costs), and what the search does to one state numpy does to
all of them.

States that cannot come in below a limit are dropped; the least bound among those dropped is then a bound of
the whole, and a sweep that drops nothing else finds the cheapest order below the limit or proves that there
is none. With a width only the most promising states of each layer go on: a beam, quick and without proof.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import product
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from sequencer.solve.patterns import FAR, Key, Pattern
from sequencer.solve.relation import bits

Words = NDArray[np.uint64]
"""Bit masks of many states: words of 64 lots x states."""

Ints = NDArray[np.int64]

CHUNK = 20_000
"""States opened at once."""

FEW = 200
"""States up to which looking for equal ones takes longer than it saves."""

_LOW = np.uint64(0xFFFF)
_BIT = [np.uint64(1 << b) for b in range(64)]


class Estimate(Protocol):
    """A lower bound of the rest cost of many states."""

    def __call__(self, rest: Words, values: Ints, room: Ints) -> Ints:
        """Bounds for states (lots left, values of all dials of the field); where a bound reaches `room` it
        need not be any better.
        """


@dataclass
class Layer:
    """States that go on, and every way into them: `parent` (place in all states that went on), cost, and the
    state of this layer it leads to.
    """

    offset: int
    rest: Words
    values: Ints
    cost: Ints
    came: Ints
    way: Ints
    edges: tuple[Ints, Ints, Ints]

    @property
    def size(self) -> int:
        """How many states."""
        return int(self.cost.size)

    def only(self, on: Ints) -> Layer:
        """The layer with these states only (and no edges)."""
        return replace(
            self,
            rest=self.rest[:, on],
            values=self.values[:, on],
            cost=self.cost[on],
            came=self.came[on],
            way=self.way[on],
        )

    def traced(self) -> Layer:
        """What is needed to find the way back."""
        return replace(self, rest=self.rest[:, :0], values=self.values[:, :0])


@dataclass
class Swept:
    """What a sweep found: the least cost below the limit (or None), the ways of a cheapest path, a bound of
    everything dropped, whether only states beyond the limit were dropped, and how many states were opened.
    """

    cost: int | None
    ways: tuple[int, ...]
    bound: int
    whole: bool
    opened: int


def words(mask: int, count: int) -> Words:
    """A mask as `count` words of 64 bits, the lowest first."""
    return np.array([mask >> 64 * w & 0xFFFF_FFFF_FFFF_FFFF for w in range(count)], dtype=np.uint64)


class Field:
    """A pattern as arrays: what `Pattern` says of one state, said of many."""

    def __init__(self, pattern: Pattern) -> None:
        self.pattern = pattern
        self.words = (len(pattern.before) + 63) // 64
        wheels = pattern.wheels
        self.dials = len(wheels)
        self.base = max(wheel.values for wheel in wheels) + 2
        self.nothing = [wheel.values for wheel in wheels]
        self.elsewhere = [wheel.values + 1 for wheel in wheels]
        self.flat = [wheel.price is not None for wheel in wheels]
        lots = pattern.lots
        self.mask = words(lots, self.words)
        self.accept = np.zeros((self.dials, self.words, self.base), np.uint64)
        self.serving = np.zeros((self.dials, self.words, self.base), np.uint64)
        self.moving = np.zeros((self.dials, self.base, self.base), np.int64)
        self.named = np.zeros((self.dials, self.words), np.uint64)
        whole = (1 << 64 * self.words) - 1
        for d, wheel in enumerate(wheels):
            self.named[d] = words(wheel.named & lots, self.words)
            for v in range(wheel.values + 2):
                self.accept[d, :, v] = words(wheel.accept[v] & whole, self.words)
                self.moving[d, v, : wheel.values] = wheel.cost[v]
            for v in range(wheel.values):
                self.serving[d, :, v] = words(wheel.serves[v] & lots, self.words)
            self.serving[d, :, wheel.values] = self.named[d]  # an empty dial is idle when nothing names it
        self.lots = list(bits(lots))
        self.before: dict[int, list[tuple[int, np.uint64]]] = {}
        for item in self.lots:
            mask = words(pattern.before[item] & lots, self.words)
            self.before[item] = [(w, mask[w]) for w in range(self.words) if mask[w]]
        self._ways()

    def _ways(self) -> None:
        """The ways to move the dials for each class of lots, as rows of targets (-1: not needed)."""
        pattern = self.pattern
        members: dict[int, list[int]] = {}
        for at, item in enumerate(self.lots):
            members.setdefault(pattern.class_of[item], []).append(at)
        kinds = sorted(members)
        self.sorted = np.array([at for kind in kinds for at in members[kind]], np.int64)
        self.starts = np.cumsum([0, *(len(members[kind]) for kind in kinds[:-1])])
        needs = [pattern.classes[kind] for kind in kinds]
        wanted = [frozenset((i, stay) for i, stay, _ in need) for need in needs]
        self.smaller = [[k for k, other in enumerate(wanted) if other < mine] for mine in wanted]
        targets: list[list[int]] = []
        self.ways_of: list[tuple[int, int]] = []
        for need in needs:
            first = len(targets)
            for reach in product(*(self._worthwhile(i, reach) for i, _, reach in need)):
                row = [-1] * self.dials
                for (i, _, _), to in zip(need, reach, strict=True):
                    row[i] = to
                targets.append(row)
            self.ways_of.append((first, len(targets)))
        self.targets = np.array(targets, np.int64).reshape(len(targets), self.dials)
        self.stays = np.zeros((self.dials, len(targets), self.base), bool)
        for need, (first, last) in zip(needs, self.ways_of, strict=True):
            for i, stay, _ in need:
                for v in range(self.pattern.wheels[i].values):
                    self.stays[i, first:last, v] = bool(stay >> v & 1)

    def _worthwhile(self, d: int, reach: tuple[int, ...]) -> list[int]:
        """The values worth moving to: not those that serve only part of what another serves and cost no less."""
        wheel, lots = self.pattern.wheels[d], self.pattern.lots
        kept: list[int] = []
        for to in sorted(reach, key=lambda to: (-(wheel.serves[to] & lots).bit_count(), to)):
            serves = wheel.serves[to] & lots
            if not any(
                serves & ~wheel.serves[other] == 0 and all(row[other] <= row[to] for row in wheel.cost if row)
                for other in kept
            ):
                kept.append(to)
        return kept

    def state(self, key: Key) -> tuple[Words, Ints]:
        """One state as arrays."""
        rest, values = key
        return words(rest, self.words).reshape(-1, 1), np.array(values, np.int64).reshape(-1, 1)

    def settle(self, rest: Words, values: Ints) -> None:
        """Make everything that moves no dial, in place, and write idle values ELSEWHERE."""
        ready = rest & self.mask[:, None]
        for d in range(self.dials):
            ready &= self.accept[d][:, values[d]]
        for item in bits(_joined(ready)):
            w, bit = item >> 6, _BIT[item & 63]
            at = (ready[w] & bit).nonzero()[0]
            for x, mask in self.before[item]:
                at = at[(rest[x, at] & mask) == 0]
            rest[w, at] ^= bit
        for d in range(self.dials):
            if d == self.pattern.walk_at:
                continue
            if self.flat[d]:
                busy = (rest & self.serving[d][:, values[d]]).any(axis=0)
            else:
                busy = (rest & self.named[d][:, None]).any(axis=0)
            values[d, ~busy] = self.elsewhere[d]

    def project(self, rest: Words, values: Ints) -> tuple[Words, Ints, Ints]:
        """The states of this pattern, few of them twice, for lots left and values of its dials; and for each
        state given the place of its own among them.
        """
        rest = rest & self.mask[:, None]
        if rest.shape[1] < FEW:
            back, values = np.arange(rest.shape[1]), values.copy()
        else:
            first, back = distinct(rest, values)
            rest, values = rest[:, first], values[:, first]
        self.settle(rest, values)
        return rest, values, back

    def ready(self, rest: Words) -> NDArray[np.bool_]:
        """Lots of the pattern x states: which lots wait for nothing."""
        out = np.zeros((len(self.lots), rest.shape[1]), bool)
        joined = _joined(rest)
        for at, item in enumerate(self.lots):
            if not joined >> item & 1:
                continue
            w, bit = item >> 6, _BIT[item & 63]
            where = (rest[w] & bit).nonzero()[0]
            for x, mask in self.before[item]:
                where = where[(rest[x, where] & mask) == 0]
            out[at, where] = True
        return out

    def open(
        self, rest: Words, values: Ints, spent: Ints, limit: int
    ) -> tuple[Words, Ints, Ints, Ints, Ints, int]:
        """One more move from each state: rest and values after, place of the state moved from, cost of the
        move, the way. Moves that bring what is `spent` to `limit` are left out; last comes the least of those.
        """
        ready = np.logical_or.reduceat(self.ready(rest)[self.sorted], self.starts, axis=0)
        for kind, smaller in enumerate(self.smaller):
            if smaller:
                ready[kind] &= ~ready[smaller].any(axis=0)
        ways: list[Ints] = []
        froms: list[Ints] = []
        kinds, states = np.nonzero(ready)
        edges = np.searchsorted(kinds, np.arange(len(self.ways_of) + 1))
        for kind, (first, last) in enumerate(self.ways_of):
            mine = states[edges[kind] : edges[kind + 1]]
            if mine.size:
                for number in range(first, last):
                    ways.append(np.full(mine.size, number))
                    froms.append(mine)
        way, come = np.concatenate(ways), np.concatenate(froms)
        after = values[:, come]
        cost = np.zeros(come.size, np.int64)
        for d in range(self.dials):
            to = self.targets[way, d]
            moves = (to >= 0) & ~self.stays[d, way, after[d]]
            at = np.flatnonzero(moves)
            cost[at] += self.moving[d, after[d, at], to[at]]
            after[d, at] = to[at]
        self._forget(values, come, after)
        order = np.lexsort((cost, self.pack(after), come))
        reached = spent[come[order]] + cost[order]
        late = reached >= limit
        dropped = int(reached[late].min()) if late.any() else FAR
        order = order[~late]
        come, after = come[order], after[:, order]
        fresh = np.ones(come.size, bool)
        fresh[1:] = (come[1:] != come[:-1]) | (after[:, 1:] != after[:, :-1]).any(axis=0)
        order, come, after = order[fresh], come[fresh], after[:, fresh]
        left = rest[:, come]
        self.settle(left, after)
        return left, after, come, cost[order], way[order], dropped

    def _forget(self, values: Ints, come: Ints, after: Ints) -> None:
        """What a station's dials lose when the work leaves it."""
        walk = self.pattern.walk_at
        for d, station in self.pattern.forgetful:
            left = (values[walk, come] == station) & (after[walk] != station)
            after[d, left] = self.nothing[d]

    def pack(self, values: Ints) -> Words:
        """The values of each state in one number (enough to tell states apart after comparing values)."""
        packed = np.zeros(values.shape[1], np.uint64)
        for row in values:
            packed = packed * np.uint64(self.base) + row.astype(np.uint64)
        return packed


def _joined(masks: Words) -> int:
    """All bits set in any state's mask."""
    joined = 0
    for w, word in enumerate(np.bitwise_or.reduce(masks, axis=1).tolist()):
        joined |= word << 64 * w
    return joined


def scatter(rest: Words, packed: Words) -> Words:
    """A number for each state; different states seldom share one."""
    number = packed * np.uint64(0x9E37_79B9_7F4A_7C15)
    for row in rest:
        number ^= number >> np.uint64(29)
        number = (number ^ row) * np.uint64(0xBF58_476D_1CE4_E5B9)
    return number ^ (number >> np.uint64(32))


def same(rest: Words, values: Ints) -> NDArray[np.bool_]:
    """For each state but the first, whether it equals the one before it."""
    return np.asarray(
        (rest[:, 1:] == rest[:, :-1]).all(axis=0) & (values[:, 1:] == values[:, :-1]).all(axis=0)
    )


def distinct(rest: Words, values: Ints) -> tuple[NDArray[Any], NDArray[Any]]:
    """Places of one state of each kind, and for every state the place among those."""
    packed = np.zeros(values.shape[1], np.uint64)
    for row in values:
        packed = packed * np.uint64(64) + row.astype(np.uint64)
    number = scatter(rest, packed)
    order = np.argsort(number)
    fresh = np.ones(order.size, bool)
    if order.size > 1:
        near, next_ = order[:-1], order[1:]
        fresh[1:] = (rest[:, near] != rest[:, next_]).any(axis=0) | (values[:, near] != values[:, next_]).any(
            axis=0
        )
    back = np.empty(order.size, np.int64)
    back[order] = np.cumsum(fresh) - 1
    return order[fresh], back


class Front:
    """States waiting for their layer's turn."""

    def __init__(self, field: Field, keep: bool, by_moves: bool = False) -> None:
        self.field, self.keep, self.by_moves = field, keep, by_moves
        self.total = 0
        self._moves = 0
        self._waiting: dict[int, list[tuple[Any, ...]]] = {}

    def add(self, rest: Words, values: Ints, cost: Ints, came: Ints, way: Ints, paid: Ints) -> None:
        """States with the cost of reaching them, the state they come from, the way and its own cost."""
        if self.by_moves:
            self._waiting.setdefault(-self._moves, []).append((rest, values, cost, came, way, paid))
            return
        lots = np.zeros(cost.size, np.int64)
        for row in rest:
            lots += np.bitwise_count(row)
        order = np.argsort(lots, kind="stable")
        sizes = lots[order]
        begins = np.flatnonzero(np.diff(sizes, prepend=-1)).tolist()
        for begin, end in zip(begins, [*begins[1:], sizes.size], strict=True):
            part = order[begin:end]
            self._waiting.setdefault(int(sizes[begin]), []).append(
                (rest[:, part], values[:, part], cost[part], came[part], way[part], paid[part])
            )

    def layers(self) -> Iterator[tuple[int, Layer]]:
        """Lots left (or less moves made) and states, layer by layer; each may add to those that follow."""
        while self._waiting:
            left = max(self._waiting)
            self._moves += 1
            yield left, self._gather(self._waiting.pop(left))

    def _gather(self, parts: list[tuple[Any, ...]]) -> Layer:
        """A layer's states, each once with its least cost."""
        rest = np.concatenate([part[0] for part in parts], axis=1)
        values = np.concatenate([part[1] for part in parts], axis=1)
        cost, came, way, paid = (np.concatenate([part[k] for part in parts]) for k in range(2, 6))
        number = scatter(rest, self.field.pack(values)) & ~_LOW
        small = cost.max() < 0xFFFF  # then number and cost fit into one word, which sorts faster
        order = np.argsort(number | cost.astype(np.uint64)) if small else np.lexsort((cost, number))
        rest, values = rest[:, order], values[:, order]
        fresh = np.ones(order.size, bool)
        fresh[1:] = ~same(rest, values)
        first = order[fresh]
        none = came[:0]
        edges = (came[order], np.cumsum(fresh) - 1, paid[order]) if self.keep else (none, none, none)
        return Layer(0, rest[:, fresh], values[:, fresh], cost[first], came[first], way[first], edges)

    def open(self, layer: Layer, on: Ints, limit: int, tick: Callable[[], None]) -> int:
        """Open these states of a layer; the least cost of those that reached the limit. Numbers the layer."""
        layer.offset = self.total
        self.total += layer.size
        dropped = FAR
        for first in range(0, on.size, CHUNK):
            tick()
            chunk = on[first : first + CHUNK]
            costs = layer.cost[chunk]
            rest, values, come, paid, way, beyond = self.field.open(
                layer.rest[:, chunk], layer.values[:, chunk], costs, limit
            )
            dropped = min(dropped, beyond)
            if come.size:
                self.add(rest, values, costs[come] + paid, chunk[come] + layer.offset, way, paid)
        return dropped


def sweep(
    field: Field,
    start: Key,
    limit: int,
    estimate: Estimate,
    tick: Callable[[], None],
    width: int = FAR,
    most: int = FAR,
    by_moves: bool = False,
) -> Swept:
    """The cheapest order from `start` below `limit`, layer by layer.

    `width`: states of a layer that go on; `most`: states in all after which the sweep gives up (then neither
    `cost` nor `bound` says anything); `by_moves`: a layer holds the states with as many moves made, of which
    there are far fewer layers: for narrow beams on large problems. Raises what `tick` raises.
    """
    front = Front(field, keep=False, by_moves=by_moves)
    zero = np.zeros(1, np.int64)
    front.add(*field.state(start), zero, zero - 1, zero - 1, zero)
    layers: list[Layer] = []
    bound, whole, cost = FAR, True, None
    ways: tuple[int, ...] = ()
    for _, layer in front.layers():
        tick()
        ended = np.flatnonzero(~layer.rest.any(axis=0))
        if ended.size:
            last = ended[layer.cost[ended].argmin()]
            if layer.cost[last] < limit:
                limit = cost = int(layer.cost[last])
                ways = _path(layers, layer, int(last))
        f = layer.cost + estimate(layer.rest, layer.values, limit - layer.cost)
        late = f >= limit
        if late.any():
            bound = min(bound, int(f[late].min()))
        on = np.flatnonzero(~late)
        if on.size > width:
            order = np.lexsort((-layer.cost[on], f[on]))
            bound = min(bound, int(f[on[order[width:]]].min()))
            on = np.sort(on[order[:width]])
            whole = False
        if front.total + on.size > most:
            return Swept(None, (), 0, False, front.total)
        if on.size:
            layer = layer.only(on)
            bound = min(bound, front.open(layer, np.arange(on.size), limit, tick))
            layers.append(layer.traced())
    return Swept(cost, ways, bound, whole, front.total)


def _path(layers: Sequence[Layer], last: Layer, end: int) -> tuple[int, ...]:
    """The ways along the path to a state of the last layer."""
    at, ways = int(last.came[end]), [int(last.way[end])]
    for layer in reversed(layers):
        if at >= layer.offset:
            place = at - layer.offset
            at = int(layer.came[place])
            ways.append(int(layer.way[place]))
    return tuple(reversed([way for way in ways if way >= 0]))
