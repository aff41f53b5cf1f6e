"""Nothing on a card leaves its frame or lies on other text, by the widths of the embedded fonts themselves."""

from __future__ import annotations

import io
import re
from collections.abc import Iterable
from functools import cache
from typing import Any

import pytest
from pypdf import PdfReader

from sequencer.planfile import Plan
from sequencer.report.booklet import CARDS, PAPERS, Paper, booklet_values, set_booklet
from sequencer.report.drawing.figure import Figure
from sequencer.report.drawing.values import figure_values
from tests.report.printed import NAMES, Span, example, example_values, set_cards, spans, strokes
from tests.report.test_booklet import crowded
from tests.report.test_booklet import values as sample_values
from tests.sample_plans import tea_boxes, two_shelves

MARGIN = 5.0
"""Of a card nothing may be printed nearer to its rim than this, mm (it is laid out with 6)."""


@cache
def plan_called(name: str) -> Plan:
    """The crowded plan, a sample in a unit, or an example."""
    if name == "crowded":
        return crowded()
    if name == "shelves":
        return two_shelves()
    return tea_boxes(name) if name in ("mm", "in") else example(name)  # type: ignore[arg-type]


@cache
def values(name: str) -> dict[str, Any]:
    """What the cards of the plan say and draw."""
    if name in NAMES:
        return example_values(name)
    if name in ("mm", "in"):
        return sample_values(name)
    return booklet_values(plan_called(name))


@pytest.mark.parametrize(
    ("name", "paper"), [("crowded", "a4"), ("crowded", "letter"), ("mm", "a4"), ("in", "letter")]
)
def test_nothing_leaves_a_card_that_fills_its_page(name: str, paper: Paper) -> None:
    """Every text, upright or turned, and every line of a drawing stands within the frame of an enlarged card."""
    wide, high = PAPERS[paper]
    grown = min(wide / CARDS[paper][0], high / CARDS[paper][1])
    left, low = (wide - CARDS[paper][0] * grown) / 2, (high - CARDS[paper][1] * grown) / 2
    count = 0
    for page in set_cards(values(name), paper, 1):
        spots = [spot for s in spans(page) for spot in ((s.x, s.y), (s.end_x, s.end_y))]
        count += len(spots)
        for x, y in [*spots, *strokes(page)]:
            assert left + MARGIN * grown - 0.5 <= x <= wide - left - MARGIN * grown + 0.5
            assert low + MARGIN * grown - 0.5 <= y <= high - low - MARGIN * grown + 0.5
    assert count > 200


@pytest.mark.parametrize(("name", "paper"), [("mm", "a4"), ("in", "letter"), ("trough", "letter")])
def test_nothing_crosses_the_cut_between_four_cards(name: str, paper: Paper) -> None:
    """Of four cards on a sheet every text begins and ends within the same one, clear of the cut."""
    wide, high = CARDS[paper]
    across, down = ((PAPERS[paper][i] - 2 * CARDS[paper][i]) / 2 for i in (0, 1))
    for page in set_cards(values(name), paper, 4):
        for span in spans(page):
            for start, end, size, origin in (
                (span.x, span.end_x, wide, across),
                (span.y, span.end_y, high, down),
            ):
                low, low_end = (start - origin) % size, (end - origin) % size
                assert (start - origin) // size == (end - origin) // size
                assert min(low, low_end) >= MARGIN - 0.5
                assert max(low, low_end) <= size - MARGIN + 0.5


@pytest.mark.parametrize(
    ("name", "paper"), [("mm", "a4"), ("in", "letter"), ("crowded", "a4"), ("trough", "a4")]
)
def test_no_text_lies_on_other_text(name: str, paper: Paper) -> None:
    """The boxes of no two level texts overlap by more than a third of a mm, numbers in drawings included."""
    for page in set_cards(values(name), paper, 4):
        demand_apart(spans(page))


def demand_apart(texts: Iterable[Span]) -> None:
    """No two level texts overlap by more than a third of a mm."""
    level = sorted((s for s in texts if s.level and s.end_x > s.x), key=lambda s: s.y)
    for number, one in enumerate(level):
        for other in level[number + 1 :]:
            if other.y > one.y + one.size:
                break
            assert one.overlap(other) < 0.34, (one, other)


