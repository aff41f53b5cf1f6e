"""Settings and walls of derived operations against figures from outside the program."""

from math import cos, radians, sin, sqrt, tan

import pytest

from sequencer import load_job, plan
from sequencer.cards.planbook import PlanBook
from sequencer.cards.setup_cards import cards
from sequencer.diagnostics import InputError
from sequencer.joinery import derive, joint_report
from sequencer.operations import Slot
from sequencer.precedence.graph import precedence
from sequencer.precedence.rulebook import in_force, load_books

SIDES = ("left", "right")


def box(thickness=18, extra="", n=4):
    return f"""
[[part]]
id = "side"
quantity = {n}
length = 300
width = 100
thickness = {thickness}
stock = "planed"
[[joint]]
id = "corner"
parts = ["side"]
{extra}
"""


def only(worklist, kind):
    return [op for op in worklist.operations if op.kind == kind]


@pytest.mark.parametrize(
    ("sides", "slope", "gauge", "tilt"),
    [
        # exact polyhedra: cube, octahedron half, icosahedron cap, dodecahedron cup (angles of the faces known)
        (4, 90, 0.0, 45.0),
        (4, 54.7356103, 30.0, 35.2643897),
        (5, 37.3773681, 30.0, 20.9051574),
        (5, 63.4349488, 18.0, 31.7174744),
    ],
)
def test_splayed_saw_settings_are_those_of_the_polyhedra(job, sides, slope, gauge, tilt):
    """The saw is set to the exact angles at which the faces of regular polyhedra meet."""
    made = derive(job(box(20, f'kind = "splayed"\nsides = {sides}\nslope = {slope}', sides)))
    (bevel,) = only(made, "bevel")
    assert bevel.settings["tilt"] == pytest.approx(tilt, abs=2e-5)
    assert bevel.settings["gauge"] == pytest.approx(gauge, abs=2e-5)
    assert bevel.quantity == 2 * sides


def test_square_first_corner_of_18_mm(job):
    """T = 18, slip in the middle at 9, plunged 15 on both sides: wall 3, slot 6 deep on each side (plane geometry:
    the mitre plane lies at depth 9, the outside face 18 from the inside face)."""
    text = box(18, 'kind = "case-mitre"\nslips = { thickness = 6, height = 9, depths = [15, 15] }')
    (report,) = joint_report(job(text))
    way = next(w for w in report.ways if w.way == "square-first")
    assert way.embedded == (6.0, 6.0)
    assert way.depths == (15.0, 15.0)
    outside = [w.left for w in way.walls if w.surface == "face"]
    assert min(outside) == pytest.approx(3.0, abs=1e-9)


def test_square_first_is_chosen_with_equal_depths(job):
    """Left to itself the program finds the same place: middle of the stock, one depth, one fence height."""
    made = derive(job(box(18, 'kind = "case-mitre"')))
    late = [op for op in only(made, "plunge") if "square-first" in op.id]
    assert {op.settings["depth"] for op in late} == {15.0}
    assert {op.settings["fence_height"] for op in late} == {9.0}
    assert {op.settings["fence_angle"] for op in late} == {90.0}


def panel(*thick):
    """Boards of these thicknesses edge to edge."""
    names = "abc"[: len(thick)]
    boards = "".join(
        f'[[part]]\nid = "{name}"\nlength = 600\nwidth = 120\nthickness = {size}\n'
        for name, size in zip(names, thick, strict=True)
    )
    return f'{boards}[[joint]]\nid = "panel"\nkind = "edge-to-edge"\nparts = {list(names)}\n'


def table(*thick):
    """Aprons of these thicknesses round legs."""
    aprons = "".join(
        f'[[part]]\nid = "{name}"\nquantity = 2\nlength = {length}\nwidth = 80\nthickness = {size}\n'
        for name, length, size in zip("ab", (400, 300), thick, strict=True)
    )
    return (
        f'{aprons}[[part]]\nid = "leg"\nquantity = 4\nlength = 500\nwidth = 50\nthickness = 50\n'
        '[[joint]]\nid = "frame"\nkind = "leg-to-apron"\nparts = ["a", "b"]\nleg = "leg"\n'
    )


