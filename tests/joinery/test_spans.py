"""Lengths and widths of boards that must go together: plain sums."""

import pytest

from sequencer.joinery import derive
from tests.joinery.test_held import joint, part, remarks


def staves(*widths, length=600):
    """A column of staves, each of its own part."""
    names = [f"s{k}" for k in range(len(widths))]
    boards = "".join(part(name, length, width, 20) for name, width in zip(names, widths, strict=True))
    return boards + joint("column", "stave", names)


def test_staves_that_do_not_close_are_refused(refused):
    """Of four at square corners opposite ones are equally wide: 110 against 80 leaves 30 open."""
    (fault,) = refused(staves(80, 80, 80, 110))
    assert "the ring does not close: 30 mm are left open" in fault.message
    assert "80 mm wide" in fault.accepted


@pytest.mark.parametrize("widths", [(80, 110, 80, 110), (60, 60, 60, 60, 60, 60), (60, 80, 70, 60, 80, 70)])
def test_staves_that_close_are_made(job, widths):
    """A rectangle, a regular and a centrally symmetrical hexagon."""
    assert not remarks(job, staves(*widths), "column")


def test_staves_of_unlike_lengths_are_told(job):
    """They are laid flush at their left ends."""
    text = part("a", 600, 80, 20, 3) + part("b", 500, 80, 20, 3) + joint("column", "stave", ["a", "b"])
    (said,) = remarks(job, text, "column")
    assert said == "column: staves of unlike lengths (a 600 mm, b 500 mm) are flush at their left ends"


FRAME = (
    part("rail", 400, 60, 20, 2)
    + part("stile", 700, 60, 20, 2)
    + joint("outer", "end-to-edge", ["rail", "stile"])
)


def between_stiles(length):
    """A frame with a middle rail of this length between rails of 400."""
    middle = joint("inner", "end-to-edge", ["middle", "stile"], "at = [320]")
    return FRAME + part("middle", length, 60, 20) + middle


def test_rails_between_the_same_stiles_are_equally_long(job, refused):
    """A middle rail of 380 cannot reach where the others are 400."""
    assert not remarks(job, between_stiles(400), "middle")
    (fault,) = refused(between_stiles(380))
    assert 'this does not go together with "outer"' in fault.message
    told = (
        "middle, 380 mm long, is joined between the same stile as rail, 400 mm long: they cannot both reach"
    )
    assert fault.accepted == told


CASE = (
    part("top", 500, 150, 18, 2)
    + part("end", 300, 150, 18, 2)
    + joint("corner", "case-mitre", ["top", "end"])
)


def with_divider(length):
    """The case with a divider of this length in its middle."""
    return (
        CASE + part("divider", length, 150, 18) + joint("m", "end-to-face", ["divider", "top"], "at = [241]")
    )


def test_a_divider_is_as_long_as_its_case_is_wide_inside(job, refused):
    """300 less twice 18."""
    assert not remarks(job, with_divider(264), "divider")
    (fault,) = refused(with_divider(200))
    assert fault.accepted == "divider, 200 mm long, does not fit between top, which corner holds 264 mm apart"


def test_shelves_of_two_bays_may_be_unlike(job):
    """From the left side to a divider, and from there to the right side: each bay has its own width."""
    text = part("left", 600, 200, 18) + part("right", 600, 200, 18) + part("divider", 600, 200, 18)
    for name, length, at, (one, on), (two, other) in (
        ("narrow", 250, 200, ("left", "back"), ("divider", "face")),
        ("wide", 400, 300, ("divider", "back"), ("right", "back")),
    ):
        text += part(name, length, 200, 18)
        for end, mate, face in (("left end", one, on), ("right end", two, other)):
            more = f'at = [{at}]\non = ["{face}"]\nends = ["{end}"]'
            text += joint(f"{name} {mate}", "end-to-face", [name, mate], more)
    assert not [says for says in derive(job(text)).remarks if "reach" in says]
