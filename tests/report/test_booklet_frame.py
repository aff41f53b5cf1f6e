"""Nothing on a card leaves its frame at the right, by the widths of the embedded fonts themselves."""

from __future__ import annotations

import io
from collections.abc import Iterator

import numpy as np
import pytest
from pypdf import PageObject, PdfReader
from pypdf.generic import ContentStream, DictionaryObject

from sequencer.report.booklet import CARDS, PAPERS, Paper, booklet_values, set_booklet, write_booklet
from tests.report.test_booklet import MM, crowded
from tests.sample_plans import tea_boxes, two_shelves


def glyph_widths(font: DictionaryObject) -> dict[int, float]:
    """The advance of each glyph in thousandths of the type size: the W array of ISO 32000-1, 9.7.4.3."""
    widths: dict[int, float] = {}
    array = list(font["/DescendantFonts"][0].get_object()["/W"].get_object())
    while array:
        first, second = int(array.pop(0)), array.pop(0)
        if isinstance(second, list):
            widths |= {first + n: float(width) for n, width in enumerate(second)}
        else:
            widths |= dict.fromkeys(range(first, int(second) + 1), float(array.pop(0)))
    return widths


def matrix(operands: list[object]) -> np.ndarray:
    """The 3 by 3 matrix of six PDF numbers, for row vectors."""
    a, b, c, d, e, f = (float(str(operand)) for operand in operands)
    return np.array([[a, b, 0], [c, d, 0], [e, f, 1]])


def spans(page: PageObject) -> Iterator[tuple[float, float, float, float]]:
    """Where each shown text begins and where it ends (x, y, x, y), points, from the page's content stream."""
    fonts = {name: ref.get_object() for name, ref in page["/Resources"]["/Font"].items()}
    widths = {name: glyph_widths(font) for name, font in fonts.items()}
    stack, to_page, place, name, size = [], np.eye(3), np.eye(3), "", 0.0
    for operands, operator in ContentStream(page.get_contents(), page.pdf).operations:
        match operator:
            case b"q":
                stack.append(to_page)
            case b"Q":
                to_page = stack.pop()
            case b"cm":
                to_page = matrix(operands) @ to_page
            case b"BT":
                place = np.eye(3)
            case b"Tm":
                place = matrix(operands)
            case b"Td":
                place = matrix([1, 0, 0, 1, *operands]) @ place
            case b"Tf":
                name, size = str(operands[0]), float(operands[1])
            case b"Tj" | b"TJ":
                shown = operands[0] if operator == b"TJ" else [operands[0]]
                wide = 0.0
                for piece in shown:
                    if isinstance(piece, int | float) or not hasattr(piece, "original_bytes"):
                        wide -= float(piece)
                        continue
                    raw = piece.original_bytes
                    codes = [int.from_bytes(raw[i : i + 2], "big") for i in range(0, len(raw), 2)]
                    wide += sum(widths[name].get(code, 1000.0) for code in codes)
                first = np.array([0, 0, 1]) @ place @ to_page
                last = np.array([wide / 1000 * size, 0, 1]) @ place @ to_page
                yield float(first[0]), float(first[1]), float(last[0]), float(last[1])
                place = matrix([1, 0, 0, 1, wide / 1000 * size, 0]) @ place


@pytest.mark.parametrize(
    ("unit", "paper"), [("crowded", "a4"), ("crowded", "letter"), ("mm", "a4"), ("in", "letter")]
)
def test_no_text_leaves_its_card_at_the_right(unit: str, paper: Paper) -> None:
    """Every line of text, in a figure or not, ends before the right margin of the card."""
    plan = crowded() if unit == "crowded" else tea_boxes(unit)  # type: ignore[arg-type]
    wide, high = PAPERS[paper]
    grown = min(wide / CARDS[paper][0], high / CARDS[paper][1])
    left = (wide - CARDS[paper][0] * grown) / 2
    margin = 5.0 * grown
    count = 0
    for page in PdfReader(io.BytesIO(write_booklet(plan, paper, 1, sheets=False))).pages:
        for x, _, end, _ in spans(page):
            count += 1
            assert left + margin - 0.5 <= min(x, end) / MM
            assert max(x, end) / MM <= wide - left - margin + 0.5
    assert count > 100


@pytest.mark.parametrize(("rows", "sheets"), [(4, 1), (34, 1), (60, 2)])
def test_a_card_is_set_closer_where_that_spares_a_sheet(rows: int, sheets: int) -> None:
    """34 lines, which take two sheets at the usual spacing, stand on one; 60 take two."""
    values = booklet_values(two_shelves(), sheets=False)
    card = values["cards"][0] | {"stays": [["stays", f"row {n}"] for n in range(rows)]}
    reader = PdfReader(io.BytesIO(set_booklet(values | {"cards": [card]}, "a4", 1)))
    assert len(reader.pages) == sheets
    text = "".join(page.extract_text() for page in reader.pages)
    assert all(f"row {n}" in text for n in range(rows))
