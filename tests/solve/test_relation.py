"""The precedence to rely on, held to what every combination of options says by itself."""

from __future__ import annotations

from itertools import product
from random import Random

import pytest

from sequencer.solve.problem import Impossible, Lot, Problem
from sequencer.solve.relation import bits, relation_of


def tangled(seed: int, most_choices: int) -> Problem:
    """Bare lots under choices whose options share lots, and precedence that runs in a circle now and then."""
    rng = Random(seed)
    count = rng.randint(4, 12)
    free = rng.sample(range(count), rng.randint(2, count))
    choices = []
    while free and len(choices) < most_choices:
        mine = [free.pop() for _ in range(min(len(free), rng.randint(1, 5)))]
        options = [frozenset(lot for lot in mine if rng.random() < 0.5) for _ in range(rng.randint(1, 3))]
        choices.append(tuple(options))
    place = rng.sample(range(count), count)
    pairs = []
    for _ in range(rng.randint(0, 2 * count)):
        a, b = rng.sample(range(count), 2)
        pairs.append((a, b) if place[a] < place[b] or rng.random() < 0.02 else (b, a))
    lots = tuple(Lot(f"lot {n}", 0, {}) for n in range(count))
    return Problem(lots, (), ((0,),), tuple(pairs), choices=tuple(choices))


def following(problem: Problem, made: frozenset[int]) -> dict[int, set[int]] | None:
    """For each lot made what comes after it, by walking along the pairs; None if there is a circle."""
    found: dict[int, set[int]] = {}
    for lot in made:
        found[lot] = set()
        todo = [lot]
        while todo:
            at = todo.pop()
            for a, b in problem.precedence:
                if a == at and b in made and b not in found[lot]:
                    found[lot].add(b)
                    todo.append(b)
        if lot in found[lot]:
            return None
    return found


@pytest.mark.parametrize("block", range(8))
def test_what_is_told_holds_under_every_combination(block: int) -> None:
    """Where a is said to come before b, every combination of options that makes both and runs in no circle puts
    it so; no such combination takes an option left out; and with one choice at most, all that holds so is said.
    """
    for seed in range(200 * block, 200 * (block + 1)):
        problem = tangled(seed, 1 if seed % 2 else 3)
        relation = relation_of(problem)
        ways = {
            taken: found
            for taken in product(*(range(len(choice)) for choice in problem.choices))
            if (found := following(problem, problem.made(taken))) is not None
        }
        if isinstance(relation, Impossible):
            assert not ways, seed
            continue
        for taken in ways:
            kept = zip(relation.options, taken, strict=True)
            assert all(o in dict(choice) for choice, o in kept), seed
        count = len(problem.lots)
        for a in range(count):
            assert all(relation.before[b] >> a & 1 for b in bits(relation.after[a])), seed
            for b in range(count):
                both = [way for way in ways.values() if a in way and b in way]
                said, holds = bool(relation.after[a] >> b & 1), all(b in way[a] for way in both)
                assert holds or not said, (seed, a, b)
                if both and len(problem.choices) < 2:
                    assert said == holds, (seed, a, b)
