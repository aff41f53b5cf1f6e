"""What the joints' report tells of glue and of thinner slips, against figures worked out by hand."""

from math import cos, radians, sin

import pytest
from rich.console import Console

from sequencer.joinery import joint_report
from sequencer.report.terminal_joints import print_joints
from tests.joinery.test_virtual_build import SHOP, job_of, joint, part

CUTTERS = '\n[[station.setting]]\nid = "cutter"\nmeasures = "length"\nvalues = [4, 5, 6]\nreset = 1\n'


def told(text, shop=SHOP, unit="mm"):
    (each,) = joint_report(job_of(text, shop, unit))
    return each


def rail(slips):
    rails = part("rail", 400, 70, 20, 2) + part("stile", 500, 70, 20, 2)
    return told(
        rails + joint("end-to-edge", ["rail", "stile"], f"slips = {{ thickness = 6, width = 32, {slips} }}")
    )


def ring(slips, shop=SHOP, thickness=30):
    more = f"corner = 135\nslips = {{ {slips} }}"
    return told(part("side", 300, 100, thickness, 8) + joint("case-mitre", ["side"], more), shop)


@pytest.mark.parametrize(
    ("slips", "one", "other"),
    [
        ("length = 10, depths = [6, 6]", 5, 5),
        ("length = 10, depths = [28, 28]", 5, 5),
        ("length = 10, depths = [28, 6]", 5, 5),
        ("length = 16, depths = [28, 6]", 11, 5),
        ("length = 16, depths = [6, 28]", 5, 11),
        ("length = 30, depths = [16, 16]", 15, 15),
        ("length = 31, depths = [17, 16]", 16, 15),
        ("depths = [12, 18]", 11, 17),
    ],
)
def test_glue_counts_as_much_of_the_slots_as_the_slip_fills(slips, one, other):
    """Both flat cheeks of a slip 32 wide and 6 thick, less its round sides, as deep as it lies in each half: half its
    length, or in a shallow one what a millimetre of glue room leaves."""
    (way,) = rail(slips).ways
    assert [glue.long_grain for glue in way.glue] == pytest.approx([2 * (32 - 6) * one, 2 * (32 - 6) * other])


def test_deeper_mortises_hold_no_more_of_a_slip():
    """Neither areas nor the relative figure, nor that beside an integral tenon, change with room the slip leaves."""
    (deep,), (shallow,) = (
        ring(f"thickness = 6, width = 32, length = 10, depths = [{d}, {d}]").ways for d in (18, 6)
    )
    assert deep.depths != shallow.depths
    assert (deep.glue, deep.relative, deep.against_integral) == (
        shallow.glue,
        shallow.relative,
        shallow.against_integral,
    )


def leans(slot, slip, depth):
    """Degrees a slip leans in a slot, found by trying: its section then just spans the slot."""
    return max(
        k / 1000
        for k in range(45000)
        if slip * cos(radians(k / 1000)) + depth * sin(radians(k / 1000)) <= slot
    )


@pytest.mark.parametrize(
    ("slips", "slot", "thinner", "held"),
    [
        ("thickness = 6, depths = [6, 18]", 6, 5, (5, 17)),
        ("thickness = 6, depths = [18, 6]", 6, 5, (17, 5)),
        ("thickness = 6, depths = [9, 9]", 6, 5, (8, 8)),
        ("thickness = 5, depths = [9, 9]", 5, 4, (8, 8)),
    ],
)
def test_thinner_slips_are_those_of_the_mortisers_cutters(slips, slot, thinner, held):
    """The next thinner slip is made to a cutter that the mortiser lists, and leans in each half as deep as it lies
    there."""
    play = sum(leans(slot, thinner, depth) for depth in held)
    remedy = ring(slips, SHOP + CUTTERS).off.remedy
    assert remedy.startswith(f"slips {thinner} mm thick give ")
    assert float(remedy.split()[5]) == pytest.approx(play, abs=0.01)


def test_thinner_slips_are_those_the_shop_has():
    """Of slips that the shop has, one as wide and long, but thinner, is told; where it has none, they are planed."""
    ready = "".join(
        f"[[joinery.slips]]\nthickness = {size[0]}\nwidth = {size[1]}\nlength = {size[2]}\n"
        for size in ((6, 32, 20), (5, 26, 20), (4, 32, 20))
    )
    assert ring("thickness = 6", SHOP + CUTTERS + ready).off.remedy.startswith("slips 4 mm thick give ")
    assert ring("thickness = 4", SHOP + CUTTERS + ready).off.remedy.startswith(
        "plane the slips a little thinner"
    )