@pytest.mark.parametrize(
    ("text", "thin", "thick"),
    [
        (panel(18, 30), "a", {"b": 30}),
        (panel(18, 30, 30), "a", {"b": 30, "c": 30}),
        (panel(30, 30, 18), "c", {"a": 30, "b": 30}),
        (table(18, 26), "a", {"b": 26}),
        (table(26, 18), "b", {"a": 26}),
    ],
)
def test_boards_of_unlike_thickness_are_joined_in_the_middle_of_the_thinnest(job, text, thin, thick):
    """As that board would be among its like: slots of 6 mm, a third of 18, leave (18 - 6) / 2 to its face and back;
    the faces are flush, so thicker boards have as much to the face and the rest to the back."""
    (report,) = joint_report(job(text))
    (way,) = report.ways
    assert (way.height, way.thickness) == (9, 6)
    walls = {(wall.part, wall.surface): wall.left for wall in way.walls}
    assert (walls[thin, "face"], walls[thin, "back"]) == (6, 6)
    for name, size in thick.items():
        assert walls[name, "face"] == 6
        assert walls.get((name, "back"), size - 12) == size - 12  # where it is thin enough to be told


def test_what_a_narrow_board_does_not_hold_of_a_slip_the_other_does(job):
    """In 20.3 mm of width a wall of 3 leaves 17.3 of depth, 17 in steps of half a millimetre; of the 38 mm that a slip
    36 long and 1 mm for glue at both its ends take, 21 go into the other board."""
    narrow = panel(20, 20).replace("width = 120", 'width = 20.3\nstock = "sized"', 1)
    (report,) = joint_report(job(narrow))
    (way,) = report.ways
    assert (way.length, way.depths) == (36, (17, 21))


def test_bevel_first_wall_by_the_closed_form(job):
    """The wall reported beyond a slot in a bevel is (c - a/2) sin phi - d cos phi (plane trigonometry)."""
    (report,) = joint_report(job(box(18, 'kind = "case-mitre"\nways = ["bevel-first"]')))
    (way,) = report.ways
    c, a, d = way.height, way.thickness, way.depths[0]
    wall = min(w.left for w in way.walls if w.surface == "face")
    assert wall == pytest.approx((c - a / 2) / sqrt(2) - d / sqrt(2), abs=1e-6)
    assert wall >= 3.0 - 1e-9


def test_fence_height_is_corrected_for_the_pivot(job):
    """With the pivot 4 mm behind the fence and 6 ahead of the base, the fence at 45 is dialled short of the place by
    the shift of the line where fence and base meet, drawn out here point by point."""
    made = derive(job(box(18, 'kind = "case-mitre"\nways = ["bevel-first"]')))
    (report,) = joint_report(job(box(18, 'kind = "case-mitre"\nways = ["bevel-first"]')))
    plunge = only(made, "plunge")[0]
    dial, t = plunge.settings["fence_height"], radians(45)
    pivot = (-dial - 4.0, 6.0)
    # a point of the fence's face: 4 mm from the pivot toward the cutter, square to the face
    normal = (sqrt(0.5), -sqrt(0.5))
    point = (pivot[0] + 4.0 * normal[0], pivot[1] + 4.0 * normal[1])
    meets_base = point[0] - point[1] / tan(t)
    assert -meets_base == pytest.approx(report.ways[0].height, abs=1e-5)


def test_both_ends_are_one_lot_and_equal_sizes_equal_settings(job):
    """Both ends of all pieces are one operation; parts of one size share their settings exactly."""
    made = derive(job(box(18, 'kind = "case-mitre"'), batch=3))
    for bevel in only(made, "bevel"):
        assert bevel.quantity == 24
        assert sorted(bevel.destroys) == ["side/left end", "side/right end"]


def test_plunges_register_on_surfaces_that_the_law_keeps(job):
    """Square first, the plunges register on the square ends that the bevel destroys; bevel first, on the bevels."""
    made = derive(job(box(18, 'kind = "case-mitre"')))
    for op in only(made, "plunge"):
        ends = {s for s in op.registers_on if s.endswith("end")}
        bevels = {s for s in op.registers_on if s.endswith("bevel")}
        assert bool(ends) == ("square-first" in op.id)
        assert bool(bevels) == ("bevel-first" in op.id)


def test_a_block_is_cut_in_the_saw_setup_of_its_tilt(job):
    """A fence angle that is no stop gets a setting block, mate of the bevel in the saw's tilt."""
    made = derive(job(box(20, 'kind = "splayed"\nsides = 6\nslope = 80', 6)))
    (block,), (bevel,) = only(made, "block"), only(made, "bevel")
    assert block.settings["tilt"] == bevel.settings["tilt"]
    assert any(set(m.operations) == {block.id, bevel.id} and m.hold == ("saw.tilt",) for m in made.mates)
    edges = precedence(made, in_force(load_books()))
    for plunge in only(made, "plunge"):
        assert (block.id, plunge.id) in {(edge.before, edge.after) for edge in edges}


