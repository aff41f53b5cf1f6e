"""Mortise walls, depths and distances against figures worked apart, shapely and manifold3d."""

from __future__ import annotations

from math import cos, inf, radians, sin, sqrt, tan

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from manifold3d import CrossSection, Manifold
from scipy.spatial.transform import Rotation
from shapely.geometry import LineString, Polygon, box

from sequencer.geometry import slots
from sequencer.geometry.angles import regular
from sequencer.geometry.board import Board
from sequencer.geometry.convex import Plane
from sequencer.geometry.mortise import BevelFace, SquareFirst, equal_depth_centre, square_first
from sequencer.geometry.refusal import FigureError
from sequencer.geometry.slots import SlotSolid
from sequencer.operations import PlaneCut, Trench


def solid(slot: SlotSolid) -> Manifold:
    """The slot in the solid modeller, its rounds as polygons of 256 corners."""
    straight, r = (slot.length - slot.width) / 2, slot.width / 2
    circle = CrossSection.circle(r, 256)
    stadium = CrossSection.batch_hull([circle.translate((straight, 0)), circle.translate((-straight, 0))])
    frame = np.column_stack([slot.along, np.cross(slot.axis, slot.along), slot.axis, slot.mouth])
    return Manifold.extrude(stadium, slot.depth).transform(frame)


@pytest.mark.parametrize(
    ("sides", "face", "wall", "heel", "deepest"),
    [
        (4, 25.4558, 1.2218, 6.8787, 5.4853),
        (5, 22.2492, 1.8707, 6.5729, 6.0787),
        (6, 20.7846, 2.4019, 6.4019, 6.8038),
        (8, 19.4831, 3.1669, 6.2284, 8.4361),
    ],
)
def test_centred_slot_in_a_mitre(sides: int, face: float, wall: float, heel: float, deepest: float) -> None:
    """18 mm stock, 6 mm slot 8 deep, centred: figures computed apart from this program."""
    bevel = BevelFace(18, regular(sides).tilt)
    c = bevel.length / 2
    found = (bevel.length, bevel.outside_wall(6, c, 8), bevel.heel_wall(6, c), bevel.deepest(6, c, 3))
    assert found == pytest.approx((face, wall, heel, deepest), abs=6e-5)


@pytest.mark.parametrize(
    ("sides", "slope", "thickness", "width", "depth", "wall"),
    [
        (6, 60, 12, 4, 5, 2.0322),
        (4, 75, 18, 6, 8, 1.3447),
        (8, 80, 18, 6, 8, 3.2062),
        (5, 70, 15, 5, 7, 1.5496),
    ],
)
def test_centred_slot_in_a_splayed_corner(
    sides: int, slope: float, thickness: float, width: float, depth: float, wall: float
) -> None:
    """The same formula holds with the compound tilt: four walls measured on solids, apart from this program."""
    bevel = BevelFace(thickness, regular(sides, slope).tilt)
    assert bevel.outside_wall(width, bevel.length / 2, depth) == pytest.approx(wall, abs=6e-5)


def test_slot_shifted_toward_the_heel() -> None:
    """0.62 of the mitre face: wall 3.3818 at 8 deep, 0.5534 at 12, through at 12.7826 (computed apart)."""
    bevel = BevelFace(18, 45)
    c = 0.62 * bevel.length
    assert bevel.outside_wall(6, c, 8) == pytest.approx(3.3818, abs=6e-5)
    assert bevel.outside_wall(6, c, 12) == pytest.approx(0.5534, abs=6e-5)
    assert bevel.break_through(6, c) == pytest.approx(12.7826, abs=6e-5)


