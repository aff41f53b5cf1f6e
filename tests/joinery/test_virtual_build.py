"""Every kind of joint, and every example, built in solids from the operations alone (manifold3d)."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations
from math import cos, pi, radians, sin, tan
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest
from hypothesis import HealthCheck, Phase, assume, given, reject, settings
from hypothesis import strategies as st
from manifold3d import Manifold, OpType
from shapely.geometry import Polygon

from sequencer.diagnostics import SequencerError
from sequencer.files import load_job
from sequencer.geometry import slots
from sequencer.geometry.slots import SlotSolid
from sequencer.joinery import derive
from sequencer.joinery.report import joint_report
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
from sequencer.operations import Operation, PlaneCut, Trench, slug
from sequencer.pipeline import order, prepare
from tests.joinery.board_corners import area_of, corners_of
from tests.joinery.virtual_build import (
    CLOSE,
    Made,
    Place,
    chosen,
    contact,
    expected,
    in_order,
    machine,
    mates,
    meetings,
    ring_places,
    slab_of,
    slot_solid,
    walls,
)

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*/job.toml"))
RINGS = (CaseMitre, Splayed, FrameMitre, Stave)
MEETINGS = (EndToEdge, EndToFace, EdgeToEdge, LegToApron)

SHOP = """
[shop]
name = "Solid shop, invented"
unit = "mm"
walk = 1.0

[joinery]
least_wall = 2.5
shortest_piece = 60

[[station]]
id = "mill"
[[station.setting]]
id = "thickness"
reset = 1.0

[[station]]
id = "saw"
[[station.setting]]
id = "tilt"
reset = 2.0
[[station.setting]]
id = "gauge"
reset = 2.0
[[station.setting]]
id = "fence"
reset = 1.0