def ring(kind, long, short, thickness, stock="sized"):
    """Two parts by turns round a ring, whose ends (or edges) one tilt and two stops bevel."""
    return (
        "".join(
            f'[[part]]\nid = "{name}"\nquantity = {pieces}\nlength = {length}\nwidth = 120\nthickness = {thickness}\n'
            f'stock = "{stock}"\n'
            for name, length, pieces in (("long", *long), ("short", *short))
        )
        + f'[[joint]]\nid = "corner"\nparts = ["long", "short"]\n{kind}\n'
    )


RINGS = {
    # kind of ring, tilt, thickness, how the tilt is proved (45 is a stop of the shop's saw, 30 is none)
    "six sides": (
        ring('kind = "case-mitre"\ncorner = 120\nways = ["bevel-first"]', (240, 3), (160, 3), 16),
        30.0,
        16.0,
        "proved with a test cut on scrap of this thickness",
    ),
    "sized box": (
        ring('kind = "case-mitre"\nways = ["bevel-first"]', (280, 2), (190, 2), 14),
        45.0,
        14.0,
        "at the stop",
    ),
    "rough box": (
        ring('kind = "case-mitre"\nways = ["bevel-first"]', (280, 2), (190, 2), 14, "rough"),
        45.0,
        14.0,
        "at the stop",
    ),
    "staves": (ring('kind = "stave"\nsides = 4', (260, 2), (260, 2), 16), 45.0, 16.0, "at the stop"),
}


@pytest.mark.parametrize("name", RINGS)
def test_a_block_follows_a_bevel_of_its_tilt_under_its_blade(job, name):
    """A tilt is proved on a bevel, then the block is sawn (common practice, no source), and held against that bevel. By
    then a blade so high along itself stands 3 mm or more above the stock, measured upright; which tilt was set, and how
    it is proved, is told where it is set."""
    text, tilt, thickness, proved = RINGS[name]
    found = plan(job(text), time_limit=3)
    book, bevelled, blocks = PlanBook(found), [], 0
    for setup, card in zip(found.setups, cards(found), strict=True):
        for op in map(book.operation, setup.operations):
            if op.kind == "bevel":
                bevelled += op.makes
            if op.kind == "block":
                blocks += 1
                (against,) = op.registers_on
                part, surface = against.split("/")
                assert against in bevelled
                assert op.notes.check.measure == f"block against the {surface} of the first piece of {part}"
                assert "height" in op.settings
                upright = setup.settings["height"] * cos(radians(setup.settings["tilt"]))
                assert thickness + 3 - 0.01 <= upright <= thickness + 8 + 0.01
                assert op.notes.how_to_set["tilt"] == f"{tilt:g}° from vertical, {proved}"
        for line in card.settings:
            if line.setting == "tilt" and line.moves and line.value == f"{tilt:g}°":
                assert line.how == (f"{tilt:g}° from vertical, {proved}",)
    assert blocks == 1


def test_a_block_costs_no_reset(job):
    """It is sawn beside its bevel as the saw stands: as many resets as the bevels alone ask for, worked out by hand
    (tilt, blade height and a stop for each of two lengths at the saw, from 0 and from nothing)."""
    text, *_ = RINGS["six sides"]
    found = plan(job(text), time_limit=3)
    moved = [reset.setting for setup in found.setups if setup.station == "saw" for reset in setup.resets]
    assert sorted(moved) == ["height", "stop", "stop", "tilt"]


def test_a_level_rip_proves_its_tilt_too(job):
    """A board at 80 degrees leans 10 from upright, no stop of the saw's: proved as any angle is that was touched."""
    side = box(16, 'kind = "splayed"\nsides = 4\nslope = 80\nlevel_edges = true')
    (rip,) = [op for op in derive(job(side)).operations if "level" in op.id]
    proved = "proved with a test cut on scrap of this thickness"
    assert rip.notes.how_to_set["tilt"] == f"10° from vertical: the lean of the board from upright, {proved}"


