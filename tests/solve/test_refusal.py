"""Why there is no order: lots are named only where they stand in each other's way whatever else is made, mates only
where all lots together cannot keep them, and what was not found is not called impossible.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from random import Random
from typing import Any

import pytest

from sequencer.solve import solve
from sequencer.solve.choices.options import branch_and_bound
from sequencer.solve.cpsat import cpsat
from sequencer.solve.cpsat.running import Answer
from sequencer.solve.problem import Dial, Impossible, Limits, Lot, Mates, Need, Outcome, Problem, Progress
from sequencer.solve.proof.search import begin, search
from sequencer.solve.refusal import eased, explain, suspects
from tests.solve.exhaustive import combinations, cost_of, least_cost, orders
from tests.solve.random_problems import random_problem

FENCE = Dial("fence", 0, ((0, 3), (3, 0)), (2, 2))


def moved_before() -> Problem:
    """The second mate needs the fence at a value, the first does not name it: a third lot can have moved it before."""
    wants = {0: Need(1, 1)}
    lots = (Lot("x", 0, wants), Lot("a", 0, {}), Lot("b", 0, wants))
    return Problem(lots, (FENCE,), ((0,),), ((1, 2),), (Mates(frozenset({1, 2}), frozenset({0})),))


def mated(seed: int, lots: int) -> Problem:
    """A random problem with any of the features, where it has mates with one more group of them."""
    problem = random_problem(seed, lots)
    if not problem.mates:
        return problem
    rng = Random(seed)
    members = rng.sample(range(len(problem.lots)), rng.randint(2, len(problem.lots)))
    group = Mates(frozenset(members), frozenset({rng.randrange(len(problem.dials))}))
    return replace(problem, mates=(*problem.mates, group))


def legal(problem: Problem) -> list[tuple[int, ...]]:
    """Every order that keeps precedence and mates, under whatever options, by trying all."""
    found = []
    for _, made in combinations(problem):
        found += [tuple(order) for order in orders(problem, made) if cost_of(problem, order) is not None]
    return found


@pytest.mark.parametrize("block", range(2))
def test_lots_can_be_left_out_of_orders_of_the_eased_problem(block: int) -> None:
    """Every order of a problem is one of the eased problem, and there it stays one when any lot is left out; of the
    problem itself many do not.
    """
    left_out = broken = 0
    for seed in range(60_000 + 300 * block, 60_300 + 300 * block):
        problem = mated(seed, 5)
        if not problem.mates or not any(lots for _, lots in combinations(problem)):
            continue
        easy = eased(problem)
        allowed, before = legal(easy), set(legal(problem))
        assert before <= set(allowed), seed
        for gone in range(len(problem.lots)):
            kept = [lot for lot in range(len(problem.lots)) if lot != gone]
            part, plain = easy.part(kept), problem.part(kept)
            for order in allowed[:50]:
                rest = [kept.index(lot) for lot in order if lot != gone]
                assert cost_of(part, rest) is not None, (seed, order, gone)
                left_out += 1
                broken += order in before and cost_of(plain, rest) is None
    assert left_out > 3_000
    assert broken > 10  # else easing would be for nothing


def test_no_part_of_a_problem_with_an_order_is_blamed() -> None:
    """Where the eased problem with some of the lots has no order, be they mates with what must come between or any
    others, the problem has none.
    """
    without = suspected = 0
    for seed in range(61_000, 61_200):
        problem = mated(seed, 5)
        rng = Random(seed)
        some = [lot for lot in range(len(problem.lots)) if rng.random() < 0.6]
        for lots in [*suspects(problem), some]:
            suspected += 1
            if least_cost(eased(problem).part(lots)) is None:
                without += 1
                assert least_cost(problem) is None, (seed, lots)
    assert suspected > 200
    assert without > 10


def test_what_was_moved_before_the_mates_is_no_reason(monkeypatch: pytest.MonkeyPatch) -> None:
    """Although the mates alone have no order, the model that has no quick plan finds the one there is: x, a, b for one
    move from no value (2).
    """
    problem = moved_before()
    assert least_cost(problem.part(suspects(problem)[0])) is None
    monkeypatch.setattr("sequencer.solve.cpsat.engine.quick_plan", lambda *asked: None)
    found = cpsat(problem, Limits(20), hear, lambda: False)
    assert isinstance(found, Outcome)
    assert (found.order, found.cost, found.bound) == ((0, 1, 2), 2, 2)


def test_mates_innocent_of_it_are_not_named() -> None:
    """Mates that stand alone in no order, but do among all lots, are not blamed where others are the reason."""
    height = Dial("height", 0, ((0, 1), (1, 0)), (1, 1))
    first = moved_before()
    more = tuple(Lot(name, 0, {1: Need(v, v)}) for name, v in (("r", 1), ("s", 2), ("t", 1)))
    problem = Problem(
        (*first.lots, *more),
        (FENCE, height),
        ((0,),),
        (*first.precedence, (3, 4), (4, 5)),
        (*first.mates, Mates(frozenset({3, 5}), frozenset({1}))),
    )
    found = solve(problem, Limits(20))
    assert isinstance(found, Impossible)
    assert found.lots == (3, 4, 5)
    assert found.why == (
        "r and t are mates that hold height, but no order with s to be made as well makes them in one visit"
    )


def test_mates_that_no_value_serves_are_told_so() -> None:
    """Not that the fence is lost by leaving its station: nobody needs to leave it. Where one value serves both and the
    work must go elsewhere between them, it is.
    """
    fence = replace(FENCE, start=None, keeps=False)
    lots = (Lot("a", 0, {0: Need(1, 1)}), Lot("b", 0, {0: Need(2, 2)}))
    problem = Problem(lots, (fence,), ((0, 1), (1, 0)), (), (Mates(frozenset({0, 1}), frozenset({0})),))
    assert least_cost(problem) is None
    found = solve(problem, Limits(20))
    assert isinstance(found, Impossible)
    assert found.why == (
        "a and b are mates that hold fence (no value serves them all), but no order makes them in one visit"
    )
    away = (lots[0], Lot("b", 0, {0: Need(1, 1)}), Lot("c", 1, {}))
    found = solve(replace(problem, lots=away, precedence=((0, 2), (2, 1))), Limits(20))
    assert isinstance(found, Impossible)
    assert found.why == (
        "a and b are mates that hold fence (lost when the work leaves its station), but no order with c to be made as "
        "well makes them in one visit"
    )


def test_where_all_lots_matter_mates_are_told() -> None:
    """Nothing but the second mate moves the fence, and the first, made elsewhere, comes before it: with one lot more
    there would be an order, so no lots are named, only the mates; others that can be kept are not.
    """
    wants = {0: Need(1, 1)}
    lots = (Lot("a", 1, {}), Lot("b", 0, wants), Lot("c", 0, {}), Lot("x", 0, wants))
    dials = (FENCE, Dial("height", 0, ((0, 3), (3, 0)), (2, 2)))
    mates = (Mates(frozenset({0, 1}), frozenset({0, 1})), Mates(frozenset({1, 2}), frozenset({0})))
    with_x = Problem(lots, dials, ((0, 1), (1, 0)), ((0, 1),), mates)
    assert least_cost(with_x) is not None
    problem = with_x.part((0, 1, 2))
    assert least_cost(problem) is None
    found = solve(problem, Limits(20))
    assert isinstance(found, Impossible)
    assert found.lots == ()
    assert found.why == (
        "a and b are mates that hold fence, but with all else to be made no order makes them in one visit"
    )


def test_without_mates_the_settings_are_the_reason() -> None:
    """No move exists to what a lot needs, and where the setting stands will not do."""
    dial = Dial("stop", 0, ((0, None), (None, 0)), (1, 1), start=0)
    problem = Problem((Lot("a", 0, {0: Need(2, 2)}),), (dial,), ((0,),))
    found = explain(problem, lambda part: least_cost(part) is not None)
    assert found.lots == ()
    assert found.why == "no order lets every setting be moved to where it is asked for"


def unfound(monkeypatch: pytest.MonkeyPatch) -> None:
    """No engine finds an order before its time is up."""
    for module in ("plans.greedy", "proof.search", "cpsat.engine"):
        monkeypatch.setattr(f"sequencer.solve.{module}.quick_plan", lambda *asked: None)
    monkeypatch.setattr("sequencer.solve.proof.search.beam", lambda *asked: None)
    monkeypatch.setattr("sequencer.solve.cpsat.engine.run", lambda *asked: Answer())


def hear(news: Progress) -> None:
    """Let the news pass."""


EITHER = replace(moved_before(), choices=((frozenset({0}), frozenset({0, 1})),))
"""With the first mate or without it."""


@pytest.mark.parametrize(
    "ask",
    [
        lambda: search(moved_before(), Limits(0.0), hear, lambda: True),
        lambda: cpsat(moved_before(), Limits(0.0), hear, lambda: True),
        lambda: branch_and_bound(EITHER, Limits(0.0), hear, lambda: True, begin),
        lambda: solve(moved_before(), Limits(0.0), stop=lambda: True),
        lambda: solve(EITHER, Limits(0.0), stop=lambda: True),
    ],
)
def test_what_is_not_found_in_time_is_not_impossible(
    ask: Callable[[], object], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each engine, and all one after the other, raises TimeoutError then, and tells no time that nobody gave."""
    unfound(monkeypatch)
    with pytest.raises(TimeoutError, match=r"^no order was found in the time given$"):
        ask()


