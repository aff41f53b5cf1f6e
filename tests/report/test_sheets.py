"""The tables and drawings written beside the booklet."""

from __future__ import annotations

import csv
import re
import xml.etree.ElementTree as ElementTree
from dataclasses import replace
from io import BytesIO, StringIO
from pathlib import Path

import pytest
from pypdf import PdfReader
from rich.console import Console

from sequencer import load_job
from sequencer import plan as planned
from sequencer.cards.planbook import Pieces, PlanBook
from sequencer.cards.setup_cards import cards
from sequencer.diagnostics import InputError
from sequencer.operations import Between, Notes, Operation, PencilLine
from sequencer.planfile import PartRecord, Plan, StationRecord
from sequencer.quantity import in_unit, parse_length
from sequencer.report.booklet import booklet_values, set_booklet
from sequencer.report.card_page import count_text, pieces_text
from sequencer.report.drawing.figure import Path as DrawnPath
from sequencer.report.drawing.figure import Words
from sequencer.report.drawing.marking import Mark, marking_figure
from sequencer.report.figures import drawings, write_svg
from sequencer.report.sheet_values import sheet_values, sheets
from sequencer.report.spreadsheet import write_csv
from sequencer.report.stocklist import slips
from sequencer.report.terminal import print_plan
from sequencer.report.web import write_html
from tests.bench.begun_job import chain
from tests.report.printed import example
from tests.sample_plans import tea_boxes, two_shelves

SVG_NAME = re.compile(r'xmlns="[^"]*"')
"""The name of the SVG language, an address that nothing fetches."""


def rows(path: Path) -> list[list[str]]:
    """A table read back."""
    with path.open(encoding="utf-8-sig", newline="") as page:
        return list(csv.reader(page))


def test_tables_hold_the_plan(tmp_path: Path) -> None:
    """The CSV files name every part, every step in order and every pencil line once, in inches for a job in inches."""
    plan = tea_boxes("in")
    parts, steps, marks = (rows(path) for path in write_csv(plan, tmp_path / "new" / "folder"))
    assert [row[0] for row in parts[1:]] == [part.id for part in plan.parts]
    assert float(parts[1][1]) == pytest.approx(plan.parts[0].length / 25.4)
    assert [int(row[0]) for row in steps[1:]] == list(range(1, len(plan.steps) + 1))
    assert [row[3] for row in steps[1:]] == [step.operation for step in plan.steps]
    lines = {line for op in plan.operations for line in op.notes.lines}
    assert len(marks) - 1 == sum(len(line.at) for line in lines)


def test_the_table_of_marks_has_each_line_once(tmp_path: Path) -> None:
    """Slots beside each end of a front lie on the same lines along its back: the table has the lines of two slots, and
    names the card; a line of steps on two cards names both."""
    made = example("tea-boxes")
    head, *marks = rows(write_csv(made, tmp_path)[2])
    front = [row for row in marks if row[0] == "large front"]
    (card,) = {row[head.index("card")] for row in front}
    across = [card, "back"]
    assert [[row[head.index("card")], row[head.index("squared across")]] for row in front] == [across] * 2
    assert len({tuple(row) for row in marks}) == len(marks)
    told = sheet_values(PlanBook(made))["marking"]
    sheet = [
        (part["part"], line[0], surface)
        for group in told
        for part in group
        for line in part["lines"]
        for surface in line[1].split(" and ")
    ]
    assert sorted(set(sheet)) == sorted({tuple(row[:3]) for row in marks})

    line = PencilLine(part="side", start="edge", across="face", at=(30.0,), what="")
    shelves = two_shelves()
    operations = [
        Operation(id=step.operation, station=step.station, parts=("side",), notes=Notes(lines=(line,)))
        for step in shelves.steps
    ]
    twice = shelves.model_copy(update={"operations": tuple(operations)})
    (_, row) = rows(write_csv(twice, tmp_path)[2])
    assert row[head.index("card")] == ", ".join(dict.fromkeys(str(step.setup) for step in shelves.steps))
    assert "," in row[head.index("card")]


