"""Slots that come too near those of another joint move aside; figures from an independent solid modeller."""

from itertools import combinations, product

import pytest

from sequencer.diagnostics import InputError
from sequencer.geometry.slots import SlotSolid
from sequencer.joinery import derive
from sequencer.operations import Slot
from tests.geometry.test_slots import solid

WALL = 3.0
"""The least wall of the examples' shop, mm."""


def part(name, length, width, thickness, quantity=1):
    return (
        f'[[part]]\nid = "{name}"\nlength = {length}\nwidth = {width}\nthickness = {thickness}\n'
        f"quantity = {quantity}\n"
    )


def shelf(name, on, slips="", wide=300):
    """A shelf on one side of a divider, its place the same as that of the shelf on the other side."""
    ends = "left end" if on == "back" else "right end"  # so that both have their reference edge on one side
    return part(name, 400, wide, 18) + (
        f'[[joint]]\nid = "{name}"\nkind = "end-to-face"\nparts = ["{name}", "divider"]\nat = [300]\n'
        f'on = ["{on}"]\nends = ["{ends}"]\nslips = {{ {slips} }}\n'
    )


def divided(one="", other="", wide=300):
    return (
        part("divider", 700, wide, 20) + shelf("one", "back", one, wide) + shelf("other", "face", other, wide)
    )


def slots(worklist, name="", joint=""):
    return [
        cut
        for op in worklist.operations
        for cut in op.cuts
        if isinstance(cut, Slot) and name in ("", cut.part) and joint in ("", cut.joint)
    ]


def least(found):
    return min(solid(SlotSolid.of(a)).min_gap(solid(SlotSolid.of(b)), 500) for a, b in combinations(found, 2))


def across(worklist, name, joint=""):
    """How far the slots of a joint in a part are from its reference edge."""
    return sorted({round(slot.mouth[1], 6) for slot in slots(worklist, name, joint)})


def test_shelves_on_both_sides_of_a_divider_are_staggered(job):
    """The first as without the other, the second's between its slots: 41 mm from one to the next for 34 and two walls.
    Both halves agree, and the row stays the same from both ends.
    """
    made = derive(job(divided()))
    alone = derive(job(part("divider", 700, 300, 20) + shelf("one", "back")))
    assert across(made, "divider", "one") == across(alone, "divider", "one") == [37.5, 112.5, 187.5, 262.5]
    moved = across(made, "divider", "other")
    assert moved == across(made, "other") == [300 - place for place in reversed(moved)]
    assert len(moved) == 3
    assert least(slots(made, "divider")) >= WALL - 0.01
    assert {slot.depth for slot in slots(made, "divider")} == {17.0}


def test_slots_move_by_as_little_as_need_be(job):
    """Of the same joint with room for its slots, 10 mm and more from the ends: any nearer places leave no wall."""
    one = "at = [60], count = 1, width = 32"
    made = derive(job(divided(one, "count = 2, width = 32")))
    places = across(made, "divider", "other")
    assert places == across(made, "other")
    assert places[0] + places[1] == 300
    wanted = across(
        derive(job(part("divider", 700, 300, 20) + shelf("other", "face", "count = 2"))), "divider"
    )
    assert wanted == [75, 225]
    assert least(slots(made, "divider")) >= WALL - 0.01
    (near,) = slots(made, "divider", "one")
    (mine,) = [slot for slot in slots(made, "divider", "other") if slot.mouth[1] < 150]
    nearer = mine.model_copy(update={"mouth": (mine.mouth[0], mine.mouth[1] - 0.5, mine.mouth[2])})
    assert mine.mouth[1] > 75
    assert least([near, mine]) >= WALL - 0.01 > least([near, nearer])


def test_a_row_that_cannot_stay_the_same_from_both_ends_moves_to_one_side(job):
    """One slip: nothing asks that it be in the middle. Slots 17 long and 3 apart have centres 20 apart."""
    made = derive(job(divided("at = [45], width = 15", "count = 1, width = 15", wide=90)))
    assert across(made, "divider", "one") == [45]
    (place,) = across(made, "divider", "other")
    assert abs(place - 45) == 20
    assert across(made, "other") == [place]


def test_what_its_maker_fixed_stays_and_the_other_moves(job):
    """Though the joint that is fixed comes later in the file."""
    fixed = "at = [37.5, 112.5, 187.5, 262.5]"
    made = derive(job(divided("", fixed)))
    assert across(made, "divider", "other") == [37.5, 112.5, 187.5, 262.5]
    assert across(made, "divider", "one") == across(made, "one")
    assert least(slots(made, "divider")) >= WALL - 0.01


def test_what_is_fixed_in_both_is_refused_and_what_is_told_works(job, refused):
    """Slots at the same places, as deep: with the centres that keep clear."""
    text = divided("at = [37.5, 112.5], depths = [21, 17]", "at = [37.5, 112.5], depths = [21, 17]")
    (fault,) = refused(text)
    assert fault.where == 'joint "other", slips'
    assert (
        "of wood would be left in divider, between the slots of one (back) and the slots of other (face)"
        in (fault.message)
    )
    assert fault.accepted.startswith("slips 6 mm × 32 mm × 36 mm, 21 mm and 17 mm deep")
    told = fault.accepted.split("centres at ")[1].replace(" mm", "")
    made = derive(
        job(divided("at = [37.5, 112.5], depths = [21, 17]", f"at = [{told}], depths = [21, 17], width = 32"))
    )
    assert least(slots(made, "divider")) >= WALL - 0.01


def test_where_nothing_gives_way_shorter_slips_of_the_other_joint_are_told_and_work(job, refused):
    """50 mm of joint and one slip in each: only depth is left to share."""
    (fault,) = refused(divided(wide=50))
    assert fault.accepted == 'shorter slips in "one": slips.length 20 mm'
    made = derive(job(divided("length = 20", wide=50)))
    assert least(slots(made, "divider")) >= WALL - 0.01
    with pytest.raises(InputError):
        derive(job(divided("length = 25", wide=50)))


def test_rails_in_the_middle_of_their_stiles_stay_centred(job):
    """The two stiles are one part only then: their rows move away from a foot's slots alike to both sides."""
    text = part("stile", 600, 60, 20, 2) + part("rail", 300, 100, 20) + part("foot", 160, 60, 20, 2)
    text += (
        '[[joint]]\nid = "foot"\nkind = "end-to-face"\nparts = ["foot", "stile"]\nat = [272]\nends = ["left end"]\n'
        'slips = { depths = [19, 15] }\n[[joint]]\nid = "frame"\nkind = "end-to-edge"\nparts = ["rail", "stile"]\n'
        "at = [250]\nslips = { count = 2, length = 56 }\n"
    )
    made = derive(job(text))
    along = sorted({round(slot.mouth[0], 6) for slot in slots(made, "stile", "frame")})
    assert along[0] + along[1] == 600
    assert [place - 250 for place in along] == across(made, "rail")
    assert all(
        solid(SlotSolid.of(a)).min_gap(solid(SlotSolid.of(b)), 500) >= WALL - 0.01
        for a, b in product(slots(made, "stile", "frame"), slots(made, "stile", "foot"))
    )
