"""Few choices taken one by one agree with trying everything."""

from __future__ import annotations

import pytest

from sequencer.solve.options import combinations, fixed, one_by_one
from sequencer.solve.price import is_order, price
from sequencer.solve.problem import Impossible, Limits, Lot, Mates, Outcome, Problem, Wish
from sequencer.solve.search import search


def problem() -> Problem:
    """Lots 0 and 3 always, 1 or 2 by choice; 2 is cheaper to make but its wish is broken."""
    return Problem(
        lots=(Lot("a", 0, {}), Lot("b", 0, {}, work=5), Lot("c", 0, {}, work=2), Lot("d", 0, {})),
        dials=(),
        walk=((0,),),
        precedence=((0, 1), (1, 3), (2, 0)),
        mates=(Mates(frozenset({1}), frozenset()),),
        choices=((frozenset({1}), frozenset({2})),),
        wishes=(Wish(0, 2, 1),),
    )


def test_fixed_keeps_what_is_left() -> None:
    """Taking the second option leaves lots 0, 2 and 3, with what binds them renumbered."""
    part, lots = fixed(problem(), (1,))
    assert lots == (0, 2, 3)
    assert part.precedence == ((1, 0),)
    assert part.mates == ()
    assert part.wishes == (Wish(0, 1, 1),)


def test_the_cheapest_combination_is_taken() -> None:
    """Option one costs 5 of work; option two 2 of work and 1 for the broken wish: 3, proven."""
    whole = problem()
    assert combinations(whole) == 2
    found = one_by_one(whole, Limits(seconds=10), lambda _: None, lambda: False, search)
    assert isinstance(found, Outcome)
    assert (found.cost, found.bound, found.options) == (3, 3, (1,))
    assert is_order(whole, found.order, found.options)
    priced = price(whole, found.order)
    assert priced is not None
    assert priced.cost == 3


@pytest.mark.parametrize("stopped_at", [0, 1])
def test_stopped_by_hand_the_bound_claims_nothing(stopped_at: int) -> None:
    """Interrupted before every combination is proven, the outcome is marked and its bound is 0."""
    asked = 0

    def engine(part: Problem, *_: object) -> Outcome | Impossible:
        nonlocal asked
        asked += 1
        order = tuple(sorted(range(len(part.lots)), key=lambda lot: (part.lots[lot].label != "c", lot)))
        return Outcome(order, (), 9 - asked, 9 - asked, interrupted=asked > stopped_at)

    found = one_by_one(problem(), Limits(), lambda _: None, lambda: False, engine)
    assert isinstance(found, Outcome)
    assert found.interrupted
    assert found.bound == 0
