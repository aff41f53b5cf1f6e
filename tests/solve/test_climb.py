"""The compiled search: exact against trying everything, and its questions against the patterns in plain Python."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from random import Random

import numpy as np
import pytest

from sequencer.solve.bounds.patterns import Pattern
from sequencer.solve.bounds.wheels import ease
from sequencer.solve.compiled import FAR_32, kernels, layout
from sequencer.solve.price import is_order, price
from sequencer.solve.problem import FAR, Dial, Limits, Lot, Need, Outcome, Problem, Progress
from sequencer.solve.proof import climb as climbing
from sequencer.solve.proof import guided as guiding
from sequencer.solve.proof.climb import Climb
from sequencer.solve.proof.known import UNCHARTED, NamedCourse, numbered
from sequencer.solve.proof.reasons import floors
from sequencer.solve.proof.search import Run, begin, search
from sequencer.solve.proof.trees import Course, by_station, changed, dials_of
from sequencer.solve.proof.whole import Rules
from sequencer.solve.relation import bits
from tests.benchmarks.shop_jobs import shop_job
from tests.solve.exhaustive import least_cost
from tests.solve.laid_out import finish, laid_out
from tests.solve.random_problems import random_problem


class Halt(Exception):  # noqa: N818
    """An order to stop."""


class Countdown:
    """Asked whether to go on, it gives an order to stop once there is nothing `left`."""

    left = 10**9

    def __call__(self) -> None:
        self.left -= 1
        if self.left < 0:
            raise Halt


def ascent(
    problem: Problem, tick: Callable[[], None] = lambda: None, course: NamedCourse = UNCHARTED
) -> Climb | None:
    """The ascent at its foot; None where the lots run in a circle or the kernels cannot take the problem."""
    floor = laid_out(problem)
    if floor is None:
        return None
    wheels = [ease(floor, d) for d in range(len(floor.knobs))]
    return Climb(floor, wheels, tick, lambda climb: None, course=numbered(floor, course))


@pytest.mark.parametrize("block", range(8))
def test_ascent_agrees_with_trying_everything(block: int) -> None:
    """With every feature but choices the least cost of all orders is proven, the order told costs it, and where
    mates allow no order none is found.
    """
    tried = none = 0
    for seed in range(300 * block, 300 * (block + 1)):
        problem = random_problem(seed, 6, without=frozenset(("choices",)))
        climb = ascent(problem)
        if climb is None:
            continue
        finish(climb)
        least = least_cost(problem)
        if climb.best is None:
            assert least is None, seed
            none += 1
            continue
        order = tuple(climb.floor.lot_of[item] for item in climb.best.items)
        assert is_order(problem, order, ()), seed
        priced = price(problem, order)
        assert priced is not None
        assert priced.cost == climb.best.cost == climb.root.cost + climb.bound == least, seed
        tried += 1
    assert tried > 180
    assert none > 20


def test_merging_ends_with_what_the_parts_cost_at_the_root() -> None:
    """Mergers rated by the samples they gain in know no more of the root than that they gain; then it is exact."""
    climb = ascent(shop_job("dense", 30, 1, frozenset({"ranges", "stops"})))
    assert climb is not None
    climb.guided.merge(20_000)
    merged = [part for part in climb.guided.parts if len(part.pattern.dials) > 1]
    assert merged
    for part in climb.guided.parts:
        wheels = [climb.guided.wheels[d] for d in part.pattern.dials]
        alone = Pattern(climb.floor, wheels, part.pattern.dials, part.pattern.parts, lambda: None, 10**7)
        assert part.costs[0] * climb.asking.unit == alone.bound(alone.project(*climb.root.state), FAR)
    assert climb.bound == sum(part.costs[0] for part in climb.guided.parts) * climb.asking.unit


def test_questions_are_answered_as_in_plain_python() -> None:
    """For states on random walks of merged patterns the kernel finds what the pattern's own search finds, and where
    less is asked nothing above it.
    """
    compared = 0
    for seed in range(8):
        climb = ascent(shop_job("dense", 16, seed, frozenset({"ranges", "stops"} if seed % 2 else ())))
        assert climb is not None
        board, rng = climb.asking.layout.board, Random(seed)
        for pair in [(0, 1), (1, 2), (4, 11), (2, 11)]:
            one, other = (climb.guided.parts[d] for d in pair)
            wheels = [climb.guided.wheels[d] for d in pair]
            merged = Pattern(climb.floor, wheels, pair, (one.pattern, other.pattern), lambda: None)
            number = climb.asking.layout.put(merged, (one.number, other.number))
            board = climb.asking.layout.board
            board.ints[[layout.LIMIT, layout.STATE, layout.STOP]] = FAR, layout.WELL, 0
            known = Pattern(climb.floor, wheels, pair, (), lambda: None, 10**6)
            for _ in range(12):
                key = known.project(*climb.root.state)
                while key[0]:
                    entry = kernels.entry(
                        board, climb.asking.layout.at[number], *climb.asking.layout.key(*key)
                    )
                    exact = known.bound(key, FAR)
                    asked = rng.randint(0, 2 * exact)
                    for room in (asked // climb.asking.unit, FAR_32):
                        got = kernels.ask(board, climb.asking.layout.at[number], entry, room)
                        assert min(room, exact // climb.asking.unit) <= got <= exact // climb.asking.unit
                    compared += 1
                    key = rng.choice(known.steps(key))[1]
    assert compared > 200


def test_what_is_learnt_holds() -> None:
    """Whatever the rounds have asked, merged and absorbed: no state of a pattern is taken to cost more than it does,
    and those taken to be exact are.
    """
    exact = merged = 0
    for seed in range(6):
        features = ({"ranges", "stops"}, {"starts", "any"}, {"mates", "wishes"})[seed % 3]
        climb = ascent(shop_job("dense", 20, seed, frozenset(features)))
        assert climb is not None
        for effort in (30, 100, 300):
            climb.guided.round(effort)
        board, rng = climb.asking.layout.board, Random(seed)
        for e in rng.sample(range(int(board.ints[layout.COUNT])), 150):
            pattern = climb.asking.layout.patterns[board.info[e, layout.PATTERN]]
            if isinstance(pattern, Rules) or pattern.heeded:
                continue
            wheels = [climb.guided.wheels[d] for d in pattern.dials]
            rest = int.from_bytes(board.rest[e].tobytes(), "little")
            values = board.info[e, layout.VALUE : layout.VALUE + len(wheels)]
            known = Pattern(climb.floor, wheels, pattern.dials, (), lambda: None, 10**6)
            cost = known.bound((rest, tuple(map(int, values))), FAR) // climb.asking.unit
            assert board.info[e, layout.LEAST] <= cost
            if board.info[e, layout.EXACT]:
                assert board.info[e, layout.LEAST] == cost
                exact += 1
            merged += len(wheels) > 1
    assert exact > 100
    assert merged > 100


def test_lots_covered_by_others_are_struck_out() -> None:
    """Of lots that want the same and wait for the same one stays; one that others wait for stays too, until it is the
    last they wait for.
    """
    both = {0: Need(1, 1), 1: Need(1, 1)}
    lots = [Lot("both", 0, both), Lot("same", 0, both), Lot("less", 0, {0: Need(1, 1)})]
    lots += [Lot("early", 0, {0: Need(1, 1)}), Lot("other", 0, {0: Need(2, 2)})]
    dials = tuple(Dial(str(d), 0, ((0, 1), (1, 0)), (1, 1)) for d in range(2))
    climb = ascent(Problem(tuple(lots), dials, ((0,),), ((3, 4),)))
    assert climb is not None
    wheels = climb.guided.wheels[:2]
    board = climb.asking.layout
    number = board.put(Pattern(climb.floor, wheels, (0, 1), (), lambda: None))
    root = climb.guided.root
    e = kernels.view(board.board, board.at[number], root, np.arange(2))
    rest = int.from_bytes(board.board.rest[e].tobytes(), "little")
    names = sorted(climb.floor.problem.lots[climb.floor.lot_of[item]].label for item in bits(rest))
    assert names in (["both", "early", "other"], ["early", "other", "same"])


def test_what_was_decided_last_changes_no_strike() -> None:
    """State after state, the lots struck out are those that plain Python strikes out of it afresh."""
    climb = ascent(shop_job("routed", 60, 1))
    assert climb is not None
    floor, board, rng = climb.floor, climb.asking.layout, Random(1)
    nothing = tuple(knob.nothing for knob in floor.knobs)
    struck = 0
    for dials in ((0,), (0, 1), (2, 3, 4), (1, 5, floor.walking)):
        pattern = Pattern(floor, [climb.guided.wheels[d] for d in dials], dials, (), lambda: None)
        number = board.put(pattern)
        for _ in range(300):
            rest = floor.every
            for item in rng.sample(range(floor.count), rng.randrange(floor.count)):
                if rng.random() < 0.5:
                    rest &= ~(floor.before[item] | 1 << item)
            whole = kernels.entry(board.board, board.at[climb.guided.number], *board.key(rest, nothing))
            e = kernels.view(board.board, board.at[number], whole, np.array(dials))
            left = rest & pattern.named
            for a in bits(left):
                late, early = floor.after[a], floor.before[a]
                others = left & pattern.demanding(pattern.classes[pattern.class_of[a]]) & ~(1 << a)
                if any(
                    not left & ((late & ~floor.after[o]) | (early & ~floor.before[o])) & ~(1 << o)
                    for o in bits(others)
                ):
                    left ^= 1 << a
                    struck += 1
            assert int.from_bytes(board.board.rest[e].tobytes(), "little") == left
    assert struck > 1000


def test_stopped_at_any_moment_the_bound_holds() -> None:
    """Wherever the work is stopped, no order costs less than the bound and the best plan is not cheaper."""

    problem = shop_job("routed", 40, 2, frozenset({"mates", "wishes"}))
    whole = ascent(problem)
    assert whole is not None
    finish(whole)
    assert whole.best is not None
    least = whole.best.cost
    stopped = 0
    for turns in range(1, 60, 3):
        tick = Countdown()
        tick.left = turns
        climb = None
        try:
            climb = ascent(problem, tick)
            assert climb is not None
            finish(climb)
        except Halt:
            stopped += 1
        if climb is not None:
            assert climb.root.cost + climb.bound <= least
            assert climb.best is None or climb.best.cost >= least
    assert stopped > 3


def test_stopped_while_it_takes_other_trees_it_tells_which_it_goes_by() -> None:
    """Those it had or the others, whole, wherever it is stopped; others may be handed them."""

    told: set[bool] = set()
    for turns in range(30):
        tick = Countdown()
        climb = ascent(shop_job("dense", 40, 1), tick)
        assert climb is not None
        climb.effort = 50  # too little to prove it
        had = by_station(climb.floor)
        other = changed(had, Random(3))
        climb.guided.given = had
        climb.lift()
        climb.guided.given = other
        tick.left = turns
        with suppress(Halt):
            climb.lift()
        forest = climb.guided.forest
        assert forest in (had, other)
        told.add(forest == other)
    assert told == {False, True}


def test_stopped_while_it_turns_it_is_at_one_end_or_the_other() -> None:
    """With all that was proven and known, wherever it is stopped; and proves the same from there."""
    problem = shop_job("dense", 40, 1)
    told: set[bool] = set()
    costs: set[int] = set()
    for turns in (0, 1, 3, 10, 30, 100):
        tick = Countdown()
        climb = ascent(problem, tick)
        assert climb is not None
        climb.effort = 50  # too little to prove it
        climb.lift()
        bound, limit, work = climb.bound, climb.limit, climb.work
        tick.left = turns
        with suppress(Halt):
            climb.go_by(Course(by_station(climb.floor), back=True))
        assert (climb.bound, climb.limit) == (bound, limit)
        assert climb.work >= work
        told.add(climb.end.back)
        tick.left = 10**9
        finish(climb)
        assert climb.best is not None
        costs.add(climb.best.cost)
        assert climb.root.cost + climb.bound in costs
    assert told == {False, True}
    assert len(costs) == 1


@pytest.mark.parametrize(("seed", "turns"), [(3, True), (1, False), (7, False)])
def test_where_lots_are_very_many_the_ends_are_compared(
    seed: int, turns: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The ascent goes on from the other end only if that comes further; nothing known is lost either way, and it ends
    with the same cost.
    """
    climb = comparing(monkeypatch, seed)
    reached, bound, work = climb.guided.reached, climb.bound, climb.work
    climb._compare_ends()
    assert climb.end.back == turns
    assert (climb.guided.reached > reached) == (climb.bound > bound) == turns
    assert climb.work > work
    climb = comparing(monkeypatch, seed)
    climb.lift(1)  # does so first
    assert climb.end.back == turns
    compared = climb.end
    monkeypatch.setattr(climb, "_compare_ends", None)  # once is enough
    climb.lift()
    assert climb.end is compared
    finish(climb)
    alone = ascent(shop_job("routed", 60, seed))
    assert alone is not None
    finish(alone)
    assert climb.best is not None
    assert alone.best is not None
    assert climb.best.cost == alone.best.cost == climb.root.cost + climb.bound
    order = tuple(climb.floor.lot_of[item] for item in climb.best.items)
    assert is_order(climb.floor.problem, order, ())


