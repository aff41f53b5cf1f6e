"""The printed booklet: a sheet for the whole job, marking-out and cut list, then one card for each setup.

Set by Typst, which comes as a wheel and needs no system library, in a face shipped with the package, so that the same
plan gives the same pages everywhere. Text from the job reaches the page as data, never as markup.
"""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from sequencer.cards.planbook import PlanBook, title
from sequencer.cards.setup_cards import cards
from sequencer.diagnostics import SequencerError
from sequencer.planfile import Plan
from sequencer.report.card_page import card_values
from sequencer.report.line_ends import FRACTION, GO_ON, SIZES, TIED
from sequencer.report.sheet_values import sheet_values

if TYPE_CHECKING:
    import typst

Paper = Literal["a4", "letter"]
PerSheet = Literal[4, 1]

PAPERS: dict[Paper, tuple[float, float]] = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""Width and height, mm: ISO 216 A4, and Letter (8 1/2 by 11 in)."""
CARDS: dict[Paper, tuple[float, float]] = {"a4": (105.0, 148.0), "letter": (107.95, 139.7)}
"""A card: A6 by ISO 216; four A6 are taller than Letter, so there a card is a quarter of the sheet."""

_HERE = Path(__file__).parent
_DATA = "#let d = json(bytes(sys.inputs.data))\n"
_PAGES = ("figure.typ", "card.typ", "sheets.typ", "booklet.typ")


def booklet_values(plan: Plan) -> dict[str, Any]:
    """All texts and drawings of the booklet, on whatever paper: what JSON can hold."""
    book = PlanBook(plan)
    return {
        "title": title(plan),
        "sheets": sheet_values(book),
        "cards": [
            card_values(book, card, setup) for card, setup in zip(cards(plan), plan.setups, strict=True)
        ],
    }


def set_booklet(values: dict[str, Any], paper: Paper = "a4", per_sheet: PerSheet = 4) -> bytes:
    """The booklet set on paper, as PDF: the job's sheets, then the cards, four to a page or one enlarged.

    Raises SequencerError if the typesetter refuses the pages.
    """
    import typst

    laid = values | {"paper": PAPERS[paper], "card": CARDS[paper], "per_sheet": per_sheet}
    laid["line_ends"] = {"tied": TIED, "sizes": SIZES, "fraction": FRACTION, "go_on": GO_ON}
    source = _DATA + "\n".join((_HERE / "pages" / name).read_text(encoding="utf-8") for name in _PAGES)
    try:
        pdf = typst.compile(
            source.encode(),
            format="pdf",
            font_paths=fonts(),
            sys_inputs={"data": json.dumps(laid, ensure_ascii=False)},
            timestamp=0,  # the same plan gives the same file
        )
    except typst.TypstError as refusal:
        raise SequencerError(f"the booklet cannot be set: {refusal.message}") from refusal
    assert isinstance(pdf, bytes)
    return pdf


@cache
def fonts() -> typst.Fonts:
    """The face shipped with the package; the system's fonts are left alone."""
    import typst

    return typst.Fonts(include_system_fonts=False, include_embedded_fonts=True, font_paths=[_HERE / "fonts"])