def test_a_level_rip_is_counted_by_edges(job):
    """Four boards leaning at 75 degrees have two edges each: eight passes of half a minute, the shop's for a rip."""
    made = derive(job(box(18, 'kind = "splayed"\nsides = 4\nslope = 75\nlevel_edges = true')))
    (rip,) = [op for op in made.operations if "level" in op.id]
    assert (rip.quantity, rip.quantity * rip.minutes_each) == (8, 4)


def test_the_heel_of_a_bevel_is_told_from_the_square_line(job):
    """Of 18 mm at 30 degrees it lies 18 tan 30 = 10.39 mm from it (a right triangle): six sides, corners of 120."""
    made = derive(job(box(18, 'kind = "case-mitre"\ncorner = 120', 6)))
    (bevel,) = only(made, "bevel")
    assert bevel.notes.check.expect == "10.4 mm from the square line to the heel, 300 mm over all"


def test_a_board_bevelled_at_one_end_is_as_long_as_from_its_long_point_to_the_square_end(job):
    """Of an open run of three the outer boards keep one end square, the middle one has long points at both."""
    parts = "".join(
        f'[[part]]\nid = "{id}"\nlength = 300\nwidth = 150\nthickness = 18\nstock = "sized"\n' for id in "abc"
    )
    run = '[[joint]]\nid = "run"\nkind = "case-mitre"\nparts = ["a", "b", "c"]\nclosed = false\n'
    checks = {
        op.parts: op.notes.check.measure for op in derive(job(parts + run)).operations if op.kind == "bevel"
    }
    ends = {parts[0]: measure.partition("over all from ")[2] for parts, measure in checks.items()}
    assert ends == {
        "a": "long point to square end",
        "b": "long point to long point",
        "c": "long point to square end",
    }


def test_the_fence_for_staves_is_at_the_heel(job):
    """The blade leans away from the fence: on the table, where the back lies, it is nearer by 20 tan 30 = 11.55 mm."""
    made = derive(job(box(20, 'kind = "stave"\nsides = 6', 6).replace("width = 100", "width = 60")))
    (bevel,) = only(made, "bevel")
    assert bevel.settings["fence"] == pytest.approx(48.453, abs=1e-3)


def test_plunging_takes_the_shops_minutes_for_each_slot(job):
    """Two rails with two slots in each end, two stiles with as many: eight slots each, 0.3 minutes a slot."""
    rails = (
        f'[[part]]\nid = "{name}"\nquantity = 2\nlength = 500\nwidth = {width}\nthickness = 20\n'
        for name, width in (("rail", 120), ("stile", 60))
    )
    joint = (
        '[[joint]]\nid = "frame"\nkind = "end-to-edge"\nparts = ["rail", "stile"]\nslips = { count = 2 }\n'
    )
    plunges = only(derive(job("".join(rails) + joint)), "plunge")
    assert {op.parts[0]: op.quantity * op.minutes_each for op in plunges} == pytest.approx(
        {"rail": 2.4, "stile": 2.4}
    )


def test_a_block_that_another_joint_needs_too_is_cut_once(job):
    """Two joints of one angle share a block: the plunges of the second register on it, as surfaces go."""
    side = '[[part]]\nid = "{}"\nquantity = 6\nlength = 300\nwidth = 100\nthickness = 20\nstock = "planed"\n'
    corner = '[[joint]]\nid = "{}"\nkind = "splayed"\nparts = ["{}"]\nsides = 6\nslope = 80\n'
    made = derive(
        job(side.format("one") + side.format("two") + corner.format("a", "one") + corner.format("b", "two"))
    )
    (block,) = only(made, "block")
    waits = {edge.after: edge for edge in precedence(made, in_force(load_books())) if edge.before == block.id}
    for plunge in only(made, "plunge"):
        own = plunge.joint == block.joint
        assert waits[plunge.id].rule == ("block-before-plunge" if own else "surface-made")
        assert ("makes the setting block of" in waits[plunge.id].why) is not own