[[station]]
id = "mortiser"
[[station.setting]]
id = "fence_angle"
reset = 2.0
[[station.setting]]
id = "fence_height"
reset = 1.0
[[station.setting]]
id = "depth"
reset = 1.0
"""


def job_of(text: str, shop: str = SHOP, unit: str = "mm") -> Job:
    """A job written out and read back, with the solid shop or another; `unit`: of its lengths without one."""
    with TemporaryDirectory() as folder:
        Path(folder, "shop.toml").write_text(shop, encoding="utf-8")
        path = Path(folder, "job.toml")
        path.write_text(
            f'[job]\nname = "Trial"\nunit = "{unit}"\nshop = "shop.toml"\n{text}', encoding="utf-8"
        )
        return load_job(path)


def part(name: str, length: float, width: float, thickness: float, quantity: int) -> str:
    """A `[[part]]` table."""
    return (
        f'[[part]]\nid = "{name}"\nquantity = {quantity}\nlength = {length}\nwidth = {width}\n'
        f"thickness = {thickness}\n"
    )


def joint(kind: str, parts: list[str], more: str = "") -> str:
    """A `[[joint]]` table."""
    return f'[[joint]]\nid = "{kind}"\nkind = "{kind}"\nparts = {parts!r}\n{more}\n'.replace("'", '"')


def check_walls(job: Job, made: dict[str, Made]) -> None:
    """No mortise comes closer to a surface than the joint's report says, nor to another than the shop's least wall."""
    least = job.shop.joinery.least_wall
    reports = {each.joint: each for each in joint_report(job)}
    nearest: dict[tuple[str, str, str, str], float] = {}
    for each in made.values():
        for op, slot in each.slots:
            measured = walls(each, op, slot)
            ways = reports[slot.joint].ways
            (way,) = (w.way for w in ways if len(ways) == 1 or op.id.startswith(slug(slot.joint, w.way)))
            for surface, wall in measured.items():
                assert wall >= least - CLOSE, f"{op.id}: wall to {surface} is {wall:.3f} mm"
                key = (slot.joint, way, each.part.id, surface)
                nearest[key] = min(wall, nearest.get(key, wall))
        for (_, a), (_, b) in combinations(each.slots, 2):
            if np.linalg.norm(np.array(a.mouth) - b.mouth) > a.length + b.length + a.depth + b.depth:
                continue
            apart = slots.distance(SlotSolid.of(a), SlotSolid.of(b))
            assert apart >= least - CLOSE, f"{each.part.id}: two mortises are {apart:.3f} mm apart"
    for (joint_id, name, part_id, surface), wall in nearest.items():
        way = next(w for w in reports[joint_id].ways if w.way == name)
        told = min(w.left for w in way.walls if (w.part, w.surface) == (part_id, surface))
        what = f"{joint_id}: wall of {part_id} to {surface} is {wall:.3f} mm, reported {told:.3f}"
        assert wall >= told - CLOSE, what
        # To the bevel at the other end the report counts the part of the slot that this end's bevel carries away.
        if surface not in made[part_id].cut_after.get(joint_id, ()):
            assert wall <= told + CLOSE, what


def check_meeting(job_joint: str, one: Place, other: Place, made: dict[str, Made]) -> None:
    """Two parts touch without overlap, their mortises coincide, and every slip lies inside both."""
    solids = [made[p.part].wood.transform(p.matrix) for p in (one, other)]
    touching = contact(one, other, made)
    assert touching > 1
    # Lengths are given to a hundredth: the parts may go into one another by as much and no more.
    assert (solids[0] ^ solids[1]).volume() < CLOSE * touching
    found = mates(one, other, job_joint, made)
    assert found
    assert len(found) == expected(one, other, job_joint, made)
    for mate in found:
        slip = slot_solid(mate.slip)
        assert mate.slip.depth > 2
        for solid in solids:
            assert (slip ^ solid).volume() < 1e-3 * slip.volume()
        # It reaches into both: each half holds a part of it within the board's own body.
        for place in (one, other):
            inside = slip ^ made[place.part].body.transform(place.matrix)
            assert inside.volume() > 0.1 * slip.volume()


def ring_volume(job_joint: object, places: list[Place], made: dict[str, Made]) -> float | None:
    """Volume of a ring whose sides stand upright or lie flat, from the polygon of its outside set in by shapely.

    None for a splayed one (`check_ring` takes it between two levels, by `slab_of`).
    """
    if isinstance(job_joint, Splayed):
        return None
    first = made[places[0].part].part
    line = []
    for place in places:
        board = made[place.part].board
        lows = [v for v in corners_of(board) if abs(v[2] - first.thickness) < 1e-4]
        ends = (
            [v for v in lows if abs(v[0]) < 1e-4 and abs(v[1] - first.width) < 1e-4]
            if isinstance(job_joint, Stave)
            else sorted((v for v in lows if abs(v[1]) < 1e-4), key=lambda v: v[0])
        )
        line.append(place.point(ends[0])[:2])
    outer = Polygon(line)
    set_in = first.width if isinstance(job_joint, FrameMitre) else first.thickness
    up = {FrameMitre: first.thickness, Stave: first.length}.get(type(job_joint), first.width)
    return float(outer.area - outer.buffer(-set_in, join_style="mitre", mitre_limit=50).area) * up


def check_ring(job_joint: CaseMitre, places: list[Place], made: dict[str, Made]) -> None:
    """The boards fill the ring: no overlap, union = sum = the volume worked out from its outline."""
    bodies = [made[p.part].body.transform(p.matrix) for p in places]
    total = sum(b.volume() for b in bodies)
    assert Manifold.batch_boolean(bodies, OpType.Add).volume() == pytest.approx(total, rel=2e-5)
    wanted = ring_volume(job_joint, places, made)
    if wanted is not None:
        assert total == pytest.approx(wanted, rel=2e-4)
        return
    assert isinstance(job_joint, Splayed)
    low, high, wanted = slab_of(job_joint, places, made)
    slab = Manifold.cube((1e4, 1e4, high - low)).translate((-5e3, -5e3, low))
    assert (Manifold.batch_boolean(bodies, OpType.Add) ^ slab).volume() == pytest.approx(wanted, rel=1e-4)
    if job_joint.level_edges:
        assert total == pytest.approx(wanted, rel=2e-4)
    if isinstance(job_joint.slope, float):
        # Equal slopes: the two joint faces of a corner are mirror images and cover each other wholly.
        for one, other in zip(places, places[1:] + places[:1], strict=True):
            board = made[one.part].board
            face = next(n for n in ("right bevel", "right mitre") if n in board.polygons)
            assert contact(one, other, made) == pytest.approx(area_of(board, face), rel=1e-3)


def build(job: Job) -> int:
    """Build a job by every option of its choices and check all of it; the number of meetings checked."""
    worklist = derive(job)
    turns = range(max([1, *(len(c.options) for c in worklist.choices)]))
    return sum(build_in(job, in_order(chosen(worklist, turn))) for turn in turns)


def planned_order(job: Job) -> list[Operation]:
    """The operations of the solved plan, in the order of its steps."""
    plan = order(prepare(job), time_limit=5.0)
    known = {op.id: op for op in plan.operations}
    return [known[step.operation] for step in plan.steps]


def build_in(job: Job, order: list[Operation]) -> int:
    """Build a job in this order of operations and check all of it; the number of meetings checked."""
    checked = 0
    made = {p.id: machine(p, order, job.shop.joinery.least_wall) for p in job.parts}
    check_walls(job, made)
    for each in job.joints:
        if isinstance(each, RINGS):
            places = ring_places(each, job, made)
            closed = not isinstance(each, CaseMitre) or each.closed
            if closed:
                check_ring(each, places, made)  # type: ignore[arg-type]
            pairs: Iterator[tuple[Place, Place]] = iter(
                list(zip(places, places[1:] + places[:1], strict=True))[: None if closed else -1]
            )
        elif isinstance(each, MEETINGS):
            pairs = meetings(each, made)
        else:
            continue
        for one, other in pairs:
            check_meeting(each.id, one, other, made)
            checked += 1
    return checked


def built(text: str) -> None:
    """Build a trial job; one that is refused with its figures is no trial."""
    try:
        job = job_of(text)
        derive(job)
    except SequencerError:
        reject()
    assert build(job) > 0


FEW = settings(
    max_examples=3,
    deadline=None,
    derandomize=True,
    phases=(Phase.generate,),  # a failing build is told by its figures; shrinking solids takes minutes
    suppress_health_check=list(HealthCheck),
)
THICK = st.integers(15, 30)


@pytest.mark.parametrize("path", EXAMPLES, ids=[p.parent.name for p in EXAMPLES])
def test_examples_can_be_built(path: Path) -> None:
    """Every example's parts, cut from the operations alone, go together, slips in, by each of its ways."""
    job = load_job(path)
    assert build(job) > 0 or not any(isinstance(j, (*RINGS, *MEETINGS)) for j in job.joints)


