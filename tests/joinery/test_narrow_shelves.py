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
