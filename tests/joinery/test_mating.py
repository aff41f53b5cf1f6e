"""Which mortise meets which, found out anew: parts cut in solids and put together as the trade defines each joint
(`virtual_build`, manifold3d), never by the seats that the worklist's meetings come from."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from sequencer.files import load_job
from sequencer.joinery import derive
from sequencer.model.job import Job
from sequencer.model.parts import (
    CaseMitre,
    EdgeToEdge,
    EndToEdge,
    EndToFace,
    FrameMitre,
    LegToApron,
    Splayed,
    Stave,
)
from sequencer.operations import Meeting, Operation, Slot, Worklist
from tests.joinery.test_virtual_build import job_of, joint, part
from tests.joinery.virtual_build import (
    Made,
    Place,
    chosen,
    in_order,
    machine,
    mates_of,
    meetings,
    ring_places,
)

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*/job.toml"))
RINGS = (CaseMitre, Splayed, FrameMitre, Stave)
MEETINGS = (EndToEdge, EndToFace, EdgeToEdge, LegToApron)
Hole = tuple[str, tuple[float, ...]]
"""A mortise by its operation and the middle of its mouth."""


def hole(operation: Operation, slot: Slot) -> Hole:
    """The mortise's name for comparing."""
    return operation.id, tuple(round(x, 3) for x in slot.mouth)


def built(job: Job, operations: list[Operation]) -> Iterator[tuple[str, Place, Place, dict[str, Made]]]:
    """Every two parts that meet, by joint, where they lie when they are put together."""
    made = {p.id: machine(p, operations, job.shop.joinery.least_wall) for p in job.parts}
    for each in job.joints:
        if isinstance(each, RINGS):
            places = ring_places(each, job, made)
            closed = not isinstance(each, CaseMitre) or each.closed
            pairs = list(zip(places, places[1:] + places[:1], strict=True))[: None if closed else -1]
        elif isinstance(each, MEETINGS):
            pairs = list(meetings(each, made))
        else:
            continue
        for one, other in pairs:
            yield each.id, one, other, made


def told(worklist: Worklist, made: set[str]) -> Iterator[tuple[Meeting, list[tuple[Hole, Hole]]]]:
    """Each meeting of the operations that are made, with its mortises in pairs."""
    ops = {op.id: op for op in worklist.operations}
    for meeting in worklist.meetings:
        if {meeting.first.operation, meeting.second.operation} <= made:
            rows = []
            for half in (meeting.first, meeting.second):
                op = ops[half.operation]
                slots = [op.cuts[n] for n in half.cuts]
                rows.append([hole(op, slot) for slot in slots if isinstance(slot, Slot)])
            yield meeting, list(zip(*rows, strict=True))


def check(job: Job) -> None:
    """The worklist's meetings are those of the assembled boards, by every option of the job's choices."""
    worklist = derive(job)
    turns = range(max([1, *(len(c.options) for c in worklist.choices)]))
    for turn in turns:
        order = in_order(chosen(worklist, turn))
        real: dict[frozenset[Hole], set[bool]] = {}
        for name, one, other, made in built(job, order):
            for (op, a), (op_b, b) in mates_of(one, other, name, made):
                same = float(one.turn(a.along) @ other.turn(b.along)) > 0
                real.setdefault(frozenset([hole(op, a), hole(op_b, b)]), set()).add(same)
        said: dict[frozenset[Hole], set[bool]] = {}
        for meeting, pairs in told(worklist, {op.id for op in order}):
            for pair in pairs:
                said.setdefault(frozenset(pair), set()).add(not meeting.turned)
        assert said == real
        # No mortise is left over.
        plunged = {hole(op, cut) for op in order for cut in op.cuts if isinstance(cut, Slot)}
        assert {name for pair in said for name in pair} == plunged


@pytest.mark.parametrize("path", EXAMPLES, ids=[p.parent.name for p in EXAMPLES])
def test_meetings_are_those_of_the_assembled_boards(path: Path) -> None:
    """In every example, by every way, mortises meet as they do when the parts are put together, and none is alone."""
    check(load_job(path))