@settings(max_examples=60, deadline=None)
@given(st.floats(8, 40), st.floats(5, 60), st.floats(0.2, 0.8), st.floats(2, 8), st.floats(1, 20))
def test_bevel_walls_agree_with_plane_polygons(
    thickness: float, tilt: float, share: float, width: float, depth: float
) -> None:
    """Wall, heel wall and nearest place agree with distances in shapely."""
    bevel = BevelFace(thickness, tilt)
    c = share * bevel.length
    # In section: outside face along +x from the sharp corner (0, 0), wood above it; the bevel runs at phi to
    # it.
    phi = radians(90 - tilt)
    run, into = np.array([cos(phi), sin(phi)]), np.array([sin(phi), -cos(phi)])
    corners = [
        run * (c + a) + into * d
        for a, d in ((-width / 2, 0), (width / 2, 0), (width / 2, depth), (-width / 2, depth))
    ]
    slot = Polygon(corners)
    wall = bevel.outside_wall(width, c, depth)
    assume(c - width / 2 > 0.1 and c + width / 2 < bevel.length - 0.1)
    if wall > 0.01:
        assert slot.distance(LineString([(-900, 0), (900, 0)])) == pytest.approx(wall, abs=1e-9)
    else:
        assert slot.intersects(box(-900, -900, 900, 0.01))
    assert slot.distance(LineString([(-900, thickness), (900, thickness)])) == pytest.approx(
        bevel.heel_wall(width, c), abs=1e-9
    )
    least = bevel.nearest_centre(width, depth, 3)
    assert bevel.outside_wall(width, least, depth) == pytest.approx(3, abs=1e-9)
    assert bevel.outside_wall(width, c + 0.5, depth) > wall


def test_a_place_is_refused_with_the_depth_that_would_do() -> None:
    """A slot too deep for its walls is refused, and the depth named in the refusal passes."""
    bevel = BevelFace(18, 45)
    with pytest.raises(FigureError) as refused:
        bevel.place(6, 14, 3)
    depth = float(refused.value.accepted.split()[3])
    centre = bevel.place(6, depth, 3)
    assert bevel.outside_wall(6, centre, depth) >= 3 - 1e-9
    assert bevel.place(6, 2, 3) == pytest.approx(bevel.length / 2)


def test_square_first_in_18_mm() -> None:
    """T = 18, slip in the middle, both plunges 15 deep: wall 3 and 6 glued on each side. Plane geometry."""
    corner = SquareFirst(18, 90, 6, 9, 15, 15)
    assert corner.outside_wall == 3
    assert (corner.glued_in_end, corner.glued_in_face) == pytest.approx((6, 6))
    assert corner.slip_length == pytest.approx(12)
    assert equal_depth_centre(18) == 9


@settings(max_examples=60, deadline=None)
@given(st.floats(12, 40), st.floats(60, 150), st.floats(2, 10), st.floats(2, 10), st.floats(3, 8))
def test_square_first_agrees_with_plane_polygons(
    thickness: float, corner: float, in_end: float, in_face: float, width: float
) -> None:
    """Depths, glued lengths and walls agree with areas and distances of the boards' sections in shapely."""
    centre = equal_depth_centre(thickness, corner, glued_in_end=in_end, glued_in_face=in_face)
    assume(width / 2 < centre < thickness - width / 2)
    made = square_first(thickness, width, in_end, corner=corner, glued_in_face=in_face, wall=-900)
    assert made.end_depth == pytest.approx(made.face_depth, abs=1e-9)
    c, half = radians(corner), radians(corner / 2)
    far = 500.0
    mitre = np.array([sin(half), cos(half)])
    face = np.array([sin(c), cos(c)])
    inner = np.array([thickness, thickness / tan(half)])  # where the inside faces meet
    end_board = Polygon([(0, 0), inner, (thickness, far), (0, far)])
    face_board = Polygon([(0, 0), far * face, inner + far * face, inner])
    assert mitre[0] * inner[1] == pytest.approx(mitre[1] * inner[0])
    end_slot = box(centre - width / 2, 0, centre + width / 2, made.end_depth)
    face_slot = box(centre - width / 2, made.bottom, centre + width / 2, made.bottom + made.face_depth)
    if made.end_depth > (centre + width / 2) / tan(half):
        assert end_slot.intersection(end_board).area == pytest.approx(width * made.glued_in_end, abs=1e-6)
    assert made.glued_in_end == pytest.approx(in_end, abs=1e-9)
    outside = LineString([-far * face, far * face])
    if made.outside_wall > 0.05 and made.bottom < (centre - width / 2) / tan(half):
        assert face_slot.distance(outside) == pytest.approx(made.outside_wall, abs=1e-6)
        # Above the inside face nothing of the slot is wood; what is left below the mitre is the glued part.
        assert face_slot.intersection(face_board).area == pytest.approx(width * made.glued_in_face, abs=1e-6)


