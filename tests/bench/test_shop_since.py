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
