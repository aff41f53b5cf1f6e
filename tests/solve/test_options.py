"""Choices by branch and bound: exact with every feature mixed, honest when stopped or short of time."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import nullcontext
from dataclasses import replace
from itertools import count
from random import Random
from threading import Event, Lock, Thread, active_count, current_thread
from time import monotonic, sleep
from typing import Any

import pytest

from sequencer.solve.choices.bettering import Bettering
from sequencer.solve.choices.options import Node, _Branching, branch_and_bound
from sequencer.solve.choices.outline import restricted
from sequencer.solve.choices.reordering import Reordering
from sequencer.solve.clock import Clock
from sequencer.solve.price import is_order, price
from sequencer.solve.problem import (
    Dial,
    Impossible,
    Limits,
    Lot,
    Mates,
    Need,
    Outcome,
    Problem,
    Progress,
    Wish,
)
from sequencer.solve.proof.search import QUICK, Run, begin
from sequencer.solve.relation import relation_of
from sequencer.solve.transitions.floor import Floor
from tests.benchmarks.shop_jobs import shop_job
from tests.solve.agreement import agreed
from tests.solve.exhaustive import least_cost
from tests.solve.random_problems import random_problem


def run(problem: Problem, seconds: float = 20.0) -> Outcome | Impossible:
    """Branch and bound over the search, left alone."""
    return branch_and_bound(problem, Limits(seconds), lambda news: None, lambda: False, begin)


def small() -> Problem:
    """Lots 0 and 3 always, 1 or 2 by choice; 2 is cheaper to make but its wish is broken."""
    return Problem(
        lots=(Lot("a", 0, {}), Lot("b", 0, {}, work=5), Lot("c", 0, {}, work=2), Lot("d", 0, {})),
        dials=(),
        walk=((0,),),
        precedence=((0, 1), (1, 3), (2, 0)),
        mates=(Mates(frozenset({1}), frozenset()),),
        choices=((frozenset({1}), frozenset({2})),),
        wishes=(Wish(0, 2, 1),),
    )


def corners(parts: int, seed: int) -> Problem:
    """Parts whose corners can be cut square first or bevel first, each between two other cuts of its part."""
    rng = Random(seed)
    reset = tuple(tuple(0 if a == b else 3 + b % 3 for b in range(5)) for a in range(5))
    dials = tuple(Dial(f"d{d}", d // 2, reset, (4,) * 5) for d in range(4))
    lots: list[Lot] = []
    pairs: list[tuple[int, int]] = []
    choices = []

    def add(station: int, values: tuple[int, int]) -> int:
        needs = {2 * station + k: Need(1 << v, 1 << v) for k, v in enumerate(values)}
        lots.append(Lot(f"lot {len(lots)}", station, needs))
        return len(lots) - 1

    for _ in range(parts):
        first = add(rng.randrange(2), (rng.randrange(5), rng.randrange(5)))
        last = add(rng.randrange(2), (rng.randrange(5), rng.randrange(5)))
        square, bevel = (rng.randrange(5), 0), (rng.randrange(5), rng.randrange(1, 5))
        options = []
        other = (rng.randrange(5), bevel[1])  # laid the other way round
        for order in ((square, bevel), (other, square)):
            made = [add(0, values) for values in order]
            pairs += [(first, made[0]), (made[0], made[1]), (made[1], last)]
            options.append(frozenset(made))
        choices.append(tuple(options))
    return Problem(tuple(lots), dials, ((0, 2), (2, 0)), tuple(pairs), choices=tuple(choices))


def test_restricted_keeps_what_is_left() -> None:
    """Taking the second option leaves lots 0, 2 and 3, with what binds them renumbered."""
    part, lots = restricted(small(), (0b10,))
    assert lots == (0, 2, 3)
    assert part.precedence == ((1, 0),)
    assert part.mates == ()
    assert part.choices == ()
    assert part.wishes == (Wish(0, 1, 1),)


def test_the_cheapest_option_is_taken() -> None:
    """Option one costs 5 of work; option two 2 of work and 1 for the broken wish: 3, proven."""
    whole = small()
    found = run(whole)
    assert isinstance(found, Outcome)
    assert (found.cost, found.bound, found.options) == (3, 3, (1,))
    assert is_order(whole, found.order, found.options)
    priced = price(whole, found.order)
    assert priced is not None
    assert priced.cost == 3


def test_an_option_that_nothing_reaches_leaves_the_other_proven() -> None:
    """One way asks for no value of its dial; the other costs 9 of work and two moves of 1, proven with time to
    spare.
    """
    dial = Dial("d", 0, ((0, 1), (1, 0)), (1, 1))
    wanted = (Need(0, 0), Need(2, 2), Need(1, 1), Need(2, 2))
    lots = tuple(Lot(f"{n}", 0, {0: need}, 9 if n == 1 else 0) for n, need in enumerate(wanted))
    problem = Problem(lots, (dial,), ((0,),), ((2, 3),), choices=((frozenset({0}), frozenset({1})),))
    found = run(problem, 60)
    assert isinstance(found, Outcome)
    assert (found.cost, found.bound, found.options) == (11, 11, (1,))
    assert found.seconds < 30


@pytest.mark.parametrize("block", range(10))
def test_agrees_with_trying_everything(block: int) -> None:
    """On small problems with choices and every other feature mixed, the proven cost is the least of all orders
    under all options, the order costs it, and the reasons come to no more.
    """
    for seed in range(100 * block, 100 * (block + 1)):
        problem = random_problem(seed, 6)
        if not problem.choices:
            continue
        found = agreed(problem, run(problem), seed)
        if found is not None:
            assert sum(reason.cost for reason in found.reasons) <= found.bound, seed


@pytest.mark.parametrize("block", range(4))
def test_orders_improved_on_the_way_change_no_proof(block: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """With outlines sketched and plans improved at any size, not only in large problems, the proven cost is still
    the least of all orders under all options.
    """
    monkeypatch.setattr("sequencer.solve.choices.options.FEW", -1)
    for seed in range(20_000 + 40 * block, 20_000 + 40 * (block + 1)):
        problem = random_problem(seed, 6)
        if not problem.choices:
            continue
        agreed(problem, run(problem), seed)


@pytest.mark.usefixtures("compiled")
@pytest.mark.parametrize("kept", [0, 1, 6])
def test_outlines_gone_on_with_change_no_proof(kept: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Looked at in rounds of next to no effort, and with none, few or many outlines kept half solved, the proven cost
    is the least of all orders under all options.
    """
    monkeypatch.setattr("sequencer.solve.choices.options.KEPT", kept)
    monkeypatch.setattr("sequencer.solve.choices.options.KEPT_LONG", kept // 2)
    monkeypatch.setattr("sequencer.solve.proof.search.SMALL", -1)
    monkeypatch.setattr("sequencer.solve.proof.climb.TRIAL", 2)
    rounds = 0

    class Counted(Run):
        def look(self, *asked: Any) -> Outcome | Impossible:
            nonlocal rounds
            rounds = max(rounds, asked[0])
            return super().look(*asked)

    monkeypatch.setattr("sequencer.solve.proof.search.Run", Counted)
    for seed in range(21_000, 21_160):
        problem = random_problem(seed, 7)
        if not problem.choices:
            continue
        agreed(problem, run(problem), seed)
    assert rounds > 1  # else nothing was gone on with


@pytest.mark.usefixtures("compiled")
def test_the_seed_is_that_of_the_search() -> None:
    """With choices, too, other seeds may lead to other orders, all of the same proven cost; the same seed leads to the
    same one.
    """
    problem = shop_job("routed", 40, 1, frozenset({"choices", "wishes"}))
    found = [
        branch_and_bound(problem, Limits(60, seed), lambda news: None, lambda: False, begin)
        for seed in (0, 1, 2, 3, 1)
    ]
    outcomes = [outcome for outcome in found if isinstance(outcome, Outcome) and outcome.proven]
    assert len(outcomes) == 5
    assert len({outcome.cost for outcome in outcomes}) == 1
    assert len({outcome.order for outcome in outcomes}) > 1
    assert outcomes[1].order == outcomes[4].order


@pytest.mark.usefixtures("compiled")
@pytest.mark.parametrize("reordered", [False, True])
def test_the_course_does_not_depend_on_clock_or_threads(
    reordered: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Given three times as long, or with every second or every other look held up, the same is taken in, one after the
    other, and the same plan is proven; also where plans are reordered from the first look on.
    """
    reorderings: list[int] = []
    run_one = Reordering.run

    def told(reordering: Reordering, work: int, ended: Callable[[], bool]) -> None:
        reorderings.append(work)
        run_one(reordering, work, ended)

    monkeypatch.setattr(Reordering, "run", told)
    if reordered:
        monkeypatch.setattr("sequencer.solve.choices.bettering.LONG", 1)
        monkeypatch.setattr("sequencer.solve.choices.bettering.ENOUGH", 1_000)
    problem = shop_job("routed", 60, 3, frozenset({"ranges", "stops", "choices"}), choices=4)
    courses = []
    handed = 0
    for seconds, late in ((60, None), (180, None), (60, 0), (60, 1)):
        taken: list[tuple[int, int, int, int]] = []
        calls = count()

        class Told(_Branching):
            def _take(self, node: Node, found: Outcome | Impossible | None) -> None:
                assert isinstance(found, Outcome)
                taken.append((node.number, node.looked, found.cost, found.bound))  # noqa: B023
                super()._take(node, found)

        class Late(Run):
            def look(self, *asked: Any) -> Outcome | Impossible:
                sleep(0.1 * (next(calls) % 2 == late))  # noqa: B023 - called in this turn only
                return super().look(*asked)

        def engine(part: Problem, limits: Limits, *rest: Any) -> Run | Impossible:
            nonlocal handed
            handed += bool(rest[2].course.forest)
            relation = relation_of(part)
            assert not isinstance(relation, Impossible)
            return Late(Floor(part, relation), Clock(limits.seconds, rest[1]), rest[0], known=rest[2])

        found = Told(problem, Limits(seconds), lambda news: None, lambda: False, engine).run()
        assert isinstance(found, Outcome)
        assert found.proven
        courses.append((taken, found.order, found.options))
    assert len(courses[0][0]) > 2
    assert courses[1:] == courses[:1] * 3
    assert handed  # the trees of one outline were gone by in another
    assert bool(reorderings) == reordered


@pytest.mark.usefixtures("compiled")
def test_two_are_looked_at_at_a_time(monkeypatch: pytest.MonkeyPatch) -> None:
    """In a larger problem, or where plain Python is not enough for an outline; else one."""
    monkeypatch.setattr(Bettering, "wanted", lambda bettering, best: False)
    for few, quick, most in ((-1, QUICK, 2), (1000, QUICK, 1), (1000, 0, 2)):
        monkeypatch.setattr("sequencer.solve.choices.options.FEW", few)
        monkeypatch.setattr("sequencer.solve.proof.search.QUICK", quick)
        at_once: list[int] = []
        within = [0]
        lock = Lock()

        class Counted(Run):
            def look(self, *asked: Any) -> Outcome | Impossible:
                with lock:  # noqa: B023 - called in this turn only
                    within[0] += 1  # noqa: B023
                sleep(0.02)
                at_once.append(within[0])  # noqa: B023
                found = super().look(*asked)
                with lock:  # noqa: B023
                    within[0] -= 1  # noqa: B023
                return found

        monkeypatch.setattr("sequencer.solve.proof.search.Run", Counted)
        found = run(corners(4, 3))
        assert isinstance(found, Outcome)
        assert found.proven
        assert max(at_once) == most


@pytest.mark.parametrize("failing", [0, 1, 2])
@pytest.mark.parametrize("raised", [MemoryError, ZeroDivisionError])
def test_what_fails_in_a_look_reaches_the_caller(
    failing: int, raised: type[Exception], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whichever look fails, its exception is raised to the caller soon, and no thread is left behind."""
    monkeypatch.setattr("sequencer.solve.choices.options.FEW", -1)
    monkeypatch.setattr(Bettering, "wanted", lambda bettering, best: False)
    calls = count()

    class Failing(Run):
        def look(self, *asked: Any) -> Outcome | Impossible:
            call = next(calls)
            if call == failing:
                raise raised
            while call and not self.clock.hand():  # beside the one that fails
                sleep(0.01)
            return super().look(*asked)

    monkeypatch.setattr("sequencer.solve.proof.search.Run", Failing)
    before, begun = active_count(), monotonic()
    with pytest.raises(raised):
        run(corners(4, 3), 60.0)
    assert active_count() == before
    assert monotonic() - begun < 20.0


@pytest.mark.parametrize("interrupted", [False, True])
def test_a_stop_is_heard_while_two_looks_are_under_way(
    interrupted: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """`stop` and news belong to the caller's thread; looks that would go on for long end soon once it says yes, or
    raises.
    """
    monkeypatch.setattr("sequencer.solve.choices.options.FEW", -1)
    threads: set[Thread] = set()
    waited: list[float] = []
    both = Event()
    calls = count()

    class Slow(Run):
        def look(self, *asked: Any) -> Outcome | Impossible:
            if not next(calls):
                return super().look(*asked)
            waited.append(monotonic())
            if len(waited) == 2:
                both.set()
            while not self.clock.hand():
                sleep(0.01)
            return self.outcome()

    def stop() -> bool:
        threads.add(current_thread())
        if both.is_set() and interrupted:
            raise KeyboardInterrupt
        return both.is_set()

    def progress(news: Progress) -> None:
        threads.add(current_thread())

    monkeypatch.setattr("sequencer.solve.proof.search.Run", Slow)
    monkeypatch.setattr(Bettering, "wanted", lambda bettering, best: False)
    problem = corners(4, 3)
    with pytest.raises(KeyboardInterrupt) if interrupted else nullcontext():
        found = branch_and_bound(problem, Limits(60), progress, stop, begin)
        assert isinstance(found, Outcome)
        assert found.interrupted
        assert is_order(problem, found.order, found.options)
    assert monotonic() - waited[-1] < 2.0  # on a slow machine
    assert threads == {current_thread()}


def test_a_bound_says_what_work_the_options_left_are() -> None:
    """Two options of the same settings, one of nine more work: one look settles both, and the cheaper is taken."""
    lots = tuple(Lot(name, 0, {0: Need(1, 1)}, work) for name, work in (("a", 0), ("dear", 10), ("cheap", 1)))
    dial = Dial("d", 0, ((0,),), (5,))
    problem = Problem(lots, (dial,), ((0,),), choices=((frozenset({1}), frozenset({2})),))
    found = run(problem)
    assert isinstance(found, Outcome)
    assert (found.cost, found.bound, found.options) == (6, 6, (1,))


@pytest.mark.usefixtures("compiled")
@pytest.mark.parametrize("seed", [8_395, 8_585])
def test_outlines_without_any_order_are_known_for_it(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where mates allow none, and every option of a choice makes work: told at once, not when time is up."""
    monkeypatch.setattr("sequencer.solve.choices.options.FEW", -1)
    monkeypatch.setattr("sequencer.solve.proof.search.SMALL", -1)
    problem = random_problem(seed, 6)
    begun = monotonic()
    found = run(problem, 60.0)
    assert isinstance(found, Impossible)
    assert "in the time given" not in found.why
    assert monotonic() - begun < 20.0


@pytest.mark.usefixtures("compiled")
def test_an_option_that_is_too_much_work_is_proven_so(monkeypatch: pytest.MonkeyPatch) -> None:
    """One lot or a copy of it with 40 more work, where the mates of some other options allow no order."""
    monkeypatch.setattr("sequencer.solve.choices.options.FEW", -1)
    monkeypatch.setattr("sequencer.solve.proof.search.SMALL", -1)
    problem = random_problem(8_395, 6)
    dearer = replace(problem.lots[1], work=problem.lots[1].work + 40)
    choice = (frozenset({1}), frozenset({len(problem.lots)}))
    problem = replace(problem, lots=(*problem.lots, dearer), choices=(*problem.choices, choice))
    found = run(problem, 60.0)
    assert isinstance(found, Outcome)
    assert found.cost == found.bound == least_cost(problem) == 99


def test_choices_that_do_not_matter_are_not_enumerated() -> None:
    """Twenty choices between two cuts of the same settings (over a million combinations) take one look."""
    reset = ((0, 5), (5, 0))
    lots = [Lot("first", 0, {0: Need(1, 1)})]
    lots += [Lot(f"way {n}", 0, {0: Need(1 << n // 2 % 2, 1 << n // 2 % 2)}) for n in range(40)]
    choices = tuple((frozenset({2 * n + 1}), frozenset({2 * n + 2})) for n in range(20))
    looked = 0

    def engine(part: Problem, *rest: object) -> Run | Impossible:
        nonlocal looked
        looked += 1
        return begin(part, *rest)  # type: ignore[arg-type]

    problem = Problem(tuple(lots), (Dial("d", 0, reset, (5, 5)),), ((0,),), choices=choices)
    found = branch_and_bound(problem, Limits(20), lambda news: None, lambda: False, engine)
    assert isinstance(found, Outcome)
    assert (found.cost, found.bound, looked) == (10, 10, 1)


@pytest.mark.parametrize("stopped_at", [0, 1, 2])
def test_stopped_by_hand_the_bound_still_holds(stopped_at: int) -> None:
    """Interrupted at any node, the outcome is marked, its plan is valid and its bound is one of the whole."""
    problem = corners(4, 3)
    proven = run(problem)
    assert isinstance(proven, Outcome)
    assert proven.proven
    asked = 0

    def engine(part: Problem, *rest: object) -> Run | Impossible:
        nonlocal asked
        asked += 1
        return begin(part, *rest)  # type: ignore[arg-type]

    found = branch_and_bound(problem, Limits(20), lambda news: None, lambda: asked > stopped_at, engine)
    assert isinstance(found, Outcome)
    assert found.interrupted
    assert is_order(problem, found.order, found.options)
    assert found.bound <= proven.cost <= found.cost


def test_the_time_limit_is_kept_and_news_is_honest() -> None:
    """Twelve choices in a second: a valid plan soon after it; bounds told on the way never exceed any plan's
    cost, and plans never get worse.
    """
    problem = corners(12, 2)
    told: list[Progress] = []
    begun = monotonic()
    found = branch_and_bound(problem, Limits(1.0), told.append, lambda: False, begin)
    assert monotonic() - begun < 4.0  # the limit, one look at the choices, and a slow machine
    assert isinstance(found, Outcome)
    assert is_order(problem, found.order, found.options)
    priced = price(problem, found.order)
    assert priced is not None
    assert priced.cost == found.cost
    assert told
    best = [news.best for news in told if news.best is not None]
    assert best == sorted(best, reverse=True)
    assert all(news.bound <= found.cost for news in told)


def test_the_same_problem_gives_the_same_plan() -> None:
    """Two runs that end in a proof return the same order and options."""
    problem = corners(3, 6)
    one, other = run(problem), run(problem)
    assert isinstance(one, Outcome)
    assert isinstance(other, Outcome)
    assert one.proven
    assert (one.order, one.options) == (other.order, other.options)
