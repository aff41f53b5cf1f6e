"""Mortises keep clear of grooves, rebates, housings and each other; figures from an independent solid modeller."""

from itertools import combinations, pairwise
from math import cos, radians, sin
from random import Random

import numpy as np
import pytest
from manifold3d import Manifold

from sequencer.diagnostics import InputError, NoOrderError
from sequencer.geometry.slots import SlotSolid
from sequencer.joinery import derive
from sequencer.joinery.basis.floor import Floor
from sequencer.joinery.basis.seats import Body, Pair, rail_seat
from sequencer.joinery.slots.slot_rows import SlotRow, _spaced
from sequencer.operations import PlaneCut, Slot, Trench
from tests.geometry.test_slots import solid

WALL = 3.0
"""The least wall of the examples' shop, mm."""

SIDE = """[[part]]
id = "side"
quantity = 4
length = 200
width = 120
thickness = 16
[[joint]]
id = "corner"
kind = "case-mitre"
parts = ["side"]
"""


def housing(at, depth=5):
    """A housing across the inside of the sides, from this place to 6 mm further on."""
    return f'[[joint]]\nid = "shelf"\nkind = "housing"\nparts = ["side"]\nat = [{at}]\nwidth = 6\ndepth = {depth}\n'


def gaps(worklist, way=""):
    """Wood between every slot and every trench of a part, mm, by the solid modeller; of the operations of one way."""
    boxes = [cut for op in worklist.operations for cut in op.cuts if isinstance(cut, Trench)]
    bodies = {
        box: Manifold.cube([h - low for low, h in zip(box.low, box.high, strict=True)]).translate(box.low)
        for box in boxes
    }
    slots = [c for op in worklist.operations if way in op.id for c in op.cuts if isinstance(c, Slot)]
    assert slots
    return [
        solid(SlotSolid.of(slot)).min_gap(body, 500)
        for slot in slots
        for box, body in bodies.items()
        if box.part == slot.part
    ]


def test_a_way_whose_slots_come_too_near_a_housing_is_struck_out(job):
    """Plunged from the bevel the slots reach further under the inside than plunged from square ends."""
    made = derive(job(SIDE + housing(16)))
    (struck,) = made.struck_out
    assert (struck.joint, struck.way) == ("corner", "bevel-first")
    assert not made.choices
    assert min(gaps(made)) >= WALL - 0.01
    clear = derive(job(SIDE + housing(18)))
    assert not clear.struck_out
    nearest = min(gaps(clear, "bevel-first"))
    assert nearest >= WALL - 0.01
    assert (
        'only 2.5 mm of wood would be left in side, between the slots and the housing "shelf"' in struck.why
    )
    assert nearest > 2.6


def sawn(body, angle=45.0):
    """What a bevel at the left end leaves: long point at the outside of 16 mm stock."""
    lean = (-cos(radians(angle)), 0.0, -sin(radians(angle)))
    return body.trim_by_plane([-x for x in lean], 16 * sin(radians(angle)))


@pytest.mark.parametrize("at", [15, 15.5, 16, 16.5])
def test_the_wood_told_to_be_left_is_that_of_the_solid_modeller(job, at):
    """The slots are those of the job with the housing further off, for nothing else places them; both are sawn."""
    told = float(derive(job(SIDE + housing(at))).struck_out[0].why.split("only ")[1].split(" mm")[0])
    assert told == pytest.approx(apart(job, "bevel-first", at), abs=0.1)


def apart(job, way, at):
    """Wood between the slots of one way at the left end and a housing there, as the bevel leaves both, mm."""
    away = derive(job(SIDE + housing(60)))
    box = sawn(Manifold.cube([6, 120, 5]).translate([at, 0, 0]))
    slots = [c for op in away.operations if way in op.id for c in op.cuts if isinstance(c, Slot)]
    return min(sawn(solid(SlotSolid.of(slot))).min_gap(box, 500) for slot in slots if slot.mouth[0] < 100)


