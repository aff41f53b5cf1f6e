"""Lots made for now and revoked to serve as stops: least costs and bounds, against trying every order.

Reference: every order that `networkx.all_topological_sorts` knows, priced by the plain counter in `exhaustive`.
"""

from __future__ import annotations

from collections.abc import Iterator
from random import Random

import numpy as np
import pytest

from sequencer.solve.bounds.heeded import part
from sequencer.solve.bounds.patterns import Pattern
from sequencer.solve.bounds.stops import stops_of
from sequencer.solve.bounds.wheels import ease
from sequencer.solve.compiled import FAR_32, kernels, layout
from sequencer.solve.price import is_order, price
from sequencer.solve.problem import Dial, Lot, Mates, Need, Problem, Wish
from sequencer.solve.proof.climb import Climb
from sequencer.solve.proof.scale import unit
from sequencer.solve.proof.whole import Rules
from sequencer.solve.relation import bits
from sequencer.solve.transitions.floor import Floor
from tests.solve.exhaustive import least_cost
from tests.solve.laid_out import divided, finish, laid_out
from tests.solve.random_problems import random_problem
from tests.solve.test_bounds import rest_cost


def rough_problem(seed: int, lots: int = 7) -> Problem:
    """Few values, many lots at each, and tables full of ways round that are cheaper; at times mates, wishes, walks to
    and fro that lose a value, and lots content with several values.
    """
    rng = Random(f"rough {seed}")
    stations = rng.choice((1, 1, 2))
    dials = []
    for d in range(rng.randint(1, 3)):
        values = range(rng.randint(2, 4))
        table = [[0 if a == b else rng.choice((1, 2, 3, 9)) for b in values] for a in values]
        dials.append(
            Dial(
                f"d{d}",
                rng.randrange(stations),
                tuple(map(tuple, table)),
                tuple(rng.choice((0, 1, 5)) for _ in values),
                rng.choice((None, 0)),
                keeps=rng.random() < 0.8,
            )
        )
    made = []
    for n in range(lots):
        station = rng.randrange(stations)
        needs = {}
        for d, dial in enumerate(dials):
            if dial.station == station and rng.random() < 0.8:
                reach = 1 << rng.randrange(dial.values) | (rng.random() < 0.2) << rng.randrange(dial.values)
                needs[d] = Need(reach, reach | (rng.random() < 0.1) << rng.randrange(dial.values))
        made.append(Lot(f"lot {n}", station, needs))
    pairs = [(a, b) for a in range(lots) for b in range(a + 1, lots) if rng.random() < rng.choice((0.1, 0.3))]
    walk = rng.randint(0, 3)
    mates, wishes = [], []
    if rng.random() < 0.3:
        mates = [Mates(frozenset(rng.sample(range(lots), 2)), frozenset((rng.randrange(len(dials)),)))]
    if rng.random() < 0.4:
        wishes = [Wish(*rng.sample(range(lots), 2), rng.randint(1, 4)) for _ in range(2)]
    between = tuple(tuple(0 if a == b else walk for b in range(stations)) for a in range(stations))
    return Problem(tuple(made), tuple(dials), between, tuple(pairs), mates=tuple(mates), wishes=tuple(wishes))


def chained_problem(seed: int, wishing: bool, lots: int = 7) -> Problem:
    """One station, tables of long ways and short ones, and more precedence; `wishing`: with several wishes."""
    rng = Random(f"chained {seed}")
    dials = []
    for d in range(rng.randint(1, 2)):
        values = range(rng.randint(3, 4))
        table = tuple(tuple(0 if a == b else rng.choice((1, 1, 8)) for b in values) for a in values)
        dials.append(Dial(f"d{d}", 0, table, (1,) * len(values), 0))
    made = []
    for n in range(lots):
        wanted = {
            d: 1 << rng.randrange(dial.values)
            for d, dial in enumerate(dials)
            if rng.random() < (0.6 if wishing else 0.8)
        }
        made.append(Lot(f"lot {n}", 0, {d: Need(value, value) for d, value in wanted.items()}))
    pairs = [(a, b) for a in range(lots) for b in range(a + 1, lots) if rng.random() < 0.25]
    count = rng.randint(2, 4) if wishing else rng.randint(0, 2)
    wishes = [Wish(*rng.sample(range(lots), 2), rng.randint(1, 6)) for _ in range(count)]
    mates = []
    if rng.random() < (0.1 if wishing else 0.3):
        mates = [Mates(frozenset(rng.sample(range(lots), 2)), frozenset((rng.randrange(len(dials)),)))]
    return Problem(tuple(made), tuple(dials), ((0,),), tuple(pairs), mates=tuple(mates), wishes=tuple(wishes))


