"""What the reasons claim is true: counts of moves against enumeration, waits against the precedence.

Reference: `networkx`, orders priced by the plain counter in `exhaustive`.
"""

from __future__ import annotations

import re
from dataclasses import replace

import networkx as nx
import pytest

from sequencer.solve import Dial, Limits, Lot, Need, Outcome, Problem, solve
from sequencer.solve.problem import Impossible
from sequencer.solve.proof.reasons import _words, least_visits
from sequencer.solve.proof.search import search
from sequencer.solve.relation import relation_of
from sequencer.solve.transitions.floor import Floor
from tests.solve.exhaustive import cost_of, least_cost
from tests.solve.random_problems import random_problem

PLAIN = frozenset({"tables", "tolerance", "slack", "forgets", "choices", "mates"})
"""Without these features a dial alone moves exactly as often as the reasons say; with them, at least so often."""


def alone(problem: Problem, d: int) -> Problem:
    """Only dial d and the lots that name it, every move counted as one, precedence carried through the rest."""
    lots = [n for n, lot in enumerate(problem.lots) if d in lot.needs]
    reach = nx.transitive_closure(nx.DiGraph(problem.precedence))
    dial = problem.dials[d]
    ones = tuple(tuple(int(a != b) for b in range(dial.values)) for a in range(dial.values))
    return Problem(
        lots=tuple(Lot(problem.lots[n].label, 0, {0: problem.lots[n].needs[d]}) for n in lots),
        dials=(replace(dial, station=0, move=ones, first=(1,) * dial.values),),
        walk=((0,),),
        precedence=tuple((lots.index(a), lots.index(b)) for a, b in reach.edges if {a, b} <= set(lots)),
    )


@pytest.mark.parametrize("block", range(3))
def test_the_moves_claimed_are_the_fewest(block: int) -> None:
    """On random problems the moves claimed of each dial are the fewest of any order of its lots, each at a
    value its lots accept; and where an operation is said to wait for another, it must.
    """
    told = waits = 0
    for seed in range(150 * block, 150 * (block + 1)):
        problem = random_problem(seed, 7, without=PLAIN)
        names = [tuple(f"v{v}" for v in range(dial.values)) for dial in problem.dials]
        problem = replace(
            problem,
            dials=tuple(replace(dial, names=own) for dial, own in zip(problem.dials, names, strict=True)),
        )
        relation = relation_of(problem)
        if isinstance(relation, Impossible):
            continue
        floor = Floor(problem, relation)
        closure = nx.transitive_closure(nx.DiGraph(problem.precedence))
        # nothing made yet: what the whole search makes at once for nothing is among the claims' lots
        bare = ((1 << floor.count) - 1, tuple(knob.start for knob in floor.knobs))
        for d in range(len(problem.dials)):
            if not any(d in lot.needs for lot in problem.lots):
                continue
            visits = least_visits(floor, bare, d)
            assert visits is not None
            assert len(visits) == least_cost(alone(problem, d)), (seed, d)
            if not visits:
                continue
            words = _words(floor, bare, d)
            claimed = re.search(r"at least (once|(\d+) times)", words)
            assert claimed is not None, words
            assert int(claimed[2] or 1) == len(visits), words
            told += 1
            if waiting := re.search(r'"lot (\d)" must wait for "lot (\d)"', words):
                assert closure.has_edge(int(waiting[2]), int(waiting[1])), words
                waits += 1
    assert told > 100
    assert waits > 2


def test_a_value_come_back_to_is_explained() -> None:
    """The way of a tilt that must come back is told with the values and the operations that make it do so."""
    tilt = Dial("saw.tilt", 0, ((0, 4), (4, 0)), (4, 4), start=0, names=("0°", "45°"))
    need = (Need(1, 1), Need(2, 2))
    lots = tuple(
        Lot(name, 0, {0: need[v]})
        for name, v in (("rip", 0), ("bevel", 1), ("trim", 0), ("mitre", 1), ("cut off", 0))
    )
    problem = Problem(lots, (tilt,), ((0,),), tuple((n, n + 1) for n in range(4)))
    found = search(problem, Limits(10), lambda news: None, lambda: False)
    assert isinstance(found, Outcome)
    (reason,) = found.reasons
    assert reason.dials == ("saw.tilt",)
    assert reason.why == (
        "must move from 0° at least 4 times (45° -> 0° -> 45° -> 0°): "
        'it comes back to 45° because "mitre" must wait for "trim" at 0°'
    )


