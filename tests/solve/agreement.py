"""What an engine found, held to trying everything."""

from __future__ import annotations

from sequencer.solve.price import is_order, price
from sequencer.solve.problem import Impossible, Outcome, Problem
from tests.solve.exhaustive import least_cost


def agreed(problem: Problem, found: Outcome | Impossible, seed: int) -> Outcome | None:
    """The outcome, asserted to be a legal order that costs the least of all orders under all options, proven; None
    where no order exists and the engine says so.
    """
    least = least_cost(problem)
    if least is None:
        assert isinstance(found, Impossible), seed
        return None
    assert isinstance(found, Outcome), seed
    assert (found.cost, found.proven) == (least, True), seed
    assert is_order(problem, found.order, found.options), seed
    priced = price(problem, found.order)
    assert priced is not None, seed
    assert priced.cost == least, seed
    return found
