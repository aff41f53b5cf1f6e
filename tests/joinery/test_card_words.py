"""What the cards of derived operations tell besides their settings."""

import re
from math import asin, atan, cos, radians, sin, tan

import numpy as np
import pytest

from sequencer.joinery import derive

SIDE = """
[[part]]
id = "side"
quantity = 2
length = 640
width = 220
thickness = 20
stock = "sized"
"""


def test_the_batten_lies_towards_the_end_its_line_is_measured_from(job):
    """A slot 79 mm from the left end, its centre 10 mm from the side of the base: the line of the batten is at 69, and
    the batten lies on the left of it (on the right the slot would come at 59)."""
    shelf = SIDE.replace("side", "shelf").replace("640", "500").replace("quantity = 2", "quantity = 1")
    joint = '[[joint]]\nid = "j"\nkind = "end-to-face"\nparts = ["shelf", "side"]\nat = [69]\n'
    made = derive(job(SIDE + shelf + joint))
    (plunge,) = [op for op in made.operations if op.kind == "plunge" and op.parts == ("side",)]
    (line,) = [line for line in plunge.notes.lines if "batten" in line.what]
    assert {round(cut.mouth[0], 6) for cut in plunge.cuts} == {79.0}
    assert (line.start, line.at) == ("left end", (69.0,))
    assert "which lies towards the left end" in line.what


@pytest.mark.parametrize(
    ("at", "start", "end", "line"),
    [
        (34, "left end", "right end", 94.0),
        (80, "left end", "left end", 40.0),
        (540, "right end", "right end", 40.0),
        (586, "right end", "left end", 94.0),
    ],
)
def test_a_batten_with_no_board_towards_one_end_lies_towards_the_other(job, at, start, end, line):
    """The side of the base is 50 mm from the middle of the slots, at + 20 / 2 from the left end of 640 mm: beyond it
    there may be no board: the batten then lies on the other side (of 44 mm at 94 mm), the tool turned about."""
    shop = "batten_offset = 50\nmax_fence_height = 40\n"
    shelf = SIDE.replace("side", "shelf").replace("640", "500").replace("quantity = 2", "quantity = 1")
    joint = f'[[joint]]\nid = "j"\nkind = "end-to-face"\nparts = ["shelf", "side"]\nat = [{at}]\n'
    made = derive(job(SIDE + shelf + joint, shop=shop))
    (plunge,) = [op for op in made.operations if op.kind == "plunge" and op.parts == ("side",)]
    (told,) = [line for line in plunge.notes.lines if "batten" in line.what]
    assert (told.start, told.at) == (start, (line,))
    assert f"which lies towards the {end}" in told.what
    assert ("turned about" in told.what) == (start != end)


def test_a_batten_needs_board_on_one_side(refused):
    """On a part 640 mm long neither 550 mm to the left nor to the right of slots 240 mm from the end is any board."""
    shelf = SIDE.replace("side", "shelf").replace("quantity = 2", "quantity = 1")
    joint = '[[joint]]\nid = "j"\nkind = "end-to-face"\nparts = ["shelf", "side"]\nat = [230]\n'
    (fault,) = refused(SIDE + shelf + joint, shop="batten_offset = 550\n")
    assert "no batten finds room on side beside slots 240 mm from the left end" in fault.message
    assert "a batten_offset below 400 mm" in fault.accepted


OPEN = """
[[joint]]
id = "run"
kind = "case-mitre"
parts = ["a", "b", "c"]
closed = false
ways = ["square-first"]
"""


def boards(names, quantity=1):
    """Parts alike but for their names."""
    return "".join(
        SIDE.replace("side", name).replace("quantity = 2", f"quantity = {quantity}") for name in names
    )


def bevels(made):
    """The bevels of ends, by part and end."""
    return {(op.parts[0], cut): op for op in made.operations if op.kind == "bevel" for cut in op.destroys}


