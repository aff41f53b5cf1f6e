"""Walls of mortises in bevelled and square ends, as the joints' report tells them, against figures worked apart, plane
polygons (shapely) and solids (manifold3d)."""

from __future__ import annotations

from math import cos, radians, sin

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from manifold3d import Manifold
from shapely.geometry import LineString, Polygon, box

from sequencer.diagnostics import InputError
from sequencer.geometry.angles import CompoundAngle
from sequencer.geometry.board import Board
from sequencer.joinery import derive, joint_report
from sequencer.joinery.basis.floor import Floor
from sequencer.joinery.basis.seats import Body, Seat
from sequencer.joinery.meetings.rings import EndCut, bevel_seat, level_cuts, plane_cut, ring_of
from sequencer.joinery.report import WayReport
from sequencer.model.parts import Part, Splayed
from sequencer.operations import Slot
from tests.joinery.test_virtual_build import SHOP, job_of, joint, part


def report_of(text: str, least_wall: float = 0.5) -> WayReport:
    """The one way of the one joint of a job, in a shop that leaves walls of so many mm."""
    least = f"least_wall = {least_wall}\nleast_embedment = 2\ncutters = [4, 5, 6, 8]"
    (told,) = joint_report(job_of(text, SHOP.replace("least_wall = 2.5", least)))
    (way,) = told.ways
    return way


def ring(
    sides: int, slope: float, thickness: float, width: float, depth: float, height: float, least: float = 0.5
) -> WayReport:
    """A ring of equal sides, slots of this width and depth plunged into its bevels at this height."""
    slips = f"slips = {{ thickness = {width}, height = {height}, depths = [{depth}, {depth}] }}"
    return report_of(
        part("side", 400, 100, thickness, sides)
        + joint("splayed", ["side"], f"sides = {sides}\nslope = {slope}\n{slips}"),
        least,
    )


def walls_of(way: WayReport) -> dict[str, float]:
    """The least wall to each surface, mm."""
    return {
        name: min(w.left for w in way.walls if w.surface == name) for name in {w.surface for w in way.walls}
    }


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
    """18 mm stock, 6 mm slot 8 deep, in the middle of the sawn face: walls to the outside and at the heel, and the
    depth that leaves 3 mm outside, are figures computed apart from this program."""
    found = walls_of(ring(sides, 90, 18, 6, 8, face / 2))
    assert (found["face"], found["back"]) == pytest.approx((wall, heel), abs=1e-4)
    assert walls_of(ring(sides, 90, 18, 6, deepest, face / 2))["face"] == pytest.approx(3, abs=1e-4)
    with pytest.raises(InputError, match="wall to the outside face"):
        ring(sides, 90, 18, 6, deepest + 0.1, face / 2, least=3.0)


@pytest.mark.parametrize(
    ("sides", "slope", "tilt", "thickness", "width", "depth", "wall"),
    [
        (6, 60, 25.66, 12, 4, 5, 2.0322),
        (4, 75, 43.08, 18, 6, 8, 1.3447),
        (8, 80, 22.14, 18, 6, 8, 3.2062),
        (5, 70, 33.53, 15, 5, 7, 1.5496),
    ],
)
def test_centred_slot_in_a_splayed_corner(
    sides: int, slope: float, tilt: float, thickness: float, width: float, depth: float, wall: float
) -> None:
    """Four walls measured on solids, apart from this program; the tilts as tables print them, to two places."""
    way = ring(sides, slope, thickness, width, depth, thickness / cos(radians(tilt)) / 2)
    assert walls_of(way)["face"] == pytest.approx(wall, abs=2e-3)


def test_slot_shifted_toward_the_heel() -> None:
    """0.62 of the mitre face of 25.4558 mm: wall 3.3818 at 8 deep, 0.5534 at 12 (computed apart)."""
    for depth, wall in ((8, 3.3818), (12, 0.5534)):
        assert walls_of(ring(4, 90, 18, 6, depth, 15.7826))["face"] == pytest.approx(wall, abs=1e-4)


def bevel(thickness: float, tilt: float) -> Seat:
    """The seat on a right end sawn at this tilt."""
    board = Part(id="side", length=900, width=200, thickness=thickness)
    sawn = EndCut("side", "right end", "right bevel", CompoundAngle(0.0, tilt))
    return bevel_seat(sawn, Body.of(board, [plane_cut(sawn, board)]))


