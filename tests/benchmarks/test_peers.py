"""The peers get the problem the planner gets: on small jobs the general models prove what trying everything finds."""

from __future__ import annotations

import importlib.util

import pytest

from sequencer.solve import Limits
from sequencer.solve.price import is_order, price
from tests.benchmarks.peers import HABITS, MODELS, peer
from tests.benchmarks.shop_jobs import FAMILIES, shop_job
from tests.solve.exhaustive import least_cost
from tests.solve.random_problems import random_problem

INSTALLED = [
    pytest.param(
        name,
        marks=pytest.mark.skipif(
            name == "dynamic programme" and importlib.util.find_spec("didppy") is None,
            reason="didppy is not installed",
        ),
    )
    for name in MODELS
]


@pytest.mark.parametrize("name", INSTALLED)
@pytest.mark.parametrize("block", range(4))
def test_the_general_models_carry_every_feature(name: str, block: int) -> None:
    """On random problems with every feature mixed, the model proves the least cost, or that there is no order."""
    for seed in range(20 * block, 20 * block + 20):
        problem = random_problem(seed, lots=5)
        least = least_cost(problem)
        answer = peer(name, problem, Limits(20.0))
        if least is None:
            assert answer is None, seed
            continue
        assert answer is not None, seed
        assert answer.order is not None, seed
        assert is_order(problem, answer.order, answer.options), seed
        priced = price(problem, answer.order)
        assert priced is not None, seed
        assert (priced.cost, answer.bound) == (least, least), seed


@pytest.mark.parametrize("name", HABITS)
@pytest.mark.parametrize("family", FAMILIES)
def test_the_habits_keep_the_precedence(name: str, family: str) -> None:
    """What the habits answer is an order of the job; they claim no bound."""
    problem = shop_job(family, 60, 1, frozenset(["ranges", "choices", "starts"]))
    answer = peer(name, problem, Limits(5.0))
    assert answer is not None
    assert answer.order is not None
    assert is_order(problem, answer.order, answer.options)
    assert answer.bound == 0


def test_the_habits_differ_as_they_say() -> None:
    """Part by part takes the lots as listed; machine by machine walks less."""
    problem = shop_job("routed", 60, 2)
    parts, machines = (peer(name, problem, Limits(5.0)) for name in HABITS[1:])
    assert parts is not None
    assert machines is not None
    assert parts.order == tuple(range(60))
    walked = [price(problem, answer.order or ()) for answer in (parts, machines)]
    assert walked[0] is not None
    assert walked[1] is not None
    assert walked[1].walking < walked[0].walking
