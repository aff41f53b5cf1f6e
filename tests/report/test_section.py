"""The section on each plunging card against the boards put together in solids (`virtual_build`, manifold3d), and
against plane geometry by shapely: never against the seats that the plan's meetings come from."""

from __future__ import annotations

import json
from functools import cache
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from manifold3d import Manifold
from shapely import LineString, Point, Polygon, affinity, unary_union

from sequencer.diagnostics import InputError
from sequencer.files import load_job
from sequencer.files.plan_file import read_plan
from sequencer.joinery import derive
from sequencer.joinery.report import joint_report
from sequencer.model.job import Job
from sequencer.operations import Operation, Slot
from sequencer.planfile import PartRecord, Plan, StationRecord, Step
from sequencer.quantity import format_length
from sequencer.report.booklet import booklet_values, set_booklet
from sequencer.report.drawing.figure import Figure, Words
from sequencer.report.drawing.figure import Path as Lines
from sequencer.report.drawing.joint import Half, Halves, halves_at
from sequencer.report.drawing.outline import kept
from sequencer.report.drawing.section import MOST, _draw, section_figures
from tests.joinery.test_mating import EXAMPLES, built
from tests.joinery.virtual_build import Made, Place, chosen, in_order, mates_of, walls
from tests.sample_plans import tea_boxes

CLOSE = 0.5
"""mm2: a hundredth of a mm, to which the jobs' lengths are given, along some 50 mm of outline."""

Met = tuple[Operation, Slot, Place, Place, Slot, dict[str, Made]]
"""A mortise with its operation, where its part lies, where the mate lies, the mate's mortise, all parts as made."""


def plan_of(job: Job, order: list[Operation]) -> Plan:
    """The operations in this order as a plan, without settings and costs."""
    made = {op.id for op in order}
    steps = tuple(
        Step(
            operation=op.id,
            station=op.station,
            setup=1,
            quantity=op.quantity,
            walk_minutes=0,
            work_minutes=0,
            settings={},
            resets=(),
        )
        for op in order
    )
    return Plan(
        job=job.name,
        shop=job.shop.name,
        unit=job.unit,
        batch=job.batch,
        status="feasible",
        cost_minutes=0,
        bound_minutes=0,
        reset_minutes=0,
        walk_minutes=0,
        work_minutes=0,
        preference_minutes=0,
        reset_count=0,
        engine="",
        steps=steps,
        setups=(),
        precedence=(),
        choices={},
        parts=tuple(
            PartRecord(id=p.id, quantity=p.quantity, length=p.length, width=p.width, thickness=p.thickness)
            for p in job.parts
        ),
        operations=tuple(order),
        meetings=tuple(m for m in derive(job).meetings if {m.first.operation, m.second.operation} <= made),
    )


@cache
def cases(path: Path) -> tuple[tuple[Plan, tuple[Met, ...]], ...]:
    """For every option of an example's choices its plan and every meeting of two mortises, from either side."""
    job = load_job(path)
    worklist = derive(job)
    found = []
    for turn in range(max([1, *(len(c.options) for c in worklist.choices)])):
        order = in_order(chosen(worklist, turn))
        met: list[Met] = []
        for name, one, other, made in built(job, order):
            for (op, a), (op_b, b) in mates_of(one, other, name, made):
                met += [(op, a, one, other, b, made), (op_b, b, other, one, a, made)]
        found.append((plan_of(job, order), tuple(met)))
    return tuple(found)


@cache
def plunging(path: Path) -> tuple[tuple[Plan, Operation, tuple[Halves, ...], list[Met]], ...]:
    """Every plunging step of an example with the pairs its section shows and its real meetings."""
    return tuple(
        (plan, operation, halves_at(plan, [operation]), [each for each in met if each[0].id == operation.id])
        for plan, met in cases(path)
        for operation in plan.operations
        if any(isinstance(cut, Slot) for cut in operation.cuts)
    )


def sliced(solid: Manifold, at: Place, frame: np.ndarray, origin: np.ndarray) -> Polygon:
    """A part's section, in the plane of the first two axes of `frame` (rows, in space) through `origin`."""
    turn = frame @ at.matrix[:, :3]
    shift = frame @ (at.matrix[:, 3] - origin)
    loops = solid.transform(np.column_stack([turn, shift])).slice(0.0).to_polygons()
    outer = [Polygon(loop) for loop in loops]
    even = Polygon()
    for loop in outer:
        even = even.symmetric_difference(loop)
    return even


