"""What an operation of a plan file asks of a setting, and where its step stands, are told twice and must agree."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from sequencer import load_job, plan
from sequencer.diagnostics import InputError
from sequencer.files import read_plan
from sequencer.planfile import Plan

SHOP = """
[shop]
name = "Invented"
unit = "mm"
[[station]]
id = "saw"
[[station.setting]]
id = "fence"
reset = 1
tolerance = 0.5
[[station.setting]]
id = "blade"
values = ["rip", "combination"]
reset = 3
[[station.setting]]
id = "tilt"
reset = 2
"""
JOB = """
[job]
name = "strips"
unit = "UNIT"
shop = "shop.toml"
[[operation]]
id = "a"
station = "saw"
settings = { fence = "254 mm", blade = { any = ["rip", "combination"] }, tilt = { min = 5, max = 10 } }
[[operation]]
id = "b"
station = "saw"
settings = { fence = "254.4 mm", blade = "combination", tilt = { min = 8, max = 40 } }
after = ["a"]
"""
"""One setup: the fence is set to 254 mm, 0.4 mm off what b asks, within tolerance; 8° to 10° serve both."""
AT = "operations.{}.settings.{}"


def written(folder: Path, unit: str = "mm") -> dict[str, Any]:
    """The plan as its file has it."""
    (folder / "shop.toml").write_text(SHOP, encoding="utf-8")
    (folder / "job.toml").write_text(JOB.replace("UNIT", unit), encoding="utf-8")
    found = plan(load_job(folder / "job.toml"), time_limit=20)
    assert found.reset_count == 3
    raw: dict[str, Any] = json.loads(found.model_dump_json())
    return raw


def read(folder: Path, raw: dict[str, Any]) -> Plan:
    """The plan of a file."""
    path = folder / "plan.json"
    path.write_text(json.dumps(raw), encoding="utf-8")
    return read_plan(path)


def told(folder: Path, raw: dict[str, Any]) -> list[str]:
    """Where a plan file is refused."""
    with pytest.raises(InputError) as said:
        read(folder, raw)
    return [fault.where for fault in said.value.faults]


@pytest.mark.parametrize("unit", ["mm", "in"])
def test_within_tolerance_and_no_further(unit: str, tmp_path: Path) -> None:
    """0.5 mm of tolerance are told in the job's unit; what is asked may be so far from where it stands."""
    raw = written(tmp_path, unit)
    assert read(tmp_path, raw).steps[1].settings["fence"] == (254 if unit == "mm" else 10)
    tolerance = raw["stations"][0]["tolerances"]
    assert tolerance == {"fence": pytest.approx(0.5 if unit == "mm" else 0.5 / 25.4)}
    raw["operations"][1]["settings"]["fence"] = 253.5
    read(tmp_path, raw)
    raw["operations"][1]["settings"]["fence"] = 253.4
    assert told(tmp_path, raw) == [AT.format(1, "fence")]


@pytest.mark.parametrize(
    ("operation", "setting", "wanted"),
    [
        (0, "fence", 253.8),  # what is moved is moved to the very value, tolerance or not
        (0, "fence", {"min": 260, "max": 300}),
        (0, "fence", "wide"),
        (0, "fence", {"any": [1, 2]}),
        (0, "fence", {"any": []}),
        (0, "blade", "rip"),
        (0, "blade", {"any": ["rip"]}),
        (0, "blade", 5),
        (0, "blade", {"min": 1, "max": 2}),
        (1, "blade", "rip"),
        (1, "tilt", 45),
        (1, "tilt", {"min": 1, "max": 7.99}),
    ],
)
@pytest.mark.parametrize("unit", ["mm", "in"])
def test_what_no_step_stands_at(
    operation: int, setting: str, wanted: object, unit: str, tmp_path: Path
) -> None:
    """A value, a range and values of which none is where the step stands are refused where they are asked."""
    raw = written(tmp_path, unit)
    raw["operations"][operation]["settings"][setting] = wanted
    assert told(tmp_path, raw) == [AT.format(operation, setting)]


@pytest.mark.parametrize("unit", ["mm", "in"])
def test_a_file_that_does_not_tell_tolerances(unit: str, tmp_path: Path) -> None:
    """Of an earlier file what stands from before may be off by some; what is moved not, nor what is far off."""
    raw = written(tmp_path, unit)
    del raw["stations"][0]["tolerances"]
    raw["operations"][1]["settings"]["fence"] = 256
    read(tmp_path, raw)
    raw["operations"][1]["settings"]["fence"] = 454
    assert told(tmp_path, raw) == [AT.format(1, "fence")]
    raw["operations"][1]["settings"]["fence"] = 254
    raw["operations"][0]["settings"]["fence"] = 256
    assert told(tmp_path, raw) == [AT.format(0, "fence")]
    raw["stations"] = []
    assert told(tmp_path, raw) == [AT.format(0, "fence")]
    raw["operations"][0]["settings"]["fence"] = 254
    read(tmp_path, raw)


def test_steps_changed_throughout(tmp_path: Path) -> None:
    """A number changed wherever steps and setups tell it is still not what the operations ask."""
    raw = written(tmp_path)
    raw = json.loads(
        json.dumps(raw).replace('"fence": 254.0', '"fence": 300.0').replace('"to": 254.0', '"to": 300.0')
    )
    raw["operations"][0]["settings"]["fence"] = 254.0
    assert told(tmp_path, raw) == [AT.format(0, "fence"), AT.format(1, "fence")]


def test_readings_no_setting_has(tmp_path: Path) -> None:
    """A number for a name, and a length no shop can hold, are refused where a step or setup tells them."""
    raw = written(tmp_path)
    for each in (raw["steps"][0], raw["setups"][0]):
        each["settings"].update(blade=5, fence=1e12)
    wrong = {f"{name}.0.settings.{key}" for name in ("steps", "setups") for key in ("blade", "fence")}
    assert set(told(tmp_path, raw)) == wrong
    raw["stations"] = []
    assert set(told(tmp_path, raw)) == {where for where in wrong if where.endswith("fence")}