def test_the_table_of_steps_counts_pieces_as_the_cards_do(tmp_path: Path) -> None:
    """Of a piece cut at both ends one is counted, and two cuts; of what is put together, the pieces and the sets."""
    made = example("picture-frames")
    head, *steps = rows(write_csv(made, tmp_path)[1])
    pieces, each, sets = (head.index(name) for name in ("pieces", "cuts each", "sets"))
    seen = {row[head.index("operation")]: (row[pieces], row[each], row[sets]) for row in steps}
    for card in cards(made):
        for work in card.work:
            whole, cuts = sum(piece.count or 0 for piece in work.pieces), work.cuts
            told = str(cuts) if cuts else ""
            assert seen[work.operation] == (str(whole), told, str(work.pieces[0].sets or ""))
    assert {("12", "2", ""), ("24", "1", "6")} <= set(seen.values())
    plunges = [row for name, row in seen.items() if "plunge" in name]
    assert plunges
    assert {cuts for _, cuts, _ in plunges} == {""}


def test_no_count_of_cuts_stands_beside_a_count_of_slots(tmp_path: Path) -> None:
    """Two shelves with three slots in each end: their step counts the 6 slots of a shelf and 2 shelves, and nothing in
    the terminal, on the card or in the table of steps says that a shelf takes 2 cuts."""
    made = example("shelf-unit")
    works = [work for card in cards(made) for work in card.work]
    shelf = next(
        work for work in works if "6 slots in the left end and right end of bottom shelf" in work.what
    )
    assert count_text(shelf) == "× 2"
    assert pieces_text(shelf) == ["bottom shelf  × 2"]
    out = StringIO()
    print_plan(made, Console(width=200, file=out, color_system=None, _environ={}))
    assert re.search(
        r"6 slots in the left end and right end of bottom shelf.*\n +pieces +bottom shelf ×2\n",
        out.getvalue(),
    )
    head, *steps = rows(write_csv(made, tmp_path)[1])
    (row,) = (row for row in steps if row[head.index("operation")] == shelf.operation)
    assert [row[head.index(name)] for name in ("pieces", "cuts each")] == ["2", ""]


def test_minutes_on_one_page_add_up(tmp_path: Path) -> None:
    """Of a walk and a reset of 0.125 min each, another of 0.7 and one of 0.1, and 3 × 0.004 and 0.25 min of work:
    0.925 + 0.125 + 0.262 = 1.312, in the summary, on its sheet and in the table of steps alike."""
    settings = "".join(
        f'[[station.setting]]\nid = "{name}"\nmeasures = "number"\nreset = {reset}\n'
        for name, reset in (("a", 0.125), ("b", 0.7), ("c", 0.1))
    )
    (tmp_path / "shop.toml").write_text(
        f'[shop]\nwalk = 0.125\n[[station]]\nid = "saw"\n{settings}[[station]]\nid = "bench"\n'
    )
    (tmp_path / "job.toml").write_text(
        '[job]\nshop = "shop.toml"\n[[operation]]\nid = "x"\nstation = "saw"\nquantity = 3\nminutes_each = 0.004\n'
        'settings = { a = 1, b = 1, c = 1 }\n[[operation]]\nid = "y"\nstation = "bench"\nminutes_each = 0.25\n'
        'after = ["x"]\n'
    )
    made = planned(load_job(tmp_path / "job.toml"), time_limit=10)
    out = StringIO()
    print_plan(made, Console(width=100, file=out, color_system=None, _environ={}))
    text = " ".join(out.getvalue().split())
    assert "Takes 1.312 min 0.925 min for 3 resets, 0.125 min for 1 walk, 0.262 min of work" in text
    assert "saw 1 1 3 0.925 0.000 0.012" in text
    assert "bench 1 1 0 0.000 0.125 0.250" in text
    page = sheet_values(PlanBook(made))["overview"]
    assert {tuple(fact) for fact in page["facts"]} >= {
        ("resets", "3, 0.925 min"),
        ("walks", "1, 0.125 min"),
        ("work", "0.262 min"),
        ("in all", "1.312 min"),
    }
    assert [row[-3:] for row in page["order"]] == [
        ["–", "0.925", "0.012"],
        ["0.125", "–", "0.25"],
        ["0.125", "0.925", "0.262"],
    ]
    head, *steps = rows(write_csv(made, tmp_path)[1])
    columns = [head.index(name) for name in ("min walk", "min set", "min work")]
    assert [[row[at] for at in columns] for row in steps] == [
        ["0.0", "0.925", "0.012"],
        ["0.125", "0", "0.25"],
    ]