def test_a_shared_block_is_sawn_at_the_tilt_of_all_its_bevels(job):
    """It is a mate of the bevels of both joints, and in the plan the tilt stays from the first of them to the last,
    although a third ring's bevels of another tilt may come between."""
    side = '[[part]]\nid = "{}"\nquantity = {}\nlength = 300\nwidth = 100\nthickness = 20\nstock = "planed"\n'
    corner = '[[joint]]\nid = "{0}"\nkind = "splayed"\nparts = ["{0}"]\nsides = {1}\nslope = 80\n'
    rings = (("one", 6), ("other", 8), ("two", 6))
    text = "".join(side.format(*ring) for ring in rings) + "".join(corner.format(*ring) for ring in rings)
    made = derive(job(text))
    one, other, two = only(made, "bevel")
    shared, apart = only(made, "block")
    assert (shared.joint, apart.joint) == ("one", "other")
    held = [set(group.operations) for group in made.mates if group.hold == ("saw.tilt",)]
    assert sorted(held, key=sorted) == sorted(
        ({one.id, shared.id}, {other.id, apart.id}, {two.id, shared.id}), key=sorted
    )
    steps = [step for step in plan(job(text), time_limit=3).steps if step.station == "saw"]
    alike = [n for n, step in enumerate(steps) if step.operation in {one.id, two.id, shared.id}]
    assert (
        len({step.settings["tilt"] for step in steps[alike[0] : alike[-1] + 1] if "tilt" in step.settings})
        == 1
    )


def test_only_ends_that_are_cut_are_told_of(job):
    """A ring of unlike corners, the sides mirror images: left and right ends of a part are cut apart."""
    text = "".join(
        f'[[part]]\nid = "{name}"\nlength = {length}\nwidth = 150\nthickness = 20\nstock = "planed"\n'
        for name, length in (("front", 600), ("right", 250), ("back", 556.4), ("left", 250))
    )
    text += '[[joint]]\nid = "corner"\nkind = "splayed"\nparts = ["front", "right", "back", "left"]\n'
    text += "slope = 75\ncorners = [85, 95, 95, 85]\n"
    found = [op for op in only(derive(job(text)), "bevel") if op.parts == ("right",)]
    assert {tuple(op.destroys) for op in found} == {("right/left end",), ("right/right end",)}
    for op in found:
        for end in ("left", "right"):
            assert (f"{end} ends" in op.notes.way_round) == (f"right/{end} end" in op.destroys)


def test_slots_keep_clear_of_the_bottom_groove(job):
    """Slots end at least the shop's end distance above a groove along the reference edge."""
    groove = '[[joint]]\nid = "bottom"\nkind = "groove"\nparts = ["side"]\nfrom = 6\nwidth = 5\ndepth = 6\n'
    made = derive(job(box(18, 'kind = "case-mitre"') + groove))
    for op in only(made, "plunge"):
        for cut in op.cuts:
            assert isinstance(cut, Slot)
            assert cut.mouth[1] - cut.length / 2 >= 11 + 10 - 1e-9


@pytest.mark.parametrize(("kind", "cheek"), [("case-mitre", 45.0), ("frame-mitre", 0.0)])
def test_grain_of_mitres(job, kind, cheek):
    """Cheeks lie at 45 degrees to the fibre in a case mitre plunged into the bevel, along it in a flat frame mitre."""
    extra = f'kind = "{kind}"' + ('\nways = ["bevel-first"]' if kind == "case-mitre" else "")
    (report,) = joint_report(job(box(18, extra)))
    assert [g.cheek_to_fibre for g in report.ways[0].glue] == pytest.approx([cheek, cheek], abs=1e-3)


def test_gap_of_a_bevel_error(job):
    """t = 18, four sides, 0.1 degree: 0.0889 mm at one joint, 0.3554 at a ring's last (2 F tan e, 2 F sin n e)."""
    (report,) = joint_report(job(box(18, 'kind = "case-mitre"')))
    assert report.off.joint_gap == pytest.approx(0.0889, abs=1e-4)
    assert report.off.ring_gap == pytest.approx(0.3554, abs=1e-4)


def test_the_fence_angle_is_that_of_the_ways_left(job):
    """Square first the mortiser's fence stands at 90; at 45 degrees only where slots are plunged into the bevel."""
    for ways, fence in (
        ('["square-first"]', 90),
        ('["bevel-first"]', 45),
        ('["square-first", "bevel-first"]', 45),
    ):
        (report,) = joint_report(job(box(18, f'kind = "case-mitre"\nways = {ways}')))
        assert {cut.fence_angle for cut in report.angles} == {fence}


def test_the_remedy_is_for_the_way_ranked_first(job):
    """A slip a size thinner turns the further the shorter it is: what is told is what the way ranked first gives, as if
    there were no other."""
    both, one = (
        joint_report(job(box(18, f'kind = "case-mitre"\nways = {ways}\nslips = {{ width = 22 }}')))[0]
        for ways in ('["square-first", "bevel-first"]', '["bevel-first"]')
    )
    assert [(way.way, way.length) for way in both.ways] == [("bevel-first", 16), ("square-first", 10)]
    assert both.off == one.off