def late(*asked: object) -> Outcome:
    """An engine whose time is up."""
    raise TimeoutError("no order was found in the time given")


@pytest.mark.parametrize("problem", [moved_before(), EITHER])
def test_where_the_search_finds_nothing_in_time_the_model_is_asked(
    problem: Problem, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its order is the answer."""
    monkeypatch.setattr("sequencer.solve.proof.search.search", late)
    monkeypatch.setattr("sequencer.solve.choices.options.branch_and_bound", late)
    found = solve(problem, Limits(20))
    assert isinstance(found, Outcome)
    assert (found.engine, found.cost, found.bound) == ("constraint model", 2, 2)


def test_a_look_that_finds_nothing_in_time_is_no_proof(monkeypatch: pytest.MonkeyPatch) -> None:
    """Outlines are looked at again, whatever the words of what was raised; the cost is that of all orders."""
    begun: list[int] = []

    def engine(*told: Any) -> Any:
        run = begin(*told)
        assert not isinstance(run, Impossible)
        look = run.look

        def slow(*asked: Any) -> Outcome | Impossible:
            begun.append(1)
            if len(begun) == 1:
                raise TimeoutError("too late")
            return look(*asked)

        monkeypatch.setattr(run, "look", slow)
        return run

    monkeypatch.setattr("sequencer.solve.plans.greedy.quick_plan", lambda *asked: None)
    found = branch_and_bound(EITHER, Limits(20), hear, lambda: False, engine)
    assert isinstance(found, Outcome)
    assert len(begun) > 1
    assert found.cost == found.bound == least_cost(EITHER)


def test_what_is_shown_impossible_stays_so_when_time_is_up(monkeypatch: pytest.MonkeyPatch) -> None:
    """The search shows that there is no order; where the model has no time left to name lots, that is the answer, not
    that time was up.
    """
    monkeypatch.setattr("sequencer.solve.cpsat.cpsat", late)
    wants = [1, 2, 1]
    lots = tuple(Lot(f"lot {n}", 0, {0: Need(v, v)}) for n, v in enumerate(wants))
    mates = (Mates(frozenset({0, 2}), frozenset({0})),)
    problem = Problem(lots, (FENCE,), ((0,),), ((0, 1), (1, 2)), mates)
    monkeypatch.setattr(
        "sequencer.solve.reduction.reduce.reduce",
        lambda asked: (asked, lambda order, options: (order, options)),
    )
    found = solve(problem, Limits(20))
    assert isinstance(found, Impossible)
    assert found.why == "no order lets all mates be made in one visit"


def test_a_circle_is_told_in_the_same_words_by_every_engine() -> None:
    """Of a circle of three lots and one of two of them the shorter one is named."""
    lots = tuple(Lot(name, 0, {}) for name in ("rip", "drill", "sand"))
    problem = Problem(lots, (), ((0,),), ((0, 1), (1, 2), (2, 0), (2, 1)))
    for found in (solve(problem), cpsat(problem, Limits(5), lambda _: None, lambda: False)):
        assert found == Impossible("drill must come before sand and sand must come before drill", (1, 2))
