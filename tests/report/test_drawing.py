"""The drawings against the geometry, and against general-purpose references."""

from __future__ import annotations

import math
import xml.etree.ElementTree as ElementTree
from itertools import pairwise

import numpy as np
import pytest
from scipy.spatial.transform import Rotation
from shapely import LineString, Polygon
from shapely import box as rectangle

from sequencer.cards.planbook import PlanBook
from sequencer.geometry.board import Board
from sequencer.geometry.convex import Plane
from sequencer.operations import Meeting, Mortises, Operation, PlaneCut, Slip, Slot, Trench
from sequencer.planfile import PartRecord
from sequencer.report.drawing.dial import dial_figure
from sequencer.report.drawing.dimension import running
from sequencer.report.drawing.figure import TEXT, Arc, Figure, Path, Words, hatching, text_width
from sequencer.report.drawing.history import finished, part_state, plane_of
from sequencer.report.drawing.joint import halves_at
from sequencer.report.drawing.part import part_figures, part_scenes
from sequencer.report.drawing.part_sizes import in_lines, slant_text
from sequencer.report.drawing.projection import isometric_views
from sequencer.report.drawing.section import section_figures
from sequencer.report.drawing.solid import Solid, box, occluded, segments, slot_cutter, trench_cutter
from sequencer.report.drawing.svg import svg
from sequencer.report.drawing.timeline import timeline_figure
from tests.joinery.board_corners import corners_of
from tests.sample_plans import tea_boxes

MITRE = PlaneCut(
    part="side", surface="left mitre", point=(0, 0, 0), normal=(-math.sqrt(0.5), 0, math.sqrt(0.5))
)


def test_isometric_views_are_rotations() -> None:
    """Every view is a proper rotation of the board, and shows its three axes equally short (sqrt 2/3)."""
    for view in isometric_views():
        turned = np.stack([view.right, view.up, view.viewer])
        assert np.linalg.det(turned) == pytest.approx(1.0)
        assert Rotation.from_matrix(turned).as_matrix() == pytest.approx(turned)
        assert np.linalg.norm(view.spots(np.eye(3)), axis=1) == pytest.approx([math.sqrt(2 / 3)] * 3)
    assert len({tuple(np.round(np.concatenate([v.right, v.up]), 6)) for v in isometric_views()}) == 24


def test_plainest_view_is_the_textbook_rotation() -> None:
    """The first view is a turn of 45 degrees about the upright, then of arctan(1/sqrt 2) to the viewer."""
    view = isometric_views()[0]
    down = math.degrees(math.atan(1 / math.sqrt(2)))
    # Scipy turns the board; x to the right, y away from the viewer, z up before the turn.
    turned = Rotation.from_euler("zx", [45, down], degrees=True)
    points = np.random.default_rng(3).uniform(-100, 100, (20, 3))
    seen = turned.apply(points)
    assert view.spots(points) == pytest.approx(np.stack([seen[:, 0], seen[:, 2]], axis=1))


def test_body_has_the_corners_of_the_board() -> None:
    """A board cut for drawing has exactly the corners that the geometry finds for it."""
    board = Board.fresh(200, 100, 18).after([MITRE])
    body = box((0, 0, 0), (200, 100, 18)).clipped(plane_of(MITRE))
    mine = {tuple(np.round(p, 6)) for p in body.corners}
    assert mine == {tuple(np.round(p, 6)) for p in corners_of(board)}
    assert {face.name for face in body.faces} == set(board.polygons)


def test_three_edges_of_a_box_are_hidden() -> None:
    """Of a box's twelve edges an isometric view hides three, those at the far corner, at full length."""
    for view in isometric_views():
        found = segments([Solid(box((0, 0, 0), (60, 40, 20)))], view.viewer)
        hidden = [piece for piece in found if not piece.seen]
        assert (len(found), len(hidden)) == (12, 3)
        far = min(box((0, 0, 0), (60, 40, 20)).corners, key=lambda p: float(p @ view.viewer))
        for piece in hidden:
            assert min(np.linalg.norm(piece.start - far), np.linalg.norm(piece.end - far)) < 1e-6


def test_bottom_of_a_deep_mortise_is_hidden() -> None:
    """The mouth of a mortise in the face is seen, its bottom is not, and an edge behind a groove's wall is not."""
    body = box((0, 0, 0), (300, 100, 18))
    slot = Slot(
        part="a",
        joint="j",
        mouth=(50, 50, 18),
        axis=(0, 0, -1),
        along=(1, 0, 0),
        length=30,
        width=6,
        depth=12,
    )
    groove = Trench(part="a", surface="groove", low=(0, 80, 12), high=(300, 86, 18))
    solid = Solid(body, (slot_cutter(slot), trench_cutter(groove, body)), (True, True))
    view = isometric_views()[0]
    pieces = segments([solid], view.viewer)
    mouth = [p for p in pieces if p.cutter == 0 and "body/face" in p.faces]
    bottom = [p for p in pieces if p.cutter == 0 and "bottom" in p.faces]
    assert mouth
    assert all(piece.seen for piece in mouth)
    assert bottom
    assert not any(piece.seen for piece in bottom)
    near_wall = np.array([[150.0, 80.0, 12.01]])
    far_wall = np.array([[150.0, 86.0, 17.0]])
    assert occluded(near_wall, [solid], view.viewer)[0]
    assert not occluded(far_wall, [solid], view.viewer)[0]


