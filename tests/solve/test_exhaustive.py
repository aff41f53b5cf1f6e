"""Every engine against every order, every option and every value of small random problems.

Reference: every order that `networkx.all_topological_sorts` knows, priced by the plain counter in `exhaustive`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from sequencer.solve import Impossible, Limits, Outcome, Problem, solve
from sequencer.solve.cpsat import cpsat
from sequencer.solve.plans.greedy import greedy, quick_plan
from sequencer.solve.price import is_order, price
from sequencer.solve.refusal import eased
from tests.solve import exhaustive
from tests.solve.exhaustive import combinations, least_cost, orders
from tests.solve.random_problems import random_problem

LIMITS = Limits(seconds=60)


def by_constraints(problem: Problem) -> Outcome | Impossible:
    """The constraint model alone."""
    return cpsat(problem, LIMITS, lambda _: None, lambda: False)


def by_all(problem: Problem) -> Outcome | Impossible:
    """What the program uses."""
    return solve(problem, LIMITS)


def check(engine: Callable[[Problem], Outcome | Impossible], problem: Problem, what: str) -> None:
    """The engine proves the least cost, with an order that keeps every rule, or that there is none."""
    least = least_cost(problem)
    found = engine(problem)
    if least is None:
        assert isinstance(found, Impossible), what
        assert found.why, what
        return
    assert isinstance(found, Outcome), what
    assert (found.cost, found.proven) == (least, True), what
    assert is_order(problem, found.order, found.options), what
    priced = price(problem, found.order)
    assert priced is not None
    assert priced.cost == least, what


def test_every_order_is_tried(monkeypatch: pytest.MonkeyPatch) -> None:
    """The orders whose least cost is told are those of `networkx.all_topological_sorts`, each once."""
    tried: list[tuple[int, ...]] = []

    def total(problem: Problem, order: list[int], standings: dict[exhaustive.Standing, int]) -> int:
        tried.append(tuple(order))
        return 0

    monkeypatch.setattr(exhaustive, "_total", total)
    count = 0
    for seed in range(80):
        problem = random_problem(seed, 6)
        bare = replace(problem, lots=tuple(replace(lot, needs={}) for lot in problem.lots), mates=())
        tried.clear()
        least_cost(bare)
        known = [tuple(order) for _, lots in combinations(bare) for order in orders(bare, lots)]
        assert sorted(tried) == sorted(known), seed
        count += len(known)
    assert count > 1_000


@pytest.mark.parametrize("block", range(4))
def test_the_order_found_is_the_cheapest_of_all(block: int) -> None:
    """On random problems of up to 7 lots with all features mixed, the cost is the least of all orders."""
    for seed in range(block * 100, block * 100 + 100):
        check(by_all, random_problem(seed, 7), f"seed {seed}")


@pytest.mark.parametrize("block", range(2))
def test_the_constraint_model_finds_the_cheapest_of_all(block: int) -> None:
    """The constraint model alone does the same."""
    for seed in range(5000 + block * 50, 5050 + block * 50):
        check(by_constraints, random_problem(seed, 6), f"seed {seed}")


@pytest.mark.parametrize("seed", range(12))
def test_eight_lots(seed: int) -> None:
    """The same with 8 lots and enough precedence to list all orders."""
    check(by_all, random_problem(seed, 8, density=0.4), f"seed {seed}")


def test_a_beam_wide_enough_is_exact_without_a_proof() -> None:
    """The quick plan is never better than the least, is a plan whenever there is one, and exact when wide."""
    for seed in range(250):
        problem = random_problem(seed, 6)
        least, quick, wide = least_cost(problem), quick_plan(problem), greedy(problem, 100_000)
        if least is None:
            assert quick is None, f"seed {seed}"
            continue
        assert quick is not None, f"seed {seed}"
        assert wide is not None, f"seed {seed}"
        assert quick.cost >= wide.cost == least, f"seed {seed}"
        assert is_order(problem, quick.order, quick.options), f"seed {seed}"


def test_the_refusal_names_lots_that_cannot_be_ordered() -> None:
    """Where there is no order, the lots named have none either, whatever else is made, and the sentence names them all.
    None are named only where all lots are needed for that: with less asked of them there is an order.
    """
    named = together = 0
    for seed in range(5000, 5200):
        problem = random_problem(seed, 5, without=frozenset({"choices"}))
        if least_cost(problem) is not None:
            continue
        refusal = by_constraints(problem)
        assert isinstance(refusal, Impossible)
        if not refusal.lots:
            assert least_cost(eased(problem)) is not None
            assert any(lot.label in refusal.why for lot in problem.lots), refusal
            together += 1
            continue
        assert least_cost(problem.part(refusal.lots)) is None
        assert least_cost(eased(problem).part(refusal.lots)) is None
        assert all(problem.lots[lot].label in refusal.why for lot in refusal.lots), refusal
        named += 1
    assert named > 10
    assert together > 10


def test_stopped_by_hand_the_best_so_far_is_returned() -> None:
    """A stop at once still gives an order that keeps the rules, marked as interrupted, with an honest bound."""
    problem = random_problem(4, 7, without=frozenset({"mates", "choices"}))
    least = least_cost(problem)
    assert least is not None
    found = cpsat(problem, LIMITS, lambda _: None, lambda: True, quick_plan(problem))
    assert isinstance(found, Outcome)
    assert found.bound <= least <= found.cost
    assert is_order(problem, found.order, found.options)


def test_the_same_seed_gives_the_same_order() -> None:
    """Two runs return the same order."""
    for seed in range(20):
        problem = random_problem(seed, 7)
        first, second = by_constraints(problem), by_constraints(problem)
        if isinstance(first, Outcome):
            assert isinstance(second, Outcome)
            assert (first.order, first.options) == (second.order, second.options)