LONG_WORD = "werkzeugschubladenvorderseitenführungsleistenbefestigungsschraubenkiste"
SENTENCE = "steamed pear, quarter-sawn, air-dried for ten years, from the orchard by the river"


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("long", [LONG_WORD, SENTENCE])
def test_no_column_of_a_table_takes_the_room_of_another(long: str, paper: Paper) -> None:
    """Whatever columns of the tables hold long words, alone or together: no text lies on other text or leaves the
    margins of the sheet (14 mm), nothing is lost, and heads of short columns stand on one line."""
    assert len(LONG_WORD) == 71
    printed = booklet_values(two_shelves() if long == SENTENCE else tea_boxes("mm"))
    sheets = printed["sheets"]
    size, many = "1250 × 106.25 × 24 mm", " · ".join(str(41.5 + 83.5 * n) for n in range(18)) + " mm"
    rows = [["short", size, size, "4", "0", long], [long, size, size, "4", "0", "rough"]]
    sheets["cut_list"] = [*rows, ["lid"], [long, size, size, "4", "0", long]]
    sheets["cut_list"][2] += [size, size, "1", "0", ""]
    sheets["slips"] = [[long, "6 × 32 × 36 mm", "21", "3"]]
    sheets["preparations"] = [[long, long], ["block", f"cards 4 and 5, {long}"]]
    order = sheets["overview"]["order"]
    order[0] = ["1", long, f"rip {long} to width; crosscut {long}", "2", "1", "2.5", "120.25"]
    lines = [["left end", "far edge", many, "centres of the slots"], [long, long, many, long]]
    one = {"part": "lid", "size": size, "mates": "", "figure": None, "lines": lines}
    sheets["marking"] = [[one], [one, one | {"lines": lines[:1]}], [one | {"lines": lines[1:]}] * 2]
    sheets["marking_says"] = ["Mark lid from its own list."] * 3
    wide, high = PAPERS[paper]
    pages = PdfReader(io.BytesIO(set_booklet(printed | {"cards": []}, paper))).pages
    for page in pages:
        texts = [s for s in spans(page) if s.level]
        demand_apart(texts)
        # a blank at the end of a line may hang over
        assert not [s for s in texts if s.x < 13.9 or s.end_x > wide - 13.3 or not 0 <= s.y <= high]
    text = "".join(page.extract_text() for page in pages)
    said = re.sub(r"\W", "", text)
    held = 4 + 1 + 3 + 3 + 3 + 3 + 2 * 3  # how often the tables hold the long words
    assert said.count(re.sub(r"\W", "", long)) == held
    assert re.search(r"\bpieces\b.*\bspares\b", text)
    assert re.search(r"\bdistances\b", text)


def test_a_long_name_breaks_rather_than_leave_its_card() -> None:
    """A name of 71 letters without a space leaves no card, nor lies on anything there."""
    plan = two_shelves()
    notes = [op.notes.model_copy(update={"what": f"rip {LONG_WORD} to width"}) for op in plan.operations]
    made = [
        op.model_copy(update={"notes": n, "parts": (LONG_WORD,)})
        for op, n in zip(plan.operations, notes, strict=True)
    ]
    named = plan.model_copy(update={"job": LONG_WORD, "operations": tuple(made)})
    wide = CARDS["a4"][0] * 2
    for page in set_cards(booklet_values(named), "a4", 1):
        texts = list(spans(page))
        demand_apart(texts)
        assert all(MARGIN * 2 - 0.5 <= s.x <= s.end_x <= wide - MARGIN * 2 + 0.5 for s in texts)


def test_overlap_is_measured() -> None:
    """Two texts a line apart do not overlap; one set half a line lower does, by the height they share."""
    line, next_line, on_it = Span(0, 10, 30, 10, 2), Span(0, 7, 30, 7, 2), Span(20, 9, 50, 9, 2)
    assert line.overlap(next_line) < 0
    assert line.overlap(on_it) == pytest.approx(0.4)


@pytest.mark.parametrize(("rows", "sheets"), [(4, 1), (34, 1), (60, 2)])
def test_a_card_is_set_closer_where_that_spares_a_sheet(rows: int, sheets: int) -> None:
    """34 lines, which take two sheets at the usual spacing, stand on one; 60 take two."""
    card = values("shelves")["cards"][0] | {"stays": [["stays", f"row {n}"] for n in range(rows)]}
    pages = set_cards(values("shelves") | {"cards": [card]}, "a4", 1)
    assert len(pages) == sheets
    text = "".join(page.extract_text() for page in pages)
    assert all(f"row {n}" in text for n in range(rows))


