"""Orders whose costs lie between two neighbours, against every order and against published optima.

References: every order, priced by the plain counter in `exhaustive`; the published instances
and their sources are named in `published`.
"""

from __future__ import annotations

from dataclasses import replace
from random import Random
from time import monotonic

import pytest

from sequencer.solve import Dial, Impossible, Limits, Lot, Mates, Need, Outcome, Problem, Wish, solve
from sequencer.solve.clock import Clock
from sequencer.solve.one_dial import sequence as module
from sequencer.solve.one_dial.network import has_network
from sequencer.solve.one_dial.sequence import applies, sequence
from sequencer.solve.price import is_order
from sequencer.solve.problem import Progress
from sequencer.solve.relation import Relation, relation_of
from tests.solve.exhaustive import least_cost
from tests.solve.published import (
    ABSENT,
    OPTIMA,
    PART_OPTIMUM,
    THERE,
    part_first_setup,
    part_problem,
    sop_problem,
)
from tests.solve.random_problems import random_problem

published = pytest.mark.skipif(not THERE, reason=ABSENT)


def random_sequence(seed: int, lots: int = 7, thick: float | None = None) -> Problem:
    """A random change-over table, often breaking the triangle inequality, and random precedence.

    Now and then two lots share a value, the dial stands somewhere at first, or the first value costs.
    """
    rng = Random(seed)
    values = range(lots + 1)
    wanted = rng.sample(values, lots)
    if rng.random() < 0.4:
        wanted[0] = wanted[-1]
    price = rng.choice((3, 20, 1000))
    move = tuple(tuple(0 if a == b else rng.randint(0, price) for b in values) for a in values)
    first = tuple(rng.randint(0, price) if seed % 2 else 0 for _ in values)
    line = rng.sample(range(lots), lots)
    dense = rng.choice((0.1, 0.3, 0.6)) if thick is None else thick
    return Problem(
        lots=tuple(
            Lot(f"lot {n}", 0, {0: Need(1 << v, 1 << v)}, work=rng.randint(0, 5))
            for n, v in enumerate(wanted)
        ),
        dials=(Dial("dial", 0, move, first, start=rng.choice((None, *values))),),
        walk=((0,),),
        precedence=tuple(
            (line[i], line[j]) for i in range(lots) for j in range(i + 1, lots) if rng.random() < dense
        ),
    )


def random_alternatives(seed: int) -> Problem:
    """Lots at stations whose dials forget, each of which accepts some values; choices of one lot each.

    Precedence differs between the options of a choice, so that what may follow depends on the one taken.
    """
    rng = Random(seed)
    stations, lots = range(rng.randint(1, 3)), range(rng.randint(4, 6))
    price = rng.choice((3, 20, 1000))
    dials = []
    for station in stations:
        values = range(rng.randint(2, 3))
        move = tuple(tuple(0 if a == b else rng.randint(0, price) for b in values) for a in values)
        first = tuple(rng.randint(0, price) for _ in values)
        dials.append(Dial(f"dial {station}", station, move, first, keeps=len(stations) == 1))
    made = []
    for n in lots:
        station = rng.choice(stations)
        stay = rng.randrange(1, 1 << dials[station].values)
        reach = rng.choice([mask for mask in range(1, stay + 1) if not mask & ~stay])
        made.append(Lot(f"lot {n}", station, {station: Need(reach, stay)}, work=rng.randint(0, 5)))
    line, mixed = rng.sample(lots, len(lots)), rng.sample(lots, len(lots))
    cut = rng.randint(0, 2)
    return Problem(
        lots=tuple(made),
        dials=tuple(dials),
        walk=tuple(tuple(0 if a == b else rng.randint(0, price) for b in stations) for a in stations),
        precedence=tuple((a, b) for i, a in enumerate(line) for b in line[i + 1 :] if rng.random() < 0.2),
        choices=tuple((frozenset({mixed[2 * c]}), frozenset({mixed[2 * c + 1]})) for c in range(cut)),
    )


def run(problem: Problem, seconds: float = 60, news: list[Progress] | None = None) -> Outcome:
    """The outcome of the engine alone."""
    heard: list[Progress] = [] if news is None else news
    found = sequence(problem, Limits(seconds), heard.append, lambda: False)
    assert isinstance(found, Outcome)
    assert is_order(problem, found.order, found.options)
    return found


def test_the_cost_is_the_least_of_all_orders() -> None:
    """On random tables of up to 7 lots the cost proven is the least of all orders."""
    tried = 0
    for seed in range(200):
        problem = random_sequence(seed, 2 + seed % 6)
        if applies(problem):
            tried += 1
            found = run(problem)
            assert (found.cost, found.bound) == (least_cost(problem),) * 2, f"seed {seed}"
    assert tried > 120


