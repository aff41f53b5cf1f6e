"""What the shop file lacks: stations that are needed, known settings that a station has not."""

import pytest

from sequencer.diagnostics import InputError
from sequencer.joinery import derive, joint_report

BOX = """
[[part]]
id = "side"
quantity = 4
length = 200
width = 120
thickness = 16
stock = "{stock}"
[[joint]]
id = "corner"
kind = "{kind}"
parts = ["side"]
"""


def in_shop(job, text, change, **others):
    """The job of a text, its shop's stations changed by a function of each (None: left out)."""
    loaded = job(text, **others)
    stations = tuple(filter(None, map(change, loaded.shop.stations)))
    return loaded.model_copy(update={"shop": loaded.shop.model_copy(update={"stations": stations})})


def without(*ids):
    """A change that leaves stations out, or calls one otherwise: "saw=ts"."""
    named = dict(id.split("=") for id in ids if "=" in id)

    def change(station):
        if station.id in ids:
            return None
        role = named.get(station.id)
        return station.model_copy(update={"id": role[:2], "role": role}) if role else station

    return change


@pytest.mark.parametrize("kind", ["case-mitre", "frame-mitre"])
@pytest.mark.parametrize("from_work", [derive, joint_report])
def test_needed_stations_are_asked_for_before_ways_are_tried(job, kind, from_work):
    """One fault for each role that is not there, whatever joint needs it; it is a fault of the file (exit 2)."""
    loaded = in_shop(job, BOX.format(kind=kind, stock="sized"), without("saw", "mortiser"))
    with pytest.raises(InputError) as caught:
        from_work(loaded)
    assert [(fault.message, fault.accepted) for fault in caught.value.faults] == [
        (
            f'the shop has no {role}; its stations are "mill", "router", "bench"',
            f'a [[station]] with id or role "{role}" in the shop file',
        )
        for role in ("saw", "mortiser")
    ]


def test_stations_are_told_by_their_ids_with_their_roles(job):
    """The ids are what the shop file has; all that needs a station is named."""
    loaded = in_shop(job, BOX.format(kind="case-mitre", stock="planed"), without("saw=tablesaw"))
    with pytest.raises(InputError) as caught:
        derive(loaded)
    (fault,) = caught.value.faults
    assert 'its stations are "mill", "ta" (role "tablesaw"), "mortiser"' in fault.message
    assert 'which "side", "corner" cannot be made without' in fault.message


def test_without_a_mill_stock_that_needs_none_is_told(job):
    """Rough stock is the only one that is milled, and any of what is told does without."""
    with pytest.raises(InputError) as caught:
        derive(in_shop(job, BOX.format(kind="case-mitre", stock="rough"), without("mill")))
    (fault,) = caught.value.faults
    assert fault.accepted.endswith('or stock = "planed", "sheet" or "sized" for parts that are bought so')
    for stock in ("planed", "sheet", "sized"):
        derive(in_shop(job, BOX.format(kind="case-mitre", stock=stock), without("mill")))
