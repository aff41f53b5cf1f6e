"""Bottoms in the grooves of sides that lean: the section of a groove turned corner by corner, the ring put together."""

from cmath import rect
from math import radians, sin

import numpy as np
import pytest

from sequencer.joinery import derive
from tests.joinery.assemblies import assembled


def part(id, length, width, thickness, quantity=1):
    """A part."""
    return (
        f'[[part]]\nid = "{id}"\nquantity = {quantity}\nlength = {length}\nwidth = {width}\n'
        f'thickness = {thickness}\nstock = "sized"\n'
    )


def tray(sides, slope, groove, more="", length=170.0):
    """Sides alike, with a groove for the bottom."""
    return (
        part("side", length, 60, 14, sides)
        + f'[[joint]]\nid = "corner"\nkind = "splayed"\nparts = ["side"]\nsides = {sides}\nslope = {slope}\n{more}\n'
        + f'[[joint]]\nid = "g"\nkind = "groove"\nparts = ["side"]\n{groove}\nholds = "bottom"\n'
    )


def told(job, text):
    """What is remarked of the bottom."""
    return [says for says in derive(job(text)).remarks if says.startswith("bottom")]


def height(width, depth, slope):
    """What a level board has between the walls of a groove all the way in: its four corners turned, those of the upper
    wall's lower end less those of the lower wall's upper end."""
    along, into = rect(width, radians(slope)), rect(depth, radians(slope - 90))
    lower, upper = (0j, into), (along, along + into)
    return min(each.imag for each in upper) - max(each.imag for each in lower)


@pytest.mark.parametrize(
    ("width", "depth", "slope", "left"),
    [(5, 4, 60, "2.3"), (8, 2, 45, "4.2"), (6, 6, 80, "4.8"), (5, 4, 40, "0.1"), (5, 5, 40, "0")],
)
def test_a_bottom_is_as_thick_as_a_slanting_groove_leaves_room(job, width, depth, slope, left):
    """A groove 5 wide and 4 deep in a side at 60 degrees: 4.33 high at its mouth, 2.33 to its bottom."""
    room = height(width, depth, slope)
    assert left == f"{max(0, int(10 * room)) / 10:g}"
    groove = f"from = 10\nwidth = {width}\ndepth = {depth}"
    text = tray(8, slope, groove)
    if room > 0.3:
        assert not told(job, part("bottom", 500, 500, round(room - 0.01, 3)) + text)
    (says,) = told(job, part("bottom", 500, 500, width) + text)
    assert "does not go into the groove g" in says
    assert f"leaves {left} mm of height to its bottom; works: " in says
    assert says.endswith("or its rim worked to the slope")
    # as wide as is told, it does
    wide = float(says.split("a groove ")[1].split(" mm wide")[0])
    assert width - 0.001 <= height(wide, depth, slope) < width + 0.1
    if room > 1.5:
        (loose,) = told(job, part("bottom", 500, 500, round(room - 1.1, 3)) + text)
        assert "is loose in" in loose


def test_upright_sides_and_worked_rims_are_as_before(job):
    """A side at 90 degrees leaves the groove's own width; a bottom with a rebate round it is its maker's."""
    groove = "from = 10\nwidth = 5\ndepth = 4"
    assert not told(job, part("bottom", 390, 390, 5) + tray(8, 90, groove))
    rim = '[[joint]]\nid = "rim"\nkind = "rebate"\nparts = ["bottom"]\nwidth = 4\ndepth = 2\n'
    assert not told(job, part("bottom", 390, 390, 5) + tray(8, 60, groove) + rim)