def floor_of(problem: Problem) -> Floor | None:
    """The problem laid out; None if the kernels cannot take it or none of its lots can serve as a stop."""
    floor = laid_out(problem)
    return floor if floor and Rules(floor).heeded.revocable else None


def ascent(floor: Floor) -> Climb:
    """The ascent at its foot."""
    return Climb(floor, [ease(floor, d) for d in range(len(floor.knobs))], lambda: None, lambda climb: None)


@pytest.fixture(autouse=True)
def little(monkeypatch: pytest.MonkeyPatch) -> None:
    """Memory for few states, since each problem asks for it."""
    monkeypatch.setattr(layout, "BYTES", 2_000_000)


def test_whom_stops_help() -> None:
    """From the first value of three to the last it is cheaper by way of the second, and so it is afresh."""
    rows = ((0, 2, 9), (4, 0, 2), (4, 4, 0), (1, 1, 4))
    stops = stops_of(rows, {0: 0b001, 1: 0b010, 2: 0b100, 3: 0b110})
    assert stops is not None
    assert stops.gains == [[0, 0b1100, 0], [0, 0, 0], [0, 0, 0], [0, 0b1100, 0]]
    assert stops.helped == {1: 0b1100, 3: 0b0100}
    assert stops_of(((0, 1), (1, 0), (1, 1)), {0: 1, 1: 2}) is None


def test_a_stop_sets_a_dial_for_a_lot_amid_mates() -> None:
    """A lot content with both values moves the dial though it need not: amid the mates that follow it may not move."""
    dial = Dial("angle", 0, ((0, 1), (2, 0)), (1, 1), start=0)
    needs = (Need(3, 3), None, Need(2, 2), None)
    lots = tuple(Lot(f"lot {n}", 0, {0: need} if need else {}) for n, need in enumerate(needs))
    mates = (Mates(frozenset((1, 3)), frozenset((0,))),)
    problem = Problem(lots, (dial,), ((0,),), ((0, 1), (1, 2), (2, 3)), mates=mates)
    floor = floor_of(problem)
    assert floor is not None
    assert unguided(floor)[0] == least_cost(problem) == 1


@pytest.mark.parametrize("block", range(6))
def test_the_least_cost_of_all_orders_is_proven(block: int) -> None:
    """The order told costs what is proven, and no order costs less; where mates allow none, none is found."""
    tried = revoked = none = 0
    for seed in range(250 * block, 250 * (block + 1)):
        problem = rough_problem(seed)
        floor = floor_of(problem)
        if floor is None:
            continue
        climb = ascent(floor)
        climb.effort = 1 if seed % 2 else climb.effort
        finish(climb)
        least = least_cost(problem)
        if climb.best is None:
            assert least is None, seed
            none += 1
            continue
        order = tuple(floor.lot_of[item] for item in climb.best.items)
        priced = price(problem, order)
        assert is_order(problem, order, ()), seed
        assert priced is not None
        assert priced.cost == climb.best.cost == climb.root.cost + climb.bound == least, seed
        tried += 1
        info, board = climb.asking.layout.board.info, climb.asking.layout
        for e in np.flatnonzero(info[: board.board.ints[layout.COUNT], layout.VIA] > 0):
            before, via = int(info[e, layout.PARENT]), int(info[e, layout.VIA])
            if before >= 0 and info[e, layout.PATTERN] == climb.guided.number:
                revoked += not int.from_bytes(board.board.rest[before].tobytes(), "little") >> via & 1
    assert tried > 120
    assert revoked > 20


