"""What a fault says would be accepted is so once written down: each key of shop files and rule books, made wrong."""

from __future__ import annotations

import copy
import json
import math
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from sequencer import load_job
from sequencer.diagnostics import Fault, SequencerError
from sequencer.files.accepted import fields_of
from sequencer.model.rule import Pattern, RuleTable
from sequencer.model.shop import Rules, Setting

Place = tuple[str | int, ...]

PATTERN = {
    "kind": "sand",
    "except": ["glue"],
    "grain": "along",
    "station": "saw",
    "part": ["side", "lid*"],
    "surface": "face",
    "registers_on": "face",
    "makes": "left edge",
    "destroys": ["left end"],
}
RULE = {
    "id": "sand-first",
    "says": "Sanded first.",
    "why": "it shows",
    "source": "common practice, no source",
}
RULE |= {"strength": "prefer", "price": 1.5, "same": "part"}
BOOK = {
    "book": {"title": "Our finishing room", "about": "what lacquer asks"},
    "kinds": {"spray": "lacquer sprayed on"},
    "rule": [{**RULE, "before": PATTERN, "after": {"kind": ["spray"]}}],
}
FENCE = {"id": "fence", "name": "rip fence", "measures": "length", "start": 10, "reset": 2, "keeps": True}
FENCE |= {"stops": [{"value": 100, "reset": 1}], "limits": {"min": 0, "max": 600}, "tolerance": 0.1}
BLADE = {
    "id": "blade",
    "measures": "name",
    "values": ["rip", "dado"],
    "minutes": [[0, 1], [1, 0]],
    "first": [1, 1],
}
TILT = {"id": "tilt", "measures": "angle", "reset": 3, "limits": {"min": 0, "max": 45}}
STOP = {"id": "stop", "measures": "length", "reset": 1, "measured_at": "tilt"}
SHOP = {
    "shop": {"name": "s", "unit": "mm", "walk": 1.5, "walks": [{"from": "saw", "to": "bench", "minutes": 3}]},
    "station": [
        {"id": "saw", "name": "the saw", "role": "saw", "setting": [FENCE, BLADE, TILT, STOP]},
        {"id": "bench"},
    ],
    "rules": {"off": ["width-before-length"], "books": ["book.toml"]},
}
JOB = '[job]\nname = "j"\nshop = "shop.toml"\n[[operation]]\nid = "a"\nstation = "bench"\n'
WRONG = ["", "  ", "x", '5"', "A B", "é", "a" * 300, "a\u200bb", 0, -1, -2.5, 1e12, 10**20, math.nan, True]
WRONG += [[], ["x"], [""], [[]], [1], {}, {"x": 1}]

UNKNOWN = ("names no", "there is no", "no book explains")
"""What an example cannot know: the names that there are."""


