"""Trees of mergers: what changes make of them, how they are judged, and that any of them leads to the same proof."""

from __future__ import annotations

from random import Random

import pytest

from sequencer.solve.climb import Climb
from sequencer.solve.trees import Forest, by_station, changed, dials_of
from sequencer.solve.trials import Reach, Trials
from tests.benchmarks.shop_jobs import shop_job
from tests.solve.exhaustive import least_cost
from tests.solve.random_problems import random_problem
from tests.solve.test_climb import ascent


def wandered(climb: Climb, chance: Random, changes: int = 20) -> Forest:
    """A forest some way off."""
    forest = by_station(climb.floor)
    for _ in range(changes):
        forest = changed(forest, chance)
    return forest


def trials_for(climb: Climb, *forests: Forest, seed: int = 0) -> Trials:
    """Trials with room for up to 100,000 states."""
    return Trials(climb.asking, climb.guided.wheels, forests, 100_000, seed)


def test_a_changed_forest_has_each_dial_once() -> None:
    """However often it is changed; and from one tree to nearly all dials apart, every number of trees comes about."""
    climb = ascent(shop_job("routed", 30, 1))
    assert climb is not None
    forest, chance, sizes = by_station(climb.floor), Random(1), set()
    dials = list(range(climb.floor.walking + 1))
    for _ in range(20_000):
        forest = changed(forest, chance)
        assert sorted(d for tree in forest for d in dials_of(tree)) == dials
        sizes.add(len(forest))
    assert sizes >= set(range(1, len(dials) - 1))


def test_few_dials_are_no_trouble() -> None:
    """A single dial has one forest, whatever is done to it."""
    forest: Forest = (0,)
    for _ in range(100):
        forest = changed(forest, Random(0))
    assert forest == (0,)


@pytest.mark.parametrize("block", range(2))
def test_no_forest_is_said_to_come_further_than_the_least_cost(block: int) -> None:
    """On random problems with every feature but choices: with little room it stays below, with much it gets there."""
    compared = 0
    for seed in range(51_000 + 150 * block, 51_000 + 150 * (block + 1)):
        climb = ascent(random_problem(seed, 6, without=frozenset({"choices"})))
        if climb is None or not climb.root.state[0]:
            continue
        least = least_cost(climb.floor.problem)
        if least is None:
            continue
        rest = (least - climb.root.cost) // climb.asking.unit
        chance = Random(seed)
        trials = trials_for(climb)
        for _ in range(3):
            forest = wandered(climb, chance)
            assert trials.reach(forest, 5)[-1].bound <= rest
            assert trials.reach(forest, 50_000)[-1].bound == rest
        compared += 1
    assert compared > 50


def test_what_was_tried_before_makes_no_difference() -> None:
    """A forest is judged from nothing each time: the way up is the same, bound by bound and state by state."""
    climb = ascent(shop_job("routed", 60, 3, frozenset({"mates", "wishes"})))
    assert climb is not None
    chance = Random(5)
    forests = [wandered(climb, chance) for _ in range(6)]
    together = trials_for(climb)
    first = [together.reach(forest, 3_000) for forest in forests]
    assert len(set(map(tuple, first))) > 3  # they differ
    assert [together.reach(forest, 3_000) for forest in forests] == first
    assert [trials_for(climb).reach(forest, 3_000) for forest in forests] == first
    for way in first:
        assert way == sorted(way, key=lambda reach: reach.bound)
        assert all(-reach.states <= 3_000 for reach in way)


def test_a_trial_far_behind_is_given_up() -> None:
    """It does less work, and is not said to come further than it does."""
    climb = ascent(shop_job("routed", 80, 2))
    assert climb is not None
    chance, trials = Random(2), trials_for(climb)
    ways = {forest: trials.reach(forest, 4_000) for forest in (wandered(climb, chance) for _ in range(12))}
    best = max(ways.values(), key=lambda way: way[-1])
    spared = 0
    for forest, way in ways.items():
        before = trials.work
        against = trials.reach(forest, 4_000, best)
        assert against == way[: len(against)]
        took = trials.work - before
        trials.reach(forest, 4_000)
        spared += trials.work - before - 2 * took
    assert spared > 0


def test_trials_find_forests_that_come_further() -> None:
    """The best one comes no less far than those it began with, and further after some time; the same each time."""
    climb = ascent(shop_job("routed", 120, 2, frozenset({"ranges"})))
    assert climb is not None
    climb.guided.merge(2_000)
    begun = climb.guided.forest
    trials, again = trials_for(climb, begun), trials_for(climb, begun)
    for one in (trials, again):
        one.run(300_000, 3_000, climb.limit)
    best = trials.take()
    assert best is not None
    assert best == again.take()
    assert 300_000 <= trials.work < 350_000
    floors = [trials.reach(forest, 3_000)[-1] for forest in (begun, by_station(climb.floor))]
    assert trials.reach(best, 3_000)[-1] > max(floors)


def test_a_forest_taken_is_kept_unless_another_lifts_the_bound() -> None:
    """Getting to the same bound with fewer states is no reason to begin anew."""
    climb = ascent(shop_job("routed", 60, 1))
    assert climb is not None
    trials = trials_for(climb)
    assert trials.take() is None
    trials.run(1, 2_000, climb.limit)
    taken = trials.take()
    assert taken is not None
    bound, states = trials._way[-1]
    for way, expected in (
        (Reach(bound, states + 1), taken),
        (Reach(bound + 1, states), by_station(climb.floor)),
    ):
        trials._best.append(by_station(climb.floor))
        trials._way = [way]
        assert trials.take() == expected


@pytest.mark.parametrize("block", range(2))
def test_by_any_trees_the_least_cost_of_all_orders_is_proven(block: int) -> None:
    """Other trees from round to round, on random problems with every feature but choices."""
    tried = 0
    for seed in range(52_000 + 200 * block, 52_000 + 200 * (block + 1)):
        problem = random_problem(seed, 7, without=frozenset({"choices"}))
        climb = ascent(problem)
        if climb is None:
            continue
        chance = Random(seed)
        climb.effort = 1
        for _ in range(5):
            climb.guided.given = wandered(climb, chance)
            climb.lift()
            assert climb.guided.forest == climb.guided.given or climb.closed
        climb.run()
        least = least_cost(problem)
        assert (climb.best and climb.best.cost) == least, seed
        assert climb.best is None or climb.root.cost + climb.bound == least, seed
        tried += 1
    assert tried > 50