def test_no_way_is_left_where_the_housing_runs_through_the_slots(job):
    """Both ways are told, each with what would be left and what would pass."""
    with pytest.raises(NoOrderError) as refused:
        derive(job(SIDE + housing(12)))
    said = str(refused.value)
    assert "square-first: only 1.5 mm of wood would be left in side" in said
    assert apart(job, "square-first", 12) == pytest.approx(1.5, abs=0.1)
    assert 'bevel-first: the housing "shelf" leaves 2.1 mm of the mortises in side' in said
    assert "another place for the housing" in said


def test_what_is_sawn_away_does_not_count(job, refused):
    """The mouths of slots plunged from square ends, and a housing in the offcut of the bevel but for 1 or 2 mm of its
    corner; one all of which is in the offcut is no nearer to them, and is refused for that alone."""
    for at in (8, 9):
        assert len(derive(job(SIDE + housing(at, depth=3))).choices) == 1
    (fault,) = refused(SIDE + housing(2))
    assert "nothing is left of the housing in the back of side" in fault.message
    thicker = SIDE.replace("thickness = 16", "thickness = 18")
    assert len(derive(job(thicker + housing(14, depth=3))).choices) == 1


def test_a_groove_along_the_grain_moves_the_slots(job):
    """Wherever it runs across the width, the row finds room beside it."""
    for start in range(4, 110, 7):
        groove = (
            f'[[joint]]\nid = "g"\nkind = "groove"\nparts = ["side"]\nfrom = {start}\nwidth = 6\ndepth = 5\n'
        )
        assert min(gaps(derive(job(SIDE + groove)))) >= WALL - 0.01, start


def wide_box(start, slips="", width=8):
    """A mitred box of sides 200 wide and 20 thick with a groove 5 deep inside."""
    return (
        SIDE.replace("width = 120\nthickness = 16", "width = 200\nthickness = 20").replace(
            "length = 200", "length = 400"
        )
        + slips
        + f'[[joint]]\nid = "g"\nkind = "groove"\nparts = ["side"]\nfrom = {start}\nwidth = {width}\ndepth = 5\n'
    )


def centres(worklist, kind="plunge", part="side"):
    """From the edge to the middles of the slots in a part whose rows run across it, mm."""
    slots = [cut for op in worklist.operations if op.kind == kind for cut in op.cuts if isinstance(cut, Slot)]
    return sorted({round(slot.mouth[1], 6) for slot in slots if slot.part == part})


@pytest.mark.parametrize("start", [80, 90, 92, 93, 96, 99, 100, 110])
def test_slots_lie_on_both_sides_of_a_groove_with_room_there(job, start):
    """Two of 22 (24 with their play), 10 from groove and edges and 10 apart, take 78 mm; there are 80 and more."""
    made = derive(job(wide_box(start)))
    assert not made.struck_out
    assert min(gaps(made)) >= WALL - 0.01
    places = centres(made)
    assert [place < start for place in places] == [True, True, False, False]
    longest = max(cut.length for op in made.operations for cut in op.cuts if isinstance(cut, Slot))
    assert 10 + longest / 2 <= places[0] < places[-1] <= 190 - longest / 2


@pytest.mark.parametrize("count", [1, 2, 3])
def test_so_many_slots_as_asked_for_lie_clear_of_a_groove(job, count):
    """One has 92 mm of wood, two have one side each, of three two lie on the wider side."""
    made = derive(job(wide_box(92, f"slips = {{ count = {count} }}\n")))
    assert min(gaps(made)) >= WALL - 0.01
    below = sum(place < 92 for place in centres(made))
    assert (below, len(centres(made))) == {1: (0, 1), 2: (1, 2), 3: (1, 3)}[count]


def test_a_groove_near_the_edge_leaves_the_slots_the_wood_above(job):
    """Three slips of 32 hold more there than narrow ones on both sides would; the 38 mm below take one of 15,
    as then all would be. Of the 154 mm above three slots of 34 leave four gaps of 13."""
    places = centres(derive(job(wide_box(38))))
    assert places == [46 + 13 + 17, 46 + 77, 200 - 13 - 17]


@pytest.mark.parametrize("start", [90, 96])
def test_places_asked_for_are_judged_by_their_distance_from_a_groove(job, start):
    """Slots of 34 at 50 and 150 end at 67 and begin at 133."""
    made = derive(job(wide_box(start, "slips = { at = [50, 150] }\n")))
    assert centres(made) == [50, 150]


