"""The whole constraint model of one problem."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from sequencer.solve.cpsat.counts import Counts, state
from sequencer.solve.cpsat.frame import Frame, Terms
from sequencer.solve.cpsat.hint import hint
from sequencer.solve.cpsat.prices import is_tour, price_of_forgetful, price_of_row, price_of_tour
from sequencer.solve.cpsat.rows import Row, exact_dials, keep_apart, row_of
from sequencer.solve.cpsat.rules import mate, precede, wish
from sequencer.solve.problem import Outcome, Problem


class Runs:
    """The model of one problem. With a plan in hand, nothing dearer is looked for."""

    def __init__(
        self, problem: Problem, plan: Outcome | None, counts: Counts, tick: Callable[[], None]
    ) -> None:
        frame = Frame(problem, tick)
        self.frame = frame
        work = sum(lot.work * made for lot, made in zip(problem.lots, frame.made, strict=True))
        exact = exact_dials(frame)
        slots = self._slots(plan, counts)
        tours = [is_tour(frame, d, exact[d], slots[d]) for d in range(len(frame.dials))]
        rows = [
            Row([], [], [], {}, []) if tours[d] else row_of(frame, d, slots[d], exact[d])
            for d in range(len(frame.dials))
        ]
        keep_apart(frame, exact)
        costs: list[Terms] = []
        for d, dial in enumerate(frame.dials):
            if tours[d]:
                costs.append(price_of_tour(frame, d))
            elif dial.keeps:
                costs.append(price_of_row(frame, d, rows[d]))
            else:
                costs.append(price_of_forgetful(frame, d, rows[d], rows[-1]))
        precede(frame, rows)
        mate(frame, rows)
        total = sum(term for terms in costs for term in terms) + sum(wish(frame)) + work
        state(frame, counts, rows, costs, total)
        if plan is not None:
            frame.model.add(total <= plan.cost)
            hint(frame, rows, plan)
        frame.model.minimize(total)

    def order(self, value: Callable[[Any], int]) -> tuple[tuple[int, ...], tuple[int, ...]]:
        """The order and the options taken where the variables have these values."""
        frame = self.frame
        made = [n for n in range(frame.count) if frame.always(n) or value(frame.made[n])]
        order = tuple(sorted(made, key=lambda n: (value(frame.position[n]), n)))
        return order, tuple(next(o for o, b in enumerate(row) if value(b)) for row in frame.taken)

    def _slots(self, plan: Outcome | None, counts: Counts) -> list[int]:
        """For each dial, how many values it can hold in turn in a plan no dearer than the one in hand."""
        frame = self.frame
        slots = []
        for d, dial in enumerate(frame.dials):
            needs = [needs[d] for needs in frame.needs if d in needs]
            reached = [v for v in range(dial.values) if any(need.reach >> v & 1 for need in needs)]
            most = len(needs)
            moves = [dial.move[u][v] for v in reached for u in range(dial.values) if u != v]
            moves += [dial.first[v] for v in reached] if not dial.keeps else []
            cheapest = min((p for p in moves if p is not None), default=0)
            if plan is not None and cheapest:
                spare = plan.cost - counts.without(d)
                first = 0
                if dial.start is None and reached:
                    first = 1
                    spare -= min(dial.first[v] for v in reached)
                most = min(most, first + max(0, spare) // cheapest)
            slots.append(most + (dial.start is not None))
        return slots
