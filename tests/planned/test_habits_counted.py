"""What the usual habits cost, counted for the checker: by hand, and against the counter that tries every value."""

from __future__ import annotations

from pathlib import Path
from random import Random

import pytest

from sequencer import load_job
from sequencer.encoding.encode import encode
from sequencer.pipeline import prepare
from sequencer.planned.habits import habits
from sequencer.planned.habits_counted import count_habits
from tests.bench.begun_job import loaded
from tests.counter import cost_of
from tests.random_jobs import as_toml, random_job, random_shop, with_stops

SHOP = """
[shop]
name = "Invented bench"
unit = "mm"
walk = 1
walks = [{ from = "bench", to = "saw", minutes = 0.25 }]
[[station]]
id = "bench"
[[station]]
id = "saw"
[[station.setting]]
id = "fence"
reset = 2
"""
JOB = """
[job]
name = "j"
unit = "mm"
shop = "shop.toml"
[[operation]]
id = "a"
station = "saw"
parts = ["A"]
minutes_each = 1
settings = { fence = 10 }
[[operation]]
id = "b"
station = "bench"
parts = ["B"]
minutes_each = 1
[[operation]]
id = "c"
station = "saw"
parts = ["B"]
minutes_each = 1
settings = { fence = { min = 8, max = 15 } }
[[operation]]
id = "d"
station = "bench"
parts = ["A"]
minutes_each = 1
[[operation]]
id = "e"
station = "saw"
parts = ["A"]
minutes_each = 1
settings = { fence = 20 }
"""


def counted(folder: Path, job: str, shop: str = SHOP) -> dict[str, tuple[float, int]]:
    """The habits of a job, all of whose operations are made."""
    prepared = prepare(loaded(folder, job, shop))
    listed = prepared.worklist.operations
    return count_habits({op.id: op for op in listed}, listed, prepared.edges, prepared.job.shop)


def test_what_habits_cost_by_hand(tmp_path: Path) -> None:
    """Five minutes of work; the fence is set (2), stays at 10 for c unless e was before it, and is moved for e.

    As listed a b c d e: 4 for the fence, walks 1, 0.25, 1, 0.25. Part by part a d e b c: 6, the same walks. Machine by
    machine from the shop's first, b d a c e: 4, one walk of 0.25.
    """
    assert counted(tmp_path, JOB) == {
        "as listed": (11.5, 2),
        "part by part": (13.5, 3),
        "machine by machine": (9.25, 2),
    }


def test_what_must_wait_is_made_when_it_may(tmp_path: Path) -> None:
    """With b after e: as listed a c d e b, with walks 1, 0.25, 1; part by part as before; d, then a c e, then b by
    machines, with walks 0.25 and 1.
    """
    job = JOB.replace('id = "b"', 'id = "b"\nafter = ["e"]')
    assert counted(tmp_path, job) == {
        "as listed": (11.25, 2),
        "part by part": (13.5, 3),
        "machine by machine": (10.25, 2),
    }


STOPS = """
[shop]
name = "Invented bench"
unit = "mm"
[[station]]
id = "saw"
[[station.setting]]
id = "gauge"
start = 0
reset = 3
stops = [{ value = 0, reset = 0.5 }, { value = 45, reset = 1 }]
[[station.setting]]
id = "stop"
values = [400, 500]
minutes = [[0, 5], [5, 0]]
[[station.setting]]
id = "fence"
reset = 2
stops = [{ value = 12, reset = 1 }]
"""


@pytest.mark.parametrize(
    ("row", "cost"),
    [
        # at the fence's stop, which lies within the range: 1 + 2
        (("fence = { min = 8, max = 15 }", "fence = 30"), (3.0, 2)),
        # the stop reads 400 already, at whatever angle: it is not set anew, so 500 is reached from there, 5;
        # the gauge swings to 45 and back, 1 + 0.5
        (("gauge = 0, stop = 400", "gauge = 45", "stop = 400", "gauge = 0, stop = 500"), (6.5, 4)),
        # set at 0, at 45 and at 0 again, each from no value, which is free; the gauge as before
        (("gauge = 0, stop = 400", "gauge = 45, stop = 500", "gauge = 0, stop = 400"), (1.5, 5)),
    ],
)
def test_a_setting_is_moved_as_cheaply_as_can_be(
    row: tuple[str, ...], cost: tuple[float, int], tmp_path: Path
) -> None:
    """Operations in a row without minutes of their own, worked out by hand."""
    job = '[job]\nname = "j"\nshop = "shop.toml"\n'
    for n, settings in enumerate(row):
        job += f'[[operation]]\nid = "{n}"\nstation = "saw"\nsettings = {{ {settings} }}\n'
    assert counted(tmp_path, job, STOPS)["as listed"] == cost


def test_a_part_is_begun_where_it_is_listed_first_made_or_not(tmp_path: Path) -> None:
    """With an operation on B before all others that is not made, B comes first: b c a d e, the fence at 10 from c on,
    moved for e; walks 0.25, 1, 0.25.
    """
    first = '[[operation]]\nid = "z"\nstation = "saw"\nparts = ["B"]\n[[operation]]\nid = "a"'
    prepared = prepare(loaded(tmp_path, JOB.replace('[[operation]]\nid = "a"', first), SHOP))
    listed = prepared.worklist.operations
    made = {op.id: op for op in listed if op.id != "z"}
    found = count_habits(made, listed, prepared.edges, prepared.job.shop)
    assert found["part by part"] == (10.5, 2)


@pytest.mark.parametrize("seed", range(40))
def test_habits_cost_what_the_counter_finds(seed: int, tmp_path: Path) -> None:
    """The same minutes as the cheapest of all values tried on a fine grid along the same order, mates left out."""
    random = Random(9000 + seed)
    shop, job = random_shop(random), random_job(random, most=10)
    if seed % 2:
        with_stops(random, shop, job)
    job.pop("mates", None)
    job.pop("choice", None)
    (tmp_path / "shop.toml").write_text(as_toml(shop), encoding="utf-8")
    (tmp_path / "job.toml").write_text(as_toml(job), encoding="utf-8")
    prepared = prepare(load_job(tmp_path / "job.toml"))
    listed, edges = prepared.worklist.operations, prepared.edges
    encoded = encode(prepared.worklist, edges, prepared.job.shop)
    found = count_habits({op.id: op for op in listed}, listed, edges, prepared.job.shop)
    orders = {name: order for name, order, _ in habits(encoded.problem, (), encoded.first_parts)}
    assert found.keys() == orders.keys()
    for name, order in orders.items():
        cost = cost_of(shop, job, tuple(listed[lot].id for lot in order))
        assert found[name][0] == pytest.approx(cost, abs=1e-6)
