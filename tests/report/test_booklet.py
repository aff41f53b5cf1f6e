"""The printed booklet opened again: pages, text, fonts, and nothing beyond its frame or on top of other text."""

from __future__ import annotations

import io
import math
import re
from functools import cache
from typing import Any

import pytest
from pypdf import PageObject, PdfReader
from pypdf.generic import DictionaryObject

from sequencer.cards.setup_cards import cards
from sequencer.planfile import PartRecord, Plan, StationRecord
from sequencer.report.booklet import CARDS, PAPERS, Paper, PerSheet, booklet_values, set_booklet
from sequencer.report.card_page import in_parts
from sequencer.report.stocklist import cut_list, slips, spares
from tests.report.printed import set_cards, spans
from tests.sample_plans import AWKWARD, LONG, many, tea_boxes, two_shelves

MM = 72 / 25.4  # points


@cache
def booklet(unit: str, paper: Paper, per_sheet: PerSheet) -> PdfReader:
    """The sample booklet, set once for all tests."""
    return PdfReader(io.BytesIO(set_booklet(values(unit), paper, per_sheet)))


@cache
def card_pages(unit: str, paper: Paper, per_sheet: PerSheet) -> list[PageObject]:
    """The pages of its cards."""
    return set_cards(values(unit), paper, per_sheet)


@cache
def values(unit: str) -> dict[str, Any]:
    """What the sample booklet says and draws."""
    return booklet_values(tea_boxes(unit))  # type: ignore[arg-type]


def plain(text: str) -> str:
    """Text without its breaks, soft hyphens and spaces: what a search would find."""
    return re.sub(r"[\s\u00ad\u2010\u200b-]+", "", text)


def crowded(steps: int = 12) -> Plan:
    """One setup with 12 settings, 60 parts with long names, the longest fractions of an inch, and long notes."""
    base = two_shelves()
    names = [f"{LONG} number {n}" for n in range(60)]
    first = base.steps[0]
    settings = {f"setting_{n}": 119 + 63 / 64 for n in range(12)}
    resets = tuple(
        {"setting": name, "from": 118 + 61 / 64, "to": value, "minutes": 1.0}
        for name, value in settings.items()
    )
    operation = {
        "id": first.operation,
        "station": first.station,
        "parts": names,
        "quantity": 60,
        "notes": {
            "what": " ".join([LONG] * 4),
            "fence": LONG,
            "table": LONG,
            "way_round": " ".join([LONG] * 14),
            "how_to_set": dict.fromkeys(settings, LONG),
            "check": {"measure": LONG, "expect": LONG, "tolerance": LONG},
            "cautions": [{"says": " ".join([LONG] * 9), "source": LONG}],
        },
    }
    raw = base.model_dump(by_alias=True) | {"unit": "in"}
    raw["operations"] = (operation,)
    raw["steps"] = (
        {
            **first.model_dump(by_alias=True),
            "setup": 1,
            "quantity": 60,
            "settings": settings,
            "resets": resets,
        },
    )
    raw["setups"] = (
        {
            "number": 1,
            "station": first.station,
            "walk_minutes": 0.0,
            "settings": settings,
            "resets": resets,
            "operations": (first.operation,),
        },
    )
    raw["stations"] = (
        StationRecord(id=first.station, name=LONG, measures=dict.fromkeys(settings, "length")).model_dump(),
    )
    raw["parts"] = tuple(
        PartRecord(id=n, quantity=1, length=3047.6, width=299.6, thickness=18.6).model_dump() for n in names
    )
    raw["precedence"] = ()
    return Plan.model_validate(raw)


def lines_on(page: object) -> list[tuple[float, float, float, str]]:
    """Every run of text on a page: x and y of its start and the height of its type, points, and the text."""
    found: list[tuple[float, float, float, str]] = []

    def visit(text: str, cm: list[float], tm: list[float], font: object, size: float) -> None:
        if text.strip():
            x = tm[4] * cm[0] + tm[5] * cm[2] + cm[4]
            y = tm[4] * cm[1] + tm[5] * cm[3] + cm[5]
            found.append((x, y, size * (abs(tm[0]) + abs(tm[1])) * (abs(cm[0]) + abs(cm[1])), text.strip()))

    page.extract_text(visitor_text=visit)  # type: ignore[attr-defined]
    return found


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("per_sheet", [4, 1])
def test_pages_have_the_paper_size(paper: Paper, per_sheet: PerSheet) -> None:
    """Every page is the paper asked for: ISO 216 A4 (210 × 297 mm) or Letter (8 1/2 × 11 in)."""
    for page in booklet("mm", paper, per_sheet).pages:
        size = (float(page.mediabox.width) / MM, float(page.mediabox.height) / MM)
        assert size == pytest.approx(PAPERS[paper], abs=0.05)


