"""A plan file that contradicts itself is refused where it does; whatever the program writes is read again."""

from __future__ import annotations

import json
from collections.abc import Callable
from contextlib import suppress
from functools import cache
from pathlib import Path
from random import Random
from typing import Any

import pytest

from sequencer import load_job, plan
from sequencer.bench.happened import Happened
from sequencer.bench.remainder import replan
from sequencer.cli import main
from sequencer.diagnostics import InputError, NoOrderError
from sequencer.files import read_plan
from sequencer.planfile import Plan
from tests.bench.begun_job import loaded
from tests.random_jobs import as_toml, random_job, random_shop

ROOT = Path(__file__).parents[2]
EXAMPLES = sorted(path.parent.name for path in ROOT.glob("examples/*/job.toml"))
Change = Callable[[dict[str, Any]], object]


@cache
def box() -> str:
    """The plan of an example, with mates, a choice, resets and walks, as its file."""
    return plan(load_job(ROOT / "examples" / "mitred-box" / "job.toml"), time_limit=20).model_dump_json()


def refused(path: Path, raw: dict[str, Any]) -> list[tuple[str, str]]:
    """Where a plan file contradicts itself, and what would be accepted there."""
    path.write_text(json.dumps(raw), encoding="utf-8")
    with pytest.raises(InputError) as said:
        read_plan(path)
    assert all(fault.file == str(path) for fault in said.value.faults)
    return [(fault.where, fault.accepted) for fault in said.value.faults]


def both(raw: dict[str, Any], minutes: float) -> None:
    """Cost and bound changed together, so that it still looks proven."""
    raw.update(cost_minutes=minutes, bound_minutes=minutes)


def swapped(raw: dict[str, Any], keys: tuple[str, ...]) -> None:
    """Some keys of the fifth and the seventh step changed for each other."""
    first, second = raw["steps"][4], raw["steps"][6]
    for key in keys:
        first[key], second[key] = second[key], first[key]


def wish(raw: dict[str, Any], kept: bool, price: float = 2.0) -> None:
    """A preference that the order does not keep."""
    before, after = raw["steps"][1]["operation"], raw["steps"][0]["operation"]
    edge = {"before": before, "after": after, "rule": "own", "why": "w", "strength": "prefer"}
    raw["precedence"].insert(0, edge | {"price_minutes": price, "kept": kept})