def test_a_value_needed_is_named() -> None:
    """Each value needed is told with an operation that needs it, in its words where it has some; of many one is."""
    move = tuple(tuple(0 if a == b else 2 for b in range(4)) for a in range(4))
    fence = Dial("saw.fence", 0, move, (2,) * 4, names=("18 mm", "30 mm", "45 mm", "60 mm"))
    lots = tuple(
        Lot(f"rip-{v}", 0, {0: Need(1 << v, 1 << v)}, words=(f"rip {v}",) * (v < 2)) for v in range(4)
    )
    problem = Problem(lots, (fence,), ((0,),))

    def why(*kept: Lot) -> str:
        found = search(replace(problem, lots=kept), Limits(10), lambda news: None, lambda: False)
        assert isinstance(found, Outcome)
        return found.reasons[0].why

    told = {0: '18 mm for "rip 0"', 1: '30 mm for "rip 1"', 2: '45 mm for "rip-2"'}
    assert why(lots[0]) == 'must move at least once (18 mm): needed by "rip 0"'
    least, _, ways = why(*lots[:3]).partition(": ")
    assert least == "must move at least 3 times"
    assert sorted(ways.split(", ")) == [f"to {told[v]}" for v in range(3)]
    least, _, each = why(*lots).partition(": ")
    assert re.fullmatch(r"must move at least 4 times \((\d+ mm( -> )?){4}\)", least), least
    need, _, example = each.partition(", ")
    assert need == "each is needed by work that no other of them serves"
    assert example in {'18 mm by "rip 0"', '30 mm by "rip 1"', '45 mm by "rip-2"', '60 mm by "rip-3"'}


def test_a_value_of_an_open_choice_is_not_named() -> None:
    """Of two ways one wants 9 mm deep and one 15: the depth must be set once, to which of them is open."""
    move = ((0, 2), (2, 0))
    dials = (
        Dial("mortiser.depth", 0, move, (2, 2), names=("9 mm", "15 mm")),
        Dial("mortiser.cutter", 0, move, (3, 3), names=("6 mm", "8 mm")),
    )
    lots = tuple(
        Lot(name, 0, {0: Need(way, way), 1: Need(1, 1)}) for name, way in (("first", 1), ("second", 2))
    )
    problem = Problem(lots, dials, ((0,),), choices=((frozenset({0}), frozenset({1})),))
    found = solve(problem, Limits(10))
    assert isinstance(found, Outcome)
    assert {reason.dials: reason.why for reason in found.reasons} == {
        ("mortiser.depth",): 'must move at least once: needed by "first" or "second"',
        ("mortiser.cutter",): 'must move at least once (6 mm): needed by "first" or "second"',
    }


def test_a_value_that_others_could_do_for_is_not_told_as_needed() -> None:
    """A lot that accepts a value and others left out, for they never help, is named without it; settings of which
    combinations are wanted are told in their words.
    """
    move = tuple(tuple(0 if a == b else 3 for b in range(2)) for a in range(2))
    blade = Dial("saw.blade", 0, move, (3, 3), names=("dado", "crosscut"), words="table saw blade")
    lots = (Lot("housing", 0, {0: Need(1, 1)}), Lot("edge", 0, {0: Need(2, 2, either=True)}))
    found = search(Problem(lots, (blade,), ((0,),)), Limits(10), lambda news: None, lambda: False)
    assert isinstance(found, Outcome)
    least, _, ways = found.reasons[0].why.partition(": ")
    assert least == "must move at least 2 times"
    assert sorted(ways.split(", ")) == ['for "edge"', 'to dado for "housing"']


def test_a_plan_that_costs_resets_has_a_reason() -> None:
    """Wherever resets and walks cost something in an order proven best, something is told of why, be it only that the
    search found none cheaper, or no other way of taking the choices; and no more is explained than they and the wishes
    cost, and the work that another option would spare.
    """
    with_resets = only_searched = 0
    for seed in range(700):
        problem = random_problem(seed, 6)
        found = solve(problem, Limits(20))
        if isinstance(found, Impossible) or not found.proven:
            continue
        made = sum(problem.lots[lot].work for lot in found.order)
        bare = cost_of(replace(problem, wishes=()), found.order)
        assert bare is not None
        told = sum(reason.cost for reason in found.reasons)
        assert told <= found.cost, seed
        if bare > made:
            with_resets += 1
            assert found.reasons, seed
            only_searched += len(found.reasons) == 1 and not found.reasons[0].dials
    assert with_resets > 300
    assert only_searched > 20
