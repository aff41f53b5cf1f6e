"""The constraint model: floors as constraints, its time, a stop by hand, and a refusal that ends in time."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace
from functools import partial
from itertools import islice
from time import monotonic, sleep
from typing import Any

import pytest

from sequencer import solve as door
from sequencer.solve import MODEL_LOTS, Reason, _by_turns, _together
from sequencer.solve.choices.options import branch_and_bound
from sequencer.solve.choices.outline import Outline, outline
from sequencer.solve.cpsat import cpsat
from sequencer.solve.cpsat.counts import Counts
from sequencer.solve.cpsat.model import Runs
from sequencer.solve.plans.greedy import quick_plan
from sequencer.solve.price import is_order, price
from sequencer.solve.problem import Dial, Impossible, Limits, Lot, Mates, Need, Outcome, Problem
from sequencer.solve.proof.search import begin, search
from sequencer.solve.refusal import explain
from tests.benchmarks.shop_jobs import FEATURES, shop_job
from tests.solve.exhaustive import combinations, least_cost, orders
from tests.solve.random_problems import random_problem


def plan_of(problem: Problem, seconds: float = 20) -> Outcome:
    """The plan of the search, by branch and bound where there are choices."""
    engine = partial(branch_and_bound, engine=begin) if problem.choices else search
    found = engine(problem, Limits(seconds), lambda _: None, lambda: False)
    assert isinstance(found, Outcome)
    return found


def floors_of(problem: Problem) -> tuple[tuple[tuple[int, ...], int], ...]:
    """The floors that the search finds for the outline of the problem: they hold for the problem too."""
    seen = outline(problem, tuple((1 << len(choice)) - 1 for choice in problem.choices))
    assert isinstance(seen, Outline)
    return plan_of(seen.problem).floors


def any_plan(problem: Problem) -> Outcome | None:
    """The first order there is, mostly a dear one."""
    for options, lots in combinations(problem):
        for order in islice(orders(problem, lots), 30):
            priced = price(problem, tuple(order))
            if priced is not None:
                return Outcome(tuple(order), options, priced.cost, 0)
    return None


@pytest.mark.parametrize("block", range(4))
def test_floors_cut_off_no_cheapest_plan(block: int) -> None:
    """With the floors of the search, but not its bound, the model proves the least cost of all orders,
    starting from a quick plan or from any.
    """
    for seed in range(50 * block, 50 * (block + 1)):
        problem = random_problem(30_000 + seed, 6)
        least = least_cost(problem)
        if least is None:
            continue
        floors = floors_of(problem)
        start = any_plan(problem) if seed % 2 else quick_plan(problem)
        start = start and replace(start, floors=floors)
        found = cpsat(problem, Limits(60), lambda _: None, lambda: False, start)
        assert isinstance(found, Outcome), seed
        assert (found.cost, found.proven) == (least, True), seed
        assert is_order(problem, found.order, found.options), seed


def test_a_floor_is_a_constraint() -> None:
    """A floor above what the dial can cost leaves the model without a plan; nothing is then taken as proven."""
    problem = random_problem(30_001, 6, without=frozenset({"mates", "choices"}))
    plan = plan_of(problem)
    floors = (*plan.floors, ((0,), plan.cost + 1))
    found = cpsat(problem, Limits(60), lambda _: None, lambda: False, replace(plan, bound=0, floors=floors))
    assert isinstance(found, Outcome)
    assert found.order == plan.order
    assert not found.proven


def test_runs_of_a_dial_lost_by_leaving() -> None:
    """Two visits to a station whose clamping is lost by leaving: it is set twice, though its value is one.

    Lots 0, 1, 2 stand in a chain at stations 0, 1, 0; both lots at station 0 want the clamping at its only
    value. Two walks of 2 and two settings of 3: 10.
    """
    clamp = Dial("clamping", 0, ((0,),), (3,), keeps=False)
    lots = tuple(Lot(f"lot {n}", n % 2, {} if n % 2 else {0: Need(1, 1)}) for n in range(3))
    problem = Problem(lots, (clamp,), ((0, 2), (2, 0)), ((0, 1), (1, 2)))
    found = cpsat(problem, Limits(10), lambda _: None, lambda: False)
    assert isinstance(found, Outcome)
    assert (found.cost, found.bound) == (10, 10)


def test_a_start_is_not_lost_before_the_first_visit() -> None:
    """Work elsewhere at first does not lose the start, however cheap that would be: a walk of 2, a move of 12."""
    dial = Dial("clamping", 1, ((0, 12), (12, 0)), (1, 1), start=0, keeps=False)
    lots = (Lot("before", 0, {}), Lot("after", 1, {0: Need(2, 2)}))
    problem = Problem(lots, (dial,), ((0, 2), (2, 0)), ((0, 1),))
    found = cpsat(problem, Limits(10), lambda _: None, lambda: False)
    assert isinstance(found, Outcome)
    assert (found.cost, found.bound) == (14, 14)


@pytest.mark.parametrize("lots", [60, 120])
@pytest.mark.parametrize("seconds", [0.3, 1.5])
def test_the_time_limit_is_kept(lots: int, seconds: float) -> None:
    """With a plan in hand the answer comes within a second of the limit, whatever the model was doing."""
    problem = shop_job("routed", lots, 1, frozenset(FEATURES))
    start = plan_of(problem, 0.5)
    begun = monotonic()
    found = cpsat(problem, Limits(seconds), lambda _: None, lambda: False, start)
    assert monotonic() - begun < seconds + 1.0
    assert isinstance(found, Outcome)
    assert found.bound <= found.cost <= start.cost
    assert not found.interrupted


@pytest.mark.parametrize("asked", [1, 3, 20])
def test_a_stop_by_hand_is_heard_while_the_model_is_built(asked: int) -> None:
    """Asked to stop early on, it comes back within a second with the plan in hand, marked as interrupted."""
    problem = shop_job("routed", 120, 2, frozenset(FEATURES))
    start = plan_of(problem, 0.5)
    questions = 0

    def stop() -> bool:
        nonlocal questions
        questions += 1
        return questions >= asked

    begun = monotonic()
    found = cpsat(problem, Limits(60), lambda _: None, stop, start)
    assert monotonic() - begun < 0.03 * asked + 2.0  # a question every 0.03 s at the earliest
    assert isinstance(found, Outcome)
    assert found.interrupted
    assert is_order(problem, found.order, found.options)


def test_building_may_be_ended_at_any_tick() -> None:
    """The model is built in many small stretches, between which it can be given up."""

    class Enough(Exception):  # noqa: N818 - an order to stop, not an error
        pass

    problem = shop_job("routed", 40, 3, frozenset(FEATURES))
    ticks: list[float] = []
    Runs(problem, None, Counts(), lambda: ticks.append(monotonic()))
    assert len(ticks) > 300
    for last in (1, 50, len(ticks)):
        left = last

        def tick() -> None:
            nonlocal left
            left -= 1
            if left == 0:
                raise Enough

        with pytest.raises(Enough):
            Runs(problem, None, Counts(), tick)


def test_a_refusal_ends_when_time_is_over() -> None:
    """Without time to shrink, all lots are named, and it is said that fewer may do."""
    problem = replace(random_problem(1, 6), precedence=((0, 1), (1, 0)), mates=(), choices=())
    asked: list[Problem] = []

    def feasible(part: Problem) -> bool:
        asked.append(part)
        return least_cost(part) is not None

    hasty = explain(problem, feasible, lambda: True)
    assert not asked
    assert hasty.lots == tuple(range(len(problem.lots)))
    assert "no time" in hasty.why
    assert explain(problem, feasible).lots == (0, 1)


def test_mates_that_cannot_be_made_in_one_visit_are_refused_in_time() -> None:
    """A refusal by the model names the lots, and comes within a second of the limit."""
    dial = Dial("tilt", 0, ((0, 1), (1, 0)), (1, 1))
    wants = [1, 2, 1] + [1 + n % 2 for n in range(20)]
    lots = tuple(Lot(f"lot {n}", 0, {0: Need(v, v)}) for n, v in enumerate(wants))
    problem = Problem(
        lots, (dial,), ((0,),), ((0, 1), (1, 2)), mates=(Mates(frozenset({0, 2}), frozenset({0})),)
    )
    begun = monotonic()
    found = cpsat(problem, Limits(20), lambda _: None, lambda: False)
    assert monotonic() - begun < 21
    assert isinstance(found, Impossible)
    assert found.lots == (0, 1, 2)


@pytest.mark.parametrize("lots", [59, 60, 61])
def test_only_small_problems_are_asked_of_it(lots: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without choices, after a search that has come to no end, told what that has found."""
    problem = Problem((Lot("lot", 0, {}),) * lots, (), ((0,),))
    unproven = Outcome(tuple(range(lots)), (), 1, 0, engine="search")
    proven = replace(unproven, bound=1, engine="model")
    asked: list[Outcome | None] = []

    def model(*told: Any) -> Outcome:
        asked.append(told[-1])
        return proven

    monkeypatch.setattr("sequencer.solve.proof.search.search", lambda *told: unproven)
    monkeypatch.setattr("sequencer.solve.cpsat.cpsat", model)
    found = _by_turns(problem, Limits(10.0), lambda news: None, lambda: False)
    assert isinstance(found, Outcome)
    assert asked == ([unproven] if lots <= MODEL_LOTS else [])
    assert found.proven == (lots <= MODEL_LOTS)


