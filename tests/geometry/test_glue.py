"""Glue areas, grain, gaps and the pivoting fence against tables, shapely and plain trigonometry."""

from __future__ import annotations

from math import cos, radians, sin

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation
from shapely.affinity import rotate
from shapely.geometry import LineString, Point, box

from sequencer.geometry import gaps, grain
from sequencer.geometry.grain import hankinson, joint_glue, mortise_glue, ranked, weight
from sequencer.geometry.pivot import FencePivot
from sequencer.geometry.refusal import FigureError
from sequencer.geometry.slots import SlotSolid

R2 = 2**-0.5


def slot(
    axis: tuple[float, ...], along: tuple[float, ...], width: float = 8, length: float = 22, depth: float = 20
) -> SlotSolid:
    """A slot at the origin."""
    return SlotSolid(np.zeros(3), np.array(axis), np.array(along), length, width, depth)


@pytest.mark.parametrize(
    ("mortise", "axis", "along", "cheek", "end", "bottom"),
    [
        ("edge, slip along the grain", (0, 1, 0), (1, 0, 0), 0, 1, 0),
        ("face, slip across the grain", (0, 0, -1), (0, 1, 0), 1, 0, 0),
        ("end grain", (1, 0, 0), (0, 1, 0), 0, 0, 1),
        ("case mitre", (R2, 0, -R2), (0, 1, 0), R2, 0, R2),
        ("frame mitre", (R2, R2, 0), (R2, -R2, 0), 0, R2, R2),
    ],
)
def test_grain_of_every_wall(
    mortise: str, axis: tuple[float, ...], along: tuple[float, ...], cheek: float, end: float, bottom: float
) -> None:
    """|wall normal . fibre| of cheeks, ends and bottom for the five usual mortises (plane geometry)."""
    walls = mortise_glue(slot(axis, along)).walls
    found = {wall.name: sin(radians(wall.slope)) for wall in walls}
    assert (found["cheek"], found["end"], found["bottom"]) == pytest.approx((cheek, end, bottom), abs=1e-9)


@pytest.mark.parametrize(
    ("width", "length", "depth", "whole", "flat"),
    [(8, 22, 20, 1062.655, 560), (6, 30, 15, 1002.743, 720), (10, 40, 25, 2285.398, 1500)],
)
def test_glue_areas(width: float, length: float, depth: float, whole: float, flat: float) -> None:
    """Cheeks and rounded ends have the areas of shapely's stadium, whose perimeter is 2 (b - a) + pi a."""
    made = mortise_glue(slot((0, 1, 0), (1, 0, 0), width, length, depth))
    cheeks = sum(w.area for w in made.walls if w.name == "cheek")
    ends = sum(w.area for w in made.walls if w.name == "end")
    assert cheeks == pytest.approx(flat)
    assert cheeks + ends == pytest.approx(whole, abs=1e-3)
    stadium = LineString([(0, 0), (length - width, 0)]).buffer(width / 2, quad_segs=256)
    assert (cheeks + ends) / depth == pytest.approx(stadium.length, rel=1e-4)
    assert made.walls[-1].area == pytest.approx(stadium.area, rel=3e-3)
    assert sum(w.area for w in made.walls if w.counted) == cheeks
    counted = mortise_glue(slot((0, 1, 0), (1, 0, 0), width, length, depth), count_ends=True)
    assert sum(w.area for w in counted.walls if w.counted) == pytest.approx(whole, abs=1e-3)


def test_weights() -> None:
    """Long grain 1, crossed long grain 1/3, end grain 0.

    Source of 1/3 and of end grain: FPL Report 1522 (1945); Wood Handbook FPL-GTR-190, chapter 10.
    """
    assert weight(0, 0) == 1
    assert weight(0, 90) == pytest.approx(1 / 3)
    assert weight(90, 0) == 0
    assert weight(0, 90, crossed=0.5) == pytest.approx(0.5)


@settings(max_examples=60, deadline=None)
@given(st.floats(0, 89), st.floats(0, 89), st.floats(0.1, 1))
def test_weight_falls_with_either_angle(slope: float, crossing: float, more: float) -> None:
    """More slope or more crossing never counts for more."""
    assert weight(slope + more, crossing) < weight(slope, crossing) <= 1
    assert weight(slope, crossing + more) <= weight(slope, crossing)


@pytest.mark.parametrize(("angle", "strength"), [(15, 32.386), (30, 16.533), (45, 9.908), (60, 7.073)])
def test_hankinson(angle: float, strength: float) -> None:
    """Hankinson's formula for P 49.9, Q 5.5 MPa, computed apart. Source of the form: FPL Report 1203."""
    assert hankinson(angle, 49.9, 5.5) == pytest.approx(strength, abs=6e-4)
    assert (hankinson(0, 49.9, 5.5), hankinson(90, 49.9, 5.5)) == pytest.approx((49.9, 5.5))


def test_frame_joint_against_an_integral_tenon() -> None:
    """A rail's slip glues (b - a) / b of what an integral tenon of its outside size would; deeper glues more."""
    rail, stile = slot((1, 0, 0), (0, 1, 0)), slot((0, 1, 0), (1, 0, 0))
    joint = joint_glue(rail, stile)
    assert joint.one.relative == pytest.approx(560)
    assert joint.relative == pytest.approx(560 / 3)
    assert joint.against_integral == pytest.approx((22 - 8) / 22)
    assert joint.verdict.startswith("both cheeks are long grain, the fibres crossing at 90 degrees")
    deeper = joint_glue(slot((1, 0, 0), (0, 1, 0), depth=25), slot((0, 1, 0), (1, 0, 0), depth=25))
    two = joint_glue(rail, stile, count=2)
    assert deeper.relative > joint.relative
    assert two.relative == pytest.approx(2 * joint.relative)
    assert ranked({"one": joint, "two": two, "deeper": deeper}) == ["two", "deeper", "one"]


