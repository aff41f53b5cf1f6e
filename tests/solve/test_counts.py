"""What is proven of the dials beforehand holds for every order.

Reference: `exhaustive` on the problem with every price struck out but those of the dials in question, so that
the least cost of all orders, options and values is the least these dials can cost (or the fewest moves they can
make, each at the price of one).
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from sequencer.solve.choices.outline import Outline, outline
from sequencer.solve.clock import Clock
from sequencer.solve.cpsat.counts import Counts, counts_of
from sequencer.solve.problem import Dial, Limits, Lot, Need, Outcome, Problem
from sequencer.solve.proof.search import search
from tests.benchmarks.shop_jobs import shop_job
from tests.solve.exhaustive import least_cost
from tests.solve.random_problems import random_problem


def priced_alone(problem: Problem, dials: tuple[int, ...], one: bool = False) -> Problem:
    """The problem in which only moves of these dials (walking is the last) cost anything: `one` each if so
    asked.
    """

    def price(cost: int | None, counted: bool, moved: bool) -> int | None:
        if cost is None:
            return None
        return (1 if one else cost) if counted and moved else 0

    walking = len(problem.dials) in dials
    return Problem(
        lots=tuple(replace(lot, work=0) for lot in problem.lots),
        dials=tuple(
            replace(
                dial,
                move=tuple(
                    tuple(price(cost, d in dials, a != b) for b, cost in enumerate(row))
                    for a, row in enumerate(dial.move)
                ),
                first=tuple(price(cost, d in dials, True) or 0 for cost in dial.first),
            )
            for d, dial in enumerate(problem.dials)
        ),
        walk=tuple(
            tuple(price(cost, walking, a != b) or 0 for b, cost in enumerate(row))
            for a, row in enumerate(problem.walk)
        ),
        precedence=problem.precedence,
        mates=problem.mates,
        choices=problem.choices,
    )


def counted(problem: Problem) -> Counts:
    """What is found without any floor given."""
    return counts_of(problem, (), 0, Clock(60, lambda: False))


@pytest.mark.parametrize("block", range(10))
def test_floors_and_counts_hold_for_every_order(block: int) -> None:
    """On a thousand problems with every feature mixed, no floor exceeds what its dials must cost, no count what
    they must move, and all but one dial cost what is said of them; nor do the floors the search finds in outline.
    """
    for seed in range(100 * block, 100 * (block + 1)):
        problem = random_problem(20_000 + seed, 5)
        if least_cost(replace(problem, wishes=())) is None:
            continue
        counts = counted(problem)
        seen = outline(problem, tuple((1 << len(choice)) - 1 for choice in problem.choices))
        assert isinstance(seen, Outline), seed
        found = search(seen.problem, Limits(20), lambda _: None, lambda: False)
        assert isinstance(found, Outcome), seed
        for dials, cost in {*counts.floors, *found.floors}:
            least = least_cost(priced_alone(problem, dials))
            assert least is not None, seed
            assert 0 < cost <= least, (seed, dials)
        for dials, number in counts.moves:
            least = least_cost(priced_alone(problem, dials, one=True))
            assert least is not None, seed
            assert 0 < number <= least, (seed, dials)
        both = Counts((*counts.floors, *found.floors), (), counts.work, 0)
        every = tuple(range(len(problem.dials) + 1))
        for d in every:
            rest = priced_alone(problem, tuple(e for e in every if e != d))
            least = least_cost(replace(rest, lots=problem.lots))
            assert least is not None, seed
            assert both.without(d) <= least, (seed, d)


def test_floors_say_more_than_single_dials() -> None:
    """On most of twenty shop jobs the search proves floors on several dials that exceed the sum of their single
    ones.
    """
    more = 0
    for seed in range(20):
        found = search(shop_job("dense", 16, seed), Limits(20), lambda _: None, lambda: False)
        assert isinstance(found, Outcome)
        floors = dict(found.floors)
        more += any(
            cost > sum(floors.get((d,), 0) for d in dials) for dials, cost in floors.items() if len(dials) > 1
        )
    assert more > 10


def test_a_dial_that_must_come_back_is_counted() -> None:
    """Three lots in a chain want one value, the other and the first again: three moves, counting the first."""
    dial = Dial("tilt", 0, ((0, 4), (6, 0)), (1, 1))
    lots = tuple(Lot(f"lot {n}", 0, {0: Need(1 << n % 2, 1 << n % 2)}) for n in range(3))
    counts = counted(Problem(lots, (dial,), ((0,),), ((0, 1), (1, 2))))
    assert counts.moves == (((0,), 3),)
    assert counts.floors == (((0,), 1 + 4 + 6),)
    assert counts.without(0) == 0


def test_disjoint_floors_add_up() -> None:
    """Without dial 3 there remain the pair of dials 0 and 1 with 9, dial 2 with 2, and the work of 5."""
    floors = (((0,), 3), ((0, 1), 9), ((1,), 4), ((1, 2), 6), ((2,), 2), ((2, 3), 50), ((3,), 30))
    assert Counts(floors, work=5).without(3) == 9 + 2 + 5