@pytest.mark.parametrize("name", ["picture-frames", "trough", "planter"])
def test_card_summary_and_table_tell_one_value(name: str, tmp_path: Path) -> None:
    """Of a setting with room its card, the table of steps and the reasons of the summary tell the same value, and it is
    within what the operations ask for."""
    made = example(name)
    head, *steps = rows(write_csv(made, tmp_path)[1])
    of_card = {card.number: {line.setting: line.value for line in card.settings} for card in cards(made)}
    whys = {tuple(reason.settings): reason.why for reason in made.reasons}
    book, seen = PlanBook(made), 0
    for step, row in zip(made.steps, steps, strict=True):
        for setting, wanted in book.operation(step.operation).settings.items():
            record = book.stations[step.station]
            if not isinstance(wanted, Between) or record.measures[setting] != "length":
                continue
            seen += 1
            told = of_card[step.setup][setting]
            in_table = float(row[head.index(setting.replace("_", " "))])
            assert "(" not in told  # no decimals are needed beside what can be read
            assert in_unit(parse_length(told, made.unit), made.unit) == in_table == step.settings[setting]
            assert wanted.min <= parse_length(told, made.unit) <= wanted.max
            why = whys.get((f"{step.station}.{setting}",), "")
            assert told in why or "(" not in why
    assert seen


def test_the_table_of_an_earlier_plan_tells_what_the_card_tells(tmp_path: Path) -> None:
    """A plan whose file holds the very end of a range, 7.925639 of 7.925639 to 9 mm: 8 mm on card and in table."""
    text = (
        two_shelves()
        .model_dump_json()
        .replace('"height": 8.0', '"height": 7.925639')
        .replace("8.0", "7.925639")
    )
    plan = Plan.model_validate_json(text)
    asked = {"height": Between(min=7.925639, max=9), "bit": "straight-18"}
    made = [op.model_copy(update={"settings": asked}) if op.id == "house" else op for op in plan.operations]
    measures = {"height": "length", "bit": "name"}
    router = StationRecord(id="router", name="router", measures=measures)
    earlier = plan.model_copy(update={"operations": tuple(made), "stations": (router,)})
    head, *told = rows(write_csv(earlier, tmp_path)[1])
    (line,) = [line for card in cards(earlier) for line in card.settings if line.setting == "height"]
    assert line.value == "8 mm"
    assert [row[head.index("height")] for row in told if row[3] == "house"] == ["8.0"]


def test_names_are_no_formulas(tmp_path: Path) -> None:
    """A part called =1+1 is written so that no spreadsheet computes it."""
    plan = tea_boxes("mm")
    part = plan.parts[0].model_copy(update={"id": "=1+1"})
    table = rows(write_csv(plan.model_copy(update={"parts": (part,)}), tmp_path)[0])
    assert table[1][0] == "'=1+1"


def test_tables_that_cannot_be_written_are_an_input_error(tmp_path: Path) -> None:
    """A folder that is a file is refused with its name."""
    (tmp_path / "taken").write_text("")
    with pytest.raises(InputError, match="taken"):
        write_csv(two_shelves(), tmp_path / "taken")


def test_every_drawing_is_a_file_of_its_own(tmp_path: Path) -> None:
    """The drawings of a plan parse as SVG, have names of their own, and are at least one for each step with cuts."""
    plan = tea_boxes("mm")
    paths = write_svg(drawings(plan), tmp_path)
    assert len(set(paths)) == len(paths)
    for path in paths:
        assert ElementTree.parse(path).getroot().tag.endswith("svg")
    cut = [step for step in plan.steps if PlanBook(plan).operation(step.operation).cuts]
    assert len([path for path in paths if path.name.startswith("step-")]) >= len(cut)