def left(seat: Seat, centre: float, width: float, depth: float) -> dict[str, float]:
    """The walls of a slot in the middle of the seat, `centre` from its fence surface, mm."""
    return {side.name: wall for side, wall, _ in seat.walls(100, centre, 30, width, depth)}


@settings(max_examples=60, deadline=None)
@given(st.floats(8, 40), st.floats(5, 60), st.floats(0.2, 0.8), st.floats(2, 8), st.floats(1, 20))
def test_bevel_walls_agree_with_plane_polygons(
    thickness: float, tilt: float, share: float, width: float, depth: float
) -> None:
    """Walls to the outside and the inside face agree with distances in shapely; farther in, the outside one grows."""
    long = thickness / cos(radians(tilt))
    c = share * long
    assume(c - width / 2 > 0.1 and c + width / 2 < long - 0.1)
    # In section: outside face along +x from the sharp corner (0, 0), wood above it; the bevel runs at phi to
    # it.
    phi = radians(90 - tilt)
    run, into = np.array([cos(phi), sin(phi)]), np.array([sin(phi), -cos(phi)])
    corners = [
        run * (c + a) + into * d
        for a, d in ((-width / 2, 0), (width / 2, 0), (width / 2, depth), (-width / 2, depth))
    ]
    slot = Polygon(corners)
    found = left(bevel(thickness, tilt), c, width, depth)
    if found["face"] > 0.01:
        assert slot.distance(LineString([(-900, 0), (900, 0)])) == pytest.approx(found["face"], abs=1e-9)
    else:
        assert slot.intersects(box(-900, -900, 900, 0.01))
    assert slot.distance(LineString([(-900, thickness), (900, thickness)])) == pytest.approx(
        found["back"], abs=1e-9
    )
    assert left(bevel(thickness, tilt), c + 0.5, width, depth)["face"] > found["face"]


@pytest.mark.parametrize(
    ("more", "width", "sides"),
    [
        ("sides = 6\nslope = 30\nlevel_edges = true", 100, ["side"]),
        ("sides = 4\nslope = 35\nlevel_edges = true", 100, ["side"]),
        ("sides = 4\nslope = 37\nlevel_edges = true\nlean = 'in'", 90, ["side"]),
        ("sides = 3\nslope = 45\nlevel_edges = true", 140, ["side"]),
        ("slope = 30\ncorners = [70, 40, 70]", 35, ["base", "right", "left"]),
        ("slope = 30\ncorners = [70, 40, 70]", 50, ["base", "right", "left"]),
    ],
)
def test_a_row_ends_where_the_sawn_surface_does(more: str, width: float, sides: list[str]) -> None:
    """The row of slots in a bevel runs as far as the bevel's own outline (shapely), however flat it meets the edges:
    level edges of boards that lie nearly flat, edges of ends sawn at more than 60 degrees.
    """
    slant = 250 / cos(radians(70))  # of a triangle on a base of 500
    size = {"left": slant, "right": slant}
    boards = [part(name, size.get(name, 500), width, 20, 1 if len(sides) > 1 else 6) for name in sides]
    job = job_of("".join(boards) + joint("splayed", sides, more))
    parts = {p.id: p for p in job.parts}
    (each,) = job.joints
    assert isinstance(each, Splayed)
    made = ring_of(each, parts, Floor(job))
    for cut in made.cuts:
        of_part = parts[cut.part]
        cuts = [plane_cut(c, of_part) for c in made.cuts if c.part == cut.part]
        cuts += level_cuts(made, of_part)
        seat = bevel_seat(cut, Body.of(of_part, cuts))
        outline = (
            Board.fresh(of_part.length, of_part.width, of_part.thickness).after(cuts).polygons[cut.makes]
        )
        away = outline - np.array(seat.origin)
        flat = Polygon(np.column_stack([away @ np.array(seat.along), away @ np.array(seat.across)]))
        for c in (8.0, 10.0, 12.0):
            met = flat.intersection(LineString([(-2000, c), (2000, c)]))
            assert seat.span(c) == pytest.approx((met.bounds[0], met.bounds[2]), abs=1e-6)


