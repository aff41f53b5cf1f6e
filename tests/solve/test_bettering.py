"""Better plans looked for in portions: the same however small these are, and by turns in long searches."""

from __future__ import annotations

from typing import Any

import pytest

from sequencer.solve.choices.bettering import LATER, LONG, LONGER, PORTION, REORDERED, Bettering
from sequencer.solve.choices.completion import Completed
from sequencer.solve.choices.outline import restricted
from sequencer.solve.plans.changes import CHANGE, ENOUGH
from sequencer.solve.plans.greedy import quick_plan
from sequencer.solve.plans.improve import SLICE, Improver, begun
from sequencer.solve.price import is_order, price
from sequencer.solve.problem import Problem
from sequencer.solve.proof.known import UNCHARTED, NamedCourse, named
from sequencer.solve.proof.loosening import ROOM
from sequencer.solve.proof.trees import Course, by_station
from tests.benchmarks.jobs import problem_of
from tests.solve.laid_out import laid_out

OPENED = 40_000
"""Work of one search besides what it sees for the first time, at most."""


@pytest.fixture
def problem() -> Problem:
    """Sixty lots with four choices."""
    return problem_of("routed 60 ranges,stops,4-choices 3")


def first_plan(problem: Problem) -> Completed:
    """The quick plan."""
    quick = quick_plan(problem)
    assert quick is not None
    return quick.cost, quick.order, quick.options


def portion(
    bettering: Bettering, best: Completed, further: int = 0, course: NamedCourse = UNCHARTED
) -> Completed:
    """The best plan after one portion, taken in."""
    bettering.begin(best, further, course)
    bettering.run()
    found = bettering.take(best)
    assert found is not None
    return found


def until_left_alone(bettering: Bettering, best: Completed) -> tuple[Completed, int]:
    """The best plan when none is looked for any more, and after how many portions that is."""
    portions = 0
    while bettering.wanted(best):
        best = portion(bettering, best)
        portions += 1
    return best, portions


@pytest.mark.usefixtures("compiled")
def test_small_portions_come_to_the_plan_of_a_large_one(
    problem: Problem, monkeypatch: pytest.MonkeyPatch
) -> None:
    """And it costs what is told."""
    first, plans = first_plan(problem), []
    for size in (10**9, 500):
        monkeypatch.setattr("sequencer.solve.choices.bettering.PORTION", size)
        best, portions = until_left_alone(Bettering(problem, lambda: False), first)
        assert portions == 1 if size > 500 else portions > 10
        plans.append(best)
    assert plans[0] == plans[1]
    cost, order, options = plans[0]
    assert cost < first[0]
    assert is_order(problem, order, options)
    priced = price(problem, order)
    assert priced is not None
    assert priced.cost == cost


@pytest.mark.usefixtures("compiled")
def test_it_goes_on_from_what_is_better_elsewhere(problem: Problem, monkeypatch: pytest.MonkeyPatch) -> None:
    """A plan found meanwhile by others is begun from; where there is none, the same search goes on."""
    first = first_plan(problem)
    good, _ = until_left_alone(Bettering(problem, lambda: False), first)
    from_: list[tuple[int, ...]] = []

    def told(problem: Problem, order: tuple[int, ...], *more: Any) -> Improver | None:
        from_.append(order)
        return begun(problem, order, *more)

    monkeypatch.setattr("sequencer.solve.plans.improve.begun", told)
    monkeypatch.setattr("sequencer.solve.choices.bettering.PORTION", 500)
    bettering = Bettering(problem, lambda: False)
    best = portion(bettering, first)
    portion(bettering, best)
    assert from_ == [first[1]]
    portion(bettering, good)
    assert from_ == [first[1], good[1]]


@pytest.mark.usefixtures("compiled")
def test_a_portion_is_longer_beside_further_looks(problem: Problem) -> None:
    """By as much as such a look is, until the plan has had enough."""
    first = first_plan(problem)
    for further in (0, 1, 2):
        bettering = Bettering(problem, lambda: False)
        portion(bettering, first, further)
        tried = min(ENOUGH, PORTION * LONGER**further)
        assert CHANGE * tried <= bettering.work < CHANGE * (tried + SLICE)


@pytest.mark.usefixtures("compiled")
def test_told_to_end_it_has_the_plan_it_had(problem: Problem) -> None:
    """No change is tried any more."""
    first = first_plan(problem)
    bettering = Bettering(problem, lambda: True)
    assert portion(bettering, first) == first
    assert bettering.work == 0


@pytest.mark.usefixtures("compiled")
def test_a_long_search_reorders_its_best_plan_now_and_then(
    problem: Problem, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Not while there is something to anneal; by a portion of its own work, the options as they are; what comes of it
    is annealed again, and the next one is due later.
    """
    monkeypatch.setattr(
        "sequencer.solve.choices.bettering.ENOUGH", 0
    )  # annealed no further than to know the plan
    first = first_plan(problem)
    floor = laid_out(restricted(problem, tuple(1 << option for option in first[2]))[0])
    assert floor is not None
    course = named(floor, Course(by_station(floor)))
    bettering = Bettering(problem, lambda: False)
    assert portion(bettering, first) == first
    for look in range(1, LONG):
        bettering.looked()
        assert bettering.wanted(first) == (look in (1, 2, 4, 8)), look  # to be annealed again
        if bettering.wanted(first):
            assert portion(bettering, first, 0, course) == first
    bettering.looked()
    assert bettering.wanted(first)
    best = portion(bettering, first, 0, course)
    assert best[0] < first[0]
    assert best[2] == first[2]
    assert is_order(problem, *best[1:])

    assert bettering.wanted(best)  # to be annealed
    assert portion(bettering, best, 0, course) == best
    for look in range(LONG + 1, int(LATER * LONG) + 1):
        bettering.looked()
        assert bettering.wanted(best) == (look == 16), look
        if bettering.wanted(best):
            portion(bettering, best, 0, course)
    bettering.looked()
    assert bettering.wanted(best)
    bettering.begin(best, 0, course)
    assert not bettering.wanted(best)  # there is one at work
    bettering.run()
    most = REORDERED * len(problem.lots) + ROOM + OPENED
    assert REORDERED * len(problem.lots) <= bettering.work < most
