"""What a dry fit is measured by follows from what is put together (common practice, no source)."""

import pytest

from sequencer.joinery import derive

BOARD = '[[part]]\nid = "{id}"\nquantity = {n}\nlength = {length}\nwidth = 100\nthickness = 18\n'


def ring(kind, n, more="", length=300):
    """One part, and the joint that puts it round."""
    side = BOARD.format(id="side", n=n, length=length)
    return f'{side}[[joint]]\nid = "corner"\nkind = "{kind}"\nparts = ["side"]\n{more}\n'


@pytest.mark.parametrize(
    ("text", "measure", "expect"),
    [
        (ring("case-mitre", 4), "both diagonals", "diagonals alike"),
        (ring("frame-mitre", 4, length=600), "both diagonals", "diagonals alike"),
        (
            BOARD.format(id="front", n=2, length=400)
            + BOARD.format(id="side", n=1, length=300)
            + BOARD.format(id="other side", n=1, length=300)
            + '[[joint]]\nid = "corner"\nkind = "case-mitre"\nparts = ["front", "side", "front", "other side"]\n',
            "both diagonals",
            "diagonals alike",
        ),
        (ring("splayed", 6, "sides = 6\nslope = 80"), "from every corner to the one across", "all alike"),
        (
            ring("splayed", 5, "sides = 5\nslope = 80"),
            "from every corner to the middle of the side across",
            "all alike",
        ),
        (
            BOARD.format(id="left", n=1, length=300)
            + BOARD.format(id="top", n=1, length=400)
            + BOARD.format(id="right", n=1, length=300)
            + '[[joint]]\nid = "corner"\nkind = "case-mitre"\nparts = ["left", "top", "right"]\nclosed = false\n',
            "a square in every corner",
            "the blade lies along both",
        ),
        (
            ring("edge-to-edge", 4, "boards = 4"),
            "a straightedge laid across the boards",
            "it lies flat",
        ),
        (
            BOARD.format(id="one", n=3, length=300)
            + BOARD.format(id="two", n=3, length=300)
            + '[[joint]]\nid = "corner"\nkind = "splayed"\nparts = ["one", "two"]\nsides = 6\nslope = 80\n',
            "from every corner to the one across",
            "all alike",
        ),
        (
            BOARD.format(id="side", n=2, length=600)
            + BOARD.format(id="shelf", n=3, length=400)
            + '[[joint]]\nid = "seats"\nkind = "housing"\nparts = ["side"]\nat = [50, 250, 450]\n'
            + 'width = 18\ndepth = 6\nholds = "shelf"\n',
            "both diagonals",
            "diagonals alike",
        ),
        (
            BOARD.format(id="foot", n=1, length=300)
            + BOARD.format(id="post", n=1, length=500)
            + '[[joint]]\nid = "tee"\nkind = "end-to-face"\nparts = ["post", "foot"]\nat = [141]\n'
            + 'ends = ["left end"]\n',
            "a square in the corner",
            "the blade lies along both",
        ),
    ],
)
def test_what_is_measured_is_what_the_shape_has(job, text, measure, expect):
    """Diagonals of a rectangle, widths of a polygon, corners of an open run, flatness of a panel."""
    (fit,) = [op for op in derive(job(text)).operations if op.kind == "dry-fit"]
    assert fit.notes.check.measure == f"every joint, and {measure}"
    assert fit.notes.check.expect == f"no light, {expect}"


def test_a_shape_without_anything_alike_is_measured_by_its_joints(job):
    """Unequal corners make neither diagonals nor widths that agree."""
    text = (
        BOARD.format(id="one", n=2, length=300)
        + BOARD.format(id="two", n=2, length=300)
        + '[[joint]]\nid = "corner"\nkind = "splayed"\nparts = ["one", "two"]\nsides = 4\nslope = 80\n'
        + "corners = [92, 88, 92, 88]\n"
    )
    (fit,) = [op for op in derive(job(text)).operations if op.kind == "dry-fit"]
    assert (fit.notes.check.measure, fit.notes.check.expect) == ("every joint", "no light")
