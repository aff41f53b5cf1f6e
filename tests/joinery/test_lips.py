"""Wood too thin to stand beside a groove, rebate or housing is remarked: figures worked out by hand.

Sides are 500 x 120 x 20 mm; a wall is measured square to the surface, as the shop's least wall, here 1 mm, is
everywhere. The level edges of boards at 60 degrees go from the corner of edge and back, and from that of far edge and
face: they take 1 / tan 60 of the width for every millimetre across. Four staves, or the ends of a mitred case, have
bevels of 45 degrees, which take 20 mm of the back.
"""

from math import cos, radians, sin, tan

import pytest

from sequencer.joinery import derive
from tests.joinery.test_sawn_off import CASE, FRAME, LEVEL, STAVES, THIN, ringed
from tests.joinery.test_virtual_build import job_of

SHOP = THIN.replace("least_wall = 0.1", "least_wall = 1")
LEVEL_AT, BEVELLED = radians(60), radians(45)


def told_of(ring, trench, shop=SHOP):
    """The remarks on the wood beside the trench."""
    return [each for each in derive(job_of(ringed(ring, trench), shop)).remarks if "of wood is left" in each]


def groove(start, beside="edge"):
    return f'kind = "groove"\non = "back"\nbeside = "{beside}"\nfrom = {start}\nwidth = 4\ndepth = 6'


def housing(*at):
    return f'kind = "housing"\nat = {list(at)}\nwidth = 4\ndepth = 6'


@pytest.mark.parametrize("wall", [0.1, 0.55, 0.99])
@pytest.mark.parametrize(
    ("ring", "trench", "surface"),
    [
        (LEVEL, lambda wall: groove(6 / tan(LEVEL_AT) + wall / sin(LEVEL_AT)), "level edge"),
        (LEVEL, lambda wall: groove(20 / tan(LEVEL_AT) + wall / sin(LEVEL_AT), "far edge"), "level far edge"),
        (STAVES, lambda wall: groove(20 + wall / cos(BEVELLED)), "edge bevel"),
        (CASE, lambda wall: housing(20 + wall / cos(BEVELLED)), "left bevel"),
        (FRAME, lambda wall: housing(120 + wall / cos(BEVELLED)), "left mitre"),
        ("", groove, "edge"),
        ("", lambda wall: groove(wall, "far edge"), "far edge"),
        ("", lambda wall: housing(200, 496 - wall), "right end"),
    ],
)
def test_a_thin_wall_is_remarked(ring, trench, surface, wall):
    """Beside a sawn surface or a fresh one: of a tenth of a millimetre, and of nearly the least wall."""
    (told,) = told_of(ring, trench(wall))
    assert told == f"side: only {wall:g} mm of wood is left between cut (back) and its {surface}"


@pytest.mark.parametrize(
    ("ring", "trench"),
    [
        (LEVEL, groove(6 / tan(LEVEL_AT) + 1 / sin(LEVEL_AT))),
        (STAVES, groove(20 + 1 / cos(BEVELLED))),
        ("", groove(1)),
        ("", groove(0)),  # opens in the edge: no wall stands there
        ("", housing(0, 5, 496)),
        (LEVEL, groove(6 / tan(LEVEL_AT))),  # opens along the level edge
        (CASE, groove(8)),  # ends in the bevels
        (CASE, 'kind = "rebate"\non = "back"\nwidth = 4\ndepth = 19.5'),  # what stays beneath may be a tongue
    ],
)
def test_a_wall_as_thick_as_the_least_or_none_is_not(ring, trench):
    assert not told_of(ring, trench)


def test_each_surface_is_told_once():
    """Of several housings of one joint, the nearest to the end; a groove on both of its sides."""
    assert told_of("", housing(0.8, 300)) == [
        "side: only 0.8 mm of wood is left between cut (back) and its left end"
    ]
    wide = groove(0.25).replace("width = 4", "width = 119.25")
    assert told_of("", wide) == [
        "side: only 0.25 mm of wood is left between cut (back) and its edge",
        "side: only 0.5 mm of wood is left between cut (back) and its far edge",
    ]
