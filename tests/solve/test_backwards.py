"""A problem told backwards: every order costs the same from its other end, or the problem is not told so."""

from __future__ import annotations

from dataclasses import replace
from itertools import islice
from random import Random

import pytest

from sequencer.solve.problem import Dial, Lot, Mates, Need, Problem
from sequencer.solve.proof.backwards import backwards
from tests.benchmarks.shop_jobs import shop_job
from tests.solve.exhaustive import cost_of, orders
from tests.solve.random_problems import random_problem
from tests.solve.test_climb import ascent


def features(problem: Problem) -> set[str]:
    """What makes a problem more than lots, dials and precedence."""
    found = {
        "mates": bool(problem.mates),
        "wishes": bool(problem.wishes),
        "one-way": problem.walk != tuple(zip(*problem.walk, strict=True)),
        "start": any(dial.start is not None for dial in problem.dials),
        "forgets": any(not dial.keeps for dial in problem.dials),
        "tolerance": any(None in row for dial in problem.dials for row in dial.move),
        "tables": any(
            len({*column} - {0, None}) > 1
            for dial in problem.dials
            for column in zip(*dial.move, strict=True)
        ),
        "ranges": any(need.reach & (need.reach - 1) for lot in problem.lots for need in lot.needs.values()),
    }
    return {name for name, there in found.items() if there}


def test_each_order_costs_the_same_from_its_other_end() -> None:
    """On random problems with every feature: the cost of up to 40 orders each, counted by what shares no code with the
    package; mates forbid the same ones.
    """
    seen: dict[str, int] = {}
    compared = forbidden = 0
    for seed in range(61_000, 64_000):
        problem = random_problem(seed, 6, without=frozenset({"choices", "slack"}))
        other = backwards(problem)
        if other is None:
            continue
        for order in islice(orders(problem, list(range(len(problem.lots)))), 40):
            cost = cost_of(problem, order)
            assert cost_of(other, order[::-1]) == cost, seed
            forbidden += cost is None
            compared += 1
        for name in features(problem):
            seen[name] = seen.get(name, 0) + 1
    assert compared > 5_000
    assert forbidden > 100
    assert min(seen.values()) > 50
    assert len(seen) == 8


def test_shop_jobs_can_be_told_backwards_and_back() -> None:
    """With a random order of 40 lots, too."""
    for kind in ({"ranges", "stops"}, {"any", "mates", "wishes"}, {"tables", "forgets"}, {"starts"}):
        problem = shop_job("routed", 40, 1, frozenset(kind))
        there = backwards(problem)
        assert there is not None
        back = backwards(there)
        assert back is not None
        left, order, rng = set(range(40)), [], Random(1)
        while left:
            ready = sorted(left - {b for a, b in problem.precedence if a in left})
            order.append(rng.choice(ready))
            left.remove(order[-1])
        cost = cost_of(problem, order)
        assert cost_of(there, order[::-1]) == cost
        assert cost_of(back, order) == cost


PLAIN = Problem(
    lots=(Lot("one", 0, {0: Need(1, 1)}), Lot("other", 0, {0: Need(2, 2)}), Lot("far", 1, {})),
    dials=(Dial("height", 0, ((0, 2), (3, 0)), (1, 1)),),
    walk=((0, 1), (4, 0)),
)


@pytest.mark.parametrize(
    ("told", "problem"),
    [
        ("choices", replace(PLAIN, choices=((frozenset({0}), frozenset({1})),))),
        ("stay is more than reach", replace(PLAIN, lots=(Lot("one", 0, {0: Need(1, 3)}), *PLAIN.lots[1:]))),
        ("held, not named", replace(PLAIN, mates=(Mates(frozenset({1, 2}), frozenset({0})),))),
        ("lost, yet set at first", replace(PLAIN, dials=(replace(PLAIN.dials[0], start=0, keeps=False),))),
        ("less than nothing", replace(PLAIN, dials=(replace(PLAIN.dials[0], first=(1, 9)),))),
        (
            "one setting with the start",
            replace(PLAIN, dials=(replace(PLAIN.dials[0], move=((0, None), (None, 0)), start=0),)),
        ),
    ],
)
def test_what_holds_from_one_end_only_is_not_told_backwards(told: str, problem: Problem) -> None:
    """Nor is what would cost less than nothing there; without it, it is."""
    assert backwards(PLAIN) is not None
    assert backwards(problem) is None, told


@pytest.mark.parametrize("back", [False, True])
def test_an_order_of_one_end_and_of_the_problem_tell_each_other(back: bool) -> None:
    """The first lot of the problem is the last one of its back."""
    climb = ascent(shop_job("routed", 40, 1))
    assert climb is not None
    end = climb.ends.back if back else climb.ends.front
    assert end is not None
    order = tuple(climb.floor.lot_of[item] for item in range(climb.floor.count))
    items = end.items(order)
    assert end.order(items) == order
    first = items[-1 if back else 0]
    assert end.floor.lot_of[first] == order[0]
