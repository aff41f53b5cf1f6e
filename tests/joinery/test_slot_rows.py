"""Which of the rows that hold are taken: where in the thickness, and by what surface their slips have."""

import pytest

from sequencer.joinery import derive
from sequencer.operations import Slot
from tests.joinery.test_listed_depths import listing

FRAME = """[[part]]
id = "front"
quantity = 2
length = 500
width = {width}
thickness = {thickness}
[[part]]
id = "side"
quantity = 2
length = 400
width = {width}
thickness = {thickness}
[[joint]]
id = "mitre"
kind = "frame-mitre"
parts = ["front", "side"]
"""


def groove(edge, start, depth, width=6):
    return (
        f'[[joint]]\nid = "g{start}"\nkind = "groove"\nparts = ["front", "side"]\non = "back"\n'
        f'beside = "{edge}"\nfrom = {start}\nwidth = {width}\ndepth = {depth}\n'
    )


def rows(worklist):
    """How high the middles of the slots lie in the thickness, where along their rows, and their slips: thickness, width
    and length."""
    slots = [cut for op in worklist.operations for cut in op.cuts if isinstance(cut, Slot)]
    slips = {(m.slip.thickness, m.slip.width, m.slip.length, m.slips) for m in worklist.meetings}
    return {slot.mouth[2] for slot in slots}, {round(slot.mouth[1], 6) for slot in slots}, slips


@pytest.mark.parametrize("start", [20, 26.1, 40, 60])
def test_a_groove_that_slots_in_the_middle_pass_does_not_move_them(job, start):
    """Slots 8 thick in the middle of 25 mm leave 8.5 to the back, 6.5 of them to a groove 2 deep. Nearer to the back
    it would be in the way, and leave room for fewer slots, which may be longer away from the tip: that is no reason to
    go there."""
    frame = FRAME.format(width=120, thickness=25)
    assert rows(derive(job(frame + groove("far edge", start, 2)))) == rows(derive(job(frame)))
    assert rows(derive(job(frame)))[0] == {12.5}


def test_a_row_leaves_the_middle_where_the_middle_holds_none(job):
    """Stock of 20 mm with slots 6 thick in its middle: the face is grooved 6 deep, 1 mm from them, all over but for 14
    mm along the edges, which take no slip of 15 and its play with 3 mm of wood beside. Two mm farther in they keep 3 mm
    to the grooves."""
    frame = FRAME.format(width=60, thickness=20)
    grooved = groove("edge", 14, 6, width=32).replace('"back"', '"face"')
    heights, _, _ = rows(derive(job(frame + grooved)))
    assert heights == {8.0}


def test_two_long_slips_away_from_the_tip_hold_more_than_three_stubs(job):
    """A groove 30 from the edge parts the row; three slips of 18 over both stretches would be 12 long, for the one near
    the tip, and have 648 mm² on each side; two of 22 behind the groove are 32 long, and have 1408."""
    made = derive(job(FRAME.format(width=100, thickness=12) + groove("edge", 30, 3)))
    _, places, slips = rows(made)
    ((_, width, length, _),) = slips
    assert (width, length) == (22, 32)
    assert len(places) == 2
    assert min(places) > 36


def test_a_row_leaves_the_middle_where_a_hair_higher_holds_far_more(job):
    """A face groove 5 deep leaves slots 8 thick in the middle of 22 mm 2 of the 3 mm of wood between them, so that one
    slip of 15 is all that goes beside it; 1 mm higher it is out of the way, and two of 22 go in."""
    face = groove("edge", 35, 5, width=10).replace('"back"', '"face"')
    rebate = '[[joint]]\nid = "r"\nkind = "rebate"\nparts = ["front", "side"]\non = "back"\nbeside = "edge"\n'
    made = derive(job(FRAME.format(width=80, thickness=22) + face + rebate + "width = 8\ndepth = 7\n"))
    heights, _, slips = rows(made)
    assert heights == {22.0 - 12.0}  # from the back
    assert {slip[:3] for slip in slips} == {(8, 22, 56)}


def test_the_longest_of_slips_that_go_in_the_same_place_is_taken(job):
    """The mortiser plunges 10 and 20 deep only: slots 20 deep hold slips of 32 and of 36 with 1 mm of glue room, in the
    very same place beside a groove of the edge that leaves room for one."""
    edge = groove("face", 10.5, 20, width=5).replace('"back"', '"edge"')
    made = derive(listing(job, FRAME.format(width=60, thickness=25) + edge, 10, 20))
    _, _, slips = rows(made)
    assert {slip[:3] for slip in slips} == {(8, 18, 36)}


RAIL = """[[part]]
id = "stile"
quantity = 2
length = 400
width = 60
thickness = 20
[[part]]
id = "rail"
length = 200
width = {width}
thickness = 20
[[joint]]
id = "frame"
kind = "end-to-edge"
parts = ["rail", "stile"]
at = [{at}]
[[joint]]
id = "panel"
kind = "groove"
parts = ["rail"]
on = "far edge"
beside = "face"
from = 7
width = 6
depth = 8
"""


@pytest.mark.parametrize(("width", "slip"), [(45, 18), (50, 26), (60, 22)])
def test_a_rail_grooved_in_one_edge_has_its_slips_in_the_middle_of_its_stile(job, width, slip):
    """The stiles are alike, so that the row is the same from both ends: 8 mm off the other edge are no use either. Of
    60 mm 44 are left, of which slots of 22 and their play leave 10 at each end; 34 mm take none so, and one of 26 and
    its play leaves 3 mm of wood to the groove, as one of 18 does of 29 mm."""
    made = derive(job(RAIL.format(width=width, at=200 - width / 2)))
    slots = {
        cut.mouth[1]
        for op in made.operations
        for cut in op.cuts
        if isinstance(cut, Slot) and cut.part == "rail"
    }
    assert slots == {width / 2}
    assert {meeting.slip.width for meeting in made.meetings} == {slip}


def test_a_rail_grooved_in_one_edge_elsewhere_on_its_stile_has_its_slips_beside_the_groove(job):
    """Of 60 mm 52 are left, and one end of the rail alone is joined."""
    text = RAIL.format(width=60, at=40).replace("quantity = 2\n", "")
    made = derive(job(text.replace("at = [40]", 'at = [40]\nends = ["left end"]')))
    slots = {
        cut.mouth[1]
        for op in made.operations
        for cut in op.cuts
        if isinstance(cut, Slot) and cut.part == "rail"
    }
    assert slots == {26}
