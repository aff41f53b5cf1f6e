"""A stop clamped to a pivoting gauge is good only at the gauge's angle it was set at.

Geometry: swung by an angle a, a stop p from the blade along the square fence stands p / cos a from it. That the gauge,
swung back to where it was, brings the stop back, too, is common practice, no source.
"""

from __future__ import annotations

import json
import re
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from rich.console import Console

from sequencer import InputError, NoOrderError, load_job, plan
from sequencer.bench.happened import Happened, told
from sequencer.bench.remainder import replan
from sequencer.cards.setup_cards import SettingLine, cards
from sequencer.files import read_plan
from sequencer.model.job import Job
from sequencer.pipeline import order, prepare
from sequencer.planfile import Plan
from sequencer.planned.recount import RecountError, recount
from sequencer.report.terminal import print_cards, print_steps

SHOP = """
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
tolerance = 0.02
[[station.setting]]
id = "stop"
name = "length stop"
reset = 2
[[station.setting]]
id = "fence"
reset = 1
[[station]]
id = "bench"
"""


def load(folder: Path, *settings: str, shop: str = SHOP, more: str = "", free: bool = False) -> Job:
    """A job of operations with these settings at the saw, each after the one before, unless they are `free`."""
    text = '[job]\nname = "j"\nunit = "mm"\nshop = "shop.toml"\n'
    for n, each in enumerate(settings, 1):
        text += f'[[operation]]\nid = "op{n}"\nstation = "saw"\nsettings = {{ {each} }}\n'
        text += f'after = ["op{n - 1}"]\n' if n > 1 and not free else ""
    (folder / "shop.toml").write_text(shop, encoding="utf-8")
    (folder / "job.toml").write_text(text + more, encoding="utf-8")
    return load_job(folder / "job.toml")


def ordered(*args: Any, **more: Any) -> Plan:
    """The plan of such a job."""
    return plan(load(*args, **more), time_limit=10)


def moved(found: Plan, setting: str = "stop") -> list[tuple[int, object, object, float]]:
    """(step, from, to, minutes) of each reset of a setting."""
    return [
        (n, reset.from_, reset.to, reset.minutes)
        for n, step in enumerate(found.steps, 1)
        for reset in step.resets
        if reset.setting == setting
    ]


def line(found: Plan, card: int, setting: str = "stop") -> SettingLine:
    """What a card, counted from 1, says of a setting."""
    return next(each for each in cards(found)[card - 1].settings if each.setting == setting)


def words(found: Plan, write: Any) -> str:
    """What is printed of a plan, as words with single blanks."""
    out = StringIO()
    write(found, Console(file=out, width=120, force_terminal=False))
    return re.sub(r"\s+", " ", out.getvalue())


SQUARE, MITRE = "gauge = 0, stop = 400", "gauge = 45, stop = 400"


def test_the_same_length_at_another_angle_is_set(tmp_path: Path) -> None:
    """Set once at each angle: 2 + 2 minutes, and 1 for the gauge; the card says so, and at what it was."""
    found = ordered(tmp_path, SQUARE, MITRE)
    assert moved(found) == [(1, None, 400, 2), (2, 400, 400, 2)]
    assert (found.cost_minutes, found.bound_minutes, found.status) == (5, 5, "optimal")
    second = line(found, 2)
    assert (second.change, second.value, second.was) == ("changed", "400 mm", "400 mm at gauge 0°")
    assert second.how == ("measured with gauge 45°",)
    assert line(found, 1).how == ()
    assert "length stop 400 mm CHANGED from 400 mm at gauge 0° (2 min)" in words(found, print_cards)
    assert "length stop 400 mm at gauge 0° → 400 mm" in words(found, print_steps)
    assert any(re.search(r"400 mm at 0° .*400 mm at 45° ", reason.why) for reason in found.reasons)


