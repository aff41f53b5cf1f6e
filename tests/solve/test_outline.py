"""Outlines of problems with choices never cost more than the best of the whole."""

from __future__ import annotations

from random import Random

import pytest

from sequencer.solve.outline import eased, outline, restricted
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


def test_an_eased_dial_has_no_detours() -> None:
    """A table with a missing move and a cheap way round becomes one of shortest ways, first values too."""
    dial = Dial("d", 0, ((0, 9, 2), (None, 0, 4), (3, 1, 0)), (8, 2, 9))
    assert eased(dial).move == ((0, 3, 2), (3, 0, 4), (3, 1, 0))
    assert eased(dial).first == (5, 2, 6)
