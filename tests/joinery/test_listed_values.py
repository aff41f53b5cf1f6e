"""Settings of which the shop lists all values there are: which are chosen among these, and which are not."""

import pytest

from sequencer.diagnostics import InputError
from sequencer.joinery import derive
from sequencer.model.shop import Range, Setting

FRAME = """
[[part]]
id = "rail"
quantity = 2
length = 300
width = 70
thickness = 20
stock = "{stock}"
[[part]]
id = "stile"
quantity = 2
length = 700
width = 70
thickness = 20
stock = "{stock}"
[[joint]]
id = "rails"
kind = "end-to-edge"
parts = ["rail", "stile"]
at = [0, 630]
"""


def listing(job, text, station, setting, *values):
    """The job of a text in a shop where a setting has these values only, mm."""
    loaded = job(text)
    listed = Setting(id=setting, measures="length", values=values, reset=1.0, limits=Range())
    stations = tuple(
        each.model_copy(
            update={"settings": tuple(listed if one.id == setting else one for one in each.settings)}
        )
        if each.id == station
        else each
        for each in loaded.shop.stations
    )
    return loaded.model_copy(update={"shop": loaded.shop.model_copy(update={"stations": stations})})


def faults(job, *args):
    """What such a job is refused for."""
    with pytest.raises(InputError) as caught:
        derive(listing(job, *args))
    return [(fault.message, fault.accepted) for fault in caught.value.faults]


def asked(made, kind, setting):
    """What operations of a kind ask of a setting."""
    return sorted(op.settings[setting] for op in made.operations if op.kind == kind)


@pytest.mark.parametrize(
    ("values", "taken"),
    [
        ((8.0, 13.0), 8.0),  # the nearest to the middle
        ((8.0, 12.0), 12.0),  # of two as near the one toward the inside
        ((5.0, 14.0), 14.0),  # 5 and half a slot of 6 leave 2 of wood, the shop's least is 3
        ((8.0, 10.02), 10.02),  # however near to the middle
    ],
)
def test_a_fence_height_is_chosen_among_those_listed(job, values, taken):
    """Slots in the middle of 20 mm lie at 10."""
    made = derive(listing(job, FRAME.format(stock="sized"), "mortiser", "fence_height", *values))
    assert asked(made, "plunge", "fence_height") == [taken, taken]
    for op in made.operations:
        if op.kind == "plunge":
            assert {round(20 - slot.mouth[2], 6) for slot in op.cuts} == {taken}


def test_a_listed_reading_is_that_of_a_tilted_fence_s_scale(job):
    """At 45 degrees slots lie 4 - (4 - 6 cos 45) / sin 45 = 4.343 mm farther from the sharp edge than the scale says:
    in the middle of 18 mm, at 12.73, it reads 8.38; at the listed 10 they lie 14.343 along the bevel, that by the sine
    of 45 below the face.
    """
    text = (
        '[[part]]\nid = "side"\nquantity = 4\nlength = 300\nwidth = 100\nthickness = 18\nstock = "sized"\n'
        '[[joint]]\nid = "c"\nkind = "case-mitre"\nways = ["bevel-first"]\nparts = ["side"]\n'
        "slips = { length = 10 }\n"
    )
    made = derive(listing(job, text, "mortiser", "fence_height", 6.0, 10.0))
    plunges = [op for op in made.operations if op.kind == "plunge"]
    assert plunges
    for op in plunges:
        assert op.settings["fence_height"] == 10.0
        assert {round(slot.mouth[2], 3) for slot in op.cuts} == {round(18 - 14.3431 * 0.70711, 3)}


def test_a_fence_height_that_is_not_listed_is_told_with_what_moves_it(job):
    """Slots in the middle of 20 mm lie at 10, and leave no wall at 2 or 19; asked for at one of the places, they are
    made there, elsewhere refused.
    """
    text = FRAME.format(stock="sized")
    ((message, accepted),) = faults(job, text, "mortiser", "fence_height", 2.0, 19.0)
    assert message == "fence height 10 mm is none of the plunge mortiser's values"
    assert accepted == "2 mm, 19 mm (slips.height of a joint tells how high its slots lie)"
    ((message, _),) = faults(job, text + "slips = { height = 11 }\n", "mortiser", "fence_height", 8.0, 12.0)
    assert message == "fence height 11 mm is none of the plunge mortiser's values"
    made = derive(listing(job, text + "slips = { height = 12 }\n", "mortiser", "fence_height", 8.0, 12.0))
    assert asked(made, "plunge", "fence_height") == [12.0, 12.0]


def test_what_is_held_in_the_middle_is_not_moved_to_a_listed_height(job):
    """A box plunged square, both mortises one depth, and a shelf whose sides are turned about."""
    box = (
        FRAME.format(stock="sized")
        .partition('[[part]]\nid = "stile')[0]
        .replace("quantity = 2", "quantity = 4")
    )
    box += '[[joint]]\nid = "c"\nkind = "case-mitre"\nways = ["square-first"]\nparts = ["rail"]\n'
    shelf = FRAME.format(stock="sized").replace("end-to-edge", "end-to-face").replace("[0, 630]", "[340]")
    shelf = shelf.replace("quantity = 2", "quantity = 1", 1)
    for text, height in ((box, 10), (shelf, 10)):
        ((message, _),) = faults(job, text, "mortiser", "fence_height", 8.0, 12.0)
        assert message == f"fence height {height} mm is none of the plunge mortiser's values"


def test_slips_go_by_the_slot_lengths_listed(job):
    """The widest of the shop's slips whose slots there are both: 26, and 2 mm longer in the slack half."""
    text = FRAME.format(stock="sized")
    made = derive(listing(job, text, "mortiser", "slot_length", 22.0, 26.0, 28.0, 32.0))
    assert asked(made, "plunge", "slot_length") == [26.0, 28.0]
    tight = derive(
        listing(job, text + 'slips = { slack = "none" }\n', "mortiser", "slot_length", 22.0, 26.0, 28.0, 32.0)
    )
    assert asked(tight, "plunge", "slot_length") == [32.0, 32.0]


def test_a_slot_length_that_is_not_listed_is_told_with_what_makes_it(job):
    """The slack half is 2 mm longer than the slip is wide, the other as long."""
    text = FRAME.format(stock="sized")
    ((message, accepted),) = faults(job, text, "mortiser", "slot_length", 30.0, 33.0)
    assert message == "slot length 32 mm is none of the plunge mortiser's values"
    assert accepted.startswith("30 mm, 33 mm (slots are as long as slips.width of their joint")
    narrower = text + "slips = { width = 30 }\n"
    made = derive(listing(job, narrower, "mortiser", "slot_length", 30.0, 32.0))
    assert asked(made, "plunge", "slot_length") == [30.0, 32.0]


def test_a_range_without_a_listed_value_is_refused(job):
    """A blade 3 to 8 mm above 20 mm of stock; with a place within that range the saw has what is asked for."""
    text = FRAME.format(stock="planed")
    told = faults(job, text, "saw", "height", 20.0, 29.0)
    assert set(told) == {
        (
            "none of the table saw's values of height lies from 23 mm to 28 mm; they are 20 mm, 29 mm",
            'a value in that range among the values of "height" in the shop file',
        )
    }
    for height in (23.0, 28.0):
        derive(listing(job, text, "saw", "height", 20.0, height))
