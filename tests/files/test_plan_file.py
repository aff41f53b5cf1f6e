"""A plan that was written can be read again; what is no plan is refused in words."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from sequencer import load_job, plan
from sequencer.diagnostics import InputError
from sequencer.files import read_plan, write_whole
from tests.sample_plans import tea_boxes

DATA = Path(__file__).parent / "data" / "formats"


def test_round_trip_and_what_is_refused(tmp_path: Path) -> None:
    """The plan read back writes the same text; other JSON, and a changed key, are refused with the key's name."""
    path = tmp_path / "plan.json"
    text = plan(load_job(DATA / "job.toml"), time_limit=20).model_dump_json()
    write_whole(path, text)
    assert read_plan(path).model_dump_json() == text
    path.write_text("{")
    with pytest.raises(InputError, match="not valid JSON"):
        read_plan(path)
    path.write_text("[1]")
    with pytest.raises(InputError, match="this is no plan"):
        read_plan(path)
    raw = json.loads(text)
    raw["cost_mins"] = raw.pop("cost_minutes")
    path.write_text(json.dumps(raw))
    with pytest.raises(InputError, match='unknown key "cost_mins"') as refused:
        read_plan(path)
    assert any("cost_minutes is missing" in fault.message for fault in refused.value.faults)


def test_a_key_given_twice(tmp_path: Path) -> None:
    """Of two values for one thing nobody knows which is meant, however deep it stands."""
    path = tmp_path / "plan.json"
    text = plan(load_job(DATA / "job.toml"), time_limit=20).model_dump_json(indent=None)
    for key, before in (("job", '{"schema"'), ("operation", '{"operation"')):
        path.write_text(text.replace(before, f'{{"{key}": "x", "{key}": "y", {before[1:]}', 1))
        with pytest.raises(InputError, match=f'the key "{key}" is given twice in one object'):
            read_plan(path)


NO_PLANS = {
    # the key that is changed, its value: where and what is said
    ("steps", 0, "quantity", 0): "steps.0.quantity: must be at least 1, not 0",
    ("steps", 0, "quantity", -5): "steps.0.quantity: must be at least 1, not -5",
    ("steps", 0, "quantity", 10**30): "steps.0.quantity: must be a number a shop can use, not 1" + 30 * "0",
    ("parts", 0, "quantity", -4): "parts.0.quantity: must be at least 1, not -4",
    (
        "parts",
        0,
        "spare",
        99,
    ): "parts.0.spare: the spares are counted in quantity, and there must be more than these",
    (
        "setups",
        0,
        "settings",
        "fence",
        1e308,
    ): "setups.0.settings.fence: must be a number a shop can use, not 1e+308",
    ("cost_minutes", float("nan")): "cost_minutes: must be a number a shop can use, not nan",
    ("walk_minutes", -1.0): "walk_minutes: must be at least 0, not -1.0",
    (
        "bound_minutes",
        1e6,
    ): "bound_minutes: no order costs less than the bound, so it must not be above cost_minutes",
    # a text is no number, true is none, and neither is a text
    ("batch", "4"): 'batch: must be a whole number, not "4"',
    ("batch", 4.5): "batch: must be a whole number, not 4.5",
    ("cost_minutes", "181.2"): 'cost_minutes: must be a number, not "181.2"',
    ("interrupted", "no"): 'interrupted: must be true or false, not "no"',
    ("interrupted", 0): "interrupted: must be true or false, not 0",
    ("job", 3): "job: must be text, not 3",
    ("parts", 0, "width", True): "parts.0.width: must be a number, not true",
    ("parts", 0, "length", "200"): 'parts.0.length: must be a number, not "200"',
    ("operations", 0, "minutes_each", "2"): 'operations.0.minutes_each: must be a number, not "2"',
    (
        "operations",
        0,
        "settings",
        "thickness",
        True,
    ): "operations.0.settings.thickness: must be a number, not true",
    ("setups", 0, "settings", "fence", False): "setups.0.settings.fence: must be a number, not false",
    # what a card would print without words
    (
        "operations",
        0,
        "notes",
        "check",
        "expect",
        "",
    ): 'operations.0.notes.check.expect: must be text that can be seen, not ""',
    (
        "operations",
        0,
        "notes",
        "what",
        " ",
    ): 'operations.0.notes.what: must be text that can be seen, not " "',
    # control characters, in keys, too
    ("job", "a\x1b[2Jb"): 'job: must be text without control characters, not with "\\x1b" as its letter 2',
    (
        "operations",
        0,
        "notes",
        "what",
        "\x07",
    ): 'operations.0.notes.what: must be text without control characters, not with "\\x07" as its letter 1',
    ("bound_minutes", 0.0): 'bound_minutes: it must be cost_minutes where the status is "optimal"',
}