def test_every_marked_part_is_drawn_as_a_file() -> None:
    """Each part with pencil lines has the figure of the marking-out sheet, in a file of its own, be its name told from
    another's by signs only that no file name takes."""
    plan = example("shelf-unit")
    marked = {line.part for op in plan.operations for line in op.notes.lines}
    names = {"marking-01-housed-shelf.svg", "marking-02-side.svg", "marking-03-bottom-shelf.svg"}
    drawn = {name: figure for name, figure in drawings(plan).items() if name.startswith("marking-")}
    assert set(drawn) == names
    assert {figure.title for figure in drawn.values()} == marked == {"housed shelf", "side", "bottom shelf"}
    shown = [part["figure"] for group in sheets(PlanBook(plan))["marking"] for part in group]
    assert list(drawn.values()) == shown

    called = {"long apron": "a/b", "short apron": "a b"}
    text = example("side-table").model_dump_json()
    for old, new in called.items():
        text = text.replace(f'"{old}"', f'"{new}"').replace(f'"{old}/', f'"{new}/')
    alike = [name for name in drawings(Plan.model_validate_json(text)) if name.endswith("-a-b.svg")]
    assert len([name for name in alike if name.startswith("marking-")]) == 2


def test_web_page_is_whole_and_fetches_nothing() -> None:
    """The HTML page holds the sheets and every card with its drawings and tick boxes, its links lead to cards on the
    page, names stay text, and nothing is loaded."""
    plan = tea_boxes("mm")
    page = write_html(plan)
    assert page.count("<article") == len(plan.setups)
    assert page.count("<svg") >= 10
    assert "[/x] &lt;b&gt;&amp;" in page
    assert "<b>&" not in page
    bare = SVG_NAME.sub("", page)
    assert not [word for word in ("src=", "url(", "<script", "@import", "http:", "https:") if word in bare]
    links = re.findall(r'href="([^"]*)"', page)
    assert set(links) == {f"#card-{setup.number}" for setup in plan.setups}
    assert all(f'id="{link[1:]}"' in page for link in links)
    boxes = sum(work.ticks for card in cards(plan) for work in card.work)
    assert page.count('done">') == boxes
    assert all(title in page for title in ("Not proven best", "Cut list", "Marking out"))


def test_a_proof_says_that_preferences_are_weighed() -> None:
    """Where there are preferences an order may cost fewer minutes and go against them, as a usual way may."""
    plan = two_shelves()
    wish = plan.precedence[0].model_copy(update={"strength": "prefer", "price_minutes": 1.0})
    weighed = plan.model_copy(update={"precedence": (*plan.precedence, wish)})
    for each, says in ((plan, False), (weighed, True)):
        assert (", preferences weighed in." in sheet_values(PlanBook(each))["overview"]["proof"]) is says


def test_mates_stand_side_by_side_on_the_marking_sheet() -> None:
    """Parts that share a joint stand in one group, and every pencil line is in the list, from its reference end."""
    marking = sheet_values(PlanBook(tea_boxes("mm")))["marking"]
    (group,) = [group for group in marking if "front" in [row["part"] for row in group]]
    assert "side" in [row["part"] for row in group]
    assert group[0]["mates"] == "side"
    assert group[0]["lines"][0][:3] == ["edge", "face", "30 · 70 mm"]


@pytest.mark.parametrize(
    ("name", "parts", "told"),
    [
        ("picture-frames", ["long rail", "short rail"], "lay them side by side and carry the lines across."),
        ("side-table", ["long apron", "leg"], "Lay long apron and short apron side by side and carry"),
        (
            "tea-boxes",
            ["lid rail", "lid stile"],
            "but their lines do not agree: mark each from its own list.",
        ),
    ],
)
def test_only_boards_whose_lines_agree_are_laid_side_by_side(name: str, parts: list[str], told: str) -> None:
    """Lines are carried across from a mate whose row is measured from the same surface by the same distances; a rail's
    row runs from its edge, its stile's from an end."""
    says = sheet_values(PlanBook(example(name)))
    (found,) = [
        text
        for group, text in zip(says["marking"], says["marking_says"], strict=True)
        if {row["part"] for row in group} >= set(parts)
    ]
    assert told in found
    page = write_html(example(name))
    assert told in page


