"""What the cards of derived operations tell besides their settings."""

import re

import pytest

from sequencer.joinery import derive

SIDE = """
[[part]]
id = "side"
quantity = 2
length = 640
width = 220
thickness = 20
stock = "sized"
"""


def test_the_batten_lies_towards_the_end_its_line_is_measured_from(job):
    """A slot 79 mm from the left end, its centre 10 mm from the side of the base: the line of the batten is at 69, and
    the batten lies on the left of it (on the right the slot would come at 59)."""
    shelf = SIDE.replace("side", "shelf").replace("640", "500").replace("quantity = 2", "quantity = 1")
    joint = '[[joint]]\nid = "j"\nkind = "end-to-face"\nparts = ["shelf", "side"]\nat = [69]\n'
    made = derive(job(SIDE + shelf + joint))
    (plunge,) = [op for op in made.operations if op.kind == "plunge" and op.parts == ("side",)]
    (line,) = [line for line in plunge.notes.lines if "batten" in line.what]
    assert {round(cut.mouth[0], 6) for cut in plunge.cuts} == {79.0}
    assert (line.start, line.at) == ("left end", (69.0,))
    assert "which lies towards the left end" in line.what


@pytest.mark.parametrize(
    ("joint", "told"),
    [
        (
            'kind = "groove"\nfrom = 8\nwidth = 6\ndepth = 5\nholds = "panel"',
            r"the side nearest it; move it out pass by pass, all pieces at each, until the groove is 6 mm wide and "
            r"takes panel; then bring the fence back to 8 mm",
        ),
        (
            'kind = "rebate"\nwidth = 12\ndepth = 5',
            r"inner side; move it in, .* to the edge; .* back to 12 mm",
        ),
        (
            'kind = "housing"\nat = [200]\nwidth = 18\ndepth = 5',
            r"along the line, .* until the housing is 18 mm wide",
        ),
    ],
)
def test_a_saw_makes_a_trench_in_passes(job, joint, told):
    """A blade (about 3 mm, common practice, no source) is narrower than most trenches: without a router the card tells
    how the fence goes from pass to pass; a router's bit has the width."""
    panel = SIDE.replace("side", "panel").replace("20\n", "6\n")
    text = f'{SIDE}{panel}[[joint]]\nid = "j"\nparts = ["side"]\n{joint}\n'
    with_router = job(text)
    without = with_router.model_copy(
        update={
            "shop": with_router.shop.model_copy(
                update={"stations": tuple(s for s in with_router.shop.stations if s.id != "router")}
            )
        }
    )
    (here,) = [op for op in derive(without).operations if op.cuts and op.joint == "j"]
    (there,) = [op for op in derive(with_router).operations if op.cuts and op.joint == "j"]
    assert re.search(told, here.notes.way_round)
    assert "pass" not in there.notes.way_round


HALF_TURN = {"end for end": (-1, -1, 1), "end over end": (-1, 1, -1), "face for face": (1, -1, -1)}
"""Half turns flat on the table, about the width and about the length: what they do to a direction of the board."""


@pytest.mark.parametrize(
    ("joint", "turn", "other_side"),
    [
        ('kind = "case-mitre"\nways = ["bevel-first"]', "end for end", False),
        ('kind = "frame-mitre"', "end over end", False),
        ('kind = "stave"\nsides = 4', "end for end", False),
        ('kind = "splayed"\nsides = 4\nslope = 80', "face for face", True),
        ('kind = "splayed"\nsides = 4\nslope = 80\nlean = "in"', "face for face", True),
    ],
)
def test_the_second_end_is_cut_with_nothing_moved(job, joint, turn, other_side):
    """Turned as the card says, the board brings its second end (or edge) into the plane of the blade as it stood for
    the first; on the other side of the blade, wood and waste have changed places (rigid half turns, plane geometry)."""
    side = SIDE.replace("quantity = 2", "quantity = 4")
    made = derive(job(f'{side}[[joint]]\nid = "j"\nparts = ["side"]\n{joint}\n'))
    cutting = [op for op in made.operations if op.kind in ("bevel", "mitre")]
    normals = [cut.normal for op in cutting for cut in op.cuts]
    first, second = dict.fromkeys(normals)
    turned = [a * b for a, b in zip(HALF_TURN[turn], second, strict=True)]
    assert turned == pytest.approx([-a if other_side else a for a in first], abs=1e-9)
    words = cutting[0].notes.way_round
    if other_side:
        assert "left ends outside face up; right ends face down on the other side of the blade" in words
    else:
        assert turn in words