@pytest.mark.parametrize(("change", "says"), NO_PLANS.items(), ids=[str(change) for change in NO_PLANS])
def test_numbers_no_plan_has(tmp_path: Path, change: tuple[Any, ...], says: str) -> None:
    """Counts of nothing, numbers without an end and a bound that proves nothing are refused at their place."""
    raw = json.loads(tea_boxes("mm").model_dump_json())
    raw["status"], raw["bound_minutes"] = "optimal", raw["cost_minutes"]
    place = raw
    for key in change[:-2]:
        place = place[key]
    place[change[-2]] = change[-1]
    assert refused(tmp_path, raw) == [says]


def test_within_tables(tmp_path: Path) -> None:
    """The ends of a range are numbers, and keys texts that can be printed."""
    raw = json.loads(tea_boxes("mm").model_dump_json())
    raw["operations"][0]["settings"]["thickness"] = {"min": True, "max": "3"}
    place = "operations.0.settings.thickness"
    assert set(refused(tmp_path, raw)) >= {
        f"{place}.min: must be a number, not true",
        f'{place}.max: must be a number, not "3"',
    }
    raw["choices"] = {"a\x85": "b"}
    said = 'choices.a: its key must be text without control characters, not with "\\x85" as its letter 2'
    assert refused(tmp_path, raw) == [said]


def test_a_cut_of_no_known_shape(tmp_path: Path) -> None:
    """What a cut may be is told by the words for it."""
    raw = json.loads(tea_boxes("mm").model_dump_json())
    raw["operations"][0]["cuts"] = [{"shape": "curve"}]
    path = tmp_path / "plan.json"
    path.write_text(json.dumps(raw))
    with pytest.raises(InputError) as said:
        read_plan(path)
    assert [fault.accepted for fault in said.value.faults] == ["plane, slot, trench"]


def test_half_of_a_sign(tmp_path: Path) -> None:
    """Half of a pair of surrogates stands for no sign, and cannot be printed."""
    path = tmp_path / "plan.json"
    path.write_text(tea_boxes("mm").model_dump_json().replace('"job": "', '"job": "\\ud800 ', 1))
    with pytest.raises(InputError, match="not valid JSON: "):
        read_plan(path)


def test_a_job_named_by_its_file(tmp_path: Path) -> None:
    """What cannot be seen in the file's name is replaced, so that the plan that goes by it can be read again."""
    for name in ("job.toml", "shop.toml"):
        text = (DATA / name).read_text(encoding="utf-8")
        (tmp_path / name).write_text(text, encoding="utf-8")
    text = (tmp_path / "job.toml").read_text(encoding="utf-8")
    unnamed = [line for line in text.splitlines() if not line.startswith("name = ")]
    odd = tmp_path / "a\x07\u00a0b\n.toml"
    odd.write_text("\n".join(unnamed), encoding="utf-8")
    found = plan(load_job(odd), time_limit=20)
    assert found.job == "a\ufffd b\ufffd"
    path = tmp_path / "plan.json"
    write_whole(path, found.model_dump_json())
    assert read_plan(path).job == found.job


@pytest.mark.parametrize("name", ["steps", "operations", "parts", "stations"])
def test_what_is_there_twice(tmp_path: Path, name: str) -> None:
    """A step, operation, part or station told twice is refused: which of the two would be meant?"""
    raw = json.loads(tea_boxes("mm").model_dump_json())
    raw[name].insert(1, raw[name][0])
    assert any(
        said.startswith(f"{name}.1: ") and said.endswith("is there twice") for said in refused(tmp_path, raw)
    )


def refused(folder: Path, raw: dict[str, Any]) -> list[str]:
    """What is said of a plan file."""
    path = folder / "plan.json"
    path.write_text(json.dumps(raw))
    with pytest.raises(InputError) as said:
        read_plan(path)
    return [f"{fault.where}: {fault.message}" for fault in said.value.faults]