def test_a_part_without_mates_does_not_stand_among_those_before_it() -> None:
    """The boards of a table's top meet no apron: a sentence of their own stands between them and these, as their cards
    have it (the lines of boards that lie side by side run across). A board whose rows no other has is marked alone."""
    made = example("side-table")
    says = sheet_values(PlanBook(made))
    groups = [[row["part"] for row in group] for group in says["marking"]]
    told = dict(zip(map(tuple, groups), says["marking_says"], strict=True))
    assert (
        told[("top board",)]
        == "Lay the pieces of top board side by side and carry across the lines they share."
    )
    text = " ".join(
        "".join(
            page.extract_text()
            for page in PdfReader(BytesIO(set_booklet(booklet_values(made) | {"cards": []}))).pages
        ).split()
    )
    before, after = text.split("Marking out")[1].split(told[("top board",)])
    assert "long apron 4" in before
    assert "top board 5" not in before
    assert after.strip().startswith("top board 5")

    line = PencilLine(part="side", start="edge", across="face", at=(30.0,), what="")
    step = two_shelves().steps[0]
    operation = Operation(
        id=step.operation, station=step.station, parts=("side",), notes=Notes(lines=(line,))
    )
    alone = two_shelves().model_copy(update={"operations": (operation,)})
    assert sheet_values(PlanBook(alone))["marking_says"] == ["Mark side from its own list."]


@pytest.mark.parametrize(
    ("name", "carried", "each_alone"),
    [
        ("picture-frames", {"long rail", "short rail"}, set()),
        ("side-table", {"long apron", "short apron", "top board"}, {"leg"}),
        (
            "tea-boxes",
            {"small front", "small side", "large front", "large side"},
            {"lid rail", "lid stile"},
        ),
        ("umbrella-stand", {"stave"}, set()),
    ],
)
def test_cards_carry_lines_across_where_the_sheet_does(
    name: str, carried: set[str], each_alone: set[str]
) -> None:
    """What the cards say of the pencil lines of slots is what the marking-out sheet says; pieces of one part that meet
    each other (staves, boards of a panel) have theirs in common.
    """
    plan = example(name)
    plunged = [
        (op.parts[0], "carried across while the mates lie together" in work.way_round)
        for card in cards(plan)
        for work in card.work
        if (op := PlanBook(plan).operation(work.operation)).kind == "plunge"
    ]
    assert {part for part, across in plunged if across} == carried
    assert {part for part, across in plunged if not across} == each_alone


CARRIED = "carried across while the mates lie together"


@pytest.mark.parametrize(
    ("name", "plunge", "carried"),
    [("mitred-box", "plunge-side-ends", True), ("side-table", "plunge-leg-back", False)],
)
def test_lines_of_an_earlier_plan_file_are_told_as_of_a_new_one(
    name: str, plunge: str, carried: bool
) -> None:
    """Plan files written before told of every plunge that its lines are carried across: where they are it is told once,
    and where they are not, for the sheet marks the leg from its own list, it is taken back.
    """
    plan = example(name)
    earlier = [
        op.model_copy(
            update={"notes": op.notes.model_copy(update={"way_round": f"{op.notes.way_round}, {CARRIED}"})}
        )
        if op.kind == "plunge"
        else op
        for op in plan.operations
    ]
    for each in (plan, plan.model_copy(update={"operations": tuple(earlier)})):
        (told,) = {w.way_round for c in cards(each) for w in c.work if w.operation.endswith(plunge)}
        assert told.count(CARRIED) == carried


def test_names_keep_their_letters() -> None:
    """An x between names stays one: only sizes, where they are made, carry the sign of multiplication."""
    plan = tea_boxes("mm").model_copy(update={"remarks": ("a x b: 2 slips of 6 mm × 26 mm",)})
    assert sheet_values(PlanBook(plan))["overview"]["remarks"] == ["a x b: 2 slips of 6 mm × 26 mm"]
    assert "a x b: 2 slips of 6 mm × 26 mm" in write_html(plan)


