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


def test_boards_that_do_not_close_are_told_lengths_that_do(refused):
    """Of a rectangle opposite sides are equally long: 390 against 400 and 320 against 300 leave hypot(10, 20) open."""
    lengths = {"a": 400, "b": 300, "c": 390, "d": 320}
    boards = "".join(part(name, length, 100, 18) for name, length in lengths.items())
    (fault,) = refused(boards + joint("box", "case-mitre", [*lengths]))
    assert "22.36 mm are left open" in fault.message
    assert fault.accepted == "c 400 mm and d 300 mm long, the others as they are"


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
    told = (
        "middle, 380 mm long, is joined between the same stile as rail, 400 mm long: they cannot both reach"
    )
    assert (fault.where, fault.message) == ('joint "inner", parts', told)
    assert fault.accepted == "middle 400 mm long"


def shelves(*lengths):
    """Two sides with shelves of these lengths, each its own part, one above the other."""
    text = part("side", 100 * len(lengths) + 100, 250, 20, 2)
    for k, length in enumerate(lengths):
        text += part(f"s{k}", length, 250, 20)
        text += joint(f"j{k}", "end-to-face", [f"s{k}", "side"], f"at = [{100 * k + 60}]")
    return text


@pytest.mark.parametrize("odd", range(3))
@pytest.mark.parametrize("wrong", [490, 510])
def test_the_shelf_unlike_most_is_the_one_told(refused, odd, wrong):
    """Too long or too short, in whichever joint: two of 500 say that the third is wrong."""
    lengths = [wrong if k == odd else 500 for k in range(3)]
    (fault,) = refused(shelves(*lengths))
    assert fault.message.startswith(f"s{odd}, {wrong} mm long, is joined between the same side as s")
    assert fault.message.endswith(", 500 mm long: they cannot both reach")
    assert fault.accepted == f"s{odd} 500 mm long"


def test_of_two_unlike_shelves_neither_is_known_to_be_right(refused):
    """One of 500, one of 510: which of them is wrong only the maker knows."""
    (fault,) = refused(shelves(510, 500))
    assert fault.accepted == "s1 and s0 equally long"


def test_one_odd_shelf_of_many_is_one_remark(job):
    """Where there are too many joints to be followed, too, only the board that is wrong is told."""
    unlike = [says for says in derive(job(shelves(*[500] * 14, 510))).remarks if "reach" in says]
    assert unlike == [
        "s14, 510 mm long, is joined between the same side as s0, 500 mm long: they cannot both reach"
    ]


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
    assert fault.message == "divider, 200 mm long, does not fit between top, which corner holds 264 mm apart"
    assert (fault.where, fault.accepted) == ('joint "m", parts', "divider 264 mm long")


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


def bookcase(at, lengths=(900, 900), shelf=230):
    """Two shelves between a left and a right side 250 wide; `at`: their places on the right one."""
    return (
        part("left", lengths[0], 250, 20)
        + part("right", lengths[1], 250, 20)
        + part("shelf", 700, shelf, 20, 2)
        + joint("a", "end-to-face", ["shelf", "left"], "at = [100, 500]\nends = ['left end']")
        + joint("b", "end-to-face", ["shelf", "right"], f"at = {at}\nends = ['right end']")
    )


def test_sides_of_narrow_shelves_that_do_not_stand_level_are_told(job):
    """The right side's left end is up: 100 and 500 are measured down there, the lower shelf's 500 from its lower end
    900 - 500 - 20 = 380, where the left side has it at 100."""
    (said,) = remarks(job, bookcase([100, 500]), "left and right")
    assert said == (
        "left and right, equally long and joined to the same shelf, stand 280 mm off each other along their length; "
        "with at 380 mm, 780 mm in b they would stand level"
    )
    assert not remarks(job, bookcase([380, 780]), "left and right")


@pytest.mark.parametrize(
    "text",
    [
        bookcase([100, 500], shelf=250),  # as wide as the sides: the right one stands left end down, too
        bookcase([100, 500], lengths=(900, 1000)),  # not meant to end together
    ],
)
def test_sides_that_stand_level_or_cannot_are_not_told(job, text):
    """Of several ways to lie one that stands level is taken."""
    assert not remarks(job, text, "left and right")


def test_sides_held_otherwise_too_are_told_without_places(job):
    """A third shelf that fits the side as it stands would not go with other places of the two."""
    text = bookcase([100, 500]) + part("low", 700, 200, 20)
    text += joint("c", "end-to-face", ["low", "left"], "at = [300]\nends = ['left end']")
    text += joint("d", "end-to-face", ["low", "right"], "at = [300]\nends = ['right end']")
    (said,) = remarks(job, text, "left and right")
    assert said.endswith("stand 280 mm off each other along their length")
