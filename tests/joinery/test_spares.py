"""Spare boards of a panel are mortised with the rest, wherever they may have to stand in."""

import pytest

from sequencer.cards.setup_cards import cards
from sequencer.pipeline import order, prepare
from sequencer.report.card_page import pieces_text
from sequencer.report.terminal_cards import _pieces


def board(name, quantity, spare):
    return (
        f'[[part]]\nid = "{name}"\nquantity = {quantity}\nspare = {spare}\nlength = 500\nwidth = 110\nthickness = 20\n'
        'stock = "sized"\n'
    )


def panel(*parts, boards=""):
    listed = ", ".join(f'"{part}"' for part in parts)
    return f'[[joint]]\nid = "panel"\nkind = "edge-to-edge"\nparts = [{listed}]\n{boards}\n'


def plunges(job):
    """The cards' work of every plunge, by part and surface."""
    plan = order(prepare(job), 5.0)
    surfaces = {op.id: op.surface for op in plan.operations if op.kind == "plunge"}
    return {
        surfaces[work.operation]: work
        for card in cards(plan)
        for work in card.work
        if work.operation in surfaces
    }


def test_each_of_two_parts_has_its_spare_mortised(job):
    """Two panels of two boards, one spare of each part: all three of each mortised in their one edge."""
    found = plunges(job(board("first", 1, 1) + board("second", 1, 1) + panel("first", "second"), batch=2))
    assert {surface: work.count for surface, work in found.items()} == {"first/far edge": 3, "second/edge": 3}
    for surface, work in found.items():
        (piece,) = work.pieces
        assert (piece.count, piece.spare, piece.of) == (3, 1, 0)
        assert (work.ticks, work.spare_ticks) == (3, 1)
        assert pieces_text(work) == [f"{surface.partition('/')[0]}  × 2 + 1 spare"]


def test_a_spare_among_the_boards_of_one_part_gets_both_its_rows(job):
    """Two panels of three boards each and two spares: each panel has two far edges and two edges with slots, and a
    spare may have to stand in anywhere: 2 x 2 + 2 = 6 of the 8 at each, the last two of the boxes dashed."""
    found = plunges(job(board("board", 3, 2) + panel("board"), batch=2))
    assert set(found) == {"board/far edge", "board/edge"}
    for work in found.values():
        (piece,) = work.pieces
        assert (piece.count, piece.spare, piece.of) == (6, 2, 8)
        assert (work.ticks, work.spare_ticks) == (6, 2)
        assert pieces_text(work) == ["board  × 4 + 2 spare of the 8"]
        assert _pieces(work) == "board ×6 of the 8 (2 spare)"


@pytest.mark.parametrize("spare", [0, 1])
def test_boards_in_turn_have_their_spares_at_every_row(job, spare):
    """first, second, first, second: far edges of first 2, of second 1 (the last has none), edges of first 1, second 2;
    each row takes the spares besides."""
    text = (
        board("first", 2, spare) + board("second", 2, spare) + panel("first", "second", boards="boards = 4")
    )
    found = plunges(job(text))
    assert {surface: work.count for surface, work in found.items()} == {
        "first/far edge": 2 + spare,
        "second/edge": 2 + spare,
        "second/far edge": 1 + spare,
        "first/edge": 1 + spare,
    }
    partial = found["second/far edge"].pieces[0]
    assert (partial.spare, partial.of) == (spare, 2 + spare)
