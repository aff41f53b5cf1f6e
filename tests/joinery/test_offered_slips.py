"""Slips told to work pass when they are written as they are told."""

from sequencer.joinery import derive
from tests.joinery.test_held import joint, part

SLIPS = "slips = {{ {} }}"


def frame(slips):
    """Four unlike boards, grooved and rebated near their edges."""
    boards = "".join(
        part(name, length, 80, 30, 1) for name, length in zip("abcd", (400, 300, 400, 300), strict=True)
    )
    edge = 'on = "far edge"\nbeside = "face"\n'
    back = 'on = "back"\nbeside = "far edge"\n'
    return (
        boards
        + joint("j", "frame-mitre", ["a", "b", "c", "d"], SLIPS.format(slips))
        + joint("g0", "groove", ["a"], edge + "from = 13\nwidth = 6\ndepth = 6")
        + joint("g1", "groove", ["a"], back + "from = 8\nwidth = 6\ndepth = 5")
        + joint("h0", "groove", ["b"], edge + "from = 3\nwidth = 6\ndepth = 4")
        + joint("i0", "rebate", ["c"], back + "width = 10\ndepth = 5")
    )


def test_centres_are_told_where_the_slips_hold_at_no_others(job, refused):
    """Spread as the habit has them, two slips as told leave 4.9 of the 5 mm of wood kept near the tip."""
    shop = "\nleast_wall = 5\n"
    (fault,) = refused(frame("count = 3, width = 32, length = 16"), shop=shop)
    told = "2 slips, 10 mm × 26 mm × 8 mm, 5 mm and 5 mm deep, slips.height 15 mm"
    assert fault.accepted == f"{told}, centres at 26.5 mm, 66.8 mm"
    taken = "count = 2, thickness = 10, width = 26, length = 8, depths = [5, 5], height = 15"
    (fault,) = refused(frame(taken), shop=shop)
    assert "would be 4.9 mm" in fault.message
    assert derive(job(frame(f"{taken}, at = [26.5, 66.8]"), shop=shop))