def test_swung_away_and_back_it_is_as_before(tmp_path: Path) -> None:
    """The third step is at the same detent as the first; the card in between says at what angle the stop was set."""
    found = ordered(tmp_path, SQUARE, "gauge = 45", SQUARE)
    assert moved(found) == [(1, None, 400, 2)]
    assert found.cost_minutes == 2 + 1 + 0.5
    assert (line(found, 2).change, line(found, 2).value) == ("idle", "400 mm at gauge 0°")
    last = line(found, 3)
    assert (last.change, last.value, last.since) == ("stays", "400 mm", 1)
    assert [each.until for each in cards(found)[0].leaves if each.name == "length stop"] == [3]
    nearly = ordered(tmp_path, SQUARE, "gauge = 45", "gauge = 0.01, stop = 400")
    assert (line(nearly, 3).change, line(nearly, 3).value) == ("stays", "400 mm")  # good at this angle, too


def test_at_which_angle_is_told_only_where_the_gauge_stands_otherwise(tmp_path: Path) -> None:
    """The gauge stays at 0: neither the stop that is not needed nor the one that is moved is told with it."""
    found = ordered(tmp_path, SQUARE, "fence = 9", "gauge = 0, stop = 500")
    idle, longer = line(found, 2), line(found, 3)
    assert (idle.change, idle.value) == ("idle", "400 mm")
    assert (longer.change, longer.value, longer.was, longer.how) == ("changed", "500 mm", "400 mm", ())


def test_what_is_set_at_one_angle_is_made_there_first(tmp_path: Path) -> None:
    """Of four cuts in any order those of one angle go together, and the stop is set once at each."""
    found = ordered(tmp_path, SQUARE, MITRE, SQUARE, MITRE, free=True)
    assert len(moved(found)) == 2
    assert found.cost_minutes == 2 + 1 + 2


@pytest.mark.parametrize(("angle", "sets"), [(0.01, 1), (0.03, 2)])
def test_angles_within_tolerance_are_one(angle: float, sets: int, tmp_path: Path) -> None:
    """0.02 degrees either way are one setting of the gauge."""
    assert len(moved(ordered(tmp_path, SQUARE, f"gauge = {angle}, stop = 400"))) == sets


def test_where_the_gauge_is_left_open(tmp_path: Path) -> None:
    """What asks for no angle takes the stop as set at any; set for it, nobody knows the angle."""
    assert len(moved(ordered(tmp_path, MITRE, "stop = 400"))) == 1
    assert line(ordered(tmp_path, MITRE, "gauge = 0", "stop = 400"), 2).value == "400 mm at gauge 45°"
    found = ordered(tmp_path, "stop = 400", SQUARE)
    assert [each[0] for each in moved(found)] == [1, 2]
    assert line(found, 2).was == "400 mm, gauge not told"
    assert line(found, 2).how == ("measured with gauge 0°",)  # where it has stood all the time
    assert len(moved(ordered(tmp_path, "stop = 400", "gauge = 45", "stop = 400"))) == 1


@pytest.mark.parametrize("prices", ["reset = 0", "values = [400, 500]\nminutes = [[0, 5], [5, 0]]"])
def test_a_stop_that_reads_what_is_asked_is_not_set_anew(prices: str, tmp_path: Path) -> None:
    """Neither where that would cost nothing, nor where it would make the next move one from no value, which is free."""
    shop = SHOP.replace('name = "length stop"\nreset = 2', f'name = "length stop"\n{prices}')
    assert shop != SHOP
    found = ordered(tmp_path, SQUARE, "gauge = 45", "stop = 400", "gauge = 0, stop = 500", shop=shop)
    assert [each[:3] for each in moved(found)] == [(1, None, 400.0), (4, 400.0, 500.0)]


