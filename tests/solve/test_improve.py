"""The improver of orders: legal, never dearer, its costs exact, the same for the same seed; often the optimum."""

from __future__ import annotations

from dataclasses import replace
from random import Random

import pytest

from sequencer.solve.compiled import FAR_64, turns
from sequencer.solve.plans.improve import Improver, improve
from sequencer.solve.price import is_order, price
from sequencer.solve.problem import Dial, Lot, Mates, Need, Problem
from tests.solve.exhaustive import cost_of, least_cost
from tests.solve.random_problems import random_problem

Plan = tuple[tuple[int, ...], tuple[int, ...]]
"""An order and its options."""

TURN = ((0, 5), (5, 0))
"""What it costs to move a dial of two values."""


def _legal_plan(problem: Problem, rng: Random) -> Plan | None:
    """Random options and a random order that keeps precedence and mates, if one is found in a hundred tries."""
    for _ in range(100):
        options = tuple(rng.randrange(len(choice)) for choice in problem.choices)
        left = set(problem.made(options))
        order: list[int] = []
        while left:
            ready = [n for n in sorted(left) if not any(b == n and a in left for a, b in problem.precedence)]
            if not ready:
                break
            order.append(rng.choice(ready))
            left.remove(order[-1])
        if not left and price(problem, tuple(order)) is not None:
            return tuple(order), options
    return None


def _case(seed: int, lots: int, without: frozenset[str] = frozenset()) -> tuple[Problem, Plan]:
    """A random problem and a legal plan of it; problems for which none is found are passed over."""
    for number in range(1000 * seed, 1000 * (seed + 1)):
        problem = random_problem(number, lots, without=without)
        plan = _legal_plan(problem, Random(number))
        if plan is not None:
            return problem, plan
    raise AssertionError("a thousand problems and no legal plan")


def current(improver: Improver) -> tuple[tuple[int, ...], tuple[int, ...], int] | None:
    """The order being varied now, its options and what the kernels say it costs; None where they could not lay one
    down.
    """
    line = improver._line
    if line[-1, turns.TOTAL] == FAR_64:
        return None
    return improver._order(line), improver._taken(line), improver._cost(line)


@pytest.mark.parametrize("seed", range(300))
def test_legal_and_never_dearer(seed: int) -> None:
    """Whatever features meet, the improved order makes the lots of its options legally, for what it says, no dearer."""
    problem, (start, options) = _case(seed, 12)
    before = price(problem, start)
    order, options, cost = improve(problem, start, options, effort=400, seed=seed)
    assert before is not None
    assert is_order(problem, order, options)
    assert cost_of(problem, list(order)) == cost <= before.cost


@pytest.mark.parametrize("seed", range(150))
def test_kernels_price_exactly(seed: int) -> None:
    """After every few changes the order being varied is legal, makes the lots of its options and costs what `price`
    says; the best one is the cheapest of all.
    """
    problem, (start, options) = _case(seed, 14)
    improver = Improver(problem, start, options, seed)
    for _ in range(60):
        improver.run(3)
        found = current(improver)
        assert found is not None
        order, options, cost = found
        assert improver.cost <= cost
        priced = price(problem, order)
        assert priced is not None
        assert is_order(problem, order, options)
        assert priced.cost == cost


def _odd_choices(problem: Problem, rng: Random) -> Problem:
    """The problem with choices of odd shapes: lots in several options or none, empty options, one option or more than
    a mask can tell, all lots optional, precedence in a circle through lots never made together.
    """
    count = len(problem.lots)
    free = rng.sample(range(count), count)
    choices: list[tuple[frozenset[int], ...]] = []
    pairs = list(problem.precedence)
    while len(choices) < rng.choice((1, 3, 2 * count)):
        mine = [free.pop() for _ in range(min(len(free), rng.choice((0, 1, 2, 4, count))))]
        options = [
            frozenset(rng.sample(mine, rng.randint(0, len(mine)))) for _ in range(rng.choice((1, 2, 3, 63)))
        ]
        choices.append(tuple(options))
        one, other = sorted(options[0] - options[-1]), sorted(options[-1] - options[0])
        if one and other and rng.random() < 0.5:
            pairs += [(one[0], other[0]), (other[0], one[0])]
    lots = tuple(replace(lot, work=rng.choice((0, 3, 1 << 70))) for lot in problem.lots)
    return replace(problem, lots=lots, precedence=tuple(pairs), choices=tuple(choices))