def toml(value: Any) -> str:
    """A value as it stands in a file."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"{json.dumps(key)} = {toml(each)}" for key, each in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(toml, value)) + "]"
    return json.dumps(value).replace("NaN", "nan") if not isinstance(value, float) else repr(value)


def places(value: Any, at: Place = ()) -> Iterator[Place]:
    """Each key and each entry, however deep."""
    entries = (
        value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    )
    for key, each in entries:
        yield (*at, key)
        yield from places(each, (*at, key))


def with_value(data: Any, at: Place, value: Any) -> Any:
    """The data with another value at one place."""
    changed = here = copy.deepcopy(data)
    for step in at[:-1]:
        here = here[step]
    here[at[-1]] = value
    return changed


def key_of(at: Place) -> str:
    """How faults name the place: the keys behind the last table that is one of several."""
    tables = [n for n, step in enumerate(at) if step in ("rule", "station", "setting", "walks", "stops")]
    begin = tables[-1] + 2 if tables and tables[-1] + 1 < len(at) else tables[-1] if tables else 1
    key = ""
    for step in at[begin:] or at:
        key += f"[{step + 1}]" if isinstance(step, int) else f".{step}" if key else step
    return key


def said(folder: Path, name: str, data: Any) -> list[Fault]:
    """What is said of the shop with its book, one of which is these data."""
    for file, own in (("book", BOOK), ("shop", SHOP)):
        text = "\n".join(f"{json.dumps(k)} = {toml(v)}" for k, v in (data if name == file else own).items())
        (folder / f"{file}.toml").write_text(text, encoding="utf-8")
    (folder / "job.toml").write_text(JOB, encoding="utf-8")
    try:
        load_job(folder / "job.toml")
    except SequencerError as error:
        return error.faults
    return []


def told(accepted: str) -> list[Any]:
    """The values that are written out in what would be accepted: a list or a table as a whole, names, bounds."""
    try:
        return [tomllib.loads(f"v = {accepted.replace(', ...', '')}")["v"]]
    except tomllib.TOMLDecodeError:
        pass
    bounds = re.search(r"(?:from )?(-?[\d.]+)(?: mm)? to (-?[\d.]+)(?: mm)?$", accepted)
    if bounds:
        return [float(bounds[1]), float(bounds[2])]
    if most := re.search(r"at most ([\d.]+)(?: mm)?$", accepted):
        return [float(most[1])]
    names = r'"(?:[^"\\]|\\.)*"'
    if re.fullmatch(rf"{names}(, {names})*", accepted) or "such as" in accepted or ": " in accepted:
        return [json.loads(name) for name in re.findall(names, accepted)]
    if re.match(r"[a-z-]+, [a-z-]+, ", accepted):
        return accepted.partition(", or ")[0].split(", ")[::5]
    return []


def about(key: str) -> re.Pattern[str]:
    """What messages about a key begin with: its name, or the name that it gives."""
    begins = [re.escape(key) + r"(?![.\[\w])"]
    for ending, message in (
        ("id", '".*" is not an id'),
        ("off[1]", "there is no rule "),
        ("books[1]", "there is no"),
    ):
        begins += [message] if key.endswith(ending) else []
    begins += ["no book explains"] if re.search(r"\.(kind|except)\b", key) else []
    return re.compile("|".join(begins))


@pytest.mark.parametrize(("name", "least"), [("book", 35), ("shop", 50)])
def test_what_is_told_as_accepted_is(tmp_path: Path, name: str, least: int) -> None:
    """Written where the wrong value stood, it brings no fault of that key; a list, a table and a name less what cannot
    be seen may name what is not there.
    """
    assert not said(tmp_path, name, BOOK if name == "book" else SHOP)
    data: Any = BOOK if name == "book" else SHOP
    tried: dict[tuple[str, str], list[Fault]] = {}
    for at in places(data):
        key = key_of(at)
        own = about(key)
        for wrong in WRONG:
            for fault in said(tmp_path, name, with_value(data, at, wrong)):
                if not own.match(fault.message):
                    continue
                for value in told(fault.accepted):
                    index = toml(list(at)), toml(value)
                    if index not in tried:
                        tried[index] = said(tmp_path, name, with_value(data, at, value))
                    inside = key if isinstance(value, (list, dict)) else "\n"
                    still = [f.message for f in tried[index]]
                    still = [each for each in still if own.match(each) or each.startswith(inside)]
                    if isinstance(value, (list, dict)) or "can be seen" in fault.message:
                        still = [each for each in still if not any(word in each for word in UNKNOWN)]
                    if (
                        "a shop can" in fault.message
                    ):  # what any setting may hold; its own limits may be narrower
                        still = [each for each in still if "the setting's limits" not in each]
                    assert not still, (key, wrong, value)
    assert len(tried) > least


@pytest.mark.parametrize(
    ("setting", "asked", "accepted"),
    [
        ("blade", '{ any = "rip" }', 'any = ["rip", "dado"]'),
        ("fence", "{ any = [] }", "any = [0, 600]"),
        ("fence", "1e300", "a length from 0 mm to 600 mm"),
        ("tilt", "{ any = {} }", "any = [0, 45]"),
        ("stop", "{ any = 3 }", "any = [0]"),
    ],
)
def test_what_a_setting_accepts_is_told(tmp_path: Path, setting: str, asked: str, accepted: str) -> None:
    """Of several values an example that the very setting accepts; of one the setting's limits."""
    said(tmp_path, "shop", SHOP)
    job = JOB.replace("bench", "saw")
    (tmp_path / "job.toml").write_text(f"{job}settings.{setting} = {asked}\n", encoding="utf-8")
    with pytest.raises(SequencerError) as refused:
        load_job(tmp_path / "job.toml")
    assert [fault.accepted for fault in refused.value.faults] == [accepted]
    if accepted.startswith("any"):
        (tmp_path / "job.toml").write_text(f"{job}settings.{setting} = {{ {accepted} }}\n", encoding="utf-8")
        load_job(tmp_path / "job.toml")


@pytest.mark.parametrize(
    "table", ['[[mates]]\noperations = {}\nhold = ["saw.fence"]', '[[mates]]\nhold = {}\noperations = ["a"]']
)
def test_no_empty_name_is_told_as_accepted(tmp_path: Path, table: str) -> None:
    """A text where a list belongs is told as its one entry, unless it is no name."""
    said(tmp_path, "shop", SHOP)
    for wrong, accepted in (('""', '["text", ...]'), ('" "', '["text", ...]'), ('"a"', '["a"]')):
        (tmp_path / "job.toml").write_text(JOB + table.format(wrong), encoding="utf-8")
        with pytest.raises(SequencerError) as refused:
            load_job(tmp_path / "job.toml")
        assert accepted in [fault.accepted for fault in refused.value.faults]


@pytest.mark.parametrize("name", ["book", "shop"])
def test_long_names_are_shortened(tmp_path: Path, name: str) -> None:
    """No text or key of 190 letters, wherever it stands, is told whole; its start is."""
    data: Any = BOOK if name == "book" else SHOP
    told = 0
    for at in places(data):
        for wrong in ("a" * 190, ["a" * 190], {"a" * 190: 1}, {"a" * 190: ""}):
            for fault in said(tmp_path, name, with_value(data, at, wrong)):
                text = f"{fault.where} {fault.message} {fault.accepted}"
                assert "a" * 100 not in text, (at, wrong, text)
                told += "a" * 30 in text
    assert told > 20


def test_every_key_is_tried() -> None:
    """The files above have every key of rules, patterns, settings and `[rules]`."""
    rule: dict[str, Any] = BOOK["rule"][0]  # type: ignore[index]
    assert set(fields_of(RuleTable)) == set(rule)
    assert set(fields_of(Pattern)) == set(PATTERN)
    assert set(fields_of(Rules)) == set(SHOP["rules"])
    assert set(fields_of(Setting)) == set(FENCE) | set(BLADE) | set(TILT) | set(STOP)
