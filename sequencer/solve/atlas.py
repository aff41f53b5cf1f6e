"""Rest costs of a merged pattern for many states at once, found when asked for and kept.

All states that are asked about and not yet known set out together in one sweep, each as far as the answer
matters to who asks; what is known already ends the way. Going back over the layers gives every state met its
exact rest cost, or where none was found, what the limit leaves: a way on from a state reached at cost g that
came in below `limit - g` would have been found. So the answers are those of the search in `patterns`, for
thousands of states in the time it takes for some (a pattern database filled on demand; Holte, Grajkowski and
Tanner, 2005). The sweep itself is guided by the patterns this one was merged from.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sequencer.solve.patterns import FAR, Key, Pattern
from sequencer.solve.sweep import Field, Front, Ints, Layer, Words, scatter

HUGE = 1 << 40
"""A rest cost that cannot be, small enough to add up."""

FEW = 24
"""States up to which the pattern's own search, one by one, is quicker than a sweep of all."""

BOUND, TIRED, EXACT = 0, 1, 2
"""What is known of a rest cost: a bound that can be asked further, one that cannot, the cost itself."""


class Leaf:
    """A pattern that answers for itself, one state at a time, each asked only once."""

    def __init__(self, pattern: Pattern, tick: Callable[[], None]) -> None:
        self.field, self.tick = Field(pattern), tick
        self.dials = pattern.dials
        self._known: dict[tuple[int, ...], int] = {}

    def __call__(self, rest: Words, values: Ints, room: Ints) -> Ints:
        """Bounds of the rest costs, exact unless the pattern grows tired."""
        rest, values, back = self.field.project(rest, values)
        known, pattern = self._known, self.field.pattern
        answers = []
        for numbers in zip(*rest.tolist(), *values.tolist(), strict=True):
            answer = known.get(numbers)
            if answer is None:
                self.tick()
                mask = 0
                for w in range(len(rest)):
                    mask |= numbers[w] << 64 * w
                answer = known[numbers] = min(HUGE, pattern.bound((mask, numbers[len(rest) :]), FAR))
            answers.append(answer)
        return np.array(answers, np.int64)[back]


class Sum:
    """Bounds of patterns on disjoint dials, added up; `dials` says which values belong to which row."""

    def __init__(self, dials: Sequence[int], parts: Sequence[Leaf | Atlas]) -> None:
        self.dials = tuple(dials)
        self.parts = tuple(parts)
        row = {d: i for i, d in enumerate(dials)}
        self._rows = [[row[d] for d in part.dials] for part in parts]

    def __call__(self, rest: Words, values: Ints, room: Ints) -> Ints:
        """The sum, for each state as far as it matters."""
        total = np.zeros(rest.shape[1], np.int64)
        for part, rows in zip(self.parts, self._rows, strict=True):
            live = np.flatnonzero(total < room)
            if not live.size:
                break
            if live.size == total.size:
                total += part(rest, values[rows], room - total)
            else:
                total[live] += part(rest[:, live], values[rows][:, live], room[live] - total[live])
        return total