@pytest.mark.parametrize("path", EXAMPLES, ids=[p.parent.name for p in EXAMPLES])
def test_examples_can_be_built_as_planned(path: Path) -> None:
    """Every example's parts, cut in the very order of its solved plan, go together, slips in."""
    job = load_job(path)
    order = planned_order(job)
    assert build_in(job, order) > 0 or not any(isinstance(j, (*RINGS, *MEETINGS)) for j in job.joints)


@FEW
@given(st.integers(200, 600), st.integers(200, 400), st.integers(60, 200), THICK)
def test_case_mitre(length: int, depth: int, width: int, thick: int) -> None:
    """A mitred box of any size closes, square first and bevel first."""
    built(
        part("front", length, width, thick, 2)
        + part("side", depth, width, thick, 2)
        + joint("case-mitre", ["front", "side"])
    )


@FEW
@given(st.integers(200, 400), st.integers(60, 150), THICK, st.sampled_from([3, 5, 6, 8]))
def test_case_of_any_number_of_sides(length: int, width: int, thick: int, sides: int) -> None:
    """A mitred case of three to eight equal sides closes."""
    built(
        part("side", length, width, thick, sides)
        + joint("case-mitre", ["side"], f"corner = {180 - 360 / sides}")
    )


@FEW
@given(
    st.integers(250, 500),
    st.integers(100, 200),
    THICK,
    st.integers(3, 8),
    st.floats(55, 88),
    st.sampled_from(["in", "out"]),
    st.booleans(),
)
def test_splayed(
    length: int, width: int, thick: int, sides: int, slope: float, lean: str, level: bool
) -> None:
    """A splayed ring of any slope fills its frustum, leaning out or in, its edges square or level."""
    more = f'sides = {sides}\nslope = {slope}\nlean = "{lean}"\nlevel_edges = {str(level).lower()}'
    built(part("side", length, width, thick, sides) + joint("splayed", ["side"], more))


