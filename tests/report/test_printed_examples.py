"""What the printed examples say, against the job files and the plans they come from."""

from __future__ import annotations

import io
import re

import pytest
from pypdf import PdfReader

from sequencer.cards.planbook import PlanBook
from sequencer.cards.setup_cards import Lines, cards
from sequencer.operations import Between, PlaneCut, Slot
from sequencer.quantity import parse_length
from sequencer.report.booklet import set_booklet
from sequencer.report.card_page import line_texts
from sequencer.report.drawing.figure import Path, Words
from sequencer.report.drawing.history import finished
from sequencer.report.drawing.part import part_scenes, scene_figure
from sequencer.report.sheet_values import sheet_values
from sequencer.report.stocklist import cut_list, preparations
from tests.report.printed import NAMES, example, example_values

INCH = 25.4


def words_of(name: str, card: int, step: int = 0) -> list[str]:
    """The words in the drawings of a card's step."""
    plan = example(name)
    operation = PlanBook(plan).operation(plan.setups[card - 1].operations[step])
    figures = [scene_figure(scene, 92.0, 40.0) for scene in part_scenes(plan, operation)]
    return [item.text for figure in figures for item in figure.items if isinstance(item, Words)]


@pytest.mark.parametrize("name", NAMES)
def test_list_and_cards_count_the_same_pieces(name: str) -> None:
    """Pieces and spares of the cut list are what the tick boxes of every card of rip and crosscut come to."""
    plan = example(name)
    rows = {row.part.id: row for row in cut_list(plan)}
    book = PlanBook(plan)
    for work in (work for card in cards(plan) for work in card.work):
        if book.operation(work.operation).kind in ("mill", "rip", "crosscut"):
            (piece,) = work.pieces
            row = rows[piece.part]
            assert work.ticks * work.per_tick >= row.pieces + row.spares == work.count
            assert piece.spare == row.spares
            assert work.spare_ticks == (row.spares if work.per_tick == 1 else 0)


def test_spares_are_marked_and_what_has_none_is_told() -> None:
    """The planter's one spare is told beside its twelve sides and has a box of its own; of the frames the list says
    that no spares are made."""
    plan = example("planter")
    works = [
        work
        for card in example_values("planter")["cards"]
        for group in card["groups"]
        for work in group["works"]
        if work["pieces"]
    ]
    ticked = [work for work in works if "spare" in work["pieces"][0]]
    assert {work["pieces"][0] for work in ticked} == {"side  × 12 + 1 spare"}
    assert {(work["ticks"], work["spare_ticks"]) for work in ticked} == {(13, 1)}
    assert sheet_values(PlanBook(plan))["unspared"] == ""
    assert "long rail, short rail" in sheet_values(PlanBook(example("picture-frames")))["unspared"]


def test_rough_sizes_are_read_off_a_tape() -> None:
    """Of the frames every rough size is whole eighths of an inch, at least the shop's allowance (25, 6 and 4 mm) more
    than the finished size, and less than an eighth more than that; of the tea boxes, whole mm."""
    for name, mark in (("picture-frames", INCH / 8), ("tea-boxes", 1.0)):
        for part in example(name).parts:
            assert part.rough is not None
            sizes = (part.length, part.width, part.thickness)
            added = {"rough": (25.0, 6.0, 4.0), "planed": (25.0, 6.0, 0.0), "sized": (0.0, 0.0, 0.0)}[
                part.stock
            ]
            for rough, size, extra in zip(part.rough, sizes, added, strict=True):
                assert -1e-6 <= rough - size - extra < mark
                assert not extra or abs(rough / mark - round(rough / mark)) < 1e-6


def test_metric_cutters_are_told_as_they_are_marked() -> None:
    """On a card in inches the shop's 6 mm cutter is called 6 mm, in setting, drawing and slip list."""
    plan = example("picture-frames")
    lines = [line for card in cards(plan) for line in card.settings if line.setting == "cutter"]
    assert {line.value for line in lines} == {"6 mm"}
    assert any(text.startswith("6 mm × 1 17/64 in") for text in words_of("picture-frames", 8))
    assert [row[1].startswith("6 mm × 1 17/64 × ") for row in sheet_values(PlanBook(plan))["slips"]] == [True]
    assert any("24 slips of 6 mm × 1 17/64 in" in says for says in plan.remarks)