def starting_problem(seed: int) -> Problem:
    """Two stations, dials that leaving loses and that start anywhere, cheap walks; at times mates."""
    rng = Random(f"starting {seed}")
    dials = []
    for d in range(rng.randint(1, 3)):
        values = range(rng.randint(2, 3))
        table = tuple(tuple(0 if a == b else rng.choice((1, 2, 9, 20)) for b in values) for a in values)
        first = tuple(rng.choice((0, 1, 5)) for _ in values)
        start = rng.choice((None, *values))
        dials.append(Dial(f"d{d}", rng.randrange(2), table, first, start, keeps=rng.random() < 0.4))
    lots = []
    for n in range(6):
        station = rng.randrange(2)
        needs = {}
        for d, dial in enumerate(dials):
            if dial.station == station and rng.random() < 0.6:
                reach = rng.randrange(1, 1 << dial.values)
                needs[d] = Need(reach, reach)
        lots.append(Lot(f"lot {n}", station, needs))
    pairs = [(a, b) for a in range(6) for b in range(a + 1, 6) if rng.random() < 0.3]
    mates = []
    if rng.random() < 0.4:
        mates = [Mates(frozenset(rng.sample(range(6), 2)), frozenset((rng.randrange(len(dials)),)))]
    walk = rng.randint(0, 3)
    return Problem(tuple(lots), tuple(dials), ((0, walk), (walk, 0)), tuple(pairs), mates=tuple(mates))


@pytest.mark.parametrize("first", range(0, 6_000, 1_500))
def test_no_visit_is_left_without_work(first: int) -> None:
    """A walk that loses what a dial starts at is not paid for a lot that is made elsewhere in the end; and mates amid
    which others come find the dial they hold where these need it.
    """
    assert sum(least_by_itself(starting_problem(seed), seed) for seed in range(first, first + 1_500)) > 100


@pytest.mark.parametrize(
    ("wishing", "first", "last"), [(False, 1100, 1500), (True, 700, 1000), (True, 4900, 5100)]
)
def test_the_whole_by_itself_finds_the_least_cost(wishing: bool, first: int, last: int) -> None:
    """Searched without any guide, so that all that is cheaper is looked at, the whole costs what enumeration finds."""
    assert sum(least_by_itself(chained_problem(seed, wishing), seed) for seed in range(first, last)) > 40


def least_by_itself(problem: Problem, seed: int) -> bool:
    """Checks that the whole finds the least cost and an order that costs it; False where nothing can be a stop."""
    floor = floor_of(problem)
    if floor is None:
        return False
    cost, items = unguided(floor)
    assert cost == least_cost(problem), seed
    if cost is not None:
        priced = price(problem, tuple(floor.lot_of[item] for item in items))
        assert priced is not None
        assert priced.cost == cost, seed
    return True


def unguided(floor: Floor) -> tuple[int | None, tuple[int, ...]]:
    """The least cost of the whole and an order that costs it, searched for by the kernel without a guide."""
    board, rules, first = layout.Layout(floor, unit(floor)), Rules(floor), floor.first()
    number = board.put(rules, rough=rules.rough)
    ints, at = board.board.ints, board.at[number]
    ints[[layout.LIMIT, layout.STATE, layout.STOP]] = FAR_32, layout.WELL, 0
    root = kernels.entry(board.board, at, *board.key(*first.state))
    cost = int(kernels.ask(board.board, at, root, FAR_32))
    assert ints[layout.STATE] == layout.WELL
    if cost >= FAR_32:
        return None, ()
    path = []
    e = int(ints[layout.GOAL]) if first.state[0] else -1
    while e >= 0:
        path.insert(0, e)
        e = int(board.board.info[e, layout.PARENT])
    return cost * unit(floor) + first.cost, (*first.made, *board.order(path))


@pytest.mark.parametrize("first", range(10_000, 11_200, 200))
def test_parts_with_their_tables_cost_no_more_than_the_whole(first: int) -> None:
    """At states reached at random, patterns on random disjoint dials whose lots made may stop again and again add up
    to no more than the exact rest cost, and often to more than with tables closed by the cheapest ways round.
    """
    states = sharper = 0
    for seed in range(first, first + 200):
        for known, exact, closed in parts_along(seed):
            assert known <= exact, seed
            states += 1
            sharper += known > closed
    assert states > 150
    assert sharper > 20