@FEW
@given(st.integers(60, 82), st.integers(5, 8), st.integers(15, 24), st.sampled_from(["in", "out"]))
def test_splayed_with_level_edges(slope: int, sides: int, thick: int, lean: str) -> None:
    """A splayed ring with level edges has the frustum's volume, leaning out or in."""
    more = f'sides = {sides}\nslope = {slope}\nlean = "{lean}"\nlevel_edges = true'
    built(part("side", 320, 130, thick, sides) + joint("splayed", ["side"], more))


@pytest.mark.parametrize(
    ("sides", "slope", "more"),
    [(6, 30, ""), (4, 35, ""), (4, 35, "slips = { count = 1 }"), (4, 37, 'lean = "in"'), (3, 45, "")],
)
def test_shallow_rings_with_level_edges(sides: int, slope: int, more: str) -> None:
    """Boards that lie nearly flat have level edges that lie nearly in their faces; they are slotted and go together."""
    more += f"\nsides = {sides}\nslope = {slope}\nlevel_edges = true"
    assert build(job_of(part("side", 500, 100, 20, sides) + joint("splayed", ["side"], more))) > 0


@pytest.mark.parametrize(
    ("width", "more"),
    [
        (50, 'kind = "frame-mitre"\ncorner = 60'),
        (30, 'kind = "frame-mitre"\ncorner = 60'),
        (80, 'kind = "frame-mitre"\ncorner = 60'),
        (60, 'kind = "splayed"\nsides = 3\nslope = 20'),
        (60, 'kind = "splayed"\nsides = 3\nslope = 25'),
    ],
)
def test_three_flat_sides_take_fewer_or_narrower_slips(width: int, more: str) -> None:
    """At tips of 30 degrees the shop's habit of slips would leave less than its least wall: such as leave 3 mm are
    found, and what is asked for less than these is not refused either."""
    shop = SHOP.replace("least_wall = 2.5", "least_wall = 3")
    sides = part("rail", 400, width, 20, 3) + f'[[joint]]\nid = "ring"\nparts = ["rail"]\n{more}\n'
    assert build(job_of(sides, shop)) > 0
    assert build(job_of(sides + "slips = { count = 1 }\n", shop)) > 0


