"""Grooves, rebates and housings from different surfaces of one part must leave wood between them."""

import random

import numpy as np
import pytest
from manifold3d import Manifold

from sequencer.diagnostics import InputError
from sequencer.joinery import derive
from sequencer.joinery.basis.floor import Floor
from sequencer.joinery.trenches.cuts import trenches_in
from sequencer.joinery.trenches.webs import parted

SIDE = '[[part]]\nid = "side"\nlength = 300\nwidth = 120\nthickness = 18\nstock = "sized"\n'


def trench(id, kind, size):
    """A groove, rebate or housing of the side; `size` is where it is, how wide and how deep."""
    return f'[[joint]]\nid = "{id}"\nkind = "{kind}"\nparts = ["side"]\n{size}\n'


BACK = 'on = "back"\nfrom = 10\nwidth = 6\ndepth = {}'
FACE = 'on = "face"\nfrom = {}\nwidth = 6\ndepth = {}'
EDGE = 'on = "edge"\nbeside = "face"\nfrom = {}\nwidth = 5\ndepth = {}'


@pytest.mark.parametrize(
    "other",
    [
        trench("b", "groove", FACE.format(10, 10)),  # 10 and 10 of 18
        trench("b", "groove", FACE.format(10, 8)),  # bottom to bottom
        trench("b", "groove", FACE.format(16, 9)),  # side to side
        trench("b", "rebate", 'on = "face"\nwidth = 11\ndepth = 8'),
        trench("b", "groove", EDGE.format(10, 10)),  # the corner between the two falls off
    ],
)
def test_what_would_be_cut_apart_is_refused(refused, other):
    """A groove 10 to 16 mm from the edge and 10 deep in the back meets these."""
    (fault,) = refused(SIDE + trench("a", "groove", BACK.format(10)) + other)
    assert "meet: no wood is left between them" in fault.message
    assert 'the groove "a" in its back' in fault.message
    assert 'joint "b"' in fault.where
    assert "leave 3 mm" in fault.accepted


STRIP = SIDE.replace("width = 120", "width = 50").replace("thickness = 18", "thickness = 20")
FAR_EDGE = 'on = "far edge"\nbeside = "back"\nfrom = {}\nwidth = 5\ndepth = {}'


def pieces(rebate, start, depth):
    """How many pieces a rebate 10 deep beside the edge and a groove 5 wide in the far edge leave (manifold3d)."""

    def box(low, high):
        return Manifold.cube([b - a for a, b in zip(low, high, strict=True)]).translate(low)

    wood = box((0, 0, 0), (300, 50, 20)) - box((-1, -1, -1), (301, rebate, 10))
    groove = box((-1, 50 - depth, start or -1), (301, 51, start + 5))
    return len((wood - groove).decompose())


@pytest.mark.parametrize(
    ("rebate", "start", "depth"),
    [(40, 4, 12), (40, 4, 9), (30, 0, 12), (40, 0, 12), (40, 9, 12), (40, 11, 12), (20, 4, 25)],
)
@pytest.mark.parametrize("kind", ["rebate", "groove"])
def test_a_rebate_and_a_groove_in_the_other_edge_may_part_the_board(job, kind, rebate, start, depth):
    """With the edge a rebate runs along a groove makes a step; from the other edge it takes off what is between, unless
    it is open to the back itself. A groove from the edge on is a rebate by another name."""
    where = "from = 0\n" if kind == "groove" else 'beside = "edge"\n'
    text = STRIP + trench("a", kind, f'on = "back"\n{where}width = {rebate}\ndepth = 10')
    text += trench("b", "groove", FAR_EDGE.format(start, depth))
    try:
        derive(job(text))
        told = ""
    except InputError as refused:
        told = str(refused)
    assert ("meet: no wood is left between them" in told) == (pieces(rebate, start, depth) > 1)


def test_housings_from_both_faces_at_one_place_are_refused(refused):
    """10 and 10 mm deep in 18 mm part the board."""
    at = "at = [100]\nwidth = 10\ndepth = 10"
    text = SIDE + trench("a", "housing", at) + trench("b", "housing", f'{at}\non = "face"')
    (fault,) = refused(text)
    assert 'the housing in the face of side and the housing "a" in its back meet' in fault.message


@pytest.mark.parametrize(
    ("one", "other", "left"),
    [
        (("groove", BACK.format(10)), ("groove", FACE.format(10, 5)), ""),  # 18 - 15
        (("groove", BACK.format(10)), ("groove", FACE.format(10, 6)), "only 2 mm"),
        # 1 mm apart across the width and 2 mm in the thickness: their corners are sqrt 5 apart
        (("groove", BACK.format(8)), ("groove", FACE.format(17, 8)), "only 2.2 mm"),
        (("groove", BACK.format(10)), ("groove", FACE.format(19, 10)), ""),
        (
            ("groove", BACK.format(10)),
            ("housing", 'on = "face"\nat = [9]\nwidth = 6\ndepth = 10'),
            "go through it",
        ),
        # a grooved edge with a housing across it, a step, a wide groove, a tongue
        (("housing", "at = [100]\nwidth = 10\ndepth = 10"), ("groove", EDGE.format(10, 10)), ""),
        (("rebate", "width = 10\ndepth = 8"), ("groove", EDGE.format(9, 12)), ""),
        (("groove", BACK.format(10)), ("groove", BACK.format(8).replace("10", "12")), ""),
        (("rebate", "width = 8\ndepth = 6"), ("rebate", 'on = "face"\nwidth = 8\ndepth = 6'), ""),
    ],
)
def test_what_stays_whole_is_made(job, one, other, left):
    """Less than the shop's least wall of 3 mm is told, and a hole where two cross; all else passes without a word."""
    found = [
        says for says in derive(job(SIDE + trench("a", *one) + trench("b", *other))).remarks if "a (" in says
    ]
    assert len(found) == bool(left)
    assert all(left in says for says in found)