def test_places_asked_for_near_a_groove_have_narrower_slips(job):
    """From 92 less a wall of 3 to 72 are 17 mm: half of 34, which are a slip of 32 and its play; at 74 half of 30 is
    left, for slips of 26 (the next narrower), and 28 with their play."""
    for at, width in ((72, 32), (74, 26)):
        made = derive(job(wide_box(92, f"slips = {{ at = [{at}, 150] }}\n")))
        assert min(gaps(made)) >= WALL - 0.01
        assert {meeting.slip.width for meeting in made.meetings} == {width}


SHELF = """[[part]]
id = "shelf"
length = 500
width = 200
thickness = 20
[[part]]
id = "side"
quantity = 2
length = 600
width = 200
thickness = 20
[[joint]]
id = "s"
kind = "end-to-face"
parts = ["shelf", "side"]
at = [290]
"""


@pytest.mark.parametrize(("depth", "clear"), [(3, True), (4, True), (4.5, False)])
def test_a_groove_that_keeps_the_wall_is_not_in_the_way(job, depth, clear):
    """Slots 6 thick in the middle of 20 mm leave 7 to the face: a wall of 3 beside a groove of 4, and no more."""
    groove = '[[joint]]\nid = "g"\nkind = "groove"\nparts = ["shelf"]\non = "face"\nfrom = 80\nwidth = 6\n'
    made = derive(job(f"{SHELF}{groove}depth = {depth}\n"))
    assert (centres(made, part="shelf") == centres(derive(job(SHELF)), part="shelf")) == clear
    assert min(gaps(made)) >= WALL - 0.01


def test_a_slot_keeps_clear_of_a_groove_by_the_wall_where_no_more_is_left(job):
    """A rail 46 wide, grooved 10 deep in both edges: of 26 mm between them slips of 18 leave 4 on both sides, and 3
    beside slots with 2 of play, as they might be here."""
    text = (
        '[[part]]\nid = "stile"\nquantity = 2\nlength = 400\nwidth = 60\nthickness = 20\n'
        '[[part]]\nid = "rail"\nlength = 200\nwidth = 46\nthickness = 20\n'
        '[[joint]]\nid = "frame"\nkind = "end-to-edge"\nparts = ["rail", "stile"]\nat = [177]\n'
    )
    for edge in ("edge", "far edge"):
        text += groove(edge, "rail", 10).replace("panel", f"panel in {edge}")
    made = derive(job(text))
    assert centres(made, part="rail") == [23]
    assert min(gap for gap in gaps(made, "rail")) == pytest.approx(4, abs=0.01)


def test_slots_of_a_panel_go_past_a_housing_at_another_height(job):
    """A housing 5 deep in the face of 20 mm is 2 from slots 6 thick in the middle, and 100 of 180 mm wide; 1 mm
    farther in they keep 3 mm, where they are."""
    panel = (
        '[[part]]\nid = "board"\nquantity = 2\nlength = 180\nwidth = 100\nthickness = 20\n'
        '[[joint]]\nid = "panel"\nkind = "edge-to-edge"\nparts = ["board"]\nslips = { count = 3 }\n'
    )
    crossing = (
        '[[joint]]\nid = "h"\nkind = "housing"\nparts = ["board"]\non = "face"\nat = [40]\nwidth = 100\n'
    )
    made = derive(job(f"{panel}{crossing}depth = 5\n"))
    slots = [cut for op in made.operations for cut in op.cuts if isinstance(cut, Slot)]
    assert {slot.mouth[2] for slot in slots} == {9.0}
    assert min(gaps(made)) == pytest.approx(3, abs=0.01)


FRAME = """[[part]]
id = "stile"
quantity = 2
length = 400
width = 60
thickness = 20
[[part]]
id = "rail"
quantity = 2
length = 200
width = 60
thickness = 20
[[joint]]
id = "frame"
kind = "end-to-edge"
parts = ["rail", "stile"]
"""


