"""Legs of apron tables: four alike, each a quarter turn on from the one before."""

import numpy as np
import pytest

from sequencer.joinery import derive
from tests.joinery.assemblies import assembled
from tests.joinery.test_held import joint, part

APRONS = part("long", 400, 80, 20, 2) + part("short", 300, 80, 20, 2)
FRAME = joint("frame", "leg-to-apron", ["long", "short"], 'leg = "leg"')


def legs(width, thick):
    return part("leg", 500, width, thick, 4)


@pytest.mark.parametrize(("width", "thick", "square"), [(45, 45, True), (60, 50, False), (30, 40, False)])
def test_legs_that_are_not_square_are_remarked(job, width, thick, square):
    """Put together, the widths of all four lie along one side of the table only if width and thickness are the same: of
    neighbours a quarter turn apart one has its width where the other has its thickness."""
    text = legs(width, thick) + APRONS + FRAME
    found = [says for says in derive(job(text)).remarks if "is not square" in says]
    assert len(found) == (not square)
    (table,) = assembled(job(text))
    turned = [placed.rotation for placed in table.placed if placed.part == "leg"]
    along = {tuple(np.abs(turn[:, 1]).round(6)) for turn in turned}
    assert len(along) == 2
    if not square:
        assert found[0].startswith(f"leg is not square ({width} mm wide, {thick} mm thick)")


@pytest.mark.parametrize(
    ("kind", "at", "more", "drops"),
    [
        ("end-to-edge", [380], 'edges = ["far edge"]', [380]),
        ("end-to-edge", [230], 'edges = ["far edge"]', [230]),
        ("end-to-edge", [230], "", [230]),
        ("end-to-face", [230], "", [230]),
        ("end-to-face", [470], "", [460]),
        ("end-to-face", [400], 'on = ["face"]', [400]),
        ("end-to-edge", [200, 400], "", [200, 400]),
    ],
)
def test_stretchers_between_legs_are_a_joint_of_legs_and_aprons(job, refused, kind, at, more, drops):
    """However joined at both ends, they would ask for a leg turned end for end, or two legs face to face; rails all
    round, with a drop of their own, go together with the aprons. 40 mm of a leg 500 long begin at 460 at most."""
    table = legs(45, 45) + APRONS + FRAME
    rails = part("stretcher", 300, 40, 20, 2 * len(at))
    (fault,) = refused(table + rails + joint("low", kind, ["stretcher", "leg"], f"at = {at}\n{more}"))
    assert "no two legs that stretcher could reach turn the same side towards each other" in fault.message
    told = ", ".join(f"{drop} mm" for drop in drops)
    assert f'a joint of kind "leg-to-apron" with drop {told}' in fault.accepted
    assert ("a joint for each drop" in fault.accepted) == (len(drops) > 1)
    assert "ends =" not in fault.accepted
    advised = table
    for i, drop in enumerate(drops):
        pair = part(f"stretcher {i}", 300, 40, 20, 2), part(f"other {i}", 400, 40, 20, 2)
        ring = joint(
            f"low {i}", "leg-to-apron", [f"other {i}", f"stretcher {i}"], f'leg = "leg"\ndrop = {drop}'
        )
        advised += "".join(pair) + ring
    assert len(derive(job(advised)).meetings) >= 2


def test_steps_of_two_joints_on_one_leg_are_told_apart(job):
    """Aprons and stretchers alike on one leg would give "plunge 1 slot in the back of leg" twice."""
    text = part("leg", 540, 42, 42, 4) + part("apron", 300, 60, 20, 4) + part("rail", 300, 60, 20, 4)
    text += joint("top", "leg-to-apron", ["apron"], "leg = 'leg'\nslips = { count = 1 }")
    text += joint("low", "leg-to-apron", ["rail"], "leg = 'leg'\nslips = { count = 1 }\ndrop = 300")
    told = [op.notes.what for op in derive(job(text)).operations if op.kind == "plunge"]
    assert len(set(told)) == len(told)
    assert 'plunge 1 slot in the back of leg, for "top"' in told
    assert 'plunge 1 slot in the back of leg, for "low"' in told
    assert all(("for" in what) == ("of leg" in what) for what in told)


@pytest.mark.parametrize(("height", "most"), [(10, 27), (8, 29), (12, 25)])
def test_mortises_in_a_leg_go_as_deep_as_the_others_cheek_lets_them(job, refused, height, most):
    """The other mortise's cheek is setback 2, height and half a slip of 6 from the outside: in a leg of 45, with a wall
    of 3, so much is left of 45 - 2 - height - 3 - 3."""
    more = 'leg = "leg"\nsetback = 2\nslips = { thickness = 6, width = 40, height = %d, depths = [15, %g] }'
    boards = legs(45, 45) + APRONS

    def corner(depth):
        return boards + joint("frame", "leg-to-apron", ["long", "short"], more % (height, depth))

    derive(job(corner(most)))
    (fault,) = refused(corner(most + 0.2))
    assert "the mortise from the leg's other inner side" in fault.message


def test_mortises_in_a_leg_are_chosen_as_deep_as_they_may_be(job):
    """Of aprons of 20 and 30 mm the thinner's middle, 10, is the height of all slots: 27 mm are left, and slips of 36
    go in half each."""
    text = legs(45, 45) + part("long", 400, 80, 20, 2) + part("short", 300, 80, 30, 2)
    made = derive(job(text + joint("frame", "leg-to-apron", ["long", "short"], 'leg = "leg"\nsetback = 2')))
    assert {op.settings["depth"] for op in made.operations if op.kind == "plunge"} == {19}