def test_a_source_is_not_torn_by_the_caution_behind_it() -> None:
    """Where cautions run together, the long first word of one is pushed on by half a millimetre at a time: it begins a
    line with its mark, and the last word of the source before it only where that itself does not fit: some 6 mm of the
    80 of a line, so of 75 places a millimetre apart."""
    shelf = values("shelves")["cards"][0] | {"stays": [["stays", f"row {n}"] for n in range(32)]}
    second = {"says": "extraordinarilylongish word", "source": "gamma"}
    cards = [
        shelf | {"cautions": [{"says": f"{'i' * wide} first", "source": "alpha beta"}, second]}
        for wide in range(0, 150, 2)
    ]
    pages = set_cards(values("shelves") | {"cards": cards}, "a4", 1)
    texts = [page.extract_text() for page in pages]
    assert len(texts) == len(cards)
    begins = [bool(re.search(r"\n\s*!\s*extra", text)) for text in texts]
    assert 10 < sum(begins) < 65  # run together: the mark stands within a line or begins one
    assert 0 < sum(bool(re.search(r"\n\s*beta\)", text)) for text in texts) < 10


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("sheets", [1, 2])
def test_the_name_of_the_station_keeps_its_line(paper: Paper, sheets: int) -> None:
    """A long name of a job leaves the head of a card, and of one that goes on, the line of its station."""
    rows = [["stays", f"row {n}"] for n in range(70 if sheets == 2 else 4)]
    named = {
        "number": 26,
        "of": 38,
        "station": "plunge mortiser",
        "stays": rows,
        "time": "walk 1, set 0.5, work 38.4 min",
    }
    card = (
        values("shelves")["cards"][0]
        | named
        | {"job": "Tea boxes, a large and a small one, plan 2, goes on after 20 steps"}
    )
    pages = set_cards(values("shelves") | {"cards": [card]}, paper, 1)
    assert len(pages) == sheets
    for number, page in enumerate(pages, 1):
        assert re.match(r"26\s*(of 38|continued)\s*plunge mortiser\s*\n", page.extract_text()), number
        demand_apart([s for s in spans(page) if s.level])


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("name", ["mitred-box", "picture-frames"])
def test_a_card_with_one_step_takes_one_sheet(name: str, paper: Paper) -> None:
    """In the examples no card runs on whose steps share one set of words and that sets no more than four things."""
    printed = values(name)
    cards = [c for c in printed["cards"] if len(c["groups"]) == 1 and len(c["moved"]) <= 4]
    assert len(cards) > 4
    pages = set_cards(printed | {"cards": cards}, paper, 1)
    assert len(pages) == len(cards)
    assert "continued" not in "".join(page.extract_text() for page in pages)


@pytest.mark.parametrize("name", ["trough", "shelf-unit"])
def test_a_card_that_runs_on_does_not_part_a_step(name: str) -> None:
    """On a card that needs several sheets each step stands with what lies on the fence and its check on one sheet, and
    a sheet that goes on names its card and says so."""
    printed = values(name)
    longest = max(printed["cards"], key=lambda card: len(card["groups"]))
    pages = [
        re.sub(r"\s+", " ", page.extract_text())
        for page in set_cards(printed | {"cards": [longest]}, "a4", 1)
    ]
    assert len(pages) > 1
    assert all(page.startswith(f"{longest['number']} continued") for page in pages[1:])
    for group in longest["groups"]:
        sheets = set()
        for work in group["works"]:
            sheets |= {n for n, page in enumerate(pages) if work["what"] in page}
        assert len(sheets) == 1
        (sheet,) = sheets
        assert group["check"][1] in pages[sheet]
        assert all(text[:40] in pages[sheet] for _, text in group["lie"])


def card_pages(groups: list[dict[str, object]]) -> list[str]:
    """The sheets of a card of nothing but these steps, in words."""
    card = values("shelves")["cards"][0] | {"groups": groups, "cautions": [], "foot": []}
    pages = set_cards(values("shelves") | {"cards": [card]}, "a4", 1)
    return [re.sub(r"\s+", " ", page.extract_text()) for page in pages]