@pytest.mark.parametrize("name", ["tea-boxes", "mitred-box", "shelf-unit"])
def test_a_groove_is_drawn_where_its_check_expects_it(name: str) -> None:
    """The drawing of a groove or housing tells its depth, and its place from the surface the check measures from."""
    plan = example(name)
    found = [op for op in plan.operations if op.kind in ("groove", "housing")]
    assert found
    for operation in found:
        assert operation.notes.check is not None
        place, depth = operation.notes.check.expect.split(", ")
        figures = [scene_figure(scene, 92.0, 40.0) for scene in part_scenes(plan, operation)]
        drawn = " ".join(item.text for figure in figures for item in figure.items if isinstance(item, Words))
        assert place in drawn
        assert depth in drawn


def test_a_size_between_slanting_edges_is_told_on_the_face() -> None:
    """Both edges ripped at the same slant: the drawing tells the width on the face that fence and check tell."""
    plan = example("planter")
    (rip,) = [
        op
        for op in plan.operations
        if op.notes.check and op.notes.check.measure.startswith("width on the face")
    ]
    assert rip.notes.check is not None
    width, both, _ = rip.notes.check.expect.partition(" on both, sharp corners on the ")
    assert both
    (scene,) = part_scenes(plan, rip)
    assert width in [item.text for item in scene_figure(scene, 92.0, 40.0).items if isinstance(item, Words)]


def test_settings_have_the_names_of_the_shop() -> None:
    """The saw's fence, stop and height are called what the shop file calls them."""
    card = cards(example("picture-frames"))[1]
    assert [line.name for line in card.settings if line.moves] == ["rip fence", "blade height"]


@pytest.mark.parametrize("name", ["picture-frames", "tea-boxes", "planter"])
def test_a_range_is_never_told_wider_than_it_is(name: str) -> None:
    """What "will do" by the card, and the value told, lie in the range of every operation from there on until the
    setting is moved again: on later cards it stays as it was set."""
    plan = example(name)
    book, told = PlanBook(plan), 0
    for card, setup in zip(cards(plan), plan.setups, strict=True):
        for line in card.settings:
            ends = line.accepts.split(" to ")
            if len(ends) < 2:
                continue
            told += 1
            later = [other for other in plan.setups if other.number > setup.number]
            here = [setup, *(other for other in later if other.station == setup.station)]
            moved = [any(reset.setting == line.setting for reset in other.resets) for other in here[1:]]
            here = here[: moved.index(True) + 1] if True in moved else here
            asked = [book.operation(o).settings.get(line.setting) for other in here for o in other.operations]
            for want in (want for want in asked if want is not None):
                assert isinstance(want, Between)
                inside = [parse_length(text, plan.unit) for text in ends]
                assert want.min - 1e-6 <= min(inside) <= max(inside) <= want.max + 1e-6
                assert want.min - 1e-6 <= parse_length(line.value, plan.unit) <= want.max + 1e-6
    assert told


def test_a_bevel_past_45_degrees_is_named_at_an_end() -> None:
    """The trough's ends, sawn at 45.41 and 15.77 degrees, are drawn with these angles and the length of the board, not
    its thickness."""
    said = " ".join(words_of("trough", 5))
    assert "45.41° bevel, 15.77° mitre" in said
    assert "600 mm" in said
    assert "18 mm" not in said


def test_parts_that_look_alike_share_a_drawing() -> None:
    """Long and short rails ripped to one width are drawn once; crosscut to two lengths they are drawn apart."""
    plan = example("picture-frames")
    book = PlanBook(plan)
    rip, *_ = (setup for setup in plan.setups if len(setup.operations) == 2)
    crosscuts = [o for o in plan.operations if o.kind == "crosscut"]
    (scene,) = part_scenes(plan, *(book.operation(o) for o in plan.setups[1].operations))
    assert rip.number == 1
    assert scene.names == ("long rail", "short rail")
    assert [s.names for s in part_scenes(plan, *crosscuts)] == [("long rail",), ("short rail",)]


@pytest.mark.parametrize("name", NAMES)
def test_what_lies_on_the_fence_is_hatched(name: str) -> None:
    """Wherever the notes name a surface of the part that the step leaves there, the drawing has hatching for it: narrow
    lines where it is seen, dashed ones where it is turned away."""
    plan = example(name)
    for operation in plan.operations:
        for scene in part_scenes(plan, operation):
            faces = {face.name: face for face in scene.state.after.faces}
            fence = re.sub(r"\([^)]*\)", "", operation.notes.fence)
            first = next((n for n in sorted(faces, key=len, reverse=True) if fence.startswith(n)), None)
            if first is None:
                continue
            bare = part_scenes(
                plan, operation.model_copy(update={"notes": operation.notes.model_copy(update={"fence": ""})})
            )[0]
            assert _narrow(scene_figure(scene, 92.0, 40.0)) > _narrow(scene_figure(bare, 92.0, 40.0))