CONTRADICTIONS: dict[str, tuple[Change, str, str]] = {
    # what is changed: where it is told, and what would be accepted, of the plan of the example (181.2 = 17 + 5 + 159.2)
    "cost": (lambda raw: both(raw, 200), "cost_minutes", "181.2"),
    "cheaper": (lambda raw: both(raw, 1), "cost_minutes", "181.2"),
    "resets": (lambda raw: raw.update(reset_minutes=2.5), "reset_minutes", "17"),
    "walks": (lambda raw: raw.update(walk_minutes=4), "walk_minutes", "5"),
    "work": (lambda raw: raw.update(work_minutes=100), "work_minutes", "159.2"),
    "preferences": (lambda raw: raw.update(preference_minutes=77), "preference_minutes", "0"),
    "a preference not paid": (lambda raw: wish(raw, kept=False), "preference_minutes", "2"),
    "a preference said to be kept": (
        lambda raw: wish(raw, kept=True, price=0),
        "precedence.0.kept",
        "false",
    ),
    "count": (lambda raw: raw.update(reset_count=3), "reset_count", "15"),
    "status": (lambda raw: raw.update(status="feasible"), "status", '"optimal", or a lower bound'),
    "interrupted": (lambda raw: raw.update(interrupted=True), "interrupted", "false"),
    "minutes of a reset": (
        lambda raw: raw["steps"][4]["resets"][0].update(minutes=100),
        "reset_minutes",
        "115",
    ),
    "a reset of a setup": (
        lambda raw: raw["setups"][4]["resets"].pop(),
        "setups.4.resets",
        "the resets of step 5",
    ),
    "the walk of a setup": (
        lambda raw: raw["setups"][4].update(walk_minutes=3),
        "setups.4.walk_minutes",
        "1",
    ),
    "a walk from nowhere": (lambda raw: raw["steps"][0].update(walk_minutes=3), "steps.0.walk_minutes", "0"),
    "work of a step": (
        lambda raw: raw["steps"][4].update(work_minutes=3),
        "steps.4.work_minutes",
        "9.6, its pieces times minutes_each",
    ),
    "station of a step": (lambda raw: raw["steps"][4].update(station="saw"), "steps.4.station", "mortiser"),
    "station of a setup": (
        lambda raw: raw["setups"][4].update(station="saw"),
        "setups.4.station",
        '"mortiser"',
    ),
    "quantity of a step": (lambda raw: raw["steps"][4].update(quantity=99), "steps.4.quantity", "16"),
    "quantity of an operation": (
        lambda raw: raw["operations"][4].update(quantity=99),
        "steps.4.quantity",
        "99",
    ),
    "settings of a step": (
        lambda raw: raw["steps"][4]["settings"].pop("depth"),
        "steps.4.settings",
        '"cutter", "slot_length", "fence_angle", "fence_height", "depth"',
    ),
    "a reading": (lambda raw: raw["steps"][4]["settings"].update(depth=99), "steps.4.settings.depth", "13"),
    "a reading that is none": (
        lambda raw: raw["steps"][4]["settings"].update(depth="deep"),
        "steps.4.settings.depth",
        "a length in mm",
    ),
    "a reading of a card": (
        lambda raw: raw["setups"][4]["settings"].update(depth=99),
        "setups.4.settings.depth",
        "13",
    ),
    "where it was moved from": (
        lambda raw: raw["steps"][5]["resets"][0].update({"from": 3}),
        "steps.5.resets.0.from",
        "32",
    ),
    "a range without values": (
        lambda raw: raw["operations"][4]["settings"].update(depth={"min": 30, "max": 3}),
        "operations.4.settings.depth",
        "a min of at most 3",
    ),
    "order": (
        lambda raw: swapped(raw, ("operation", "setup", "quantity", "work_minutes")),
        "steps.5.setup",
        "7 or 8",
    ),
    "a must": (
        lambda raw: raw["precedence"].insert(
            0, raw["precedence"][0] | {"before": raw["steps"][4]["operation"], "after": "mill-side"}
        ),
        "precedence.0",
        "steps in an order that keeps every must",
    ),
    "begins, setting": (
        lambda raw: raw["begins"].update({"mill.nothing": 3}),
        "begins",
        '"mill.thickness"',
    ),
    "begins, reading": (
        lambda raw: raw["begins"].update({"saw.tilt": "x"}),
        "begins.saw.tilt",
        "an angle in degrees",
    ),
    "mates, setting": (
        lambda raw: raw["mates"][0].update(hold=["mill.x"]),
        "mates.0.hold",
        '"mill.thickness"',
    ),
    "mates, moved": (
        lambda raw: raw["mates"][0].update(hold=["mortiser.slot_length"]),
        "steps.5.resets",
        "no move of it from step 5 to step 6",
    ),
    # 16 sides: four of each of four boxes, each crosscut once
    "pieces of a part": (lambda raw: raw["parts"][0].update(quantity=3), "parts.0.quantity", "4, 8, 12 ..."),
    "pieces, too few": (lambda raw: raw["parts"][0].update(quantity=12), "parts.0.quantity", "16"),
    "pieces, too many": (lambda raw: raw["parts"][0].update(quantity=20), "parts.0.quantity", "16"),
    "pieces, with spares": (
        lambda raw: raw["parts"][0].update(quantity=16, spare=2),
        "parts.0.quantity",
        "6, 10, 14 ...",
    ),
    "going on": (lambda raw: raw.update(going_on=5), "going_on", "at most 1, as many as there are"),
    "going on from none": (lambda raw: raw.update(going_on=1), "going_on", "0"),
    "steps before": (
        lambda raw: raw.update(steps_before=[4, 5]),
        "steps_before",
        "numbers that come to 0, as in done",
    ),
}