def apart(job, text, lips):
    """How far the lower lips of the grooves of facing sides are apart, once the ring is put together; `lips`: how high
    up its board the lip of each part's groove is."""
    first, *_ = assembled(job(text))
    ring = first.placed
    one, two = ring[0].rotation[:, 0], ring[1].rotation[:, 0]
    up = np.cross(one, two)
    up /= np.linalg.norm(up)
    found = []
    for k in range(len(ring) // 2):
        here, there = ring[k], ring[k + len(ring) // 2]
        a, b = (p.rotation @ np.array([0.0, lips[p.part], 0.0]) + p.origin for p in (here, there))
        found.append(abs(float((b - a) @ np.cross(up, here.rotation[:, 0]))))
    return found


@pytest.mark.parametrize("lean", ["out", "in"])
@pytest.mark.parametrize("beside", ["edge", "far edge"])
@pytest.mark.parametrize("sides", [4, 6, 8])
def test_a_bottom_falls_through_where_it_does_not_reach_the_lips(job, sides, beside, lean):
    """Of sides all alike: no less than facing grooves' lower lips are apart."""
    text = tray(sides, 70, f'beside = "{beside}"\nfrom = 10\nwidth = 6\ndepth = 4', f'lean = "{lean}"', 250.0)
    free = apart(job, part("bottom", 9, 9, 3.5) + text, {"side": 10 if beside == "edge" else 60 - 16})
    assert max(free) - min(free) < 0.01
    small = told(job, part("bottom", round(free[0] - 0.1, 2), 600, 4) + text)
    assert any("falls through" in says for says in small)
    large = told(job, part("bottom", round(free[0] + 0.1, 2), round(free[0] + 0.1, 2), 4) + text)
    assert not any("falls through" in says for says in large)


def test_a_bottom_between_sides_of_two_slopes(job):
    """A rectangle whose long sides lean more than its short ones, with a groove each: held to both ways, and to the
    bottoms of the grooves, which are depth / sin slope behind the lips."""
    wide = 80 * sin(radians(60)) / sin(radians(75))
    text = part("long", 400, 80, 14, 2) + part("short", 260, round(wide, 4), 14, 2)
    text += (
        '[[joint]]\nid = "corner"\nkind = "splayed"\nparts = ["long", "short"]\nsides = 4\nslope = [60, 75]\n'
    )
    lips = {"long": 10.0, "short": 9.0}
    for (name, lip), size in zip(lips.items(), (8, 6.4), strict=True):
        text += (
            f'[[joint]]\nid = "g {name}"\nkind = "groove"\nparts = ["{name}"]\nfrom = {lip}\nwidth = {size}\n'
        )
        text += 'depth = 4\nholds = "bottom"\n'
    across, along = apart(job, part("bottom", 9, 9, 4.5) + text, lips)
    deep = 8 / sin(radians(60)), 8 / sin(radians(75))
    for width, length, said in (
        (across + 0.1, along + 0.1, []),
        (across - 0.1, along + 0.1, ["falls through"]),
        (across + 0.1, along - 0.1, ["falls through"]),
        (across + deep[0] - 0.6, along + deep[1] - 0.6, []),
        (across + deep[0] - 0.4, along + deep[1] - 0.4, ["leaves no room", "leaves no room"]),
    ):
        found = told(job, part("bottom", round(length, 2), round(width, 2), 4.5) + text)
        assert len(found) == len(said), found
        assert all(word in says for word, says in zip(said, found, strict=True))


def goes_in(width, depth, slope, rim):
    """How far beyond the lower lip a level board goes into the groove of a side that leans in, mm: pushed outward at
    one height after another until some point of its square edge, turned into the side's own section, is in the wood."""
    up = rect(1, radians(180 - slope))  # up the side; outward across it is this a quarter turn back
    farthest = 0.0
    for high in np.arange(0.0, width, 0.01):
        edge = np.linspace(high, high + rim, 9)[:, None] * 1j + np.arange(0.0, 2 * depth, 0.01)
        along, into = (edge / up).real, (edge / (up * -1j)).real
        groove = (along > -1e-9) & (along < width + 1e-9) & (into < depth + 1e-9)
        free = np.all((into < 1e-9) | groove, axis=0)
        farthest = max(farthest, 0.01 * (len(free) if free.all() else int(np.argmin(free))))
    return farthest


@pytest.mark.parametrize(
    ("width", "depth", "slope", "rim"),
    [(12, 6, 60, 7), (12, 6, 60, 3), (8, 6, 75, 6), (14, 4, 45, 5), (14, 4, 45, 2)],
)
def test_a_bottom_goes_less_far_into_sides_that_lean_in(job, width, depth, slope, rim):
    """The lower wall rises outward and lifts it, the groove's bottom leans in over it."""
    text = tray(4, slope, f"from = 10\nwidth = {width}\ndepth = {depth}", 'lean = "in"', 250.0)
    free, _ = apart(job, part("bottom", 9, 9, 3.5) + text, {"side": 10})
    most = free + 2 * goes_in(width, depth, slope, rim)
    for size, fits in ((most - 0.6, True), (most - 0.4, False)):
        board = part("bottom", round(size, 2), round(size, 2), rim)
        found = [says for says in told(job, board + text) if "is loose in" not in says]
        assert ["leaves no room" in says for says in found] == [True] * (not fits)
        for says in found:
            assert float(says.split("at most ")[1].removesuffix(" mm")) == pytest.approx(most, abs=0.1)


def test_a_bottom_with_a_rim_of_its_own_may_be_thin_there(job):
    """Rebated round, its rim is worked further as its maker likes: what is as thin as can be goes in depth sin slope,
    to the lower corner of the groove's bottom."""
    text = tray(4, 60, "from = 10\nwidth = 12\ndepth = 6", 'lean = "in"', 250.0)
    free, _ = apart(job, part("bottom", 9, 9, 3.5) + text, {"side": 10})
    rim = '[[joint]]\nid = "rim"\nkind = "rebate"\nparts = ["bottom"]\nwidth = 4\ndepth = 2\n'
    most = free + 12 * sin(radians(60))
    for size, remarks in ((most - 0.6, 0), (most - 0.4, 1)):
        assert len(told(job, part("bottom", round(size, 2), round(size, 2), 7) + text + rim)) == remarks
