"""Tolerances of settings against what the checks on the cards let cuts be off, and against the slack of joints."""

import pytest

from sequencer.joinery import derive

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
width = 70.5
thickness = 20
stock = "{stock}"
[[joint]]
id = "rails"
kind = "end-to-edge"
parts = ["rail", "stile"]
at = [0, 630]
"""
BOX = """
[[part]]
id = "side"
quantity = 4
length = 200
width = 120
thickness = 16
stock = "sized"
[[joint]]
id = "corner"
kind = "{kind}"
parts = ["side"]
"""


def remarks(job, text, tolerances, unit="mm"):
    """What the derivation remarks of tolerances, in a shop whose settings have these instead ("station.setting")."""
    loaded = job(text, unit=unit)
    stations = tuple(
        station.model_copy(
            update={
                "settings": tuple(
                    each.model_copy(
                        update={"tolerance": tolerances.get(f"{station.id}.{each.id}", each.tolerance)}
                    )
                    for each in station.settings
                )
            }
        )
        for station in loaded.shop.stations
    )
    shop = loaded.shop.model_copy(update={"stations": stations})
    made = derive(loaded.model_copy(update={"shop": shop}))
    return [text for text in made.remarks if text.startswith("the tolerance")]


def test_the_examples_shop_keeps_to_its_checks(job):
    """Twentieths of a mm are finer than any check."""
    assert remarks(job, FRAME.format(stock="rough"), {}) == []


@pytest.mark.parametrize(
    ("setting", "allowed"),
    # what the cards say under "first piece": sizes within 0.1 mm, places of slots 0.2, their depth 0.5
    [
        ("saw.fence", 0.1),
        ("saw.stop", 0.1),
        ("mill.thickness", 0.1),
        ("mortiser.fence_height", 0.2),
        ("mortiser.depth", 0.5),
    ],
)
def test_a_tolerance_that_a_check_does_not_allow_is_remarked(job, setting, allowed):
    """Once for the setting, with its tolerance and what the check allows; as much as that is no more."""
    text = FRAME.format(stock="rough")
    (remark,) = remarks(job, text, {setting: 0.6})
    assert ", 0.6 mm, is more than the check of " in remark
    assert f"allows ({allowed:g} mm)" in remark
    assert f"a tolerance of {allowed:g} mm or less" in remark
    assert remarks(job, text, {setting: allowed}) == []


def test_what_is_told_in_inches_passes(job):
    """0.1 mm is 0.0039 in: told rounded to the side that passes."""
    text = FRAME.format(stock="planed").replace("[0, 630]", "[0, 25]")
    for mm, inches in (("300", "12"), ("700", "28"), ("70.5", "3"), ("70", "3"), ("20", "0.75")):
        text = text.replace(f"= {mm}\n", f"= {inches}\n")
    (remark,) = remarks(job, text, {"saw.fence": 0.6}, unit="in")
    assert "a tolerance of 0.003 in or less" in remark
    assert remarks(job, text, {"saw.fence": 0.003 * 25.4}, unit="in") == []


def test_a_slack_within_the_tolerance_is_remarked(job):
    """Slots of 32 and 34 mm are one setting where 2 mm are its tolerance, and two where less is."""
    text = FRAME.format(stock="sized") + "slips = { width = 32 }\n"
    (remark,) = remarks(job, text, {"mortiser.slot_length": 2.0})
    assert remark.startswith("the tolerance of the slot length, 2 mm, takes tight and slack half of")
    assert '"rails" (32 mm and 34 mm)' in remark
    assert remarks(job, text, {"mortiser.slot_length": 1.9}) == []
    assert (
        remarks(job, text.replace("width = 32", 'width = 32, slack = "none"'), {"mortiser.slot_length": 2.0})
        == []
    )


@pytest.mark.parametrize(
    ("kind", "setting", "fine", "coarse"),
    # 16 mm thick at 45: 0.2 mm are 0.0125 in tan 45, that is 0.36 degrees; 120 mm wide: 0.2 mm are 0.048 degrees
    [("case-mitre", "saw.tilt", 0.35, 0.37), ("frame-mitre", "saw.gauge", 0.047, 0.049)],
)
def test_angles_within_a_tolerance_move_the_cut(job, kind, setting, fine, coarse):
    """By the tangent of the angle times the stock it goes through: no more than the check lets it be off."""
    text = BOX.format(kind=kind)
    assert remarks(job, text, {setting: fine}) == []
    (remark,) = remarks(job, text, {setting: coarse})
    assert f", {coarse:g}°, is more than the check of" in remark


# 30 mm long slips with 1 mm of glue room go 16 mm deep: 0.2 mm in 16 are 0.716 degrees. Slots of 12 mm: 0.955.


@pytest.mark.parametrize(
    ("depths", "deepest", "fine", "coarse"),
    [("[16, 16]", "16 mm", 0.71, 0.72), ("[12, 12]", "12 mm", 0.95, 0.96), ("[12, 16]", "16 mm", 0.71, 0.72)],
)
def test_a_fence_within_its_tolerance_lets_slots_lean(job, depths, deepest, fine, coarse):
    """By depth times the tangent at the bottom, no more than their places may be off: told with what keeps to that."""
    text = FRAME.format(stock="sized") + f"slips = {{ thickness = 6, depths = {depths} }}\n"
    setting = "mortiser.fence_angle"
    assert remarks(job, text, {setting: fine}) == []
    (remark,) = remarks(job, text, {setting: coarse})
    assert f", {coarse:g}°, lets the slots of " in remark
    assert f"{deepest} deep" in remark
    assert "at the mouth (0.2 mm)" in remark
    kept = float(remark.partition("a tolerance of ")[2].partition("°")[0])
    assert fine < kept < coarse
    assert remarks(job, text, {setting: kept}) == []