def test_cut_list_counts_needed_pieces_beside_spares(tmp_path: Path) -> None:
    """The cut list gives the pieces needed, the spares apart, and the rough size the plan carries."""
    plan = tea_boxes("mm")
    changed = {"quantity": 10, "spare": 2, "rough": (500.0, 90.0, 20.0)}
    part = plan.parts[0].model_copy(update=changed)
    table = rows(write_csv(plan.model_copy(update={"parts": (part,)}), tmp_path)[0])
    assert [float(cell) for cell in table[1][4:7]] == [500.0, 90.0, 20.0]
    assert table[1][7:9] == ["8", "2"]


def test_slips_are_listed_by_joint_and_size() -> None:
    """Slips of one joint and size stand in one row, other sizes in their own; the sheet names the glue room, and a plan
    that does not say what meets what lists none."""
    plan = tea_boxes("mm")
    one, other = plan.meetings
    (row,) = slips(plan)
    assert (row.count, row.length, row.width, row.thickness) == (32, 10.0, 30.0, 6.0)
    longer = other.model_copy(update={"slip": other.slip.model_copy(update={"length": 12.0})})
    found = slips(plan.model_copy(update={"meetings": (one, longer)}))
    assert [(row.length, row.count) for row in found] == [(10.0, 16), (12.0, 16)]
    assert sheet_values(PlanBook(plan.model_copy(update={"glue_room": 2.5})))["glue_room"] == "2.5 mm"
    assert slips(plan.model_copy(update={"meetings": ()})) == ()


def test_counts_say_what_they_count() -> None:
    """16 cuts on 8 pieces read as 8 pieces, 2 cuts each; 4 glued boxes of 8 fronts and 8 sides as 4 sets."""
    work = next(work for card in cards(tea_boxes("mm")) for work in card.work)
    cuts = replace(work, count=16, cuts=2, pieces=(Pieces("front", 8, each=2),))
    slots = replace(cuts, cuts=None)
    glued = replace(work, count=4, pieces=(Pieces("front", 8, sets=4), Pieces("side", 8, sets=4)))
    plain = replace(work, count=8, pieces=(Pieces("front", 8),))
    assert [count_text(each) for each in (cuts, slots, glued, plain)] == [
        "× 8, 2 cuts each",
        "× 8",
        "4 sets",
        "× 8",
    ]
    assert pieces_text(glued) == ["front  × 2 a set", "side  × 2 a set"]


def test_pencil_lines_lie_on_the_surface_they_cross() -> None:
    """Lines across an end or edge lie on its strip outside the board; on the back they are dashed, in their row."""
    part = PartRecord(id="rail", quantity=4, length=200.0, width=50.0, thickness=20.0)

    def drawn(start: str, across: str, *rows: float) -> list[tuple[str | None, float, float, float, float]]:
        line = PencilLine(part="rail", start=start, across=across, at=(30.0,), what="centres of the slots")
        blank = marking_figure(part, (), 200.0, 86.0, "mm")
        figure = marking_figure(part, (Mark(line, rows),), 200.0, 86.0, "mm")
        assert len(figure.items) > len(blank.items)
        board = next(item for item in figure.items if isinstance(item, DrawnPath) and item.closed)
        left, low = board.points[0]
        right, high = board.points[2]
        scale = (right - left) / 200.0
        found = []
        for item in figure.items:
            if isinstance(item, DrawnPath) and len(item.points) == 2 and not item.closed:
                (x1, y1), (x2, y2) = item.points
                at_height = start == "edge" and abs(y1 - low - 30 * scale) < 1e-6 and abs(y2 - y1) < 1e-6
                at_length = start == "left end" and abs(x1 - left - 30 * scale) < 1e-6 and abs(x2 - x1) < 1e-6
                if at_height or at_length:
                    span = (x1 - left, x2 - left) if at_height else (y1 - low, y2 - low)
                    size = (right - left) if at_height else (high - low)
                    found.append((item.pen, span[0] / size, span[1] / size, x1, y1))
        return found

    _, low, high, *_ = drawn("edge", "left end")[0]
    assert low < high < 0
    _, low, high, *_ = drawn("edge", "right end")[0]
    assert 1 < low < high
    _, low, high, *_ = drawn("left end", "edge")[0]
    assert low < high < 0
    _, low, high, *_ = drawn("left end", "edge bevel")[0]
    assert low < high < 0
    _, low, high, *_ = drawn("left end", "far edge bevel")[0]
    assert 1 < low < high
    pen, low, high, *_ = drawn("edge", "back", 190.0)[0]
    assert pen == "hidden"
    assert 0.5 < low < 0.95 < high <= 1.0 + 1e-9
    _, low, high, *_ = drawn("edge", "back", 80.0)[0]
    assert 0.25 < low < 0.4 < high < 0.5
    assert drawn("edge", "face")[0][1:3] == pytest.approx((0.0, 1.0))
    assert drawn("left end", "face")[0][1:3] == pytest.approx((0.0, 1.0))