def test_mortise_volume_by_its_faces() -> None:
    """The cutter's outline is the stadium: area a(b-a) + pi a^2/4, here with 12 flats for a half round, within 1 %."""
    slot = Slot(
        part="a", joint="j", mouth=(0, 0, 0), axis=(0, 0, -1), along=(1, 0, 0), length=30, width=6, depth=15
    )
    bottom = slot_cutter(slot).face("bottom")
    assert bottom is not None
    x, y = bottom.points[:, 0], bottom.points[:, 1]
    area = abs(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1))) / 2
    assert area == pytest.approx(172.274, rel=0.01)


def test_waste_and_piece_make_up_the_board() -> None:
    """What a bevel leaves and what it takes off lie on opposite sides of its plane."""
    plan = tea_boxes("mm")
    operation = next(o for o in plan.operations if o.id == "bevel-front")
    part = next(p for p in plan.parts if p.id == "front")
    state = part_state(plan, operation, part)
    assert len(state.waste) == 2
    for cut, waste in zip([c for c in operation.cuts if isinstance(c, PlaneCut)], state.waste, strict=True):
        plane = plane_of(cut)
        assert (plane.height(waste.corners) >= -1e-6).all()
        assert (plane.height(state.after.corners) <= 1e-6).all()


def test_figures_fit_their_room_and_are_to_scale() -> None:
    """No figure is larger than its room, and the board's projected corners are the geometry's, turned by scipy."""
    plan = tea_boxes("mm")
    for operation in plan.operations:
        for figure in part_figures(plan, operation, 92.0, 36.0):
            assert figure.width <= 92.0
            assert figure.height <= 36.0
        for scene in part_scenes(plan, operation):
            turned = Rotation.from_matrix(np.stack([scene.view.right, scene.view.up, scene.view.viewer]))
            expected = turned.apply(scene.state.after.corners)[:, :2] * scene.view.scale
            if not scene.cut_out.happens:
                assert scene.view.spots(scene.state.after.corners) == pytest.approx(expected)


def test_section_finds_the_wall_computed_apart() -> None:
    """A mitre plunged square to its bevel, 18 mm thick, 6 mm slip 8 mm deep, 0.62 along the bevel, leaves a wall of
    (c - a/2) sin 45 - d cos 45 = 3.3818 mm, by plane geometry."""
    half_root = math.sqrt(0.5)
    at = 0.62 * 18

    def cuts(part: str) -> tuple[PlaneCut | Slot, ...]:
        slot = Slot(
            part=part,
            joint="corner",
            mouth=(at, 50, at),
            axis=(half_root, 0, -half_root),
            along=(0, 1, 0),
            length=30,
            width=6,
            depth=8,
        )
        return MITRE.model_copy(update={"part": part}), slot

    base = tea_boxes("mm")
    operation = base.operations[0].model_copy(update={"id": "corner", "cuts": cuts("front") + cuts("side")})
    step = base.steps[0].model_copy(update={"operation": "corner"})
    meeting = Meeting(
        joint="corner",
        times=1,
        slip=Slip(thickness=6, width=30, length=14),
        first=Mortises(operation="corner", cuts=(1,)),
        second=Mortises(operation="corner", cuts=(3,)),
        turned=True,
    )
    plan = base.model_copy(update={"operations": (operation,), "steps": (step,), "meetings": (meeting,)})
    (pair,) = halves_at(plan, [operation])
    assert pair.first.depth == pytest.approx(8.0)
    assert pair.first.walls[0].size == pytest.approx(3.3818, abs=1e-3)
    (figure,) = section_figures(plan, operation, 45.0, 34.0)
    words = [item.text for item in figure.items if isinstance(item, Words)]
    assert words.count("3.4 mm") == 2
    assert "both 8\N{NO-BREAK SPACE}mm\N{NO-BREAK SPACE}deep" in words