@pytest.mark.parametrize(("asked", "sets"), [(SQUARE, 0), (MITRE, 1), ("stop = 400", 0)])
@pytest.mark.parametrize("known", [True, False])
def test_the_start_is_at_the_angle_the_gauge_starts_at(
    asked: str, sets: int, known: bool, tmp_path: Path
) -> None:
    """Where that is unknown, the stop's reading is good for what asks for no angle only."""
    shop = SHOP.replace('id = "stop"', 'id = "stop"\nstart = 400')
    shop = shop if known else shop.replace("start = 0\nreset = 3", "reset = 3")
    expected = sets if known else int("gauge" in asked)
    assert len(moved(ordered(tmp_path, asked, shop=shop))) == expected


def test_a_shop_may_say_otherwise(tmp_path: Path) -> None:
    """A stop on a fence of its own does not swing; one that follows the rip fence may be told, too."""
    alone = SHOP.replace('id = "stop"', 'id = "stop"\nmeasured_at = ""')
    assert len(moved(ordered(tmp_path, SQUARE, MITRE, shop=alone))) == 1
    on_fence = SHOP.replace('id = "stop"', 'id = "stop"\nmeasured_at = "fence"')
    found = ordered(tmp_path, "fence = 10, stop = 400", "fence = 20, stop = 400", MITRE, shop=on_fence)
    assert [each[0] for each in moved(found)] == [1, 2]
    assert line(found, 2).was == "400 mm at fence 10 mm"


def test_a_table_is_read_by_the_readings(tmp_path: Path) -> None:
    """At one angle the table's minutes; at another one those for a stop that was not set."""
    table = 'id = "stop"\nvalues = [300, 400]\nminutes = [[0, 7], [9, 0]]\nfirst = [4, 5]'
    shop = SHOP.replace('id = "stop"\nname = "length stop"\nreset = 2', table)
    found = ordered(tmp_path, "gauge = 0, stop = 300", SQUARE, MITRE, "gauge = 45, stop = 300", shop=shop)
    assert [each[3] for each in moved(found)] == [4, 7, 5, 9]


def test_mates_that_hold_the_stop_at_two_angles_agree_on_nothing(tmp_path: Path) -> None:
    """One length, two angles: no order leaves the stop alone between them."""
    mates = '[[mates]]\noperations = ["op1", "op2"]\nhold = ["saw.stop"]\n'
    with pytest.raises(NoOrderError) as caught:
        ordered(tmp_path, SQUARE, MITRE, more=mates)
    says = str(caught.value)
    assert '"op1" asks for 400 mm at gauge 0°' in says
    assert '"op2" asks for 400 mm at gauge 45°' in says
    assert (
        ordered(tmp_path, SQUARE, "gauge = 0, stop = { min = 390, max = 410 }", more=mates).cost_minutes == 2
    )


@pytest.mark.parametrize("asked", ["{ any = [0, 45] }", "{ min = 44, max = 46 }"])
def test_several_angles_beside_a_stop_are_refused(asked: str, tmp_path: Path) -> None:
    """A length is measured at one; alternatives are operations of a choice."""
    with pytest.raises(InputError) as caught:
        load(tmp_path, f"gauge = {asked}, stop = 400")
    (fault,) = caught.value.faults
    assert (fault.line, fault.where) == (8, 'operation "op1"')
    assert fault.message == "settings.gauge must be one value: stop is measured at it"
    assert fault.accepted == "one value, or an operation for each of several, in the options of a [[choice]]"
    load(tmp_path, f"gauge = {asked}", "gauge = { any = [45] }, stop = 400")


def test_the_checker_refuses_a_stop_left_standing_after_a_swing(tmp_path: Path) -> None:
    """The plan as it was drawn up before: 400 mm stays, although the gauge has moved."""
    prepared = prepare(load(tmp_path, SQUARE, MITRE))
    found = order(prepared, 10)
    first, second = found.steps
    kept = second.model_copy(update={"resets": tuple(r for r in second.resets if r.setting != "stop")})
    sums = {"cost_minutes": 3, "bound_minutes": 3, "reset_minutes": 3, "reset_count": 2}
    wrong = found.model_copy(update={"steps": (first, kept), **sums})
    with pytest.raises(RecountError, match="stop was not set with gauge at 45"):
        recount(wrong, prepared.worklist, prepared.edges, prepared.job.shop)


