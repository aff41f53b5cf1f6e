"""A page of the booklet opened again: where its text and its lines stand, from the page's own content stream."""

from __future__ import annotations

import io
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from pypdf import PageObject, PdfReader
from pypdf.generic import ContentStream, DictionaryObject

from sequencer import load_job, plan
from sequencer.planfile import Plan
from sequencer.report.booklet import Paper, PerSheet, booklet_values, set_booklet
from sequencer.report.drawing.figure import Figure
from sequencer.report.drawing.values import figure_values

MM = 72 / 25.4  # points
JOBS = sorted((Path(__file__).parent.parent.parent / "examples").glob("*/job.toml"))
NAMES = [path.parent.name for path in JOBS]


@cache
def example(name: str) -> Plan:
    """The plan of one of the examples."""
    return plan(load_job(JOBS[NAMES.index(name)]), time_limit=20)


@cache
def example_values(name: str) -> dict[str, Any]:
    """What the booklet of an example says and draws."""
    return booklet_values(example(name))


def set_cards(values: dict[str, Any], paper: Paper = "a4", per_sheet: PerSheet = 4) -> list[PageObject]:
    """The pages of a booklet's cards, behind a single sheet that says next to nothing of the job."""
    overview = {"facts": [], "proof": "", "order": [[""] * 7], "habits": [], "remarks": []}
    sheets = {"title": "", "overview": overview, "timeline": figure_values(Figure((), 10.0, 10.0))}
    sheets |= {key: [] for key in ("cut_list", "slips", "preparations", "marking", "marking_says")}
    pages = PdfReader(io.BytesIO(set_booklet(values | {"sheets": sheets}, paper, per_sheet))).pages
    return list(pages)[1:]


@dataclass(frozen=True)
class Span:
    """A run of text: where its baseline begins and ends on the page, and the size of its type; all in mm."""

    x: float
    y: float
    end_x: float
    end_y: float
    size: float

    @property
    def level(self) -> bool:
        """Whether it is read from below."""
        return abs(self.end_y - self.y) < 1e-3

    def overlap(self, other: Span) -> float:
        """How far two level texts lie on each other, mm, the lesser of the two ways; capitals are 0.7 of the size."""
        wide = min(self.end_x, other.end_x) - max(self.x, other.x)
        high = min(self.y + 0.7 * self.size, other.y + 0.7 * other.size) - max(self.y, other.y)
        return min(wide, high)


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


def spans(page: PageObject) -> Iterator[Span]:
    """Every run of text of a page, by the widths of the embedded fonts themselves."""
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
                along = place @ to_page
                first = np.array([0, 0, 1]) @ along
                last = np.array([wide / 1000 * size, 0, 1]) @ along
                tall = size * float(np.linalg.norm(along[1, :2]))
                yield Span(first[0] / MM, first[1] / MM, last[0] / MM, last[1] / MM, tall / MM)
                place = matrix([1, 0, 0, 1, wide / 1000 * size, 0]) @ place


def strokes(page: PageObject) -> Iterator[tuple[float, float]]:
    """The corners of every line and shape of a page, mm."""
    stack, to_page = [], np.eye(3)
    for operands, operator in ContentStream(page.get_contents(), page.pdf).operations:
        numbers = (
            [float(str(operand)) for operand in operands] if operator in (b"m", b"l", b"c", b"re") else []
        )
        match operator:
            case b"q":
                stack.append(to_page)
            case b"Q":
                to_page = stack.pop()
            case b"cm":
                to_page = matrix(operands) @ to_page
            case b"re":
                x, y, wide, high = numbers
                numbers = [x, y, x + wide, y + high]
        for x, y in zip(numbers[::2], numbers[1::2], strict=True):
            at = np.array([x, y, 1]) @ to_page
            yield float(at[0]) / MM, float(at[1]) / MM
