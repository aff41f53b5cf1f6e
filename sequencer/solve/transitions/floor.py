"""The exact rules of a problem without choices as transitions between states, for searches that build an order
from the front.

Walking is one more dial, the last: its values are the stations, and every lot needs it at its own. A state is
(rest, values): the lots still to be made as a bit mask, the value of each dial.

Two facts keep the states few. Leaving a lot that stands only where it never helps to pass through (`passing`) out
of an order never makes the rest dearer, so such a lot that is available and moves nothing is made at once ("free"; an
exchange argument: take it out of its later place and put it here). And where the cost of a move depends only on the
value reached, a value that no remaining lot accepts is as good as any other such value: it is written ELSEWHERE.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product

from sequencer.solve.relation import bits
from sequencer.solve.transitions.ground import Ground
from sequencer.solve.transitions.knobs import Knob

State = tuple[int, tuple[int, ...]]
"""Lots still to be made (mask), value of each dial (walking last); nothing left is the end."""


@dataclass(frozen=True)
class Step:
    """A transition: what it costs, the state it leads to, the lots made in order."""

    cost: int
    state: State
    made: tuple[int, ...]


class Floor(Ground):
    """A problem prepared for searching, and the ways through it."""

    def first(self) -> Step:
        """The state before anything is made, what is free there already made; its cost is the work."""
        state, made = self.settle(self.every, tuple(knob.start for knob in self.knobs))
        return Step(self.work, state, made)

    def settle(self, rest: int, values: tuple[int, ...]) -> tuple[State, tuple[int, ...]]:
        """The state once every free lot is made, and those lots in order."""
        made: list[int] = []
        ready = rest & self.free
        for knob, v in zip(self.knobs, values, strict=True):
            ready &= knob.accept[v] | ~knob.named
        again = True
        while again and ready:
            again = False
            for item in bits(ready):
                if self.direct[item] & rest:
                    continue
                if self.grouped >> item & 1 and not self._may_be_free(item, rest):
                    continue
                if any(before & rest for before, _ in self.wish_before[item]):
                    continue
                rest ^= 1 << item
                ready ^= 1 << item
                made.append(item)
                again = True
        return (rest, self._canonical(rest, values)), tuple(made)

    def _may_be_free(self, item: int, rest: int) -> bool:
        """Whether making this lot of a group of mates early binds nothing that is not bound already."""
        bit = 1 << item
        return all(not lots & bit or not lots & rest & ~bit or bool(lots & ~rest) for lots, _ in self.groups)

    def _canonical(self, left: int, values: tuple[int, ...]) -> tuple[int, ...]:
        """Values no remaining lot accepts, written ELSEWHERE where the cost of a move depends on the value
        reached only.
        """
        held = 0
        for lots, dials in self.groups:
            if lots & left:
                held |= dials
        after = list(values)
        for d, knob in enumerate(self.knobs):
            v = values[d]
            if d == self.walking or held >> d & 1:
                continue
            served = v >= knob.values or knob.price is None or bool(left & knob.accept[v])
            if not left & knob.named or not served:
                after[d] = knob.elsewhere
        return tuple(after)

    def steps(self, state: State) -> Iterator[Step]:
        """Every way to make one more lot, with what is free afterwards."""
        rest, values = state
        for item in bits(rest):
            if not self.direct[item] & rest:
                yield from self._make(item, rest, values)

    def _make(self, item: int, rest: int, values: tuple[int, ...]) -> Iterator[Step]:
        """The ways to move the dials for this lot and make it."""
        held = opening = 0
        for lots, dials in self.groups:
            if lots & rest:
                if lots & ~rest:
                    held |= dials
                elif lots >> item & 1 and lots & rest & ~(1 << item):
                    opening |= dials
        here = values[self.walking]
        station = self.needs[item][-1][2][0]
        now = values
        if here != station and self.forgetful:
            changed = list(values)
            for d in self.forgetful:
                if self.knobs[d].station == here:
                    if held >> d & 1:
                        return
                    changed[d] = self.knobs[d].nothing
            now = tuple(changed)
        ways = []
        for d, stay, reach in self.needs[item]:
            knob = self.knobs[d]
            v = now[d]
            stays = v < knob.values and bool(stay >> v & 1)
            mine = [(d, v, 0)] if stays else []
            # a plain dial that may stay is moved only for mates begun here: others of them may need another value, and
            # it cannot be moved once they are begun
            if not held >> d & 1 and not (stays and knob.plain and not opening >> d & 1):
                row = knob.cost[v]
                for to in self._worthwhile(knob, v, reach, rest):
                    cost = row[to]
                    if to != v and cost is not None:
                        mine.append((d, to, cost))
            if not mine:
                return
            ways.append(mine)
        paid = sum(price for before, price in self.wish_before[item] if before & rest)
        rest ^= 1 << item
        for way in product(*ways):
            changed = list(now)
            cost = paid
            for d, to, moving in way:
                changed[d] = to
                cost += moving
            after, made = self.settle(rest, tuple(changed))
            yield Step(cost, after, (item, *made))

    def _worthwhile(self, knob: Knob, v: int, reach: tuple[int, ...], left: int) -> tuple[int, ...]:
        """The values worth moving to from v: not those that cost no less and serve only part of what
        another one serves.
        """
        if len(reach) == 1 or knob.price is None or not knob.plain:
            return reach
        row = knob.cost[v]
        kept: list[int] = []
        for to in sorted(
            reach, key=lambda to: (0 if to == v else row[to] or 0, -(knob.accept[to] & left).bit_count(), to)
        ):
            serves = knob.accept[to] & left
            if not any(serves & ~knob.accept[u] == 0 for u in kept):
                kept.append(to)
        return tuple(kept)