def test_the_other_end_of_a_board_has_the_other_edge_against_the_gauge(job):
    """With the blade leaning one way, a bevel's mirror image is cut with the board turned end for end (`turning`): its
    other edge against the gauge, the same face up. So ends on the left and ends on the right, alone or both of one
    board, are told apart."""
    found = bevels(derive(job(boards("abc") + OPEN)))
    left, right, both = found["c", "c/left end"], found["a", "a/right end"], found["b", "b/left end"]
    assert left.notes.fence == "edge, against the gauge"
    assert right.notes.fence == "far edge, against the gauge"
    assert both.notes.fence == "edge (for the left end), far edge (for the right end), against the gauge"
    assert all(op.notes.table == "back (inside face)" for op in (left, right, both))
    assert "a/far edge" in right.registers_on
    assert all({f"{op.parts[0]}/back"} < set(op.registers_on) for op in (left, right, both))
    assert not any(f"{op.parts[0]}/face" in op.registers_on for op in (left, right, both))
    assert {"b/edge", "b/far edge"} < set(both.registers_on)


def test_a_bevel_at_the_stop_needs_the_other_end_square_or_an_offcut(job):
    """The stop is set for the square end: it is registered on where it stays square, else an offcut of the other bevel
    makes it up. Of a regular ring with corners of 110 and 130 in turn both ends are bevelled, at 35 and 25 degrees."""
    lone = bevels(derive(job(boards("abc") + OPEN)))["a", "a/right end"]
    assert "a/left end" in lone.registers_on
    assert "offcut" not in lone.notes.way_round
    ring = "slope = 90\ncorners = [110, 130, 110, 130, 110, 130]"
    joint = f'[[joint]]\nid = "ring"\nkind = "splayed"\nparts = ["a", "b"]\n{ring}\n'
    found = bevels(derive(job(boards("ab", 3) + joint)))
    for (part, end), op in found.items():
        other = {"left end": "right end", "right end": "left end"}[end.partition("/")[2]]
        assert len(op.destroys) == 1
        assert (
            f"where the {other} is sawn already, lay an offcut of it against the stop" in op.notes.way_round
        )
        assert "if it is bevelled already, to where it was" in op.notes.how_to_set["stop"]
        assert f"{part}/{other}" not in op.registers_on


def test_only_a_cut_with_a_bevel_at_the_stop_asks_for_one_there(job):
    """A splayed box's ends are cut to a line, stop off, a stave's edges along the fence, the first end of a run with
    its square end at the stop: none of them has a stop that the sharp edge of a bevel could lie at. The ends of a
    mitred case have."""
    stave = "".join(boards([name], 2).replace("220", "90") for name in "ab")
    jobs = {
        "splayed": boards("ab", 2)
        + '[[joint]]\nid = "j"\nkind = "splayed"\nparts = ["a", "b"]\nslope = 75\nsides = 4\n',
        "stave": stave + '[[joint]]\nid = "j"\nkind = "stave"\nparts = ["a", "b"]\nsides = 4\n',
        "case": boards("ab", 2)
        + '[[joint]]\nid = "j"\nkind = "case-mitre"\nparts = ["a", "b"]\nways = ["bevel-first"]\n',
        "run": boards("abc") + OPEN,
    }
    told = {}
    for name, text in jobs.items():
        for op in (op for op in derive(job(text)).operations if op.kind == "bevel"):
            says = " ".join(caution.says for caution in op.notes.cautions)
            assert ("give the stop the opposite bevel" in says) == ("against the stop" in op.notes.way_round)
            if "sharp edge of the bevel is fragile" in says:
                told.setdefault(name, set()).add("give the stop the opposite bevel" in says)
    assert told == {"splayed": {False}, "stave": {False}, "case": {True}, "run": {True, False}}


def test_the_sharp_edge_of_a_steep_stave_has_an_offcut_at_the_fence(job):
    """Turned end for end a stave's first bevel would touch the fence with its sharp edge alone: at 45 degrees (four
    sides) the offcut of a first bevel is laid under it (common practice, no source); at 22.5 (eight) it is no feather
    edge, and bears. Card and caution say the same."""
    for sides, steep in ((4, True), (8, False)):
        text = boards("a", sides).replace("220", "90")
        text += f'[[joint]]\nid = "j"\nkind = "stave"\nparts = ["a"]\nsides = {sides}\n'
        (op,) = [op for op in derive(job(text)).operations if op.kind == "bevel"]
        says = " ".join(caution.says for caution in op.notes.cautions)
        assert (
            "nothing bears on it; lay an offcut of a first bevel between it and the fence" in says
        ) is steep
        assert ("offcut of a first bevel along the fence" in op.notes.way_round) is steep
        assert ("it fills the space under the sharp edge" in op.notes.way_round) is steep