def test_choices_of_odd_shapes() -> None:
    """Whatever choices look like, what is varied stays legal under its options, and the same in however many calls."""
    switched = emptied = 0
    for seed in range(300):
        rng = Random(seed)
        problem = _odd_choices(random_problem(seed, 9, without=frozenset({"choices"})), rng)
        plan = _legal_plan(problem, rng)
        if plan is None:
            continue
        improver, other = Improver(problem, *plan, seed), Improver(problem, *plan, seed)
        for _ in range(25):
            improver.run(4)
            found = current(improver)
            if found is not None:
                order, options, cost = found
                assert is_order(problem, order, options), seed
                assert cost_of(problem, list(order)) == cost, seed
                assert improver.cost <= cost, seed
                switched += options != plan[1]
                emptied += not order
        other.run(100)
        assert current(other) == current(improver), seed
        assert (other.best, other.options) == (improver.best, improver.options), seed
    assert switched > 1000
    assert emptied > 100


def test_an_option_that_pays_late_is_found() -> None:
    """One lot that can be made anywhere instead of twelve far apart, each with a walk there and back: 60 more work at
    once, 120 less walking along the way.
    """
    chain, far = 240, 12
    lots = [Lot(f"{n}", 0, {0: Need(1 << n % 2, 1 << n % 2)}) for n in range(chain)]
    pairs = [(n, n + 1) for n in range(chain - 1)]
    for k in range(far):
        at = (k + 1) * chain // (far + 1)
        pairs += [(at - 1, len(lots)), (len(lots), at)]
        lots.append(Lot(f"far {k}", 1, {}))
    lots.append(Lot("instead", 0, {}, work=60))
    pairs += [(0, chain + far), (chain + far, chain - 1)]
    choice = (frozenset(range(chain, chain + far)), frozenset({chain + far}))
    problem = Problem(
        tuple(lots), (Dial("d", 0, TURN, (5, 5)),), ((0, 5), (5, 0)), tuple(pairs), choices=(choice,)
    )
    order = sorted(
        range(chain + far), key=lambda n: n if n < chain else (n - chain + 1) * chain // (far + 1) - 0.5
    )
    for seed in range(3):
        _, options, cost = improve(problem, tuple(order), (0,), effort=20_000, seed=seed)
        assert options == (1,)
        assert cost == 5 * chain + 60


def test_often_finds_the_optimum() -> None:
    """From a random order of up to seven lots under any options 600 changes reach the optimum nearly always."""
    found = switched = 0
    for seed in range(100):
        problem, (start, options) = _case(seed, 7)
        _, taken, cost = improve(problem, start, options, effort=600, seed=seed)
        found += cost == least_cost(problem)
        switched += taken != options
    assert found >= 97
    assert switched >= 10


def test_the_option_that_fits_between_is_found() -> None:
    """Between two lots at one value, the option at that value costs two moves less than the one at the other; its work
    counts, too.
    """
    needs = [{0: Need(v, v)} for v in (1, 2, 1, 1)]
    pairs = ((0, 1), (0, 2), (1, 3), (2, 3))
    for work, best in ((9, (0, 2, 3)), (11, (0, 1, 3))):
        lots = tuple(Lot(f"lot {n}", 0, need, work * (n == 2)) for n, need in enumerate(needs))
        choice = (frozenset({1}), frozenset({2}))
        problem = Problem(lots, (Dial("d", 0, TURN, (5, 5)),), ((0,),), pairs, choices=(choice,))
        for options, start in (((0,), (0, 1, 3)), ((1,), (0, 2, 3))):
            order, taken, cost = improve(problem, start, options, effort=200)
            assert order == best
            assert taken == (int(work < 10),)
            assert cost == 5 + min(work, 10)


