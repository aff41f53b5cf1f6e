"""The usual habits: each a legal order, none cheaper than the proven plan."""

from __future__ import annotations

from pathlib import Path
from random import Random

import pytest

from sequencer import NoOrderError, load_job
from sequencer.encoding.encode import encode
from sequencer.pipeline import order, prepare
from sequencer.planned.habits import habits, no_dearer
from sequencer.solve.price import is_order, price
from sequencer.solve.problem import Dial, Lot, Mates, Need, Outcome, Problem
from tests.random_jobs import as_toml, random_job, random_shop


@pytest.mark.parametrize("seed", range(20))
def test_habits_are_orders_and_never_cheaper(seed: int, tmp_path: Path) -> None:
    """Every habit keeps precedence, and with no mates to mind none beats a proven plan."""
    random = Random(1000 + seed)
    shop, job = random_shop(random), random_job(random, most=10)
    job.pop("mates", None)
    (tmp_path / "shop.toml").write_text(as_toml(shop), encoding="utf-8")
    (tmp_path / "job.toml").write_text(as_toml(job), encoding="utf-8")
    prepared = prepare(load_job(tmp_path / "job.toml"))
    encoded = encode(prepared.worklist, prepared.edges, prepared.job.shop)
    try:
        plan = order(prepared, 20)
    except NoOrderError:
        pytest.skip("no order exists")
    options = tuple(names.index(plan.choices[name]) for name, names in encoded.choices)
    parts = ["" for _ in encoded.operations]
    found = habits(encoded.problem, options, parts)
    assert [name for name, _, _ in found] == ["as listed", "part by part", "machine by machine"]
    for _, listed, priced in found:
        assert is_order(encoded.problem, listed, options)
        # the options are those of the best plan, so an order of them cannot cost less
        assert encoded.minutes(priced.cost) >= plan.cost_minutes - 1e-9


@pytest.mark.parametrize(
    ("stations", "parts", "before", "orders"),
    [
        ("0110", "ABAB", (), ((0, 1, 2, 3), (0, 2, 1, 3), (0, 3, 1, 2))),
        ("0110", "ABAB", ((3, 0),), ((1, 2, 3, 0), (2, 1, 3, 0), (3, 0, 1, 2))),
        ("011", "ABB", ((1, 0),), ((1, 0, 2), (1, 2, 0), (1, 2, 0))),
    ],
)
def test_what_each_habit_does_next(
    stations: str, parts: str, before: tuple[tuple[int, int], ...], orders: tuple[tuple[int, ...], ...]
) -> None:
    """The first that may be made: of the list, of the part in hand or the one listed first, of the machine where one
    stands or the shop's first. What was begun is gone on with, though an earlier part or machine is free by then."""
    lots = tuple(Lot(str(n), int(station), {}) for n, station in enumerate(stations))
    problem = Problem(lots, (), ((0, 7), (7, 0)), before)
    assert tuple(order for _, order, _ in habits(problem, (), parts)) == orders


def in_two_values(mates: tuple[Mates, ...] = ()) -> Problem:
    """Five lots at one station, at values 0 0 1 1 0 of its one dial; each move costs 3."""
    lots = tuple(Lot(str(n), 0, {0: Need(1 << value, 1 << value)}) for n, value in enumerate((0, 0, 1, 1, 0)))
    return Problem(lots, (Dial("fence", 0, ((0, 3), (3, 0)), (3, 3)),), ((0,),), (), mates=mates)


def test_a_search_cut_short_is_no_dearer_than_a_habit() -> None:
    """As listed the dial moves 3 times (9); an order that moves it 5 times (15) is not handed out, unless proven."""
    problem, parts = in_two_values(), ("",) * 5
    poor = Outcome((0, 2, 1, 3, 4), (), 15, 4)
    assert price(problem, poor.order).cost == poor.cost
    better = no_dearer(problem, poor, parts)
    assert (better.order, better.cost, better.bound) == ((0, 1, 2, 3, 4), 9, 4)
    good = Outcome((0, 1, 4, 2, 3), (), 6, 4)
    assert no_dearer(problem, good, parts) == good


def test_a_habit_that_mates_forbid_is_no_plan() -> None:
    """Lots 1 and 4 with no move between them: as listed the dial moves between them, so the dearer order stays."""
    problem = in_two_values((Mates(frozenset({1, 4}), frozenset({0})),))
    poor = Outcome((0, 2, 1, 4, 3), (), 12, 4)
    assert price(problem, poor.order).cost == poor.cost
    assert no_dearer(problem, poor, ("",) * 5) == poor
