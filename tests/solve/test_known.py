"""What is known of a problem beforehand: trees told by names mean the same elsewhere, and no proof hangs on it."""

from __future__ import annotations

from dataclasses import replace
from random import Random

import pytest

from sequencer.solve.bounds.patterns import Pattern
from sequencer.solve.plans.quick import dived
from sequencer.solve.problem import FAR, Impossible, Limits, Outcome, Problem
from sequencer.solve.proof.known import (
    UNCHARTED,
    WALKING,
    Known,
    Name,
    NamedCourse,
    NamedTree,
    named,
    numbered,
)
from sequencer.solve.proof.search import begin
from sequencer.solve.proof.trees import Course, by_station, changed, dials_of
from sequencer.solve.relation import relation_of
from sequencer.solve.transitions.floor import Floor
from tests.benchmarks.shop_jobs import shop_job
from tests.solve.exhaustive import least_cost
from tests.solve.laid_out import finish
from tests.solve.random_problems import random_problem
from tests.solve.test_climb import ascent


def floor_of(problem: Problem) -> Floor:
    """The floor of a problem whose lots run in no circle."""
    relation = relation_of(problem)
    assert not isinstance(relation, Impossible)
    return Floor(problem, relation)


def reversed_dials(problem: Problem) -> Problem:
    """The same problem, its dials numbered the other way round and one more before them that no lot names."""
    last = len(problem.dials)
    spare = replace(problem.dials[0], label="spare")
    return replace(
        problem,
        dials=(spare, *problem.dials[::-1]),
        lots=tuple(
            replace(lot, needs={last - d: need for d, need in lot.needs.items()}) for lot in problem.lots
        ),
    )


def test_names_mean_the_same_trees() -> None:
    """On the floor they were told of, and on one that numbers its dials otherwise; its further dial stands alone."""
    problem = shop_job("routed", 30, 1)
    here, there = floor_of(problem), floor_of(reversed_dials(problem))
    forest, chance = by_station(here), Random(1)
    for n in range(200):
        forest = changed(forest, chance)
        told = named(here, Course(forest, back=n % 2 == 0))
        assert numbered(here, told) == (forest, n % 2 == 0)
        moved = numbered(there, told)
        assert moved is not None
        assert 0 in moved.forest
        shared = tuple(tree for tree in moved.forest if tree != 0)
        assert numbered(here, named(there, moved._replace(forest=shared))) == (forest, n % 2 == 0)
    assert numbered(here, UNCHARTED) is None


def test_dials_that_are_not_there_are_left_out() -> None:
    """Of a tree the rest is kept; two dials called alike are taken for one each; every dial is there once."""
    floor = floor_of(shop_job("routed", 30, 1))
    gone, one, other = Name(0, "gone"), *(named(floor, Course((d,))).forest[0] for d in (0, 1))
    course = numbered(floor, NamedCourse((((gone, one), (WALKING, gone)), gone, (other, other))))
    assert course is not None
    forest = course.forest
    assert {(0, floor.walking), 1} <= set(forest)
    assert sorted(d for tree in forest for d in dials_of(tree)) == list(range(floor.walking + 1))


@pytest.mark.parametrize("seed", [1, 2, 3, 4])  # 0 makes a pattern that takes plain Python two minutes
def test_known_trees_bound_as_patterns_made_by_hand(seed: int) -> None:
    """Trees told of one problem, gone by in the same one with its dials numbered otherwise: the bound at the root is
    what these patterns cost there.
    """
    problem = shop_job("dense", 30, seed, frozenset({"ranges", "stops"}))
    told = ascent(problem)
    assert told is not None
    told.guided.merge(2_000)
    there = ascent(reversed_dials(problem), course=named(told.floor, told.course))
    assert there is not None
    before = there.bound
    there.guided.round(2_000)
    by_hand = 0
    for tree in told.guided.forest:
        dials = dials_of(tree)
        pattern = Pattern(told.floor, [told.guided.wheels[d] for d in dials], dials, (), lambda: None, 10**7)
        by_hand += pattern.bound(pattern.project(*told.root.state), FAR)
    assert before < by_hand == there.sum <= there.bound


@pytest.mark.parametrize("alike", [False, True])
def test_no_known_trees_change_a_proof(alike: bool) -> None:
    """Whatever trees are told, of dials gone or called alike too, and from either end, the least cost of all orders is
    proven.
    """
    rng = Random(alike)
    merged = turned = 0
    for seed in range(22_000, 22_400):
        problem = random_problem(seed, 6, without=frozenset(("choices",)))
        if alike:
            problem = replace(problem, dials=tuple(replace(dial, label="d") for dial in problem.dials))
        trees: list[NamedTree] = [WALKING, Name(0, "gone")]
        trees += [Name(dial.station, dial.label) for dial in problem.dials]
        for _ in range(rng.randint(1, 4)):
            trees.append(tuple(rng.choices(trees, k=2)))  # type: ignore[arg-type]
        rng.shuffle(trees)
        climb = ascent(problem, course=NamedCourse(tuple(trees), seed % 2 == 0))
        if climb is None:
            continue
        finish(climb)
        turned += climb.end.back
        merged += any(isinstance(tree, tuple) for tree in climb.guided.forest)
        least = least_cost(problem)
        assert (climb.best and climb.best.cost) == least, seed
        assert climb.best is None or climb.root.cost + climb.bound == least, seed
    assert merged > 20
    assert turned > 20


@pytest.mark.usefixtures("compiled")
def test_a_known_order_is_where_a_search_begins() -> None:
    """Before anything is proven it is the plan, whatever it costs; at last the plan costs what it did without."""
    problem = shop_job("routed", 60, 3, frozenset({"mates", "wishes"}))
    quick = dived(problem)
    assert quick is not None
    found = begin(
        problem, Limits(60), lambda news: None, lambda: False, Known(quick.order, quick.cost), False
    )
    without = begin(problem, Limits(60), lambda news: None, lambda: False, sparing=False)
    assert not isinstance(found, Impossible)
    assert not isinstance(without, Impossible)
    first = found.look(0, 30)
    assert isinstance(first, Outcome)
    assert (first.order, first.cost) == (quick.order, quick.cost)
    found.prove()
    without.prove()
    assert found.best is not None
    assert without.best is not None
    assert found.best.cost == found.bound == without.best.cost < quick.cost


@pytest.mark.usefixtures("compiled")
def test_why_is_told_when_asked_for() -> None:
    """A look tells no reasons; asked for, they come to no more than the bound it has proven."""
    begun = begin(shop_job("routed", 60, 3), Limits(60), lambda news: None, lambda: False)
    assert not isinstance(begun, Impossible)
    found = begun.look(1, 30)
    assert isinstance(found, Outcome)
    assert not found.reasons
    why = begun.reasons(found.bound)
    assert why
    assert sum(reason.cost for reason in why) <= found.bound