def test_what_the_model_adds_is_one_more_reason() -> None:
    """Reasons come to the bound: those of the search hold where the model proves more without saying why; what has
    reasons of its own is told by these; and a bound that nobody gave reasons for has none.
    """
    known = Reason(("d",), 6, "must move")
    search, model = Outcome((0,), (), 10, 6, reasons=(known,)), Outcome((0,), (), 10, 9)
    reasons = _together(search, model, 1.0).reasons
    assert reasons[0] == known
    assert [reason.cost for reason in reasons] == [6, 3]
    assert _together(search, replace(model, reasons=(Reason((), 9, "all of it"),)), 1.0).reasons[0].cost == 9
    assert _together(replace(search, reasons=()), model, 1.0).reasons == ()
    assert _together(search, replace(model, bound=5), 1.0).reasons == (known,)


UNHEARD = """
from time import monotonic
from sequencer.solve.cpsat import cpsat, running
from sequencer.solve.problem import Limits
from tests.benchmarks.shop_jobs import FEATURES, shop_job

running.GRACE_SECONDS = 0.0
begun = monotonic()
problem = shop_job("routed", 60, 2, frozenset(FEATURES))
try:
    cpsat(problem, Limits(60), lambda news: None, lambda: monotonic() - begun > 1)
except TimeoutError:
    pass
raise SystemExit(7)
"""


