"""Run as a module: calls the kernels of the search once, so that they are compiled and kept."""

from __future__ import annotations

from sequencer.solve.bounds.wheels import ease
from sequencer.solve.compiled import renew
from sequencer.solve.plans.improve import Improver
from sequencer.solve.problem import Dial, Lot, Need, Problem
from sequencer.solve.proof.climb import KERNELS, Climb
from sequencer.solve.relation import relation_of
from sequencer.solve.transitions.floor import Floor


def warm() -> None:
    """Solve a problem of three lots."""
    move = ((0, 1), (1, 0))
    lots = tuple(
        Lot(str(n), 0, {d: Need(1 << (n + d) % 2, 1 << (n + d) % 2) for d in range(2)}) for n in range(3)
    )
    dials = tuple(Dial(str(d), 0, move, (1, 1)) for d in range(2))
    problem = Problem(lots, dials, ((0,),), ((0, 1), (1, 2)))
    floor = Floor(problem, relation_of(problem))  # type: ignore[arg-type]
    climb = Climb(floor, [ease(floor, d) for d in range(3)], lambda: None, lambda climb: None)
    climb.guided.merge(100)
    climb.guided.search(100)
    Improver(problem, (0, 1, 2), ()).run(1)


if __name__ == "__main__":
    warm()
    renew(KERNELS)  # others may wait for them who have not begun this
