"""A plan in hand as a hint: the solver starts from it."""

from __future__ import annotations

from sequencer.solve.cpsat.frame import Frame
from sequencer.solve.cpsat.rows import Row
from sequencer.solve.price import price
from sequencer.solve.problem import Outcome


def hint(frame: Frame, rows: list[Row], plan: Outcome) -> None:
    """Start from the plan in hand."""
    priced = price(frame.problem, plan.order)
    assert priced is not None
    model = frame.model
    left_out = [n for n in range(frame.count) if n not in set(plan.order)]
    for k, lot in enumerate((*plan.order, *left_out)):
        model.add_hint(frame.position[lot], k)
    for taken, option in zip(frame.taken, plan.options, strict=True):
        for o, b in enumerate(taken):
            model.add_hint(b, o == option)
    stations = [frame.problem.lots[lot].station for lot in plan.order]
    for d, row in enumerate(rows):
        slot = -1 if frame.dials[d].start is None else 0
        for k, lot in enumerate(plan.order):
            frame.tick()
            walking = d == frame.walking
            if walking and (k == 0 or stations[k] != stations[k - 1]):
                slot, value = slot + 1, stations[k]
            elif not walking and (move := next((m for m in priced.moves[k] if m.dial == d), None)):
                slot, value = slot + 1, move.to
            else:
                value = None
            if value is not None and slot < len(row.values):
                model.add_hint(row.border[slot], k)
                for v, b in enumerate(row.values[slot]):
                    model.add_hint(b, v == value)
            for s, here in enumerate(row.inside.get(lot, ())):
                model.add_hint(here, s == slot)
