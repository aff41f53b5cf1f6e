"""What the shop file lacks: stations that are needed, known settings that a station has not."""

import csv
import io
import re

import pytest
from rich.console import Console

from sequencer import plan
from sequencer.cards.planbook import PlanBook
from sequencer.cards.setup_cards import cards
from sequencer.diagnostics import InputError
from sequencer.joinery import derive, joint_report
from sequencer.planfile import StationRecord
from sequencer.report.card_page import card_values
from sequencer.report.spreadsheet import write_csv
from sequencer.report.terminal import print_cards

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


def lacking(station, setting, called=""):
    """A change that takes a setting out of a station, or calls it otherwise."""

    def change(found):
        if found.id != station:
            return found
        kept = (
            each.model_copy(update={"id": called}) if each.id == setting else each
            for each in found.settings
            if called or each.id != setting
        )
        return found.model_copy(update={"settings": tuple(kept)})

    return change


def test_a_mortiser_without_fence_angle_stands_square(job):
    """What only a fence at 90 makes is left: the corner plunged square, sawn later; the other way is struck out."""
    made = derive(
        in_shop(job, BOX.format(kind="case-mitre", stock="sized"), lacking("mortiser", "fence_angle"))
    )
    (struck,) = made.struck_out
    assert struck.way == "bevel-first"
    assert "stands at fence angle 90° and cannot be set to 45°" in struck.why
    assert 'a [[station.setting]] with id "fence_angle" for "mortiser"' in struck.why
    assert not made.choices
    assert all(op.surface.endswith(("end", "back")) for op in made.operations if op.kind == "plunge")


# Angles of the trade: a mitred frame is sawn at 45 from square, a mitred case at a tilt of 45.


@pytest.mark.parametrize(
    ("kind", "station", "setting", "called", "stands", "wanted"),
    [
        ("frame-mitre", "saw", "gauge", "", "0°", "45°"),
        ("frame-mitre", "saw", "gauge", "mitre_gauge", "0°", "45°"),
        ("case-mitre", "saw", "tilt", "", "0°", "45°"),
        ("case-mitre", "saw", "tilt", "bevel", "0°", "45°"),
        ("case-mitre", "saw", "tilt", "blade_tilt", "0°", "45°"),
        ('stave"\nsides = 4\nx = "', "saw", "tilt", "", "0°", "45°"),
        ('case-mitre"\nways = ["bevel-first"]\nx = "', "mortiser", "fence_angle", "swing", "90°", "45°"),
    ],
)
def test_angles_that_a_machine_cannot_be_set_to_are_refused(
    job, kind, station, setting, called, stands, wanted
):
    """A saw without tilt saws upright, without gauge square: with the words what would be accepted, exit 2, whatever
    the number of ways; of a setting of another name, that it may be this one."""
    text = BOX.format(kind=kind, stock="sized").replace('x = ""\n', "")
    with pytest.raises(InputError) as caught:
        derive(in_shop(job, text, lacking(station, setting, called)))
    (fault,) = caught.value.faults
    angle = setting.replace("_", " ")
    assert f"stands at {angle} {stands} and cannot be set to {wanted}" in fault.message
    assert fault.accepted.startswith(f'a [[station.setting]] with id "{setting}" for "{station}"')
    assert (f'its "{called}"' in fault.accepted) == bool(called)


def test_a_saw_that_stands_square_makes_what_is_square(job):
    """Square crosscuts, rips and grooves ask for no angle."""
    text = BOX.format(kind="groove", stock="planed") + "from = 8\nwidth = 6\ndepth = 5\n"
    for setting in ("tilt", "gauge"):
        derive(in_shop(job, text, lacking("saw", setting)))


def card_lines(job):
    """What the cards of the planned job tell to set besides, by operation; and the plan's remarks."""
    made = plan(job, time_limit=2)
    told = {work.operation: work.besides for card in cards(made) for work in card.work}
    return told, made


