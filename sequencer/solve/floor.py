"""The exact rules of a problem as transitions between states, for searches that build an order from the
front.

Walking is one more dial, the last: its values are the stations, and every lot needs it at its own. A state is
(rest, values, taken): the lots still to be made as a bit mask, the value of each dial, the option taken by
each choice (or OPEN).

Two facts keep the states few. Leaving a lot that names only plain dials (`knobs`) out of an order never makes
the rest dearer, so a lot that is available and moves nothing is made at once ("free"; an exchange argument:
take it out of its later place and put it here). And where the cost of a move depends only on the value
reached, a value that no remaining lot accepts is as good as any other such value: it is written ELSEWHERE.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product

from sequencer.solve.ground import Ground
from sequencer.solve.knobs import Knob
from sequencer.solve.relation import bits

__all__ = ["OPEN", "Floor", "Knob", "State", "Step"]

OPEN = -1
"""The option of a choice not yet taken."""

State = tuple[int, tuple[int, ...], tuple[int, ...]]
"""Lots still to be made (mask), value of each dial (walking last), option taken by each choice."""


@dataclass(frozen=True)
class Step:
    """A transition: what it costs, the state it leads to, the lots made in order."""

    cost: int
    state: State
    made: tuple[int, ...]


class Floor(Ground):
    """A problem prepared for searching, and the ways through it."""

    def first(self) -> Step:
        """The state before anything is made, what is free there already made; its cost is the work of the
        least options.
        """
        values = tuple(knob.start for knob in self.knobs)
        taken = tuple(choice[0][0] if len(choice) == 1 else OPEN for choice in self.options)
        rest = self.always
        cost = self.least_work
        for c, option in enumerate(taken):
            if option != OPEN:
                rest |= self.option_lots[c][option]
                cost += self.extra[c][option]
        state, made = self.settle(rest, values, taken)
        return Step(cost, state, made)

    def left(self, state: State) -> int:
        """What the bounds see as still to be made: the lots, and stand-ins for those of choices still open."""
        lots = state[0]
        for c, option in enumerate(state[2]):
            if option == OPEN:
                lots |= self.standing_in[c]
        return lots

    def undecided(self, taken: tuple[int, ...]) -> int:
        """The lots of all options still open."""
        if not taken:
            return 0
        lots = self._open.get(taken)
        if lots is None:
            lots = 0
            for c, option in enumerate(taken):
                if option == OPEN:
                    for _, mask in self.options[c]:
                        lots |= mask
            self._open[taken] = lots
        return lots

    def complete(self, state: State) -> bool:
        """Whether everything is made and every choice taken."""
        return not state[0] and OPEN not in state[2]

    def _done(self, rest: int, taken: tuple[int, ...]) -> int:
        """The lots made so far."""
        alive = self.always
        for c, option in enumerate(taken):
            if option != OPEN:
                alive |= self.option_lots[c][option]
        return alive & ~rest

    def settle(
        self, rest: int, values: tuple[int, ...], taken: tuple[int, ...]
    ) -> tuple[State, tuple[int, ...]]:
        """The state once every free lot is made, and those lots in order."""
        made: list[int] = []
        open_lots = self.undecided(taken)
        ready = rest & self.free
        for knob, v in zip(self.knobs, values, strict=True):
            ready &= knob.accept[v] | ~knob.named
        again = True
        while again and ready:
            again = False
            for item in bits(ready):
                if self.direct[item] & (rest | open_lots):
                    continue
                if self.grouped >> item & 1 and not self._may_be_free(item, rest, taken, open_lots):
                    continue
                if any(before & (rest | open_lots) for before, _ in self.wish_before[item]):
                    continue
                rest ^= 1 << item
                ready ^= 1 << item
                made.append(item)
                again = True
        return (rest, self._canonical(rest | open_lots, values), taken), tuple(made)

    def _may_be_free(self, item: int, rest: int, taken: tuple[int, ...], open_lots: int) -> bool:
        """Whether making this lot of a group of mates early binds nothing that is not bound already."""
        bit = 1 << item
        return all(
            not lots & bit or not (lots & (rest | open_lots) & ~bit) or bool(lots & self._done(rest, taken))
            for lots, _ in self.groups
        )

    def _canonical(self, left: int, values: tuple[int, ...]) -> tuple[int, ...]:
        """Values no remaining lot accepts, written ELSEWHERE where the cost of a move depends on the value
        reached only.
        """
        held = 0
        if self.groups:
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
        """Every way to make one more lot, with what is free afterwards; and to leave the last choices
        without lots.
        """
        rest, values, taken = state
        for item in bits(self._ready(rest)):
            for rest2, taken2, paid in self._ways(item, rest, taken):
                yield from self._make(item, rest2, values, taken2, paid)
        open_lots = self.undecided(taken)
        for item in bits(open_lots):
            c = self.choice_of[item]
            for option, lots in self.options[c]:
                if lots >> item & 1:
                    rest1, taken1, paid1 = self._take(rest, taken, c, option)
                    for rest2, taken2, paid2 in self._ways(item, rest1, taken1):
                        yield from self._make(item, rest2, values, taken2, paid1 + paid2)
        if not rest:
            for c, option in enumerate(taken):
                if option == OPEN:
                    for other, lots in self.options[c]:
                        if not lots:
                            rest2, taken2, paid = self._take(rest, taken, c, other)
                            after, made = self.settle(rest2, values, taken2)
                            yield Step(paid, after, made)

    def _ready(self, rest: int) -> int:
        """The lots of which no predecessor remains (an open option may still hold one back)."""
        ready = 0
        for item in bits(rest):
            if not self.direct[item] & rest:
                ready |= 1 << item
        return ready

    def _take(
        self, rest: int, taken: tuple[int, ...], c: int, option: int
    ) -> tuple[int, tuple[int, ...], int]:
        """The state after choice c takes an option: its lots remain, its work and the wishes it goes
        against are paid.
        """
        lots = self.option_lots[c][option]
        paid = self.extra[c][option]
        if self.problem.wishes:
            done = self._done(rest, taken)
            for item in bits(done):
                paid += sum(price for before, price in self.wish_before[item] if before & lots)
        return rest | lots, (*taken[:c], option, *taken[c + 1 :]), paid

    def _ways(
        self, item: int, rest: int, taken: tuple[int, ...]
    ) -> Iterator[tuple[int, tuple[int, ...], int]]:
        """The choices that must be taken, and how, so that this lot can be made next."""
        if self.direct[item] & rest:
            return
        open_lots = self.undecided(taken)
        waiting = self.direct[item] & open_lots
        if not waiting:
            for lots, _ in self.groups:
                if lots >> item & 1 or lots & self._done(rest, taken):
                    waiting |= lots & open_lots
        if not waiting:
            yield rest, taken, 0
            return
        c = self.choice_of[next(bits(waiting))]
        for option, _ in self.options[c]:
            rest1, taken1, paid1 = self._take(rest, taken, c, option)
            for rest2, taken2, paid2 in self._ways(item, rest1, taken1):
                yield rest2, taken2, paid1 + paid2

    def _make(
        self, item: int, rest: int, values: tuple[int, ...], taken: tuple[int, ...], paid: int
    ) -> Iterator[Step]:
        """The ways to move the dials for this lot and make it."""
        held = opening = 0
        if self.groups:
            done = self._done(rest, taken)
            for lots, dials in self.groups:
                if lots & rest:
                    if lots & done:
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
        open_lots = self.undecided(taken)
        ways = []
        for d, stay, reach in self.needs[item]:
            knob = self.knobs[d]
            v = now[d]
            stays = v < knob.values and bool(stay >> v & 1)
            mine = [(d, v, 0)] if stays else []
            if not held >> d & 1 and not (stays and knob.plain and not opening >> d & 1):
                row = knob.cost[v]
                for to in self._worthwhile(knob, v, reach, rest | open_lots):
                    cost = row[to]
                    if to != v and cost is not None:
                        mine.append((d, to, cost))
            if not mine:
                return
            ways.append(mine)
        for before, price in self.wish_before[item]:
            if before & rest:
                paid += price
        rest ^= 1 << item
        for way in product(*ways):
            changed = list(now)
            cost = paid
            for d, to, moving in way:
                changed[d] = to
                cost += moving
            after, made = self.settle(rest, tuple(changed), taken)
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
