"""Quick plans keep every rule, at any size, and take a moment."""

from __future__ import annotations

from collections.abc import Callable
from time import process_time

import pytest

from sequencer.solve.plans.dive import Diver
from sequencer.solve.plans.greedy import WIDTHS, greedy, quick_plan
from sequencer.solve.plans.quick import dived, modest
from sequencer.solve.price import is_order, price
from sequencer.solve.problem import Dial, Lot, Mates, Need, Problem, Wish
from tests.benchmarks.shop_jobs import FEATURES, shop_job
from tests.solve.random_problems import random_problem

TURN = ((0, 5), (5, 0))


@pytest.mark.parametrize("block", range(10))
def test_dives_keep_every_rule(block: int) -> None:
    """With every feature mixed, where a dive finds a plan it makes the lots of its options in an order that
    precedence and mates allow, and costs what it says; of those a wide beam has a plan of it misses few.
    """
    missed = 0
    for seed in range(100 * block, 100 * (block + 1)):
        problem = random_problem(seed, 4 + seed % 9)
        plan = dived(problem)
        if plan is None:
            missed += greedy(problem, 64) is not None
        else:
            priced = price(problem, plan.order)
            assert priced is not None, seed
            assert priced.cost == plan.cost, seed
            assert is_order(problem, plan.order, plan.options), seed
    assert missed <= 3


@pytest.mark.parametrize("family", ["routed", "dense"])
@pytest.mark.parametrize("lots", [400, 1000])
def test_the_largest_jobs_have_a_plan_at_once(family: str, lots: int) -> None:
    """With every feature on, 400 and 1000 lots with 40 and 100 choices have a plan within seconds of processor
    time (a generous limit: under one on a quiet machine).
    """
    problem = shop_job(family, lots, 3, frozenset(FEATURES))
    begun = process_time()
    plan = quick_plan(problem)
    assert process_time() - begun < 4
    assert plan is not None
    assert is_order(problem, plan.order, plan.options)
    assert price(problem, plan.order) is not None


def test_a_visit_takes_in_what_must_come_between_mates() -> None:
    """Lots 0 and 2 are mates and 1 comes between them, at another value of a dial not held: all three in a row,
    though the lot 3 would be free after the first.
    """
    needs = ({0: Need(1, 1), 1: Need(1, 1)}, {1: Need(2, 2)}, {0: Need(1, 1)}, {0: Need(2, 2), 1: Need(1, 1)})
    lots = tuple(Lot(f"lot {n}", 0, need) for n, need in enumerate(needs))
    dials = (Dial("held", 0, TURN, (5, 5)), Dial("other", 0, TURN, (5, 5)))
    problem = Problem(lots, dials, ((0,),), ((0, 1), (1, 2)), (Mates(frozenset({0, 2}), frozenset({0})),))
    assert Diver(problem).dive(()) == (0, 1, 2, 3)


def test_mates_that_must_move_what_they_hold_have_no_dive() -> None:
    """Two mates at different values of the dial they hold cannot be made in one visit."""
    lots = (Lot("a", 0, {0: Need(1, 1)}), Lot("b", 0, {0: Need(2, 2)}))
    mates = (Mates(frozenset({0, 1}), frozenset({0})),)
    assert Diver(Problem(lots, (Dial("d", 0, TURN, (5, 5)),), ((0,),), mates=mates)).dive(()) is None


def test_a_wish_is_kept_where_it_costs_nothing() -> None:
    """Of two lots alike the one wished first comes first, though it has the higher number."""
    lots = (Lot("a", 0, {}), Lot("b", 0, {}))
    assert Diver(Problem(lots, (), ((0,),), wishes=(Wish(1, 0, 3),))).dive(()) == (1, 0)


def test_modest_options_ask_for_no_new_setting() -> None:
    """The option at a value that a lot made in any case insists on is taken, though it is more work."""
    needs = ({0: Need(1, 1)}, {0: Need(2, 2)}, {0: Need(1, 1)})
    lots = tuple(
        Lot(f"lot {n}", 0, need, work) for n, (need, work) in enumerate(zip(needs, (0, 1, 3), strict=True))
    )
    choice = (frozenset({1}), frozenset({2}))
    assert modest(Problem(lots, (Dial("d", 0, TURN, (5, 5)),), ((0,),), choices=(choice,))) == (1,)


def test_a_dead_end_is_one_however_much_else_a_lot_would_save() -> None:
    """The first lot needs a value its dial cannot be moved to; that it could spare two other moves is no help."""
    stuck = Dial("stuck", 0, ((0, None), (None, 0)), (5, 5), start=0)
    needs = ({0: Need(2, 2), 1: Need(3, 3)}, {1: Need(1, 1)}, {1: Need(2, 2)})
    lots = tuple(Lot(f"lot {n}", 0, need) for n, need in enumerate(needs))
    problem = Problem(lots, (stuck, Dial("d", 0, TURN, (5, 5))), ((0,),), ((0, 1), (0, 2)))
    assert Diver(problem).dive(()) is None


def test_once_time_is_up_no_wider_beams_are_tried(monkeypatch: pytest.MonkeyPatch) -> None:
    """The narrowest beam has its turn at any time, for a plan is wanted; the others, of which each takes eight times as
    long, only while there is time."""
    tried: list[int] = []

    def none(problem: Problem, width: int, stop: Callable[[], bool]) -> None:
        tried.append(width)

    monkeypatch.setattr("sequencer.solve.plans.greedy.greedy", none)
    problem = random_problem(3, 6, without=frozenset({"choices"}))
    assert quick_plan(problem, late=lambda: True) is None
    assert tried == [WIDTHS[0]]
    tried.clear()
    quick_plan(problem)
    assert tried == list(WIDTHS)