def test_a_card_is_a6() -> None:
    """On A4 a card is A6, 105 × 148 mm, by the rule of ISO 216: A0 is a square metre, sides as 1 to sqrt 2, each size
    half the one before, rounded down to whole mm."""
    long, short = 1000 * 2**0.25, 1000 / 2**0.25
    for _ in range(6):
        long, short = short, long / 2
    assert CARDS["a4"] == (int(short + 0.3), int(long + 0.3))
    assert CARDS["letter"] == (PAPERS["letter"][0] / 2, PAPERS["letter"][1] / 2)


def test_every_setup_is_printed_once() -> None:
    """Each card's first part stands once in the booklet, in order, one to a page or four."""
    plan = tea_boxes("mm")
    for per_sheet in (1, 4):
        text = " ".join(page.extract_text() for page in card_pages("mm", "a4", per_sheet))
        shown = [int(n) for n in re.findall(rf"(\d+)\s*of {len(plan.setups)}\b", text)]
        assert list(dict.fromkeys(shown)) == [setup.number for setup in plan.setups]
        parts = re.findall(r"part (\d+) of (\d+)", text)
        repeats = sum(int(of) - 1 for part, of in parts if part == "1")
        assert len(shown) == len(plan.setups) + repeats


@pytest.mark.parametrize("unit", ["mm", "in"])
def test_all_that_a_card_says_can_be_searched(unit: str) -> None:
    """Station, settings, pieces, how they lie, pencil lines, check, cautions with source and what is next are text."""
    text = plain(" ".join(page.extract_text() for page in card_pages(unit, "a4", 4))).replace("⁄", "/")
    for card in cards(tea_boxes(unit)):  # type: ignore[arg-type]
        said = [card.station, card.job, *(line.value for line in card.settings)]
        said += [how for line in card.settings for how in line.how]
        said += [caution.source for caution in card.cautions] + [caution.says for caution in card.cautions]
        for work in card.work:
            said += [
                work.what,
                work.fence,
                work.table,
                work.way_round,
                *(piece.part for piece in work.pieces),
            ]
            said += [distance for lines in work.lines for distance in lines.distances]
            if work.check:
                said += [work.check.measure, work.check.expect, work.check.tolerance]
        if card.next:
            said.append(card.next.what)
        missing = [words for words in said if words and plain(words) not in text]
        assert not missing


def test_fonts_are_embedded() -> None:
    """Every font of every page is embedded, with a table back to Unicode so that text can be copied."""
    for page in booklet("in", "letter", 4).pages:
        fonts = page["/Resources"]["/Font"]
        for font in (reference.get_object() for reference in fonts.values()):
            assert "/ToUnicode" in font
            descendant: DictionaryObject = font["/DescendantFonts"][0].get_object()
            descriptor = descendant["/FontDescriptor"].get_object()
            assert {"/FontFile", "/FontFile2", "/FontFile3"} & descriptor.keys()


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_a_crowded_card_runs_on_and_keeps_its_frame(paper: Paper) -> None:
    """Sixty parts with long names, 12 settings and the largest fractions take several cards, none of which is left by
    its text, above, below or at the left; all of it is there."""
    plan = crowded()
    pages = set_cards(booklet_values(plan), paper, 1)
    assert len(pages) > 1
    text = ""
    for number, page in enumerate(pages, 1):
        text += page.extract_text()
        assert f"part {number} of {len(pages)}" in page.extract_text()
        wide, high = PAPERS[paper]
        grown = min(wide / CARDS[paper][0], high / CARDS[paper][1])
        inner = 5.5 * grown * MM
        for x, y, _, words in lines_on(page):
            assert x >= inner - 0.5, words
            assert inner - 2 <= y <= high * MM - inner, words
    assert all(plain(part.id) in plain(text) for part in plan.parts)
    assert plain(text).replace("⁄", "/").count("11963/64in") >= 12


def test_markup_in_names_stays_text() -> None:
    """A part called [/x] <b>& is printed as it is."""
    assert AWKWARD in " ".join(page.extract_text() for page in card_pages("mm", "a4", 1))


