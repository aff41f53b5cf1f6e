"""Which faces are sanded before the glue-up, and what faces are called on cards: shelves have no outside."""

import re

import pytest

from sequencer.joinery import derive
from tests.joinery.test_held import joint, part

SIDES = part("side", 800, 240, 20, 2) + part("top", 600, 240, 20, 2)
CASE = SIDES + joint("case", "end-to-face", ["top", "side"], "at = [0, 780]")
SHELF = part("shelf", 600, 240, 20) + joint("s", "end-to-face", ["shelf", "side"], "at = [390]")
BOX = part("wall", 300, 200, 18, 4) + joint("c", "case-mitre", ["wall"])
HOUSED = part("shelf", 274, 200, 18) + joint(
    "h", "housing", ["wall"], "at = [141]\nwidth = 18\ndepth = 5\nholds = 'shelf'"
)
STRETCHER = (
    part("leg", 430, 45, 45, 4)
    + part("long", 700, 40, 22, 2)
    + part("low rail", 220, 40, 22, 2)
    + part("stretcher", 736, 40, 22)
    + '[[joint]]\nid = "aprons"\nkind = "leg-to-apron"\nparts = ["long", "low rail"]\nleg = "leg"\nsetback = 5\n'
    + joint("cross", "end-to-face", ["stretcher", "low rail"], "at = [99]")
)


@pytest.mark.parametrize(
    ("text", "words", "faces"),
    [
        (BOX, "the inside faces of wall", []),
        (BOX + HOUSED, "the inside faces of wall and both faces of shelf", ["shelf"]),
        (CASE, "the inside faces of top and side", []),
        (CASE + SHELF, "the inside faces of top and side and both faces of shelf", ["shelf"]),
        (STRETCHER, "the inside faces of low rail and both faces of stretcher", ["stretcher"]),
    ],
    ids=["box", "housed shelf", "butted case", "shelf", "stretcher"],
)
def test_the_faces_sanded_are_those_inside(job, text, words, faces):
    """By the parts' own names; of what stands between other boards both faces, which must be there by then."""
    (sand,) = [op for op in derive(job(text)).operations if op.kind == "sand"]
    assert sand.notes.what == f"sand {words}, clear of the joints"
    assert sorted(s for s in sand.registers_on if s.endswith("/face")) == [f"{p}/face" for p in faces]
    assert {f"{p}/back" for p in sand.parts} <= set(sand.registers_on)


def test_a_shelf_has_no_face_outside(job):
    """The cards of a shelf and of a divider tell its faces by their names alone; those of the case with their sides."""
    fences = {}
    for op in derive(job(CASE + SHELF)).operations:
        if op.kind == "plunge":
            fences.setdefault(op.parts[0], set()).add(op.notes.fence)
            fences[op.parts[0]].add(op.notes.check.measure.split("from the ")[1].split(";")[0])
    assert fences["shelf"]
    assert not any("side)" in words for words in fences["shelf"])
    assert any("side)" in words for words in fences["top"])


@pytest.mark.parametrize(("ends", "outside"), [(("left", "right"), "back"), (("right", "left"), "face")])
def test_a_floor_flush_with_the_ends_of_sides_lies_as_it_is_turned(job, ends, outside):
    """Its left end on the back of a side has the side's left end below its back, its right end above its face."""
    text = part("floor", 411, 211, 20) + part("one", 533, 211, 20) + part("other", 533, 211, 20)
    for side, end, at in zip(("one", "other"), ends, (0, 513), strict=True):
        text += joint(f"to {side}", "end-to-face", ["floor", side], f'at = [{at}]\nends = ["{end} end"]')
    operations = derive(job(text)).operations
    told = [op.notes.fence for op in operations if op.kind == "plunge" and op.parts == ("floor",)]
    (sand,) = [op for op in operations if op.kind == "sand"]
    inside = {"face": "back", "back": "face"}[outside]
    assert [s for s in sand.registers_on if s.startswith("floor/")] == [f"floor/{inside}"]
    assert told
    assert set(told) == {f"back ({'outside' if outside == 'back' else 'inside'})"}


DIVIDED = (
    CASE
    + part("divider", 770, 240, 18)
    + joint("d", "housing", ["top"], "on = 'face'\nat = [291]\nwidth = 18\ndepth = 5\nholds = 'divider'")
)
FACING = (
    part("side", 800, 240, 20, 2)
    + part("shelf", 600, 240, 20)
    + joint("s", "end-to-face", ["shelf", "side"], "at = [390]\non = ['face']")
)
RIM = part("lid", 280, 280, 6) + joint(
    "l", "rebate", ["wall"], "on = 'face'\nbeside = 'far edge'\nwidth = 6\ndepth = 8\nholds = 'lid'"
)
OUTER = part("wing", 200, 200, 18, 4) + joint(
    "w", "housing", ["wall"], "on = 'face'\nat = [141]\nwidth = 18\ndepth = 5\nholds = 'wing'"
)
FRAME = (
    part("rail", 300, 60, 20, 2)
    + part("stile", 500, 60, 20, 2)
    + part("panel", 320, 400, 6)
    + joint("f", "end-to-edge", ["rail", "stile"])
    + joint("p", "rebate", ["rail", "stile"], "on = 'face'\nwidth = 10\ndepth = 6\nholds = 'panel'")
)


def sanded(operations, name):
    """The faces of a part that it is sanded on."""
    (sand,) = [op for op in operations if op.kind == "sand"]
    return {s.partition("/")[2] for s in sand.registers_on if s in (f"{name}/face", f"{name}/back")}


def called(operations, name):
    """What the cards of a part's plunges call its faces."""
    words = " ".join(
        f"{op.notes.fence} {op.notes.check.measure}"
        for op in operations
        if op.kind == "plunge" and op.parts == (name,)
    )
    return set(re.findall(r"\b(?:face|back)(?: \(\w+\))?", words.replace("surface", "")))


@pytest.mark.parametrize(
    ("text", "name", "inside", "calls"),
    [
        (DIVIDED, "top", {"face"}, {"back (outside)"}),  # a divider stands in its face
        (DIVIDED, "side", {"back"}, set()),
        (FACING, "side", {"face"}, set()),  # the shelf stands on their faces
        (BOX + RIM, "wall", {"back"}, {"face (outside)"}),  # the lid goes round the outside
        (BOX + OUTER, "wall", {"face", "back"}, {"face"}),  # the box is inside, the wings stand in its faces
    ],
)
def test_a_board_is_inside_where_others_stand_on_it(job, text, name, inside, calls):
    """Its other face is outside then, unless the joints say that it goes round something with that."""
    operations = derive(job(text)).operations
    assert sanded(operations, name) == inside
    assert called(operations, name) == calls


def test_a_panel_in_the_faces_of_a_frame_leaves_them_outside(job):
    assert called(derive(job(FRAME)).operations, "rail") == {"face (outside)"}


@pytest.mark.parametrize("on", ["face", "back"])
def test_a_refusal_calls_a_face_as_cards_do(refused, on):
    """Slots too deep from the side's inner face come too near the outer one, whichever that is; a wall 20 - 19 mm."""
    text = FACING.replace('["face"]', f'["{on}"]\nslips = {{ depths = [20, 19] }}')
    (fault,) = refused(text)
    assert fault.message.startswith("wall to the outside face of side would be 1 mm at depth 19 mm")