def test_square_first_is_refused_with_what_works() -> None:
    """Too much glued length for the wall is refused, and the length named in the refusal passes."""
    with pytest.raises(FigureError) as refused:
        square_first(18, 6, 8, wall=3)
    works = float(refused.value.accepted.split()[4])
    assert square_first(18, 6, works, wall=3, glued_in_face=works).outside_wall >= 3 - 1e-9


def random_slot(rng: np.random.Generator) -> SlotSolid:
    """A slot anywhere, any way round."""
    turn = Rotation.random(random_state=int(rng.integers(1 << 30)))
    width = rng.uniform(3, 12)
    return SlotSolid(
        rng.uniform(-30, 30, 3),
        turn.apply([0, 0, 1]),
        turn.apply([1, 0, 0]),
        width + rng.uniform(0, 30),
        width,
        rng.uniform(5, 30),
    )


@pytest.mark.parametrize("seed", range(12))
def test_distance_of_slots_agrees_with_the_solid_modeller(seed: int) -> None:
    """The least distance of two slots is manifold3d's min_gap, to the coarseness of its faceted rounds."""
    rng = np.random.default_rng(seed)
    one, other = random_slot(rng), random_slot(rng)
    expect = solid(one).min_gap(solid(other), 500)
    assert slots.distance(one, other) == pytest.approx(expect, abs=2e-3)
    assert slots.distance(one, other) == pytest.approx(slots.distance(other, one), abs=1e-6)


@pytest.mark.parametrize("seed", range(12))
def test_distance_to_a_groove_agrees_with_the_solid_modeller(seed: int) -> None:
    """The same for a slot and a box with sides along the board's axes; some run into each other."""
    rng = np.random.default_rng(100 + seed)
    slot, low, size = random_slot(rng), rng.uniform(-40, 20, 3), rng.uniform(4, 60, 3)
    groove = Trench(part="p", surface="groove g", low=tuple(low), high=tuple(low + size))
    expect = solid(slot).min_gap(Manifold.cube(size).translate(low), 500)
    assert slots.distance_to_box(slot, groove) == pytest.approx(expect, abs=2e-3)


@pytest.mark.parametrize("seed", range(12))
def test_distance_of_what_planes_leave_agrees_with_the_solid_modeller(seed: int) -> None:
    """The same with one or two planes through both; the outline is coarser then."""
    rng = np.random.default_rng(200 + seed)
    slot, low, size = random_slot(rng), rng.uniform(-40, 20, 3), rng.uniform(4, 60, 3)
    groove = Trench(part="p", surface="groove g", low=tuple(low), high=tuple(low + size))
    around = (slot.mouth + low + size / 2) / 2
    planes = [Plane.through("bevel", around, rng.normal(size=3)) for _ in range(1 + seed % 2)]
    bodies = [solid(slot), Manifold.cube(size).translate(low)]
    for plane in planes:
        bodies = [body.trim_by_plane(-plane.normal, -plane.offset) for body in bodies]
    found = slots.distance_to_box(slot, groove, planes)
    if any(body.is_empty() for body in bodies):
        assert found == inf
    else:
        assert found == pytest.approx(bodies[0].min_gap(bodies[1], 500), abs=0.05)