OTHERS = {
    "three rails": part("rail", 400, 80, 20, 3)
    + part("stile", 600, 80, 20, 2)
    + joint("end-to-edge", ["rail", "stile"], "at = [0, 260, 520]"),
    "both edges": part("rail", 400, 80, 20, 2)
    + part("stile", 600, 80, 20, 1)
    + joint(
        "end-to-edge", ["rail", "stile"], 'at = [100]\nends = ["left end"]\nedges = ["edge", "far edge"]'
    ),
    "both faces": part("shelf", 400, 200, 18, 4)
    + part("side", 600, 200, 25, 1)
    + joint("end-to-face", ["shelf", "side"], 'at = [100, 300]\non = ["face", "back"]\nends = ["left end"]'),
    "narrow shelf": part("shelf", 400, 180, 18, 1)
    + part("left side", 600, 200, 20, 1)
    + part("right side", 600, 200, 20, 1)
    + joint("end-to-face", ["shelf", "left side"], 'at = [100]\nends = ["left end"]')
    + joint("end-to-face", ["shelf", "right side"], 'at = [482]\nends = ["right end"]').replace(
        'id = "end-to-face"', 'id = "right"'
    ),
    "one part for two sides": part("shelf", 400, 180, 18, 1)
    + part("side", 600, 200, 20, 2)
    + joint("end-to-face", ["shelf", "side"], "at = [291]"),
    "four aprons": part("long", 500, 90, 20, 2)
    + part("short", 300, 90, 20, 2)
    + part("leg", 600, 45, 45, 4)
    + joint("leg-to-apron", ["long", "short"], 'leg = "leg"\nsetback = 3'),
    "open case": part("a", 400, 100, 20, 1)
    + part("b", 300, 100, 20, 1)
    + part("c", 400, 100, 20, 1)
    + joint("case-mitre", ["a", "b", "c"], "closed = false"),
}


@pytest.mark.parametrize("text", OTHERS.values(), ids=OTHERS)
def test_other_meetings_are_those_of_the_assembled_boards(text: str) -> None:
    """So do they in jobs whose places take either end of a part, both sides of one, or unlike neighbours."""
    check(job_of(text))


COUNTS = {
    # example: joint, corners or meetings in one piece of work, such pieces in the batch (worked out by hand from the
    # job file); how many slips hold one is counted on the assembled boards.
    "board-panel": {"panel": (3, 5)},  # four boards have three glue lines
    "mitred-box": {"corner": (4, 4)},
    "picture-frames": {"mitre": (4, 6)},
    "planter": {"corner": (6, 2)},  # the spare side is no corner
    "shelf-unit": {"bottom joint": (2, 2), "shelf joint": (4, 2)},
    "side-table": {"frame": (8, 2), "top": (2, 2)},  # a leg has two aprons; three boards have two glue lines
    "tea-boxes": {"large corner": (4, 8), "small corner": (4, 8), "lid": (4, 8)},
    "trough": {"corner": (4, 3)},
    "umbrella-stand": {"edge joint": (8, 2)},
}


@pytest.mark.parametrize("path", EXAMPLES, ids=[p.parent.name for p in EXAMPLES])
def test_slips_are_as_many_as_the_corners_take(path: Path) -> None:
    """Corners by hand times slips in one, as the assembled boards have them, is the number of slips, by every way."""
    job = load_job(path)
    worklist = derive(job)
    turns = range(max([1, *(len(c.options) for c in worklist.choices)]))
    for turn in turns:
        order = in_order(chosen(worklist, turn))
        made = {op.id for op in order}
        each: dict[str, set[int]] = {}
        for name, one, other, solids in built(job, order):
            each.setdefault(name, set()).add(len(mates_of(one, other, name, solids)))
        wanted = {}
        for name, (corners, pieces) in COUNTS[path.parent.name].items():
            (slips,) = each[name]
            wanted[name] = corners * pieces * slips
        counted: dict[str, int] = {}
        for meeting, _ in told(worklist, made):
            counted[meeting.joint] = counted.get(meeting.joint, 0) + meeting.slips
        assert counted == wanted


@pytest.mark.parametrize("path", EXAMPLES, ids=[p.parent.name for p in EXAMPLES])
def test_slips_fill_their_mortises(path: Path) -> None:
    """A slip is as thick as both cutters, as wide as the tighter slot, and between the bottoms of its two mortises it
    leaves the shop's glue room at each end, measured on the assembled boards."""
    job = load_job(path)
    worklist = derive(job)
    turns = range(max([1, *(len(c.options) for c in worklist.choices)]))
    for turn in turns:
        order = in_order(chosen(worklist, turn))
        sizes = {}
        for meeting, pairs in told(worklist, {op.id for op in order}):
            for pair in pairs:
                sizes[frozenset(pair)] = meeting.slip
        for name, one, other, made in built(job, order):
            for (op, a), (op_b, b) in mates_of(one, other, name, made):
                slip = sizes[frozenset([hole(op, a), hole(op_b, b)])]
                s, t = one.slot(a), other.slot(b)
                room = s.depth + t.depth - float((t.mouth - s.mouth) @ s.axis)
                assert (slip.thickness, slip.width) == (a.width, min(a.length, b.length))
                assert room - slip.length == pytest.approx(2 * job.shop.joinery.glue_room, abs=0.01)