def groove(on="edge", part="stile", depth=8):
    """A groove 6 mm wide in the middle of the thickness."""
    return (
        f'[[joint]]\nid = "panel"\nkind = "groove"\non = "{on}"\nbeside = "face"\nparts = ["{part}"]\n'
        f"from = 7\nwidth = 6\ndepth = {depth}\n"
    )


def beside(end):
    """A rebate along an end of the rails, to the middle of their thickness."""
    return f'[[joint]]\nid = "step"\nkind = "rebate"\nparts = ["rail"]\nbeside = "{end}"\nwidth = 8\ndepth = 10\n'


@pytest.mark.parametrize(
    "more",
    [
        groove(),
        beside("right end"),
        beside("left end"),
        '[[joint]]\nid = "glass"\nkind = "rebate"\nparts = ["stile", "rail"]\nwidth = 8\ndepth = 10\n',
    ],
)
def test_slots_may_open_in_a_groove(job, more):
    """Rails that meet the grooved or rebated edge of their stiles are held by slips in that edge."""
    made = derive(job(FRAME + more))
    assert not made.struck_out
    assert min(gaps(made)) == 0


@pytest.mark.parametrize(
    ("depth", "says"),
    [(15, 'the groove "panel" leaves 4 mm of the mortises in stile'), (30, "the slots in stile run into")],
)
def test_a_groove_too_deep_for_its_slots_is_refused(job, depth, says):
    """Of the 19 mm in the stile 4 of wood and 1 of glue room are the least beyond the groove."""
    with pytest.raises(InputError) as refused:
        derive(job(FRAME + groove(depth=depth)))
    assert says in str(refused.value)
    assert "5 mm is the shop minimum" in str(refused.value) or depth > 19
    derive(job(FRAME + groove(depth=14)))


def test_a_part_does_not_sit_in_a_housing_and_on_slips(job):
    """At the bottom of its housing the shelf is nearer than its mortises reckon with."""
    text = (
        '[[part]]\nid = "shelf"\nlength = 400\nwidth = 200\nthickness = 18\n'
        '[[part]]\nid = "side"\nquantity = 2\nlength = 600\nwidth = 200\nthickness = 18\n'
        '[[joint]]\nid = "held"\nkind = "end-to-face"\nparts = ["shelf", "side"]\nat = [100]\n'
        '[[joint]]\nid = "seat"\nkind = "housing"\nparts = ["side"]\nat = [100]\nwidth = 18\ndepth = 6\n'
    )
    for holds in ("", 'holds = "shelf"\n'):
        with pytest.raises(InputError) as refused:
            derive(job(text + holds))
        assert 'the housing "seat" seats shelf 6 mm deep in side' in str(refused.value)
        assert "the housing or the slips, not both" in str(refused.value)
    slips, housing_ = (text.index(f'[[joint]]\nid = "{name}"') for name in ("held", "seat"))
    derive(job(text[:housing_]))
    derive(job(text[:slips] + text[housing_:] + 'holds = "shelf"\n'))


FOOT = (
    '[[part]]\nid = "end"\nlength = 250\nwidth = 150\nthickness = 18\n'
    '[[part]]\nid = "side"\nquantity = 2\nlength = 400\nwidth = 150\nthickness = 18\n'
    '[[joint]]\nid = "c"\nkind = "end-to-face"\nparts = ["end", "side"]\nat = [191]\n'
    '[[joint]]\nid = "cut"\nparts = ["side"]\n'
)


@pytest.mark.parametrize(
    ("cut", "says"),
    [
        ('kind = "housing"\nat = [191]\nwidth = 18\n', "seats end 5 mm deep in side"),
        ('kind = "housing"\nat = [185]\nwidth = 30\n', "seats end 5 mm deep in side"),
        ('kind = "housing"\nat = [193]\nwidth = 14\n', "leaves end less than 3 mm of side to stand on"),
        ('kind = "housing"\nat = [188]\nwidth = 18.5\n', "leaves end less than 3 mm of side to stand on"),
        ('kind = "housing"\nat = [194]\nwidth = 12\n', ""),
        ('kind = "housing"\nat = [188]\nwidth = 18\n', ""),
        ('kind = "groove"\nfrom = 10\nwidth = 130\n', ""),
        ('kind = "rebate"\nbeside = "far edge"\nwidth = 140\n', ""),
        ('kind = "rebate"\nbeside = "far edge"\nwidth = 148\n', "leaves end less than 3 mm"),
        ('kind = "housing"\nat = [191]\nwidth = 18\non = "face"\n', ""),
    ],
)
def test_a_board_on_slips_stands_on_wood(job, cut, says):
    """Of the end's 18 mm, from 191 to 209, or its 150 mm across: the least wall (3 mm) is left, or the job is refused,
    whatever the trench is said to hold. Slips that run into one are refused otherwise."""
    try:
        derive(job(FOOT + cut + "depth = 5\n"))
        told = ""
    except InputError as refused:
        told = str(refused)
    assert (says in told) if says else ("to stand on" not in told and "seats" not in told)