def test_tight_and_slack_half_differ_where_the_mortiser_has_no_slot_length(job):
    """They may share a card, since nobody knows what the length costs; but each tells its own: the slip's width and
    the slack of a shop that says nothing of it, 2 mm, more."""
    text = BOX.format(kind="case-mitre", stock="sized") + "slips = { width = 32 }\n"
    told, made = card_lines(in_shop(job, text, lacking("mortiser", "slot_length")))
    lengths = [text for name, texts in told.items() if "plunge" in name for text in texts]
    assert sorted(text.partition(" (")[0] for text in lengths) == ["slot length 32 mm", "slot length 34 mm"]
    assert (
        sum('"mortiser" has no setting "slot_length" in the shop file' in text for text in made.remarks) == 1
    )


def test_values_of_settings_that_are_not_there_are_on_the_card(job):
    """A rip to 120 mm and a groove 8 mm from the edge, 5 deep, on a saw without fence and height, told by their own
    words; resets of neither are counted, and one remark says so."""
    text = BOX.format(kind="groove", stock="planed") + "from = 8\nwidth = 6\ndepth = 5\n"

    def bare(station):
        return lacking("saw", "height")(
            lacking("saw", "fence", "ripping")(without("router")(station) or station)
        )

    loaded = in_shop(job, text, lambda station: None if station.id == "router" else bare(station))
    told, made = card_lines(loaded)
    # blade 3 to 8 mm above stock of 16 mm: the shop's `blade_over` where it says nothing
    assert told["rip-side"] == ("fence 120 mm", "height 19 mm to 24 mm")
    assert told["corner-groove-side"] == (
        "fence 8 mm (from the fence to the near side of the cutter)",
        "height 5 mm",
    )
    (remark,) = (text for text in made.remarks if "no setting" in text)
    assert remark.startswith('"saw" has no settings "fence" and "height" in the shop file')
    assert remark.endswith('; if its "ripping" is "fence", call it so')
    assert not any(name in setup.settings for setup in made.setups for name in ("fence", "height"))


def test_one_blade_needs_no_setting(job):
    """A saw that has one blade for all cuts has nothing to change there."""
    text = BOX.format(kind="groove", stock="planed") + "from = 8\nwidth = 6\ndepth = 5\n"
    assert not any(
        "no setting" in text for text in derive(in_shop(job, text, lacking("saw", "blade"))).remarks
    )


def test_terminal_and_booklet_tell_what_to_set_too(job):
    """Both lay it out beside the step."""
    text = BOX.format(kind="groove", stock="planed") + "from = 8\nwidth = 6\ndepth = 5\n"
    made = plan(in_shop(job, text, lacking("saw", "fence")), time_limit=2)
    number, card = next((k, card) for k, card in enumerate(cards(made)) if any(w.besides for w in card.work))
    values = card_values(PlanBook(made), card, made.setups[number])
    assert ["set too", "fence 120 mm"] in values["groups"][0]["lie"]
    text = io.StringIO()
    print_cards(made, Console(file=text, width=100))
    assert re.search(r"set too +fence 120 mm", text.getvalue())


def test_what_is_set_too_stands_in_the_spreadsheet_and_in_no_way_of_setting(job, tmp_path):
    """A field of its own in the plan's file: whatever settings the shop file has by then, its cards tell the value."""
    text = BOX.format(kind="groove", stock="planed") + "from = 8\nwidth = 6\ndepth = 5\n"
    made = plan(in_shop(job, text, lacking("saw", "fence")), time_limit=2)
    assert not any(op.set_too.keys() & op.notes.how_to_set.keys() for op in made.operations)
    known = [
        {**each, "measures": {**each["measures"], "fence": "length"}}
        for each in made.model_dump()["stations"]
    ]
    since = made.model_copy(update={"stations": tuple(map(StationRecord.model_validate, known))})
    assert any("fence 120 mm" in work.besides for card in cards(since) for work in card.work)
    (_, steps, _) = write_csv(made, tmp_path / "csv")
    rows = list(csv.reader(steps.read_text(encoding="utf-8-sig").splitlines()))
    column = rows[0].index("set too: fence")
    assert "120 mm" in {row[column] for row in rows}
