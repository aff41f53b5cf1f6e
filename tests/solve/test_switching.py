"""Local search over options: every plan it hands on is legal, priced right and better than the last."""

from __future__ import annotations

import pytest

from sequencer.solve.price import is_order, price
from sequencer.solve.problem import Dial, Lot, Need, Problem
from sequencer.solve.quick import dived
from sequencer.solve.switching import better, switched
from tests.solve.random_problems import random_problem

TURN = ((0, 5), (5, 0))


@pytest.mark.parametrize("block", range(4))
def test_plans_with_another_option_are_legal(block: int) -> None:
    """With every feature mixed, a plan switched to another option makes that option's lots, keeps every rule and
    costs what it says; and mostly a switch finds one.
    """
    tried = found = 0
    for seed in range(100 * block, 100 * (block + 1)):
        problem = random_problem(seed, 4 + seed % 9)
        plan = dived(problem) if problem.choices else None
        if plan is None:
            continue
        for c, choice in enumerate(problem.choices):
            for o in range(len(choice)):
                other = switched(problem, (plan.cost, plan.order, plan.options), c, o)
                tried += 1
                if other is None:
                    continue
                found += 1
                cost, order, options = other
                assert options[c] == o, seed
                assert is_order(problem, order, options), seed
                priced = price(problem, order)
                assert priced is not None, seed
                assert priced.cost == cost, seed
    assert found > 0.7 * tried


def test_plans_only_get_better() -> None:
    """Every plan told is legal, costs what it says, and no more than the one before; the same seed tells the same,
    whenever it is gone on with.
    """
    for seed in range(60):
        problem = random_problem(seed, 10)
        quick = dived(problem) if problem.choices else None
        if quick is None:
            continue
        plan = (quick.cost, quick.order, quick.options)
        told = list(better(problem, plan, 1_200, 500, 0, lambda: False))
        assert told == list(better(problem, plan, 1_200, 500, 0, lambda: False)), seed
        assert sum(moves for _, moves in told[:3]) == 1_200, seed
        costs = [quick.cost, *(cost for (cost, _, _), _ in told)]
        assert costs == sorted(costs, reverse=True), seed
        for (cost, order, options), _ in told:
            assert is_order(problem, order, options), seed
            priced = price(problem, order)
            assert priced is not None, seed
            assert priced.cost == cost, seed


def test_the_option_that_fits_between_is_found() -> None:
    """Between two lots at one value, the option at that value costs two moves less than the one at the other."""
    needs = [{0: Need(v, v)} for v in (1, 2, 1, 1)]
    lots = tuple(Lot(f"lot {n}", 0, need) for n, need in enumerate(needs))
    choice = (frozenset({1}), frozenset({2}))
    pairs = ((0, 1), (0, 2), (1, 3), (2, 3))
    problem = Problem(lots, (Dial("d", 0, TURN, (5, 5)),), ((0,),), pairs, choices=(choice,))
    assert switched(problem, (15, (0, 1, 3), (0,)), 0, 1) == (5, (0, 2, 3), (1,))
    told = list(better(problem, (15, (0, 1, 3), (0,)), 10, 10, 0, lambda: False))
    assert told[0] == ((15, (0, 1, 3), (0,)), 10)
    assert told[-1][0] == (5, (0, 2, 3), (1,))
