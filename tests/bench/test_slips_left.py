"""The slips of a plan gone on with: those still to be had, on the sheet and in the remarks.

Counts are worked out by hand: how many slips a corner takes, and how many corners a piece meets others at.
"""

from __future__ import annotations

import json
from dataclasses import replace
from functools import cache
from itertools import combinations, pairwise, product
from pathlib import Path
from random import Random
from typing import NamedTuple

import pytest

from sequencer import InputError, load_job, plan
from sequencer.bench.happened import Happened
from sequencer.bench.remainder import replan
from sequencer.bench.slips_left import _at_most
from sequencer.files import read_plan
from sequencer.model.job import Job
from sequencer.planfile import Plan
from sequencer.report.stocklist import slips

ROOT = Path(__file__).parents[2]


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


class Thing(NamedTuple):
    """One of the things an example makes: its pieces, by part, and for each joint how many slips a meeting takes, and
    which pieces meet (by their places in `pieces`)."""

    pieces: tuple[str, ...]
    joints: dict[str, tuple[int, tuple[tuple[int, int], ...]]]


def ring(joint: str, slips: int, *pieces: str) -> Thing:
    """Boards that meet in a ring."""
    return Thing(pieces, {joint: (slips, tuple((n, (n + 1) % len(pieces)) for n in range(len(pieces))))})


def row(joint: str, slips: int, *pieces: str) -> Thing:
    """Boards edge to edge."""
    return Thing(pieces, {joint: (slips, tuple(pairwise(range(len(pieces)))))})


THINGS = {
    "board-panel": (5, [row("panel", 3, *["board"] * 4)]),
    "mitred-box": (4, [ring("corner", 2, *["side"] * 4)]),
    "picture-frames": (6, [ring("mitre", 1, *["long rail", "short rail"] * 2)]),
    "planter": (2, [ring("corner", 3, *["side"] * 6)]),
    "shelf-unit": (
        2,
        [
            Thing(
                ("side", "side", "bottom shelf", "housed shelf", "housed shelf"),
                {"bottom joint": (3, ((0, 2), (1, 2))), "shelf joint": (3, ((0, 3), (1, 3), (0, 4), (1, 4)))},
            )
        ],
    ),
    "side-table": (
        2,
        [
            ring("frame", 2, *["leg", "long apron", "leg", "short apron"] * 2),
            row("top", 8, *["top board"] * 3),
        ],
    ),
    "tea-boxes": (
        8,
        [
            ring("large corner", 2, *["large front", "large side"] * 2),
            ring("small corner", 2, *["small front", "small side"] * 2),
            ring("lid", 1, *["lid rail", "lid stile"] * 2),
        ],
    ),
    "trough": (3, [ring("corner", 3, "front", "right side", "back", "left side")]),
    "umbrella-stand": (2, [ring("edge joint", 3, *["stave"] * 8)]),
}
"""The examples as they are put together: how many of each thing, and the things."""


def at_worst(thing: Thing, number: int, joint: str, new: dict[str, int]) -> int:
    """The most slips of a joint that new pieces can take, whichever of all the pieces of `number` things they are."""
    slips, meetings = thing.joints[joint]
    best: dict[tuple[int, ...], int] = {}  # by how many of each part are new, in one thing
    for chosen in product((False, True), repeat=len(thing.pieces)):
        count = tuple(
            sum(is_new and part == of for of, is_new in zip(thing.pieces, chosen, strict=True))
            for part in new
        )
        if sum(count) == sum(chosen):
            takes = slips * sum(chosen[one] or chosen[other] for one, other in meetings)
            best[count] = max(takes, best.get(count, 0))
    several = {(0,) * len(new): 0}
    for _ in range(number):
        more: dict[tuple[int, ...], int] = {}
        for (before, had), (count, takes) in product(several.items(), best.items()):
            both = tuple(one + other for one, other in zip(before, count, strict=True))
            if all(one <= most for one, most in zip(both, new.values(), strict=True)):
                more[both] = max(had + takes, more.get(both, 0))
        several = more
    return max(several.values())  # a spare among the new ones takes none


def slots(thing: Thing, joint: str, part: str) -> int:
    """The most slots of a joint that one piece of a part has."""
    slips, meetings = thing.joints[joint]
    return slips * max(
        (sum(n in pair for pair in meetings) for n, of in enumerate(thing.pieces) if of == part), default=0
    )


def held_to_the_wood(name: str, found: Plan, new: dict[str, int]) -> None:
    """No fewer slips are listed than new pieces may take wherever they are, no more than they have slots, nor than
    there are in all."""
    number, things = THINGS[name]
    rows = listed(found)
    assert rows.keys() <= {joint for thing in things for joint in thing.joints}
    for thing in things:
        for joint, (slips_each, meetings) in thing.joints.items():
            told = rows.get(joint, 0)
            most = sum(count * slots(thing, joint, part) for part, count in new.items())
            assert at_worst(thing, number, joint, new) <= told, (joint, new)
            assert told <= min(most, number * len(meetings) * slips_each), (joint, new)


