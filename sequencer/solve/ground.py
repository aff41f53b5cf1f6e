"""A problem laid out for searching: lots renumbered, what binds them as bit masks, dials prepared.

Lots are renumbered so that precedence points from low to high bits, which lets one upward pass over a mask
settle everything; `Ground.lot_of` leads back.
"""

from __future__ import annotations

from sequencer.solve.knobs import knob_of
from sequencer.solve.problem import Problem
from sequencer.solve.relation import Relation, bits, mask_of
from sequencer.solve.standins import Needs, stand_ins


class Ground:
    """What does not change while an order is built."""

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
        self.knobs = [knob_of(problem, d, self.needs, self.groups) for d in range(self.walking + 1)]
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

    def _needs(self, item: int) -> Needs:
        lot = self.problem.lots[self.lot_of[item]]
        needs = [(d, need.stay, tuple(bits(need.reach))) for d, need in sorted(lot.needs.items())]
        return [*needs, (self.walking, 1 << lot.station, (lot.station,))]


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