def test_square_first_halves_meet_on_the_mitre() -> None:
    """Plunged square, 15 mm deep at 9 mm from the end of an 18 mm board, both halves keep 6 mm, a slip 10 mm."""
    plan = tea_boxes("mm")
    operation = next(op for op in plan.operations if op.id == "plunge-face-front")
    (pair,) = halves_at(plan, [operation])
    assert (pair.first.part.id, pair.second.part.id) == ("front", "side")
    assert (pair.first.depth, pair.second.depth) == pytest.approx((6.0, 6.0))
    assert (pair.slip.length, pair.glue_room) == pytest.approx((10.0, 1.0))


def test_finished_board_keeps_no_square_end() -> None:
    """After both mitres nothing of a front's square ends is left."""
    plan = tea_boxes("mm")
    state = finished(plan, next(p for p in plan.parts if p.id == "front"))
    names = {face.name for face in state.after.faces}
    assert {"left mitre", "right mitre"} <= names
    assert not {"left end", "right end"} & names


def test_renewed_face_takes_the_new_name() -> None:
    """A cut along a face that is there already renews it under the cut's name."""
    body = box((0, 0, 0), (100, 50, 20)).clipped(Plane.through("fresh", (100, 0, 0), (1, 0, 0)))
    assert body.face("fresh") is not None
    assert body.face("right end") is None


def test_hatching_leaves_holes() -> None:
    """No hatching line runs through the hole of an outline."""
    outer = [(0.0, 0.0), (20.0, 0.0), (20.0, 20.0), (0.0, 20.0)]
    hole = [(5.0, 5.0), (15.0, 5.0), (15.0, 15.0), (5.0, 15.0)]
    for line in hatching([outer, hole], 45.0):
        (ax, ay), (bx, by) = line.points
        middle = ((ax + bx) / 2, (ay + by) / 2)
        assert not (5 < middle[0] < 15 and 5 < middle[1] < 15)


@pytest.mark.parametrize(
    ("setting", "degrees"), [("tilt", 45.0), ("gauge", 14.51), ("fence_angle", 67.5), ("tilt", 0.0)]
)
def test_dials_carry_their_number(setting: str, degrees: float) -> None:
    """The figure of an angle says the angle, and nothing else."""
    words = [item.text for item in dial_figure(setting, degrees).items if isinstance(item, Words)]
    assert words == [f"{degrees:g}°"]


@pytest.mark.parametrize("degrees", [5.0, 22.5, 40.74, 45.0, 45.41])
def test_a_tilt_is_told_clear_of_the_blade(degrees: float) -> None:
    """The number of a tilt, letters 0.75 of its size high, does not touch the blade."""
    items = dial_figure("tilt", degrees).items
    (number,) = [item for item in items if isinstance(item, Words)]
    (blade,) = [Polygon(item.points) for item in items if isinstance(item, Path) and len(item.points) == 4]
    x, y = number.at
    letters = rectangle(x - number.width, y, x, y + 0.75 * number.size)
    assert letters.distance(blade) > 0.3


def test_running_sizes_stand_past_the_circle_they_start_from() -> None:
    """A first size close to the origin is written beyond the origin's circle, which else reads as a degree sign."""
    items = running((0.0, 0.0), [(1.0, 0.58), (9.0, 5.2)], (0.0, -1.0), 4.5, ["36", "326"])
    (circle,) = [item for item in items if isinstance(item, Arc)]
    first = next(item for item in items if isinstance(item, Words))
    assert first.text == "36"
    assert first.at[1] < circle.centre[1] - circle.radius


def test_each_arrow_of_running_sizes_has_its_value() -> None:
    """Of values too close to be told apart one stays, and no arrow without a value: 21 alone at the arrow of 57 reads
    as a size that is not there. The line ends at the last value, however short (then without an arrow)."""
    for places, labels, told in (
        ([1.0, 2.7], ["21", "57"], {1.0: "21"}),
        ([5.0, 6.0, 12.0], ["5", "6", "12"], {5.0: "5", 12.0: "12"}),
    ):
        items = running((0.0, 0.0), [(x, 0.0) for x in places], (0.0, -1.0), 4.5, labels)
        assert [item.text for item in items if isinstance(item, Words)] == list(told.values())
        tips = [item.points[0][0] for item in items if isinstance(item, Path) and item.fill == "black"]
        assert tips == pytest.approx([x for x in told if x > 1.8])
        (line,) = [item for item in items if isinstance(item, Path) and item.points[0] == (0.0, -4.5)]
        assert line.points[1][0] == pytest.approx(max(told))