@pytest.mark.parametrize("thickness", [18, 24])
@pytest.mark.parametrize(
    ("start", "width", "says"),
    [
        (0, 18, "leaves nothing of its edge"),
        (0, 17, "leaves rail less than 3 mm of stile to stand on"),
        (2, 14, "leaves rail less than 3 mm of stile to stand on"),
        (6, 6, ""),
    ],
)
def test_a_board_does_not_stand_on_what_is_beside_its_mate(job, thickness, start, width, says):
    """Of a stile 18 mm thick a groove leaves nothing, a strip of 1 mm, two of 2 or two of 6 mm; faces flush, a rail of
    24 mm stands 6 mm beyond it, where there is no wood."""
    board = '[[part]]\nid = "{}"\nlength = {}\nwidth = {}\nthickness = {}\nquantity = 2\nstock = "sized"\n'
    text = board.format("rail", 300, 100, thickness) + board.format("stile", 500, 80, 18)
    text += '[[joint]]\nid = "f"\nkind = "end-to-edge"\nparts = ["rail", "stile"]\n'
    text += '[[joint]]\nid = "g"\nkind = "groove"\nparts = ["stile"]\non = "edge"\ndepth = 4\n'
    try:
        derive(job(f"{text}from = {start}\nwidth = {width}\n"))
        told = ""
    except InputError as refused:
        told = str(refused)
    assert (says in told) if says else ("to stand on" not in told and "seats" not in told)


PANEL = (
    '[[part]]\nid = "board"\nquantity = 4\nlength = 400\nwidth = 80\nthickness = 18\n'
    '[[joint]]\nid = "rest"\nkind = "housing"\nparts = ["board"]\nat = {at}\nwidth = 18\ndepth = 6\n'
    '[[joint]]\nid = "panel"\nkind = "edge-to-edge"\nparts = ["board"]\nboards = 4\n'
)


@pytest.mark.parametrize("at", range(5, 380, 25))
def test_slots_of_a_panel_move_aside_for_a_housing(job, at):
    """As many as without it, wherever it crosses the boards, and as far apart and from the ends as the shop asks."""
    made = derive(job(PANEL.format(at=[at])))
    assert min(gaps(made)) >= WALL - 0.01
    (plunge,) = [op for op in made.operations if op.kind == "plunge" and "far" not in op.surface]
    places = [cut.mouth[0] for cut in plunge.cuts]
    assert len(places) == 6
    assert all(b - a >= plunge.cuts[0].length + 10 for a, b in pairwise(places))  # the least spacing is 10 mm


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize(
    ("thick", "on", "slips", "moves"),
    [
        ((30, 30), "face", "", True),
        ((18, 30), "face", "", True),  # 9 from the flush faces: the slots from 6, the housing to 10
        ((18, 30), "back", "", False),  # the slots to 12 from the faces, the housing from 20 on
        ((30, 18), "back", "", True),  # the slots to 12 from the faces, the housing from 8 on
        ((40, 40), "back", "height = 30", True),
        ((40, 40), "face", "height = 30", False),
        ((40, 40), "back", "height = 20", False),  # slots 12 wide: 4 mm behind them
    ],
)
def test_slots_of_a_panel_move_aside_where_a_housing_crosses_them(job, thick, on, slips, moves, turned):
    """In whichever board it lies, however thick that is, and at whatever height the slots are: a housing from 91 to 109
    in the second board, slots 34 long for slips of 32, a wall of 3. So none may have its middle between 71 and 129;
    eight in 600 mm would have the second at 112.5."""
    boards = "".join(
        f'[[part]]\nid = "{name}"\nlength = 600\nwidth = 120\nthickness = {size}\n'
        for name, size in zip("ab", thick, strict=True)
    )
    made = derive(
        job(
            f'{boards}[[joint]]\nid = "panel"\nkind = "edge-to-edge"\nparts = {["b", "a"] if turned else ["a", "b"]}\n'
            f'slips = {{ {slips} }}\n[[joint]]\nid = "shelf"\nkind = "housing"\nparts = ["b"]\non = "{on}"\n'
            "at = [91]\nwidth = 18\ndepth = 10\n"
        )
    )
    plunged = [op for op in made.operations if op.kind == "plunge"]
    assert len(plunged) == 2
    for op in plunged:
        places = [cut.mouth[0] for cut in op.cuts]
        assert len(places) == 8
        assert (112.5 in places) == (not moves)
        assert not moves or all(place <= 71 or place >= 129 for place in places)
    assert min(gaps(made)) >= WALL - 0.01