def test_alternatives_cost_the_least_of_all_orders() -> None:
    """With several stations, values to choose from and choices the cost proven is the least of all orders."""
    chosen = 0
    for seed in range(200):
        problem = random_alternatives(seed)
        chosen += len(problem.choices)
        found = run(problem)
        assert (found.cost, found.bound) == (least_cost(problem),) * 2, f"seed {seed}"
    assert chosen > 150


def test_every_small_problem_with_a_network_is_proven() -> None:
    """Of problems with every feature mixed, those with a network are proven, or refused where there is no order."""
    proven = 0
    for seed in range(1200):
        problem = random_problem(seed, 6, without=frozenset({"mates", "wishes"}))
        if not has_network(problem):
            continue
        least = least_cost(problem)
        found = sequence(problem, Limits(20), lambda _: None, lambda: False)
        if isinstance(found, Impossible):
            assert least is None, f"seed {seed}"
        else:
            assert (found.cost, found.bound) == (least,) * 2, f"seed {seed}"
            proven += 1
    assert proven > 60


def test_the_least_is_found_where_the_nearest_lots_lead_nowhere() -> None:
    """Where always taking the cheapest lot ends in lots that bar each other, the least cost is still proven."""
    tried = 0
    for seed in (154, 395, 477, 519, 545, 651, 759):
        rng, problem = Random(seed), random_alternatives(seed)
        lots = range(len(problem.lots))
        pairs = tuple((a, b) for a in lots for b in lots if a != b and rng.random() < 0.25)
        problem = replace(problem, precedence=pairs)
        relation = relation_of(problem)
        assert isinstance(relation, Relation)
        begun = module.Sequencing(problem, relation, Clock(20, lambda: False), lambda _: None, 0)
        tried += begun._nearest() is None
        found = run(problem)
        assert (found.cost, found.bound) == (least_cost(problem),) * 2, f"seed {seed}"
    assert tried


def test_where_choices_leave_no_order_that_is_said() -> None:
    """Two choices whose options all run in circles with each other have no order, and it says so."""
    free = tuple(Lot(f"lot {n}", 0, {0: Need(1, 1)}) for n in range(4))
    circles = ((0, 2), (2, 0), (1, 2), (2, 1), (0, 3), (3, 0), (1, 3), (3, 1))
    choices = ((frozenset({0}), frozenset({1})), (frozenset({2}), frozenset({3})))
    problem = Problem(free, (Dial("dial", 0, ((0,),), (1,)),), ((0,),), circles, (), choices)
    assert isinstance(sequence(problem, Limits(5), lambda _: None, lambda: False), Impossible)
    assert isinstance(solve(problem, Limits(20)), Impossible)