def test_lines_along_a_board_run_through_the_rows_they_are_for() -> None:
    """The sides of the shelf unit have slots for shelves 20 mm thick from 20, 350 and 680 mm on of 720 mm, three in
    each row, 33.5, 100 and 166.5 mm from the edge: nine short lines, each through the middle of a slot and no other.
    """
    groups = sheets(PlanBook(example("shelf-unit")))["marking"]
    (figure,) = [part["figure"] for group in groups for part in group if part["part"] == "side"]
    board = next(item for item in figure.items if isinstance(item, DrawnPath) and item.closed)
    (left, low), (right, _), *_ = board.points
    scale = (right - left) / 720.0
    found = []
    for item in figure.items:
        if isinstance(item, DrawnPath) and item.pen == "hidden" and item.points[0][1] == item.points[1][1]:
            places = sorted((x - left) / scale for x, _ in item.points)
            assert places[1] - places[0] < 150
            through = [x for x in (30.0, 360.0, 690.0) if places[0] < x < places[1]]
            found.append((*through, round((item.points[0][1] - low) / scale, 3)))
    assert sorted(found) == [(x, y) for x in (30.0, 360.0, 690.0) for y in (33.5, 100.0, 166.5)]


def test_lines_stop_short_of_the_next_row() -> None:
    """Rows 20 mm apart on a board drawn at a fifth: their lines reach 4 mm on paper to either side at most, and do not
    run on into each other. Sizes stand at the end that the rows are nearer to."""
    part = PartRecord(id="rail", quantity=4, length=300.0, width=100.0, thickness=20.0)

    def line(*at: float) -> PencilLine:
        return PencilLine(part="rail", start="edge", across="face", at=at, what="centres of the slots")

    marks = (Mark(line(25.0), (200.0,)), Mark(line(50.0), (220.0,)))
    figure = marking_figure(part, marks, 300.0, 90.0, "mm")  # 30 mm of the width are kept for sizes
    board = next(item for item in figure.items if isinstance(item, DrawnPath) and item.closed)
    (left, _), (right, _), *_ = board.points
    assert right - left == pytest.approx(60.0)
    spans = [
        (item.points[0][0] - left, item.points[1][0] - left)
        for item in figure.items
        if isinstance(item, DrawnPath)
        and item.pen == "narrow"
        and item.points[0][1] == item.points[1][1]
        and left <= item.points[0][0] < item.points[1][0] <= right
    ]
    assert spans == [pytest.approx((38.0, 42.0)), pytest.approx((42.0, 46.0))]
    sizes = [
        item.at[0] for item in figure.items if isinstance(item, Words) and item.text in ("25 mm", "50 mm")
    ]
    assert len(sizes) == 2
    assert min(sizes) > right


