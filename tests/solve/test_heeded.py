"""Mates and wishes heeded in parts: never more than trying everything finds; that itself where a part is the whole."""

from __future__ import annotations

from random import Random

import numpy as np
import pytest

from sequencer.solve.bounds.heeded import part
from sequencer.solve.bounds.patterns import Pattern
from sequencer.solve.bounds.wheels import ease
from sequencer.solve.compiled import FAR_32, kernels, layout
from sequencer.solve.problem import Problem
from sequencer.solve.proof.climb import Climb
from sequencer.solve.proof.reasons import floors, reasons
from sequencer.solve.relation import bits
from sequencer.solve.transitions.floor import Floor, State
from tests.benchmarks.shop_jobs import shop_job
from tests.solve.exhaustive import least_cost
from tests.solve.laid_out import divided, finish, laid_out
from tests.solve.random_problems import random_problem
from tests.solve.test_bounds import rest_cost
from tests.solve.test_counts import priced_alone


class Parts:
    """Patterns on disjoint dials on one board, each merged from single ones, which heed nothing or all they may."""

    def __init__(self, floor: Floor, sets: list[tuple[int, ...]], heeding: bool) -> None:
        self.floor = floor
        wheels = [ease(floor, d) for d in range(len(floor.knobs))]
        self.climb = Climb(floor, wheels, lambda: None, lambda climb: None)
        self.board = self.climb.asking.layout
        self.singles = [self._put((d,), (), heeding) for d in range(len(wheels))]
        self.numbers = [
            self._put(dials, tuple(self.singles[d] for d in dials), True)
            if len(dials) > 1
            else self.singles[dials[0]]
            for dials in sets
        ]

    def _put(self, dials: tuple[int, ...], kids: tuple[int, ...], heeding: bool) -> int:
        wheels = [self.climb.guided.wheels[d] for d in dials]
        parts = tuple(self.board.patterns[kid] for kid in kids)
        if heeding and len(dials) > 1:
            return self.board.put(self.climb.guided.joining.pattern(dials, parts), kids)
        heeded = part(self.floor, dials) if heeding else part(self.floor, ())
        return self.board.put(Pattern(self.floor, wheels, dials, parts, lambda: None, heeded=heeded), kids)

    def costs(self, state: State) -> list[int]:
        """What each costs in a state of the whole, or FAR."""
        ints = self.board.board.ints
        top = self.climb.guided.number
        entry = kernels.entry(self.board.board, self.board.at[top], *self.board.key(*state))
        found = []
        for number in self.numbers:
            dials = np.array(self.board.patterns[number].dials, np.int64)
            ints[[layout.LIMIT, layout.STATE, layout.STOP]] = FAR_32, layout.WELL, 0
            mine = kernels.view(self.board.board, self.board.at[number], entry, dials)
            found.append(int(kernels.ask(self.board.board, self.board.at[number], mine, FAR_32)))
        return [cost if cost >= FAR_32 else cost * self.climb.asking.unit for cost in found]


def floor_of(problem: Problem) -> Floor | None:
    """The problem laid out; None if its lots run in a circle, the kernels cannot take it or it has nothing to heed."""
    floor = laid_out(problem)
    return floor if floor and (floor.groups or any(floor.wish_before) or floor.forgetful) else None


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
        sets = divided(floor, rng)
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
            assert cost >= FAR_32, seed
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


@pytest.mark.parametrize("block", range(4))
def test_floors_and_reasons_are_true_where_wishes_are_heeded(block: int) -> None:
    """The dials of a pattern that heeds wishes cost in moves what the floor says, in any order; and the reasons come to
    no more than the least cost.
    """
    told = several = 0
    for seed in range(200 * block, 200 * (block + 1)):
        problem = random_problem(10_000 + seed, 5, without=frozenset({"choices"}))
        floor = floor_of(problem)
        if floor is None or not any(floor.wish_before):
            continue
        climb = Climb(
            floor, [ease(floor, d) for d in range(len(floor.knobs))], lambda: None, lambda climb: None
        )
        climb.guided.merge(1000)
        finish(climb)
        if climb.best is None:
            continue
        for dials, cost in floors(climb.root.state, climb.patterns):
            least = least_cost(priced_alone(problem, dials))
            assert least is not None
            assert 0 < cost <= least, (seed, dials)
            told += 1
        several += any(pattern.heeded.paid for pattern in climb.patterns)
        said = reasons(floor, climb.root.state, climb.patterns, climb.root.cost, climb.best.cost)
        assert climb.root.cost + sum(reason.cost for reason in said) <= climb.best.cost, seed
    assert told > 60
    assert several > 5


def test_what_is_heeded_is_told() -> None:
    """A reason whose cost holds wishes and mates says so."""
    compared = set()
    for seed in range(1, 7):
        floor = floor_of(shop_job("routed", 40, seed, frozenset({"mates", "wishes"})))
        assert floor is not None
        climb = Climb(
            floor, [ease(floor, d) for d in range(len(floor.knobs))], lambda: None, lambda climb: None
        )
        climb.guided.merge(1000)
        whys = [
            reason.why for reason in reasons(floor, climb.root.state, climb.patterns, climb.root.cost, 10**6)
        ]
        for pattern in climb.patterns:
            known = pattern.known(pattern.project(*climb.root.state))
            apart = sum(part.known(part.project(*climb.root.state)) for part in pattern.parts)
            if pattern.heeded.wishes and known > apart > 0:
                assert any("wishes gone against counted in" in why for why in whys)
                compared.add(seed)
    assert compared


def test_no_wish_is_heeded_twice() -> None:
    """Parts on disjoint dials share no wish, and hold both lots of each they heed."""
    heard = 0
    for seed in range(1, 9):
        floor = floor_of(shop_job("routed", 60, seed, frozenset({"mates", "wishes"})))
        assert floor is not None
        rng = Random(seed)
        dials = rng.sample(range(len(floor.knobs)), len(floor.knobs))
        cut = rng.randint(1, len(dials) - 1)
        seen: set[tuple[int, int, int]] = set()
        for mine in (tuple(sorted(dials[:cut])), tuple(sorted(dials[cut:]))):
            heeded = part(floor, mine)
            pattern = Pattern(floor, [ease(floor, d) for d in mine], mine, (), lambda: None, heeded=heeded)
            assert not heeded.lots & ~pattern.lots
            wishes = {(wish.before, wish.after, wish.price) for wish in heeded.wishes}
            assert not wishes & seen
            seen |= wishes
            for group in heeded.groups:
                for place in bits(group.held):
                    assert not group.lots & ~floor.knobs[mine[place]].named
        assert len(seen) == sum(map(len, floor.wish_before))
        heard += len(seen)
    assert heard > 20
