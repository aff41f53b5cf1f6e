"""Mates and wishes heeded in parts: never more than trying everything finds; that itself where a part is the whole."""

from __future__ import annotations

from random import Random

import numpy as np
import pytest

from sequencer.solve.climb import Climb
from sequencer.solve.compiled import kernels, layout
from sequencer.solve.floor import Floor, State
from sequencer.solve.heeded import part
from sequencer.solve.patterns import Pattern, ease
from sequencer.solve.problem import Impossible, Problem
from sequencer.solve.relation import relation_of
from sequencer.solve.scale import compiles
from tests.solve.exhaustive import least_cost
from tests.solve.random_problems import random_problem
from tests.solve.test_bounds import rest_cost


class Parts:
    """Patterns on disjoint dials on one board, each merged from single ones, which heed nothing or all they may."""

    def __init__(self, floor: Floor, sets: list[tuple[int, ...]], heeding: bool) -> None:
        self.floor = floor
        wheels = [ease(floor, d) for d in range(len(floor.knobs))]
        self.climb = Climb(floor, wheels, lambda: None, lambda climb: None)
        self.board = self.climb.layout
        self.singles = [self._put((d,), (), heeding) for d in range(len(wheels))]
        self.numbers = [
            self._put(dials, tuple(self.singles[d] for d in dials), True)
            if len(dials) > 1
            else self.singles[dials[0]]
            for dials in sets
        ]

    def _put(self, dials: tuple[int, ...], kids: tuple[int, ...], heeding: bool) -> int:
        wheels = [self.climb.wheels[d] for d in dials]
        parts = tuple(self.board.patterns[kid] for kid in kids)
        heeded = part(self.floor, dials) if heeding else part(self.floor, ())
        return self.board.put(Pattern(self.floor, wheels, dials, parts, lambda: None, heeded=heeded), kids)

    def costs(self, state: State) -> list[int]:
        """What each costs in a state of the whole, or FAR."""
        ints = self.board.board.ints
        top = self.climb._top(())
        entry = kernels.entry(self.board.board, self.board.at[top], *self.board.key(*state))
        found = []
        for number in self.numbers:
            dials = np.array(self.board.patterns[number].dials, np.int64)
            ints[[layout.LIMIT, layout.STATE, layout.STOP]] = layout.FAR, layout.WELL, 0
            mine = kernels.view(self.board.board, self.board.at[number], entry, dials)
            found.append(int(kernels.ask(self.board.board, self.board.at[number], mine, layout.FAR)))
        return [cost if cost >= layout.FAR else cost * self.climb.unit for cost in found]


def floor_of(problem: Problem) -> Floor | None:
    """The problem laid out; None if its lots run in a circle or the kernels cannot take it."""
    relation = relation_of(problem)
    if isinstance(relation, Impossible):
        return None
    floor = Floor(problem, relation)
    return floor if compiles(floor) and (floor.groups or any(floor.wish_before)) else None


@pytest.fixture(autouse=True)
def little(monkeypatch: pytest.MonkeyPatch) -> None:
    """Memory for few states, since each problem asks for it."""
    monkeypatch.setattr(layout, "BYTES", 2_000_000)


@pytest.mark.parametrize("block", range(8))
def test_parts_cost_no_more_than_the_whole(block: int) -> None:
    """At states reached at random, parts on random disjoint dials add up to no more than the exact rest cost."""
    states = more = 0
    for seed in range(250 * block, 250 * (block + 1)):
        floor = floor_of(random_problem(seed, 7, without=frozenset({"choices"})))
        if floor is None:
            continue
        rng = Random(seed)
        dials = rng.sample(range(len(floor.knobs)), len(floor.knobs))
        sets = []
        while dials:
            size = rng.randint(1, len(dials))
            sets.append(tuple(sorted(dials[:size])))
            del dials[:size]
        parts = Parts(floor, sets, heeding=bool(seed % 2))
        plain = Parts(floor, sets, heeding=False)
        plain.numbers = [plain._put(one, tuple(plain.singles[d] for d in one), False) for one in sets]
        step = floor.first()
        while step.state[0]:
            exact = rest_cost(floor, step)
            if exact is None:
                break
            cost, bare = sum(parts.costs(step.state)), sum(plain.costs(step.state))
            assert cost <= exact, (seed, sets, step.state)
            states += 1
            more += cost > bare
            step = rng.choice(list(floor.steps(step.state)))
    assert states > 300
    assert more > 30


@pytest.mark.parametrize("block", range(4))
def test_a_part_on_all_dials_is_the_whole(block: int) -> None:
    """Where easing changes nothing, a pattern of all dials costs what trying everything finds."""
    exact = dear = none = 0
    plain = frozenset({"choices", "slack", "tolerance", "tables", "forgets", "one-way"})
    for seed in range(600 * block, 600 * (block + 1)):
        problem = random_problem(seed, 7, without=plain)
        floor = floor_of(problem)
        if floor is None or not all(knob.plain for knob in floor.knobs):
            continue
        if any(
            lots & ~floor.knobs[d].named
            for lots, held in floor.groups
            for d in range(floor.walking)
            if held >> d & 1
        ):
            continue
        every = tuple(range(len(floor.knobs)))
        parts = Parts(floor, [every], heeding=bool(seed % 2))
        first = floor.first()
        (cost,) = parts.costs(first.state)
        least = least_cost(problem)
        if least is None:
            assert cost >= layout.FAR, seed
            none += 1
            continue
        assert cost + first.cost == least, seed
        bare = Parts(floor, [every], heeding=False)
        bare.numbers = [bare._put(every, tuple(bare.singles), False)]
        exact += 1
        dear += bare.costs(first.state)[0] < cost
    assert exact > 100
    assert dear > 20
    assert none > 0