def real_section(each: Met) -> tuple[Polygon, Polygon]:
    """Both boards, with all their mortises and grooves, cut square to the long side of the first's mortise.

    x runs as the cross product of its plunge direction and its long side, y out of the wood; the origin is where the
    mortise's axis leaves the finished wood, found by shapely.
    """
    _, slot, here, there, _, made = each
    axis, along = here.turn(slot.axis), here.turn(slot.along)
    frame = np.stack([np.cross(axis, along), -axis, along])
    bottom = here.point(slot.mouth) + axis * slot.depth
    board = sliced(made[here.part].body, here, frame, bottom)
    inside = board.intersection(LineString([(0, 0), (0, slot.depth)]))
    mouth = bottom - axis * inside.length
    return (
        sliced(made[here.part].wood, here, frame, mouth),
        sliced(made[there.part].wood, there, frame, mouth),
    )


def drawn(half: Half) -> Polygon:
    """The wood that is drawn of a board."""
    return Polygon(half.shown) - unary_union([Polygon(loop) for loop in (half.hollow, *half.others)])


def miss(pair: Halves, section: tuple[Polygon, Polygon], mirrored: bool) -> float:
    """The largest area, mm2, by which what is drawn of a board differs from the real section where it is drawn."""
    found = []
    for half, real in zip((pair.first, pair.second), section, strict=True):
        turned = affinity.scale(real, -1 if mirrored else 1, 1, origin=(0, 0))
        found.append(float(drawn(half).symmetric_difference(turned & Polygon(half.shown)).area))
    return max(found)


@pytest.mark.parametrize("path", EXAMPLES, ids=[p.parent.name for p in EXAMPLES])
def test_every_plunging_step_shows_its_true_mates(path: Path) -> None:
    """The section shows the part being plunged, and names every part, and no other, that its mortises meet."""
    for _, operation, pairs, met in plunging(path):
        assert 0 < len(pairs) <= MOST
        assert {pair.first.part.id for pair in pairs} == {slot.part for _, slot, *_ in met}
        assert all(pair.first.slot in operation.cuts for pair in pairs)
        assert {(one.part, two.part) for pair in pairs for one, two in pair.meets} == {
            (slot.part, mate.part) for _, slot, _, _, mate, _ in met
        }
        for pair in pairs:
            mates = [mate for _, slot, _, _, mate, _ in met if slot == pair.first.slot]
            assert any(np.allclose(mate.mouth, pair.second.slot.mouth) for mate in mates)


@pytest.mark.parametrize("path", EXAMPLES, ids=[p.parent.name for p in EXAMPLES])
def test_sections_are_those_of_the_assembled_boards(path: Path) -> None:
    """Both boards of every section, their mortises and grooves, lie as the solids do when they are put together; and
    every meeting of the step looks like one of its sections, or like its mirror image."""
    for _, operation, pairs, met in plunging(path):
        sections = [(each, real_section(each)) for each in met]
        for pair in pairs:
            same = [
                section
                for (_, slot, _, _, mate, _), section in sections
                if slot == pair.first.slot and np.allclose(mate.mouth, pair.second.slot.mouth)
            ]
            assert min(miss(pair, section, False) for section in same) < CLOSE, operation.id
        for _, section in sections:
            best = min(miss(pair, section, mirrored) for pair in pairs for mirrored in (False, True))
            assert best < CLOSE, operation.id


@pytest.mark.parametrize("path", EXAMPLES, ids=[p.parent.name for p in EXAMPLES])
def test_depths_and_slip_are_those_of_the_assembled_boards(path: Path) -> None:
    """Each mortise is as deep as the finished wood leaves it; the slip fills both, less the same room at each end."""
    for _, _, pairs, met in plunging(path):
        for pair in pairs:
            each = next(e for e in met if e[1] == pair.first.slot and e[4].part == pair.second.part.id)
            _, slot, here, there, mate, made = each
            for half, place, cut in ((pair.first, here, slot), (pair.second, there, mate)):
                bottom = np.array(cut.mouth) + np.array(cut.axis) * cut.depth
                frame = np.stack([np.cross(cut.axis, cut.along), -np.array(cut.axis), cut.along])
                at = Place(place.part, *np.eye(3), np.zeros(3))
                board = sliced(made[place.part].body, at, frame, bottom)
                deep = board.intersection(LineString([(0, 0), (0, cut.depth)])).length
                assert half.depth == pytest.approx(deep, abs=0.01)
            room = pair.first.depth + pair.second.depth - pair.slip.length
            assert pair.glue_room == pytest.approx(room / 2)
            assert pair.glue_room > 0