@pytest.mark.parametrize("room", [44.0, 30.0])
def test_a_leader_runs_through_no_note(room: float) -> None:
    """Two housings, two notes above each other: the leader of the upper one passes the lower one."""
    cuts = tuple(
        Trench(part="side", surface=f"housing {x}", low=(x, 0, 0), high=(x + 18, 220, 3))
        for x in (270.0, 460.0)
    )
    part = PartRecord(id="side", quantity=4, length=640, width=220, thickness=20)
    operation = Operation(id="house", station="router", parts=("side",), cuts=cuts)
    base = tea_boxes("mm")
    plan = base.model_copy(update={"parts": (part,), "operations": (operation,), "steps": ()})
    (figure,) = part_figures(plan, operation, room, 60.0)
    notes = [item for item in figure.items if isinstance(item, Words) and item.anchor == "left"]
    assert len([item for item in notes if "wide" in item.text]) == 2
    lines = [
        LineString(item.points) for item in figure.items if isinstance(item, Path) and len(item.points) == 2
    ]
    for words in notes:
        x, y = words.at
        letters = rectangle(x, y, x + words.width, y + 0.7 * words.size)
        assert not [line for line in lines if line.intersection(letters).length > 0.1]


def test_svg_is_well_formed_and_inert() -> None:
    """Names with markup stay text in the SVG file, which parses and holds every item."""
    figure = Figure(
        (Path(((0, 0), (1, 1))), Arc((1, 1), 1, 0, 90), Words((0, 0), '<b>&"')), 2, 2, "<t>", "a&b"
    )
    root = ElementTree.fromstring(svg(figure))
    assert [child.tag.split("}")[1] for child in root] == ["title", "desc", "path", "path", "text"]
    assert root[-1].text == '<b>&"'


@pytest.mark.parametrize(("tilt", "gauge"), [(45.0, 0.0), (0.0, 45.0), (29.5, 5.73), (0.0, 0.0)])
def test_slant_of_a_cut_is_named_by_the_saw_angles_that_make_it(tilt: float, gauge: float) -> None:
    """A crosscut turned by the gauge about the upright and then tilted reads as that bevel and that mitre, by scipy's
    Rotation."""
    tilted = Rotation.from_euler("y", tilt, degrees=True)
    normal = (Rotation.from_euler("z", gauge, degrees=True) * tilted).apply([1.0, 0.0, 0.0])
    words = [f"{tilt:g}° bevel"] * (tilt > 0) + [f"{gauge:g}° mitre"] * (gauge > 0)
    assert slant_text(normal) == ", ".join(words)


def test_notes_break_into_lines_that_fit() -> None:
    """The note of a groove on a narrow figure is broken between words, and the figure keeps to its room."""
    lines = in_lines("5 mm wide, 6 mm deep, 6 mm from the reference edge", 45.0)
    assert len(lines) > 1
    assert all(Words((0, 0), line).width <= 45.0 for line in lines)
    plan = tea_boxes("in")
    grooves = [op for op in plan.operations if any(isinstance(cut, Trench) for cut in op.cuts)]
    assert grooves
    for operation in grooves:
        for figure in part_figures(plan, operation, 45.0, 34.0):
            assert figure.width <= 45.0 + 0.1
            assert figure.height <= 34.0 + 0.1
            assert max(figure.width, figure.height) > 20.0


def test_words_wider_than_a_note_are_broken() -> None:
    """At hyphens where that will do, else at any letter; sizes stay whole while they fit; nothing is lost."""
    name = "upper-left-hand-side-of-the-carcase-with-hinges:"
    lines = in_lines(f"{name} 15 mm deep", 30.0)
    assert len(lines) > 2
    assert all(line.endswith("-") for line in lines[:-1])
    assert lines[-1] == "hinges: 15 mm deep"
    for room in (9.0, 20.0, 33.0):
        for text in (name, "intermediateshelfwithoutanyspacesinitsname: 15 mm", "slip 6 × 32 × 36 mm"):
            lines = in_lines(text, room)
            assert "".join(lines).replace(" ", "") == text.replace(" ", "")
            assert all(text_width(line, TEXT) <= room for line in lines)
    just = text_width("6 × 32 × 36 mm", TEXT) + 0.01
    assert in_lines("slip 6 × 32 × 36 mm", just) == ["slip", "6 × 32 × 36 mm"]


@pytest.mark.parametrize("minutes", [1.0, 95.0, 3e5, 9.4e6, 1e9])
def test_the_time_bar_has_room_for_its_labels(minutes: float) -> None:
    """However long the work takes, there are a few ticks, and their labels do not touch."""
    plan = tea_boxes()
    (*steps, last) = plan.steps
    longer = last.model_copy(update={"work_minutes": minutes})
    plan = plan.model_copy(update={"steps": (*steps, longer), "cost_minutes": plan.cost_minutes + minutes})
    figure = timeline_figure(PlanBook(plan), 180.0)
    ticks = sorted(
        (item.at[0], text_width(item.text, 2.2))
        for item in figure.items
        if isinstance(item, Words) and item.size == 2.2
    )
    assert 2 <= len(ticks) <= 15
    for (x, wide), (then, next_wide) in pairwise(ticks):
        assert then - x > (wide + next_wide) / 2