@pytest.mark.parametrize(
    ("change", "where", "says"),
    [
        (
            lambda raw: raw["operations"][1].update(again="mill-syde"),
            "operations.1.again",
            'the first plan has no operation "mill-syde" (did you mean "mill-side"?)',
        ),
        (  # one that repeats another is none of the first plan
            lambda raw: raw["operations"][0].update(again="mill-side"),
            "operations.0.again",
            'the first plan has no operation "mill-side"',
        ),
        (
            lambda raw: raw["operations"][0].update(what_alone={"sade": "mill sade"}),
            "operations.0.what_alone",
            '"mill-side" is not on "sade" (did you mean "side"?)',
        ),
        (
            lambda raw: raw["operations"][0].update(awaited_by=["sade"]),
            "operations.0.awaited_by",
            'the plan has no part "sade" (did you mean "side"?)',
        ),
        (
            lambda raw: raw["precedence"][0].update(price_minutes=-5),
            "precedence.0.price_minutes",
            "must be at least 0, not -5",
        ),
        (
            lambda raw: raw["meetings"][0]["slip"].update(width=0),
            "meetings.0.slip.width",
            "must be more than 0, not 0",
        ),
    ],
)
def test_names_and_amounts_no_plan_has(change: Change, where: str, says: str, tmp_path: Path) -> None:
    """What is made again names an operation of the first plan, a fit opened again parts there are; a price and a slip
    have a size."""
    raw = json.loads(box())
    assert raw["operations"][0]["id"] == "mill-side"
    change(raw)
    path = tmp_path / "plan.json"
    path.write_text(json.dumps(raw), encoding="utf-8")
    with pytest.raises(InputError) as said:
        read_plan(path)
    (fault,) = said.value.faults
    assert fault.where == where
    assert fault.message.startswith(says)


@pytest.mark.parametrize(
    ("mates", "nothing_known", "says", "accepted"),
    [
        (
            ("rip-side", "corner-square-first-bevel-side"),
            False,
            "saw.tilt is moved between mates",
            "no move of it",
        ),
        (
            ("rip-side", "corner-square-first-bevel-side"),
            True,
            "by this move saw.tilt is lost as the work leaves saw between mates",
            "work that stays at saw",
        ),
        (
            (
                "crosscut-side",
                "corner-square-first-plunge-side-ends",
            ),  # the saw is left after the first of them
            True,
            "by this move saw.tilt is lost as the work leaves saw between mates",
            "work that stays at saw",
        ),
        (("rip-side", "crosscut-side"), True, None, ""),  # the saw is left after both
    ],
)
def test_what_mates_hold_is_told_with_their_names(
    mates: tuple[str, str], nothing_known: bool, says: str | None, accepted: str, tmp_path: Path
) -> None:
    """Moved between them, or lost: where what stood is set from nothing later, it was lost as its station was left."""
    raw = json.loads(box())
    made = [step["operation"] for step in raw["steps"]]
    assert made[6] == "corner-square-first-bevel-side"
    raw["mates"] = [{"operations": list(mates), "hold": ["saw.tilt"], "why": "told"}]
    for resets in (raw["steps"][6]["resets"], raw["setups"][-2]["resets"]):
        (tilt,) = (reset for reset in resets if reset["setting"] == "tilt")
        assert tilt["from"] == 0
        tilt["from"] = None if nothing_known else 0
    path = tmp_path / "plan.json"
    path.write_text(json.dumps(raw), encoding="utf-8")
    if says is None:
        read_plan(path)
        return
    with pytest.raises(InputError) as said:
        read_plan(path)
    first, last = (made.index(name) + 1 for name in mates)
    (fault,) = said.value.faults
    assert fault.where == "steps.6.resets"
    assert fault.message == f'{says} (mates.0): "{mates[0]}", "{mates[1]}"'
    assert fault.accepted == f"{accepted} from step {first} to step {last}"


