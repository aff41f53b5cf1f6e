"""Which faces are sanded before the glue-up, and what faces are called on cards: shelves have no outside."""

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
