"""Boards stand wholly on the parts that they are joined to."""

import pytest

from tests.joinery.test_held import joint, part


@pytest.mark.parametrize(
    ("kind", "long", "place", "where", "says", "works"),
    [
        (
            "end-to-edge",
            500,
            "at = [0, 401]",
            "at",
            "from 401 mm to 501 mm is beyond post",
            "from 0 to 400 mm",
        ),
        ("end-to-face", 500, "at = [483]", "at", "from 483 mm to 501 mm is beyond post", "from 0 to 482 mm"),
        ("leg-to-apron", 500, "drop = 401", "drop", "from 401 mm to 501 mm is beyond", "from 0 to 400 mm"),
        ("end-to-edge", 90, "", "parts", "rail takes 100 mm of post, which is 90 mm long", "at most 90 mm"),
        ("end-to-face", 17, "at = [0]", "parts", "rail takes 18 mm of post", "at most 17 mm"),
        ("leg-to-apron", 90, "drop = 0", "parts", "rail takes 100 mm of post", "or a longer post"),
    ],
)
def test_a_board_beyond_its_mate(refused, kind, long, place, where, says, works):
    """A rail 100 wide and 18 thick: what is told is the key that tells its place, which is no `at` between legs; where
    there is no place that would do, the parts."""
    legs = kind == "leg-to-apron"
    parts, leg = (["rail"], 'leg = "post"\n') if legs else (["rail", "post"], "")
    rails = {"leg-to-apron": 4, "end-to-edge": 2, "end-to-face": 1}[kind]
    text = part("rail", 300, 100, 18, rails)
    text += part("post", long, 120, 120, 4 if legs else 2)
    (fault,) = refused(text + joint("frame", kind, parts, leg + place))
    assert fault.where == f'joint "frame", {where}'
    assert says in fault.message
    assert works in fault.accepted


@pytest.mark.parametrize(
    ("thick", "setback", "where", "says", "works"),
    [
        (
            20,
            "setback = 21",
            "setback",
            "rail, set back 21 mm, is thicker than what is left",
            "at most 20 mm",
        ),
        (41, "", "parts", "rail is 41 mm thick, more than post", "at most 40 mm, or a thicker post"),
        (
            41,
            "setback = 1",
            "parts",
            "rail is 41 mm thick, more than post",
            "at most 40 mm, or a thicker post",
        ),
    ],
)
def test_an_apron_thicker_than_its_leg(refused, thick, setback, where, says, works):
    """Of a leg 40 by 50 an apron 20 thick leaves 20 to set it back by; no setback helps one of 41."""
    text = part("rail", 300, 100, thick, 4) + part("post", 500, 50, 40, 4)
    (fault,) = refused(text + joint("frame", "leg-to-apron", ["rail"], f'leg = "post"\n{setback}'))
    assert fault.where == f'joint "frame", {where}'
    assert says in fault.message
    assert works in fault.accepted


@pytest.mark.parametrize(("at", "where"), [("", "parts"), ("at = [0, 50]", "at")])
def test_rails_that_overlap_where_no_places_are_told(refused, at, where):
    """Rails 100 wide at both ends of stiles 150 long: `at` is not what is wrong where none is written."""
    text = part("rail", 300, 100, 18, 2) + part("stile", 150, 120, 18, 2)
    (fault,) = refused(text + joint("frame", "end-to-edge", ["rail", "stile"], at))
    assert fault.where == f'joint "frame", {where}'
    assert "overlap on the edge of stile" in fault.message
    assert fault.accepted == "places (at) that leave each its room"
