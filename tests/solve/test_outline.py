"""Outlines of problems with choices never cost more than the best of the whole."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations
from random import Random

import pytest

from sequencer.solve.choices.hidden import Hidden
from sequencer.solve.choices.outline import outline, restricted
from sequencer.solve.problem import Dial, Impossible, Lot, Need, Problem
from tests.solve.exhaustive import least_cost
from tests.solve.random_problems import random_problem

MOST = 8
"""Lots of an outline up to which every order of it is tried."""


@pytest.mark.parametrize("block", range(20))
def test_an_outline_never_costs_more(block: int) -> None:
    """With every feature mixed, the least cost of the outline, with its work, is no more than that of the
    problem under the options allowed; and it is exact where every choice is decided.
    """
    for seed in range(150 * block, 150 * (block + 1)):
        problem = random_problem(seed, 6)
        if not problem.choices:
            continue
        rng = Random(seed)
        masks = []
        for choice in problem.choices:
            every = (1 << len(choice)) - 1
            masks.append(rng.choice((every, every, rng.randint(1, every))))
        seen = outline(problem, tuple(masks))
        least = least_cost(restricted(problem, tuple(masks))[0])
        if isinstance(seen, Impossible):
            assert least is None, seed
        elif least is not None and len(seen.problem.lots) <= MOST:
            bound = least_cost(seen.problem)
            assert bound is not None, seed
            assert bound + seen.least <= least, seed
            if all(mask & (mask - 1) == 0 for mask in masks):
                assert bound + seen.least == least, seed


def losing_problem(seed: int) -> Problem:
    """Few lots of which one or two are hidden, walks cheap and uneven, and dials that are best lost by leaving."""
    rng = Random(seed)
    stations = rng.randint(2, 3)
    walk = tuple(tuple(0 if a == b else rng.randint(0, 5) for b in range(stations)) for a in range(stations))
    dials = []
    for n in range(rng.randint(1, 3)):
        values = range(rng.randint(2, 3))
        move = tuple(tuple(0 if a == b else rng.randint(3, 15) for b in values) for a in values)
        start, station = rng.choice((None, None, *values)), int(rng.random() > 0.8)
        dials.append(
            Dial(str(n), station, move, tuple(rng.randint(0, 3) for _ in values), start, rng.random() < 0.1)
        )
    hidden = rng.randint(1, 2)
    lots = []
    for n in range(rng.randint(3, 6)):
        station = 0 if n >= hidden and rng.random() < 0.85 else rng.randrange(stations)
        wanted = {
            d: 1 << rng.randrange(dial.values)
            for d, dial in enumerate(dials)
            if dial.station == station and rng.random() < 0.85
        }
        lots.append(Lot(str(n), station, {d: Need(value, value) for d, value in wanted.items()}))
    order = rng.sample(range(len(lots)), len(lots))
    dense = rng.choice((0, 0.3, 0.8))
    pairs = tuple(pair for pair in combinations(order, 2) if rng.random() < dense)
    choices = tuple((frozenset({n}), frozenset[int]()) for n in range(hidden))
    return Problem(tuple(lots), tuple(dials), walk, pairs, choices=choices)


@pytest.mark.parametrize("block", range(2))
def test_what_hidden_lots_lose_makes_no_outline_dearer(block: int) -> None:
    """Where losing a dial pays, by a visit that the outline does not show, the outline still costs no more than the
    best of the whole, and often the same.
    """
    tight = compared = 0
    for seed in range(200 * block, 200 * (block + 1)):
        problem = losing_problem(seed)
        seen = outline(problem, (0b11,) * len(problem.choices))
        assert not isinstance(seen, Impossible)
        least, bound = least_cost(problem), least_cost(seen.problem)
        assert least is not None
        assert bound is not None
        assert bound + seen.least <= least, seed
        tight += bound + seen.least == least
        compared += 1
    assert tight > 0.3 * compared


def test_stand_ins_keep_the_order_all_options_keep() -> None:
    """Square first or bevel first, between a rip and a drilling: the stand-ins stand between the two, and the dial
    must come back for the drilling, as under either option.
    """
    reset = tuple(tuple(0 if a == b else 5 for b in range(3)) for a in range(3))
    needs = [{0: Need(1 << v, 1 << v)} for v in (0, 1, 2, 2, 1, 0)]
    lots = tuple(
        Lot(name, 0, need)
        for name, need in zip(("rip", "square", "bevel", "bevel", "square", "drill"), needs, strict=True)
    )
    pairs = ((0, 1), (1, 2), (2, 5), (0, 3), (3, 4), (4, 5))
    choice = (frozenset({1, 2}), frozenset({3, 4}))
    problem = Problem(lots, (Dial("tilt", 0, reset, (0, 0, 0)),), ((0,),), pairs, choices=(choice,))
    seen = outline(problem, (0b11,))
    assert not isinstance(seen, Impossible)
    assert seen.lots == (0, 5, (1, 4), (2, 3))
    assert set(seen.problem.precedence) == {(0, 2), (0, 3), (2, 1), (3, 1)}
    assert least_cost(seen.problem) == least_cost(problem) == 15


DETOUR = Dial("d", 0, ((0, 9, 2), (None, 0, 4), (3, 1, 0)), (8, 2, 9))


def _lot(station: int, *needs: tuple[int, int]) -> Lot:
    """A lot that accepts one value of each of some dials."""
    return Lot("", station, {d: Need(1 << v, 1 << v) for d, v in needs})


def test_moves_go_by_way_of_what_hidden_lots_accept() -> None:
    """The lot at value 2 has no partner that names the dial, the one at value 0 has: only 2 is a way round."""
    options = (frozenset({0, 1}), frozenset({2}))
    lots = (_lot(0, (0, 2)), _lot(0, (0, 0)), _lot(0, (0, 0)))
    problem = Problem(lots, (DETOUR,), ((0,),), choices=(options,))
    assert Hidden(problem, (0, 1, 2), [(0, 2), (1, 2)]).dial(0) == DETOUR
    other = Hidden(problem, (0, 1, 2), [(1, 2)])
    assert other.moves(0)
    assert other.dial(0).move == ((0, 3, 2), (7, 0, 4), (3, 1, 0))
    assert other.dial(0).first == (8, 2, 9)
    assert other.need(0, Need(0b001, 0b111)) == Need(0b101, 0b111)


def test_no_way_leads_by_what_nobody_accepts() -> None:
    """A move that is missing stays missing where no hidden lot stands between."""
    problem = Problem((_lot(0, (0, 1)),), (DETOUR,), ((0,),), choices=((frozenset({0}), frozenset()),))
    assert Hidden(problem, (0,), []).dial(0).move[1] == (None, 0, 4)


@pytest.mark.parametrize("station", [0, 1])
def test_losing_a_dial_costs_the_walk(station: int) -> None:
    """Left and come back to, a clamp is set afresh for 1, not moved for 9, but the walk is 2 there and 3 back. Where
    the hidden lot is made at its own station, only what it stands at from the start may be lost.
    """
    dials = tuple(
        Dial(name, 0, ((0, 9, 9), (9, 0, 9), (9, 9, 0)), (1, 1, 1), start=2, keeps=False) for name in "de"
    )
    lots = (_lot(station), _lot(0, (0, 0)), _lot(0, (0, 1)))
    walk = ((0, 2), (3, 0))
    problem = Problem(lots, dials, walk, choices=((frozenset({0}), frozenset()),))
    hidden = Hidden(problem, (0,), [])
    shared = 1 + (2 + 3) // 2
    assert hidden.dial(0).move == (
        ((0, shared, shared), (shared, 0, shared), (shared, shared, 0))
        if station
        else ((0, 9, 9), (9, 0, 9), (1, 1, 0))
    )


def test_what_is_shown_in_full_eases_nothing() -> None:
    """Two options at the same values, tables with detours, a dial that is lost by leaving: as they are."""
    clamp = replace(DETOUR, keeps=False)
    lots = (_lot(0, (0, 1), (1, 2)), _lot(0, (0, 2), (1, 2)), _lot(1), _lot(0, (0, 0)))
    problem = Problem(lots, (DETOUR, clamp), ((0, 1), (1, 0)), choices=((frozenset({0}), frozenset({1})),))
    seen = outline(problem, (0b11,))
    assert not isinstance(seen, Impossible)
    assert seen.problem.dials == problem.dials


def test_hidden_lots_are_rated_like_an_order_that_makes_them() -> None:
    """The way round of the best order goes by the value of the hidden lot; the outline costs what the order does."""
    lots = (_lot(0, (0, 0)), _lot(0, (0, 1)), _lot(0, (0, 2)), _lot(0))
    problem = Problem(
        lots,
        (DETOUR,),
        ((0,),),
        ((0, 2), (2, 1), (0, 3), (3, 1)),
        choices=((frozenset({2}), frozenset({3})),),
    )
    seen = outline(problem, (0b11,))
    assert not isinstance(seen, Impossible)
    assert least_cost(seen.problem) == least_cost(problem) == 8 + 2 + 1
