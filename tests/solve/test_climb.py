"""Sweeps, tables and the ascent: exact against trying everything and against the search in plain Python."""

from __future__ import annotations

from random import Random

import numpy as np
import pytest

from sequencer.solve.atlas import Leaf, Sum
from sequencer.solve.climb import Climb, Trial, climbs
from sequencer.solve.floor import Floor
from sequencer.solve.merging import one_dial
from sequencer.solve.patterns import FAR, Pattern, ease
from sequencer.solve.price import is_order, price
from sequencer.solve.problem import Impossible, Problem
from sequencer.solve.relation import relation_of
from sequencer.solve.sweep import sweep
from tests.benchmarks.shop_jobs import shop_job
from tests.solve.exhaustive import least_cost
from tests.solve.random_problems import random_problem


def ascent(problem: Problem) -> Climb | None:
    """The ascent at its foot; None where the problem is not a pattern through and through."""
    relation = relation_of(problem)
    if isinstance(relation, Impossible):
        return None
    floor = Floor(problem, relation)
    if not climbs(floor):
        return None
    wheels = [ease(floor, d) for d in range(len(floor.knobs))]
    singles = [one_dial(floor, wheel, d, floor.first().state, lambda: None) for d, wheel in enumerate(wheels)]
    return Climb(floor, wheels, singles, lambda: None, lambda climb: None)


@pytest.mark.parametrize("block", range(4))
def test_ascent_agrees_with_trying_everything(block: int) -> None:
    """Sweeps of the whole prove the least cost of all orders, and the order they tell costs it."""
    tried = 0
    for seed in range(700 * block, 700 * (block + 1)):
        problem = random_problem(seed, 6, without=frozenset(("mates", "wishes", "choices")))
        climb = ascent(problem)
        if climb is None:
            continue
        climb.run([part.field.pattern for part in climb.parts])
        assert climb.best is not None, seed
        order = tuple(climb.floor.lot_of[item] for item in climb.best.items)
        assert is_order(problem, order, ()), seed
        priced = price(problem, order)
        assert priced is not None
        assert priced.cost == climb.best.cost == climb.root.cost + climb.bound == least_cost(problem), seed
        tried += 1
    assert tried > 80


def test_an_atlas_answers_as_the_search_does() -> None:
    """For states on random walks of a merged pattern an atlas finds what the pattern's own search finds, asked
    one by one or all at once, as far as the room goes.
    """
    compared = 0
    for seed in range(8):
        climb = ascent(shop_job("dense", 16, seed, frozenset({"ranges", "stops"} if seed % 2 else ())))
        assert climb is not None
        rng = Random(seed)
        for one, other in [(0, 1), (1, 2), (4, 11), (2, 11)]:
            trial = Trial(climb, climb.parts[one], climb.parts[other])
            atlas = trial.atlas
            atlas.most = 100_000
            wheels = [climb.wheels[d] for d in atlas.dials]
            known = Pattern(climb.floor, wheels, atlas.dials, (), lambda: None, 10**6)
            keys = []
            for _ in range(12):
                key = trial.start
                while key[0]:
                    keys.append(key)
                    key = rng.choice(known.steps(key))[1]
            masks = np.array([[key[0] for key in keys]], np.uint64)
            values = np.array([key[1] for key in keys], np.int64).T
            exact = np.array([known.bound(key, FAR) for key in keys])
            near = np.array([rng.randint(0, 20) for _ in keys])
            told = atlas(masks, values, near)
            assert (told <= exact).all()
            assert (np.minimum(told, near) == np.minimum(exact, near)).all()
            assert (atlas(masks, values, np.full(len(keys), FAR)) == exact).all()
            assert trial.climb(FAR, 100_000)
            assert climb.cost[atlas] == known.bound(trial.start, FAR)
            compared += len(keys)
    assert compared > 1000


@pytest.mark.parametrize("width", [1, 3, 30])
@pytest.mark.parametrize("by_moves", [False, True])
def test_cut_sweeps_still_bound(width: int, by_moves: bool) -> None:
    """A beam's bound never exceeds the proven cost, nor is its plan cheaper; its order costs what it says."""
    for seed in range(5):
        climb = ascent(shop_job("dense", 18, seed))
        assert climb is not None
        whole = sweep(
            climb.field, climb.start, FAR, Sum(climb.field.pattern.dials, climb.parts), lambda: None
        )
        assert whole.whole
        assert whole.cost is not None
        estimate = Sum(climb.field.pattern.dials, climb.parts)
        cut = sweep(climb.field, climb.start, FAR, estimate, lambda: None, width, by_moves=by_moves)
        assert cut.bound <= whole.cost
        assert cut.cost is not None
        assert cut.cost >= whole.cost
        climb.beam(width, by_moves)
        assert climb.best is not None
        priced = price(climb.floor.problem, tuple(climb.floor.lot_of[item] for item in climb.best.items))
        assert priced is not None
        assert priced.cost == climb.best.cost == climb.root.cost + cut.cost


def test_leaf_asks_its_pattern() -> None:
    """A leaf says of many states at once what its pattern says of each."""
    climb = ascent(shop_job("routed", 30, 3))
    assert climb is not None
    leaf = climb.parts[0]
    assert isinstance(leaf, Leaf)
    pattern = leaf.field.pattern
    rng = Random(5)
    rests = [rng.getrandbits(climb.floor.count) & pattern.lots for _ in range(300)]
    values = np.zeros((1, 300), np.int64)
    masks = np.array([[rest & 0xFFFF_FFFF_FFFF_FFFF for rest in rests]], np.uint64)
    told = leaf(masks, values, np.full(300, FAR))
    assert [int(t) for t in told] == [pattern.bound(pattern.settle(rest, (0,)), FAR) for rest in rests]
