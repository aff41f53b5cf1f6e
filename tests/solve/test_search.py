"""The search engine: exact on small problems with every feature but choices, within its time, the same for the same
seed.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from time import monotonic

import pytest

from sequencer.solve.bounds.astar import Found, Guide
from sequencer.solve.compiled.layout import OPENED
from sequencer.solve.plans.beam import beam
from sequencer.solve.price import is_order
from sequencer.solve.problem import FAR, Dial, Impossible, Limits, Lot, Mates, Need, Outcome, Problem
from sequencer.solve.proof.search import begin, search
from sequencer.solve.transitions.floor import Floor
from tests.benchmarks.shop_jobs import shop_job
from tests.solve.agreement import agreed
from tests.solve.exhaustive import least_cost
from tests.solve.random_problems import random_problem


def run(problem: Problem, seconds: float = 20.0) -> Outcome | Impossible:
    """The engine, left alone."""
    return search(problem, Limits(seconds), lambda news: None, lambda: False)


def scattered(lots: int) -> Problem:
    """Lots that each want one of many values on four dials of two stations, in loose chains."""
    reset = tuple(tuple(0 if a == b else 3 + b % 2 for b in range(7)) for a in range(7))
    dials = tuple(Dial(f"d{d}", d // 2, reset, (*reset[6][:6], 4)) for d in range(4))
    made = tuple(
        Lot(
            f"lot {n}",
            n % 2,
            {
                d: Need(1 << (n * (d + 3) + n // 5) % 7, 1 << (n * (d + 3) + n // 5) % 7)
                for d in (2 * (n % 2), 2 * (n % 2) + 1)
            },
        )
        for n in range(lots)
    )
    pairs = tuple((n, n + 5) for n in range(lots - 5))
    return Problem(made, dials, ((0, 2), (2, 0)), pairs)


@pytest.mark.parametrize("block", range(10))
def test_agrees_with_trying_everything(block: int) -> None:
    """On small problems with every feature but choices mixed the proven cost is the least of all orders, and the
    order costs it.
    """
    for seed in range(60 * block, 60 * (block + 1)):
        problem = random_problem(seed, 6, without=frozenset({"choices"}))
        agreed(problem, run(problem), seed)


def test_the_time_limit_is_kept() -> None:
    """A job too large to prove in the time comes back soon after it, with a plan and a bound below
    its cost.
    """
    run(scattered(60), 5.0)  # what is compiled is loaded, and made where it is not yet
    problem = scattered(400)
    begun = monotonic()
    found = run(problem, 1.0)
    assert monotonic() - begun < 4.0  # the limit, the first dive, and a slow machine
    assert isinstance(found, Outcome)
    assert is_order(problem, found.order, found.options)
    assert 0 < found.bound <= found.cost


def test_stopped_by_hand_the_best_plan_comes_back_marked() -> None:
    """A stop asked for after a few questions ends the search with a valid plan marked as interrupted."""
    asked = 0

    def stop() -> bool:
        nonlocal asked
        asked += 1
        return asked > 5

    problem = scattered(120)
    found = search(problem, Limits(60), lambda news: None, stop)
    assert isinstance(found, Outcome)
    assert found.interrupted
    assert is_order(problem, found.order, found.options)


def test_the_same_problem_gives_the_same_plan() -> None:
    """Two runs that are not cut short by time return the same order."""
    problem = scattered(24)
    one, other = run(problem), run(problem)
    assert isinstance(one, Outcome)
    assert isinstance(other, Outcome)
    assert one.proven
    assert one.order == other.order


@pytest.mark.usefixtures("compiled")
def test_the_seed_is_that_of_the_search() -> None:
    """Other seeds may lead to other plans as long as none is proven; the same seed leads to the same one."""
    problem = shop_job("dense", 50, 1, frozenset({"ranges", "stops"}))
    orders = []
    for seed in (0, 1, 2, 3, 1):
        begun = begin(problem, Limits(60, seed), lambda news: None, lambda: False)
        assert not isinstance(begun, Impossible)
        found = begun.look(1, 30)
        assert isinstance(found, Outcome)
        assert not found.proven
        orders.append(found.order)
    assert len(set(orders)) > 1
    assert orders[1] == orders[4]


def test_a_circle_is_named() -> None:
    """Lots that must come before each other are named in the answer."""
    lots = tuple(Lot(name, 0, {}) for name in ("rip", "plane", "bevel"))
    found = run(Problem(lots, (), ((0,),), ((0, 1), (1, 2), (2, 1))))
    assert isinstance(found, Impossible)
    assert set(found.lots) == {1, 2}
    assert "plane" in found.why
    assert "bevel" in found.why


def test_a_setting_that_nothing_reaches_is_refused_at_once() -> None:
    """A lot asks for no value of its dial, so nothing can be moved to: no plan exists, mates or no mates, and that is
    shown, not waited for.
    """
    dial = Dial("d", 0, ((0, 1), (1, 0)), (1, 1))
    lots = (Lot("a", 0, {0: Need(0, 0)}), Lot("b", 0, {0: Need(2, 2)}))
    for mates in ((), (Mates(frozenset({0, 1}), frozenset({0})),)):
        problem = Problem(lots, (dial,), ((0,),), mates=mates)
        assert least_cost(problem) is None
        found = run(problem)
        assert isinstance(found, Impossible)
        assert found.why == "no order lets every setting be moved to where it is asked for"


def test_a_problem_with_choices_is_not_taken() -> None:
    """Choices are for branch and bound to take; an order found as if all options were made would be wrong."""
    lots = tuple(Lot(name, 0, {}) for name in ("rip", "mitre"))
    choices = ((frozenset({0}), frozenset({1})),)
    with pytest.raises(ValueError, match="choices"):
        run(Problem(lots, (), ((0,),), choices=choices))


@pytest.mark.usefixtures("compiled")
def test_looks_go_on_where_the_last_one_stopped(monkeypatch: pytest.MonkeyPatch) -> None:
    """Round by round the bound only grows and the plan only gets better, until both meet where the search left alone
    ends; a ceiling that comes down in between is heeded.
    """
    monkeypatch.setattr("sequencer.solve.proof.climb.TRIAL", 20)  # small rounds, so that there are some
    problem = shop_job("routed", 50, 3)
    proven = run(problem)
    assert isinstance(proven, Outcome)
    assert proven.proven
    looked = begin(problem, Limits(60), lambda news: None, lambda: False)
    lowered = begin(problem, Limits(60), lambda news: None, lambda: False)
    assert not isinstance(looked, Impossible)
    assert not isinstance(lowered, Impossible)
    bound, cost, rounds = 0, FAR, 0
    while bound < cost:
        rounds += 1
        found = looked.look(rounds, 30)
        assert isinstance(found, Outcome)
        assert bound <= found.bound <= proven.cost <= found.cost <= cost
        bound, cost = found.bound, found.cost
        ceiling = proven.cost - 3 if rounds > 1 else FAR
        below = lowered.look(rounds, 30, ceiling)
        assert isinstance(below, Outcome)
        assert below.bound <= proven.cost
        assert rounds < 20
    assert rounds > 1  # else this test would show nothing
    assert below.bound >= proven.cost - 3


@pytest.mark.usefixtures("compiled")
def test_a_look_repeated_is_no_work() -> None:
    """Rounds are counted from the beginning: asked for the rounds there have been, the engine answers at once."""
    begun = begin(shop_job("routed", 80, 2), Limits(60), lambda news: None, lambda: False)
    assert not isinstance(begun, Impossible)
    first = begun.look(1, 30)
    assert begun.climb is not None
    opened = int(begun.climb.asking.layout.board.ints[OPENED])
    again = begun.look(1, 30)
    assert int(begun.climb.asking.layout.board.ints[OPENED]) == opened
    assert isinstance(first, Outcome)
    assert isinstance(again, Outcome)
    assert (first.order, first.bound) == (again.order, again.bound)


def test_a_first_plan_of_many_lots_hears_time_and_hand(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where quick rules find nothing, what comes after them is not gone through to its end."""
    ticks = 0

    def counted(floor: Floor, guide: Guide, width: int, tick: Callable[[], None], *more: int) -> Found | None:
        def heard() -> None:
            nonlocal ticks
            ticks += 1
            tick()

        return beam(floor, guide, width, heard, *more)

    monkeypatch.setattr("sequencer.solve.proof.search.quick_plan", lambda *asked: None)
    monkeypatch.setattr("sequencer.solve.proof.search.beam", counted)
    problem = scattered(300)
    for seconds, stop, most in ((60.0, True, 1), (0.0, False, 1)):
        ticks = 0
        monkeypatch.setattr("sequencer.solve.proof.search.GRACE", 0.0)
        with suppress(TimeoutError):
            search(problem, Limits(seconds), lambda news: None, lambda stop=stop: stop)
        assert ticks <= most
    monkeypatch.setattr("sequencer.solve.proof.search.GRACE", 60.0)  # there is a plan where it is given time
    found = search(problem, Limits(0.0), lambda news: None, lambda: False)
    assert isinstance(found, Outcome)
    assert ticks > 300