@pytest.mark.parametrize(
    ("sides", "slope", "volume"), [(4, 75, 681_295.341), (6, 60, 715_672.577), (8, 80, 539_686.787)]
)
def test_splayed_volume_of_known_frusta(sides: int, slope: int, volume: float) -> None:
    """Rings 60 mm high and 12 thick, 100 mm in the clear at the base to each side, have the frustum's volume.

    The figures are V = h/3 (A0 + A1 + sqrt(A0 A1)), A = n tan(180/n) r^2, outside less inside (textbook formula).
    """
    s, thick, high = radians(slope), 12, 60
    width = (high + thick * cos(s)) / sin(s)
    length = 2 * tan(pi / sides) * (100 + thick / sin(s) + high / tan(s))
    shop = SHOP.replace("least_wall = 2.5", "least_wall = 1\nleast_embedment = 2\ncutters = [3, 4]")
    more = f"sides = {sides}\nslope = {slope}\nlevel_edges = true"
    job = job_of(part("side", length, width, thick, sides) + joint("splayed", ["side"], more), shop)
    order = in_order(chosen(derive(job), 0))
    made = {p.id: machine(p, order, 1.0) for p in job.parts}
    assert sides * made["side"].body.volume() == pytest.approx(volume, rel=2e-5)
    places = ring_places(job.joints[0], job, made)  # type: ignore[arg-type]
    assert slab_of(job.joints[0], places, made)[2] == pytest.approx(volume, rel=2e-5)  # type: ignore[arg-type]


@FEW
@given(st.integers(78, 102), st.integers(65, 85), st.integers(15, 24), st.sampled_from(["in", "out"]))
def test_splayed_irregular(corner: int, slope: int, thick: int, lean: str) -> None:
    """A symmetrical splayed ring of four unlike corners, its halves mirrored, fills its outline."""
    # An isosceles trapezium: the long side is worked out so that the ring closes.
    legs, back = 300.0, 400.0
    front = back + 2 * legs * cos(radians(corner))
    built(
        part("front", front, 140, thick, 1)
        + part("right", legs, 140, thick, 1)
        + part("back", back, 140, thick, 1)
        + part("left", legs, 140, thick, 1)
        + joint(
            "splayed",
            ["front", "right", "back", "left"],
            f'slope = {slope}\ncorners = [{corner}, {180 - corner}, {180 - corner}, {corner}]\nlean = "{lean}"',
        )
    )


@FEW
@given(st.integers(65, 85), st.integers(65, 85), st.integers(15, 24), st.sampled_from(["in", "out"]))
def test_splayed_of_unequal_slopes(front: int, side: int, thick: int, lean: str) -> None:
    """A splayed ring whose sides, as high as its front and back, lean otherwise fills its outline."""
    assume(front != side)
    built(unequal(front, side, thick, lean))


def unequal(front: float, side: float, thick: int, lean: str, level: bool = False) -> str:
    """A splayed ring whose sides are as high as its front and back, and lean otherwise."""
    more = f'sides = 4\nslope = [{front}, {side}]\nlean = "{lean}"\nlevel_edges = {str(level).lower()}'
    return (
        part("front", 400, 140, thick, 2)
        + part("side", 320, 140 * sin(radians(front)) / sin(radians(side)), thick, 2)
        + joint("splayed", ["front", "side"], more)
    )


@pytest.mark.parametrize("slopes", [(60, 75), (82, 68), (90, 75), (70, 90)])
@pytest.mark.parametrize("lean", ["in", "out"])
def test_level_edges_of_unequal_slopes(slopes: tuple[int, int], lean: str) -> None:
    """All edges lie in two common levels, and the ring has the frustum's volume between them."""
    job = job_of(unequal(*slopes, 18, lean, level=True))
    assert build(job) > 0
    made = {p.id: machine(p, in_order(chosen(derive(job), 0))) for p in job.parts}
    places = ring_places(job.joints[0], job, made)  # type: ignore[arg-type]
    reach = [made[p.part].body.transform(p.matrix).bounding_box() for p in places]
    for levels in ({round(box[2], 2) for box in reach}, {round(box[5], 2) for box in reach}):
        assert len(levels) == 1


@FEW
@given(st.integers(200, 600), st.integers(200, 400), st.integers(40, 100), THICK)
def test_frame_mitre(length: int, height: int, width: int, thick: int) -> None:
    """A flat frame of any size closes."""
    built(
        part("rail", length, width, thick, 2)
        + part("stile", height, width, thick, 2)
        + joint("frame-mitre", ["rail", "stile"])
    )