def test_verdicts_name_the_weak_cheeks() -> None:
    """A slip across the grain is called end grain, a case mitre's oblique, a flat mitre's long grain."""
    across = joint_glue(slot((1, 0, 0), (0, 1, 0)), slot((0, 0, -1), (0, 1, 0)))
    assert across.verdict.startswith("both cheeks meet end grain: turn the slip")
    assert across.relative == 0
    assert across.against_integral is not None
    case = joint_glue(slot((R2, 0, -R2), (0, 1, 0)), slot((-R2, 0, -R2), (0, 1, 0)))
    assert case.verdict.startswith("both cheeks meet the fibre at 45 degrees")
    flat = joint_glue(slot((R2, R2, 0), (R2, -R2, 0)), slot((-R2, R2, 0), (R2, R2, 0)))
    assert "long grain" in flat.verdict
    assert flat.relative > case.relative > across.relative


@pytest.mark.parametrize(
    ("sides", "error", "one", "last"),
    [
        (4, 0.1, 0.0889, 0.3554),
        (4, 0.25, 0.2221, 0.8885),
        (4, 0.5, 0.4443, 1.7768),
        (8, 0.1, 0.0680, 0.5441),
        (6, 0.1, 0.0726, 0.4353),
    ],
)
def test_gaps_from_a_bevel_error(sides: int, error: float, one: float, last: float) -> None:
    """Gaps of one joint and of a ring's last joint in 18 mm stock, computed apart from this program."""
    face = 18 / cos(radians(180 / sides))
    assert gaps.joint_gap(face, error) == pytest.approx(one, abs=6e-5)
    assert gaps.ring_gap(face, error, sides) == pytest.approx(last, abs=6e-5)
    assert gaps.joint_gap(face, -error) == gaps.joint_gap(face, error)


def test_gap_of_two_boards_drawn_out() -> None:
    """Two boards with 44.5 degree bevels laid at a right angle touch at the heel and gape outside by 2 F tan
    e.
    """
    face, error = 18 / cos(radians(45)), -0.5
    run = np.array([sin(radians(45 + error)), cos(radians(45 + error))]) * face
    # Bevels turned away from the bisector by the error about the heel: their far ends are 2 F sin e apart,
    # drawn out.
    apart = np.linalg.norm(run - np.array([sin(radians(45 - error)), cos(radians(45 - error))]) * face)
    assert gaps.joint_gap(face, error) == pytest.approx(apart, rel=1e-3)


@settings(max_examples=40, deadline=None)
@given(st.floats(5, 12), st.floats(0.2, 1.5), st.floats(8, 40))
def test_play_of_a_thin_slip_agrees_with_plane_polygons(width: float, thinner: float, depth: float) -> None:
    """Turned by the play, the slip's section just spans the slot (shapely)."""
    thickness = width - thinner
    lean = gaps.play(width, thickness, depth)
    section = rotate(box(0, 0, thickness, depth), lean, origin=(0, 0))
    left, _, right, _ = section.bounds
    assert right - left == pytest.approx(width, abs=1e-9)
    assert gaps.play(width, width - thinner / 2, depth) < lean


def test_thinner_slip_as_the_remedy() -> None:
    """A slip one size down is called enough only when both mortises' play covers twice the bevel error."""
    much = gaps.thinner_slip(6, 5, (12, 12), 0.5)
    assert much.enough
    assert much.play == pytest.approx(2 * gaps.play(6, 5, 12))
    assert much.adhesive == pytest.approx(0.5)
    assert not gaps.thinner_slip(6, 5.95, (12, 12), 0.5).enough
    assert gaps.next_slip_down(6, [4, 5, 6, 8]) == 5
    with pytest.raises(FigureError):
        gaps.next_slip_down(4, [4, 5])


@settings(max_examples=60, deadline=None)
@given(st.floats(-20, 20), st.floats(-20, 20), st.floats(30, 150), st.floats(0, 60))
def test_pivoting_fence_against_a_turned_line(
    behind: float, ahead: float, angle: float, dialled: float
) -> None:
    """The corner of base and fence is where the fence's line, turned about the pivot, meets the base's
    (shapely).
    """
    pivot = FencePivot(behind, ahead)
    fence = LineString([(-dialled, -5000), (-dialled, 5000)])
    turned = rotate(fence, angle - 90, origin=(-dialled - behind, ahead))
    base = LineString([(-5000, 0), (5000, 0)])
    corner = turned.intersection(base)
    assume(not corner.is_empty)
    assert isinstance(corner, Point)
    assert pivot.dial(-corner.x, angle) == pytest.approx(dialled, abs=1e-6)
    assert pivot.dial(dialled, 90) == dialled


def test_grain_does_not_depend_on_the_frame() -> None:
    """Turning slot and fibre together changes nothing (scipy Rotation)."""
    turn = Rotation.from_euler("xyz", (20, 50, 110), degrees=True)
    plain = mortise_glue(slot((R2, 0, -R2), (0, 1, 0)))
    turned = mortise_glue(
        slot(tuple(turn.apply((R2, 0, -R2))), tuple(turn.apply((0, 1, 0)))),
        fibre=tuple(turn.apply((1, 0, 0))),
    )
    assert turned.relative == pytest.approx(plain.relative)
    assert plain.relative == pytest.approx(0.25 * 560)
    assert grain.grain_of(45) == "oblique"
