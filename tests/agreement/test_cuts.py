"""Cuts in a plan file that a hand has changed: what no card can draw is refused, all else is drawn."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path
from random import Random
from typing import Any

import pytest

from sequencer import load_job, plan
from sequencer.diagnostics import InputError
from sequencer.files import read_plan
from sequencer.report.booklet import booklet_values

ROOT = Path(__file__).parents[2]
Change = Callable[[dict[str, Any]], object]


@cache
def box() -> str:
    """The plan of an example with crosscuts, mortises, bevels and grooves, as its file."""
    return plan(load_job(ROOT / "examples" / "mitred-box" / "job.toml"), time_limit=20).model_dump_json()


def cut_of(raw: dict[str, Any], shape: str, number: int = 0) -> tuple[str, dict[str, Any]]:
    """A cut of a shape, and where it stands in the file."""
    found = [
        (f"operations.{index}.cuts.{n}", cut)
        for index, operation in enumerate(raw["operations"])
        for n, cut in enumerate(operation["cuts"])
        if cut["shape"] == shape
    ]
    return found[number]


@pytest.mark.parametrize(
    ("shape", "change", "key", "says"),
    [
        ("plane", {"surface": ""}, ".surface", "must not be empty"),
        ("plane", {"surface": " "}, ".surface", "must not be empty"),
        ("plane", {"normal": [0, 0, 0]}, ".normal", "must be of length 1"),
        ("plane", {"normal": [1, 1, 0]}, ".normal", "must be of length 1"),
        # the box sides are 200 x 120 x 16: wood on the side that is not there, or too thin to be any
        ("plane", {"point": [-1, 0, 0], "normal": [1, 0, 0]}, "", "the cut leaves nothing of side"),
        ("plane", {"point": [0, 120, 0], "normal": [0, -1, 0]}, "", "the cut leaves nothing of side"),
        ("plane", {"point": [0, 0, 15.9999], "normal": [0, 0, -1]}, "", "the cut leaves nothing of side"),
        ("plane", {"part": "lid"}, ".part", 'the plan has no part "lid"'),
        ("slot", {"axis": [0, 0, 0]}, ".axis", "must be of length 1"),
        ("slot", {"axis": [0, 1, 0], "along": [0, 1, 0]}, ".along", "must be square to axis"),
        ("slot", {"width": 0}, ".width", "must be more than 0 and no more than length"),
        ("slot", {"depth": -3}, ".depth", "must be more than 0"),
        ("slot", {"mouth": [900, 0, 0]}, ".mouth", "lies nowhere near side"),
        ("trench", {"low": [0, 0, 0], "high": [5, 0, 5]}, ".low", "must be below high along each axis"),
        (
            "trench",
            {"low": [0, 0, 17], "high": [5, 5, 18]},
            ".low",
            "the trench takes nothing away from side",
        ),
    ],
)
def test_cuts_that_are_none(shape: str, change: dict[str, Any], key: str, says: str, tmp_path: Path) -> None:
    """Refused at the very cut, with what would be accepted."""
    raw = json.loads(box())
    where, cut = cut_of(raw, shape)
    cut.update(change)
    path = tmp_path / "plan.json"
    path.write_text(json.dumps(raw), encoding="utf-8")
    with pytest.raises(InputError) as refused:
        read_plan(path)
    (fault,) = refused.value.faults
    assert (fault.where, fault.message) == (where + key, says)
    assert fault.accepted


def test_cuts_that_leave_wood_are_read(tmp_path: Path) -> None:
    """Two bevels may meet in an edge, and a plane may leave a tenth of a millimetre."""
    for change in (
        {"point": [0, 0, 15.9], "normal": [0, 0, -1]},
        {"point": [100, 0, 16], "normal": [0.6, 0, 0.8]},
    ):
        raw = json.loads(box())
        cut_of(raw, "plane")[1].update(change)
        path = tmp_path / "plan.json"
        path.write_text(json.dumps(raw), encoding="utf-8")
        booklet_values(read_plan(path))


def numbers(value: Any) -> Iterator[tuple[Any, Any]]:
    """The numbers in a value: what holds them, and at which key."""
    for key, each in value.items() if isinstance(value, dict) else enumerate(value):
        if isinstance(each, (int, float)):
            yield value, key
        elif isinstance(each, (dict, list)):
            yield from numbers(each)


@pytest.mark.parametrize("seed", range(3))
def test_changed_numbers_are_drawn_or_refused(seed: int, tmp_path: Path) -> None:
    """Random numbers in the cuts: a fault in words, or a booklet."""
    random, path = Random(seed), tmp_path / "plan.json"
    for _ in range(3):
        raw = json.loads(box())
        places = [at for operation in raw["operations"] for cut in operation["cuts"] for at in numbers(cut)]
        holder, key = random.choice(places)
        old = holder[key]
        wild = [0, 1, -1, -old, 2 * old, old / 3, 1e-12, 1e6, -1e14, random.uniform(-300, 300)]
        holder[key] = random.choice(wild)
        path.write_text(json.dumps(raw), encoding="utf-8")
        try:
            found = read_plan(path)
        except InputError:
            continue
        booklet_values(found)