def test_a_plan_gone_on_with_knows_at_what_angle_the_stop_was_set(tmp_path: Path) -> None:
    """After the second step the gauge stands at 45, the stop still as set at 0: to be set for the mitre, as before for
    the square cut. Going on twice says the same."""
    job = load(tmp_path, SQUARE, "gauge = 45", MITRE, SQUARE)
    first = plan(job, time_limit=10)
    assert first.cost_minutes == 2 + 1 + 2 + 0.5 + 2
    rest = replan(job, first, Happened(2), 10)
    assert (rest.begins, rest.begins_at) == ({"saw.gauge": 45, "saw.stop": 400}, {"saw.stop": 0})
    assert moved(rest) == [(1, 400, 400, 2), (2, 400, 400, 2)]
    assert line(rest, 1).was == "400 mm at gauge 0°"
    assert first.begins_at == {}
    job = load(tmp_path, SQUARE, "gauge = 45", "gauge = 45, fence = 3", SQUARE)
    first = plan(job, time_limit=10)
    (tmp_path / "rest.json").write_text(replan(job, first, Happened(2), 10).model_dump_json())
    for rest in (replan(job, first, Happened(2), 10), read_plan(tmp_path / "rest.json")):
        again = replan(job, rest, Happened(1), 10)
        assert (moved(again), again.cost_minutes) == ([], 0.5)
        assert again.begins_at == {"saw.stop": 0}


@pytest.mark.parametrize(
    ("say", "sets"), [("saw.stop=400", 0), ("saw.stop", 1), ("saw.stop=401", 1), ("saw.gauge", 1)]
)
def test_a_stop_that_is_told_stands_at_the_angle_of_the_gauge(say: str, sets: int, tmp_path: Path) -> None:
    """The gauge was left at 45: there the stop reads what is told. A gauge knocked is set again, and the stop set at
    another angle with it."""
    job = load(tmp_path, SQUARE, "gauge = 45", MITRE)
    first = plan(job, time_limit=10)
    rest = replan(job, first, told(job, first, 2, moved=[say]), 10)
    assert len(moved(rest)) == sets
    assert len(moved(rest, "gauge")) == (say == "saw.gauge")


def test_a_plan_file_without_angles_is_read(tmp_path: Path) -> None:
    """An earlier file says nothing of where stops were measured: its cards are as they were, and it is gone on with
    from what its steps asked for."""
    job = load(tmp_path, SQUARE, "gauge = 45", SQUARE, MITRE)
    raw = json.loads(plan(job, time_limit=10).model_dump_json())
    del raw["begins_at"]
    for station in raw["stations"]:
        del station["measured_at"]
    (tmp_path / "old.json").write_text(json.dumps(raw), encoding="utf-8")
    old = read_plan(tmp_path / "old.json")
    assert line(old, 2).value == "400 mm"
    rest = replan(job, old, Happened(2), 10)
    assert [each[0] for each in moved(rest)] == [2]


@pytest.mark.parametrize(("skipped", "sets"), [((), [(1, 400, 400, 2)]), ((3,), [])])
def test_a_stop_set_anew_to_the_same_reading(
    skipped: tuple[int, ...], sets: list[tuple[int, object, object, float]], tmp_path: Path
) -> None:
    """The plan has the stop set to 400 mm at square, and then to 400 mm once more, where the gauge is left open: after
    that nobody knows its angle, and it is set for the next cut at square. Were that step skipped, it would stand."""
    job = load(tmp_path, SQUARE, "gauge = 30", "fence = 10, stop = 400", SQUARE)
    raw = json.loads(plan(job, time_limit=10).model_dump_json())
    for index in (2, 3):
        resets = raw["steps"][index]["resets"]
        assert [reset["setting"] for reset in resets] == [["fence"], ["gauge"]][index - 2]
        resets.append({"setting": "stop", "from": 400, "to": 400, "minutes": 0})
        raw["setups"][index]["resets"] = resets
        raw["reset_count"] += 1
    (tmp_path / "plan.json").write_text(json.dumps(raw), encoding="utf-8")
    rest = replan(job, read_plan(tmp_path / "plan.json"), Happened(3, skipped=frozenset(skipped)), 10)
    assert moved(rest) == sets
    assert (rest.begins or {})["saw.stop"] == 400
    assert rest.begins_at == ({"saw.stop": 0} if skipped else {})