def test_distance_of_round_ends_is_exact() -> None:
    """Two slots side by side and end to end stay apart by straightforward sums, to 1e-6 mm."""
    down, along = np.array([0.0, 0, -1]), np.array([1.0, 0, 0])
    one = SlotSolid(np.zeros(3), down, along, 30, 6, 10)
    beside = SlotSolid(np.array([24 + 9.0, 16, 0]), down, along, 30, 6, 10)  # end centres 9 and 16 apart
    assert slots.distance(one, beside) == pytest.approx(sqrt(9**2 + 16**2) - 6, abs=1e-6)
    assert slots.distance(one, one) == 0


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 10_000), st.floats(20, 70), st.floats(2, 20))
def test_wall_of_a_slot_clipped_by_a_bevel(seed: int, tilt: float, shift: float) -> None:
    """The wall of what a bevel leaves of a slot agrees with the slot cut in manifold3d."""
    rng = np.random.default_rng(seed)
    width = float(rng.uniform(4, 9))
    slot = SlotSolid(
        np.array([shift, 40.0, 18.0]), np.array([0.0, 0, -1]), np.array([0.0, 1, 0]), 30, width, 15
    )
    t = radians(tilt)
    bevel = Plane.through("bevel", (0, 0, 0), (-cos(t), 0, sin(t)))
    left = solid(slot).trim_by_plane(tuple(-bevel.normal), -bevel.offset)
    for plane in (Plane("back", np.array([0.0, 0, -1]), 0.0), Plane("right", np.array([0.6, 0, 0.8]), 40.0)):
        found = slots.wall(slot, plane, [bevel])
        if left.volume() < 1e-6:
            assert found == float("inf") or found > 0
        else:
            corners = left.to_mesh().vert_properties[:, :3] @ plane.normal
            assert found == pytest.approx(plane.offset - float(corners.max()), abs=2e-3)


def test_walls_of_a_square_first_slot_on_the_board() -> None:
    """On the bevelled board the walls by the board's planes equal those of the closed form."""
    slot = SlotSolid(np.array([9.0, 50, 18]), np.array([0.0, 0, -1]), np.array([0.0, 1, 0]), 30, 6, 15)
    board = Board.fresh(200, 100, 18).after(
        [PlaneCut(part="side", surface="left mitre", point=(0, 0, 0), normal=(-1, 0, 1))]
    )
    found = slots.walls(slot, board.planes, "left mitre", ["face"])
    assert found["back"] == pytest.approx(SquareFirst(18, 90, 6, 9, 15, 15).outside_wall, abs=1e-9)
    assert found["edge"] == pytest.approx(35) == found["far edge"]
    assert "face" not in found


def test_break_out_volume() -> None:
    """A square tenon 13 deep shows by the volume that its negative wall says (manifold3d)."""
    bevel = BevelFace(18, 45)
    c = 0.62 * bevel.length
    wall = bevel.outside_wall(6, c, 13)
    # Section in x, y; the outside face is y = 0, the bevel runs at 45 degrees from the origin.
    tenon = Manifold.cube((6, 13, 30)).translate((c - 3, -13, 0)).rotate((0, 0, 45))
    outside = tenon.trim_by_plane((0, -1, 0), 0.0)
    assert wall < 0
    assert outside.volume() == pytest.approx(wall**2 * 30, rel=1e-4)  # a right corner, 45 degrees each side


@pytest.mark.parametrize(("length", "width"), [(5, 6), (0, 6), (30, 0), (30, float("inf"))])
def test_impossible_slots_are_refused(length: float, width: float) -> None:
    """A slot shorter than its cutter, or without size, is refused."""
    with pytest.raises(FigureError):
        SlotSolid(np.zeros(3), np.array([0.0, 0, -1]), np.array([1.0, 0, 0]), length, width, 10)
