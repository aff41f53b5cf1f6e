"""Router bits: which one cuts a width, and in how many passes (common practice, no source, where no other is named)."""

from __future__ import annotations

import pytest

from sequencer.diagnostics import InputError
from sequencer.joinery import derive

BOARD = '[[part]]\nid = "{id}"\nlength = 600\nwidth = 200\nthickness = {thick}\n'
SIDE = BOARD.format(id="side", thick=20)


def worked_out(job, joint, bits, unit="mm", shop_unit="mm"):
    """What a groove, rebate or housing comes to in a shop with these bits (all there is of its values)."""
    loaded = job(SIDE + f'[[joint]]\nid = "j"\nparts = ["side"]\n{joint}\n', unit=unit)

    def with_bits(setting):
        return setting.model_copy(update={"values": bits}) if setting.id == "bit" else setting

    stations = tuple(
        station.model_copy(update={"settings": tuple(map(with_bits, station.settings))})
        for station in loaded.shop.stations
    )
    shop = loaded.shop.model_copy(update={"stations": stations, "unit": shop_unit})
    return derive(loaded.model_copy(update={"shop": shop}))


def trench(job, joint, bits, unit="mm", shop_unit="mm"):
    """The operation that makes a groove, rebate or housing in such a shop."""
    made = worked_out(job, joint, bits, unit, shop_unit)
    return next(op for op in made.operations if op.cuts and op.joint == "j")


def groove(width):
    return f'kind = "groove"\nfrom = 8\nwidth = {width}\ndepth = 5'


def housing(width):
    return f'kind = "housing"\nat = [100, 300]\nwidth = {width}\ndepth = 5'


def rebate(width):
    return f'kind = "rebate"\nwidth = {width}\ndepth = 5'


@pytest.mark.parametrize(
    ("joint", "bits", "bit", "passes"),
    [
        (groove(6), ("straight-5", "straight-6"), "straight-6", 1),
        (groove(6), ("cove-6", "straight-6"), "straight-6", 1),
        (groove(6), ("upcut-6", "straight-5"), "upcut-6", 1),
        (groove(7), ("straight-5", "straight-6", "straight-10", "upcut-6.5"), "straight-6", 2),
        (housing(12), ("straight-5", "straight-6"), "straight-6", 2),
        (housing(12.5), ("straight-5", "straight-6"), "straight-6", 3),
        (housing(19), ("2-flute straight 6 mm",), "2-flute straight 6 mm", 4),
        (groove(6), ("straight 6 mm, 2 flutes", "straight-5"), "straight 6 mm, 2 flutes", 1),
        (groove(6), ("2 flutes, 6 mm straight", "straight-5"), "2 flutes, 6 mm straight", 1),
        (groove(6), ("straight-6 rev 2", "straight-5"), "straight-6 rev 2", 1),
        (groove(5), ("no. 7 straight 5", "straight-3"), "no. 7 straight 5", 1),
        (groove(6), ("6 straight", "straight-5"), "6 straight", 1),
        (groove(6), ("straight 6 mm, 8 mm shank", "straight-5"), "straight 6 mm, 8 mm shank", 1),
        (groove(6), ("straight 2 flutes, 6 mm", "straight-5"), "straight 2 flutes, 6 mm", 1),
        (groove(6), ("straight 6 mm, 6 mm shank", "straight-5"), "straight 6 mm, 6 mm shank", 1),
        (groove(12.7), ("1/2 in straight, 1/4 in shank", "straight-5"), "1/2 in straight, 1/4 in shank", 1),
        (groove(38.1), ("1½ in straight", "straight-5"), "1½ in straight", 1),
        (rebate(7), ("straight-6", "straight-18", "straight-10"), "straight-10", 1),  # open at one side
        (rebate(20), ("straight-6", "straight-18", "straight-10"), "straight-18", 2),
    ],
)
def test_the_bit_is_as_wide_as_the_cut_or_takes_several_passes(job, joint, bits, bit, passes):
    operation = trench(job, joint, bits)
    assert operation.settings["bit"] == bit
    once = trench(job, joint, ())
    assert operation.minutes_each == pytest.approx(passes * once.minutes_each)
    assert (f"takes {passes} passes" in operation.notes.way_round) == (passes > 1)


def test_passes_cut_on_the_side_away_from_the_fence(job):
    """There the bit turns against the feed; on the side of the fence it would pull the work along (OSHA Woodworking
    eTool, shapers: feed against the rotation of the cutter)."""
    wide = trench(job, groove(12), ("straight-10",)).notes.way_round
    assert "the fence stands for the side nearest it; move it out pass by pass, all pieces at each" in wide
    assert wide.endswith("until the groove is 12 mm wide; then bring the fence back to 8 mm")
    across = trench(job, housing(12), ("straight-10",)).notes.way_round
    assert (
        "left end towards the fence the first along the line, the others beyond it, away from the fence"
        in across
    )
    step = trench(job, rebate(12), ("straight-10",)).notes.way_round
    assert step.endswith("the fence stands for the last; begin with less of the bit, all pieces at each pass")