def test_contrast_is_black_on_white() -> None:
    """The pages use black and white only: contrast 21 to 1 by the formula of WCAG 2.2, where 7 to 1 is asked for."""
    reader = booklet("mm", "a4", 4)
    shades: set[float] = set()
    for page in reader.pages:
        content = page.get_contents().get_data().decode("latin-1")
        for operands, _ in re.findall(r"((?:[\d.]+ )+)(g|G|rg|RG|sc|SC|scn|SCN|k|K)\b", content):
            shades.update(float(value) for value in operands.split())
    assert shades <= {0.0, 1.0}

    def luminance(level: float) -> float:
        return level / 12.92 if level <= 0.04045 else ((level + 0.055) / 1.055) ** 2.4

    assert (luminance(1.0) + 0.05) / (luminance(0.0) + 0.05) == pytest.approx(21.0)


def test_plans_without_parts_or_notes_print() -> None:
    """A plan of bare operations prints a card for each setup."""
    for plan in (two_shelves(), many(9)):
        assert len(set_cards(booklet_values(plan), "a4", 1)) == len(plan.setups)


def test_same_plan_gives_the_same_file() -> None:
    """The file depends on the plan alone: no date, no machine."""
    one, other = (set_booklet(booklet_values(two_shelves())) for _ in range(2))
    assert one == other


def test_slips_and_spares() -> None:
    """Four boxes of four corners with two slips each take 32 slips; one spare in ten, at least one."""
    rows = [row for row in slips(tea_boxes("mm")) if row.joint == "corner"]
    assert sum(row.count for row in rows) == 4 * 4 * 2
    assert [spares(n) for n in (0, 1, 10, 11, 40)] == [0, 1, 1, 2, 4]


def test_rough_sizes_are_larger() -> None:
    """Every rough size exceeds the finished one by its allowance, and is a whole number of mm."""
    for row in cut_list(tea_boxes("mm")):
        least = (row.part.length + 25.0, row.part.width + 6.0, row.part.thickness + 4.0)
        assert row.rough == tuple(map(math.ceil, least))


def test_long_text_is_split_between_words() -> None:
    """Text too long for a block is dealt out without losing or cutting a word."""
    text = " ".join(f"word{n}" for n in range(300))
    parts = in_parts(text)
    assert max(len(part) for part in parts) <= 420
    assert " ".join(parts) == text


def test_a_number_stays_with_what_it_counts() -> None:
    """Wherever a line ends, pushed on by half a millimetre at a time: counts and units stand with their number, numbers
    with their card or step; words that lead on to something else need not."""
    words = (
        "each box 5 pieces; 2 cuts each, 34 mm × 13 mm of 12 slots in step 17",
        "card 3 from 21 to 28 mm",
        "slip 5 × 32 × 8 mm (29 CFR 1910.213)",
        "named in the job (spare = 1), wide = 3/4 in, 29 CFR 1910.213(a)(6), (c)(7) and (d)",
        "saw the ends of large front (remade 3) (2 cuts each)",
    )
    printed = booklet_values(two_shelves())
    printed["cards"] = printed["cards"][:1]
    printed["cards"][0]["cautions"] = [
        {"says": f"{'i' * wide} {said}", "source": ""} for said in words for wide in range(110)
    ]
    pages = set_cards(printed)
    text = "\n".join(page.extract_text() for page in pages)
    assert text.count("pieces") == 110
    bound = ("5 pieces", "2 cuts", "34 mm", "13 mm", "12 slots", "28 mm", "step 17", "card 3")
    bound += ("mm × 13", "5 × 32", "32 × 8", "29 CFR", "CFR 1910", "remade 3")
    bound += ("spare =", "= 1", "wide =", "= 3", "4 in", "213 (a", "(a) (6", "(c) (7")
    broken = [each for each in bound if re.search(re.escape(each).replace("\\ ", r"\s*\n\s*"), text)]
    assert not broken
    assert re.search(r"box\s*\n", text)  # lines end in the midst of the words
    assert re.search(r"21\s*\n\s*to", text)


def test_a_fraction_that_is_tied_is_still_set_as_one() -> None:
    """After a multiplication sign as anywhere else its figures are set larger than the words (1.25 of 9 points)."""
    printed = booklet_values(two_shelves()) | {"cards": []}
    counts = []
    for size in ("board", "board 3/4 in", "20 × 3/4 in", "20 × 2 1/4 in"):
        printed["sheets"]["cut_list"] = [["lid", size, "rough", "1", "0", ""]]
        pages = PdfReader(io.BytesIO(set_booklet(printed))).pages
        counts.append(sum(abs(s.size * MM - 11.25) < 0.01 for page in pages for s in spans(page)))
    assert [count > counts[0] for count in counts] == [False, True, True, True]
