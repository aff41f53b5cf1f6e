"""The price of a given order against every choice of values, and against what it says of itself."""

from __future__ import annotations

from random import Random

import pytest

from sequencer.solve.price import NO_VALUE, is_order, price
from sequencer.solve.problem import Dial, Lot, Need, Problem
from tests.solve.exhaustive import combinations, cost_of, orders
from tests.solve.random_problems import random_problem


@pytest.mark.parametrize("block", range(4))
def test_price_equals_every_choice_of_values(block: int) -> None:
    """Along random orders, kept precedence or not, the price is the least over all values, or None with it."""
    forbidden = 0
    for seed in range(block * 250, block * 250 + 250):
        problem = random_problem(seed, 7)
        rng = Random(seed)
        for _, lots in combinations(problem):
            order = rng.sample(lots, len(lots))
            priced = price(problem, tuple(order))
            assert (None if priced is None else priced.cost) == cost_of(problem, order), f"seed {seed}"
            forbidden += priced is None
    assert forbidden > 20


def test_the_steps_add_up_to_the_price() -> None:
    """Values and moves step by step are allowed, follow from each other and cost what the whole says."""
    for seed in range(300):
        problem = random_problem(seed, 7, without=frozenset({"mates"}))
        _, lots = next(combinations(problem))
        order = tuple(Random(seed).sample(lots, len(lots)))
        priced = price(problem, order)
        if priced is None:  # a value that no move leads to
            assert cost_of(problem, list(order)) is None, f"seed {seed}"
            continue
        held = [NO_VALUE if dial.start is None else dial.start for dial in problem.dials]
        paid, at = 0, None
        for lot, values, moves, walk in zip(order, priced.values, priced.moves, priced.walks, strict=True):
            station, needs = problem.lots[lot].station, problem.lots[lot].needs
            if at not in (None, station):
                held = [
                    NO_VALUE if dial.station == at and not dial.keeps else value
                    for dial, value in zip(problem.dials, held, strict=True)
                ]
                assert walk == problem.walk[at][station]
            at = station
            for move in moves:
                dial = problem.dials[move.dial]
                assert move.start == held[move.dial]
                assert move.cost == (
                    dial.first[move.to] if move.start == NO_VALUE else dial.move[move.start][move.to]
                )
                assert needs[move.dial].reach >> move.to & 1
                held[move.dial] = move.to
                paid += move.cost
            assert values == {d: held[d] for d in needs}
            assert all(need.stay >> held[d] & 1 for d, need in needs.items())
        assert (paid, sum(priced.walks)) == (priced.moving, priced.walking), f"seed {seed}"


def test_an_order_keeps_precedence_and_makes_each_lot_once() -> None:
    """Exactly the orders that the reference library lists are orders, and none with a lot left out."""
    for seed in range(100):
        problem = random_problem(seed, 5)
        for options, lots in combinations(problem):
            for order in orders(problem, lots):
                assert is_order(problem, tuple(order), options)
                assert not is_order(problem, tuple(order[1:]), options) or not order
                backwards = tuple(reversed(order))
                assert is_order(problem, backwards, options) == (
                    list(backwards) in list(orders(problem, lots))
                )
                break


def test_a_detour_over_a_third_value_is_taken_where_the_table_makes_it_cheaper() -> None:
    """From 0 to 2 costs 9, by way of 1 costs 2: a lot that takes either 0 or 1 is made at 1."""
    dial = Dial("bit", 0, ((0, 1, 9), (1, 0, 1), (9, 1, 0)), (0, 0, 0), start=0)
    lots = (
        Lot("a", 0, {0: Need(0b001, 0b001)}),
        Lot("b", 0, {0: Need(0b011, 0b011)}),
        Lot("c", 0, {0: Need(0b100, 0b100)}),
    )
    priced = price(Problem(lots, (dial,), ((0,),)), (0, 1, 2))
    assert priced is not None
    assert priced.cost == 2
    assert priced.values[1] == {0: 1}


def test_of_what_costs_the_same_the_fewest_moves_are_made() -> None:
    """Where moves cost nothing, too: what stands at a value that serves stays, though a lower one is as cheap."""
    free = Dial("blade", 0, ((0, 0), (0, 0)), (0, 0), start=1)
    lots = (Lot("a", 0, {0: Need(0b11, 0b11)}), Lot("b", 0, {0: Need(0b11, 0b11)}))
    priced = price(Problem(lots, (free,), ((0,),)), (0, 1))
    assert priced is not None
    assert priced.moves == ((), ())
    assert priced.values == ({0: 1}, {0: 1})
