"""Slots in a board's face are set out from its nearer end, with figures worked out by hand.

The examples' fence reaches 60 mm; the sides are 640 mm long, the shelves 20 mm thick, their slots in the middle, unless
`slips.height` says otherwise.
"""

from random import Random

import pytest

from sequencer.joinery import derive
from sequencer.pipeline import order, prepare
from tests.joinery.test_listed_values import listing
from tests.joinery.test_measured_from import demand_registered
from tests.joinery.virtual_build import machine

LENGTH = 640


def part(name, length, quantity=2, thickness=20):
    return (
        f'[[part]]\nid = "{name}"\nquantity = {quantity}\nlength = {length}\nwidth = 220\n'
        f'thickness = {thickness}\nstock = "sized"\n'
    )


def shelves(at, more="", shelf="shelf", side="side"):
    return f'[[joint]]\nid = "{shelf} {side}"\nkind = "end-to-face"\nparts = ["{shelf}", "{side}"]\nat = {at}\n{more}\n'


def plunges(made, name="side"):
    return [op for op in made.operations if op.kind == "plunge" and op.parts == (name,)]


def places(op):
    """How far the slots' middles are from the left end, mm."""
    return {round(cut.mouth[0], 6) for cut in op.cuts}


@pytest.mark.parametrize(
    ("at", "ends", "place", "middles"),
    [
        ([590], {"right end"}, 40, {600}),  # 640 - 590 - 20 / 2
        ([571], {"right end"}, 59, {581}),
        ([30], {"left end"}, 40, {40}),
        ([30, 590], {"left end", "right end"}, 40, {40, 600}),
        ([0, 620], {"left end", "right end"}, 10, {10, 630}),
    ],
)
def test_the_nearer_end_lies_on_the_fence(job, at, ends, place, middles):
    """Places alike from both ends stand at one fence, and one card tells both."""
    made = derive(job(part("side", LENGTH) + part("shelf", 500, len(at)) + shelves(at)))
    (plunge,) = plunges(made)
    assert places(plunge) == middles
    assert plunge.settings["fence_height"] == place
    assert {each for each in ("left end", "right end") if each in plunge.notes.fence} == ends
    assert plunge.notes.check.expect.startswith(f"{place} mm to the middle of the slot, ")
    assert plunge.notes.check.measure.startswith(
        f"along the surface plunged into, from the {' or '.join(sorted(ends))};"
    )
    assert {surface for surface in plunge.registers_on if "end" in surface} == {f"side/{end}" for end in ends}
    assert [line.start for line in plunge.notes.lines] == ["edge"]  # rows beside both ends share it
    told = f"{place} mm from the {next(iter(ends))}" if len(ends) == 1 else "beside each end"
    assert plunge.notes.what.endswith(told)
    demand_registered(made.operations)


def test_a_shelf_flush_with_the_right_end_is_held_to_the_fence_of_its_own_end(job):
    """Both mortises are 10 mm from the surface on the fence: the back of the shelf, the right end of the side."""
    made = derive(
        job(part("side", LENGTH, 1) + part("shelf", 500, 1) + shelves([620], 'ends = ["left end"]'))
    )
    (side,), (shelf,) = plunges(made), plunges(made, "shelf")
    assert (side.settings["fence_height"], shelf.settings["fence_height"]) == (10, 10)
    (held,) = [mates for mates in made.mates if "mortiser.fence_height" in mates.hold]
    assert set(held.operations) == {side.id, shelf.id}


@pytest.mark.parametrize(
    ("at", "lines", "middles"),
    [
        ([490], {("right end", 130)}, {500}),  # 640 - 500 - 10: the offset of the base's side
        ([130, 490], {("left end", 130), ("right end", 130)}, {140, 500}),
        ([310], {("left end", 310)}, {320}),
    ],
)
def test_a_battens_line_is_measured_from_the_nearer_end(job, at, lines, middles):
    """Beyond the fence's reach: a place alike from both ends has a line from each, and all slots stay."""
    made = derive(job(part("side", LENGTH, 2) + part("shelf", 500, len(at)) + shelves(at)))
    (plunge,) = plunges(made)
    assert places(plunge) == middles
    assert "fence_height" not in plunge.settings
    told = [line for line in plunge.notes.lines if "batten" in line.what]
    assert {(line.start, *line.at) for line in told} == lines
    for line in told:
        assert f"lies towards the {line.start}; the base runs beyond the line" in line.what
        assert f"side/{line.start}" in plunge.registers_on
    demand_registered(made.operations)


