"""A mortiser whose depth stop has but some places: they are the only depths there are."""

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
stock = "sized"
[[part]]
id = "stile"
quantity = 2
length = 700
width = 70
thickness = 20
stock = "sized"
[[joint]]
id = "rails"
kind = "end-to-edge"
parts = ["rail", "stile"]
at = [0, 630]
"""
BOX = FRAME.partition('[[part]]\nid = "stile')[0].replace("quantity = 2", "quantity = 4") + (
    '[[joint]]\nid = "rails"\nkind = "case-mitre"\nparts = ["rail"]\n'
)


def listing(job, text, *depths):
    """The job of a text in a shop whose mortiser plunges to these depths only, mm."""
    loaded = job(text)
    listed = Setting(id="depth", measures="length", values=depths, reset=1.0, limits=Range())
    stations = tuple(
        station.model_copy(
            update={"settings": tuple(listed if each.id == "depth" else each for each in station.settings)}
        )
        for station in loaded.shop.stations
    )
    return loaded.model_copy(update={"shop": loaded.shop.model_copy(update={"stations": stations})})


def plunged(worklist):
    """Depths of the plunges of each part."""
    return sorted(op.settings["depth"] for op in worklist.operations if op.kind == "plunge")


@pytest.mark.parametrize(
    ("depths", "taken"),
    [
        # a slip and 1 mm of glue room in each half, of which the shop's habit makes 16: the next deeper place
        ((12.0, 18.0, 24.0), [18.0, 18.0]),
        ((12.0, 16.0, 24.0), [16.0, 16.0]),
        # two places, that hold it together
        ((14.0, 18.0), [14.0, 18.0]),
    ],
)
def test_depths_are_chosen_among_those_listed(job, depths, taken):
    """The least that hold slips as long as asked for, 30 mm."""
    text = FRAME + "slips = { thickness = 6, length = 30 }\n"
    assert plunged(derive(listing(job, text, *depths))) == taken


def test_a_corner_plunged_square_keeps_one_depth(job):
    """Square first both halves are as deep, so that the depth stop stays, among listed depths, too."""
    # the mitre takes 10 of both, a slip 8 long and 1 for glue need 15, a wall of 3 allows 17
    made = derive(listing(job, BOX + 'ways = ["square-first"]\n', 12.0, 16.0, 20.0))
    assert plunged(made) == [16.0, 16.0]


def test_a_depth_that_is_not_listed_is_none_of_them(job):
    """Told with the places there are, and at the key that asks for it."""
    with pytest.raises(InputError) as caught:
        derive(listing(job, FRAME + "slips = { depths = [15, 15] }\n", 12.0, 18.0, 24.0))
    (fault,) = caught.value.faults
    assert fault.message == "a mortise 15 mm deep is none of the mortiser's depths"
    assert fault.accepted == "12 mm, 18 mm, 24 mm"
    assert plunged(derive(listing(job, FRAME + "slips = { depths = [18, 12] }\n", 12.0, 18.0, 24.0)))


def test_where_no_place_serves_the_depths_are_told(job):
    """4 mm holds no slip: the shop's minimum of 4 and 1 for glue are more."""
    with pytest.raises(InputError) as caught:
        derive(listing(job, FRAME, 4.0))
    (fault,) = caught.value.faults
    assert fault.message.startswith("none of the mortiser's depths (4 mm) serves")
    assert '"depth" in the shop file' in fault.accepted