@pytest.mark.parametrize("name", CONTRADICTIONS)
def test_a_plan_that_contradicts_itself(name: str, tmp_path: Path) -> None:
    """It is refused at the key, with what its other keys would have there."""
    change, where, accepted = CONTRADICTIONS[name]
    raw = json.loads(box())
    change(raw)
    assert (where, accepted) in refused(tmp_path / "plan.json", raw)


@pytest.mark.parametrize(
    ("change", "where"),
    [
        (lambda raw: raw["precedence"][0].update(before="nope"), "precedence.0"),
        (lambda raw: raw["mates"][0].update(operations=["nope", "nope2"]), "mates.0.operations"),
        (lambda raw: raw["parts"][0].update(passes=["nope"]), "parts.0.passes"),
    ],
)
def test_an_operation_that_the_plan_does_not_have(change: Change, where: str, tmp_path: Path) -> None:
    """Told where it is named; mates may still name operations of a way that was not taken."""
    raw = json.loads(box())
    raw["mates"].append({"operations": ["corner-bevel-first-bevel-side"], "hold": ["saw.tilt"]})
    path = tmp_path / "plan.json"
    path.write_text(json.dumps(raw), encoding="utf-8")
    read_plan(path)
    change(raw)
    assert {place for place, _ in refused(path, raw)} == {where}


WAYS = """
[job]
name = "ways"
unit = "mm"
shop = "shop.toml"
[[part]]
id = "rail"
quantity = 2
length = 300
width = 50
thickness = 20
stock = "sized"
[[operation]]
id = "cut-one-rail"
station = "saw"
part = "rail"
minutes_each = 1
settings = { fence = 10 }
[[operation]]
id = "cut-one-rail-remade"
station = "saw"
part = "rail"
minutes_each = 10
settings = { fence = 10 }
[[operation]]
id = "groove"
station = "saw"
part = "rail"
minutes_each = 10
settings = { fence = 10 }
[[operation]]
id = "last"
station = "saw"
part = "rail"
settings = { fence = 30 }
after = ["cut-one-rail"]
[[choice]]
id = "cut"
options = { one = ["cut-one-rail"], two = ["cut-one-rail-remade", "groove"] }
[[mates]]
operations = ["cut-one-rail-remade", "groove"]
hold = ["saw.fence"]
[[mates]]
operations = ["cut-one-rail", "groove"]
hold = ["saw.fence"]
"""
"""Option "one" takes a minute, "two" twenty; ids like those that the program makes."""


def test_mates_of_a_way_not_taken(tmp_path: Path) -> None:
    """Whatever the ids look like, the plan names mates that are made, and its file is read; so is that of the rest,
    with a piece made again whose id is not that of the way not taken."""
    job = loaded(tmp_path, WAYS)
    found = reread(tmp_path / "plan.json", plan(job, time_limit=20))
    assert found.choices == {"cut": "one"}
    assert [group.operations for group in found.mates] == [("cut-one-rail",)]
    rest = reread(tmp_path / "rest.json", replan(job, found, Happened(1, spoiled={"rail": 1}), 20))
    assert [group.operations for group in rest.mates] == [("cut-one-rail", "cut-one-rail-remade-2")]
    older = json.loads(found.model_dump_json())
    del older["options"]
    older["mates"] = [{"operations": ["cut-one-rail", "groove"], "hold": ["saw.fence"]}]
    (tmp_path / "older.json").write_text(json.dumps(older), encoding="utf-8")
    read = read_plan(tmp_path / "older.json")
    rest = reread(tmp_path / "rest.json", replan(job, read, Happened(1), 20))
    assert [group.operations for group in rest.mates] == [("cut-one-rail",)]


