"""Trees of mergers: what changes make of them, how they are judged, and that any of them leads to the same proof."""

from __future__ import annotations

from random import Random

import pytest

from sequencer.solve.price import is_order
from sequencer.solve.problem import Limits
from sequencer.solve.proof import judging, trees
from sequencer.solve.proof.climb import Climb
from sequencer.solve.proof.judging import Reach
from sequencer.solve.proof.search import Run, begin
from sequencer.solve.proof.trees import Course, Forest, by_station, changed, dials_of, ordered
from sequencer.solve.proof.trials import Trials
from sequencer.solve.proof.whole import put_whole
from tests.benchmarks.shop_jobs import shop_job
from tests.solve.exhaustive import cost_of, least_cost
from tests.solve.laid_out import finish
from tests.solve.random_problems import random_problem
from tests.solve.test_climb import ascent


def wandered(climb: Climb, chance: Random, changes: int = 20) -> Forest:
    """A forest some way off."""
    forest = by_station(climb.floor)
    for _ in range(changes):
        forest = changed(forest, chance)
    return forest


def trials_for(climb: Climb, seed: int = 0) -> Trials:
    """Trials with room for up to 100,000 states."""
    return Trials(climb.ends, climb.limit, climb.tick, climb.course, 100_000, seed)


def test_a_changed_forest_has_each_dial_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """However often it is changed; and from one tree to nearly all dials apart, every number of trees comes about,
    though seldom the larger ones: there are more ways to merge dials than to leave them apart.
    """
    climb = ascent(shop_job("routed", 30, 1))
    assert climb is not None
    forest, chance, sizes = by_station(climb.floor), Random(1), set()
    dials = list(range(climb.floor.walking + 1))
    for apart in (trees.APART, 0.3):
        monkeypatch.setattr(trees, "APART", apart)
        for _ in range(10_000):
            forest = changed(forest, chance)
            assert sorted(d for tree in forest for d in dials_of(tree)) == dials
            sizes.add(len(forest))
        assert sizes >= {1, 2, 3}
    assert sizes >= set(range(1, len(dials) - 1))


def test_the_same_trees_are_written_in_one_way() -> None:
    """Whichever comes first of a pair or of the trees; so what hill climbing has tried is known again."""
    kept = (4, (0, (1, 2)), (3, (5, 6)))
    for other in (((3, (6, 5)), ((2, 1), 0), 4), (((5, 6), 3), 4, (0, (2, 1)))):
        assert ordered(other) == kept
    assert ordered((4, ((0, 1), 2), (3, (5, 6)))) != kept
    climb = ascent(shop_job("routed", 30, 1))
    assert climb is not None
    forest, chance, met = by_station(climb.floor), Random(3), set()
    for _ in range(2_000):
        assert ordered(forest) == forest
        met.add(frozenset(map(unordered, forest)))
        forest = changed(forest, chance)
    assert len(met) > 1_000


def unordered(tree: object) -> object:
    """A tree in which no kid is the first one."""
    return frozenset(map(unordered, tree)) if isinstance(tree, tuple) else tree


def test_few_dials_are_no_trouble() -> None:
    """A single dial has one forest, whatever is done to it."""
    forest: Forest = (0,)
    for _ in range(100):
        forest = changed(forest, Random(0))
    assert forest == (0,)


@pytest.mark.parametrize("block", range(2))
def test_no_forest_is_said_to_come_further_than_the_least_cost(block: int) -> None:
    """On random problems with every feature but choices, from either end: with little room it stays below, with much it
    gets there.
    """
    compared = turned = 0
    for seed in range(51_000 + 150 * block, 51_000 + 150 * (block + 1)):
        climb = ascent(random_problem(seed, 6, without=frozenset({"choices"})))
        if climb is None or not climb.root.state[0]:
            continue
        least = least_cost(climb.floor.problem)
        if least is None:
            continue
        rest = least - climb.root.cost
        chance = Random(seed)
        trials = trials_for(climb)
        for back in (False, True, False) if climb.ends.back else (False, False):
            course = Course(wandered(climb, chance), back)
            assert trials.reach(course, 5)[-1].bound <= rest
            assert trials.reach(course, 50_000)[-1].bound == rest
            turned += back
        compared += 1
    assert compared > 50
    assert turned > 25


def test_what_was_tried_before_makes_no_difference() -> None:
    """A forest is judged from nothing each time: the way up is the same, bound by bound and state by state."""
    climb = ascent(shop_job("routed", 60, 3, frozenset({"mates", "wishes"})))
    assert climb is not None
    chance = Random(5)
    courses = [Course(wandered(climb, chance), n % 2 == 0) for n in range(6)]
    together = trials_for(climb)
    first = [together.reach(course, 3_000) for course in courses]
    assert len(set(map(tuple, first))) > 3  # they differ
    assert [together.reach(course, 3_000) for course in courses] == first
    assert [trials_for(climb).reach(course, 3_000) for course in courses] == first
    for way in first:
        assert way == sorted(way, key=lambda reach: reach.bound)
        assert all(-reach.states <= 3_000 for reach in way)


def test_a_trial_far_behind_is_given_up() -> None:
    """It does less work, and is not said to come further than it does."""
    climb = ascent(shop_job("routed", 80, 2))
    assert climb is not None
    chance, trials = Random(2), trials_for(climb)
    ways = {
        course: trials.reach(course, 4_000) for course in (Course(wandered(climb, chance)) for _ in range(12))
    }
    best = max(ways.values(), key=lambda way: way[-1])
    spared = 0
    for course, way in ways.items():
        before = trials.work
        against = trials.reach(course, 4_000, best)
        assert against == way[: len(against)]
        took = trials.work - before
        trials.reach(course, 4_000)
        spared += trials.work - before - 2 * took
    assert spared > 0