@pytest.mark.parametrize(
    ("rows", "order"),
    [
        ({31.0: (10.0,), 28.0: (190.0,)}, "31 board 28"),
        ({31.0: (390.0,), 28.0: (190.0,)}, "28 board 31"),
        ({31.0: (10.0, 390.0), 28.0: (190.0,)}, "28 31 board"),
        ({31.0: (10.0,), 28.0: (100.0,), 34.0: (390.0,)}, "28 31 board 34"),
        ({31.0: (10.0,), 60.0: (190.0,)}, "31 60 board"),
        # beside a board as long as the drawing there is no room for a fourth
        ({31.0: (10.0,), 28.0: (100.0,), 34.0: (390.0,), 25.0: (300.0,)}, "28 31 board 34"),
    ],
)
def test_no_row_stands_beside_sizes_of_another_one(rows: dict[float, tuple[float, ...]], order: str) -> None:
    """Rows whose values would touch (3 mm apart on a board drawn at about a seventh) have a scale each: beside an end
    first that of the row nearest to it. Each value is level with its lines, and all stay in the drawing's room;
    where there is room for no more than three, the rows farthest from the ends have none. Values that do not touch
    share one (60 beside 31)."""
    part = PartRecord(id="end", quantity=2, length=400.0, width=100.0, thickness=20.0)
    marks = [
        Mark(
            PencilLine(part="end", start="edge", across="back", at=(at,), what="centres of the slots"), places
        )
        for at, places in rows.items()
    ]
    figure = marking_figure(part, marks, 400.0, 86.0, "mm")
    assert figure.width <= 86.0
    board = next(item for item in figure.items if isinstance(item, DrawnPath) and item.closed)
    (left, foot), (right, _), *_ = board.points
    scale = (right - left) / 400.0
    told = [item for item in figure.items if isinstance(item, Words) and item.text.endswith(" mm")]
    spots = {item.text.removesuffix(" mm"): item.at for item in told} | {"board": ((left + right) / 2, foot)}
    shared = {name: x for name, (x, _) in spots.items()}
    assert sorted(shared, key=lambda name: (round(shared[name], 3), name)) == order.split()
    for name, (_, y) in spots.items():
        if name != "board":
            assert y + 0.36 * 2.5 == pytest.approx(foot + float(name) * scale)  # letters centred on the tick
    ticks = {
        round((item.points[0][1] - foot) / scale, 1)
        for item in figure.items
        if isinstance(item, DrawnPath)
        and item.pen == "narrow"
        and item.points[0][1] == pytest.approx(item.points[1][1])
        and not left <= item.points[0][0] <= right
    }
    assert ticks == {0.0, *(float(name) for name in spots if name != "board")}


def test_a_short_board_has_room_for_more_scales() -> None:
    """A sixth of the longest part: the board is drawn as large with five rows as with three, and all have their
    sizes beside it."""
    part = PartRecord(id="end", quantity=2, length=400.0, width=100.0, thickness=20.0)
    rows = {31: 10.0, 28: 100.0, 34: 390.0, 25: 300.0, 22: 200.0}
    marks = [
        Mark(PencilLine(part="end", start="edge", across="back", at=(float(at),), what=""), (place,))
        for at, place in rows.items()
    ]
    few, many = (marking_figure(part, marks[:number], 2400.0, 86.0, "mm") for number in (3, 5))
    assert many.width <= 86.0
    (one,), (other,) = (
        {item.points for item in figure.items if isinstance(item, DrawnPath) and item.closed}
        for figure in (few, many)
    )
    assert one[1][0] - one[0][0] == pytest.approx(other[1][0] - other[0][0])
    assert {item.text for item in many.items if isinstance(item, Words)} >= {f"{at} mm" for at in rows}


def test_left_and_right_are_named_clear_of_the_board() -> None:
    """L and R stand above the board, over its left and its right end, however narrow the board is."""
    part = PartRecord(id="leg", quantity=4, length=540.0, width=42.0, thickness=42.0)
    line = PencilLine(part="leg", start="left end", across="far edge", at=(10.0, 20.0), what="")
    figure = marking_figure(part, (Mark(line),), 580.0, 86.0, "mm")
    highest = max(y for item in figure.items if isinstance(item, DrawnPath) for _, y in item.points)
    left, right = (next(item for item in figure.items if getattr(item, "text", "") == text) for text in "LR")
    assert min(left.at[1], right.at[1]) > highest  # type: ignore[union-attr]
    assert left.at[0] < right.at[0]  # type: ignore[union-attr]


def test_one_of_a_kind_is_told_as_one(tmp_path: Path) -> None:
    """A plan of one step has one step, and each habit its one reset."""
    job = chain(tmp_path, {"id": "bevel", "station": "saw", "settings": {"tilt": 30}})
    seen = sheet_values(PlanBook(planned(job)))["overview"]
    assert ["cards", "1, with 1 step"] in seen["facts"]
    assert seen["habits"]
    assert all(says.endswith(", 1 reset") for says in seen["habits"])