@pytest.mark.parametrize("seed", [30_822, 32_797, 37_315, 45_731, 87_757])
def test_parts_once_cost_more_than_the_whole(seed: int) -> None:
    """Where a dial is set more cheaply after leaving lost it, and where the first of lots alike goes against a wish."""
    found = list(parts_along(seed))
    assert found
    assert all(known <= exact for known, exact, _ in found)


def parts_along(seed: int) -> Iterator[tuple[int, int, int]]:
    """At states reached at random: what parts on random disjoint dials add up to, the exact rest cost, and what they
    add up to with closed tables.
    """
    without = frozenset({"choices"})
    problem = rough_problem(seed) if seed % 2 else random_problem(seed, 7, without=without)
    floor = floor_of(problem)
    if floor is None:
        return
    climb, rng = ascent(floor), Random(seed)
    sets = divided(floor, rng)
    joining, board = climb.guided.joining, climb.asking.layout
    sharp = [board.put(joining.pattern(one)) for one in sets]
    wheels = climb.guided.wheels
    closed = [
        board.put(Pattern(floor, [wheels[d] for d in one], one, (), lambda: None, heeded=part(floor, ())))
        for one in sets
    ]
    step = floor.first()
    while step.state[0]:
        exact = rest_cost(floor, step)
        if exact is None:
            break
        yield costs(climb, sharp, step.state), exact, costs(climb, closed, step.state)
        step = rng.choice(list(floor.steps(step.state)))


def costs(climb: Climb, numbers: list[int], state: tuple[int, tuple[int, ...]]) -> int:
    """What these patterns cost in a state of the whole."""
    board, at = climb.asking.layout.board, climb.asking.layout.at
    e = kernels.entry(board, at[climb.guided.number], *climb.asking.layout.key(*state))
    total = 0
    for number in numbers:
        board.ints[[layout.LIMIT, layout.STATE, layout.STOP]] = FAR_32, layout.WELL, 0
        dials = np.array(climb.asking.layout.patterns[number].dials, np.int64)
        mine = kernels.view(board, at[number], e, dials)
        total += int(kernels.ask(board, at[number], mine, FAR_32)) * climb.asking.unit
    return total


def test_stops_are_not_looked_for_where_none_helps() -> None:
    """With costs that keep the triangle inequality no lot is kept back, and states tell of lots left only."""
    table = ((0, 2, 3), (2, 0, 2), (3, 2, 0))
    dial = Dial("bit", 0, table, (1, 1, 1), start=0)
    lots = tuple(Lot(f"lot {n}", 0, {0: Need(1 << n % 3, 1 << n % 3)}) for n in range(6))
    floor = laid_out(Problem(lots, (dial,), ((0,),), ()))
    assert floor is not None
    climb = ascent(floor)
    assert climb.asking.layout.words == 1
    assert climb.guided.number == climb.guided._guided
    assert not list(bits(climb.asking.layout.patterns[climb.guided.number].heeded.revocable))


def test_setting_afresh_is_not_made_cheaper_where_the_table_is_not() -> None:
    """Where a dial keeps its table but nothing can stop, neither moves nor setting it afresh go by way of values; else
    losing it by leaving would be worth more in a pattern than moving it.
    """
    dial = Dial("d", 1, ((0, 1, 2), (2, 0, 4), (9, 2, 0)), (5, 1, 1), 1, keeps=False)
    lots = (Lot("p", 1, {0: Need(4, 4)}), Lot("x", 0, {}), Lot("q", 1, {0: Need(1, 1)}))
    floor = laid_out(Problem(lots, (dial,), ((0, 0), (0, 0)), ((0, 2),)))
    assert floor is not None
    wheel = ease(floor, 0, losing=True, sharp=True)
    assert wheel.stops is None
    assert wheel.cost[:4] == ((0, 1, 2), (2, 0, 4), (9, 2, 0), (5, 1, 1))
