"""Plans loosened: what is kept of them, that only legal and cheaper ones come of it, and that the least cost does."""

from __future__ import annotations

from itertools import pairwise

import pytest

from sequencer.solve.bounds.astar import Found
from sequencer.solve.clock import Stopped
from sequencer.solve.plans.improve import Improver
from sequencer.solve.plans.quick import dived
from sequencer.solve.price import is_order, price
from sequencer.solve.problem import Problem
from sequencer.solve.proof import loosening
from sequencer.solve.proof.climb import Climb
from sequencer.solve.proof.guided import Guided
from sequencer.solve.proof.loosening import LAYING, LESS, MORE, Loosening
from sequencer.solve.proof.trees import Course, by_station
from tests.benchmarks.jobs import problem_of
from tests.solve.exhaustive import least_cost
from tests.solve.random_problems import random_problem
from tests.solve.test_climb import ascent


def begun(problem: Problem, seed: int = 0) -> tuple[Climb, Loosening, Found] | None:
    """A problem laid out, what loosens its plans, and the plan of a dive; None where there is none."""
    climb, dive = ascent(problem), dived(problem)
    if climb is None or dive is None:
        return None
    floor = climb.floor
    plan = Found(dive.cost, tuple(floor.item_of[lot] for lot in dive.order))
    return climb, Loosening(floor, lambda: None, seed), plan


def lots_of(climb: Climb, plan: Found) -> tuple[int, ...]:
    """The lots of a plan in order."""
    return tuple(climb.floor.lot_of[item] for item in plan.items)


@pytest.mark.parametrize("back", [False, True])
def test_plans_get_cheaper_down_to_the_least_cost(back: bool) -> None:
    """On random problems with every feature but choices, from either end: each plan is legal and costs what is said;
    once nothing is kept any more, the last one is the cheapest of all orders.
    """
    bettered = 0
    for seed in range(71_000, 71_150):
        problem = random_problem(seed, 7, without=frozenset({"choices"}))
        found = begun(problem)
        if found is None:
            continue
        climb, loosener, plan = found
        course = Course(by_station(climb.floor), back)
        for _ in range(200):
            if loosener.least is not None:
                break
            better = loosener.better(plan, course)
            if better is None:
                continue
            order = lots_of(climb, better)
            priced = price(problem, order)
            assert is_order(problem, order, ()), seed
            assert priced is not None, seed
            assert priced.cost == better.cost < plan.cost, seed
            plan, bettered = better, bettered + 1
        assert plan.cost == loosener.least == least_cost(problem), seed
    assert bettered > 30


def test_what_is_kept_holds_in_the_plan_and_in_what_comes_of_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """Pairs are told from turn to turn, each as the plan has it, more of them where more is kept; better plans have
    them, too.
    """
    found = begun(problem_of("routed 60 ranges,any,stops,tables,starts,forgets,mates,wishes 1"))
    assert found is not None
    climb, loosener, plan = found
    order = lots_of(climb, plan)
    priced = price(climb.floor.problem, order)
    assert priced is not None
    begins = [bool(moves) or walk > 0 for moves, walk in zip(priced.moves, priced.walks, strict=True)]
    turns = {lot: sum(begins[: k + 1]) for k, lot in enumerate(order)}
    assert len(set(turns.values())) < len(order)
    counts = []
    for loosener.kept in (0.1, 0.5, 1.0, 2.5, 6.0, 100.0):
        drawn = [loosener.pairs(order) for _ in range(20)]
        assert all(turns[a] < turns[b] for pairs in drawn for a, b in pairs)
        counts.append(sum(map(len, drawn)))
    assert counts == sorted(counts)
    assert all(a < b for a, b in pairwise(counts))

    told: list[set[tuple[int, int]]] = []
    draw = loosener.pairs
    monkeypatch.setattr(loosener, "pairs", lambda order: told.append(draw(order)) or told[-1])
    loosener.kept, bettered = 3.0, 0
    for _ in range(20):
        better = loosener.better(plan, climb.course)
        if better is not None:
            place = {lot: k for k, lot in enumerate(lots_of(climb, better))}
            assert all(place[a] < place[b] for a, b in told[-1])
            plan, bettered = better, bettered + 1
    assert bettered > 2


def test_an_annealed_plan_is_bettered_and_the_same_way_each_time() -> None:
    """Of a job in which changes come to no more: the same seed takes the same course, and work is counted."""
    problem = problem_of("routed 200 plain 5")
    ways = []
    for _ in range(2):
        found = begun(problem, seed=3)
        assert found is not None
        climb, loosener, plan = found
        improver = Improver(climb.floor.problem, lots_of(climb, plan), (), 2)
        improver.run(60_000)
        plan = Found(improver.cost, tuple(climb.floor.item_of[lot] for lot in improver.best))
        way = [(plan.cost, loosener.work)]
        for _ in range(12):
            plan = loosener.better(plan, Course(by_station(climb.floor))) or plan
            way.append((plan.cost, loosener.work))
        assert all(a < b for (_, a), (_, b) in pairwise(way))
        ways.append(way)
    assert ways[0] == ways[1]
    assert ways[0][-1][0] < ways[0][0][0]


def test_more_is_kept_after_a_search_that_came_to_no_end(monkeypatch: pytest.MonkeyPatch) -> None:
    """And less after one that did; neither more than all nor less than the least."""
    problem = problem_of("routed 120 plain 1")
    found = begun(problem)
    assert found is not None
    climb, loosener, plan = found
    loosener.kept = 0.2
    assert loosener.better(plan, climb.course) is None, "the search has room for more states than was thought"
    assert 0.2 < loosener.kept == pytest.approx(0.2 + MORE)
    most = float(len(climb.floor.problem.dials) + len(climb.floor.problem.walk))
    for closed, kept, then in (
        (True, 3.0, 3.0 - LESS),
        (False, 3.0, 3.0 + MORE),
        (False, most, most),
        (True, LESS / 2, 0.0),  # nothing is kept then
    ):
        monkeypatch.setattr(loosener, "_search", lambda *_, closed=closed: (None, closed))
        loosener.kept = kept
        assert loosener.better(plan, climb.course) is None
        assert loosener.kept == pytest.approx(then)
        assert loosener.least == (None if then else plan.cost)


def test_a_search_that_is_stopped_or_short_of_memory_loses_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    """What it has done counts; a stop is handed on, and where memory is full it has come to no end."""
    found = begun(problem_of("routed 120 plain 1"))
    assert found is not None
    climb, loosener, plan = found

    def stop() -> None:
        if loosener._asking and loosener._asking.work > 5_000:
            raise Stopped

    loosener.kept, loosener.tick = 0.2, stop
    with pytest.raises(Stopped):
        loosener.better(plan, climb.course)
    assert loosener._asking is None
    assert loosener.work > LAYING * climb.floor.count + 5_000
    loosener.tick = lambda: None
    kept, work = loosener.kept, loosener.work

    def full(guided: Guided, effort: int) -> None:
        raise MemoryError

    monkeypatch.setattr(loosening.Guided, "round", full)
    assert loosener.better(plan, climb.course) is None
    assert loosener.kept == kept + MORE
    assert loosener._asking is None
    assert loosener.work > work + LAYING * climb.floor.count