def test_a_compound_cut_face_down_is_sighted_where_its_line_is(job):
    """Eight sides of 14 mm at slope 60: sin t = sin 60 sin 22.5, tan M = cos 60 tan 22.5. The line is on the face, and
    so is the true end of the mark across the edge: at its other end, on the back, the blade passes T tan t / cos M =
    5 mm away. With the face on the table the line cannot be seen, and the foot of the mark is its true end."""
    side = SIDE.replace("quantity = 2", "quantity = 8").replace("640", "170").replace("220", "60")
    joint = '[[joint]]\nid = "j"\nkind = "splayed"\nparts = ["side"]\nsides = 8\nslope = 60\n'
    text = side.replace("thickness = 20", "thickness = 14") + joint
    (op,) = [op for op in derive(job(text)).operations if op.kind == "bevel"]
    marks = {line.start: line for line in op.notes.lines}
    tilt, gauge = asin(sin(radians(60)) * sin(radians(22.5))), atan(cos(radians(60)) * tan(radians(22.5)))
    for end, cut in zip(("left end", "right end"), op.cuts, strict=True):
        (far,), across = marks[end].at, marks[end].across
        mark = far if end == "left end" else 170 - far

        def off(z, x=mark, y=0.0 if across == "edge" else 60.0, cut=cut):
            """Along the board, from the mark at this height to the plane the blade saws."""
            apart = zip(cut.normal, (x, y, z), cut.point, strict=True)
            return abs(sum(n * (a - b) for n, a, b in apart) / cut.normal[0])

        assert off(14.0) == pytest.approx(0.0, abs=0.01)
        assert off(0.0) == pytest.approx(14 * tan(tilt) / cos(gauge), abs=0.01)
    assert op.notes.table == "back (for the left end), face (for the right end)"
    told = "Right ends: the line lies underneath: sight the foot of the mark on the edge, at the table"
    assert {line.across for line in op.notes.lines} == {"edge"}
    assert op.notes.way_round.endswith(told)


def test_a_compound_cut_tells_how_its_line_is_seen_as_it_lies(job):
    """Where ends of one board are cut at settings of their own: with the outside face up the line is seen (told for a
    blade that tilts to the left; on another the left ends are those with the face down), face down it is not."""
    ring = 'kind = "splayed"\nparts = ["a", "b", "c", "d"]\nslope = 75\ncorners = [85, 95, 95, 85]'
    sizes = {"a": 600, "b": 250, "c": 600 - 500 * cos(radians(85)), "d": 250}
    text = "".join(boards([name]).replace("640", f"{size:.4f}") for name, size in sizes.items())
    text += f'[[joint]]\nid = "j"\n{ring}\n'
    seen = set()
    for op in (op for op in derive(job(text)).operations if op.kind == "bevel"):
        if len(op.notes.lines) > 1:
            continue
        (end,) = (line.start for line in op.notes.lines)
        seen.add(end)
        around, _, after = op.notes.way_round.partition("). Cut to the line")
        foot = f"sight the foot of the mark on the {op.notes.lines[0].across}, at the table"
        hidden = f"The line lies underneath: {foot}"
        if end == "left end":
            assert op.notes.table == "back"
            assert "underneath" not in after
            assert around.endswith(
                f"on a saw that tilts to the right: face down the line lies underneath, {foot}"
            )
        else:
            assert op.notes.table == "face"
            assert "underneath" not in around
            assert after.endswith(hidden)
    assert seen == {"left end", "right end"}


def test_a_flat_mitre_has_a_sharp_point(job):
    """A mitre leaves a point, a bevel an edge; what lies at the stop is given a piece of the same kind."""
    text = boards("ab", 2) + '[[joint]]\nid = "j"\nkind = "frame-mitre"\nparts = ["a", "b"]\n'
    mitres = [op for op in derive(job(text)).operations if op.kind == "mitre"]
    assert mitres
    for op in mitres:
        says = " ".join(caution.says for caution in op.notes.cautions)
        assert (
            "sharp point of the mitre is fragile: nothing bears on it; give the stop the opposite mitre"
            in says
        )
        assert "bevel" not in says