@pytest.mark.parametrize(
    ("change", "where", "accepted"),
    [
        (lambda raw: raw["choices"].update(cut="two"), "choices.cut", '"one"'),
        (lambda raw: raw["choices"].update(cut="zzz"), "choices.cut", '"one"'),
        (lambda raw: raw["choices"].update(kut="one"), "options", '"cut", "kut"'),
        (lambda raw: raw["choices"].clear(), "choices", '"cut"'),
        (
            lambda raw: raw["options"]["cut"].update(one=["cut-one-rail", "groove"]),
            "choices.cut",
            "an option all of whose operations are there, and none of the others'",
        ),
    ],
)
def test_choices_of_other_operations(change: Change, where: str, accepted: str, tmp_path: Path) -> None:
    """The option named for a choice is the one whose operations the plan makes."""
    raw = json.loads(plan(loaded(tmp_path, WAYS), time_limit=20).model_dump_json())
    change(raw)
    assert refused(tmp_path / "plan.json", raw) == [(where, accepted)]


def test_every_command_refuses_it(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Show, cards and replan end with exit code 2 and name file and key."""
    raw = json.loads(box())
    both(raw, 200)
    path, job = tmp_path / "plan.json", ROOT / "examples" / "mitred-box" / "job.toml"
    path.write_text(json.dumps(raw), encoding="utf-8")
    booklet = ["cards", str(path), "-o", str(tmp_path / "cards.pdf")]
    for command in (["show", str(path)], booklet, ["replan", str(job), str(path), "--done", "1"]):
        assert main(command) == 2
        told = " ".join(capsys.readouterr().err.split())
        assert "cost_minutes: must be the sum of reset_minutes, walk_minutes and work_minutes" in told
        assert "plan.json" in told.replace(" ", "")
        assert "accepted: 181.2" in told


def reread(path: Path, found: Plan) -> Plan:
    """A plan as its file has it, which is read."""
    path.write_text(found.model_dump_json(), encoding="utf-8")
    read = read_plan(path)
    assert read.model_dump_json() == found.model_dump_json()
    return read


@pytest.mark.parametrize("name", EXAMPLES)
def test_the_plans_of_the_examples_are_read(name: str, tmp_path: Path) -> None:
    """The plan, the rest of it with a piece spoiled and a setting moved, and the rest of that."""
    job = load_job(ROOT / "examples" / name / "job.toml")
    found = reread(tmp_path / "plan.json", plan(job, time_limit=20))
    operations = {operation.id: operation for operation in found.operations}
    for done in (len(found.steps) // 2, 3):
        made = [operations[step.operation] for step in found.steps[:done]]
        spoiled = {} if any(each.kind == "glue" for each in made) else {made[0].parts[0]: 1}
        found = replan(job, found, Happened(done, spoiled=spoiled, moved={("saw", "tilt"): None}), 20)
        found = reread(tmp_path / "rest.json", found)
        operations = {operation.id: operation for operation in found.operations}


@pytest.mark.parametrize("seed", range(12))
def test_plans_of_random_jobs_are_read(seed: int, tmp_path: Path) -> None:
    """With tables, stops, tolerance, dials that forget, mates and choices; and gone on with, step by step."""
    random = Random(seed)
    (tmp_path / "shop.toml").write_text(as_toml(random_shop(random)), encoding="utf-8")
    (tmp_path / "job.toml").write_text(as_toml(random_job(random, most=8)), encoding="utf-8")
    job = load_job(tmp_path / "job.toml")
    with suppress(NoOrderError):
        found = reread(tmp_path / "plan.json", plan(job, time_limit=20))
        while len(found.steps) > 1:
            moved = {("saw", "tilt"): random.choice([None, 2.0])}
            found = reread(tmp_path / "plan.json", replan(job, found, Happened(1, moved=moved), 20))
