"""Bounds never exceed the exact rest cost, whatever features meet."""

from __future__ import annotations

from functools import partial
from random import Random

import pytest

from sequencer.solve.bounds.astar import BestFirst, Guide
from sequencer.solve.bounds.merging import merge, one_dial
from sequencer.solve.bounds.patterns import Pattern
from sequencer.solve.bounds.wheels import ease
from sequencer.solve.choices.options import branch_and_bound
from sequencer.solve.problem import FAR, Impossible, Limits, Outcome
from sequencer.solve.proof.search import begin, search
from sequencer.solve.relation import relation_of
from sequencer.solve.transitions.floor import Floor, Step
from tests.benchmarks.shop_jobs import shop_job
from tests.solve.random_problems import random_problem


def rest_cost(floor: Floor, begun: Step) -> int | None:
    """The exact cost from a state on, by search without any estimate; None if nothing can be completed."""

    class Later:
        """The floor, entered in the state given."""

        def __getattr__(self, name: str) -> object:
            return getattr(floor, name)

        def first(self) -> Step:
            return Step(0, begun.state, ())

    search = BestFirst(Later(), Guide([]), lambda: None, None, lambda bound: None)  # type: ignore[arg-type]
    search.run()
    return None if search.best is None else search.best.cost


def test_effort_counts_what_the_search_itself_opens() -> None:
    """Not only what its patterns open: without any, the search ends when it has opened so many states."""
    problem = shop_job("routed", 40, 1, frozenset({"tables", "forgets", "mates", "wishes"}))
    relation = relation_of(problem)
    assert not isinstance(relation, Impossible)
    search = BestFirst(Floor(problem, relation), Guide([]), lambda: None, None, lambda bound: None, effort=50)
    search.run()
    assert search.spent
    assert search.best is None
    assert search.expanded == 51


@pytest.mark.parametrize("block", range(10))
def test_patterns_never_exceed_the_rest_cost(block: int) -> None:
    """At states reached at random, single dials and merged patterns add up to no more than the exact rest
    cost.
    """
    for seed in range(40 * block, 40 * (block + 1)):
        problem = random_problem(seed, 7, without=frozenset({"choices"}))
        relation = relation_of(problem)
        if isinstance(relation, Impossible):
            continue
        floor = Floor(problem, relation)
        wheels = [ease(floor, d) for d in range(len(floor.knobs))]
        step = floor.first()
        singles = [one_dial(floor, wheel, d, step.state, lambda: None) for d, wheel in enumerate(wheels)]
        merged = merge(floor, wheels, singles, step.state, lambda: None, 5.0, lambda bound: None)
        whole = Pattern(floor, wheels, tuple(range(len(wheels))), tuple(singles), lambda: None)
        rng = Random(seed)
        while step.state[0]:
            exact = rest_cost(floor, step)
            if exact is None:
                break
            rest, values = step.state
            for patterns in (singles, merged, [whole]):
                bound = sum(p.bound(p.project(rest, values), FAR) for p in patterns)
                assert bound <= exact, (seed, step.state)
            step = rng.choice(list(floor.steps(step.state)))


def test_reasons_add_up_to_the_bound() -> None:
    """The reasons given with a proven plan come to no more than its cost, and each has words."""
    for seed in range(200):
        problem = random_problem(seed, 7)
        engine = partial(branch_and_bound, engine=begin) if problem.choices else search
        found = engine(problem, Limits(20), lambda news: None, lambda: False)
        if isinstance(found, Outcome):
            assert sum(reason.cost for reason in found.reasons) <= found.bound, seed
            assert all(reason.why and reason.cost > 0 for reason in found.reasons), seed
