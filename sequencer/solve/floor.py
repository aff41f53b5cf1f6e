"""The exact rules of a problem as transitions between states, for searches that build an order from the
front.

Walking is one more dial, the last: its values are the stations, and every lot needs it at its own. A state is
(rest, values, taken): the lots still to be made as a bit mask, the value of each dial, the option taken by
each choice (or OPEN). Lots are renumbered so that precedence points from low to high bits, which lets one
upward pass over a mask settle everything; `Floor.lot_of` leads back.

Two facts keep the states few. A dial is *plain* when its needs allow a move to every value they accept, no
move is missing, and its costs keep the triangle inequality: then leaving a lot out of an order never makes
the rest dearer, so a lot that is available and moves nothing is made at once ("free"; an exchange argument:
take it out of its later place and put it here). And where the cost of a move depends only on the value
reached, a value that no remaining lot accepts is as good as any other such value: it is written ELSEWHERE.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product

from sequencer.solve.problem import Problem
from sequencer.solve.relation import Relation, bits, mask_of
from sequencer.solve.standins import stand_ins

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


@dataclass(frozen=True)
class Knob:
    """A dial of the floor. Costs are rows by the value left (then NOTHING, then ELSEWHERE), columns by the
    value reached.

    `price[v]` is the cost of reaching v from any other value where it is the same from all (else `price` is
    None). `accept[v]`: lots that can be made with the dial at v because they name it and accept v. `named`:
    lots naming it.
    """

    label: str
    values: int
    cost: tuple[tuple[int | None, ...], ...]
    price: tuple[int, ...] | None
    accept: tuple[int, ...]
    named: int
    start: int
    keeps: bool
    station: int
    plain: bool

    @property
    def nothing(self) -> int:
        """The index that stands for "holds no value"."""
        return self.values

    @property
    def elsewhere(self) -> int:
        """The index that stands for "at a value no remaining lot accepts"."""
        return self.values + 1


class Floor:
    """A problem prepared for searching."""

    def __init__(self, problem: Problem, relation: Relation) -> None:
        self.problem = problem
        self.relation = relation
        count = len(problem.lots)
        self.lot_of = _upward(relation, count)
        self.item_of = {lot: item for item, lot in enumerate(self.lot_of)}
        self.count = count
        self.walking = len(problem.dials)
        self.always = self.items(relation.always)
        self.options = [[(o, self.items(mask)) for o, mask in choice] for choice in relation.options]
        self.choice_of: dict[int, int] = {}
        for c, choice in enumerate(self.options):
            for _, mask in choice:
                self.choice_of.update(dict.fromkeys(bits(mask), c))
        self.optional = mask_of(list(self.choice_of))
        self.direct = [0] * count
        for a, b in problem.precedence:
            self.direct[self.item_of[b]] |= 1 << self.item_of[a]
        self.after = [self.items(relation.after[lot]) for lot in self.lot_of]
        self.before = [self.items(relation.before[lot]) for lot in self.lot_of]
        for item in range(count):
            low = (1 << item) - 1
            self.after[item] &= ~low
            self.before[item] &= low
        self.groups = [
            (self.items(mask_of(group.lots)), mask_of(group.held))
            for group in problem.mates
            if len(group.lots) > 1 and group.held
        ]
        self.grouped = 0
        for lots, _ in self.groups:
            self.grouped |= lots
        self.wish_before: list[list[tuple[int, int]]] = [[] for _ in range(count)]
        for wish in problem.wishes:
            if wish.price:
                after, before = self.item_of[wish.after], self.item_of[wish.before]
                self.wish_before[after].append((1 << before, wish.price))
        self.needs = [self._needs(item) for item in range(count)]
        self.knobs = [self._knob(d) for d in range(self.walking + 1)]
        self.forgetful = [d for d in range(self.walking) if not problem.dials[d].keeps]
        rough = 0  # lots that name a dial that is not plain
        for knob in self.knobs[:-1]:
            if not knob.plain:
                rough |= knob.named
        smooth = self.knobs[-1].plain and all(self.knobs[d].plain for d in self.forgetful)
        self.free = ((1 << count) - 1) & ~rough if smooth else 0
        self.work = [problem.lots[lot].work for lot in self.lot_of]
        self.least_work = sum(self.work[item] for item in bits(self.always))
        self.extra: list[dict[int, int]] = []  # per choice: option -> its work above the option of least work
        for choice in self.options:
            total = {o: sum(self.work[item] for item in bits(mask)) for o, mask in choice}
            least = min(total.values())
            self.least_work += least
            self.extra.append({o: work - least for o, work in total.items()})
        self.option_lots = [dict(choice) for choice in self.options]
        self._open: dict[tuple[int, ...], int] = {}
        self.wants = list(self.needs)  # of the lots, then of the stand-ins
        self.standing_in = []  # per choice: its stand-ins (mask)
        for choice in self.options:
            rows = stand_ins([mask for _, mask in choice], self.needs)
            self.standing_in.append(((1 << len(rows)) - 1) << len(self.wants))
            self.wants += rows
        self.after += [0] * (len(self.wants) - count)
        self.before += [0] * (len(self.wants) - count)

    def items(self, lots: int) -> int:
        """The mask of items for a mask of the problem's lots."""
        mask = 0
        for lot in bits(lots):
            mask |= 1 << self.item_of[lot]
        return mask

    def _needs(self, item: int) -> list[tuple[int, int, tuple[int, ...]]]:
        lot = self.problem.lots[self.lot_of[item]]
        needs = [(d, need.stay, tuple(bits(need.reach))) for d, need in sorted(lot.needs.items())]
        return [*needs, (self.walking, 1 << lot.station, (lot.station,))]

    def _knob(self, d: int) -> Knob:
        """Dial d, or walking."""
        problem = self.problem
        mine: list[tuple[int, int, tuple[int, ...]]] = []
        for item, needs in enumerate(self.needs):
            mine += [(item, stay, reach) for dial, stay, reach in needs if dial == d]
        if d < self.walking:
            dial = problem.dials[d]
            label, values, station, keeps = dial.label, dial.values, dial.station, dial.keeps
            rows: list[tuple[int | None, ...]] = list(dial.move)
            first: tuple[int, ...] = dial.first
            start = values if dial.start is None else dial.start
        else:
            label, values, station, keeps = "walking", len(problem.walk), -1, True
            rows, first, start = list(problem.walk), (0,) * len(problem.walk), len(problem.walk)
        used = 0
        accept = [0] * (values + 2)
        for item, stay, _ in mine:
            used |= stay
            for v in bits(stay):
                accept[v] |= 1 << item
        live = list(bits(used))
        if start < values and not used >> start & 1:
            live.append(start)
        price = _price(rows, live, values)
        can_be_empty = start == values or not keeps
        plain = (
            all(mask_of(reach) == stay for _, stay, reach in mine)
            and all(rows[a][b] is not None for a in live for b in live if a != b)
            and _triangle(rows, live)
            and (not can_be_empty or _triangle_first(rows, first, live))
            and (keeps or all(first[b] >= (rows[a][b] or 0) for a in live for b in live if a != b))
            and not any(
                held >> d & 1 and any(d not in problem.lots[self.lot_of[i]].needs for i in bits(group))
                for group, held in self.groups
            )
        )
        if not plain and d < self.walking:
            price = None
        elsewhere = tuple(price) if price is not None else (0,) * values
        return Knob(
            label,
            values,
            (*rows, first, elsewhere),
            price,
            tuple(accept),
            mask_of([item for item, _, _ in mine]),
            start,
            keeps,
            station,
            plain,
        )

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