def _narrow(figure: object) -> int:
    pens = [item.pen for item in figure.items if isinstance(item, Path) and len(item.points) == 2]  # type: ignore[attr-defined]
    return sum(pen in ("narrow", "hidden") for pen in pens)


def test_lines_across_a_mitre_stand_along_it() -> None:
    """A line 1.414 in from the edge along the 45 degree mitre of a 2 1/4 in rail stands 1 in up the rail: by the
    corners of the finished face, its distance to the long point over the length of the mitre is 1.414 / 3.182."""
    plan = example("picture-frames")
    values = sheet_values(PlanBook(plan))
    part = next(row for group in values["marking"] for row in group if row["part"] == "long rail")
    board, *rest = (item for item in part["figure"]["items"] if item["kind"] == "path" and item["closed"])
    strips = [item["points"] for item in rest if len(item["points"]) == 4]
    face = finished(plan, next(p for p in plan.parts if p.id == "long rail")).after.face("face")
    assert face is not None
    assert sorted(round(float(x) / INCH, 4) for x in face.points[:, 0]) == [0, 2.25, 17.75, 20]
    (low_left, low_right, _, high_left) = board["points"]
    scale = (low_right[0] - low_left[0]) / 20
    assert high_left[0] - low_left[0] == pytest.approx(2.25 * scale, abs=0.02)
    lines = [
        item["points"]
        for item in part["figure"]["items"]
        if item["kind"] == "path" and len(item["points"]) == 2
    ]
    for strip in strips:
        first, last = strip[0], strip[1]  # along the mitre, from the edge up
        up = [(b - a) / 3.182 / scale for a, b in zip(first, last, strict=True)]
        at = [a + 1.414 * scale * u for a, u in zip(first, up, strict=True)]
        assert any(p == pytest.approx(at, abs=0.05) for line in lines for p in line)


def test_blocks_and_scrap_are_listed_with_their_cards() -> None:
    """The trough needs two setting blocks, each made at its saw card for the mortiser cards of that angle, and scrap of
    its one thickness."""
    rows = dict(preparations(example("trough")))
    made = {what: where for what, where in rows.items() if "block" in what}
    assert [where.split(",")[0] for where in made.values()] == ["made on card 5", "made on card 6"]
    plan = example("trough")
    for what, where in made.items():
        angle = float(re.search(r"([\d.]+)°", what)[1])  # type: ignore[index]
        users = [int(n) for n in re.findall(r"\d+", where)[1:]]
        moved = [
            setup.number
            for setup in plan.setups
            for reset in setup.resets
            if reset.setting == "fence_angle" and abs(float(reset.to) - angle) < 0.01
        ]
        assert users == moved
    assert [what for what in rows if what.startswith("scrap")] == ["scrap 18 mm thick, for the tests"]


@pytest.mark.parametrize("name", NAMES)
def test_scrap_is_listed_for_the_cards_that_ask_for_it(name: str) -> None:
    """The list has scrap of the thickness of the very parts for those cards, and no others, that ask for a test in it
    where a setting is moved: the mortiser's fence height, wherever it is set (common practice, no source)."""
    plan = example(name)
    book = PlanBook(plan)
    asked: dict[float, list[int]] = {}
    for card, setup in zip(cards(plan), plan.setups, strict=True):
        if any("scrap of this thickness" in how for line in card.settings for how in line.how):
            parts = {part for op in setup.operations for part in book.operation(op).parts}
            for thickness in {book.parts[part].thickness for part in parts}:
                asked.setdefault(thickness, []).append(card.number)
        moved = {reset.setting for reset in setup.resets if setup.station == "mortiser"}
        assert "fence_height" not in moved or any(card.number in on for on in asked.values())
    listed = {
        parse_length(re.findall(r"scrap (.*) thick", what)[0], plan.unit): [
            int(n) for n in re.findall(r"\d+", where)
        ]
        for what, where in preparations(plan)
        if what.startswith("scrap")
    }
    assert [*listed] == pytest.approx(sorted(asked), abs=0.01)
    assert [*listed.values()] == [asked[thickness] for thickness in sorted(asked)]