def test_a_plan_file_with_several_angles_is_refused(tmp_path: Path) -> None:
    """No job can ask so any longer; an earlier plan may."""
    job = load(tmp_path, SQUARE, MITRE)
    raw = json.loads(plan(job, time_limit=10).model_dump_json())
    raw["operations"][1]["settings"]["gauge"] = {"any": [0, 45]}
    (tmp_path / "old.json").write_text(json.dumps(raw), encoding="utf-8")
    with pytest.raises(InputError) as caught:
        replan(job, read_plan(tmp_path / "old.json"), Happened(1), 10)
    (fault,) = caught.value.faults
    assert '"op2": must be one value: stop is measured at it' in fault.message


@pytest.mark.parametrize(
    "change",
    [
        {"begins_at": {"saw.stop": "steep", "saw.heat": 3, "forge": 1}},
        {"begins_at": {"saw.stop": 7}},
        {"begins_at": None, "begins": None},
    ],
)
def test_a_strange_plan_file_is_no_reason_to_stumble(change: dict[str, Any], tmp_path: Path) -> None:
    """Angles that the shop does not know, and settings measured at what is not there."""
    job = load(tmp_path, SQUARE, MITRE)
    raw = json.loads(plan(job, time_limit=10).model_dump_json()) | change
    raw["stations"][0]["measured_at"] = {"stop": "swivel", "fence": "stop", "heat": "gauge"}
    (tmp_path / "plan.json").write_text(json.dumps(raw), encoding="utf-8")
    found = read_plan(tmp_path / "plan.json")
    assert words(found, print_cards)
    assert len(moved(replan(job, found, Happened(1), 10))) == 1


def test_picture_frames_set_the_stop_for_each_length_at_each_angle() -> None:
    """Rails of 20 and 16 in, sawn square and mitred: four places of the stop, a minute each.

    The other resets: thickness 1.5, rip fence 1, blade height 0.5, gauge to its detent 1; router bit 3, fence and
    height 1 each; cutter 2, two slot lengths 0.5 each, fence height 1.5, depth 0.5. The mill, the saw, the router, the
    saw again, the mortiser and the bench: four walks of 1 and one of 0.5.
    """
    found = plan(
        load_job(Path(__file__).parents[1] / "examples" / "picture-frames" / "job.toml"), time_limit=20
    )
    gauge, places = 0.0, []
    for step in found.steps:
        for reset in step.resets:
            if step.station == "saw" and reset.setting == "gauge":
                gauge = reset.to
        places += [(reset.to, gauge, reset.minutes) for reset in step.resets if reset.setting == "stop"]
    assert sorted(places) == [(16, 0, 1), (16, 45, 1), (20, 0, 1), (20, 45, 1)]
    saw, router, mortiser = 1 + 0.5 + 1 + 4, 3 + 1 + 1, 2 + 2 * 0.5 + 1.5 + 0.5
    assert found.reset_minutes == 1.5 + saw + router + mortiser
    assert found.walk_minutes == 4 + 0.5
    assert found.status == "optimal"
    mitre = next(card for card in cards(found) if any("mitre the" in work.what for work in card.work))
    stop = next(each for each in mitre.settings if each.setting == "stop")
    assert stop.change == "changed"
    assert stop.how == (
        "along the gauge's fence, from the blade (at the long point) to the square end of the board",
    )