def test_figures_are_those_of_the_weakest_corner(job):
    """A ring of unlike corners holds as much whichever side is listed first; and as its weakest corner does."""
    names = ["front", "right", "back", "left"]
    found = []
    for turn in range(4):
        text = "".join(
            f'[[part]]\nid = "{name}"\nlength = {length}\nwidth = 150\nthickness = 20\nstock = "planed"\n'
            for name, length in (("front", 600), ("right", 250), ("back", 556.4), ("left", 250))
        )
        listed = ", ".join(f'"{name}"' for name in names[turn:] + names[:turn])
        corners = ", ".join(str(c) for c in ([85, 95, 95, 85][turn:] + [85, 95, 95, 85][:turn]))
        text += f'[[joint]]\nid = "corner"\nkind = "splayed"\nparts = [{listed}]\nslope = 75\ncorners = [{corners}]\n'
        found.append(joint_report(job(text))[0].ways[0])
    assert {(way.slips, way.thickness, way.width, way.length, way.depths) for way in found} == {
        (found[0].slips, found[0].thickness, found[0].width, found[0].length, found[0].depths)
    }
    assert [way.relative for way in found] == pytest.approx([found[0].relative] * 4, abs=0.01)


def trough(slopes, lean="out", width=150.0):
    """Two boards and two as high as these that lean otherwise, all 18 thick, their edges level."""
    high = width * sin(radians(slopes[0]))
    sides = "".join(
        f'[[part]]\nid = "{name}"\nquantity = 2\nlength = {length}\nwidth = {high / sin(radians(slope))}\n'
        'thickness = 18\nstock = "sized"\n'
        for name, length, slope in zip(("long", "short"), (400, 300), slopes, strict=True)
    )
    return (
        f'{sides}[[joint]]\nid = "corner"\nkind = "splayed"\nparts = ["long", "short"]\nslope = {list(slopes)}\n'
        f'sides = 4\nlean = "{lean}"\nlevel_edges = true\n'
    )


@pytest.mark.parametrize("lean", ["out", "in"])
def test_boards_that_lean_unlike_are_ripped_to_common_levels(job, lean):
    """Between the levels are 150 sin 60 - 18 cos 60 = 120.904 mm, whichever way the boards lean: the one that leans
    less loses more than its lean, at the bottom if it leans out, at the top if in, and there first."""
    long, short = (op for op in derive(job(trough((60, 75), lean))).operations if "-level-" in op.id)
    assert long.settings["tilt"] == pytest.approx(30, abs=1e-3)
    assert long.settings["fence"] == pytest.approx(120.904 / sin(radians(60)), abs=1e-3)
    assert short.settings["tilt"] == pytest.approx(15, abs=1e-3)
    assert short.settings["fence"] == pytest.approx(120.904 / sin(radians(75)), abs=1e-3)
    assert "first" not in long.notes.way_round
    assert ("; the edge first" if lean == "out" else "; the far edge first") in short.notes.way_round


@pytest.mark.parametrize(("lean", "edge", "other"), [("out", "edge", "far edge"), ("in", "far edge", "edge")])
def test_an_upright_board_is_ripped_where_it_stands_beyond_leaning_ones(job, lean, edge, other):
    """18 cos 60 = 9 mm come off it, at one edge."""
    made = {op.id: op for op in derive(job(trough((60, 90), lean))).operations}
    rip = made["corner-level-short"]
    assert rip.settings["tilt"] == 0
    assert rip.settings["fence"] == pytest.approx(150 * sin(radians(60)) - 9, abs=1e-3)
    assert rip.destroys == (f"short/{edge}",)
    assert f"short/{other}" in rip.registers_on
    assert rip.quantity == 2


def test_a_board_too_narrow_between_its_level_edges_is_refused(refused):
    """150 wide at 60 degrees from horizontal, 18 thick: 150 - 18 / tan 60 = 139.6 mm."""
    (fault,) = refused(trough((60, 60)), shop="narrowest_piece = 140\n")
    assert (
        "long, ripped level, is too narrow to hold safely at the saw (139.6 mm on the face" in fault.message
    )
    assert "150.39 mm or more" in fault.accepted


