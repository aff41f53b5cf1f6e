"""A problem without choices laid out for searching: lots renumbered, what binds them as bit masks, dials prepared.

Lots are renumbered so that precedence points from low to high bits, which lets one upward pass over a mask
settle everything; `Ground.lot_of` leads back.
"""

from __future__ import annotations

from sequencer.solve.problem import Problem
from sequencer.solve.reduction.passing import vain_stations, vain_values
from sequencer.solve.relation import Relation, bits, mask_of
from sequencer.solve.transitions.knobs import Needs, knob_of


class Ground:
    """What does not change while an order is built."""

    def __init__(self, problem: Problem, relation: Relation) -> None:
        """Raises ValueError where choices are open: `options` takes them before an order is searched for."""
        if problem.choices:
            raise ValueError("a problem is laid out for searching only when no choices are left")
        self.problem = problem
        count = len(problem.lots)
        self.lot_of = _upward(relation, count)
        self.item_of = {lot: item for item, lot in enumerate(self.lot_of)}
        self.count = count
        self.walking = len(problem.dials)
        self.every = (1 << count) - 1
        self.direct = [0] * count
        for a, b in problem.precedence:
            self.direct[self.item_of[b]] |= 1 << self.item_of[a]
        self.after = [self.items(relation.after[lot]) for lot in self.lot_of]
        self.before = [self.items(relation.before[lot]) for lot in self.lot_of]
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
        self.tied = self.grouped
        for after, wishes in enumerate(self.wish_before):
            for before, _ in wishes:
                self.tied |= before | 1 << after
        self.needs = [self._needs(item) for item in range(count)]
        self.vain = vain = [*vain_values(problem), vain_stations(problem)]
        self.knobs = [knob_of(problem, d, self.needs, vain) for d in range(self.walking + 1)]
        self.forgetful = [d for d in range(self.walking) if not problem.dials[d].keeps]
        kept_back = [any(stay & ~vain[d] for d, stay, _ in needs) for needs in self.needs]
        self.free = mask_of([item for item in range(count) if not kept_back[item]])
        self.work = sum(lot.work for lot in problem.lots)

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
    """The lots in an order that keeps the relation."""
    order: list[int] = []
    rest = (1 << count) - 1
    while rest:
        ready = [lot for lot in bits(rest) if not relation.before[lot] & rest]
        order += ready
        rest &= ~mask_of(ready)
    return tuple(order)