def test_several_housings_are_counted_and_measured_in_one_breath(job):
    """Three housings made in one step are three in its name, as slots are; their places have the unit once."""
    housing = '[[joint]]\nid = "h"\nkind = "housing"\nparts = ["side"]\nwidth = 10\ndepth = 6\nat = {}\n'
    for at, what, places in (
        (
            [100, 200, 300],
            "3 housings in the back of side, 10 mm wide",
            "100, 200 and 300 mm from the left end",
        ),
        ([100, 200.25], "2 housings in the back of side, 10 mm wide", "100 and 200.25 mm from the left end"),
        ([100], "housing in the back of side, 10 mm wide", "100 mm from the left end"),
    ):
        (made,) = derive(job(SIDE + housing.format(at))).operations
        assert made.notes.what == what
        assert made.notes.check.expect == f"{places}, 6 mm deep"
    inches = (SIDE + housing).replace("640", "25").replace("220", "8").replace("= 20", "= 1")
    inches = inches.replace("width = 10", "width = 0.5").replace("depth = 6", "depth = 0.25")
    (made,) = derive(job(inches.format([1.5, 4, 12]), unit="in")).operations
    assert made.notes.check.expect == "1 1/2, 4 and 12 in from the left end, 1/4 in deep"


def test_a_board_in_two_runs_is_bevelled_in_either_order(job):
    """Each run bevels one end of b: neither may ask for the other end square, or both would wait for each other."""
    runs = OPEN.replace('"b", "c"', '"b"') + OPEN.replace('"a", "b"', '"b"').replace('"run"', '"on"')
    found = bevels(derive(job(boards("abc") + runs)))
    for end, other in (("left end", "right end"), ("right end", "left end")):
        assert f"b/{other}" not in found["b", f"b/{end}"].registers_on
        assert "offcut" in found["b", f"b/{end}"].notes.way_round


def test_both_faces_of_a_mitred_rail_come_down_on_the_table(job):
    """The second end is cut with the board turned end over end: its other face lies on the table."""
    joint = '[[joint]]\nid = "frame"\nkind = "frame-mitre"\nparts = ["a", "b"]\n'
    made = derive(job(boards("ab", 2) + joint))
    for op in (op for op in made.operations if op.kind == "mitre"):
        assert {f"{op.parts[0]}/face", f"{op.parts[0]}/back"} < set(op.registers_on)


@pytest.mark.parametrize(
    ("joint", "told"),
    [
        (
            'kind = "groove"\nfrom = 8\nwidth = 6\ndepth = 5\nholds = "panel"',
            r"the side nearest it; move it out pass by pass, all pieces at each, until the groove is 6 mm wide and "
            r"takes panel; then bring the fence back to 8 mm",
        ),
        (
            'kind = "rebate"\nwidth = 12\ndepth = 5',
            r"inner side; move it in, .* to the edge; .* back to 12 mm",
        ),
        (
            'kind = "housing"\nat = [200]\nwidth = 18\ndepth = 5',
            r"along the line, .* until the housing is 18 mm wide",
        ),
    ],
)
def test_a_saw_makes_a_trench_in_passes(job, joint, told):
    """A blade (about 3 mm, common practice, no source) is narrower than most trenches: without a router the card tells
    how the fence goes from pass to pass; a router's bit has the width."""
    panel = SIDE.replace("side", "panel").replace("20\n", "6\n")
    text = f'{SIDE}{panel}[[joint]]\nid = "j"\nparts = ["side"]\n{joint}\n'
    with_router = job(text)
    without = with_router.model_copy(
        update={
            "shop": with_router.shop.model_copy(
                update={"stations": tuple(s for s in with_router.shop.stations if s.id != "router")}
            )
        }
    )
    (here,) = [op for op in derive(without).operations if op.cuts and op.joint == "j"]
    (there,) = [op for op in derive(with_router).operations if op.cuts and op.joint == "j"]
    assert re.search(told, here.notes.way_round)
    assert "pass" not in there.notes.way_round


HALF_TURN = {"end for end": (-1, -1, 1), "end over end": (-1, 1, -1), "face for face": (1, -1, -1)}
"""Half turns flat on the table, about the width and about the length: what they do to a direction of the board."""