@pytest.mark.parametrize("path", EXAMPLES, ids=[p.parent.name for p in EXAMPLES])
def test_walls_are_measured_on_the_wood(path: Path) -> None:
    """The wall dimensioned is one that solids have there, no other side it could be measured square to is nearer
    (shapely), and the least of a part's is one the joint's report gives."""
    told = {
        (each.joint, wall.part): {w.left for way in each.ways for w in way.walls if w.part == wall.part}
        for each in joint_report(load_job(path))
        for way in each.ways
        for wall in way.walls
    }
    for _, operation, pairs, met in plunging(path):
        for pair in pairs:
            each = next(e for e in met if e[1] == pair.first.slot)
            wall = pair.first.walls[0]
            measured = walls(each[-1][each[1].part], operation, each[1])
            assert any(wall.size == pytest.approx(size, abs=0.01) for size in measured.values())
            squares = []
            for a, b in pairwise([*pair.first.board, pair.first.board[0]]):
                side = LineString([a, b])
                beyond = (0.0, pair.first.slot.depth - pair.first.depth)  # where it was plunged
                if min(_off(side, Point(0, 0)), _off(side, Point(*beyond))) < 0.05:
                    continue
                for corner in pair.first.hollow:
                    place = side.project(Point(corner))
                    if 1e-6 < place < side.length - 1e-6:
                        squares.append(side.distance(Point(corner)))
            assert wall.size == pytest.approx(min(squares), abs=1e-6)
            assert np.linalg.norm(wall.foot - wall.corner) == pytest.approx(wall.size)
    for plan, _ in cases(path):
        least: dict[tuple[str, str], float] = {}
        for operation in plan.operations:
            for pair in halves_at(plan, [operation]):
                key, size = (pair.joint, pair.first.part.id), pair.first.walls[0].size
                least[key] = min(size, least.get(key, size))
        for key, size in least.items():
            assert any(size == pytest.approx(left, abs=1e-3) for left in told[key]), key


def _off(side: LineString, point: Point) -> float:
    """How far a point is from the line that a side lies on."""
    (ax, ay), (bx, by) = side.coords
    far = 1e4 / max(side.length, 1e-9)
    return LineString(
        [(ax - (bx - ax) * far, ay - (by - ay) * far), (bx + (bx - ax) * far, by + (by - ay) * far)]
    ).distance(point)


def words(figure: Figure) -> list[str]:
    """The texts of a figure."""
    return [item.text.replace("\N{NO-BREAK SPACE}", " ") for item in figure.items if isinstance(item, Words)]


@pytest.mark.parametrize("path", EXAMPLES, ids=[p.parent.name for p in EXAMPLES])
@pytest.mark.parametrize("room", [(45.0, 34.0), (90.0, 60.0)])
def test_sections_say_their_figures_and_keep_their_room(path: Path, room: tuple[float, float]) -> None:
    """A section is no larger than its room, gives each half's wall as a dimension, depths, slip and glue room in the
    job's unit, and no two of its texts touch."""
    for plan, operation, pairs, _ in plunging(path):
        drawings = section_figures(plan, operation, *room)
        assert len(drawings) == len(pairs)
        assert len({figure.title for figure in drawings}) == len(drawings)
        for pair, figure in zip(pairs, drawings, strict=True):
            assert figure.width <= room[0] + 0.1
            assert figure.height <= room[1] + 0.1
            text = words(figure)
            for half in (pair.first, pair.second):
                assert format_length(half.walls[0].size, plan.unit) in text
                assert f"{format_length(half.slot.depth, plan.unit)} deep" in " ".join(text)
                bevelled = f"{format_length(half.depth, plan.unit)} once bevelled" in " ".join(text)
                assert bevelled == (half.depth < half.slot.depth - 0.05)
            size = (pair.slip.thickness, pair.slip.width, pair.slip.length)
            slip = " × ".join(format_length(mm, plan.unit, with_unit=False) for mm in size)
            assert f"slip {slip} {plan.unit}" in " ".join(text)
            assert f"glue room {format_length(pair.glue_room, plan.unit)}" in " ".join(text)
            boxes = [Polygon(item.corners()) for item in figure.items if isinstance(item, Words)]
            for number, box in enumerate(boxes):
                assert all(box.intersection(other).area < 1e-6 for other in boxes[:number]), text