@pytest.mark.parametrize("every", ["1e-300", "1e-6", "1", "26"])
def test_a_slip_every_hair(job, every):
    """However many slips the shop's habit asks for, no more are tried than go in: in 100 mm three, the
    wider of which fill it (3 slots of 18 + 2 mm, 2 x 10 between them, 10 at each end), and not four of the narrowest
    (4 slots of 15 + 2 mm and the rest make 118).
    """
    text = box(18, 'kind = "case-mitre"')
    for report in joint_report(job(text, shop=f"slip_every = {every}\n")):
        for way in report.ways:
            assert way.slips == 3
            assert way.width == 18


def test_ends_with_the_gauge_to_opposite_sides_of_square(job):
    """A board between an upright neighbour (inside angle 120) and one that leans (118.48) is sawn at both ends at one
    tilt and one gauge, but leaning the same way: the left end keeps its far edge full, the right one its edge. Two
    steps, each told by its own line. Slope and corner were solved for that, with the formulae for unlike slopes.
    """
    slopes = (80, 90, 80, 80, 80.15344806016593)
    corners = [120, 100.5, 101.0187617187, 100, 118.4812382813394]
    sides = "".join(
        f'[[part]]\nid = "{name}"\nlength = {length}\nwidth = {140 * sin(radians(80)) / sin(radians(slope))}\n'
        'thickness = 18\nstock = "sized"\n'
        for name, length, slope in zip("abcde", (400, 300, 300, 496.55, 162.39), slopes, strict=True)
    )
    made = derive(
        job(
            f'{sides}[[joint]]\nid = "ring"\nkind = "splayed"\nparts = ["a", "b", "c", "d", "e"]\n'
            f"slope = {list(slopes)}\ncorners = {corners}\n"
        )
    )
    left, right = (
        next(op for op in made.operations if op.id == f"ring-bevel-a-{side}-end") for side in SIDES
    )
    assert left.settings["gauge"] == right.settings["gauge"] == pytest.approx(5.7251, abs=1e-4)
    assert left.settings["tilt"] == right.settings["tilt"] == pytest.approx(30.2506, abs=1e-4)
    assert "Cut to the line, stop off: the far edge keeps its full 400 mm" in left.notes.way_round
    assert "Cut to the line, stop off: the edge keeps its full 400 mm" in right.notes.way_round
    assert not [
        group
        for group in made.mates
        if {left.id, right.id} <= set(group.operations) and "saw.gauge" in group.hold
    ]


@pytest.mark.parametrize(
    ("at", "height", "fenced"), [(49, 10, True), (49, 12, False), (51, 9, True), (51, 10, False)]
)
def test_a_batten_guides_the_base_where_the_fence_does_not_reach_the_height_asked_for(
    job, at, height, fenced
):
    """The fence reaches 60 mm: it is asked for at the shelf's place and the height together, else for nothing."""
    text = (
        '[[part]]\nid = "side"\nlength = 400\nwidth = 200\nthickness = 20\nquantity = 1\n'
        '[[part]]\nid = "shelf"\nlength = 400\nwidth = 200\nthickness = 20\nquantity = 1\n'
        '[[joint]]\nid = "s"\nkind = "end-to-face"\nparts = ["shelf", "side"]\nends = ["left end"]\n'
        f"at = [{at}]\nslips = {{ height = {height} }}\n"
    )
    (seat,) = (op for op in derive(job(text)).operations if op.kind == "plunge" and op.parts == ("side",))
    assert seat.settings.get("fence_height") == (at + height if fenced else None)


def of_shop(tmp_path, old, new):
    """The job of `tmp_path` again, in a shop whose file says something else."""
    shop = tmp_path / "shop.toml"
    assert old in shop.read_text()
    shop.write_text(shop.read_text().replace(old, new))
    return load_job(tmp_path / "job.toml")


def pivoted(job, tmp_path, slips, least=5):
    """A mitred box of 18 mm in a shop whose fence turns 12 mm ahead of its base and 4 behind its surface."""
    job(box(18, f'kind = "case-mitre"\nways = ["bevel-first"]\nslips = {{ {slips} }}'))
    of_shop(tmp_path, "pivot = { behind = 4, ahead = 6 }", "pivot = { behind = 4, ahead = 12 }")
    return of_shop(tmp_path, "limits = { min = 3, max = 60 }", f"limits = {{ min = {least}, max = 60 }}")


def test_a_height_is_taken_for_which_the_scale_can_be_set(job, tmp_path):
    """At 45 degrees the slots land 4 - (4 - 12 cos 45) / sin 45 = 10.34 mm farther from the edge than the scale says:
    in the middle of the bevel, at 12.7, it would read 2.4, and first on or above 5 at 15.5."""
    plunges = only(derive(pivoted(job, tmp_path, "length = 10")), "plunge")
    assert plunges
    for plunge in plunges:
        assert plunge.settings["fence_height"] == pytest.approx(15.5 - 10.34315, abs=1e-4)


