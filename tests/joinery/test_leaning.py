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


def pushed(width, depth, slope, rim, lean):
    """A level board pushed outward into the groove of a side, at one height above the lower lip after another, until
    some point of its square edge, turned into the side's own section, is in the wood: how far beyond the lip it got,
    and how far the lower and the upper corner of its edge are in from the side's inside, all mm."""
    up = rect(1, radians(180 - slope if lean == "in" else slope))
    for high in np.arange(0.0, width, 0.01):
        across = np.arange(-1.1 * width, 2 * depth, 0.01)
        edge = np.linspace(high, high + rim, 9)[:, None] * 1j + across
        along, into = (
            (edge / up).real,
            (edge / (up * -1j)).real,
        )  # outward is a quarter turn back from up the side
        groove = (along > -1e-9) & (along < width + 1e-9) & (into < depth + 1e-9)
        free = np.all((into < 1e-9) | groove, axis=0)
        stop = len(free) if free.all() else int(np.argmin(free))
        if stop:
            yield across[stop - 1] + 0.01, into[0, stop - 1], into[-1, stop - 1]


def seated(width, depth, slope, rim, lean):
    """Whether a level board gets to the bottom of a groove with its whole edge in the wood."""
    return any(
        min(corners) > -0.02 and max(corners) > depth - 0.04
        for _, *corners in pushed(width, depth, slope, rim, lean)
    )


@pytest.mark.parametrize("lean", ["out", "in"])
@pytest.mark.parametrize(
    ("width", "depth", "slope", "most"),
    [(5, 4, 60, 3.1), (6, 6, 80, 5.0), (5, 4, 40, 0.3), (10, 6, 60, 7.5), (12, 6, 60, 9.8), (8, 2, 45, 2.8)],
)
def test_a_bottom_is_as_thick_as_goes_to_the_bottom_of_a_slanting_groove(
    job, width, depth, slope, most, lean
):
    """Held to a section pushed in point by point: what is a little thinner than told goes in, what is thicker not."""
    assert seated(width, depth, slope, most - 0.05, lean)
    assert not seated(width, depth, slope, most + 0.25, lean)
    groove = f"from = 10\nwidth = {width}\ndepth = {depth}"
    text = tray(8, slope, groove, f'lean = "{lean}"')
    assert not any("does not go" in says for says in told(job, part("bottom", 500, 500, most) + text))
    (says,) = told(job, part("bottom", 500, 500, most + 0.15) + text)
    assert "does not go into the groove g" in says
    assert f"takes the whole edge of {most:g} mm at most to its bottom; works: " in says
    assert says.endswith("its rim worked to the slope")


@pytest.mark.parametrize(
    ("width", "depth", "slope", "thick"), [(5, 4, 60, 4.7), (6, 6, 80, 6), (5, 4, 40, 3.7), (5, 5, 40, 4.3)]
)
@pytest.mark.parametrize("lean", ["out", "in"])
def test_a_groove_as_wide_as_is_told_takes_the_bottom(job, width, depth, slope, thick, lean):
    """And hardly more, by the section pushed in point by point."""
    text = tray(8, slope, f"from = 10\nwidth = {width}\ndepth = {depth}", f'lean = "{lean}"')
    board = part("bottom", 500, 500, thick)
    (says,) = told(job, board + text)
    assert ("this takes nothing to its bottom; works: a groove" in says) == (depth == 5)
    wide = float(says.split("a groove ")[1].split(" mm wide")[0])
    assert seated(wide, depth, slope, thick, lean)
    assert not seated(wide - 0.3, depth, slope, thick, lean)
    assert not told(
        job, board + tray(8, slope, f"from = 10\nwidth = {wide}\ndepth = {depth}", f'lean = "{lean}"')
    )


def test_a_bottom_is_loose_where_its_groove_takes_one_more_than_a_millimetre_thicker(job):
    """A groove 10 x 6 at 60 degrees takes 7.54; one 10 x 2.5 at 45 would take 10.6 between its walls, but holds no more
    than 3.53 with the whole edge, so that only another width is told."""
    text = tray(8, 60, "from = 10\nwidth = 10\ndepth = 6")
    assert not told(job, part("bottom", 500, 500, 6.6) + text)
    (says,) = told(job, part("bottom", 500, 500, 6.5) + text)
    assert "is loose in the groove g" in says
    assert "leaves 7.5 mm between its walls there; works: 7.5 mm thick, or a groove " in says
    board = part("bottom", 500, 500, 3.5)
    (says,) = told(job, board + tray(8, 45, "from = 10\nwidth = 10\ndepth = 2.5"))
    assert "is loose in" in says
    assert says.endswith("leaves 10.6 mm between its walls there; works: a groove 5 mm wide")
    assert not told(job, board + tray(8, 45, "from = 10\nwidth = 5\ndepth = 2.5"))
    # too thick for that depth, whatever the width: neither a wider groove nor a board that would be loose is told
    (says,) = told(job, part("bottom", 500, 500, 4) + tray(8, 45, "from = 10\nwidth = 10\ndepth = 2.5"))
    assert says.endswith(
        "takes the whole edge of 3.5 mm at most to its bottom; works: its rim worked to the slope"
    )


