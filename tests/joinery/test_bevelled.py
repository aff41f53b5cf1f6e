"""What bevels leave of boards, worked out by hand: T tan(tilt) at each, of boards that lean T sin(slope) tan(half the
corner's turn)."""

import pytest

from tests.joinery.test_held import joint, part, remarks


def column(width, thickness, sides=4):
    """Staves round a column."""
    return part("st", 500, width, thickness, sides) + joint("col", "stave", ["st"])


def test_staves_whose_bevels_meet_are_refused(refused):
    """Of 50 mm two bevels of 45 degrees in 30 mm take 60."""
    (fault,) = refused(column(50, 30))
    assert (
        "the bevels of st leave nothing of its back to lie on: they take 60 mm of its width of 50 mm"
        in fault.message
    )
    assert "a width of more than 60 mm" in fault.accepted
    assert 'joint "col"' in fault.where


@pytest.mark.parametrize(("width", "left"), [(60.5, "0.5 mm"), (89, "29 mm"), (90, "")])
def test_a_back_narrower_than_the_stave_is_thick_is_told(job, width, left):
    """What is left between the bevels is the width less 60 mm."""
    found = remarks(job, column(width, 30), "st:")
    assert len(found) == bool(left)
    assert all(f"between its bevels only {left} of the back are left" in says for says in found)


def test_boards_whose_end_bevels_meet_are_refused(refused):
    """A case of four, 150 long and 80 thick: 160 mm are taken at the back."""
    (fault,) = refused(part("side", 150, 120, 80, 4) + joint("corner", "case-mitre", ["side"]))
    assert "they take 160 mm of its length of 150 mm" in fault.message
    assert "a length of more than 160 mm" in fault.accepted


def test_leaning_boards_whose_end_bevels_meet_are_refused(refused):
    """Four sides at slope 60, 80 thick: square through the board the back is 80 sin 60 farther in, and at corners
    mitred at 45 degrees in plan that much shorter at each end: 138.56 mm."""
    leaning = joint("corner", "splayed", ["side"], "slope = 60\nsides = 4")
    (fault,) = refused(part("side", 130, 120, 80, 4) + leaning)
    assert "they take 138.56 mm of its length of 130 mm" in fault.message
    assert "a length of more than 138.56 mm" in fault.accepted
