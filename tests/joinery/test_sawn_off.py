"""Grooves, rebates and housings that bevels saw off: refused where nothing is left, else remarked with what is.

Of a board of thickness T whose bevel is tilted by t, f mm from the face f tan t of its length or width are sawn away.
"""

from math import radians, tan

import pytest

from sequencer.joinery import derive
from tests.joinery.test_virtual_build import SHOP, job_of, joint, part

THIN = SHOP.replace(
    "least_wall = 2.5", "least_wall = 0.1\nleast_embedment = 1\nglue_room = 0.5\ncutters = [3]"
)
"""A shop in which slots keep clear of whatever is cut into the same ends."""


def told_of(ring, trench, sides=4):
    """The remarks on what is sawn off."""
    return [
        remark
        for remark in derive(job_of(ringed(ring, trench, sides), THIN)).remarks
        if "when all is sawn" in remark
    ]


def ringed(ring, trench, sides=4, thick=20):
    """Sides in a ring, with a trench in each of them."""
    return (
        part("side", 500, 120, thick, sides) + ring + f'[[joint]]\nid = "cut"\nparts = ["side"]\n{trench}\n'
    )


CASE = joint("case-mitre", ["side"], "slips = { width = 15, count = 1 }")
STAVES = joint("stave", ["side"], "slips = { width = 15, count = 3 }")
FRAME = joint("frame-mitre", ["side"])
LEVEL = joint("splayed", ["side"], "slope = 60\nsides = 4\nlevel_edges = true")


@pytest.mark.parametrize(
    ("ring", "trench", "by"),
    [
        (
            STAVES,
            'kind = "groove"\non = "far edge"\nbeside = "face"\nfrom = 6\nwidth = 4\ndepth = 6',
            "far edge bevel",
        ),
        (
            STAVES,
            'kind = "groove"\non = "edge"\nbeside = "back"\nfrom = 3\nwidth = 4\ndepth = 6',
            "edge bevel",
        ),
        # 6 mm deep in the back, 14 from the face: the bevel takes 14 mm there
        (CASE, 'kind = "rebate"\non = "back"\nbeside = "left end"\nwidth = 14\ndepth = 6', "left bevel"),
        (CASE, 'kind = "housing"\nat = [4]\nwidth = 10\ndepth = 6', "left bevel"),
        (STAVES, 'kind = "groove"\non = "back"\nfrom = 2\nwidth = 6\ndepth = 4', "edge bevel"),
        (
            STAVES,
            'kind = "groove"\non = "back"\nbeside = "far edge"\nfrom = 2\nwidth = 6\ndepth = 4',
            "far edge bevel",
        ),
    ],
)
def test_what_sawing_takes_whole_is_refused(refused, ring, trench, by):
    """No wood is left of it behind a bevel of 45 degrees."""
    (fault,) = refused(ringed(ring, trench))
    key = "width" if "rebate" in trench else "at" if "housing" in trench else "from"
    assert f'joint "cut", {key}' in fault.where
    assert f"when all is sawn: the {by} takes the wood it is cut into" in fault.message
    assert f"{'a wider one' if 'rebate' in trench else 'a place'} clear of the {by}" in fault.accepted


@pytest.mark.parametrize(
    ("ring", "sides", "trench", "left"),
    [
        (
            STAVES,
            4,
            'kind = "groove"\non = "far edge"\nbeside = "face"\nfrom = 2\nwidth = 3\ndepth = 6',
            "nothing at the far edge and 3 mm wide at its bottom, at most 4 mm deep",
        ),
        (
            CASE,
            4,
            'kind = "housing"\nat = [8]\nwidth = 10\ndepth = 6',
            "nothing at the back and 4 mm wide at its bottom, at most 4 mm deep",
        ),
        (
            CASE,
            4,
            'kind = "rebate"\non = "back"\nbeside = "left end"\nwidth = 18\ndepth = 6',
            "nothing at the back and 4 mm wide at its bottom, at most 4 mm deep",
        ),
        (
            STAVES,
            6,
            'kind = "groove"\non = "edge"\nbeside = "face"\nfrom = 1\nwidth = 2\ndepth = 5',
            f"nothing at the edge and 2 mm wide at its bottom, at most {5 - tan(radians(30)):.1f} mm deep",
        ),
        (
            STAVES,
            8,
            'kind = "groove"\non = "back"\nfrom = 4\nwidth = 6\ndepth = 6',
            f"{10 - 20 * tan(radians(22.5)):.1f} mm wide at the back and {10 - 14 * tan(radians(22.5)):.1f} mm at its "
            "bottom",
        ),
        (
            CASE,
            4,
            'kind = "rebate"\non = "face"\nbeside = "left end"\nwidth = 6\ndepth = 3',
            "6 mm wide at the face and 3 mm at its bottom",
        ),
    ],
)
def test_what_sawing_takes_in_part_is_told(ring, sides, trench, left):
    """What the bevel leaves of a section at the surface it is cut into and at its bottom, and of its depth where it
    takes least: of one in the back whose inner corner is 18 mm from the end and 6 deep a right triangle with sides of
    18 - (20 - 6)."""
    (told,) = told_of(ring, trench, sides)
    assert told.endswith(f" deep, but {left}")