def fitted(name: str) -> tuple[Job, Plan, Happened]:
    """An example, its plan, and all of it put together dry, nothing glued."""
    job, first = example(name)
    kinds = [the.kind for step in first.steps for the in first.operations if the.id == step.operation]
    done = len(kinds) - kinds[::-1].index("dry-fit")
    glued = frozenset(n for n, kind in enumerate(kinds[:done], 1) if kind == "glue")
    return job, first, Happened(done, glued)


@pytest.mark.parametrize("name", THINGS)
def test_new_pieces_take_no_more_slips_than_they_have_slots(name: str) -> None:
    """Any number of any part of each example, made again when all was put together."""
    job, first, happened = fitted(name)
    assert listed(replan(job, first, happened, 20)) == {}
    for part in first.parts:
        for count in sorted({1, 2, 3, part.quantity // 2 + 1, part.quantity}):
            if count <= part.quantity:
                new = {part.id: count}
                held_to_the_wood(name, replan(job, first, replace(happened, spoiled=new), 20), new)


@pytest.mark.parametrize(
    ("name", "one", "other"),
    [
        ("side-table", {"leg": 1}, {"long apron": 1}),
        ("side-table", {"leg": 3}, {"leg": 2}),
        ("side-table", {"leg": 1}, {"long apron": 4}),
        ("side-table", {"leg": 8}, {"long apron": 1}),
        ("shelf-unit", {"side": 1}, {"side": 1}),
        ("shelf-unit", {"side": 3}, {"housed shelf": 1}),
        ("tea-boxes", {"large front": 3, "lid stile": 1}, {"large side": 1}),
        ("trough", {"front": 1}, {"back": 2}),
    ],
)
def test_new_pieces_of_several_parts_told_at_once_or_one_after_the_other(
    name: str, one: dict[str, int], other: dict[str, int]
) -> None:
    """As long as they await being put together as many slips are needed, however they were told."""
    job, first, happened = fitted(name)
    first_told = replan(job, first, replace(happened, spoiled=one), 20)
    held_to_the_wood(name, first_told, one)
    assert listed(replan(job, first_told, Happened(0), 20)) == listed(first_told)
    then = replan(job, first_told, Happened(0, spoiled=other), 20)
    both = {part: one.get(part, 0) + other.get(part, 0) for part in (*one, *other)}
    held_to_the_wood(name, then, both)
    assert listed(then) == listed(replan(job, first, replace(happened, spoiled=both), 20))


def test_slips_for_a_leg_and_an_apron() -> None:
    """A leg of the table has two slots on either side, an apron two at either end; four and four where they do not
    meet, and none is needed twice. Of three legs each meets two aprons, long or short."""
    job, first, happened = fitted("side-table")
    for new, told in (
        ({"leg": 1}, 4),
        ({"leg": 2}, 8),
        ({"leg": 3}, 12),
        ({"leg": 1, "long apron": 1}, 8),
        ({"leg": 8}, 32),
        ({"leg": 8, "long apron": 4}, 32),
    ):
        assert listed(replan(job, first, replace(happened, spoiled=new), 20)) == {"frame": told}
    job, first, happened = fitted("shelf-unit")
    for part, rows in (
        ("side", {"bottom joint": 3, "shelf joint": 6}),
        ("housed shelf", {"shelf joint": 6}),
        ("divider", {}),
    ):
        assert listed(replan(job, first, replace(happened, spoiled={part: 1}), 20)) == rows


def test_pieces_make_room_for_one_another() -> None:
    """Random meetings of two halves each. Whatever some of the halves ask for in vain does not fit into the meetings
    that they are at: the most that is taken is the least, over all sets of halves, of the room there and what the
    others ask for."""
    random = Random(5)
    for _ in range(300):
        halves = [("plunge", frozenset({n})) for n in range(random.randint(1, 4))]
        meetings = {n: set(random.choices(halves, k=2)) for n in range(random.randint(1, 5))}
        room = {n: random.randint(0, 4) for n in meetings}
        asked = {each: random.randint(0, 5) for each in halves}
        taken = _at_most(asked, meetings, room)
        assert all(0 <= taken[n] <= room[n] for n in meetings)
        assert taken.total() == min(
            sum(room[n] for n in meetings if meetings[n] & set(some))
            + sum(asked[each] for each in halves if each not in some)
            for count in range(len(halves) + 1)
            for some in combinations(halves, count)
        )
