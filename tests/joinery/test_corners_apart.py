"""Corners of a ring that cannot be placed alike: each is placed by itself, but never two unlike rows at one end."""

import pytest

from sequencer.joinery import derive
from sequencer.operations import Slot


def board(id, length, width, thickness, quantity=1):
    """A sized board in the job file."""
    return (
        f'[[part]]\nid = "{id}"\nlength = {length}\nwidth = {width}\nthickness = {thickness}\n'
        f'quantity = {quantity}\nstock = "sized"\n'
    )


HOUSE = "".join(
    board(id, length, 150, 16)
    for id, length in (
        ("base", 400),
        ("right", 200),
        ("roof", 230.94),
        ("eaves", 230.94),
        ("left", 200),
    )
)
FIVE = (
    '[[joint]]\nid = "h"\nkind = "splayed"\nslope = 90\ncorners = [90, 120, 120, 120, 90]\n'
    'slips = { length = 10 }\nparts = ["base", "right", "roof", "eaves", "left"]\n'
)
BOX = board("front", 400, 200, 20) + board("side", 300, 200, 20, 2) + board("back", 400, 200, 20)
GROOVES = "".join(
    f'[[joint]]\nid = "{part} groove"\nkind = "groove"\nparts = ["{part}"]\nfrom = {start}\nwidth = 95\ndepth = 12\n'
    for part, start in (("front", 0), ("back", 105))
)


def case(parts, slips):
    """Bevelled corners of four boards."""
    names = ", ".join(f'"{part}"' for part in parts)
    return (
        '[[joint]]\nid = "c"\nkind = "case-mitre"\nways = ["bevel-first"]\n'
        f"parts = [{names}]\nslips = {{ {slips} }}\n"
    )


def plunged(worklist):
    """The plunge operations by id."""
    return {op.id: op for op in worklist.operations if op.kind == "plunge"}


def test_the_mates_of_each_corner_are_those_that_meet_there(job):
    """Corners of 90 and 120 degrees have the fence at 45 and 60: mates are what is plunged for one and the same."""
    worklist = derive(job(HOUSE + FIVE))
    plunges = plunged(worklist)
    assert len(plunges) == 10
    mates = [set(group.operations) for group in worklist.mates if set(group.operations) <= plunges.keys()]
    met = [{meeting.first.operation, meeting.second.operation} for meeting in worklist.meetings]
    assert sorted(map(sorted, mates)) == sorted(map(sorted, met))
    angles = [{plunges[id].settings["fence_angle"] for id in group} for group in mates]
    assert sorted(map(sorted, angles)) == [[45.0], [45.0], [60.0], [60.0], [60.0]]


def test_pieces_that_would_need_unlike_rows_at_one_end_are_two_parts(job, refused):
    """The grooves, too deep for slots to open in, leave the upper half of the front and the lower half of the back: no
    row serves both."""
    (fault,) = refused(BOX + GROOVES + case(["front", "side", "back", "side"], "width = 32, count = 1"))
    assert fault.message == (
        "side needs slots in other places where it meets front than where it meets back, and its pieces are alike"
    )
    assert 'joint "c", parts' in fault.where
    assert fault.accepted == "a part of its own for each place of side in the ring"
    apart = BOX.replace("quantity = 2", "quantity = 1") + board("left", 300, 200, 20)
    worklist = derive(job(apart + GROOVES + case(["front", "side", "back", "left"], "width = 32, count = 1")))
    rows = {
        meeting.first.operation: [slot.mouth[1] for slot in plunged(worklist)[meeting.first.operation].cuts]
        for meeting in worklist.meetings
    }
    assert len(rows) == 4  # front to side, side to back, back to left, left to front
    assert sorted(y > 100 for (y,) in rows.values()) == [False, False, True, True]


@pytest.mark.parametrize("corners", ["[90, 150]", "[120, 120]"])
def test_each_end_of_a_repeated_part_has_one_row(job, corners):
    """Three pieces of one part stand between three others, each of its ends at one angle only: a piece has as many
    slots at each end as its corner has slips, whichever place in the ring it takes."""
    parts = "".join(board(id, 300, 150, 16) for id in ("one", "two", "three")) + board(
        "side", 250, 150, 16, 3
    )
    text = '[[joint]]\nid = "c"\nkind = "splayed"\nslope = 90\n'
    text += 'parts = ["one", "side", "two", "side", "three", "side"]\n'
    inside = ", ".join([corners[1:-1]] * 3)
    worklist = derive(job(parts + f"{text}corners = [{inside}]\nslips = {{ length = 10, count = 2 }}\n"))
    slots = [cut for op in plunged(worklist).values() for cut in op.cuts if isinstance(cut, Slot)]
    for part in ("one", "two", "three", "side"):
        assert sum(slot.part == part for slot in slots) == 2 * 2
    assert sum(meeting.times * meeting.slips for meeting in worklist.meetings) == 6 * 2


UNLIKE = (
    '[[part]]\nid = "a"\nquantity = 2\nlength = 400\nwidth = 100\nthickness = {thickness}\n'
    '[[part]]\nid = "b"\nquantity = 2\nlength = 400\nwidth = 100\nthickness = {thickness}\n'
    '[[joint]]\nid = "c"\nkind = "splayed"\nparts = ["a", "b"]\ncorners = {corners}\nslope = {slope}\n'
)


@pytest.mark.parametrize(
    ("thickness", "works"),
    [
        # the bevels are 16 / cos of 59 and of 29 degrees: 31 and 18 mm wide, and what is deep enough in the wider ones
        # lies beyond the narrower
        (16, "no slips asked for, so that each corner has its own"),
        # 39 and 23 mm: slips of 8 go in both within half the narrower, but for the walls beside them
        (20, "slips 5 mm × 32 mm × 8 mm, 5 mm and 5 mm deep, slips.height 16.5 mm"),
    ],
)
def test_what_works_goes_in_all_corners(refused, thickness, works):
    text = UNLIKE.format(thickness=thickness, corners="[60, 120, 60, 120]", slope=80)
    (fault,) = refused(text + "slips = { at = [20], depths = [14, 14] }\n")
    assert fault.accepted.startswith(works)