def test_slots_that_cannot_move_aside_are_refused(job):
    """Three housings leave no room for six slots; the way out that is told passes: away from the back."""
    panel = PANEL.format(at=[100, 200, 300])
    with pytest.raises(InputError) as refused:
        derive(job(panel))
    assert 'the slots in board run into the housing "rest"' in str(refused.value)
    assert "slips.height" in str(refused.value)
    assert min(gaps(derive(job(panel + "slips = { height = 6 }\n")))) >= WALL - 0.01
    with pytest.raises(InputError):  # nor do those that the job places itself
        derive(job(PANEL.format(at=[50]) + "slips = { at = [50, 150, 250, 350] }\n"))


@pytest.mark.parametrize("more", ["", "slips = { count = 6, depths = [19, 19] }\n"])
def test_smaller_slips_that_are_told_keep_clear(job, refused, more):
    """The next narrower ones leave six slots their places between three housings; shorter ones do not."""
    panel = PANEL.format(at=[100, 200, 300])
    (fault,) = refused(panel + more)
    told = fault.accepted.split(", other places")[0]
    assert told == "slips 6 mm × 26 mm × 36 mm, 19 mm and 19 mm deep"
    assert {26, 32} <= {*job(panel).shop.joinery.slip_widths}
    made = derive(job(panel + "slips = { thickness = 6, width = 26, length = 36 }\n"))
    assert min(gaps(made)) >= WALL - 0.01
    assert {slot.depth for op in made.operations for slot in op.cuts if isinstance(slot, Slot)} == {19}
    refused(panel + "slips = { thickness = 6, width = 32, length = 25 }\n")


@pytest.mark.parametrize("seed", range(30))
def test_places_are_least_away_in_sum(seed):
    """Of all ways to choose so many free places so far apart."""
    rng = Random(seed)
    free = sorted(rng.sample(range(60), 12))
    wanted, apart_by = sorted(rng.sample(range(60), 3)), rng.randint(2, 16)
    fitting = [
        sum(abs(place - want) for place, want in zip(places, wanted, strict=True))
        for places in combinations(free, 3)
        if all(b - a >= apart_by for a, b in pairwise(places))
    ]
    found = _spaced(wanted, free, apart_by)
    assert bool(found) == bool(fitting)
    if found:
        assert all(b - a >= apart_by for a, b in pairwise(found))
        assert sum(abs(place - want) for place, want in zip(found, wanted, strict=True)) == min(fitting)


def test_slots_of_two_joints_too_near_each_other_are_refused(job):
    """A shelf's mortises in the face of a side run into those in its end, all where their maker wants them: with the
    figure and the two joints."""
    with pytest.raises(InputError) as refused:
        derive(
            job(
                '[[part]]\nid = "shelf"\nquantity = 4\nlength = 164\nwidth = 120\nthickness = 18\n'
                + SIDE.replace("thickness = 16", "thickness = 18")
                + "slips = { at = [30, 90], thickness = 6, length = 16 }\n"
                + '[[joint]]\nid = "shelf"\nkind = "end-to-face"\nparts = ["shelf", "side"]\nat = [16, 166]\n'
                + "slips = { at = [30, 90], depths = [19, 15] }\n"
            )
        )
    said = str(refused.value)
    assert "of wood would be left in side, between the slots of" in said
    assert "shop minimum 3 mm" in said