@FEW
@given(st.integers(200, 350), st.integers(60, 120), THICK, st.integers(4, 8))
def test_stave(length: int, width: int, thick: int, sides: int) -> None:
    """A column of four to eight staves closes."""
    built(part("stave", length, width, thick, sides) + joint("stave", ["stave"]))


@FEW
@given(st.integers(200, 600), st.integers(300, 700), st.integers(50, 120), THICK)
def test_end_to_edge(rail: int, stile: int, width: int, thick: int) -> None:
    """Rails and stiles of any size meet flush."""
    built(
        part("rail", rail, width, thick, 2)
        + part("stile", stile, width, thick, 2)
        + joint("end-to-edge", ["rail", "stile"])
    )


@FEW
@given(
    st.integers(250, 500),
    st.integers(60, 100),
    st.integers(15, 30),
    st.integers(0, 400),
    st.sampled_from(["left end", "right end"]),
    st.sampled_from([["edge"], ["far edge"], ["edge", "far edge"]]),
)
def test_end_to_edge_at_one_end(
    rail: int, width: int, thick: int, at: int, end: str, edges: list[str]
) -> None:
    """One end of a rail meets a stile's edge, far edge or both, anywhere, its slots out of its middle."""
    more = f"at = [{at}]\nends = {[end]!r}\nedges = {edges!r}\nslips = {{ count = 1, at = [26] }}"
    built(
        part("rail", rail, width, thick, 2)
        + part("stile", 600, 80, thick, 1)
        + joint("end-to-edge", ["rail", "stile"], more)
    )


@FEW
@given(st.integers(0, 200), st.integers(60, 90), THICK, st.sampled_from(["edge", "far edge"]))
def test_end_to_edge_at_far_edges(at: int, width: int, thick: int, edge: str) -> None:
    """Rails at both ends and anywhere symmetrical on a stile's edge or far edge, slots out of their middle."""
    more = f'at = [{at}, {600 - width - at}]\nedges = ["{edge}"]\nslips = {{ count = 1, at = [26] }}'
    built(
        part("rail", 400, width, thick, 2)
        + part("stile", 600, 80, thick, 2)
        + joint("end-to-edge", ["rail", "stile"], more)
    )


@FEW
@given(st.integers(100, 200), st.integers(22, 30), st.lists(st.integers(30, 500), min_size=1, max_size=2))
def test_end_to_face_on_both_faces(width: int, thick: int, at: list[int]) -> None:
    """Shelves on both faces of one upright, at any heights, meet it without their mortises meeting."""
    more = f'at = {at!r}\non = ["face", "back"]\nends = ["left end"]'
    built(
        part("shelf", 400, width, 18, 2 * len(at))
        + part("side", 600, width, thick, 1)
        + joint("end-to-face", ["shelf", "side"], more)
    )


@FEW
@given(st.integers(200, 600), st.integers(300, 700), st.integers(100, 250), THICK, st.integers(30, 200))
def test_end_to_face(shelf: int, side: int, width: int, thick: int, at: int) -> None:
    """A shelf at any height meets both sides."""
    built(
        part("shelf", shelf, width, thick, 1)
        + part("side", side, width, thick, 2)
        + joint("end-to-face", ["shelf", "side"], f"at = [{at}]")
    )


@FEW
@given(st.integers(300, 900), st.integers(60, 150), THICK)
def test_edge_to_edge(length: int, width: int, thick: int) -> None:
    """Boards of a panel meet flush along their edges."""
    built(part("board", length, width, thick, 3) + joint("edge-to-edge", ["board"]))


