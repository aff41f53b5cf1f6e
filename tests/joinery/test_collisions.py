"""Mortises keep clear of grooves, rebates, housings and each other; figures from an independent solid modeller."""

import pytest
from manifold3d import Manifold

from sequencer.diagnostics import InputError, NoOrderError
from sequencer.geometry.slots import SlotSolid
from sequencer.joinery import derive
from sequencer.operations import Slot, Trench
from tests.geometry.test_mortise import solid

WALL = 3.0
"""The least wall of the examples' shop, mm."""

SIDE = """[[part]]
id = "side"
quantity = 4
length = 200
width = 120
thickness = 16
[[joint]]
id = "corner"
kind = "case-mitre"
parts = ["side"]
"""


def housing(at, depth=5):
    """A housing across the inside of the sides, from this place to 6 mm further on."""
    return f'[[joint]]\nid = "shelf"\nkind = "housing"\nparts = ["side"]\nat = [{at}]\nwidth = 6\ndepth = {depth}\n'


def gaps(worklist, way=""):
    """Wood between every slot and every trench of a part, mm, by the solid modeller; of the operations of one way."""
    boxes = [cut for op in worklist.operations for cut in op.cuts if isinstance(cut, Trench)]
    bodies = {
        box: Manifold.cube([h - low for low, h in zip(box.low, box.high, strict=True)]).translate(box.low)
        for box in boxes
    }
    slots = [c for op in worklist.operations if way in op.id for c in op.cuts if isinstance(c, Slot)]
    assert slots
    return [
        solid(SlotSolid.of(slot)).min_gap(body, 500)
        for slot in slots
        for box, body in bodies.items()
        if box.part == slot.part
    ]


def test_a_way_whose_slots_come_too_near_a_housing_is_struck_out(job):
    """Plunged from the bevel the slots reach further under the inside than plunged from square ends."""
    made = derive(job(SIDE + housing(16)))
    (struck,) = made.struck_out
    assert (struck.joint, struck.way) == ("corner", "bevel-first")
    assert not made.choices
    assert min(gaps(made)) >= WALL - 0.01
    clear = derive(job(SIDE + housing(18)))
    assert not clear.struck_out
    nearest = min(gaps(clear, "bevel-first"))
    assert nearest >= WALL - 0.01
    assert "only 2.6 mm of wood would be left in side, between the slots in the left bevel" in struck.why
    assert nearest > 2.6


@pytest.mark.parametrize("at", [14, 15, 16])
def test_the_wood_told_to_be_left_is_that_of_the_solid_modeller(job, at):
    """The slots are those of the job with the housing further off, for nothing else places them."""
    told = float(derive(job(SIDE + housing(at))).struck_out[0].why.split("only ")[1].split(" mm")[0])
    away = derive(job(SIDE + housing(60)))
    box = Manifold.cube([6, 120, 5]).translate([at, 0, 0])
    slots = [c for op in away.operations if "bevel-first" in op.id for c in op.cuts if isinstance(c, Slot)]
    assert told == pytest.approx(min(solid(SlotSolid.of(slot)).min_gap(box, 500) for slot in slots), abs=0.06)


def test_no_way_is_left_where_the_housing_runs_through_the_slots(job):
    """Both ways are told, each with what would be left and what would pass."""
    with pytest.raises(NoOrderError) as refused:
        derive(job(SIDE + housing(11)))
    said = str(refused.value)
    assert "square-first: only 0.5 mm of wood would be left in side" in said
    assert "bevel-first: only 0 mm of wood would be left in side" in said
    assert "another place for the housing" in said


def test_a_groove_along_the_grain_moves_the_slots(job):
    """Wherever it runs across the width, they keep clear of it or the joint is refused."""
    kept = 0
    for start in range(4, 110, 7):
        groove = (
            f'[[joint]]\nid = "g"\nkind = "groove"\nparts = ["side"]\nfrom = {start}\nwidth = 6\ndepth = 5\n'
        )
        try:
            made = derive(job(SIDE + groove))
        except (InputError, NoOrderError):
            continue
        kept += 1
        assert min(gaps(made)) >= WALL - 0.01, start
    assert kept > 10


def test_slots_may_open_in_a_groove(job):
    """Rails that meet the grooved edge of their stiles are held by slips in that edge."""
    made = derive(
        job(
            '[[part]]\nid = "stile"\nquantity = 2\nlength = 400\nwidth = 60\nthickness = 20\n'
            '[[part]]\nid = "rail"\nquantity = 2\nlength = 200\nwidth = 60\nthickness = 20\n'
            '[[joint]]\nid = "frame"\nkind = "end-to-edge"\nparts = ["rail", "stile"]\n'
            '[[joint]]\nid = "panel"\nkind = "groove"\non = "edge"\nparts = ["stile"]\n'
            "from = 7\nwidth = 6\ndepth = 8\n"
        )
    )
    assert not made.struck_out
    assert min(gaps(made, "stile")) == 0


def test_slots_of_two_joints_too_near_each_other_are_refused(job):
    """A shelf's mortises in the face of a side run into those in its end: with the figure and the two joints."""
    with pytest.raises(InputError) as refused:
        derive(
            job(
                '[[part]]\nid = "shelf"\nquantity = 2\nlength = 400\nwidth = 120\nthickness = 18\n'
                + SIDE.replace("quantity = 4", "quantity = 4").replace("thickness = 16", "thickness = 18")
                + '[[joint]]\nid = "shelf"\nkind = "end-to-face"\nparts = ["shelf", "side"]\nat = [16]\n'
            )
        )
    said = str(refused.value)
    assert "of wood would be left in side, between the slots of" in said
    assert "shop minimum 3 mm" in said
