"""The slips of a plan gone on with: those still to be had, on the sheet and in the remarks.

Counts are worked out by hand: how many slips a corner takes, and how many corners a piece meets others at.
"""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path

import pytest

from sequencer import InputError, load_job, plan
from sequencer.files import read_plan
from sequencer.happened import Happened
from sequencer.model.job import Job
from sequencer.planfile import Plan
from sequencer.remainder import replan
from sequencer.report.stocklist import slips

ROOT = Path(__file__).parent.parent


@cache
def example(name: str) -> tuple[Job, Plan]:
    """An example and its plan."""
    job = load_job(ROOT / "examples" / name / "job.toml")
    return job, plan(job, time_limit=20)


def made(found: Plan, operation: str) -> int:
    """How many steps are made when this one is."""
    return 1 + [step.operation for step in found.steps].index(operation)


def listed(found: Plan) -> dict[str, int]:
    """Slips by joint as the sheet has them; the remarks say the same."""
    rows = {row.joint: row.count for row in slips(found)}
    told = [
        remark.partition(" slips of ")[0].rpartition(": ") for remark in found.remarks if "slips" in remark
    ]
    assert {label.partition(" (")[0]: int(count) for label, _, count in told} == rows
    return rows


def test_slips_are_there_once_their_joint_was_put_together() -> None:
    """Eight large and eight small boxes have four corners each, eight lids four; a corner takes two slips, one of a lid
    one."""
    job, first = example("tea-boxes")
    whole = {"large corner": 64, "small corner": 64, "lid": 32}
    assert listed(first) == whole
    joints = {
        "dry-fit-small-box": "small corner",
        "dry-fit-lid": "lid",
        "dry-fit-large-box": "large corner",
    }
    for fit, joint in sorted(joints.items(), key=lambda each: made(first, each[0])):
        before = replan(job, first, Happened(made(first, fit) - 1), 20)
        assert listed(before) == whole
        del whole[joint]
        if made(first, fit) < len(first.steps) - 1:
            assert listed(replan(job, first, Happened(made(first, fit)), 20)) == whole


def test_new_pieces_take_slips_where_they_meet_others() -> None:
    """Each side of a box meets another at both ends, with two slips at each; a new side spoiled before it was fitted
    takes those that its forerunner was to take."""
    job, first = example("mitred-box")
    fit = made(first, "dry-fit-corner")
    assert listed(replan(job, first, Happened(fit - 1, spoiled={"side": 1}), 20)) == {"corner": 32}
    assert listed(replan(job, first, Happened(fit), 20)) == {}
    assert listed(replan(job, first, Happened(fit, spoiled={"bottom": 1}), 20)) == {}
    one = replan(job, first, Happened(fit, spoiled={"side": 1}), 20)
    assert listed(one) == {"corner": 4}
    assert listed(replan(job, one, Happened(2, spoiled={"side (remade)": 1}), 20)) == {"corner": 4}
    assert listed(replan(job, one, Happened(2, spoiled={"side": 2}), 20)) == {"corner": 12}
    fitted = replan(job, one, Happened(made(one, "dry-fit-corner")), 20)
    assert listed(fitted) == {}
    again = replan(job, fitted, Happened(0, spoiled={"side (remade)": 1}), 20)
    assert listed(again) == {"corner": 4}


def test_boards_in_the_middle_of_a_panel_meet_two_others() -> None:
    """Which board of four is spoiled nobody says: it may meet a board at both edges, with three slips at each."""
    job, first = example("board-panel")
    fit = made(first, "dry-fit-panel")
    assert listed(replan(job, first, Happened(fit, spoiled={"board": 1}), 20)) == {"panel": 6}


def test_a_file_that_does_not_say_what_its_fits_put_together(tmp_path: Path) -> None:
    """In files written before, a fit puts together whatever joins its parts. No file has more there than there are."""
    job, first = example("mitred-box")
    raw = json.loads(first.model_dump_json())
    for operation in raw["operations"]:
        del operation["joints"]
    for meeting in raw["meetings"]:
        del meeting["fitted"]
    (tmp_path / "plan.json").write_text(json.dumps(raw), encoding="utf-8")
    older = read_plan(tmp_path / "plan.json")
    fit = made(older, "dry-fit-corner")
    assert listed(replan(job, older, Happened(fit), 20)) == {}
    assert listed(replan(job, older, Happened(fit - 1), 20)) == {"corner": 32}
    raw["meetings"][0]["fitted"] = raw["meetings"][0]["times"] + 1
    (tmp_path / "plan.json").write_text(json.dumps(raw), encoding="utf-8")
    with pytest.raises(InputError, match=r"meetings\.0\.fitted: no more of them can be fitted"):
        read_plan(tmp_path / "plan.json")


def test_fits_say_which_joints_they_put_together() -> None:
    """A part may be in several: a panel's boards in the panel and in what it goes into."""
    _, first = example("tea-boxes")
    told = {operation.id: operation.joints for operation in first.operations if operation.joints}
    assert told["dry-fit-large-box"] == told["glue-large-box"] == ("large corner", "large bottom")
    assert told["dry-fit-lid"] == ("lid", "lid panel")
    assert len(told) == 6