def board(part, cuts):
    """A part's board as sawing leaves it, in the solid modeller."""
    body = Manifold.cube([part.length, part.width, part.thickness])
    for cut in cuts:
        normal = [-x for x in cut.normal]
        body = body.trim_by_plane(normal, sum(n * p for n, p in zip(normal, cut.point, strict=True)))
    return body


@pytest.mark.parametrize("seed", range(30))
def test_what_is_left_of_slots_and_trenches_keeps_apart(job, seed):
    """Of jobs drawn at random that are accepted: cut out of the sawn boards, they keep the least wall, or the trench is
    open to the slots' mouth, which the board keeps, and so much of these is deeper as holds a slip and glue.
    """
    rng = Random(seed)
    thick, wide = rng.choice((16, 18, 20, 24)), rng.choice((80, 120, 160))
    sizes = f"width = {wide}\nthickness = {thick}\n"
    shape = rng.choice(
        (
            'parts = ["side"]\nkind = "case-mitre"\n',
            'parts = ["side"]\nkind = "frame-mitre"\n',
            'parts = ["side"]\nkind = "edge-to-edge"\nboards = 4\n',
        )
    )
    kind, on = rng.choice((("housing", "back"), ("groove", "back"), ("groove", "edge"), ("rebate", "back")))
    place = {"housing": f"at = [{rng.randint(2, 60)}]\n", "groove": f"from = {rng.randint(0, thick - 6)}\n"}
    text = (
        f'[[part]]\nid = "side"\nquantity = 4\nlength = 400\n{sizes}[[joint]]\nid = "joint"\n{shape}'
        f'[[joint]]\nid = "cut"\nkind = "{kind}"\non = "{on}"\nparts = ["side"]\nwidth = 6\n'
        f"depth = {rng.randint(2, thick // 2)}\n{place.get(kind, '')}"
    )
    loaded = job(text)
    try:
        made = derive(loaded)
    except (InputError, NoOrderError) as told:
        refused = str(told)
        assert '"cut"' in refused
        return
    cuts = [cut for op in made.operations for cut in op.cuts]
    whole = board(loaded.parts[0], [cut for cut in cuts if isinstance(cut, PlaneCut)])
    for slot in (cut for cut in cuts if isinstance(cut, Slot)):
        for trench in (cut for cut in cuts if isinstance(cut, Trench)):
            size = [h - low for low, h in zip(trench.low, trench.high, strict=True)]
            box = Manifold.cube(size).translate(trench.low) ^ whole
            out = solid(SlotSolid.of(slot))
            if (out ^ whole).min_gap(box, 500) >= WALL - 0.05:
                continue
            assert (out - whole).volume() < 0.01  # the mouth is kept
            corners = box.to_mesh().vert_properties[:, :3] - np.array(slot.mouth)
            reach = corners @ np.array(slot.axis)
            assert reach.min() < 0.01  # open to the surface of the mouth
            assert slot.depth - reach.max() >= 4.0 + 1.0 - 0.01


STAVES = """[[part]]
id = "st"
quantity = 8
length = 400
width = 70
thickness = 25
stock = "sized"
[[joint]]
id = "column"
kind = "stave"
parts = ["st"]
"""


def between_edges(worklist):
    """Wood between the slots in one bevel of a stave and those in the other, mm, by the solid modeller."""
    one, other = (
        [solid(SlotSolid.of(cut)) for cut in op.cuts if isinstance(cut, Slot)]
        for op in worklist.operations
        if op.kind == "plunge"
    )
    return min(a.min_gap(b, 500) for a in one for b in other)