def _upward(relation: Relation, count: int) -> tuple[int, ...]:
    """The lots in an order that keeps the relation (lots that are never made together may stand against
    it).
    """
    left = set(range(count))
    order: list[int] = []
    rest = (1 << count) - 1
    while left:
        ready = [lot for lot in sorted(left) if not relation.before[lot] & rest]
        for lot in ready or [min(left, key=lambda lot: ((relation.before[lot] & rest).bit_count(), lot))]:
            order.append(lot)
            left.discard(lot)
            rest &= ~(1 << lot)
    return tuple(order)


def _price(rows: list[tuple[int | None, ...]], live: list[int], values: int) -> tuple[int, ...] | None:
    """The cost of reaching each value where it is the same from every other value in use, else None."""
    price = [0] * values
    for b in live:
        column = {rows[a][b] for a in live if a != b}
        if len(column) > 1 or None in column:
            return None
        price[b] = column.pop() or 0 if column else 0
    return tuple(price)


def _triangle(rows: list[tuple[int | None, ...]], live: list[int]) -> bool:
    """Whether going by way of a third value is never cheaper."""
    for a in live:
        for b in live:
            ab = rows[a][b]
            if a == b or ab is None:
                continue
            for c in live:
                bc, ac = rows[b][c], rows[a][c]
                if b != c and a != c and (bc is None or ac is None or ac > ab + bc):
                    return False
    return True


def _triangle_first(rows: list[tuple[int | None, ...]], first: tuple[int, ...], live: list[int]) -> bool:
    """Whether a first value is never set more cheaply by way of another one."""
    for b in live:
        for c in live:
            bc = rows[b][c]
            if b != c and (bc is None or first[c] > first[b] + bc):
                return False
    return True