CASE = """[job]
name = "case"
shop = "{shop}"
[[part]]
id = "shelf"
quantity = 3
length = 500
width = 300
thickness = 18
[[part]]
id = "{side}"
quantity = 2
length = 800
width = 300
thickness = 18
[[joint]]
id = "case"
kind = "end-to-face"
parts = ["shelf", "{side}"]
at = [0, 400, 782]
"""


def case_of(side: str, folder: Path) -> tuple[tuple[Plan, Operation, tuple[Halves, ...], list[Met]], ...]:
    """The plunging steps of three shelves between two sides of this name, the lowest and highest at their ends."""
    (folder / "job.toml").write_text(CASE.format(side=side, shop=EXAMPLES[0].parent.parent / "shop.toml"))
    return plunging(folder / "job.toml")


@pytest.mark.parametrize(
    "side", ["side", "left-hand-side-with-the-hinges", "intermediateboardwithoutanyspacesinitsname"]
)
@pytest.mark.parametrize("high", [34.0, 0.76 * 34.0])
def test_sections_keep_their_width_and_are_no_blots(side: str, high: float, tmp_path: Path) -> None:
    """Whatever the parts are called, a section is no wider than its column, and its slip at least 1.05 mm on paper:
    0.7 mm clear, the least room between parallel lines by ISO 128-2, and a line of 0.35 mm."""
    seen = 0
    for plan, operation, _, _ in case_of(side, tmp_path):
        for figure in section_figures(plan, operation, 45.0, high):
            seen += 1
            assert figure.width <= 45.0 + 0.1
            (slip,) = (item for item in figure.items if isinstance(item, Lines) and len(item.points) == 4)
            thin = min(float(np.hypot(*np.subtract(a, b))) for a, b in pairwise(slip.points))
            assert thin >= 1.05 - 1e-9
            assert "slip 6 × 32 × 36 mm" in " ".join(words(figure))
    assert seen > 3


def test_a_section_that_can_be_no_more_than_a_blot_is_left_out(tmp_path: Path) -> None:
    """In a strip 7 mm high, or 1.6 times that, no section with its notes can be read; there is none."""
    for plan, operation, _, _ in case_of("side", tmp_path):
        assert not section_figures(plan, operation, 45.0, 7.0)
        assert section_figures(plan, operation, 45.0, 34.0)


def test_sections_of_one_step_have_captions_of_their_own(tmp_path: Path) -> None:
    """Where a shelf meets the same side at its end and in its midst the captions tell where: 9 mm of 18 from the end,
    half the shelf's thickness, and 800 - 9; 400 + 9 for the one between."""
    titles = {
        operation.id: [figure.title for figure in section_figures(plan, operation, 45.0, 34.0)]
        for plan, operation, _, _ in case_of("side", tmp_path)
    }
    (two,) = (each for each in titles.values() if len(each) > 1)
    assert two == [
        "section: shelf with side, 9 and 791 mm from the left end of side",
        "section: shelf with side, 409 mm from the left end of side",
    ]


def test_slips_are_as_thick_as_their_cutters_are_marked() -> None:
    """In a job in inches with cutters in mm the section tells the slip's thickness in mm, as the card the cutter's."""
    path = next(p for p in EXAMPLES if p.parent.name == "picture-frames")
    plan, operation, *_ = plunging(path)[0]
    station = StationRecord(
        id=operation.station, name="", measures={"cutter": "length"}, marked={"cutter": "mm"}
    )
    (figure,) = section_figures(plan.model_copy(update={"stations": (station,)}), operation, 90.0, 60.0)
    assert "slip 6 mm × 1 17/64 × 63/64 in" in words(figure)


def test_unlike_corners_of_a_trough_are_told_apart() -> None:
    """Each bevel of the trough shows its own corner: 85 or 95 degrees between its two boards' outsides."""
    path = next(p for p in EXAMPLES if p.parent.name == "trough")
    seen = {}
    for _, operation, pairs, _ in plunging(path):
        (pair,) = pairs
        seen[pair.first.part.id, pair.first.surface] = pair.second.part.id, pair.second.surface
        assert operation.surface == f"{pair.first.part.id}/{pair.first.surface}"
    assert seen == {
        ("front", "right bevel"): ("right side", "left bevel"),
        ("right side", "left bevel"): ("front", "right bevel"),
        ("right side", "right bevel"): ("back", "left bevel"),
        ("back", "left bevel"): ("right side", "right bevel"),
        ("back", "right bevel"): ("left side", "left bevel"),
        ("left side", "left bevel"): ("back", "right bevel"),
        ("left side", "right bevel"): ("front", "left bevel"),
        ("front", "left bevel"): ("left side", "right bevel"),
    }


