"""Pencil lines carried across from a mate: said of both halves of a joint, or of neither."""

import pytest

from sequencer import plan
from sequencer.cards.marking import Marking
from sequencer.cards.planbook import PlanBook
from sequencer.report.sheet_values import sheet_values
from tests.joinery.test_held import joint, part


def single(name, board, mate, at, end):
    return joint(name, "end-to-face", [board, mate], f'at = {at}\nends = ["{end}"]')


DRAWER = (
    part("front", 400, 120, 18)
    + part("lside", 350, 120, 12)
    + part("rside", 350, 120, 12)
    + single("fl", "lside", "front", [0], "right end")
    + single("fr", "rside", "front", [388], "left end")
)
BACK = (
    part("back", 376, 100, 12)
    + single("bl", "back", "lside", [10], "left end")
    + single("br", "back", "rside", [328], "right end")
)
GROOVE = part("bottom", 387, 356, 5) + joint(
    "groove", "groove", ["front", "lside", "rside"], 'from = 8\nwidth = 5\ndepth = 5\nholds = "bottom"'
)
CASE = (
    part("left", 800, 250, 19)
    + part("right", 800, 250, 19)
    + part("top", 600, 250, 19)
    + part("shelf", 600, 230, 19)
    + single("tl", "top", "left", [0], "left end")
    + single("tr", "top", "right", [781], "right end")
    + single("sl", "shelf", "left", [300], "left end")
    + single("sr", "shelf", "right", [481], "right end")
)


def carried(loaded):
    """By joint and part, whether the card of its plunges says that their lines are carried across."""
    made = plan(loaded, time_limit=1)
    book = PlanBook(made)
    plunges = [op for op in made.operations if op.kind == "plunge"]
    return {(op.joint, op.parts[0]): Marking(book).carried(op) for op in plunges}


def test_a_batten_beside_one_half_changes_nothing(job):
    """The front's right joint is beyond the fence's reach (60 mm): a batten guides the tool there, and has a line of
    its own on the front. The slots' lines are the same on front and sides, though these have a back's besides."""
    halves = [("fl", "lside"), ("fl", "front"), ("fr", "rside"), ("fr", "front")]
    found = carried(job(DRAWER + BACK + GROOVE, batch=4))
    assert all(found[half] for half in halves)


@pytest.mark.parametrize("text", [DRAWER + BACK, CASE])
def test_both_halves_of_a_joint_say_the_same(job, text):
    """Rows of a board and of the side it meets lie alike (both from the edge), but where the side is marked together
    with boards of other rows already, the board is marked from its own list: then both of them are."""
    found = carried(job(text))
    joints = {name: {says for (other, _), says in found.items() if other == name} for name, _ in found}
    assert all(len(says) == 1 for says in joints.values())
    assert {True} in joints.values()
    assert {False} in joints.values()


def test_only_lines_that_boards_share_are_carried_across(job):
    """A side has the row of the top (250 mm wide) and that of the shelf (230 mm): of the two only one belongs on a
    board laid beside it. Fronts and sides of a drawer without a back have one row each, the same."""
    (told,) = sheet_values(PlanBook(plan(job(CASE), time_limit=1)))["marking_says"]
    assert "carry across the lines they share; mark the others from each one's list." in told
    assert "carry the lines across" not in told
    (told,) = sheet_values(PlanBook(plan(job(DRAWER), time_limit=1)))["marking_says"]
    assert told.endswith(" are mates: lay them side by side and carry the lines across.")