@pytest.mark.parametrize("slope", [5, 10, 15])
def test_three_sides_that_lie_nearly_flat_keep_the_least_wall(slope: float) -> None:
    """Two wide slips, as the shop's habit asks for, come too near a tip of little more than 30 degrees: narrower ones
    leave all surfaces their wall."""
    way = report_of(
        part("side", 400, 60, 20, 3) + joint("splayed", ["side"], f"sides = 3\nslope = {slope}"), 3
    )
    assert way.slips > 0
    assert min(walls_of(way).values()) >= 3 - 1e-6


def test_break_out_volume() -> None:
    """A square tenon 13 deep, through at 12.7826 (computed apart), shows by the volume that its negative wall says
    (manifold3d)."""
    seat, c = bevel(18, 45), 15.7826
    assert left(seat, c, 6, 12.7826)["face"] == pytest.approx(0, abs=1e-4)
    wall = left(seat, c, 6, 13)["face"]
    assert wall < 0
    # Section in x, y; the outside face is y = 0, the bevel runs at 45 degrees from the origin.
    tenon = Manifold.cube((6, 13, 30)).translate((c - 3, -13, 0)).rotate((0, 0, 45))
    outside = tenon.trim_by_plane((0, -1, 0), 0.0)
    assert outside.volume() == pytest.approx(wall**2 * 30, rel=1e-3)  # a right corner, 45 degrees each side


@pytest.mark.parametrize(
    ("thickness", "width", "height", "face_depth", "end_depth"),
    [(18, 6, 9, 15, 15), (24, 8, 12, 19, 20), (20, 4, 8, 16, 14), (30, 8, 16, 22, 26)],
)
def test_square_first_agrees_with_plane_polygons(
    thickness: float, width: float, height: float, face_depth: float, end_depth: float
) -> None:
    """Depths left and walls of slots plunged while the ends are square agree with the boards' sections in shapely."""
    slips = f"slips = {{ thickness = {width}, height = {height}, depths = [{face_depth}, {end_depth}] }}"
    more = f'ways = ["square-first"]\n{slips}'
    # a ring of two parts: the first takes its plunges in the inside face
    way = report_of(
        part("front", 300, 100, thickness, 2)
        + part("side", 300, 100, thickness, 2)
        + joint("case-mitre", ["front", "side"], more)
    )
    far = 300.0
    # The outer corner is the origin; the end board runs along y, its outside on x = 0, the face board along x.
    end_board = Polygon([(0, 0), (thickness, thickness), (thickness, far), (0, far)])
    face_board = Polygon([(0, 0), (far, 0), (far, thickness), (thickness, thickness)])
    end_slot = box(height - width / 2, 0, height + width / 2, end_depth)
    face_slot = box(height - width / 2, thickness - face_depth, height + width / 2, thickness)
    glued = [
        slot.intersection(board).area / width
        for slot, board in ((face_slot, face_board), (end_slot, end_board))
    ]
    assert way.embedded == pytest.approx(glued, abs=1e-6)
    nearest = {(w.part, w.surface): w.left for w in way.walls}
    outside = LineString([(-far, 0), (far, 0)])
    assert nearest["front", "face"] == pytest.approx(face_slot.distance(outside), abs=1e-6)
    for surface, x in (("face", 0), ("back", thickness)):
        line = LineString([(x, -far), (x, far)])
        assert nearest["side", surface] == pytest.approx(end_slot.distance(line), abs=1e-6)


@pytest.mark.parametrize("width", [59, 100, 140])
def test_slots_lie_in_the_middle_of_the_wood_at_the_height_they_are_plunged_at(width: int) -> None:
    """On a compound bevel the row of the middles of the mouths begins and ends elsewhere at every height, but always at
    edge and far edge: halfway along it the board's width is halved, whichever height has been chosen."""
    text = part("side", 400, width, 22, 4)
    made = derive(job_of(text + joint("splayed", ["side"], "sides = 4\nslope = 45\nlevel_edges = false")))
    plunged = [op for op in made.operations if op.kind == "plunge"]
    assert plunged
    for op in plunged:
        middles = [cut.mouth[1] for cut in op.cuts if isinstance(cut, Slot)]
        assert sum(middles) / len(middles) == pytest.approx(width / 2, abs=1e-3)