@pytest.mark.parametrize(
    ("joint", "turn", "other_side"),
    [
        ('kind = "case-mitre"\nways = ["bevel-first"]', "end for end", False),
        ('kind = "frame-mitre"', "end over end", False),
        ('kind = "stave"\nsides = 4', "end for end", False),
        ('kind = "splayed"\nsides = 4\nslope = 80', "face for face", True),
        ('kind = "splayed"\nsides = 4\nslope = 80\nlean = "in"', "face for face", True),
    ],
)
def test_the_second_end_is_cut_with_nothing_moved(job, joint, turn, other_side):
    """Turned as the card says, the board brings its second end (or edge) into the plane of the blade as it stood for
    the first; on the other side of the blade, wood and waste have changed places (rigid half turns, plane geometry)."""
    side = SIDE.replace("quantity = 2", "quantity = 4")
    made = derive(job(f'{side}[[joint]]\nid = "j"\nparts = ["side"]\n{joint}\n'))
    cutting = [op for op in made.operations if op.kind in ("bevel", "mitre")]
    normals = [cut.normal for op in cutting for cut in op.cuts]
    first, second = dict.fromkeys(normals)
    turned = [a * b for a, b in zip(HALF_TURN[turn], second, strict=True)]
    assert turned == pytest.approx([-a if other_side else a for a in first], abs=1e-9)
    words = cutting[0].notes.way_round
    if other_side:
        assert "left ends outside face up; right ends face down on the other side of the blade" in words
    else:
        assert turn in words


@pytest.mark.parametrize("router", [True, False])
@pytest.mark.parametrize(
    ("on", "end", "guide", "other"),
    [
        ("back", "left end", "far edge", "edge"),
        ("back", "right end", "edge", "far edge"),
        ("face", "left end", "edge", "far edge"),
        ("face", "right end", "far edge", "edge"),
    ],
)
def test_a_rebate_across_an_end_is_kept_square_by_an_edge(job, on, end, guide, other, router):
    """An end alone against the fence lets the board pivot (common practice, no source): the edge that trails lies on a
    square block or the gauge, and the fence is the stop. With the face up and the reference edge towards you the left
    end is on your left (`sequencer.operations`), so with the left end at a fence on the right the edge lies away from
    you, and the far edge trails; each time the board is turned over or about, the other one does."""
    joint = f'[[joint]]\nid = "lap"\nkind = "rebate"\nparts = ["side"]\non = "{on}"\nbeside = "{end}"\n'
    asked = job(SIDE + joint + "width = 20\ndepth = 5\n")
    if not router:
        kept = tuple(s for s in asked.shop.stations if s.id != "router")
        asked = asked.model_copy(update={"shop": asked.shop.model_copy(update={"stations": kept})})
    (op,) = [op for op in derive(asked).operations if op.kind == "rebate"]
    assert op.notes.fence == f"{end}; {guide}, against a square push block or the gauge"
    assert f"behind the {guide} keeps the board square (behind the {other} where" in op.notes.way_round
    assert {f"side/{surface}" for surface in (on, end, guide)} == set(op.registers_on)
    assert op.settings["fence"] == 20.0
    assert op.settings.get("gauge") == (None if router else 0.0)


@pytest.mark.parametrize("edge", ["edge", "far edge"])
def test_a_rebate_along_an_edge_runs_along_the_fence(job, edge):
    joint = f'[[joint]]\nid = "lap"\nkind = "rebate"\nparts = ["side"]\nbeside = "{edge}"\nwidth = 20\ndepth = 5\n'
    (op,) = [op for op in derive(job(SIDE + joint)).operations if op.kind == "rebate"]
    assert (op.notes.fence, set(op.registers_on)) == (edge, {"side/back", f"side/{edge}"})


def lost(slope, thick, width, lean):
    """What a leaning board loses at its level edges on face and back, mm: of its section, its back rising from the
    origin, the face outside; a level line through the corner that keeps the most wood meets face and back there."""
    out, up = (1 if lean == "out" else -1) * cos(radians(slope)), sin(radians(slope))
    lift = {
        "back": 0.0,
        "face": -thick * out,
    }  # the face lies square to the board, outside: lower where it leans out
    low, high = max(lift.values()), width * up + min(lift.values())
    below = {side: (low - lift[side]) / up for side in lift}
    above = {side: width - (high - lift[side]) / up for side in lift}
    return {"edge": below, "far edge": above}