@FEW
@given(
    st.integers(250, 700), st.integers(70, 120), st.integers(18, 25), st.integers(45, 70), st.integers(0, 6)
)
def test_leg_to_apron(length: int, width: int, thick: int, leg: int, setback: int) -> None:
    """Aprons meet square legs on both inner sides without the mortises running into each other."""
    built(
        part("apron", length, width, thick, 4)
        + part("leg", 600, leg, leg, 4)
        + joint("leg-to-apron", ["apron"], f'leg = "leg"\nsetback = {setback}')
    )


def test_a_displaced_mortise_is_found_out() -> None:
    """Half a millimetre's error in one slot makes the build fail, so a pass means something."""
    job = job_of(
        part("front", 400, 100, 18, 2)
        + part("side", 300, 100, 18, 2)
        + joint("case-mitre", ["front", "side"])
    )
    order = in_order(chosen(derive(job), 1))
    made = {p.id: machine(p, order) for p in job.parts}
    places = ring_places(job.joints[0], job, made)  # type: ignore[arg-type]
    check_meeting("case-mitre", places[0], places[1], made)
    moved = [
        (op, slot.model_copy(update={"mouth": (slot.mouth[0], slot.mouth[1] + 0.5, slot.mouth[2])}))
        for op, slot in made["side"].slots
    ]
    made["side"].slots[:] = moved
    with pytest.raises(AssertionError):
        check_meeting("case-mitre", places[0], places[1], made)


def test_a_cut_too_early_is_found_out() -> None:
    """Bevelling before the plunge that needs the square end fails where the end is registered on."""
    job = job_of(
        part("front", 400, 100, 18, 2)
        + part("side", 300, 100, 18, 2)
        + joint("case-mitre", ["front", "side"])
    )
    order = in_order(chosen(derive(job), 0))
    bevels = [op for op in order if op.kind == "bevel"]
    assert any(isinstance(cut, PlaneCut) for op in bevels for cut in op.cuts)
    wrong = [op for op in order if op.kind != "plunge"] + [op for op in order if op.kind == "plunge"]
    side = next(each for each in job.parts if each.id == "side")
    with pytest.raises(AssertionError, match="registers on"):
        machine(side, wrong)


def test_a_groove_where_the_base_bears_is_found_out() -> None:
    """A groove beside the place of a mortise, cut before it, fails where the mortiser's base would tip into it."""
    job = job_of(
        part("rail", 300, 80, 20, 2) + part("stile", 500, 80, 20, 2) + joint("end-to-edge", ["rail", "stile"])
    )
    order = in_order(chosen(derive(job), 0))
    stile = next(each for each in job.parts if each.id == "stile")
    machine(stile, order)
    for low, high, where in (
        ((0, 0, 14), (500, 6, 18), "beside the mouth"),
        ((0, 3, 14), (500, 9, 20), "fence"),
    ):
        trench = Trench(part="stile", surface="groove", low=low, high=high)
        groove = Operation(id="groove", station="saw", kind="groove", parts=("stile",), cuts=(trench,))
        first = next(i for i, op in enumerate(order) if op.kind == "plunge" and "stile" in op.parts)
        with pytest.raises(AssertionError, match=where):
            machine(stile, [*order[:first], groove, *order[first:]])


def test_a_blank_too_short_is_found_out() -> None:
    """A ring with a corner missing from one board's far edge fails on its volume, though nothing overlaps."""
    more = "sides = 6\nslope = 70"
    job = job_of(part("side", 300, 120, 18, 6) + joint("splayed", ["side"], more))
    order = in_order(chosen(derive(job), 0))
    made = {p.id: machine(p, order) for p in job.parts}
    places = ring_places(job.joints[0], job, made)  # type: ignore[arg-type]
    check_ring(job.joints[0], places, made)  # type: ignore[arg-type]
    made["side"].body = made["side"].body.trim_by_plane((-1, 0, 0), -294.0)
    with pytest.raises(AssertionError):
        check_ring(job.joints[0], places, made)  # type: ignore[arg-type]