def test_a_wrong_corner_is_found_out() -> None:
    """The section of another corner of the trough, or a mirrored one, misses the assembled boards by far, so a pass
    means something."""
    path = next(p for p in EXAMPLES if p.parent.name == "trough")
    found = {operation.id: (pairs[0], met) for _, operation, pairs, met in plunging(path)}
    pair, met = found["corner-plunge-right-side-left-bevel"]
    section = real_section(met[0])
    assert miss(pair, section, False) < CLOSE
    assert miss(pair, section, True) > 100 * CLOSE
    assert miss(found["corner-plunge-right-side-right-bevel"][0], section, False) > 20 * CLOSE


def test_outlines_are_cut_without_slivers() -> None:
    """Of a square of 2 mm a line through its middle leaves half; one that touches a corner or a side, from outside,
    nothing, and from inside all; one a hundred-millionth from a corner cuts off no side too short to have a direction.
    """
    square = np.array([(0.0, 0.0), (2.0, 0.0), (2.0, 2.0), (0.0, 2.0)])
    across, slanting = np.array([1.0, 0.0]), np.array([1.0, 1.0]) / np.sqrt(2)
    assert Polygon(kept(square, across, 1.0)).area == pytest.approx(2.0)
    for normal, offset in ((across, 2.0), (slanting, 4 / np.sqrt(2))):
        assert Polygon(kept(square, normal, offset)).area == pytest.approx(4.0)
        assert len(kept(square, -normal, -offset)) == 0
    for off in (1e-10, 1e-8, 1e-7):
        assert len(kept(square, slanting, (4 - off) / np.sqrt(2))) == 4


@pytest.mark.parametrize("scale", [0.35, 0.5823, 0.626])
def test_no_hatching_lies_on_a_mitre(scale: float) -> None:
    """A stroke of the hatching at 45 degrees that falls on a mitre is left out where the slip goes through it: nothing
    that runs along the mitre passes the middle of the mouths."""
    found = plunging(next(path for path in EXAMPLES if path.parent.name == "mitred-box"))
    pairs = [
        pair for _, operation, pairs, _ in found for pair in pairs if "back of side" in operation.in_words
    ]
    assert pairs
    for pair in pairs:
        for item in _draw(pair, "mm", scale):
            if isinstance(item, Lines) and len(item.points) == 2:
                (a, b), (c, d) = item.points
                along = abs(abs(c - a) - abs(d - b)) < 1e-6
                assert not (along and abs(a * d - b * c) < 1e-6 and a * c + b * d < 0), item


def test_an_apron_is_shown_with_the_leg() -> None:
    """The side table's aprons are shown with the leg, the leg with either apron, never an apron with the other."""
    path = next(p for p in EXAMPLES if p.parent.name == "side-table")
    met = {
        (one.part, two.part)
        for _, _, pairs, _ in plunging(path)
        for pair in pairs
        if pair.joint == "frame"
        for one, two in pair.meets
    }
    assert met == {
        ("long apron", "leg"),
        ("short apron", "leg"),
        ("leg", "long apron"),
        ("leg", "short apron"),
    }


def test_old_plans_get_no_section_and_no_wrong_slips(tmp_path: Path) -> None:
    """A plan file written before meetings were carried is read, printed and drawn: without sections."""
    raw = json.loads(tea_boxes("mm").model_dump_json())
    assert raw.pop("meetings")
    (tmp_path / "old.json").write_text(json.dumps(raw))
    plan = read_plan(tmp_path / "old.json")
    assert set_booklet(booklet_values(plan)).startswith(b"%PDF")
    assert not any(section_figures(plan, operation, 45.0, 34.0) for operation in plan.operations)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"operation": "nothing"}, "does not plunge these mortises"),
        ({"cuts": [0, 9]}, "does not plunge these mortises"),
        ({"cuts": [0]}, "each mortise of the first needs one of the second"),
        ({"operation": "bevel-front"}, "does not plunge these mortises"),
    ],
)
def test_meetings_of_mortises_that_are_not_there_are_refused(
    change: dict[str, object], says: str, tmp_path: Path
) -> None:
    """A plan file whose meetings name what the operations do not plunge is refused with the place."""
    raw = json.loads(tea_boxes("mm").model_dump_json())
    raw["meetings"][1]["first"] |= change
    (tmp_path / "plan.json").write_text(json.dumps(raw))
    with pytest.raises(InputError) as refusal:
        read_plan(tmp_path / "plan.json")
    assert says in str(refusal.value)
    assert "meetings.1" in str(refusal.value)