@pytest.mark.parametrize(("slope", "left"), [(60, "10.5"), (85, "13.5"), (88, "13.8"), (89, "")])
def test_a_level_edge_takes_of_a_rebate_beside_it(slope, left):
    """It slants by 1 / tan slope across the depth, from the corner of edge and back on: of a rebate in the back 6 / tan
    slope at the bottom. A tenth of a millimetre, at 89 degrees, is less than a check lets any cut be off."""
    ring = LEVEL.replace("slope = 60", f"slope = {slope}")
    told = told_of(ring, 'kind = "rebate"\non = "back"\nbeside = "edge"\nwidth = 14\ndepth = 6')
    assert not left or left == f"{14 - 6 / tan(radians(slope)):.1f}"
    assert [says.rpartition(", but ")[2] for says in told] == (
        [f"14 mm wide at the back and {left} mm at its bottom"] if left else []
    )


def test_a_rebate_beside_a_mitred_end_is_whole_nowhere():
    """Flat mitres of 45 degrees leave the tip of a rebate across the ends: nowhere is it as wide, and it is as long as
    it is wide."""
    trench = 'kind = "rebate"\non = "back"\nbeside = "right end"\nwidth = 6\ndepth = 3'
    (told,) = told_of(FRAME, trench)
    assert told == (
        "side: the right mitre takes part of the rebate cut: when all is sawn it tapers from 6 mm wide at the back "
        "and 6 mm at its bottom, and ends after 6 mm of 120 mm"
    )


def test_a_rebate_along_a_mitre_tapers():
    """Mitres of 15 degrees (corners of 150) take 120 tan 15 = 32.2 mm of the length at one edge, none at the other."""
    trench = 'kind = "rebate"\non = "back"\nbeside = "left end"\nwidth = 40\ndepth = 4'
    (told,) = told_of(joint("frame-mitre", ["side"], "corner = 150"), trench, 12)
    less = f"{40 - 120 * tan(radians(15)):.1f} mm"
    assert told.endswith(
        f"it tapers from 40 mm wide at the back and 40 mm at its bottom to {less} and {less}"
    )


@pytest.mark.parametrize(
    ("ring", "trench"),
    [
        (CASE, 'kind = "groove"\non = "back"\nfrom = 8\nwidth = 4\ndepth = 4'),
        (CASE, 'kind = "rebate"\non = "back"\nbeside = "far edge"\nwidth = 6\ndepth = 6'),
        (CASE, 'kind = "housing"\nat = [200]\nwidth = 10\ndepth = 6'),
        (FRAME, 'kind = "rebate"\non = "back"\nbeside = "far edge"\nwidth = 6\ndepth = 6'),
        (STAVES, 'kind = "groove"\non = "back"\nfrom = 40\nwidth = 6\ndepth = 4'),
        (STAVES, 'kind = "housing"\nat = [60]\nwidth = 6\ndepth = 4'),
        (LEVEL, 'kind = "groove"\non = "back"\nfrom = 14\nwidth = 4\ndepth = 4'),
    ],
)
def test_what_bevels_only_shorten_is_as_asked_for(ring, trench):
    """Along the boards' middle it has its whole width and depth; the bevels at its ends are no loss."""
    assert not told_of(ring, trench)