@pytest.mark.parametrize(
    ("one", "other", "told"),
    [
        ("width = 8\ndepth = 10", 'on = "face"\nwidth = 12\ndepth = 7', "only 1 mm of wood is left"),
        (
            "width = 8\ndepth = 9",
            'on = "face"\nbeside = "left end"\nwidth = 9\ndepth = 9',
            "go through it where",
        ),
    ],
)
def test_rebates_in_face_and_back_leave_the_board_whole(job, one, other, told):
    """18 mm thick: 10 and 7 mm along one edge leave a thin tongue, 9 and 9 along an edge and an end a notch."""
    made = derive(job(SIDE + trench("a", "rebate", one) + trench("b", "rebate", other)))
    assert [told in says for says in made.remarks if "a (" in says] == [True]


@pytest.mark.parametrize("depth", [9, 8])
def test_rebates_that_take_off_a_whole_edge_are_refused(refused, depth):
    """10 and 9 or 8 of 18 mm along one edge: 8 mm inside of it the board would end, and lines start from the edge."""
    one = trench("a", "rebate", "width = 8\ndepth = 10")
    (fault,) = refused(SIDE + one + trench("b", "rebate", f'on = "face"\nwidth = 12\ndepth = {depth}'))
    assert (fault.message, fault.where) == (
        'the rebate in the face of side and the rebate "a" in its back leave nothing of its edge, from which it is '
        "measured",
        'joint "b", depth',
    )


def test_a_rebate_as_wide_as_the_board_is_refused(refused):
    """It would make the board thinner, and the back is what its depth is measured from."""
    (fault,) = refused(SIDE + trench("a", "rebate", "width = 120\ndepth = 9"))
    assert (fault.message, fault.where) == (
        "the rebate in the back of side leaves nothing of its back, from which it is measured",
        'joint "a", width',
    )


def test_what_only_three_trenches_take_off_is_refused(job, refused):
    """Two rebates leave 10 mm of the face between them, and a groove there none."""
    one = trench("a", "rebate", 'on = "face"\nwidth = 70\ndepth = 9')
    two = trench("b", "rebate", 'on = "face"\nbeside = "far edge"\nwidth = 40\ndepth = 9')
    three = trench("c", "groove", 'on = "face"\nfrom = 70\nwidth = 10\ndepth = 5')
    (fault,) = refused(SIDE + one + two + three)
    assert fault.where == 'joint "c", depth'
    assert fault.message == (
        'the groove in the face of side, the rebate "a" in its face and the rebate "b" in its face leave nothing of '
        "its face, from which it is measured"
    )
    for two_of_them in (one + two, one + three, two + three):
        derive(job(SIDE + two_of_them))


def some_trenches(dice):
    """Two to four trenches of the strip, of sizes in whole mm, so that they often meet."""
    for name in "abcd"[: dice.randint(2, 4)]:
        kind = dice.choice(["groove", "groove", "rebate", "housing"])
        on = dice.choice(["face", "back"] if kind != "groove" else ["face", "back", "edge", "far edge"])
        deep = dice.randint(3, 40) if "edge" in on else dice.randint(3, 19)
        size = f'on = "{on}"\ndepth = {deep}\nwidth = '
        if kind == "groove":
            wide = dice.randint(2, 12)
            size += f"{wide}\nfrom = {dice.randint(0, (20 if 'edge' in on else 50) - wide)}"
        elif kind == "rebate":
            size += f'{dice.randint(3, 30)}\nbeside = "{dice.choice(["edge", "far edge", "left end", "right end"])}"'
        else:
            size += f"{dice.randint(3, 30)}\nat = [{dice.randint(0, 100)}, {dice.randint(100, 270)}]"
        yield trench(name, kind, size)


@pytest.mark.parametrize("seed", range(120))
def test_trenches_are_refused_where_solids_fall_apart(job, seed):
    """Cut out of a block (manifold3d), what is left is one solid as large as the block or not."""
    found = job(STRIP + "".join(some_trenches(random.Random(seed))))
    wood = Manifold.cube((300, 50, 20))
    for _, box in trenches_in(found.joints, found.parts[0]):
        # boxes stand out of the surfaces they are open to, so that no skin is left there
        low = [a - (a == 0) for a in box.low]
        high = [b + (b == size) for b, size in zip(box.high, (300, 50, 20), strict=True)]
        wood -= Manifold.cube(np.subtract(high, low)).translate(low)
    refused = list(parted(Floor(found), found.joints, {part.id: part for part in found.parts}))
    left = [each for each in wood.decompose() if each.volume() > 1]
    as_large = np.allclose(wood.bounding_box(), (0, 0, 0, 300, 50, 20))
    assert (len(refused) > 0) == (len(left) != 1 or not as_large)