def inch_tray(thick, width, depth, slope):
    """An eight-sided tray in inches; sizes as they are told, in inches."""
    return part("bottom", 20, 20, f'"{thick}"') + (
        part("side", 7, "2.5", '"9/16"', 8)
        + f'[[joint]]\nid = "corner"\nkind = "splayed"\nparts = ["side"]\nsides = 8\nslope = {slope}\n'
        + f'[[joint]]\nid = "g"\nkind = "groove"\nparts = ["side"]\nfrom = "1/2"\nwidth = "{width}"\n'
        + f'depth = "{depth}"\nholds = "bottom"\n'
    )


@pytest.mark.parametrize("slope", [80, 70, 55])
@pytest.mark.parametrize(
    ("thick", "width", "depth"),
    [("3/8", "3/8", "1/4"), ("1/4", "1/4", "1/4"), ("1/4", "1/2", "1/4"), ("1/4", "1/4", "1/8")],
)
def test_what_is_told_to_work_in_inches_is_not_remarked_again(job, thick, width, depth, slope):
    """Sizes are told to a 64th, on the side on which they work, so without decimals; done as told they pass."""

    def says(*sizes):
        remarks = derive(job(inch_tray(*sizes), unit="in")).remarks
        return [remark for remark in remarks if remark.startswith("bottom")]

    (first,) = says(thick, width, depth, slope)
    assert "(" not in first
    works = [each for each in first.split("; works: ")[1].split(", or ") if " in " in each]
    assert works
    for size, what in (each.removeprefix("a groove ").split(" in ") for each in works):
        assert not says(*((size, width) if what == "thick" else (thick, size)), depth, slope)


def test_what_a_groove_in_inches_takes_is_told_to_the_64th_below(job):
    """3/8 x 1/4 at 70 degrees: (0.375 sin 70 - 0.25 cos 70) / sin^2 70 = 0.3022, 19.3 64ths; a bottom of 3/8 needs
    0.375 sin 70 + 0.25 / tan 70 = 0.4434, 28.4 of them."""
    (says,) = [s for s in derive(job(inch_tray("3/8", "3/8", "1/4", 70), unit="in")).remarks if "bottom" in s]
    assert "takes the whole edge of 19/64 in at most" in says
    assert "works: 19/64 in thick, or a groove 29/64 in wide, or its rim" in says


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
    for (name, lip), size in zip(lips.items(), (7, 6.4), strict=True):
        text += (
            f'[[joint]]\nid = "g {name}"\nkind = "groove"\nparts = ["{name}"]\nfrom = {lip}\nwidth = {size}\n'
        )
        text += 'depth = 4\nholds = "bottom"\n'
    across, along = apart(job, part("bottom", 9, 9, 5) + text, lips)
    deep = 8 / sin(radians(60)), 8 / sin(radians(75))
    for width, length, said in (
        (across + 0.1, along + 0.1, []),
        (across - 0.1, along + 0.1, ["falls through"]),
        (across + 0.1, along - 0.1, ["falls through"]),
        (across + deep[0] - 0.6, along + deep[1] - 0.6, []),
        (across + deep[0] - 0.4, along + deep[1] - 0.4, ["leaves no room", "leaves no room"]),
    ):
        found = told(job, part("bottom", round(length, 2), round(width, 2), 5) + text)
        assert len(found) == len(said), found
        assert all(word in says for word, says in zip(said, found, strict=True))


def goes_in(width, depth, slope, rim):
    """How far beyond the lower lip a level board goes into the groove of a side that leans in, mm."""
    return max(0.0, *(far for far, _, _ in pushed(width, depth, slope, rim, "in")))


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
            assert float(
                says.split("lying level in the grooves at most ")[1].removesuffix(" mm")
            ) == pytest.approx(most, abs=0.1)


def test_in_sides_that_lean_out_a_bottom_is_held_to_where_it_lies_on_the_lips(job):
    """A groove 10 x 6 at 60 degrees: on the lip a bottom of 5.6 goes 6 / sin 60 = 6.93 in. Lifted it goes farther, so
    that this is not the most there is, and is not called so."""
    far, *_ = max(pushed(10, 6, 60, 5.6, "out"))
    lying, *_ = next(pushed(10, 6, 60, 5.6, "out"))
    assert (far, lying) == (pytest.approx(7.75, abs=0.03), pytest.approx(6 / sin(radians(60)), abs=0.03))
    text = tray(4, 60, "from = 10\nwidth = 10\ndepth = 6", length=250.0)
    free, _ = apart(job, part("bottom", 9, 9, 3.5) + text, {"side": 10})
    size = round(free + 2 * lying + 0.3, 2)
    says, *_ = [s for s in told(job, part("bottom", size, size, 6.6) + text) if "loose" not in s]
    most = float(says.split("lying on the lower lips at most ")[1].removesuffix(" mm"))
    assert most == pytest.approx(free + 2 * lying, abs=0.1)


def test_a_bottom_with_a_rim_of_its_own_may_be_thin_there(job):
    """Rebated round, its rim is worked further as its maker likes: what is as thin as can be goes in depth sin slope,
    to the lower corner of the groove's bottom."""
    text = tray(4, 60, "from = 10\nwidth = 12\ndepth = 6", 'lean = "in"', 250.0)
    free, _ = apart(job, part("bottom", 9, 9, 3.5) + text, {"side": 10})
    rim = '[[joint]]\nid = "rim"\nkind = "rebate"\nparts = ["bottom"]\nwidth = 4\ndepth = 2\n'
    most = free + 12 * sin(radians(60))
    for size, remarks in ((most - 0.6, 0), (most - 0.4, 1)):
        assert len(told(job, part("bottom", round(size, 2), round(size, 2), 7) + text + rim)) == remarks