def test_a_height_for_which_the_scale_cannot_be_set_is_refused(job, tmp_path):
    """13.5 - 10.34 = 3.16; told with what the program would choose."""
    with pytest.raises(InputError) as refused:
        derive(pivoted(job, tmp_path, "length = 10, height = 13.5"))
    (fault,) = refused.value.faults
    assert fault.where == 'joint "corner", slips.height'
    assert fault.message.endswith(
        "fence height would have to read 3.2 mm for slots 13.5 mm from the sharp edge"
    )
    assert "slips.height 16.5 mm" in fault.accepted


def test_no_height_for_which_the_scale_can_be_set_is_refused(job, tmp_path):
    """A slot of 5, the thinnest, at h along the bevel leaves a wall of 3 to the inside, square to it, up to
    1.4142 * (t - 3) - 2.5: in 18 mm that is 18.7, where the scale reads 18.7 - 10.34 = 8.4, not 12; the 22.34 it takes
    are there in 21 mm (22.96), not in 20 (21.5). In 18 mm the first height deep enough is 13.5.
    """
    with pytest.raises(InputError) as refused:
        derive(pivoted(job, tmp_path, "length = 10", least=12))
    (fault,) = refused.value.faults
    assert "would have to read 3.2 mm for slots 13.5 mm from the sharp edge" in fault.message
    assert fault.accepted == "stock 21 mm thick (depth 6 mm)"
    text = (tmp_path / "job.toml").read_text()
    (tmp_path / "job.toml").write_text(text.replace("thickness = 18", "thickness = 21"))
    plunges = only(derive(load_job(tmp_path / "job.toml")), "plunge")
    assert {plunge.settings["depth"] for plunge in plunges} == {6.0}


BEVELLED_FIRST = 'kind = "case-mitre"\nways = ["bevel-first"]'


def test_a_height_asked_for_off_the_scale_is_told_with_the_scale_it_takes(job, tmp_path):
    """At 45 degrees 12 mm along the bevel of 14 mm stock read 12 - 4.343 = 7.7; at 13, the last that leaves a wall of 3
    to the inside, 8.7."""
    told = 'kind = "case-mitre"\nways = ["bevel-first"]\nslips = { height = 12 }'
    loaded = job(box(14, told))
    assert only(derive(loaded), "plunge")[0].settings["fence_height"] == pytest.approx(7.657, abs=1e-3)
    with pytest.raises(InputError) as refused:
        derive(of_shop(tmp_path, "limits = { min = 3, max = 60 }", "limits = { min = 9, max = 60 }"))
    (fault,) = refused.value.faults
    assert "would have to read 7.7 mm for slots 12 mm from the sharp edge" in fault.message
    assert fault.accepted == "a fence whose scale goes to 7.7 mm (this one takes a length from 9 mm to 60 mm)"


def test_walls_that_no_height_leaves_are_not_told_as_the_scale_s_reach(job):
    """At 45 degrees 10 mm stock has 14.1 of bevel: two walls of 3 and a slot of 5 leave its middle alone, at 7.07. The
    scale, pivot and all, would read 7.07 - (4 + (6 cos 45 - 4) / sin 45) = 2.73 there, not 3 or more; but a mortise of
    5 (4 in each half, 1 for glue) would leave (7.07 - 2.5) sin 45 - 5 cos 45 = -0.3 to the outside, whatever it reads.
    What is told to pass does, with the scale as it is.
    """
    with pytest.raises(InputError) as refused:
        derive(job(box(10, BEVELLED_FIRST)))
    (fault,) = refused.value.faults
    assert fault.message.startswith("wall to the outside face of side would be -0.3 mm at depth 5 mm")
    assert fault.accepted == (
        "a least_wall of 1 mm in the shop's [joinery] (depth 6 mm), or stock 14 mm thick (depth 6 mm)"
    )
    for thick, shop in ((10, "least_wall = 1\n"), (14, "")):
        made = only(derive(job(box(thick, BEVELLED_FIRST), shop=shop)), "plunge")
        assert {plunge.settings["depth"] for plunge in made} == {6.0}
        assert all(plunge.settings["fence_height"] >= 3.0 for plunge in made)
