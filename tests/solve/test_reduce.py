"""The reduced problem has the same least cost, and its orders are undone to orders that cost the same.

Reference: every order that `networkx.all_topological_sorts` knows, priced by the plain counter in `exhaustive`.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import islice
from random import Random

import pytest

from sequencer.solve import Dial, Lot, Mates, Need, Outcome, Problem, Wish, solve
from sequencer.solve.price import is_order, price
from sequencer.solve.reduction.reduce import reduce
from sequencer.solve.reduction.trimming import trimmed
from tests.solve.exhaustive import combinations, cost_of, least_cost, orders
from tests.solve.random_problems import random_problem

SMOOTH = frozenset({"tables", "tolerance", "slack"})
"""Without these features more lots can be taken out."""

RESET = ((0, 4, 4), (4, 0, 4), (4, 4, 0))
TILT = Dial("tilt", 0, RESET, (4, 4, 4))
FENCE = Dial("fence", 0, RESET, (3, 3, 3))


def need(*values: int) -> Need:
    """Content with these values."""
    mask = sum(1 << v for v in values)
    return Need(mask, mask)


def lot(label: str, work: int = 1, **needs: Need) -> Lot:
    """A lot at the saw, its needs by the name of the dial."""
    return Lot(label, 0, {["tilt", "fence"].index(name): wanted for name, wanted in needs.items()}, work)


def at_the_saw(*lots: Lot, pairs: tuple[tuple[int, int], ...] = ()) -> Problem:
    """A problem of one station with two dials."""
    return Problem(lots, (TILT, FENCE), ((0,),), pairs)


def check(problem: Problem, what: str) -> Problem:
    """Same least cost; a few dozen orders of every combination of options are undone at the same price."""
    smaller, undo = reduce(problem)
    assert least_cost(smaller) == least_cost(problem), what
    for options, lots in combinations(smaller):
        for order in islice(orders(smaller, lots), 0, 60, 3):
            whole, taken = undo(tuple(order), options)
            assert is_order(problem, whole, taken), (what, order)
            assert cost_of(smaller, order) == cost_of(problem, list(whole)), (what, order)
    return smaller


@pytest.mark.parametrize("block", range(10))
def test_nothing_is_gained_or_lost(block: int) -> None:
    """On random problems of up to 6 lots with all features mixed, least costs agree and orders are undone at
    their price.
    """
    for seed in range(200 * block, 200 * (block + 1)):
        check(random_problem(seed, 6), f"seed {seed}")


@pytest.mark.parametrize("block", range(5))
def test_nothing_is_gained_or_lost_where_more_can_go(block: int) -> None:
    """The same without tables, tolerances and values only good to stay at, where lots are taken out more
    often.
    """
    gone = 0
    for seed in range(20_000 + 200 * block, 20_000 + 200 * (block + 1)):
        problem = random_problem(seed, 6, without=SMOOTH)
        gone += len(problem.lots) - len(check(problem, f"seed {seed}").lots)
    assert gone > 80


def test_a_free_dial_still_fails_a_lot_that_cannot_move_it() -> None:
    """Moves of a dial cost nothing, but a lot may only stay where others have moved it: it waits for one that does, and
    where none does, or it is content with no value, there is no order.
    """
    loose = Dial("loose", 0, ((0, 0), (0, 0)), (0, 0))
    moving, waiting, never = lot("moves", tilt=need(1)), Need(0, 0b10), Need(0, 0b01)
    for asked, least in ((waiting, 2), (never, None)):
        lots = (Lot("stays", 0, {0: asked}, 1), moving)
        problem = Problem(lots, (loose,), ((0,),))
        assert least_cost(problem) == least
        check(problem, f"{asked}")
        assert isinstance(solve(problem), Outcome) == (least is not None)


@pytest.mark.parametrize("block", range(4))
def test_nothing_is_gained_or_lost_where_lots_cannot_move(block: int) -> None:
    """The same with lots that cannot move a dial they name, half of the problems with one dial that moves for
    nothing.
    """
    impossible = 0
    for seed in range(30_000 + 100 * block, 30_000 + 100 * (block + 1)):
        rng = Random(seed)
        problem = random_problem(seed, 5)
        loose = rng.randrange(2 * len(problem.dials))
        dials = [
            replace(dial, move=((0,) * dial.values,) * dial.values, first=(0,) * dial.values)
            if d == loose
            else dial
            for d, dial in enumerate(problem.dials)
        ]
        lots = [
            replace(
                lot,
                needs={
                    d: Need(0, need.stay if rng.random() < 0.7 else 0) if rng.random() < 0.2 else need
                    for d, need in lot.needs.items()
                },
            )
            for lot in problem.lots
        ]
        smaller = check(replace(problem, dials=tuple(dials), lots=tuple(lots)), f"seed {seed}")
        impossible += least_cost(smaller) is None
    assert 10 < impossible < 90


def test_interchangeable_lots_become_one() -> None:
    """Three lots of equal needs and equal neighbours are one lot with the work of three."""
    cuts = [lot(f"cut {n}", work=n + 1, tilt=need(1)) for n in range(3)]
    problem = at_the_saw(lot("mill"), *cuts, lot("bevel", tilt=need(2)), pairs=((0, 1), (0, 2), (0, 3)))
    smaller = check(problem, "three cuts")
    assert [made.label for made in smaller.lots] == ["cut 2", "bevel"]
    assert smaller.lots[0].work == 1 + 1 + 2 + 3


def test_a_lot_goes_beside_whichever_neighbour_comes_last() -> None:
    """A lot after two others that both need more is made right after the later of the two, whichever it is."""
    first = lot("left", tilt=need(1), fence=need(0))
    other = lot("right", tilt=need(1), fence=need(2))
    problem = at_the_saw(
        first, other, lot("sand", tilt=need(1, 2)), lot("late", tilt=need(2)), pairs=((0, 2), (1, 2), (2, 3))
    )
    smaller, undo = reduce(problem)
    assert [made.label for made in smaller.lots] == ["left", "right", "late"]
    assert undo((0, 1, 2), ()) == ((0, 1, 2, 3), ())
    assert undo((1, 0, 2), ()) == ((1, 0, 2, 3), ())
    assert set(smaller.precedence) == {(0, 2), (1, 2)}


def test_a_lot_stays_where_a_detour_by_it_is_cheaper() -> None:
    """Where a table makes it cheaper to pass through a value, a lot that stands there is kept."""
    dear = ((0, 1, 9), (1, 0, 1), (9, 1, 0))
    ends = lot("one end", tilt=need(0)), lot("other end", tilt=need(2))
    problem = at_the_saw(
        *ends, lot("between", tilt=need(1)), lot("between too", tilt=need(1)), pairs=((0, 1),)
    )
    assert len(reduce(problem)[0].lots) == 3
    problem = replace(problem, dials=(replace(TILT, move=dear), FENCE))
    assert len(check(problem, "detour").lots) == 4


def test_values_that_another_one_stands_for_are_dropped() -> None:
    """Of a range and a fixed value in it one value is left; a cheaper stop that only some accept is kept."""
    problem = at_the_saw(lot("a", tilt=need(0, 1)), lot("b", tilt=need(1)), lot("c", tilt=need(1, 2)))
    named = replace(problem, dials=(replace(TILT, names=("0°", "45°", "47°")), FENCE))
    smaller = check(named, "one value")
    assert [dial.names for dial in smaller.dials] == [("45°",)]
    cheap = replace(TILT, move=((0, 4, 4), (1, 0, 4), (1, 4, 0)), first=(1, 4, 4))
    kept = trimmed(replace(problem, dials=(cheap, FENCE)))
    assert [dial.values for dial in kept.dials] == [2]


def test_mates_tell_precedence() -> None:
    """A lot that cannot come between two mates and must come before one comes before the other."""
    lots = lot("tilted", tilt=need(1)), lot("left", tilt=need(0)), lot("right", tilt=need(0))
    problem = replace(at_the_saw(*lots, pairs=((0, 1),)), mates=(Mates(frozenset({1, 2}), frozenset({0})),))
    told = reduce(replace(problem, wishes=(Wish(1, 2, 1), Wish(0, 2, 5))))[0]
    assert (0, 2) in told.precedence
    assert len(told.wishes) == 1


def test_chains_of_equal_needs_are_contracted() -> None:
    """A part cut five times at one setting, each after the last, is one lot."""
    cuts = [lot(f"cut {n}", tilt=need(1), fence=need(0)) for n in range(5)]
    problem = at_the_saw(*cuts, lot("bevel", tilt=need(2)), pairs=tuple((n, n + 1) for n in range(5)))
    smaller, undo = reduce(problem)
    assert len(smaller.lots) == 2
    assert smaller.precedence == ((0, 1),)
    assert undo((0, 1), ()) == ((0, 1, 2, 3, 4, 5), ())


def test_options_left_alike_are_no_choice() -> None:
    """Options that differ in lots for which there is room in any case are one."""
    lots = lot("cut", tilt=need(1)), lot("again", work=0, tilt=need(1)), lot("bevel", tilt=need(2))
    problem = replace(at_the_saw(*lots), choices=((frozenset({1}), frozenset()),))
    smaller, undo = reduce(problem)
    assert (len(smaller.lots), smaller.choices) == (2, ())
    order, options = undo((0, 1), ())
    assert is_order(problem, order, options)


def test_the_door_reduces_and_restores() -> None:
    """`solve` returns orders and options of the problem it was given, priced as it says."""
    for seed in range(60):
        problem = random_problem(seed, 7, without=SMOOTH)
        found = solve(problem)
        if isinstance(found, Outcome):
            assert is_order(problem, found.order, found.options), seed
            priced = price(problem, found.order)
            assert priced is not None
            assert priced.cost == found.cost, seed