@pytest.mark.parametrize("back", [False, True])
def test_told_where_to_begin_an_ascent_compares_no_ends(back: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    """It goes by the trees it was given."""
    floor = laid_out(shop_job("routed", 60, 3))
    assert floor is not None
    course = Course(by_station(floor), back)
    climb = comparing(monkeypatch, 3, course)
    climb.lift(1)
    assert climb.course == course


def test_where_there_is_but_one_end_there_is_nothing_to_compare() -> None:
    """As with a dial that starts at a value and is lost by leaving."""
    climb = ascent(shop_job("routed", 60, 3, frozenset({"starts", "forgets"})))
    assert climb is not None
    assert climb.ends.back is None
    guided = climb.guided
    climb._compare_ends()
    assert climb.guided is guided


@pytest.mark.parametrize("turns", [0, 1, 3, 10, 30, 100])
def test_stopped_or_short_of_memory_while_it_compares_ends_it_goes_on(
    turns: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """From one of them, with all that was proven and known, to the same cost."""
    climb = comparing(monkeypatch, 3)
    bound, work, tick = climb.bound, climb.work, climb.tick
    assert isinstance(tick, Countdown)
    tick.left = turns
    with suppress(Halt):
        climb.lift(1)
    tick.left = 10**9
    assert climb.bound >= bound
    assert climb.work >= work
    finish(climb)
    cost = climb.root.cost + climb.bound

    short = comparing(monkeypatch, 3)
    guided, rounds = short.guided, short._round

    def full(effort: int) -> None:
        rounds(80)
        raise MemoryError

    with monkeypatch.context() as patch:
        patch.setattr(short, "_round", full)
        short._compare_ends()
    assert short.guided is guided
    assert not short.end.back
    assert short.bound > bound  # what the other end has proven holds
    finish(short)
    assert short.root.cost + short.bound == cost


def comparing(monkeypatch: pytest.MonkeyPatch, seed: int, course: Course | None = None) -> Climb:
    """An ascent of 60 lots about to compare the ends, as if these were very many."""
    monkeypatch.setattr(climbing, "MANY_LOTS", 10)
    monkeypatch.setattr(climbing, "COMPARED", (20, 80))
    monkeypatch.setattr(guiding, "MANY_LOTS", 10)
    floor = laid_out(shop_job("routed", 60, seed))
    assert floor is not None
    wheels = [ease(floor, d) for d in range(len(floor.knobs))]
    climb = Climb(floor, wheels, Countdown(), lambda climb: None, course=course)
    climb.effort = 20
    for _ in range(2):
        climb.lift()
    assert climb.end.back == bool(course and course.back)
    assert not climb.closed
    return climb


def test_turning_takes_nothing_from_what_is_known() -> None:
    """Work only grows, and why the bound of the front holds is told with no less after turning twice than before."""
    climb = ascent(shop_job("routed", 80, 2))
    assert climb is not None
    climb.effort = 200
    climb.lift()
    root, course = climb.root.state, climb.course
    told, total, work = climb.patterns, climb.sum, climb.work
    before = floors(root, told)
    climb.effort = 1  # too little to find all that again
    for back in (True, False, True, False):
        climb.go_by(Course(course.forest, back))
        assert climb.work >= work
        climb.lift(1)
        assert climb.work > work
        work = climb.work
    assert not climb.closed
    assert floors(root, told) == before
    assert sum(cost for _, cost in before) >= total > 0


def test_what_others_join_otherwise_changes_nothing_told() -> None:
    """Patterns that trials have made of the same dials from other parts are theirs alone."""
    problem = shop_job("routed", 50, 2, frozenset({"mates"}))
    alone, beside = ascent(problem), ascent(problem)
    assert alone is not None
    assert beside is not None
    alone.lift()
    larger = [dials_of(tree) for tree in alone.course.forest if len(dials_of(tree)) > 2]
    assert larger
    joining = beside.ends.front.joining
    for dials in larger:  # one dial after the other, from the last one on
        pattern = joining.pattern(dials[-1:])
        for k in range(len(dials) - 2, -1, -1):
            pattern = joining.pattern(dials[k:], (joining.pattern(dials[k : k + 1]), pattern))
    beside.lift()
    assert beside.course == alone.course
    assert floors(beside.root.state, beside.patterns) == floors(alone.root.state, alone.patterns)


@pytest.mark.parametrize("room", range(150_000, 700_000, 50_000))
def test_full_memory_ends_the_work_without_harm(monkeypatch: pytest.MonkeyPatch, room: int) -> None:
    """With room for few states the search gives up, wherever it is then, with what it has proven."""
    monkeypatch.setattr(layout, "BYTES", room)
    climb, full = None, False
    try:
        climb = ascent(shop_job("dense", 40, 1, frozenset()))
        assert climb is not None
        finish(climb)
    except MemoryError:  # there is no plan to better
        full = True
    assert full
    assert climb is None or 0 < climb.bound <= climb.limit


def test_the_same_problem_is_solved_in_the_same_way() -> None:
    """Two runs find the same order, opening the same number of states."""
    seen = []
    for _ in range(2):
        climb = ascent(shop_job("routed", 60, 2, frozenset({"ranges"})))
        assert climb is not None
        finish(climb)
        assert climb.best is not None
        seen.append((climb.best.items, int(climb.asking.layout.board.ints[layout.OPENED])))
    assert seen[0] == seen[1]


def test_values_stand_as_the_state_has_them() -> None:
    """An entry made from outside is found again by the same lots and values only."""
    climb = ascent(shop_job("dense", 16, 3, frozenset()))
    assert climb is not None
    place = climb.asking.layout.at[climb.guided.parts[0].number]
    rest, values = climb.guided.parts[0].pattern.project(*climb.root.state)
    one = kernels.entry(climb.asking.layout.board, place, *climb.asking.layout.key(rest, values))
    assert kernels.entry(climb.asking.layout.board, place, *climb.asking.layout.key(rest, values)) == one
    other = kernels.entry(climb.asking.layout.board, place, *climb.asking.layout.key(rest & rest - 1, values))
    assert other != one
    assert np.array_equal(climb.asking.layout.board.rest[one], climb.asking.layout.key(rest, values)[0])


def test_plain_python_fills_the_time_until_the_kernels_are_there(monkeypatch: pytest.MonkeyPatch) -> None:
    """While the kernels are compiled the search goes on without them, and takes them over when they are there; where
    they never are, plan and bound are those of plain Python.
    """
    problem = shop_job("routed", 60, 2, frozenset())
    asked = []

    def soon() -> bool:
        asked.append(1)
        return len(asked) > 3

    told: list[Progress] = []
    monkeypatch.setattr("sequencer.solve.proof.climb.ready", soon)
    found = search(problem, Limits(60.0), told.append, lambda: False)
    assert isinstance(found, Outcome)
    assert found.proven
    assert len(asked) > 3
    assert any(news.note for news in told)
    monkeypatch.setattr("sequencer.solve.proof.climb.ready", lambda: False)
    other = search(problem, Limits(2.0), lambda news: None, lambda: False)
    assert isinstance(other, Outcome)
    assert other.bound <= found.cost <= other.cost


def test_kernels_that_come_late_end_no_later_look(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where a look is over before the kernels are there, the next one, begun when they are, is not taken for what only
    filled the time.
    """
    there = [False]
    monkeypatch.setattr("sequencer.solve.proof.climb.ready", lambda: there[0])
    problem = shop_job("routed", 80, 2, frozenset())
    run = begin(problem, Limits(60.0), lambda news: None, lambda: False, sparing=False)
    assert isinstance(run, Run)
    first = run.look(1, 0.2)
    assert isinstance(first, Outcome)
    assert not first.proven
    there[0] = True
    later = run.look(4, 30.0)
    assert isinstance(later, Outcome)
    assert first.bound <= later.bound <= later.cost <= first.cost
    assert run.climb is not None
