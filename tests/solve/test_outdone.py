"""States that others outdo cost at least as much as these, and leaving them out changes no answer."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import permutations
from random import Random

import numpy as np
import pytest

from sequencer.solve.bounds.wheels import ease
from sequencer.solve.compiled import FAR_32, kernels, layout
from sequencer.solve.compiled.outdone import outdoes
from sequencer.solve.problem import Problem
from sequencer.solve.proof.joining import Joining
from sequencer.solve.proof.scale import unit
from sequencer.solve.proof.whole import Rules
from sequencer.solve.transitions.floor import Floor
from tests.benchmarks.shop_jobs import shop_job
from tests.solve.laid_out import divided, finish, laid_out
from tests.solve.random_problems import random_problem
from tests.solve.test_climb import ascent
from tests.solve.test_stops import chained_problem, rough_problem, starting_problem

STATES = 40
"""States of a pattern that are compared, at most."""


def mated(seed: int) -> Problem:
    """Few lots that wait for others, with mates and wishes."""
    return random_problem(seed, 7, without=frozenset(("choices", "tables")), density=0.1)


def wishing(seed: int) -> Problem:
    """Tables, chains, mates and wishes."""
    return chained_problem(seed, True)


def exact(floor: Floor, rng: Random) -> Iterator[tuple[layout.Board, int, dict[int, int]]]:
    """The whole and merged patterns of a floor on a board, as far as their states are compared, each with the cost of
    the rest of states seen on the way to the goal, asked without any guide and so with nothing left out.
    """
    board = layout.Layout(floor, unit(floor))
    rules = Rules(floor)
    joining = Joining(floor, [ease(floor, d) for d in range(len(floor.knobs))])
    numbers = [board.put(rules, rough=rules.rough)]
    sets = [dials for dials in divided(floor, rng) if len(dials) > 1]
    numbers += [board.put(joining.pattern(dials)) for dials in sets]
    whole = kernels.entry(board.board, board.at[0], *board.key(*floor.first().state))
    for number in numbers:
        pattern, at = board.patterns[number], board.at[number]
        if pattern.heeded.revocable:
            continue
        ints = board.board.ints
        ints[[layout.LIMIT, layout.STATE, layout.STOP]] = FAR_32, layout.WELL, 0
        dials = np.array(pattern.dials, np.int64)
        root = kernels.view(board.board, at, whole, dials) if number else whole
        kernels.ask(board.board, at, root, FAR_32)
        seen = np.flatnonzero(board.board.info[: ints[layout.COUNT], layout.PATTERN] == number)
        chosen = rng.sample(list(map(int, seen)), min(STATES, len(seen)))
        yield board.board, at, {e: int(kernels.ask(board.board, at, e, FAR_32)) for e in chosen}


@pytest.mark.parametrize("kind", [mated, rough_problem, starting_problem, wishing])
def test_what_outdoes_another_state_costs_no_more(kind: Callable[[int], Problem]) -> None:
    """Of the whole and of random patterns, with every feature: what states really cost from there on."""
    pairs = cheaper = 0
    for seed in range(250):
        floor = laid_out(kind(seed))
        for board, at, costs in exact(floor, Random(seed)) if floor else ():
            for one, other in permutations(costs, 2):
                if outdoes.__dict__["py_func"](board, at, one, other):
                    assert costs[one] <= costs[other], (seed, one, other)
                    pairs += 1
                    cheaper += costs[one] < costs[other]
    assert pairs > 200
    assert cheaper > 20


@pytest.mark.parametrize("features", [(), ("ranges", "stops")])
def test_fewer_states_are_opened_for_the_same_answer(
    features: tuple[str, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Merging greedily, three jobs of 44 lots come to the same least cost with and without shelves."""
    opened, costs = [], []
    for room in (layout.SHELVING, 0):
        monkeypatch.setattr(layout, "SHELVING", room)
        opened.append(0)
        for seed in range(3):
            climb = ascent(shop_job("dense", 44, seed, frozenset(features)))
            assert climb is not None
            while not climb.closed:
                climb.lift()
            opened[-1] += int(climb.asking.layout.board.ints[layout.OPENED])
            costs.append(climb.bound)
    assert costs[:3] == costs[3:]
    assert opened[0] < 0.95 * opened[1]


@pytest.mark.parametrize("kind", [mated, rough_problem, starting_problem, wishing])
def test_what_is_known_after_searches_holds(kind: Callable[[int], Problem]) -> None:
    """Of the whole and of merged patterns, guided and outdone: no state costs less than it is known to, and those
    known exactly cost that; asked anew on a board of its own, with nothing left out.
    """
    known = 0
    for seed in range(1000, 1100):
        climb = ascent(kind(seed))
        if climb is None:
            continue
        climb.effort = 5 if seed % 2 else climb.effort
        finish(climb)
        layout_, rng = climb.asking.layout, Random(seed)
        info, rest = layout_.board.info, layout_.board.rest
        count = int(layout_.board.ints[layout.COUNT])
        for e in rng.sample(range(count), min(count, STATES)):
            pattern = layout_.patterns[info[e, layout.PATTERN]]
            if len(pattern.dials) < 2 or pattern.heeded.revocable:
                continue
            board = layout.Layout(climb.floor, climb.asking.unit, entries=20_000)
            number = board.put(pattern, rough=pattern.rough if isinstance(pattern, Rules) else None)
            ints, at = board.board.ints, board.at[number]
            ints[[layout.LIMIT, layout.STATE, layout.STOP]] = FAR_32, layout.WELL, 0
            values = info[e, layout.VALUE : layout.VALUE + len(pattern.dials)].astype(np.int64)
            cost = kernels.ask(board.board, at, kernels.entry(board.board, at, rest[e], values), FAR_32)
            least = info[e, layout.LEAST]
            assert least == cost if info[e, layout.EXACT] else least <= cost, (seed, e)
            known += 1
    assert known > 150


@pytest.mark.parametrize("seed", [71, 129])
def test_dead_ends_end_a_search(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where mates allow no order, states that lead nowhere and outdo each other are not lifted a little at a time."""
    opened = []
    for room in (layout.SHELVING, 0):
        monkeypatch.setattr(layout, "SHELVING", room)
        climb = ascent(random_problem(seed, 9, without=frozenset(("choices",)), density=0.1))
        assert climb is not None
        while not climb.closed:
            climb.lift()
        assert climb.best is None
        opened.append(int(climb.asking.layout.board.ints[layout.OPENED]))
    assert opened[0] <= opened[1]