def test_bits_named_in_inches(job):
    """A quarter inch is 6.35 mm (NIST SP 811, appendix B), in a shop that works in inches or says so."""
    bits = ("straight-1/8", "straight-1/4", "straight-3/4")
    inch = 'kind = "groove"\nfrom = "1/4 in"\nwidth = "1/4 in"\ndepth = "1/4 in"'
    assert trench(job, inch, bits, shop_unit="in").settings["bit"] == "straight-1/4"
    named = ("straight 1/4 in", "straight 6 mm")
    assert trench(job, inch, named).settings["bit"] == "straight 1/4 in"
    assert trench(job, groove(6), named).settings["bit"] == "straight 6 mm"
    assert trench(job, inch, (), shop_unit="in").settings["bit"] == "straight-1/4"


@pytest.mark.parametrize(
    ("bit", "width", "unclear"),
    [
        ("straight 6,35", 6, True),  # 6.35 in some countries, and no 6
        ("1/2 in straight, 1/4 in shank", 6.35, False),
        ("straight 1/2 in 1/4 in", 6.35, False),
        ("1/4 in x 1/2 in", 12.7, True),
        ("1/2 in straight 1/4 in", 6.35, True),
        ("straight-12, 8 mm shank", 8, True),
    ],
)
def test_a_bit_that_does_not_tell_its_width_is_taken_for_no_cut(job, bit, width, unclear):
    """A wrong bit would make the groove too wide for what it holds; that a name is unclear is remarked, and told where
    there is no other bit."""
    made = worked_out(job, groove(width), (bit, "straight-3"))
    (cut,) = (op for op in made.operations if op.kind == "groove")
    assert cut.settings["bit"] == "straight-3"
    assert any(f'the bit "{bit}"' in remark for remark in made.remarks) is unclear
    with pytest.raises(InputError) as refused:
        worked_out(job, groove(5), (bit,) if unclear else ("straight-6",))
    (fault,) = refused.value.faults
    assert fault.message.startswith("the router has no bit for 5 mm")
    assert (f'how wide the bit "{bit}" is its name does not tell' in fault.message) is unclear


@pytest.mark.parametrize(
    "bit",
    [
        *(
            "roundover 6",
            "round-over 6",
            "6 mm round nose",
            "cove-6",
            "Chamfer 6",
            "ogee-6",
            "V 6",
            "v-groove 6",
        ),
        *("6 mm V", "dovetail 6 mm", "bullnose 6", "core box 6", "bead-6", "straight and bevel 6"),
    ],
)
def test_a_shaped_bit_cuts_nothing_square(job, bit):
    """A cove or roundover bit leaves a round bottom: whatever its width, it is taken for no groove, and no slip in its
    name is told.
    """
    made = worked_out(job, groove(6), (bit, "straight-5"))
    (cut,) = (op for op in made.operations if op.kind == "groove")
    assert cut.settings["bit"] == "straight-5"
    assert not [remark for remark in made.remarks if "bit" in remark]
    for joint in (groove(6), rebate(5.5), housing(6)):
        with pytest.raises(InputError) as refused:
            worked_out(job, joint, (bit,))
        assert "the router has no bit for" in refused.value.faults[0].message


@pytest.mark.parametrize(
    "bit", ["straight 6, with bearing", "upcut 6", "slot cutter 6", "rebate 6", "ground 6"]
)
def test_other_bits_cut_their_own_width(job, bit):
    assert trench(job, groove(6), (bit, "cove-6")).settings["bit"] == bit


@pytest.mark.parametrize(
    ("bits", "accepted"),
    [
        (("1/4 in straight", "1/2 in straight", "roundover 6"), "6.35 mm or more, or "),
        (("upcut-6", "upcut 10", "straight-8"), "6 mm, 8 mm or more, or "),
        (("upcut-6", "cove-3"), "6 mm, or "),
        (("cove-3",), ""),
    ],
)
def test_the_widths_that_bits_cut_are_told(job, bits, accepted):
    """Where a width is asked for, widths are accepted."""
    with pytest.raises(InputError) as refused:
        worked_out(job, groove(5), bits)
    (fault,) = refused.value.faults
    assert fault.accepted == f"{accepted}a straight bit of 5 mm or less in the shop"


def test_no_bit_is_narrow_enough(refused):
    text = SIDE + f'[[joint]]\nid = "j"\nparts = ["side"]\n{groove(4)}\n'
    (fault,) = refused(text)
    assert "the router has no bit for 4 mm" in fault.message
    assert fault.accepted == "5 mm or more, or a straight bit of 4 mm or less in the shop"
