"""Exact rest costs of a pattern's states, looked up for many states at once.

A sweep of a pattern below a limit knows every state that can matter to an order below that limit. Going back
over its layers gives each of them the exact rest cost, or where none was found below the limit, what the limit
leaves: any way on from a state reached at cost g that came in below `limit - g` would have been found. A state
the sweep never met was beyond the limit or is one that only other dials make (a dial moved there for nothing
here); it is answered by the patterns this one was merged from.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sequencer.solve.patterns import FAR, Pattern
from sequencer.solve.sweep import Field, Ints, Layer, Swept, Words, scatter

HUGE = 1 << 40
"""A rest cost that cannot be, small enough to add up."""


class Leaf:
    """A pattern that answers for itself, one state at a time, each asked only once."""

    def __init__(self, pattern: Pattern) -> None:
        self.field = Field(pattern)
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
    """A merged pattern that has been swept."""

    def __init__(self, field: Field, swept: Swept, limit: int, parts: Sum) -> None:
        self.field = field
        self.dials = field.pattern.dials
        self.parts = parts
        assert swept.cost is not None
        self.cost = swept.cost
        layers = swept.layers
        costs = _rest_costs(layers, limit)
        rest = np.concatenate([layer.rest for layer in layers], axis=1)
        values = np.concatenate([layer.values for layer in layers], axis=1)
        number = scatter(rest, field.pack(values))
        order = np.argsort(number)
        self._number, self._cost = number[order], costs[order]
        self._rest, self._values = rest[:, order], values[:, order].astype(np.int16)

    @property
    def size(self) -> int:
        """How many states it knows."""
        return int(self._cost.size)

    def __call__(self, rest: Words, values: Ints, room: Ints) -> Ints:
        """Bounds of the rest costs, exact for the states known."""
        rest, values, back = self.field.project(rest, values)
        number = scatter(rest, self.field.pack(values))
        at = np.minimum(np.searchsorted(self._number, number), self._number.size - 1)
        met = (self._rest[:, at] == rest).all(axis=0) & (self._values[:, at] == values).all(axis=0)
        answers = self._cost[at]
        missing = np.flatnonzero(~met)
        if missing.size:
            space = np.zeros(rest.shape[1], np.int64)
            np.maximum.at(space, back, room)
            answers[missing] = self.parts(rest[:, missing], values[:, missing], space[missing])
        return answers[back]


def _rest_costs(layers: list[Layer], limit: int) -> Ints:
    """The rest cost of every state of a whole sweep, layers one after the other."""
    total = layers[-1].offset + layers[-1].size
    costs = np.zeros(total, np.int64)
    for layer in layers[:-1]:
        costs[layer.offset : layer.offset + layer.size] = limit - layer.cost
    for layer in reversed(layers):
        came, into, paid = layer.edges
        known = came >= 0
        np.minimum.at(costs, came[known], paid[known] + costs[layer.offset + into[known]])
    return costs


Part = Leaf | Atlas
"""What a sum is made of."""
