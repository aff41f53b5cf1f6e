"""A plan gone on with in a shop whose file says more by then: what is said of the shop is true of that one."""

import json

import pytest

from sequencer import load_job, plan
from sequencer.bench.happened import Happened
from sequencer.bench.remainder import replan
from sequencer.files import read_plan

SHOP = """
[shop]
name = "s"
[[station]]
id = "saw"
[[station.setting]]
id = "tilt"
reset = 4
[[station.setting]]
id = "fence"
reset = 1
tolerance = {tolerance}
[[station.setting]]
id = "stop"
reset = 1
{more}
[[station]]
id = "mortiser"
[[station.setting]]
id = "cutter"
reset = 1
[[station]]
id = "bench"
"""
HEIGHT = '[[station.setting]]\nid = "height"\nreset = 1\n'
JOB = """
[job]
name = "j"
shop = "shop.toml"
[[part]]
id = "side"
quantity = 4
length = 200
width = 120
thickness = 16
stock = "planed"
[[joint]]
id = "slot"
kind = "groove"
parts = ["side"]
from = 8
width = 6
depth = 5
[[operation]]
id = "oil"
station = "bench"
part = "side"
quantity = 4
after = ["rip-side", "crosscut-side", "slot-groove-side"]
"""


@pytest.fixture
def in_shop(tmp_path):
    """A function that loads the job in a shop whose saw has more settings, and a fence of this tolerance."""

    def load(more, tolerance=0.05, begun=False):
        (tmp_path / "shop.toml").write_text(SHOP.format(more=more, tolerance=tolerance))
        (tmp_path / "job.toml").write_text(JOB)
        return load_job(tmp_path / "job.toml", begun=begun)

    return load


def of_the_saw(found):
    """What a plan remarks of the saw's settings."""
    return [remark for remark in found.remarks if '"height"' in remark]


def test_a_setting_the_shop_file_has_by_then_is_said_to_be_new(in_shop, tmp_path):
    """The cards still tell it besides, since the plan was made without it; whether it is there is told truly, in the
    rest of the rest, too, and while the shop file lacks it the remark stays as it was."""
    first = plan(in_shop(""), time_limit=2)
    (said,) = of_the_saw(first)
    assert said.startswith('"saw" has no setting "height"')
    lacking = replan(in_shop("", begun=True), first, Happened(1))
    assert of_the_saw(lacking)[0].startswith('"saw" has no setting')
    rest = replan(in_shop(HEIGHT, begun=True), first, Happened(1))
    (now,) = of_the_saw(rest)
    assert now.startswith('"saw" had no setting "height" in the shop file that this was planned by')
    assert any("height" in operation.set_too for operation in rest.operations)
    (tmp_path / "rest.json").write_text(rest.model_dump_json())
    again = replan(in_shop(HEIGHT, begun=True), read_plan(tmp_path / "rest.json"), Happened(0))
    assert of_the_saw(again) == [now]
    back = replan(in_shop("", begun=True), read_plan(tmp_path / "rest.json"), Happened(0))
    assert of_the_saw(back)[0].startswith('"saw" has no setting')


def test_what_no_step_left_is_set_to_is_not_spoken_of(in_shop):
    """Once all that asks for the height is made."""
    first = plan(in_shop(""), time_limit=2)
    asks = [bool(op.set_too) for step in first.steps for op in first.operations if op.id == step.operation]
    last = max(n for n, each in enumerate(asks, 1) if each)
    assert last < len(first.steps)
    assert not of_the_saw(replan(in_shop("", begun=True), first, Happened(last)))


def test_a_file_that_does_not_say_what_is_set_besides_keeps_its_remark(in_shop, tmp_path):
    """Of an earlier plan file nothing better is known."""
    told = json.loads(plan(in_shop(""), time_limit=2).model_dump_json())
    for operation in told["operations"]:
        operation.pop("set_too", None)
    (tmp_path / "old.json").write_text(json.dumps(told))
    rest = replan(in_shop(HEIGHT, begun=True), read_plan(tmp_path / "old.json"), Happened(1))
    assert of_the_saw(rest) == [remark for remark in told["remarks"] if '"height"' in remark]


def test_a_tolerance_made_finer_is_remarked_no_more(in_shop):
    """A rip is held to 0.1 mm, a groove's place to 0.2."""
    first = plan(in_shop(HEIGHT, 0.5), time_limit=2)
    coarse = [remark for remark in first.remarks if remark.startswith("the tolerance of")]
    assert len(coarse) == 1
    kept = replan(in_shop(HEIGHT, 0.5, begun=True), first, Happened(1))
    assert [remark for remark in kept.remarks if remark.startswith("the tolerance of")]
    finer = replan(in_shop(HEIGHT, 0.05, begun=True), first, Happened(1))
    assert not [remark for remark in finer.remarks if remark.startswith("the tolerance of")]


