"""Plans of problems with choices reordered: legal, the options as they were, down to the least cost under them."""

from __future__ import annotations

import pytest

from sequencer.solve.choices.outline import restricted
from sequencer.solve.choices.reordering import Reordering
from sequencer.solve.plans.greedy import quick_plan
from sequencer.solve.price import is_order, price
from sequencer.solve.problem import Problem
from sequencer.solve.proof.known import UNCHARTED, NamedCourse, named
from sequencer.solve.proof.trees import Course, by_station
from tests.benchmarks.jobs import problem_of
from tests.solve.exhaustive import least_cost
from tests.solve.laid_out import laid_out
from tests.solve.random_problems import random_problem

ENDLESS = 10_000_000
"""Work that is enough for small problems."""


def fixed(problem: Problem, options: tuple[int, ...]) -> Problem:
    """What is left under these options."""
    return restricted(problem, tuple(1 << option for option in options))[0]


def some_course(problem: Problem, options: tuple[int, ...]) -> NamedCourse:
    """Trees to go by."""
    floor = laid_out(fixed(problem, options))
    return named(floor, Course(by_station(floor))) if floor else UNCHARTED


@pytest.mark.usefixtures("compiled")
def test_the_cheapest_order_under_the_options_is_found() -> None:
    """On random problems with every feature and choices, by enumeration; lots and options stay those of the plan."""
    tried = bettered = 0
    for seed in range(72_000, 72_200):
        problem = random_problem(seed, 7)
        quick = quick_plan(problem) if problem.choices else None
        if quick is None:
            continue
        course = some_course(problem, quick.options)
        reordering = Reordering(problem, (quick.cost, quick.order, quick.options), course, seed)
        reordering.run(ENDLESS, lambda: False)
        cost, order, options = reordering.plan
        priced = price(problem, order)
        assert options == quick.options
        assert is_order(problem, order, options), seed
        assert priced is not None, seed
        if course != UNCHARTED or not order:
            assert priced.cost == cost == least_cost(fixed(problem, options)), seed
            tried, bettered = tried + 1, bettered + (cost < quick.cost)
    assert tried > 30
    assert bettered > 10


@pytest.mark.usefixtures("compiled")
def test_it_ends_when_told_or_where_there_is_nothing_to_go_by() -> None:
    """With the plan it had."""
    problem = problem_of("routed 60 ranges,stops,4-choices 3")
    quick = quick_plan(problem)
    assert quick is not None
    plan = quick.cost, quick.order, quick.options
    for course, ended in ((UNCHARTED, False), (some_course(problem, quick.options), True)):
        reordering = Reordering(problem, plan, course, 0)
        reordering.run(ENDLESS, lambda ended=ended: ended)  # type: ignore[misc]
        assert reordering.plan == plan
        assert reordering.work < 60 * 100