def test_a_solver_left_to_itself_does_not_abort_the_process() -> None:
    """It may be amid its work when the process ends; the exit code is what the program said."""
    ended = subprocess.run([sys.executable, "-c", UNHEARD], capture_output=True, text=True, timeout=120)
    assert (ended.returncode, ended.stderr) == (7, "")


PRESSED = """
import signal
from time import monotonic
from sequencer.solve.cpsat import cpsat
from sequencer.solve.problem import Limits
from tests.benchmarks.shop_jobs import FEATURES, shop_job

presses = []
signal.signal(signal.SIGINT, lambda *heard: presses.append(heard))
begun = monotonic()


def stop():
    if monotonic() - begun > 1 and not presses:
        signal.raise_signal(signal.SIGINT)
    return bool(presses)


found = cpsat(shop_job("routed", 60, 2, frozenset(FEATURES)), Limits(60), lambda news: None, stop)
print(found.interrupted, len(presses))
raise SystemExit(7)
"""


def test_a_press_of_ctrl_c_is_left_to_who_called() -> None:
    """The solver has a handler of its own for it, which aborts the process where the solver runs in a thread."""
    ended = subprocess.run([sys.executable, "-c", PRESSED], capture_output=True, text=True, timeout=120)
    assert (ended.returncode, ended.stdout, ended.stderr) == (7, "True 1\n", "")


INTERRUPTED = """
import signal
from time import monotonic
from sequencer.solve.cpsat import cpsat, running
from sequencer.solve.problem import Limits
from tests.benchmarks.shop_jobs import FEATURES, shop_job


stop_search = running.cp_model.CpSolver.stop_search


def stopped(solver):  # a finger on the keys, once while the plan is handed over and once while the process ends
    stop_search(solver)
    if presses:
        presses.pop()
        signal.raise_signal(signal.SIGINT)


presses = [1, 2]
signal.signal(signal.SIGINT, signal.default_int_handler)
running.cp_model.CpSolver.stop_search = stopped
begun = monotonic()
problem = shop_job("routed", 60, 2, frozenset(FEATURES))
try:
    cpsat(problem, Limits(60), lambda news: None, lambda: monotonic() - begun > 1)
except KeyboardInterrupt:
    print(len(presses))
raise SystemExit(7)
"""


def test_nor_does_one_left_to_itself_by_an_interrupt() -> None:
    """Neither while it is asked to stop, nor while the process waits for it at its end."""
    ended = subprocess.run([sys.executable, "-c", INTERRUPTED], capture_output=True, text=True, timeout=120)
    assert (ended.returncode, ended.stdout, ended.stderr) == (7, "1\n", "")


def test_with_no_time_left_a_refusal_is_not_looked_into(monkeypatch: pytest.MonkeyPatch) -> None:
    """What the smaller problem shows to be impossible is told in time, with no lots named."""
    asked = []

    def late(problem: Problem, *more: object) -> Impossible:
        asked.append(problem)
        sleep(0.1)
        return Impossible("no way", (0,))

    monkeypatch.setattr(door, "_solved", late)
    problem = shop_job("routed", 30, 1)
    assert door.solve(problem, Limits(0.05)) == Impossible("no way")
    assert len(asked) == 1
    assert door.solve(problem, Limits(5.0)) == Impossible("no way", (0,))
    assert asked[2:] == [problem]