def test_a_tolerance_made_coarser_is_remarked(in_shop):
    """Nothing was said of it when the plan was made; a card may by now leave the fence 2 mm off."""
    first = plan(in_shop(HEIGHT), time_limit=2)
    assert not [remark for remark in first.remarks if remark.startswith("the tolerance of")]
    coarser = replan(in_shop(HEIGHT, 2, begun=True), first, Happened(1))
    assert [
        remark for remark in coarser.remarks if "the tolerance of the fence" in remark and "2 mm" in remark
    ]


ANGLED = """
[shop]
name = "s"
[joinery]
near_stop = 1
[[station]]
id = "saw"
[[station.setting]]
id = "tilt"
reset = 4
stops = [{{ value = {stop}, reset = 1 }}]
[[station.setting]]
id = "gauge"
reset = 1
[[station.setting]]
id = "blade"
measures = "name"
values = [{blades}]
reset = 3
[[station]]
id = "mortiser"
[[station.setting]]
id = "fence_angle"
reset = 2
[[station.setting]]
id = "fence_height"
reset = 1
[[station]]
id = "router"
[[station.setting]]
id = "bit"
measures = "name"
values = [{bits}]
reset = 1
[[station]]
id = "bench"
"""
SPLAYED = """
[job]
name = "j"
shop = "shop.toml"
[[part]]
id = "side"
quantity = 4
length = 400
width = 120
thickness = 18
stock = "planed"
[[joint]]
id = "corner"
kind = "splayed"
parts = ["side"]
sides = 4
slope = 86
[[joint]]
id = "slot"
kind = "groove"
parts = ["side"]
from = 60
width = 6
depth = 4
"""


@pytest.fixture
def splayed(tmp_path):
    """A function that loads a splayed box, whose ends are sawn at a tilt of 44.86°, in a shop with this stop of the
    tilt, these blades and bits."""

    def load(stop=45, blades='"fine 60"', bits='"straight-6", "straight 6,35"', begun=False):
        (tmp_path / "shop.toml").write_text(ANGLED.format(stop=stop, blades=blades, bits=bits))
        (tmp_path / "job.toml").write_text(SPLAYED)
        return load_job(tmp_path / "job.toml", begun=begun)

    return load


def said_of(found, word):
    """What a plan remarks with this word, and the cautions with it."""
    notes = [operation.notes for operation in found.operations]
    cautions = {caution.says for note in notes for caution in note.cautions if word in caution.says}
    return [remark for remark in found.remarks if word in remark], cautions


@pytest.mark.parametrize("stop", [45, 45.5, 44, 30])
def test_angles_near_a_stop_are_told_of_the_stops_there_are(splayed, stop):
    """In remarks and on cards, also where the shop that the job was planned in had none there."""
    for planned_by in (45, 20):
        first = plan(splayed(planned_by), time_limit=2)
        rest = replan(splayed(stop, begun=True), first, Happened(1))
        remarks, cautions = said_of(rest, "near the positive stop")
        near = abs(stop - 44.8606) <= 1
        assert (
            remarks
            == [f"corner: tilt 44.86° is near the positive stop at {stop}°; it is a setting of its own"]
            * near
        )
        assert [says.partition(": ")[0] for says in cautions] == [
            f"tilt 44.86° is near the positive stop at {stop}°"
        ] * near


def test_angles_of_what_is_made_are_spoken_of_no_more(splayed):
    """Once every end is sawn."""
    first = plan(splayed(), time_limit=2)
    sawn = max(n for n, step in enumerate(first.steps, 1) if step.settings.get("tilt", 0) > 0)
    assert said_of(replan(splayed(begun=True), first, Happened(1)), "near the positive stop")[0]
    assert not said_of(replan(splayed(begun=True), first, Happened(sawn)), "near the positive stop")[0]


def test_blades_are_said_to_have_had_no_such_names(splayed):
    """Where the shop file names one by now; where it does so no longer, the remark is as it was."""
    first = plan(splayed(), time_limit=2)
    (said,), _ = said_of(first, "no blade")
    assert (
        said == 'no blade of the saw is named "rip", "crosscut" or "combination": every cut takes "fine 60"'
    )
    named = replan(splayed(blades='"fine 60", "combination"', begun=True), first, Happened(1))
    (since,), _ = said_of(named, "no blade")
    assert since == (
        'no blade of the saw was named "rip", "crosscut" or "combination" in the shop file that this was planned by: '
        'every cut takes "fine 60"'
    )
    assert said_of(replan(splayed(begun=True), named, Happened(0)), "no blade")[0] == [said]


def test_a_bit_that_is_there_no_more_is_not_spoken_of(splayed):
    """Whose name tells no width: while it is there, that is said."""
    first = plan(splayed(), time_limit=2)
    (said,), _ = said_of(first, "how wide the bit")
    assert said.startswith('how wide the bit "straight 6,35" is its name does not tell')
    assert said_of(replan(splayed(begun=True), first, Happened(1)), "how wide the bit")[0] == [said]
    gone = replan(splayed(bits='"straight-6"', begun=True), first, Happened(1))
    assert not said_of(gone, "how wide the bit")[0]
