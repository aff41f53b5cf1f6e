"""How a dial stands along a growing order, its value left open: what it costs to have it at each value.

`price` finds the cheapest values of a whole order by a shortest path. Here the same layers are built one
lot at a time: a *standing* is the layer reached, as the extra cost of holding each value over the cheapest
one. Few different standings ever occur, so they are numbered, and every step is looked up after the first
time.
"""

from __future__ import annotations

from sequencer.solve.problem import FAR, Dial, Need


class Standings:
    """The numbered standings of one dial; number 0 is where it stands before the first lot.

    A standing is a tuple of one cost per value and a last one for "holds no value"; its least entry is 0.
    """

    def __init__(self, dial: Dial) -> None:
        self.dial = dial
        nothing = dial.values
        self._known: list[tuple[int, ...]] = []
        self._number: dict[tuple[int, ...], int] = {}
        self._accepted: dict[int, int] = {}
        self._steps: dict[tuple[int, Need, bool], tuple[int, int] | None] = {}
        self.start = self._enter(self._only(nothing if dial.start is None else dial.start))
        self.nothing = self._enter(self._only(nothing))

    def step(self, standing: int, need: Need, frozen: bool) -> tuple[int, int] | None:
        """The standing after a lot with this need and the cost added; None if it cannot be made.

        `frozen`: the dial may not be moved.
        """
        key = (standing, need, frozen)
        if key not in self._steps:
            self._steps[key] = self._step(self._known[standing], need, frozen)
        return self._steps[key]

    def accepted(self, standing: int) -> int:
        """The values (a mask) the dial may stand at, at no extra cost."""
        mask = self._accepted.get(standing)
        if mask is None:
            mask = sum(1 << v for v, cost in enumerate(self._known[standing][:-1]) if cost == 0)
            self._accepted[standing] = mask
        return mask

    def holds(self, standing: int) -> int:
        """The values (a mask) the dial may stand at, at whatever cost."""
        return sum(1 << v for v, cost in enumerate(self._known[standing][:-1]) if cost < FAR)

    def _step(self, costs: tuple[int, ...], need: Need, frozen: bool) -> tuple[int, int] | None:
        dial = self.dial
        after = [FAR] * (dial.values + 1)
        for to in range(dial.values):
            if need.stay >> to & 1:
                after[to] = costs[to]
            if need.reach >> to & 1 and not frozen:
                after[to] = min(after[to], costs[-1] + dial.first[to])
                for value, cost in enumerate(costs[:-1]):
                    paid = dial.move[value][to]
                    if value != to and paid is not None:
                        after[to] = min(after[to], cost + paid)
        least = min(after)
        if least >= FAR:
            return None
        return self._enter(tuple(cost - least if cost < FAR else FAR for cost in after)), least

    def _only(self, value: int) -> tuple[int, ...]:
        return tuple(0 if v == value else FAR for v in range(self.dial.values + 1))

    def _enter(self, costs: tuple[int, ...]) -> int:
        if costs not in self._number:
            self._number[costs] = len(self._known)
            self._known.append(costs)
        return self._number[costs]
