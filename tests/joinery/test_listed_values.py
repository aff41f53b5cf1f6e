"""Settings of which the shop lists all values there are, and which are not chosen among these."""

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


def test_a_fence_height_that_is_not_listed_is_told_with_what_moves_it(job):
    """Slots in the middle of 20 mm lie at 10; asked for at one of the places, they are made there."""
    text = FRAME.format(stock="sized")
    ((message, accepted),) = faults(job, text, "mortiser", "fence_height", 8.0, 12.0)
    assert message == "fence height 10 mm is none of the plunge mortiser's values"
    assert accepted == "8 mm, 12 mm (slips.height of a joint tells how high its slots lie)"
    made = derive(listing(job, text + "slips = { height = 12 }\n", "mortiser", "fence_height", 8.0, 12.0))
    assert asked(made, "plunge", "fence_height") == [12.0, 12.0]


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