def test_no_width_is_told_before_both_edges_are_there() -> None:
    """Of a sheet nobody knows how wide it is when its first edge is sawn: the drawing has no size then, and the width
    when it is ripped to it."""
    plan = example("shelf-unit")
    for step in plan.steps:
        operation = PlanBook(plan).operation(step.operation)
        sides = {cut.surface for cut in operation.cuts if isinstance(cut, PlaneCut)}
        figures = [scene_figure(scene, 92.0, 40.0) for scene in part_scenes(plan, operation)]
        told = [item.text for figure in figures for item in figure.items if isinstance(item, Words)]
        if sides == {"edge"}:
            assert told == []
        elif sides == {"far edge"}:
            assert told == ["200 mm"]


def test_the_overview_takes_one_page() -> None:
    """Seventeen cards and 36 steps of the tea boxes stand on one sheet, A4 or Letter, before the cut list."""
    sheets = example_values("tea-boxes") | {"cards": []}
    for paper in ("a4", "letter"):
        pages = PdfReader(io.BytesIO(set_booklet(sheets, paper))).pages  # type: ignore[arg-type]
        first, second = (page.extract_text() for page in pages[:2])
        assert "Proven" in first
        assert "Cautions on the cards name their source" in first
        assert second.startswith("Cut list")


@pytest.mark.parametrize(("paper", "counts"), [("a4", range(0, 24, 2)), ("letter", range(1, 24, 2))])
def test_the_marks_have_no_page_of_their_own(paper: str, counts: range) -> None:
    """However many remarks fill the overview, the marks on the drawings stand with it or with the cut list, which
    follows what runs on of it."""
    values = example_values("tea-boxes") | {"cards": []}
    alone = values["sheets"] | {"marking": [], "marking_says": []}
    for count in counts:
        remarks = [f"remark {number}" for number in range(count)]
        sheets = alone | {"overview": alone["overview"] | {"remarks": remarks}}
        pages = PdfReader(io.BytesIO(set_booklet(values | {"sheets": sheets}, paper))).pages  # type: ignore[arg-type]
        (page,) = [text for page in pages if "Marks on the drawings" in (text := page.extract_text())]
        assert "Proven" in page or "Cut list" in page
        assert "Cautions on the cards name their source" in page


def test_every_row_of_pencil_lines_says_what_they_are() -> None:
    """Eighteen distances stand in one row; those too long for one block in several, each of which says what is measured
    from where, and for what."""
    short = tuple(f"{39 + 77.5 * n} mm" for n in range(18))
    (row,) = line_texts(Lines("board", "the left end", "far edge", short, "centres of the slots"))
    shown = " · ".join(text.removesuffix(" mm") for text in short)
    assert row == f"{shown} mm from the left end, squared across the far edge (centres of the slots)"
    long = tuple(f"{n} 63/64 in ({n}.984)" for n in range(10, 40))
    rows = line_texts(Lines("board", "the left end", "far edge", long, "centres of the slots"), "board")
    assert len(rows) > 1
    tail = " from the left end, squared across the far edge (centres of the slots)"
    assert all(row.startswith("board: ") and row.endswith(tail) and len(row) <= 420 for row in rows)
    said = " · ".join(row.removeprefix("board: ").removesuffix(tail) for row in rows)
    assert said == " · ".join(long)


@pytest.mark.parametrize("name", NAMES)
def test_every_plunge_is_told_in_full(name: str) -> None:
    """Each plunging step's card names fence, base, check and pencil lines, and every distance of its slots is there."""
    plan = example(name)
    book = PlanBook(plan)
    for card, printed in zip(cards(plan), example_values(name)["cards"], strict=True):
        for group in printed["groups"]:
            operations = [
                book.operation(o.operation)
                for o in card.work
                if o.step in [w["step"] for w in group["works"]]
            ]
            if not any(isinstance(cut, Slot) for o in operations for cut in o.cuts):
                continue
            said = {label for label, _ in group["lie"]}
            assert {"fence", "table", "pencil"} <= said
            assert len(group["check"]) == 3
            pencil = " ".join(text for label, text in group["lie"] if label == "pencil")
            for work in (w for w in card.work if w.step in [g["step"] for g in group["works"]]):
                for lines in work.lines:
                    assert all(d.removesuffix(f" {plan.unit}") in pencil for d in lines.distances)
