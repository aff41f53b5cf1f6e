"""Shelves narrower than their sides, beside boards that are as wide as these."""

from itertools import permutations

import pytest

from sequencer.joinery import derive
from tests.joinery.test_held import joint, part

SIZES = {"top": (250, 1), "bottom": (250, 1), "shelf": (230, 2)}
PLACES = {"top": [0], "bottom": [781], "shelf": [300, 481]}


def case(order, wide, on):
    text = part("side", 800, 250, 19, 2)
    for name in order:
        width, count = SIZES[name]
        text += part(name, 600, wide if name == "shelf" else width, 19, count)
        text += joint(name[0], "end-to-face", [name, "side"], f'at = {PLACES[name]}\non = ["{on}"]')
    return text


@pytest.mark.parametrize(
    ("order", "on"), [*((order, "back") for order in permutations(SIZES)), (tuple(SIZES), "face")]
)
def test_a_narrower_shelf_is_told_both_ways_out(job, refused, order, on):
    """A top at 0 and a bottom at 781 of 800 - 19 ask for sides with their left ends alike, a narrower shelf, flush with
    one edge, for sides turned end for end. As wide as they, or of two sides with the places of the second from its
    other end (781 - at), all go together."""
    (fault,) = refused(case(order, 230, on))
    assert "go together" in fault.message
    first, second = fault.accepted.split(", or ")
    assert first == "shelf as wide as side, 250 mm"
    assert derive(job(case(order, 250, on))).meetings
    ends = ("left end", "right end") if on == "back" else ("right end", "left end")
    assert f'one with ends = ["{ends[0]}"] and at as it is, one with ends = ["{ends[1]}"]' in second
    turned = {"top": [781], "bottom": [0], "shelf": [300, 481]}
    text = part("left", 800, 250, 19) + part("right", 800, 250, 19)
    for name in order:
        text += part(name, 600, SIZES[name][0], 19, SIZES[name][1])
        for side, end, at in (("left", ends[0], PLACES), ("right", ends[1], turned)):
            text += joint(
                f"{name[0]}{side[0]}", "end-to-face", [name, side], f'at = {at[name]}\nends = ["{end}"]'
            )
        told = ", ".join(f"{at} mm" for at in turned[name])
        assert f'{told} in "{name[0]}"' in second
    assert derive(job(text)).meetings


def test_shelves_that_go_together_as_they_are_are_not_refused(job):
    """At places alike from both ends top and bottom may be of one part: then the sides lie turned end for end."""
    text = part("side", 800, 250, 19, 2) + part("top", 600, 250, 19, 2) + part("shelf", 600, 230, 19, 2)
    text += joint("t", "end-to-face", ["top", "side"], "at = [0, 781]")
    assert derive(job(text + joint("s", "end-to-face", ["shelf", "side"], "at = [300, 481]"))).meetings


def unlike_case(wide, sides, groove=""):
    """Top and bottom flush with the ends of the sides, shelves at 290 and 600 mm; each side with the ends that meet it
    and the places there."""
    shelves = len(sides[0][2]["shelf"])
    text = part("top", 600, 250, 20, 2) + part("shelf", 600, wide, 18, shelves)
    for side, ends, at in sides:
        text += part(side, 900, 250, 20, 2 // len(sides))
        for name in ("top", "shelf"):
            more = f"at = {at[name]}\nends = {ends}".replace("'", '"')
            text += joint(f"{name} {side}", "end-to-face", [name, side], more)
    return text + groove


def test_a_narrower_shelf_at_places_of_its_own_is_told_both_ways_out(job, refused):
    """Also where its own places show that one part does not serve: 900 - 18 - 290 = 592 from the other end. Both joints
    of the side are told, for the top needs two parts, too; where a groove tells its edges apart, these only."""
    both, at = ["left end", "right end"], {"top": [0, 880], "shelf": [290, 600]}
    (fault,) = refused(unlike_case(240, [("side", both, at)]))
    assert "shelf is narrower than side" in fault.message
    wide, apart = fault.accepted.split(", or ")
    assert wide == "shelf as wide as side, 250 mm"
    assert derive(job(unlike_case(250, [("side", both, at)]))).meetings
    assert apart.endswith(
        'one with ends = ["left end"] and at as it is, one with ends = ["right end"] and at measured from the other '
        'end: 0 mm, 880 mm in "top side", 282 mm, 592 mm in "shelf side"'
    )
    turned = {"top": [0, 880], "shelf": [282, 592]}
    two = [("left", ["left end"], at), ("right", ["right end"], turned)]
    assert derive(job(unlike_case(240, two))).meetings
    groove = joint("groove", "groove", ["side"], 'beside = "far edge"\nfrom = 8\nwidth = 6\ndepth = 5')
    (fault,) = refused(unlike_case(240, [("side", both, at)], groove))
    assert fault.accepted == apart
    assert derive(job(unlike_case(240, two, groove.replace('"side"', '"left", "right"')))).meetings


def test_one_narrower_shelf_may_stand_in_the_middle(job, refused):
    """441 and 18 and 441 are 900 mm: then sides turned end for end serve for the top, too."""
    both = ["left end", "right end"]
    (fault,) = refused(unlike_case(240, [("side", both, {"top": [0, 880], "shelf": [290]})]))
    assert fault.accepted.startswith(
        "at 441 mm, in the middle, or shelf as wide as side, 250 mm, or two parts"
    )
    middle = unlike_case(240, [("side", both, {"top": [0, 880], "shelf": [441]})])
    assert derive(job(middle)).meetings


def test_a_lone_narrower_shelf_is_told_as_before(job, refused):
    text = part("side", 900, 250, 20, 2) + part("shelf", 600, 240, 18, 2)
    (fault,) = refused(text + joint("s", "end-to-face", ["shelf", "side"], "at = [290, 600]"))
    assert fault.accepted.startswith("two joints, each with a side of its own")
