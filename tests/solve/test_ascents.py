"""An ascent with a scout beside it, or alone: as exact, and the same whichever thread is quicker."""

from __future__ import annotations

import time
from threading import active_count

import pytest

from sequencer.solve.bounds.astar import Found
from sequencer.solve.clock import Clock, Stopped
from sequencer.solve.compiled import layout
from sequencer.solve.plans.changes import CHANGE
from sequencer.solve.plans.improve import Improver
from sequencer.solve.plans.quick import dived
from sequencer.solve.price import is_order, price
from sequencer.solve.problem import Problem
from sequencer.solve.proof import ascents, guided, scout
from sequencer.solve.proof import climb as climbs
from sequencer.solve.proof.ascents import alone, ascend
from sequencer.solve.proof.climb import AT_ONCE, Climb
from sequencer.solve.proof.scout import Scout, trials_of
from sequencer.solve.proof.search import Run
from sequencer.solve.proof.trials import Trials
from sequencer.solve.transitions.floor import Floor
from tests.benchmarks.shop_jobs import shop_job
from tests.solve.exhaustive import least_cost
from tests.solve.random_problems import random_problem
from tests.solve.test_climb import ascent


@pytest.fixture(autouse=True)
def at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two from the first round on, with little effort and memory."""
    monkeypatch.setattr(ascents, "ALONE", 0)
    monkeypatch.setattr(climbs, "TRIAL", 20)
    monkeypatch.setattr(climbs, "MOVES", 50)
    monkeypatch.setattr(scout, "ENOUGH", AT_ONCE)  # so that plans are loosened soon
    monkeypatch.setattr(layout, "BYTES", 60_000_000)


def many_lots(monkeypatch: pytest.MonkeyPatch, many: int) -> None:
    """Beyond so many lots no trees are looked for."""
    for module in (ascents, guided, scout):
        monkeypatch.setattr(module, "MANY_LOTS", many)


def foot(problem: Problem) -> Climb | None:
    """The ascent at its foot with a first plan; None where there is no plan or nothing left to prove."""
    climb = ascent(problem)
    if climb is None:
        return None
    run = Run(climb.floor, Clock(60, lambda: False), lambda news: None)
    run._start()
    if run.best is None or climb.bound >= run.best.cost - climb.root.cost:
        return None
    return Climb(
        climb.floor, [*run.wheels], lambda: None, lambda _: None, run.best.cost - climb.root.cost, run.best
    )


def order_of(floor: Floor, climb: Climb) -> tuple[int, ...]:
    """The lots of the plan."""
    assert climb.best is not None
    return tuple(floor.lot_of[item] for item in climb.best.items)


@pytest.mark.parametrize("many", [500, 0])
@pytest.mark.parametrize("block", range(2))
def test_the_least_cost_of_all_orders_is_proven(
    block: int, many: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """On random problems with every feature but choices, with trees looked for and without."""
    many_lots(monkeypatch, many)
    tried = 0
    for seed in range(40_000 + 300 * block, 40_000 + 300 * (block + 1)):
        problem = random_problem(seed, 7, without=frozenset({"choices"}))
        climb = foot(problem)
        if climb is None:
            continue
        ascend(climb, climb.rounds(), lambda: None)
        order = order_of(climb.floor, climb)
        priced = price(problem, order)
        assert is_order(problem, order, ()), seed
        assert priced is not None
        assert climb.best is not None
        assert priced.cost == climb.best.cost == climb.root.cost + climb.bound == least_cost(problem), seed
        tried += 1
    assert tried > 30


@pytest.mark.parametrize("many", [500, 0])
@pytest.mark.parametrize("slow", [Climb, Scout])
@pytest.mark.parametrize("seed", [2, 4, 11])
def test_which_thread_is_quicker_does_not_matter(
    seed: int, slow: type, many: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With one half held up at every look at the clock, the plan is the same."""
    many_lots(monkeypatch, many)
    monkeypatch.setattr(climbs, "TRIAL", 500)
    monkeypatch.setattr(layout, "BYTES", 400_000_000)
    problem = shop_job("routed", 50, seed, frozenset({"ranges", "stops"}))
    at_ease = foot(problem)
    assert at_ease is not None
    ascend(at_ease, at_ease.rounds(), lambda: None)
    tick, whole = ascents._Half._tick, ascents._Half.run

    def held_up(half: ascents._Half) -> None:
        if isinstance(half.goer, slow):
            time.sleep(0.001)
        tick(half)

    def late(half: ascents._Half) -> None:
        if isinstance(half.goer, slow):
            time.sleep(0.5)
        whole(half)

    for name, hindered in (("_tick", held_up), ("run", late)):
        with monkeypatch.context() as patch:
            patch.setattr(ascents._Half, name, hindered)
            again = foot(problem)
            assert again is not None
            ascend(again, again.rounds(), lambda: None)
        assert order_of(at_ease.floor, at_ease) == order_of(again.floor, again)
        assert at_ease.bound == again.bound == at_ease.limit