@pytest.mark.parametrize(
    ("unit", "shop_unit", "cutters", "thick", "room"),
    [
        ("mm", "mm", "[5, 6]", "5 mm", "0.5 mm"),
        ("in", "mm", "[5, 6]", "5 mm", "0.020 in"),
        ("in", "in", '["3/16 in", "1/4 in"]', "3/16 in", "1/32 in"),
        ("mm", "in", '["3/16 in", "1/4 in"]', "3/16 in", "0.79 mm"),
    ],
)
def test_thinner_slips_are_told_in_the_units_of_shop_and_job(unit, shop_unit, cutters, thick, room):
    """A slip in the shop's unit, as its cutter is marked; the room at each cheek, half of what its slot is wider, in
    the job's: (6 - 5) / 2 mm is 0.0197 in, (1/4 - 3/16) / 2 in is 1/32 in or 0.794 mm."""
    shop = (
        SHOP.replace('unit = "mm"', f'unit = "{shop_unit}"')
        .replace("2.5", '"2.5 mm"')
        .replace("60", '"60 mm"')
    )
    shop += CUTTERS.replace("[4, 5, 6]", cutters)
    slot = "6 mm" if shop_unit == "mm" else "1/4 in"
    text = part("side", '"300 mm"', '"100 mm"', '"30 mm"', 8)
    text += joint("case-mitre", ["side"], f'corner = 135\nslips.thickness = "{slot}"')
    remedy = told(text, shop, unit).off.remedy
    assert remedy.startswith(f"slips {thick} thick give ")
    assert remedy.endswith(f"thickened epoxy fills {room} at each cheek")


def test_slips_to_be_planed_are_told_as_their_cutter_is_marked():
    """The one cutter is 6 mm in a shop that tells mm: in a job in inches, too."""
    text = part("side", '"300 mm"', '"100 mm"', '"30 mm"', 8)
    text += joint("case-mitre", ["side"], "corner = 135")
    remedy = told(text, SHOP + CUTTERS.replace("[4, 5, 6]", "[6]"), "in").off.remedy
    assert remedy.startswith("plane the slips a little thinner than 6 mm, ")


@pytest.mark.parametrize(
    ("kind", "size", "left"),
    [
        ("rebate", 'on = "back"\nwidth = 8\ndepth = 5', 2),  # a slot 6 wide in the middle of 20: from 7 to 13
        ("rebate", 'on = "face"\nwidth = 8\ndepth = 6', 1),
        ("rebate", 'on = "back"\nwidth = 8\ndepth = 4', None),  # 3 are the least wall
        ("rebate", 'on = "back"\nwidth = 8\ndepth = 9', 0),
        ("groove", 'on = "edge"\nbeside = "face"\nfrom = 1\nwidth = 4\ndepth = 8', 2),
        ("groove", 'on = "edge"\nbeside = "face"\nfrom = 7\nwidth = 6\ndepth = 8', 0),
    ],
)
def test_thin_walls_beside_open_trenches_are_listed(kind, size, left):
    """Rails meet the rebated or grooved edge of their stiles: what is left beside the slots there is told, unless it is
    the shop's least wall, and 0 where they open in it."""
    text = part("rail", 400, 70, 20, 2) + part("stile", 500, 70, 20, 2)
    text += joint("end-to-edge", ["rail", "stile"], "slips = { thickness = 6, width = 32, length = 32 }")
    text += f'[[joint]]\nid = "glass"\nkind = "{kind}"\nparts = ["stile"]\n{size}\n'
    (each,) = joint_report(job_of(text, SHOP.replace("least_wall = 2.5", "least_wall = 3")))
    walls = {(w.part, w.surface): w.left for w in each.ways[0].walls}
    found = {key: left for key, left in walls.items() if "glass" in key[1]}
    assert found == ({} if left is None else {("stile", f"{kind} glass"): pytest.approx(left, abs=1e-6)})


def test_a_slot_that_opens_in_a_groove_is_told_to(capsys):
    """The terminal tells no wall of 0 mm."""
    text = (
        part("rail", 400, 70, 20, 2) + part("stile", 500, 70, 20, 2) + joint("end-to-edge", ["rail", "stile"])
    )
    text += '[[joint]]\nid = "panel"\nkind = "groove"\nparts = ["stile"]\non = "edge"\nfrom = 7\nwidth = 6\ndepth = 8\n'
    print_joints(joint_report(job_of(text)), Console(width=100))
    assert "none to the groove panel of stile: slots open in it" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (
            part("leg", 400, 45, 45, 4)
            + part("apron", 400, 80, 20, 4)
            + joint("leg-to-apron", ["apron"], 'leg = "leg"\nsetback = 2'),
            "10 mm from the face of apron",
        ),
        (
            part("side", 400, 200, 20, 2)
            + part("shelf", 400, 200, 20, 1)
            + joint("end-to-face", ["shelf", "side"], "at = [190]"),
            "10 mm from the back of shelf",
        ),
        (
            part("side", 300, 100, 20, 4)
            + joint("case-mitre", ["side"], 'ways = ["square-first"]\nslips = { height = 9.5 }'),
            "9.5 mm from the face of side",
        ),
    ],
)
def test_the_height_is_told_by_what_it_is_measured_from(text, says, capsys):
    """The fence stands at 12 for a leg set back by 2 mm, a batten guides the base at a shelf in the middle of a side,
    and one half of a corner plunged square is measured from its end: none of these is the fence's height."""
    print_joints(joint_report(job_of(text)), Console(width=100))
    printed = " ".join(capsys.readouterr().out.split())
    assert f"height {says} to the middle of the slots" in printed
    assert "fence height" not in printed