def step(number: int, rows: int, heights: tuple[float, float, float]) -> dict[str, object]:
    """A step of so many rows of words and two figures, so high in mm at each closer setting; 0: none."""
    work = {"step": number, "what": f"make cut {number}", "count": "", "pieces": [], "ticks": 1}
    return {
        "works": [work | {"spare_ticks": 0, "each_box": ""}],
        "figures": [[figure_values(Figure((), 40.0, high))] * 2 if high else [] for high in heights],
        "lie": [[f"row {n} of {number}", "lies there"] for n in range(rows)],
        "check": ["", f"{number} all good", ""],
    }


def test_sections_are_left_out_before_a_step_is_parted() -> None:
    """Of two steps each fills more than a card with its figures, and less without: each is whole on a sheet of its own,
    and neither has figures. Five that fit with them, one to a sheet, keep
    them, though they would take fewer sheets without."""
    pages = card_pages([step(n, 20, (60.0, 60.0, 0.0)) for n in (1, 2)])
    assert len(pages) > 1
    assert ", continued" not in " ".join(pages)
    for number in (1, 2):
        (page,) = (page for page in pages if f"make cut {number}" in page)
        assert f"{number} all good" in page
        assert all(f"row {n} of {number}" in page for n in range(20))
    tall, none = (
        len(card_pages([step(n, 7, (high, high, 0.0)) for n in range(1, 6)])) for high in (75.0, 0.0)
    )
    assert tall > none > 1


def test_a_step_that_no_sheet_holds_is_named_on_each() -> None:
    """Of a step of a hundred rows every sheet but the first begins with its number, its name and that it goes on."""
    pages = card_pages([step(7, 100, (0.0, 0.0, 0.0)), step(8, 3, (0.0, 0.0, 0.0))])
    rows = [[n for n in range(100) if f"row {n} of 7 " in page] for page in pages]
    assert sorted(n for held in rows for n in held) == list(range(100))
    going = [page for page, held in list(zip(pages, rows, strict=True))[1:] if held and held[0] > 0]
    assert len(going) > 1
    for page in going:
        assert re.search(r" 7 make cut 7, continued row ", page)
    assert " ".join(pages).count("make cut 8") == 1


@pytest.mark.parametrize("name", ["trough", "side-table"])
def test_a_card_that_runs_on_warns_before_the_first_cut(name: str) -> None:
    """On a card of several sheets the cautions and what must not be moved stand before the first step, each further
    sheet repeats the settings, and each that goes on names the next."""
    printed = values(name)
    seen = 0
    for card in printed["cards"]:
        pages = [
            re.sub(r"\s+", " ", page.extract_text())
            for page in set_cards(printed | {"cards": [card]}, "a4", 1)
        ]
        if len(pages) < 2 or not card["cautions"]:
            continue
        seen += 1
        text = " ".join(pages)
        first = text.index(card["groups"][0]["works"][0]["what"])
        held = [says[:30] for name, says in card["foot"] if name == "DO NOT MOVE"]
        assert all(text.index(says) < first for says in [c["says"][:30] for c in card["cautions"]] + held)
        assert all(card["standing"] in page for page in pages[1:])
        assert all(f"part {n} of this card" in page for n, page in enumerate(pages[:-1], 2))
    assert seen


@pytest.mark.parametrize("name", ["mm", "board-panel", "trough"])
def test_pages_are_as_many_as_the_cards_need(name: str) -> None:
    """Four cards to a sheet take a quarter of the pages of one to a sheet, rounded up."""
    one, four = (len(set_cards(values(name), "a4", n)) for n in (1, 4))
    assert one >= len(plan_called(name).setups)
    assert four == -(-one // 4)


def test_whole_booklets_keep_their_paper() -> None:
    """The sheets around the cards stay within the page, in inches on Letter and with the longest names."""
    for printed in (sample_values("in"), example_values("picture-frames")):
        for page in PdfReader(io.BytesIO(set_booklet(printed, "letter"))).pages:
            wide, high = PAPERS["letter"]
            assert all(
                0 <= s.x <= s.end_x + 1e-6 <= wide and 0 <= s.y <= high for s in spans(page) if s.level
            )