class Atlas:
    """A merged pattern that remembers what it was asked.

    `most` limits the states opened for one question; what cannot be answered within it is left to the parts.
    """

    def __init__(self, field: Field, parts: Sum, tick: Callable[[], None], most: int) -> None:
        self.field, self.parts, self.tick, self.most = field, parts, tick, most
        self.dials = field.pattern.dials
        self._pages: list[Page] = []

    @property
    def size(self) -> int:
        """How many states it knows."""
        return sum(page.bound.size for page in self._pages)

    def __call__(self, rest: Words, values: Ints, room: Ints) -> Ints:
        """Bounds of the rest costs: exact where less than `room`, unless that was too much to ask."""
        rest, values, back = self.field.project(rest, values)
        space = np.zeros(rest.shape[1], np.int64)
        np.maximum.at(space, back, room)
        told, sure = self._look(rest, values)
        unsure = np.flatnonzero(sure == BOUND)
        if unsure.size:
            parts = self.parts(rest[:, unsure], values[:, unsure], space[unsure])
            told[unsure] = np.maximum(told[unsure], parts)
            short = unsure[told[unsure] < space[unsure]]
            if 0 < short.size < FEW:
                for at in short.tolist():
                    self.tick()
                    told[at] = max(told[at], self._one_by_one(rest[:, at], values[:, at], int(space[at])))
            elif short.size:
                if not self._learn(rest[:, short], values[:, short], space[short]):
                    self._add(rest[:, short], values[:, short], told[short], np.full(short.size, TIRED))
                again, _ = self._look(rest[:, short], values[:, short])
                told[short] = np.maximum(told[short], again)
        return told[back]

    def _one_by_one(self, rest: Words, values: Ints, room: int) -> int:
        """What the pattern's own search says of one state."""
        mask = 0
        for w, word in enumerate(rest.tolist()):
            mask |= word << 64 * w
        return self.field.pattern.bound((mask, tuple(values.tolist())), room)

    def ask(self, start: Key, room: int) -> tuple[int, bool] | None:
        """The rest cost of one state and whether that is exact (a bound of at least `room` otherwise); None
        where that is too much to ask.
        """
        rest, values = self.field.state(start)
        space = np.array([room], np.int64)
        told, sure = self._look(rest, values)
        if sure[0] == BOUND and told[0] < room:
            if not self._learn(rest, values, space):
                return None
            told, sure = self._look(rest, values)
            if sure[0] != EXACT:
                return room, False
        return int(told[0]), bool(sure[0] == EXACT)

    def _look(self, rest: Words, values: Ints) -> tuple[Ints, Ints]:
        """What is known: bounds, and whether they are to be asked any further."""
        told = np.zeros(rest.shape[1], np.int64)
        sure = np.where(rest.any(axis=0), BOUND, EXACT)
        number = scatter(rest, self.field.pack(values))
        for page in self._pages:
            at = np.minimum(np.searchsorted(page.number, number), page.number.size - 1)
            near = np.flatnonzero(page.number[at] == number)
            at = at[near]
            met = (page.rest[:, at] == rest[:, near]).all(axis=0)
            met &= (page.values[:, at] == values[:, near]).all(axis=0)
            near, at = near[met], at[met]
            told[near] = np.maximum(told[near], page.bound[at])
            sure[near] = np.maximum(sure[near], page.sure[at])
        return told, sure

    def _add(self, rest: Words, values: Ints, bound: Ints, sure: Ints) -> None:
        """Remember; pages of like size are put together, so that there are never many."""
        if not bound.size:
            return
        number = scatter(rest, self.field.pack(values))
        order = np.argsort(number)
        page = Page(
            number[order], rest[:, order], values[:, order].astype(np.int16), bound[order], sure[order]
        )
        while self._pages and self._pages[-1].bound.size < 2 * page.bound.size:
            page = page.joined(self._pages.pop())
        self._pages.append(page)

    def _learn(self, rest: Words, values: Ints, room: Ints) -> bool:
        """Sweep from these states, each as far as its room; whether that came to an end.

        All go out together: a state with less room starts at a higher cost, so that one limit holds for all.
        """
        limit = int(room.max())
        front = Front(self.field, keep=True)
        none = np.full(room.size, -1)
        front.add(rest, values, limit - room, none, none, none)
        layers: list[tuple[Layer, Ints, NDArray[np.bool_]]] = []
        opened = 0
        for left, layer in front.layers():
            told, sure = self._look(layer.rest, layer.values)
            space = limit - layer.cost
            unsure = np.flatnonzero(sure == BOUND)
            if unsure.size:
                parts = self.parts(layer.rest[:, unsure], layer.values[:, unsure], space[unsure])
                told[unsure] = np.maximum(told[unsure], parts)
            on = (sure == BOUND) & (told < space) & bool(left)
            opened += int(on.sum())
            if opened > self.most:
                return False
            front.open(layer, np.flatnonzero(on), limit, self.tick)
            layers.append((layer, np.where(on, space, told), on))
        costs = np.concatenate([cost for _, cost, _ in layers])
        for layer, _, _ in reversed(layers):
            came, into, paid = layer.edges
            known = came >= 0
            np.minimum.at(costs, came[known], paid[known] + costs[layer.offset + into[known]])
        kept = [layer.only(np.flatnonzero(on)) for layer, _, on in layers]
        bound = np.concatenate(
            [costs[layer.offset : layer.offset + layer.size][on] for layer, _, on in layers]
        )
        space = np.concatenate([limit - layer.cost for layer in kept])
        self._add(
            np.concatenate([layer.rest for layer in kept], axis=1),
            np.concatenate([layer.values for layer in kept], axis=1),
            bound,
            np.where(bound < space, EXACT, BOUND),
        )
        return True


@dataclass
class Page:
    """States by number, with what is known of their rest costs."""

    number: Words
    rest: Words
    values: NDArray[np.int16]
    bound: Ints
    sure: Ints

    def joined(self, other: Page) -> Page:
        """Both as one; the better knowledge of a state stands first."""
        number = np.concatenate([self.number, other.number])
        rest = np.concatenate([self.rest, other.rest], axis=1)
        values = np.concatenate([self.values, other.values], axis=1)
        bound = np.concatenate([self.bound, other.bound])
        sure = np.concatenate([self.sure, other.sure])
        order = np.lexsort((-bound, -sure, number))
        fresh = np.ones(order.size, bool)
        fresh[1:] = (rest[:, order[1:]] != rest[:, order[:-1]]).any(axis=0)
        fresh[1:] |= (values[:, order[1:]] != values[:, order[:-1]]).any(axis=0)
        order = order[fresh]
        return Page(number[order], rest[:, order], values[:, order], bound[order], sure[order])


Part = Leaf | Atlas
"""What a sum is made of."""