def test_narrow_sweeps_never_claim_too_much(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without exchanges, prices or memories, and ended early, the bound is at most the least cost."""
    _weaken(monkeypatch)
    unproven = 0
    for most in (10, 30):
        monkeypatch.setattr(module, "MOST_STATES", most)
        for seed in range(15):
            problem = random_sequence(seed, 7, thick=0.1)
            found = run(problem)
            least = least_cost(problem)
            assert least is not None
            assert found.bound <= least <= found.cost, f"seed {seed}"
            unproven += not found.proven
    assert unproven


def test_wider_and_wider_sweeps_prove_the_least(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without prices, memories or exchanges, and beginning with one state a layer, sweeps alone find the least."""
    _weaken(monkeypatch)
    monkeypatch.setattr(module, "FIRST_WIDTH", 1)
    monkeypatch.setattr(module, "WIDER", 2)
    for seed in range(60):
        for problem in (random_sequence(seed, 7), random_alternatives(seed)):
            found = run(problem)
            assert (found.cost, found.bound) == (least_cost(problem),) * 2, f"seed {seed}"


def _weaken(monkeypatch: pytest.MonkeyPatch) -> None:
    """Leave the sweeps with poor bounds and poor first plans."""
    for name, value in (("FIRST_CLIMB", 1), ("CLIMB", 1), ("LONGEST", 0)):
        monkeypatch.setattr(module, name, value)
    monkeypatch.setattr(module.Sequencing, "_shake", lambda *_: None)


def test_what_walks_and_options_cost_is_not_laid_to_a_dial() -> None:
    """What the dials a reason names cost in every order, with the walks where it names walking, is what it says."""
    named = 0
    for seed in range(60):
        problem = random_alternatives(seed)
        for reason in run(problem).reasons:
            named += bool(reason.dials)
            idle = replace(problem, lots=tuple(replace(lot, work=0) for lot in problem.lots))
            if "walking" not in reason.dials:
                idle = replace(idle, walk=tuple((0,) * len(problem.walk) for _ in problem.walk))
            cost = least_cost(idle)
            assert not reason.dials or (cost is not None and cost >= reason.cost), seed
    assert named


def test_the_bound_told_on_the_way_is_never_more_than_the_least() -> None:
    """On tables of 14 lots every bound told on the way is at most the cost proven in the end."""
    for seed in range(10):
        news: list[Progress] = []
        found = run(random_sequence(seed, 14, thick=0.2), news=news)
        assert found.proven
        assert news
        assert all(told.bound <= found.cost <= (told.best or 0) for told in news), f"seed {seed}"


def test_the_same_problem_gives_the_same_order() -> None:
    """Two runs give the same order, reasons and bound."""
    problem = random_sequence(3, 20, thick=0.4)
    one, two = run(problem), run(problem)
    assert replace(one, seconds=0.0) == replace(two, seconds=0.0)


def test_time_is_kept() -> None:
    """With one second for 120 lots without precedence there is an order, a bound, and no second more."""
    module.warm()  # loading and compiling aside
    begun = monotonic()
    found = run(random_sequence(5, 120, thick=0.0), seconds=1.0)
    assert monotonic() - begun < 2.5
    assert 0 < found.bound <= found.cost
    assert not found.interrupted


def test_a_stop_by_hand_returns_the_best_so_far() -> None:
    """Asked to stop at once it returns an order and says that it was interrupted, through `solve` too."""
    problem = random_sequence(5, 40, thick=0.0)
    for engine in (sequence, solve):
        found = engine(problem, Limits(30), lambda _: None, lambda: True)
        assert isinstance(found, Outcome)
        assert found.interrupted
        assert is_order(problem, found.order, found.options)


def test_what_one_engine_leaves_open_the_next_ones_close(monkeypatch: pytest.MonkeyPatch) -> None:
    """With no room for sweeps `solve` still proves the least cost; the news never falls back."""
    _weaken(monkeypatch)
    monkeypatch.setattr(module, "MOST_STATES", 10)
    handed_on = 0
    for seed in range(12):
        problem = random_sequence(seed, 7, thick=0.1)
        news: list[Progress] = []
        found = solve(problem, Limits(20), news.append)
        assert isinstance(found, Outcome)
        assert (found.cost, found.bound) == (least_cost(problem),) * 2, f"seed {seed}"
        bounds = [told.bound for told in news]
        assert bounds == sorted(bounds)
        handed_on += found.engine.startswith("sequence, then")
    assert handed_on


def test_a_circle_is_refused() -> None:
    """Lots that must each come before the other are named."""
    problem = replace(random_sequence(1, 5, thick=0.0), precedence=((0, 1), (1, 0)))
    found = sequence(problem, Limits(5), lambda _: None, lambda: False)
    assert isinstance(found, Impossible)
    assert set(found.lots) == {0, 1}


def test_it_applies_to_one_sequencing_dial_only() -> None:
    """Mates, wishes, options of two lots, holes, flat tables and lots that name no dial are left to other engines."""
    plain = random_sequence(8, 6, thick=0.0)
    dial = replace(plain.dials[0], start=None)
    plain = replace(plain, dials=(dial,))
    unmoved = replace(plain.lots[0], needs={})
    hole = tuple(tuple(None if a != b else 0 for b, _ in enumerate(row)) for a, row in enumerate(dial.move))
    flat = tuple(tuple(int(a != b) for b, _ in enumerate(row)) for a, row in enumerate(dial.move))
    assert applies(plain)
    for other in (
        replace(plain, mates=(Mates(frozenset({0, 1}), frozenset({0})),)),
        replace(plain, wishes=(Wish(0, 1, 1),)),
        replace(plain, choices=((frozenset({0}), frozenset({1, 2})),)),
        replace(plain, dials=(dial, dial)),
        replace(plain, dials=(replace(dial, move=hole),)),
        replace(plain, dials=(replace(dial, move=flat),)),
        replace(plain, lots=(unmoved, *plain.lots[1:])),
    ):
        assert not applies(other)


@published
@pytest.mark.parametrize("name", sorted(OPTIMA))
def test_published_instances_are_proven(name: str) -> None:
    """The cost and the bound are the optimum of the literature."""
    found = run(sop_problem(name), 120)
    assert (found.cost, found.bound) == (OPTIMA[name], OPTIMA[name])


@published
def test_the_published_part_is_proven() -> None:
    """The part with its alternatives costs 833 and its first setup, and no less."""
    least = PART_OPTIMUM + part_first_setup()
    found = run(part_problem(), 120)
    assert (found.cost, found.bound) == (least, least)