@pytest.mark.parametrize("height", [8, 13])
@pytest.mark.parametrize("at", [0, 30, 100, 307, 310, 312, 320, 500, 590, 620])
def test_two_sides_are_set_out_from_one_end_in_the_whole(job, at, height):
    """Backs inside, one side has its left end down and the other its right end: what is the same way up is measured
    from the same end of both, the lower, too, where both are as near, and as far from it.

    The shelf's back lies down on its left end's side at `at`, on the other 640 - at - 20 (README, Joints).
    """
    slips = f"slips = {{ height = {height} }}"
    text = part("left", LENGTH, 1) + part("right", LENGTH, 1) + part("shelf", 500, 1)
    text += shelves([at], f'ends = ["left end"]\n{slips}', side="left")
    text += shelves([LENGTH - at - 20], f'ends = ["right end"]\n{slips}', side="right")
    made = derive(job(text))
    (left,), (right,) = plunges(made, "left"), plunges(made, "right")
    assert places(left) == {at + height}
    assert places(right) == {LENGTH - at - height}
    upper = at + height > LENGTH / 2
    place = LENGTH - at - height if upper else at + height
    for op, end in (
        (left, "right end" if upper else "left end"),
        (right, "left end" if upper else "right end"),
    ):
        assert op.notes.check.expect.startswith(f"{place} mm to the middle of the slot, ")
        assert op.notes.check.measure.startswith(f"along the surface plunged into, from the {end};")
        assert (end in op.notes.fence) == (place <= 60)
        assert op.settings.get("fence_height") == (place if place <= 60 else None)


def test_a_plunge_guided_by_the_right_end_comes_between_its_crosscut_and_its_bevel(job):
    """The divider at 241 of a top 300 mm long has its slots 300 - 241 - 9 = 50 mm from the right end, which the bevel
    takes away; that end is not there before the top is crosscut."""
    text = part("top", 300, thickness=18) + part("end", 400, thickness=18) + part("divider", 300, 2, 18)
    text = text.replace('stock = "sized"', 'stock = "planed"', 1)
    text += '[[joint]]\nid = "c"\nkind = "case-mitre"\nways = ["bevel-first"]\nparts = ["top", "end"]\n'
    made = order(prepare(job(text + shelves([241], 'ends = ["left end"]', "divider", "top"))), 5.0)
    steps = [op for setup in made.setups for op in setup.operations]
    (plunge,) = [op for op in plunges(made, "top") if op.joint == "divider top"]
    assert (plunge.settings["fence_height"], plunge.notes.fence) == (50, "right end")
    assert steps.index("crosscut-top") < steps.index(plunge.id) < steps.index("c-bevel-top")


@pytest.mark.parametrize("at", [[30], [590], [30, 590]])
def test_a_batten_guides_the_base_where_the_scale_cannot_be_set(job, at):
    """Of a fence that is set to 10 and 45 mm only, slots 40 mm from an end have none."""
    text = part("side", LENGTH) + part("shelf", 500, len(at)) + shelves(at)
    made = derive(listing(job, text, "mortiser", "fence_height", 10.0, 45.0))
    (plunge,) = plunges(made)
    assert "fence_height" not in plunge.settings
    assert {line.at for line in plunge.notes.lines if "batten" in line.what} == {(30,)}


def test_boards_are_whole_where_fence_and_rule_bear_on_them(job):
    """Sides with shelves anywhere, in the order planned: base and fence bear on whole wood, and no slot is left out."""
    random = Random(5)
    for _ in range(12):
        at = sorted({random.choice((0, 30, 60, 100, 310, 420, 540, 575, 600, 620)) for _ in range(3)})
        at = [a for n, a in enumerate(at) if n == 0 or a - at[n - 1] > 25]
        loaded = job(
            part("side", LENGTH, 1) + part("shelf", 500, len(at)) + shelves(at, 'ends = ["left end"]')
        )
        made = order(prepare(loaded), 5.0)
        by_id = {op.id: op for op in made.operations}
        steps = [by_id[op] for setup in made.setups for op in setup.operations]
        side = next(each for each in loaded.parts if each.id == "side")
        slots = machine(side, steps).slots
        assert {round(slot.mouth[0], 6) for _, slot in slots} == {a + 10 for a in at}
