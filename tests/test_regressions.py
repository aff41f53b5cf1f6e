"""Faults that were found once and must not come back."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from sequencer import load_job, plan
from sequencer.diagnostics import InputError, NoOrderError
from sequencer.files import read_plan

SHOP = """
[shop]
name = "Invented bench"
unit = "mm"
walk = 1

[[station]]
id = "saw"
[[station.setting]]
id = "fence"
start = 10
reset = 2
stops = [{ value = 33, reset = 0.5 }]
[[station.setting]]
id = "cutter"
measures = "length"
values = [6, 8]
minutes = [[0, 3], [4, 0]]
first = [1, 2]
[[station.setting]]
id = "clamping"
keeps = false
reset = 1

[[station]]
id = "bench"
"""


def written(folder: Path, job: str, unit: str = "mm") -> Path:
    """The path of a job file of these tables, its shop file beside it."""
    (folder / "shop.toml").write_text(SHOP)
    path = folder / "job.toml"
    path.write_text(f'{job}\n[job]\nname = "j"\nunit = "{unit}"\nshop = "shop.toml"\n')
    return path


def test_readings_in_inches_keep_a_shop_in_mm_without_tolerance(tmp_path: Path) -> None:
    """Millimetres that are no round inches stay the same setting, stop and row of a table in an inch plan."""
    job = """
[[operation]]
id = "as it stands"
station = "saw"
settings = { fence = "10 mm", cutter = "8 mm" }
[[operation]]
id = "at the stop"
station = "saw"
settings = { fence = "33 mm", cutter = "6 mm" }
after = ["as it stands"]
"""
    found = plan(load_job(written(tmp_path, job, "in")))
    # by hand: first cutter 2, then the stop 0.5 and the cutter from 8 to 6 mm, 4
    assert found.reset_minutes == 2 + 0.5 + 4
    assert found.steps[0].settings["fence"] == pytest.approx(10 / 25.4, abs=1e-10)


LEAVING = """
[[operation]]
id = "cut"
station = "saw"
[[operation]]
id = "glue"
station = "bench"
{after}
[[mates]]
operations = ["cut", "glue"]
hold = ["saw.clamping"]
"""


def test_a_held_setting_that_no_operation_names_is_lost_by_leaving(tmp_path: Path) -> None:
    """Mates that hold a setting with `keeps = false` never leave its station, named by an operation or not."""
    found = plan(load_job(written(tmp_path, LEAVING.format(after=""))))
    assert [step.operation for step in found.steps] == ["glue", "cut"]
    with pytest.raises(NoOrderError):
        plan(load_job(written(tmp_path, LEAVING.format(after='after = ["cut"]'))))


@pytest.mark.parametrize(
    ("tables", "says"),
    [
        ('[[operation]]\nid = "cut"\nstation = "saw"\nparts = 5', "parts must be a list, not 5"),
        ("operation = []", "the job is empty"),
        (
            '[[operation]]\nid = "cut"\nstation = "saw"\n[[mates]]\noperations = ["cut"]\nhold = [3]',
            "hold[1] must be text, not 3",
        ),
    ],
)
def test_one_wrong_value_ends_in_its_one_message(tmp_path: Path, tables: str, says: str) -> None:
    """A value of the wrong kind is reported once, in words."""
    with pytest.raises(InputError) as caught:
        load_job(written(tmp_path, tables))
    (fault,) = caught.value.faults
    assert says in str(fault)


def command(*arguments: str, **more: Any) -> subprocess.CompletedProcess[bytes]:
    """The command run as a user runs it."""
    return subprocess.run(
        [sys.executable, "-m", "sequencer", *arguments], stderr=subprocess.PIPE, check=False, **more
    )


ONE = '[[operation]]\nid = "schräg ☃"\nstation = "saw"'


def test_json_on_standard_output_is_utf_8_in_any_terminal(tmp_path: Path) -> None:
    """A plan sent to standard output is UTF-8 JSON (RFC 8259) where the terminal has but ASCII."""
    ascii_only = os.environ | {"PYTHONIOENCODING": "ascii"}
    job = str(written(tmp_path, ONE))
    done = command("plan", job, "--json", "-", stdout=subprocess.PIPE, env=ascii_only)
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout.decode("utf-8"))["steps"][0]["operation"] == "schräg ☃"


def test_a_reader_that_goes_away_is_no_fault(tmp_path: Path) -> None:
    """Output into a pipe that nobody reads ends with exit code 0 and not a word."""
    job = str(written(tmp_path, ONE))
    for more in ((), ("--json", "-")):
        reader, writer = os.pipe()
        os.close(reader)
        done = command("plan", job, *more, stdout=writer)
        os.close(writer)
        assert (done.returncode, done.stderr) == (0, b"")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="this system has no device that is always full")
def test_output_that_cannot_be_written_ends_in_a_message(tmp_path: Path) -> None:
    """A full disk under standard output is told in one line, with exit code 2."""
    with open("/dev/full", "wb") as full:
        done = command("plan", str(written(tmp_path, ONE)), stdout=full)
    assert done.returncode == 2
    assert done.stderr.decode().startswith("standard output: cannot be written: ")
    assert done.stderr.count(b"\n") == 1


def test_an_empty_file_name_is_refused(tmp_path: Path) -> None:
    """`--json ""` names no file, and is not the same as leaving the option out."""
    done = command("plan", str(written(tmp_path, ONE)), "--json", "", stdout=subprocess.PIPE)
    assert (done.returncode, done.stdout) == (2, b"")


def test_stopping_before_any_order_is_an_interruption(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Ctrl-C before the first order is known does not pass for a job that has none."""

    def nothing_found(*_: object) -> None:
        raise TimeoutError

    monkeypatch.setattr("sequencer.solve.solve", nothing_found)
    job = load_job(written(tmp_path, ONE))
    with pytest.raises(KeyboardInterrupt, match="before any order was found"):
        plan(job, stop=lambda: True)
    with pytest.raises(NoOrderError):
        plan(job, stop=lambda: False)


@pytest.mark.parametrize("torn", ["steps", "operations", "setups"])
def test_a_plan_whose_lists_disagree_is_refused(tmp_path: Path, torn: str) -> None:
    """A plan file edited until its steps, setups and operations differ ends in words, not in a traceback."""
    found = json.loads(plan(load_job(written(tmp_path, ONE))).model_dump_json())
    path = tmp_path / "plan.json"
    path.write_text(json.dumps(found))
    assert read_plan(path).steps
    path.write_text(json.dumps(found | {torn: []}))
    with pytest.raises(InputError):
        read_plan(path)