def test_slips_chosen_are_the_longest_whose_slots_keep_clear_of_the_other_edge(job, refused):
    """Asked for the next longer one, the job is refused with what would be left; the one chosen leaves enough."""
    made = derive(job(STAVES))
    assert between_edges(made) >= WALL - 0.01
    (length,) = {meeting.slip.length for meeting in made.meetings}
    sizes = job(STAVES).shop.joinery.slip_lengths
    longer = min(size for size in sizes if size > length)
    assert longer <= 7 * 8  # it is not the proportion to the 8 mm cutter that stops it
    (fault,) = refused(STAVES + f"slips = {{ length = {longer} }}")
    assert "of wood would be left in st, between the slots of column" in fault.message
    assert fault.where == 'joint "column", slips'


def lipped(boards, lips, spare=0):
    """A panel of lips 12 mm wide and cores."""
    return (
        '[[part]]\nid = "core"\nquantity = 2\nlength = 600\nwidth = 400\nthickness = 18\nstock = "sheet"\n'
        f'[[part]]\nid = "lip"\nquantity = {lips}\nspare = {spare}\nlength = 600\nwidth = 12\nthickness = 18\n'
        f'stock = "sized"\n[[joint]]\nid = "panel"\nkind = "edge-to-edge"\nparts = {boards}\n'
    ).replace("'", '"')


def test_the_lips_at_both_ends_of_a_panel_have_slots_in_one_edge_each(job):
    """A lip's one slot needs no more than a wall, wherever its fellow at the other end of the panel has its own."""
    made = derive(job(lipped(["lip", "core", "lip"], 4)))
    edges = {
        (op.surface, op.quantity) for op in made.operations if op.kind == "plunge" and op.parts == ("lip",)
    }
    assert edges == {("lip/far edge", 2), ("lip/edge", 2)}
    deepest = max(
        cut.depth for op in made.operations for cut in op.cuts if isinstance(cut, Slot) and cut.part == "lip"
    )
    assert (12 - WALL) / 2 < deepest <= 12 - WALL


@pytest.mark.parametrize(
    ("boards", "lips", "spare"), [(["core", "lip"], 2, 0), (["lip", "core", "lip"], 4, 1)]
)
def test_a_lip_that_may_have_slots_in_both_edges_keeps_the_wall_between_them(refused, boards, lips, spare):
    """As an inner board, or a spare that must serve at both ends: two slots 6 deep at least leave nothing of 12."""
    text = lipped(boards, lips, spare) + ("boards = 4\n" if len(boards) == 2 else "")
    (fault,) = refused(text)
    assert "of wood would be left in lip, between the slots of panel (" in fault.message


@pytest.mark.parametrize("start", range(20, 130, 12))
def test_slots_in_a_mitre_of_a_flat_frame_keep_clear_of_a_groove(job, start):
    """They go in at 45 degrees to it, and come nearer as they deepen."""
    text = (
        '[[part]]\nid = "side"\nquantity = 4\nlength = 500\nwidth = 150\nthickness = 20\n'
        '[[joint]]\nid = "frame"\nkind = "frame-mitre"\nparts = ["side"]\n'
        f'[[joint]]\nid = "g"\nkind = "groove"\nparts = ["side"]\nfrom = {start}\nwidth = 6\ndepth = 7\n'
    )
    assert min(gaps(derive(job(text)))) >= WALL - 0.01


def test_a_row_that_is_not_in_the_middle_of_its_wood_stays_within_it(job):
    """Slots of 32 in the 200 mm of a rail, 10 from its ends, lie at 26 to 174. One at 60 and one at 170, where 150 to
    180 is barred, stay alike from both ends of their row at 80 and 150, not at 50 and 180; a row that is not alike from
    both its ends has no such places."""
    text = '[[part]]\nid = "rail"\nlength = 400\nwidth = 200\nthickness = 20\n'
    each = job(
        text + '[[joint]]\nid = "g"\nkind = "groove"\nparts = ["rail"]\nfrom = 92\nwidth = 8\ndepth = 4\n'
    )
    seat = rail_seat(Body.of(each.parts[0], ()), "left end")
    row = SlotRow(Floor(each), (Pair(seat, seat, 10.0, 0.0, 20.0),), 10.0)
    assert row.aside_alike((60.0, 170.0), 32.0, [(150.0, 180.0)]) == (80.0, 150.0)
    assert row.aside_alike((24.0, 68.0, 125.0, 174.0), 28.0, [(60.0, 70.0)]) == ()