@pytest.mark.parametrize("lean", ["out", "in"])
def test_level_edges_lean_the_right_way(job, lean):
    """A blade that leans away from the fence takes more of the side on the table (the upper one reaches over it), so
    the side that must lose more lies there: 16 / tan 70 = 5.82 mm at each edge, at the other edge of the other side.
    The check tells this parallelogram from that which leans the other way, and is as wide."""
    side = (
        SIDE.replace("quantity = 2", "quantity = 4")
        .replace("220", "140")
        .replace("thickness = 20", "thickness = 16")
    )
    ring = f'slope = 70\nlean = "{lean}"\nlevel_edges = true'
    joint = f'[[joint]]\nid = "j"\nkind = "splayed"\nparts = ["side"]\nsides = 4\n{ring}\n'
    (op,) = [op for op in derive(job(side + joint)).operations if "level" in op.id]
    losses = lost(70, 16, 140, lean)
    beds = {edge: max(sides, key=sides.get) for edge, sides in losses.items()}
    assert all(sorted(sides.values()) == pytest.approx([0, 5.8235], abs=1e-3) for sides in losses.values())
    assert op.notes.table == f"{beds['edge']} (for the edge), {beds['far edge']} (for the far edge)"
    assert beds["edge"] == {"out": "face", "in": "back"}[lean]
    assert "roll the board over about its length, the same end ahead" in op.notes.way_round
    other = {"face": "back", "back": "face"}
    sharp = f"{other[beds['edge']]} (at the edge), {other[beds['far edge']]} (at the far edge)"
    assert op.notes.check.expect == f"134.2 mm on both, sharp corners on the {sharp}"


def test_lines_on_a_bevel_are_measured_along_its_sharp_edge(job):
    """Of unequal slopes both halves of a corner have their slots as far along the sharp arris of face and bevel, from
    its corner with the edge; along the middle of the bevel, from the plane of the edge, they are 3.45 and 4.94 mm less,
    and would not meet (figures worked out apart, from the two gauges and the tilt).
    """
    boards = "".join(
        f'[[part]]\nid = "{name}"\nquantity = 2\nlength = {length}\nwidth = {width}\nthickness = 16\n'
        for name, length, width in (("a", 360, 132.06798118), ("b", 428, 123.57832692))
    )
    ring = '[[joint]]\nid = "j"\nkind = "splayed"\nparts = ["a", "b"]\nslope = [58, 65]\nsides = 4\nlean = "in"\n'
    less = {}
    for op in (op for op in derive(job(boards + ring)).operations if op.kind == "plunge"):
        (part,) = op.parts
        gauge = radians({"a": 21.58, "b": 29.52}[part])
        told = {at for line in op.notes.lines for at in line.at}
        for cut in op.cuts:
            mouth, axis = np.array(cut.mouth), np.array(cut.axis)
            up = np.array((0, 0, 1)) - axis[2] * axis  # in the bevel, square to its arris with the face
            foot = mouth + up * (16 - mouth[2]) / up[2]
            along = foot[1] / cos(gauge)
            assert min(abs(along - at) for at in told) < 0.05
            less[part] = along - mouth[1] / cos(gauge)
        assert "sharp edge" in op.notes.lines[0].what
    assert less == pytest.approx({"a": 3.45, "b": 4.94}, abs=0.02)


@pytest.mark.parametrize(
    ("joint", "told", "share"),
    [
        ('kind = "case-mitre"\nways = ["bevel-first"]', "", 1),
        ('kind = "case-mitre"\nways = ["square-first"]', "", 1),
        ('kind = "stave"\nsides = 4', "", 1),
        ('kind = "frame-mitre"', ", measured along the mitre", cos(radians(45))),
        (
            'kind = "splayed"\nsides = 4\nslope = 70',
            ", measured along the sharp edge of the bevel (at the face), from its corner with the edge",
            1 / (1 + cos(radians(70)) ** 2) ** 0.5,
        ),
    ],
)
def test_lines_on_a_slanting_end_say_that_they_run_along_it(job, joint, told, share):
    """On an end at an angle to the edge slots 90 mm apart along the cut are less, square from the edge: by the cosine
    of the gauge, 45 degrees at a flat frame; of four splayed sides its tangent is the cosine of the slope."""
    side = SIDE.replace("quantity = 2", "quantity = 4")
    text = f'{side}[[joint]]\nid = "j"\nparts = ["side"]\n{joint}\nslips = {{ at = [60, 150] }}\n'
    plunges = [op for op in derive(job(text)).operations if op.kind == "plunge"]
    assert plunges
    for op in plunges:
        assert {line.what for line in op.notes.lines} == {f"centres of the slots{told}"}
        assert any(line.at == (60, 150) for line in op.notes.lines)
        axis = 0 if "stave" in joint else 1
        mouths = [cut.mouth[axis] for cut in op.cuts[:2]]
        assert mouths[1] - mouths[0] == pytest.approx(90 * share, abs=1e-3)
