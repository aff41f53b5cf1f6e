"""Problems laid out for the kernels, their dials divided at random, and ascents gone to their end."""

from __future__ import annotations

from random import Random

from sequencer.solve.problem import Impossible, Problem
from sequencer.solve.proof.climb import Climb
from sequencer.solve.proof.scale import compiles
from sequencer.solve.relation import relation_of
from sequencer.solve.transitions.floor import Floor


def laid_out(problem: Problem) -> Floor | None:
    """The problem laid out; None if its lots run in a circle or the kernels cannot take it."""
    relation = relation_of(problem)
    if isinstance(relation, Impossible):
        return None
    floor = Floor(problem, relation)
    return floor if compiles(floor) else None


def finish(climb: Climb) -> None:
    """Go through all rounds of an ascent, until it is closed."""
    for _ in climb.rounds():
        pass


def divided(floor: Floor, rng: Random) -> list[tuple[int, ...]]:
    """All dials of a floor and walking in disjoint sets."""
    dials = rng.sample(range(len(floor.knobs)), len(floor.knobs))
    sets = []
    while dials:
        size = rng.randint(1, len(dials))
        sets.append(tuple(sorted(dials[:size])))
        del dials[:size]
    return sets
