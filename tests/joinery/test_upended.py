"""Posts on feet: pieces of one part whose ends are unlike cannot stand turned end for end."""

import numpy as np
import pytest

from sequencer.joinery import derive
from tests.joinery.assemblies import assembled
from tests.joinery.test_held import joint, part

BENCH = part("foot", 400, 80, 45, 2) + part("post", 420, 120, 45, 2) + part("beam", 700, 90, 30)
FEET = joint("pf", "end-to-edge", ["post", "foot"], 'at = [140]\nends = ["left end"]')


def beam(at, width=90):
    return BENCH.replace("width = 90", f"width = {width}") + joint(
        "bp", "end-to-face", ["beam", "post"], f"at = {at}"
    )


def told(made):
    return [says for says in made.remarks if "turned end for end" in says]


def test_the_middle_is_not_told_where_a_foot_tells_the_ends_apart(job, refused):
    """A beam narrower than the posts: with it in their middle one post would stand on its head. Without feet it is a
    way out. Of two posts, each with a foot, the second has its left end up: 420 - 200 - 30 = 190."""
    (fault,) = refused(beam([200]) + FEET)
    assert "in the middle" not in fault.accepted
    assert 'one with ends = ["left end"], one with ends = ["right end"] and at 190 mm' in fault.accepted
    assert "foot, which is on one end of post, is two parts likewise" in fault.accepted
    (bare,) = refused(beam([200]).replace(BENCH[: BENCH.index('[[part]]\nid = "post"')], ""))
    assert bare.accepted.startswith("at 195 mm, in the middle, or two joints")
    advised = part("beam", 700, 90, 30)
    for side, end, at in (("l", "left end", 200), ("r", "right end", 190)):
        advised += part(f"foot{side}", 400, 80, 45) + part(f"post{side}", 420, 120, 45)
        advised += joint(
            f"p{side}", "end-to-edge", [f"post{side}", f"foot{side}"], f'at = [140]\nends = ["{end}"]'
        )
        advised += joint(f"b{side}", "end-to-face", ["beam", f"post{side}"], f'at = [{at}]\nends = ["{end}"]')
    assert not told(derive(job(advised)))


@pytest.mark.parametrize(
    ("at", "width", "feet", "upended"),
    [([195], 90, FEET, True), ([195], 90, "", False), ([195], 120, FEET, False), ([200], 120, FEET, False)],
)
def test_a_post_on_its_head_is_remarked(job, at, width, feet, upended):
    """A beam as wide as the posts lets both stand left end down: the pieces' own frames, put together, say which."""
    text = beam(at, width) + feet
    found = told(derive(job(text)))
    assert len(found) == upended
    if upended:
        assert found[0].startswith("bp: the two posts that beam stands between lie turned end for end")
        assert '"pf" joins the left end of both to foot' in found[0]
    if upended or width == 120:
        (whole,) = [each for each in assembled(job(text)) if each.joint == "bp"]
        one, other = (placed.rotation[:, 0] for placed in whole.placed if placed.part == "post")
        assert float(np.dot(one, other)) == pytest.approx(-1 if upended else 1)


def test_a_stile_on_one_foot_is_remarked(job):
    """Two stiles of rails are turned about in their plane."""
    text = part("stile", 600, 60, 22, 2) + part("rail", 400, 60, 22, 2) + part("foot", 300, 60, 30, 2)
    text += joint("r", "end-to-edge", ["rail", "stile"], "at = [50, 490]")
    lone = joint("f", "end-to-edge", ["stile", "foot"], 'at = [120]\nends = ["right end"]')
    assert not told(derive(job(text.replace(part("foot", 300, 60, 30, 2), ""))))
    (says,) = told(derive(job(text + lone)))
    assert "joins the right end of both to foot" in says
