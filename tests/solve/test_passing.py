"""What never helps to pass through, against trying every order.

Reference: every order that `networkx.all_topological_sorts` knows, priced by the plain counter in `exhaustive`.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import pytest

from sequencer.solve import Limits, Outcome, solve
from sequencer.solve.problem import Dial, Impossible, Lot, Need, Problem
from sequencer.solve.reduction.passing import first_visit_helps, vain_stations, vain_values
from sequencer.solve.relation import relation_of
from sequencer.solve.transitions.floor import Floor
from tests.solve.exhaustive import least_cost
from tests.solve.random_problems import random_problem


def without(problem: Problem, lot: int) -> Problem:
    """The problem without one lot that nothing is said of."""
    number = [n - (n > lot) for n in range(len(problem.lots))]
    return replace(
        problem,
        lots=tuple(other for n, other in enumerate(problem.lots) if n != lot),
        precedence=tuple((number[a], number[b]) for a, b in problem.precedence if lot not in (a, b)),
        mates=tuple(replace(group, lots=frozenset(number[n] for n in group.lots)) for group in problem.mates),
    )


@pytest.mark.parametrize("block", range(6))
def test_what_is_passable_can_be_left_out(block: int) -> None:
    """Where a lot stands at vain values of a vain station, no order gets dearer without it, so the least cost
    does not; and there are lots that make the rest cheaper, none of which counts as vain.
    """
    vain = helping = 0
    off = frozenset({"choices", "wishes", "work"})
    for seed in range(60_000 + 250 * block, 60_000 + 250 * (block + 1)):
        problem = random_problem(seed, 6, without=off, density=0.2)
        whole = least_cost(problem)
        if whole is None or len(problem.lots) < 2:
            continue
        values, stations = vain_values(problem), vain_stations(problem)
        mated = set().union(*(group.lots for group in problem.mates))
        for n, lot in enumerate(problem.lots):
            if n in mated or any(a == n for a, _ in problem.precedence):
                continue
            rest = least_cost(without(problem, n))
            dearer = rest is None or rest > whole  # or impossible
            fine = (
                bool(stations >> lot.station & 1)
                and not first_visit_helps(problem, lot.station)
                and not any(need.stay & ~values[d] for d, need in lot.needs.items())
            )
            assert not (fine and dearer), (seed, n)
            vain += fine
            helping += dearer
    assert vain > 100
    assert helping > 3


def clamped(walk: int, kept: int) -> Problem:
    """Two lots that want different values of a dial which is set for nothing after it was lost, `kept` if it was not;
    and one at another station, `walk` away.
    """
    dial = Dial("clamping", 0, ((0, kept), (kept, 0)), (0, 0), keeps=False)
    lots = (Lot("a", 0, {0: Need(1, 1)}), Lot("b", 0, {0: Need(2, 2)}), Lot("c", 1, {}))
    return Problem(lots, (dial,), ((0, walk), (walk, 0)), ())


@pytest.mark.parametrize(("walk", "kept"), list(product((1, 2, 3), (1, 3, 4, 5, 6, 7))))
def test_leaving_pays_only_beyond_the_walks(walk: int, kept: int) -> None:
    """There and back costs two walks, so what is lost by it must have been worth more."""
    problem = clamped(walk, kept)
    assert bool(vain_stations(problem) >> 1 & 1) == (kept <= 2 * walk)
    assert least_cost(problem) == min(kept + walk, 2 * walk)


def test_a_first_visit_can_help_on_the_way() -> None:
    """A lot that is made on the way from one station to another loses what the dial of its own station starts at."""
    dial = Dial("d", 1, ((0, 10), (10, 0)), (1, 1), start=0, keeps=False)
    lots = (Lot("p", 0, {}), Lot("q", 2, {}), Lot("x", 1, {}), Lot("h", 1, {0: Need(2, 2)}))
    walk = ((0, 10, 20), (10, 0, 10), (20, 10, 0))
    problem = Problem(lots, (dial,), walk, ((0, 1), (1, 3)))
    assert first_visit_helps(problem, 1)
    found = solve(problem, Limits(20))
    assert isinstance(found, Outcome)
    assert (found.cost, found.proven) == (least_cost(problem), True) == (31, True)


def test_only_lots_at_a_shortcut_are_kept_back() -> None:
    """Of a table with one way that is shorter by a third value, the lots at that value wait; the others do not."""
    table = ((0, 2, 9), (4, 0, 2), (4, 4, 0))  # from the first to the third: 2 + 2 < 9
    dial = Dial("bit", 0, table, (1, 1, 1), start=0)
    lots = tuple(Lot(f"lot {n}", 0, {0: Need(1 << n % 3, 1 << n % 3)}) for n in range(6))
    problem = Problem(lots, (dial,), ((0,),), ())
    relation = relation_of(problem)
    assert not isinstance(relation, Impossible)
    floor = Floor(problem, relation)
    kept_back = {floor.lot_of[item] for item in range(6) if not floor.free >> item & 1}
    assert kept_back == {1, 4}