def test_trials_find_forests_that_come_further() -> None:
    """The best one comes no less far than those it began with, and further after some time; the same each time."""
    climb = ascent(shop_job("routed", 120, 2, frozenset({"ranges"})))
    assert climb is not None
    climb.guided.merge(2_000)
    begun = climb.course
    trials, again = trials_for(climb), trials_for(climb)
    for one in (trials, again):
        one.run(300_000, 3_000, climb.limit)
    best = trials.take()
    assert best is not None
    assert best == again.take()
    assert 300_000 <= trials.work < 350_000
    floors = [trials.reach(course, 3_000)[-1] for course in (begun, Course(by_station(climb.floor)))]
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
        (Reach(bound + 1, states), Course(by_station(climb.floor))),
    ):
        trials._best.append(Course(by_station(climb.floor)))
        trials._way = [way]
        assert trials.take() == expected


@pytest.mark.parametrize("block", range(2))
def test_by_any_trees_the_least_cost_of_all_orders_is_proven(block: int) -> None:
    """Other trees from round to round, and from either end, on random problems with every feature but choices; the
    order told costs what is proven.
    """
    tried = turned = 0
    for seed in range(52_000 + 200 * block, 52_000 + 200 * (block + 1)):
        problem = random_problem(seed, 7, without=frozenset({"choices"}))
        climb = ascent(problem)
        if climb is None:
            continue
        chance = Random(seed)
        climb.effort = 1
        for _ in range(5):
            course = Course(wandered(climb, chance), chance.random() < 0.5 and climb.ends.back is not None)
            bound = climb.bound
            climb.go_by(course)
            climb.lift()
            assert climb.course == course or climb.closed
            assert climb.bound >= bound
            turned += climb.end.back
        finish(climb)
        least = least_cost(problem)
        assert (climb.best and climb.best.cost) == least, seed
        assert climb.best is None or climb.root.cost + climb.bound == least, seed
        if climb.best is not None:
            order = tuple(climb.floor.lot_of[item] for item in climb.best.items)
            assert is_order(problem, order, ())
            assert cost_of(problem, list(order)) == least, seed
        tried += 1
    assert tried > 50
    assert turned > 50


def test_the_better_end_is_found() -> None:
    """A job that is proven with a third of the states from its back, and one with a tenth from its front."""
    for lots, kind, back in ((120, {"mates"}, True), (120, {"tables", "mates"}, False)):
        problem = shop_job("routed", lots, 2 - back, frozenset(kind))
        run = begin(problem, Limits(60), lambda news: None, lambda: False, sparing=False)
        assert isinstance(run, Run)
        run.look(1, 60)
        assert run.climb is not None
        trials = trials_for(run.climb)
        trials.run(200_000, 16_000, run.climb.limit)
        best = trials.take()
        assert best is not None
        assert best.back == back


def test_without_memory_for_the_other_end_it_stays_at_the_first(monkeypatch: pytest.MonkeyPatch) -> None:
    """Trials go on with what they have, and so does the ascent."""
    climb = ascent(shop_job("routed", 40, 1))
    assert climb is not None

    def full(*asked: object) -> None:
        raise MemoryError

    there, front = climb.ends.back, climb.end
    assert there is not None
    whole, forest = put_whole, climb.guided.forest
    monkeypatch.setattr(
        judging,
        "put_whole",
        lambda layout, joining: (full if joining.floor is there.floor else whole)(layout, joining),
    )
    trials = trials_for(climb)
    trials.run(20_000, 2_000, climb.limit)
    best = trials.take()
    assert best is not None
    assert not best.back
    monkeypatch.setattr("sequencer.solve.proof.climb.Guided", full)
    climb.go_by(Course(by_station(climb.floor), back=True))
    assert climb.end is front
    assert climb.guided.forest == forest
    assert climb.guided.given is None


def test_for_no_more_than_a_tie_it_does_not_turn(monkeypatch: pytest.MonkeyPatch) -> None:
    """Getting to the same bound with fewer states is enough for other trees from the same end, and not from the other;
    changes go both ways.
    """
    climb = ascent(shop_job("routed", 40, 1))
    assert climb is not None
    trials = trials_for(climb)
    trials.run(1, 1_000, climb.limit)
    course = trials._best[-1]
    way = [Reach(trials._way[-1].bound, trials._way[-1].states + 1)]
    other, turned = Course(wandered(climb, Random(1)), course.back), Course(course.forest, not course.back)
    monkeypatch.setattr(trials, "reach", lambda *asked: way)
    trials._try(turned)
    assert trials._best[-1] == course
    trials._try(other)
    assert trials._best[-1] == other
    way = [Reach(way[0].bound + 1, -(10**6))]
    trials._try(turned)
    assert trials._best[-1] == turned
    ends = [trials._changed(turned).back for _ in range(400)]
    assert 5 < ends.count(False) < 60


def test_both_ends_hear_of_the_limit_and_of_an_order_to_stop() -> None:
    """Where there are trials from both."""
    climb = ascent(shop_job("routed", 40, 1))
    assert climb is not None
    trials = trials_for(climb)
    limit = climb.limit // 2

    def tick() -> None: ...

    trials.hear(tick)
    trials.run(1, 1_000, limit)
    assert sorted(trials._judges) == [False, True]
    for one in trials._judges.values():
        assert (one.asking.limit, one.asking.tick) == (limit, tick)
