"""A better order for a plan of a problem with choices, its options as they are: what is left is a problem without
choices, of which the plan is loosened (`loosening`).

Annealing takes other options, too, and where it ends the options are mostly good and the order is not.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress

from sequencer.solve.bounds.astar import Found
from sequencer.solve.choices.completion import Completed
from sequencer.solve.choices.outline import restricted
from sequencer.solve.clock import Stopped
from sequencer.solve.problem import Impossible, Problem
from sequencer.solve.proof.guided import MANY_LOTS
from sequencer.solve.proof.known import NamedCourse, numbered
from sequencer.solve.proof.loosening import Loosening
from sequencer.solve.proof.scale import compiles
from sequencer.solve.relation import relation_of
from sequencer.solve.transitions.floor import Floor


class Reordering:
    """One plan: `plan` is the best so far."""

    def __init__(self, problem: Problem, plan: Completed, course: NamedCourse, seed: int) -> None:
        """`course`: trees that serve outlines of the problem."""
        self.plan = plan
        self._problem, self._course, self._seed = problem, course, seed
        self._loosening: Loosening | None = None

    @property
    def work(self) -> int:
        """Work done so far, in states seen."""
        return self._loosening.work if self._loosening else 0

    def run(self, work: int, ended: Callable[[], bool]) -> None:
        """Look for better orders: no further search begins once so much work is done, all is over, or none is cheaper.
        There is none where there is nothing to go by, or where lots are very many.
        """
        cost, order, options = self.plan
        fixed, lots = restricted(self._problem, tuple(1 << option for option in options))
        relation = relation_of(fixed)
        assert not isinstance(relation, Impossible), "the plan is an order of these lots"
        floor = Floor(fixed, relation)
        course = numbered(floor, self._course)
        if course is None or floor.count > MANY_LOTS or not compiles(floor):
            return

        def tick() -> None:
            if ended():
                raise Stopped

        number = {lot: index for index, lot in enumerate(lots)}
        best = Found(cost, tuple(floor.item_of[number[lot]] for lot in order))
        self._loosening = loosening = Loosening(floor, tick, self._seed)
        with suppress(Stopped):
            while loosening.work < work and loosening.least is None:
                found = loosening.better(best, course)
                if found is not None:
                    best = found
                    order = tuple(lots[floor.lot_of[item]] for item in best.items)
                    self.plan = best.cost, order, options