def test_of_two_that_end_in_one_round_the_one_with_less_work_counts(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Both find a plan that the bound proves, not the same one: which thread is late makes no difference."""
    monkeypatch.setattr(climbs, "TRIAL", 100)
    monkeypatch.setattr(layout, "BYTES", 200_000_000)
    whole = ascents._Half.run
    orders, ended = [], []
    for slow in (None, Climb, Scout):

        def late(half: ascents._Half, slow: type | None = slow) -> None:
            if slow is not None and isinstance(half.goer, slow):
                time.sleep(0.25)
            whole(half)
            ended.append((slow, type(half.goer), half.ended))

        monkeypatch.setattr(ascents._Half, "run", late)
        climb = foot(shop_job("routed", 16, 8, frozenset({"mates", "wishes"})))
        assert climb is not None
        ascend(climb, climb.rounds(), lambda: None)
        orders.append(order_of(climb.floor, climb))
    assert (Scout, Climb) in {(slow, goer) for slow, goer, work in ended if work is not None}
    assert (Climb, Scout) in {(slow, goer) for slow, goer, work in ended if work is not None}
    assert orders[0] == orders[1] == orders[2]


def test_nobody_waits_for_trials_once_the_ascent_has_ended(monkeypatch: pytest.MonkeyPatch) -> None:
    """They bring the search to no end, however little they do; plans may."""
    waited: list[bool] = []

    def endless(trials: Trials, work: int, room: int, limit: int) -> None:
        until = time.monotonic() + 20
        while time.monotonic() < until:
            waited.append(False)
            trials._tick()
            time.sleep(0.001)
        waited.append(True)

    monkeypatch.setattr(climbs, "TRIAL", 5_000)
    monkeypatch.setattr(layout, "BYTES", 400_000_000)
    monkeypatch.setattr(Trials, "run", endless)
    monkeypatch.setattr(scout, "PLANS", 0)  # so that the scout has done less than the ascent
    climb = foot(shop_job("routed", 80, 3, frozenset({"mates"})))
    assert climb is not None
    ascend(climb, climb.rounds(), lambda: None)
    assert climb.closed
    assert waited
    assert not any(waited)


def test_without_memory_for_a_scout_the_ascent_goes_on(monkeypatch: pytest.MonkeyPatch) -> None:
    """What is proven is the same."""

    def full(climb: Climb) -> Scout:
        raise MemoryError

    monkeypatch.setattr(ascents, "Scout", full)
    climb = foot(shop_job("routed", 50, 2, frozenset({"ranges", "stops"})))
    assert climb is not None
    ascend(climb, climb.rounds(), lambda: None)
    assert climb.closed


def test_a_full_memory_leaves_better_plans(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the ascent has no memory left, its bound stands and the scout goes on with plans until it is stopped."""
    monkeypatch.setattr(layout, "BYTES", 4_000_000)
    climb = foot(shop_job("routed", 120, 1, frozenset({"mates"})))
    assert climb is not None
    first = climb.limit
    full = []

    class Noted(ascents._Half):
        def run(self) -> None:
            super().run()
            full.append(self.full)

    monkeypatch.setattr(ascents, "_Half", Noted)
    until = time.monotonic() + 60  # so slow a machine may be; mostly it takes two seconds

    def tick() -> None:
        if (any(full) and climb.limit < first) or time.monotonic() > until:
            raise Stopped

    with pytest.raises(Stopped):
        ascend(climb, climb.rounds(), tick)
    assert any(full)
    assert 0 < climb.bound < climb.limit < first


def test_a_stop_reaches_both() -> None:
    """The clock is heard by the caller, who gets the best so far soon after; neither goes on."""
    threads = active_count()
    climb = foot(shop_job("routed", 120, 1, frozenset({"mates"})))
    assert climb is not None
    until = time.monotonic() + 1

    def tick() -> None:
        if time.monotonic() > until:
            raise Stopped

    with pytest.raises(Stopped):
        ascend(climb, climb.rounds(), tick)
    assert time.monotonic() < until + 2
    assert active_count() == threads
    assert climb.best is not None
    assert climb.bound < climb.limit


@pytest.mark.parametrize("broken", [Climb, Scout])
def test_a_fault_in_either_reaches_the_caller(broken: type, monkeypatch: pytest.MonkeyPatch) -> None:
    """It is not lost in a thread, and the other half does not go on."""
    tick = ascents._Half._tick

    def faulty(half: ascents._Half) -> None:
        if isinstance(half.goer, broken):
            raise ZeroDivisionError
        tick(half)

    monkeypatch.setattr(ascents._Half, "_tick", faulty)
    climb = foot(shop_job("routed", 60, 1))
    assert climb is not None
    with pytest.raises(ZeroDivisionError):
        ascend(climb, climb.rounds(), lambda: None)


def test_alone_the_least_cost_is_proven_too(monkeypatch: pytest.MonkeyPatch) -> None:
    """On random problems, with trees looked for between many small rounds; they are gone by from the second on."""
    monkeypatch.setattr(climbs, "TRIAL", 1)
    monkeypatch.setattr(guided, "SEARCH", 2)
    tried = gone_by = 0
    for seed in range(43_000, 43_300):
        problem = random_problem(seed, 7, without=frozenset({"choices"}))
        climb = foot(problem)
        if climb is None:
            continue
        rounds = alone(climb, climb.rounds())
        next(rounds)
        assert climb.guided.given is None
        for _ in rounds:
            gone_by += climb.guided.given is not None
        assert climb.best is not None
        assert climb.best.cost == climb.root.cost + climb.bound == least_cost(problem), seed
        tried += 1
    assert tried > 30
    assert gone_by > 30


def test_alone_where_memory_is_full_trees_are_looked_for_no_more(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without memory for trials the rounds go on as they are, to the same proof."""
    monkeypatch.setattr(layout, "BYTES", 300_000_000)
    problem = shop_job("routed", 60, 2, frozenset({"ranges"}))
    proofs = []
    for full in (False, True):
        climb = foot(problem)
        assert climb is not None
        if full:
            monkeypatch.setattr(ascents.Trials, "run", _full)
        for _ in alone(climb, climb.rounds()):
            pass
        assert (climb.guided.given is None) == full
        proofs.append((climb.best and climb.best.cost, climb.bound))
    assert proofs[0] == proofs[1]


def _full(*_: object) -> None:
    raise MemoryError


def test_a_good_plan_comes_before_the_second_round(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where one round does not end it, so many changes for each lot are tried before more bounds are looked for."""
    monkeypatch.setattr(ascents, "ALONE", 2)
    climb = foot(shop_job("routed", 60, 2))
    assert climb is not None
    tried: list[int] = []

    def lift() -> None:
        tried.append(climb._improver.moves if climb._improver else 0)
        if len(tried) == 2:
            raise Stopped

    monkeypatch.setattr(climb, "lift", lift)
    with pytest.raises(Stopped):
        ascend(climb, climb.rounds(), lambda: None)
    first, second = tried
    assert second - first >= ascents.THOROUGH * climb.floor.count > first


@pytest.mark.parametrize("many", [500, 0])
def test_a_scout_begins_anew_with_plans(many: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """After so many changes it goes another way down, from the first plan and those of dives from both ends in turn,
    with very many lots from the first plan only; the work done counts on, and the best plan of all the ways is kept.
    """
    many_lots(monkeypatch, many)
    climb = foot(shop_job("routed", 60, 2))
    assert climb is not None
    front, back = climb.ends.front, climb.ends.back
    assert back is not None
    dives = [dived(end.floor.problem) for end in (front, back)]
    starts = [
        order_of(climb.floor, climb),
        *(dive.order[:: -1 if k else 1] for k, dive in enumerate(dives) if dive),
    ]
    assert len(set(starts)) == 3
    assert all(is_order(climb.floor.problem, order, ()) for order in starts)
    begun: list[tuple[tuple[int, ...], int]] = []
    found: list[int] = []

    class Told(Improver):
        def __init__(
            self, problem: Problem, order: tuple[int, ...], options: tuple[int, ...], seed: int
        ) -> None:
            begun.append((order, seed))
            super().__init__(problem, order, options, seed)

        def run(self, moves: int) -> None:
            super().run(moves)
            found.append(self.cost)

    monkeypatch.setattr(scout, "Improver", Told)
    goer = Scout(climb)
    goer.improve(CHANGE * 4 * AT_ONCE)
    assert goer.work == CHANGE * 4 * AT_ONCE
    assert begun == [(starts[k % 3 if many else 0], climb.seed + 1 + k) for k in range(4)]
    assert len(set(found)) > 1
    assert goer.limit == min(found) - climb.root.cost


def test_a_plan_of_the_scout_is_told_of_while_the_round_goes_on(monkeypatch: pytest.MonkeyPatch) -> None:
    """News tell what the best plan of both costs, though the ascent takes it over only after the round."""
    climb = foot(shop_job("routed", 60, 2))
    assert climb is not None
    assert climb.best is not None
    better = Found(climb.best.cost - 1, climb.best.items)
    told: list[int | None] = []
    run = Run(climb.floor, Clock(60, lambda: False), lambda news: told.append(news.best))
    run.climb, run.best = climb, climb.best

    noted: list[int] = []

    def tell(_: Climb) -> None:
        run.last_news = -1.0
        run._heard(climb)

    def lift(_: int) -> None:
        until = time.monotonic() + 20
        while better.cost not in told and time.monotonic() < until:
            time.sleep(0.01)
        noted.append(run.best.cost if run.best else 0)
        climb.asking.bound = climb.limit

    def found(scout: Scout, _: int) -> None:
        scout.best, scout.limit = better, scout.limit - 1

    climb.told = tell
    monkeypatch.setattr(climb, "lift", lift)
    monkeypatch.setattr(Scout, "round", found)
    ascend(climb, climb.rounds(), lambda: None)
    assert better.cost in told
    assert noted == [better.cost + 1]
    assert run.best.cost == better.cost


def test_a_scout_loosens_the_best_plan() -> None:
    """With the work it is allowed, and what one search takes too much is taken off later on; the plan is legal and
    costs what is said.
    """
    problem = shop_job("routed", 120, 1, frozenset({"ranges", "tables", "forgets", "mates"}))
    climb = foot(problem)
    assert climb is not None
    climb.lift()
    goer = Scout(climb)
    goer.improve(CHANGE * 20_000)
    goer._trials = trials_of(climb)
    goer._trials.run(20_000, 5_000, climb.limit)
    had, done = goer.best.cost, goer.work
    goer.loosen(1)
    first = goer.work - done
    assert first > 1
    goer.loosen(first - 2)
    assert goer.work - done == first
    goer.loosen(600_000)
    assert goer.work - done >= first + 600_000 - 1
    assert goer.best.cost < had
    assert goer.limit == goer.best.cost - climb.root.cost
    order = tuple(climb.floor.lot_of[item] for item in goer.best.items)
    priced = price(problem, order)
    assert is_order(problem, order, ())
    assert priced is not None
    assert priced.cost == goer.best.cost