def test_choices_of_more_options_than_bits_are_left_as_they_are() -> None:
    """With 70 options of one lot each, the improver keeps the one it was given, and varies the rest of the order."""
    lots = tuple(Lot(f"lot {n}", 0, {0: Need(1 << n % 2, 1 << n % 2)}) for n in range(76))
    choice = tuple(frozenset({n}) for n in range(70))
    problem = Problem(lots, (Dial("d", 0, TURN, (5, 5)),), ((0,),), choices=(choice,))
    order, options, cost = improve(problem, (70, 71, 72, 67, 73, 74, 75), (67,), effort=400)
    assert options == (67,)
    assert sorted(order) == [67, *range(70, 76)]
    assert cost == 10


def _passes(parts: int, values: int, seed: int) -> tuple[Problem, tuple[int, ...]]:
    """Parts that each need some values of two dials of one station, always in rising order, and a random order.

    The least cost is that of each pair of values that occurs once: only the first of a pair can be the dearer move.
    """
    rng = Random(seed)
    move = tuple(tuple(0 if a == b else 5 for b in range(values)) for a in range(values))
    dials = (Dial("a", 0, move, (5,) * values), Dial("b", 0, move, (5,) * values))
    lots: list[Lot] = []
    pairs: list[tuple[int, int]] = []
    for _ in range(parts):
        stops = sorted(rng.sample([(a, b) for a in range(values) for b in range(values)], 4))
        for k, (a, b) in enumerate(stops):
            if k:
                pairs.append((len(lots) - 1, len(lots)))
            lots.append(Lot(f"{len(lots)}", 0, {0: Need(1 << a, 1 << a), 1: Need(1 << b, 1 << b)}))
    problem = Problem(tuple(lots), dials, ((0,),), tuple(pairs))
    left = list(range(len(lots)))
    order: list[int] = []
    while left:
        ready = [n for n in left if n % 4 == 0 or n - 1 in order[-4 * parts :]]
        order.append(rng.choice(ready))
        left.remove(order[-1])
    return problem, tuple(order)


@pytest.mark.parametrize("seed", range(3))
def test_many_parts_in_one_pass(seed: int) -> None:
    """For 400 lots that can all be made in one pass over sixteen setups, the pass is found.

    Each of the sixteen pairs of values must be set up once, so one dial at least moves for each: 16 moves and one
    more at first; and a path through all pairs that moves one dial at a time exists, but not in rising order, where
    dial b must go back to its first value when dial a moves: 3 moves more.
    """
    problem, order = _passes(100, 4, seed)
    _, _, cost = improve(problem, order, (), effort=20_000, seed=seed)
    assert cost <= 5 * (16 + 1 + 3)
    assert cost >= 5 * (16 + 1)


def test_same_seed_same_plan() -> None:
    """The same seed gives the same order in however many calls, and seeds differ in the way they go."""
    problem, order = _passes(30, 3, 5)
    whole, parts, other = (
        Improver(problem, order, (), 7),
        Improver(problem, order, (), 7),
        Improver(problem, order, ()),
    )
    whole.run(1300)
    for _ in range(13):
        parts.run(100)
    other.run(1300)
    assert whole.best == parts.best
    assert current(whole) == current(parts)
    assert current(other) != current(whole)


def test_refuses_an_order_that_is_not_legal() -> None:
    """An order against precedence is refused with a ValueError."""
    problem, order = _passes(3, 3, 1)
    with pytest.raises(ValueError, match="not legal"):
        improve(problem, order[::-1], (), effort=1)


def test_stops_when_told() -> None:
    """An improver that is told to stop at once gives the order back as it was, with its cost."""
    problem, order = _passes(10, 3, 2)
    priced = price(problem, order)
    assert priced is not None
    assert improve(problem, order, (), effort=1000, stop=lambda: True) == (order, (), priced.cost)


def test_costs_and_dials_beyond_all_measure() -> None:
    """Costs too large for the kernels and more dials than bits are no fault: the order is still legal, no dearer."""
    cost = 1 << 70
    dials = tuple(Dial(str(d), 0, ((0, cost), (cost, 0)), (cost, cost)) for d in range(70))
    lots = tuple(Lot(str(n), 0, {n % 70: Need(1 << n % 2, 1 << n % 2)}) for n in range(90))
    problem = Problem(lots, dials, ((0,),), (), (Mates(frozenset({68, 69}), frozenset({66})),))
    order = tuple(range(90))
    before = price(problem, order)
    assert before is not None
    better, _, after = improve(problem, order, (), effort=100)
    assert is_order(problem, better, ())
    assert after <= before.cost
