"""What a plan says besides its order: what still stands on a card, readings in the job's unit, cost beside preferences.

Everything is worked out by hand.
"""

from __future__ import annotations

from pathlib import Path

from sequencer import plan
from sequencer.encoding.encode import encode
from sequencer.operations import Edge
from sequencer.pipeline import prepare
from sequencer.planned.draw_up import draw_up
from sequencer.solve.problem import Outcome
from tests.bench.begun_job import loaded

STATIONS = """
[shop]
name = "Invented bench"
unit = "mm"
walk = 1
[[station]]
id = "bench"
[[station]]
id = "saw"
[[station.setting]]
id = "tilt"
"""
HEAD = '[job]\nname = "j"\nunit = "mm"\nshop = "shop.toml"\n'


def test_a_card_does_not_show_what_was_lost_on_leaving(tmp_path: Path) -> None:
    """The fence does not keep its place: back at the saw nobody may rely on it, while the tilt still stands."""
    shop = STATIONS + 'start = 0\nreset = 2\n[[station.setting]]\nid = "fence"\nreset = 1\nkeeps = false\n'
    job = HEAD + (
        '[[operation]]\nid = "rip"\nstation = "saw"\nsettings = { tilt = 10, fence = 100 }\n'
        '[[operation]]\nid = "mark"\nstation = "bench"\nafter = ["rip"]\n'
        '[[operation]]\nid = "trim"\nstation = "saw"\nsettings = { tilt = 10 }\nafter = ["mark"]\n'
    )
    found = plan(loaded(tmp_path, job, shop), time_limit=10)
    assert [setup.settings for setup in found.setups] == [{"tilt": 10, "fence": 100}, {}, {"tilt": 10}]


def test_lengths_of_the_shop_are_told_in_the_unit_of_the_job(tmp_path: Path) -> None:
    """254 mm are 10 in, 508 mm are 20 in, 0.254 mm are 0.01 in; degrees are degrees."""
    shop = STATIONS + (
        "start = 45\nreset = 2\ntolerance = 0.5\n"
        '[[station.setting]]\nid = "fence"\nstart = 254\nreset = 1\ntolerance = 0.254\n'
        '[[station.setting]]\nid = "stop"\nmeasured_at = "fence"\nstart = 508\nreset = 1\n'
    )
    job = HEAD.replace('unit = "mm"', 'unit = "in"') + (
        '[[operation]]\nid = "rip"\nstation = "saw"\nsettings = { tilt = 45, fence = 10, stop = 20 }\n'
    )
    found = plan(loaded(tmp_path, job, shop), time_limit=10)
    assert found.begins == {"saw.tilt": 45, "saw.fence": 10, "saw.stop": 20}
    assert found.begins_at == {"saw.stop": 10}
    (saw,) = (station for station in found.stations if station.id == "saw")
    assert saw.tolerances == {"tilt": 0.5, "fence": 0.01}
    assert found.steps[0].settings == {"tilt": 45, "fence": 10, "stop": 20}
    assert found.reset_count == 0


def test_the_price_of_a_broken_preference_is_in_no_minutes(tmp_path: Path) -> None:
    """One reset (10), one walk (1) and work (2 + 3 + 1) are 17 minutes, by each habit, too. That the mitre comes second
    is weighed with 5 more: of 20 that are proven, 15 are minutes."""
    job = loaded(
        tmp_path,
        HEAD
        + '[[operation]]\nid = "square"\nstation = "saw"\nminutes_each = 2\nsettings = { tilt = 0 }\n'
        + '[[operation]]\nid = "mitre"\nstation = "saw"\nminutes_each = 3\nsettings = { tilt = 45 }\n'
        + '[[operation]]\nid = "wax"\nstation = "bench"\nminutes_each = 1\nafter = ["square", "mitre"]\n',
        STATIONS + "start = 0\nreset = 10\n",
    )
    prepared = prepare(job)
    rather = Edge(before="mitre", after="square", rule="own", why="w", strength="prefer", price_minutes=5)
    edges = (*prepared.edges, rather)
    encoded = encode(prepared.worklist, edges, job.shop)
    cost, bound = (int(minutes * encoded.minute) for minutes in (22, 20))
    found = draw_up(job, prepared.worklist, edges, encoded, Outcome((0, 1, 2), (), cost, bound))
    assert (found.cost_minutes, found.bound_minutes, found.preference_minutes) == (17, 15, 5)
    assert (found.reset_minutes, found.walk_minutes, found.work_minutes) == (10, 1, 6)
    assert found.status == "feasible"
    assert {(habit.cost_minutes, habit.reset_count) for habit in found.habits} == {(17, 1)}
    assert [edge.kept for edge in found.precedence if edge.rule == "own"] == [False]
