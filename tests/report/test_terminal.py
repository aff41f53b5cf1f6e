"""The terminal reports: widths, marks without colour, plain ASCII, user text as it is, one exact output."""

from __future__ import annotations

import math
import os
import re
from io import BytesIO, StringIO, TextIOWrapper
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from rich.cells import cell_len
from rich.console import Console

from sequencer.cards.planbook import Pieces
from sequencer.cards.steplist import StepLine, step_list
from sequencer.corner import corner_angles
from sequencer.diagnostics import Fault, InputError
from sequencer.planfile import Plan
from sequencer.report.terminal import (
    make_console,
    print_angles,
    print_cards,
    print_faults,
    print_plan,
    print_steps,
    print_summary,
    progress_line,
)
from sequencer.report.terminal_news import progress_text
from sequencer.report.terminal_page import Page
from sequencer.report.terminal_steps import _missing
from sequencer.solve.problem import Progress
from tests.report.printed import example
from tests.sample_plans import AWKWARD, LONG, many, tea_boxes, two_shelves

GOLDEN = Path(__file__).parent / "golden"
UPDATE = "UPDATE_GOLDEN"
"""Set this variable to write the exact outputs anew; then read the differences before keeping them."""


def printed(plan: Plan, width: int = 80, show=print_plan) -> str:
    out = StringIO()
    show(plan, Console(width=width, file=out, color_system=None, legacy_windows=False, _environ={}))
    return out.getvalue()


def printed_in(plan: Plan, encoding: str, width: int = 80) -> str:
    """What a stream of this encoding receives; fails where it cannot carry a sign."""
    raw = BytesIO()
    stream = TextIOWrapper(raw, encoding=encoding, errors="strict")
    print_plan(plan, make_console(stream, width))
    stream.flush()
    return raw.getvalue().decode(encoding)


def squeezed(text: str) -> str:
    return " ".join(text.split())


@pytest.mark.parametrize("width", [80, 120])
@pytest.mark.parametrize(
    "plan", [tea_boxes("mm"), tea_boxes("in"), two_shelves(), many(120)], ids=lambda p: p.job
)
def test_no_line_is_wider_than_the_console(plan: Plan, width: int) -> None:
    """No line of a whole plan is wider than the console, and none ends in spaces."""
    for line in printed(plan, width).splitlines():
        assert cell_len(line) <= width, line
        assert line == line.rstrip()


@pytest.mark.parametrize("width", [56, 64])
def test_a_narrow_console_is_kept_to(width: int) -> None:
    """Below 80 columns, too, no line is wider than the console."""
    assert all(cell_len(line) <= width for line in printed(tea_boxes("in"), width).splitlines())


TORN = re.compile(
    r"(\d(?:\.\d+)?)\n *(mm|in|min|deg|pieces|sets|cuts|boards|slips|resets)\b|(step|card)s?\n *\d"
)
"""A number and its unit, or a step and its number, on two lines."""


def pairs_of(words: str, times: str) -> list[str]:
    """Each two words that follow each other, with this sign for times."""
    return [" ".join(two) for two in pairwise(words.replace("×", times).split(" "))]


@pytest.mark.parametrize("encoding", ["utf-8", "ascii"])
def test_no_line_ends_between_a_number_and_its_unit(encoding: str) -> None:
    """Pushed on by one column at a time, words break elsewhere, in a paragraph, an entry and a row; the spaces are
    plain ones, and what is wider than the room is broken nevertheless."""
    words = "front (remade 3), "
    words += "fence 475 mm → 1 3/8 in (1.375) will do, 34 mm × 13 mm for 12 slots in step 17 of card 3; 2.5 % to 20 mm"
    words += ", 6 mm × 1 17/64 × 63/64 in, 5 × 32 × 8 mm [29 CFR 1910.213], (spare = 1)"
    whole = words if encoding == "utf-8" else words.replace("→", "->").replace("×", "x")
    seen = ""
    for wide in range(1, 70):
        raw = BytesIO()
        page = Page(make_console(TextIOWrapper(raw, encoding=encoding), 72))
        for put in (
            page.line,
            lambda text, page=page: page.entry("why", text),
            lambda t, p=page: p.row("1", p.text(t)),
        ):
            put(f"{'i' * wide} {words}")
        page.console.file.flush()
        text = raw.getvalue().decode(encoding)
        assert squeezed(text).count(whole) == 3
        assert {sign for sign in text if sign.isspace()} == {" ", "\n"}
        seen += text
    bound = (
        "475 mm",
        "1 3/8",
        "3/8 in",
        "in (1.375)",
        "34 mm",
        "13 mm",
        "12 slots",
        "step 17",
        "card 3",
        "2.5 %",
        "20 mm",
        "6 mm × 1 17/64 × 63/64 in",
        "5 × 32 × 8 mm",
        "29 CFR 1910",
        "spare = 1",
        "(remade 3)",
    )
    bound = tuple(part for each in bound for part in pairs_of(each, "×" if encoding == "utf-8" else "x"))
    assert not [each for each in bound if re.search(re.escape(each).replace("\\ ", r"\n *"), seen)]
    assert re.search(r"fence\n", seen)
    assert re.search(r"do,\n", seen)
    narrow = StringIO()
    Page(make_console(narrow, 40)).entry("", "slip", "1234567890.123 boards", at=36)
    assert all(len(line) <= 40 for line in narrow.getvalue().splitlines())


@pytest.mark.parametrize("width", [80, 120])
@pytest.mark.parametrize("name", ["tea-boxes", "trough"])
def test_no_plan_parts_numbers_from_units(name: str, width: int) -> None:
    """In whole plans, too."""
    assert not TORN.findall(printed(example(name), width))


@pytest.mark.parametrize("plan", [tea_boxes("mm"), two_shelves(), many(120)], ids=lambda p: p.job)
def test_every_setup_and_step_stands_once(plan: Plan) -> None:
    """The step list and the cards each hold every setup and every step once, in order."""
    steps = printed(plan, show=print_steps)
    assert re.findall(r"^Setup (\d+) ", steps, re.M) == [str(setup.number) for setup in plan.setups]
    numbers = [str(number) for number in range(1, len(plan.steps) + 1)]
    assert re.findall(r"^ {,4}(\d+)  \S", steps, re.M) == numbers
    cards = printed(plan, show=print_cards)
    count = len(plan.setups)
    assert re.findall(rf"^Card (\d+) of {count} ", cards, re.M) == [str(s.number) for s in plan.setups]
    assert re.findall(r"^ {,4}(\d+)  \S", cards, re.M) == numbers


def test_changes_are_marked_without_colour() -> None:
    """Each reset of a setup is marked on its card by sign and word, and nothing else is."""
    plan = tea_boxes("mm")
    cards = re.split(r"^━+\n", printed(plan, show=print_cards), flags=re.M)[1:]
    assert len(cards) == len(plan.setups)
    for card, setup in zip(cards, plan.setups, strict=True):
        assert len(re.findall(r"^  ▸ ", card, re.M)) == len(setup.resets)
        for reset in setup.resets:
            name = reset.setting.replace("_", " ")
            line = re.search(rf"^  ▸ {name} .*$", card, re.M)
            assert line is not None
            assert ("CHANGED from" in line[0]) == (reset.from_ is not None)
    assert "set AGAIN" in cards[-1]


def test_no_escape_codes_in_a_pipe() -> None:
    """A stream that is no terminal receives no escape codes."""
    out = StringIO()
    print_plan(tea_boxes("mm"), make_console(out))
    assert "\x1b" not in out.getvalue()


def test_ascii_stream_gets_ascii_of_the_same_width() -> None:
    """A stream that carries ASCII only gets no other sign, no line too long, and degrees in letters."""
    text = printed_in(tea_boxes("mm"), "ascii")
    assert text.isascii()
    assert all(len(line) <= 80 for line in text.splitlines())
    assert "22.5 deg" in text
    assert "[ ][ ][ ][ ][ ] [ ][ ][ ]" in text
    assert "100 mm -> 177.5 mm" in text
    assert "?" not in text


def test_latin_stream_keeps_what_it_can_carry() -> None:
    """A Latin-1 stream keeps degree and multiplication signs and loses only arrows and boxes."""
    text = printed_in(tea_boxes("mm"), "latin-1")
    assert "22.5°" in text
    assert "×8" in text
    assert "->" in text


@pytest.mark.parametrize("width", [80, 120])
def test_user_text_is_never_markup(width: int) -> None:
    """A part with an awkward name prints as itself, and a very long one whole."""
    text = squeezed(printed(tea_boxes("mm"), width))
    assert f"bevel both ends of {AWKWARD}" in text
    assert f"{AWKWARD} ×12" in text
    assert LONG in text


def test_control_characters_do_not_reach_the_terminal() -> None:
    """Escape codes, line ends and direction marks in a name are made harmless."""
    plan = two_shelves().model_copy(update={"job": "a\x1b[31mred\nline\u202eback"})
    text = printed(plan, show=print_summary)
    assert "\x1b" not in text
    assert "\u202e" not in text
    assert "a?[31mred lineback" in text


def test_wide_letters_keep_the_width() -> None:
    """Names in letters two columns wide do not push a line over the edge."""
    plan = tea_boxes("mm")
    wide = plan.model_copy(update={"job": "木の箱" * 20})
    assert all(cell_len(line) <= 80 for line in printed(wide).splitlines())


def test_summary_says_what_is_proven() -> None:
    """A proven plan says so; an unproven one gives its bound and gap."""
    assert "proven: no order of these operations costs less" in printed(two_shelves(), show=print_summary)
    text = squeezed(printed(tea_boxes("mm"), show=print_summary))
    assert (
        "not proven: no order takes less than 161 min, preferences weighed in, so at most 1.5 min (0.9 %)"
        in text
    )
    assert "stopped by hand" not in text
    stopped = tea_boxes("mm").model_copy(update={"interrupted": True})
    assert "stopped by hand" in printed(stopped, show=print_summary)


def test_the_step_list_counts_pieces_as_the_cards_do() -> None:
    """Twelve rails mitred at both ends are twelve, two cuts each; slots are counted in a piece, and told once."""
    steps = squeezed(printed(example("picture-frames"), 120, print_steps))
    assert re.search(r"mitre the left end and right end of short rail \(2 cuts each\) ×12 ", steps)
    assert re.search(r"plunge 2 slots in the \w+ mitre and \w+ mitre of long rail, 1 in each ×12 ", steps)


def test_parts_are_named_by_whole_words() -> None:
    """A part is named beside a step unless the step names it: "inside" and "put together" name no "side" and "a"."""
    page = Page(Console(file=StringIO(), width=80))
    for words, parts, told in (
        ("sand the inside faces", ("shelf", "side"), " (shelf, side)"),
        ("sand the inside of side", ("side",), ""),
        ("put pan together", ("a", "b"), " (a, b)"),
        ("rip [/x] <b>& to width", ("[/x] <b>&",), ""),
        ("sand the inside faces of front, right side and back", ("front", "right side", "back"), ""),
        ("sand the inside faces of front and right side", ("front", "side", "right side"), " (side)"),
        ("sand the inside faces of front and more", ("front", "back", "lid"), " (back, lid)"),
        ("sand what was glued", ("",), ""),
    ):
        pieces = tuple(Pieces(part, 2) for part in parts)
        step = StepLine(1, "x", words, pieces, 2, 1, 0.0, ())
        assert _missing(page, step).plain == told


def test_what_is_put_together_is_all_told() -> None:
    """No part "half" is meant by the tight half, nor one named "slips" by the slips: all stand beside the step."""
    page = Page(Console(file=StringIO(), width=80))
    words = "glue up panel: slips in the tight half first, then close and clamp"
    for parts in (("half", "other"), ("slips",), ("half", "slips")):
        pieces = tuple(Pieces(part, 2, sets=2) for part in parts)
        step = StepLine(1, "x", words, pieces, 2, 1, 0.0, ())
        assert _missing(page, step).plain == f" ({', '.join(parts)})"


def test_reasons_stand_with_steps() -> None:
    """A step names the nearest step it follows and why, and no other."""
    text = squeezed(printed(tea_boxes("mm"), show=print_steps))
    assert (
        "after 12 the plunge registers on front's left end, which the mitre removes [surface.destroyed]"
        in text
    )
    steps = [step for group in step_list(tea_boxes("mm")) for step in group.steps]
    assert any(why.step == 15 for step in steps for why in step.follows[1:])
    assert "after 15" not in text


def test_held_settings_are_told_until_the_mates_are_done() -> None:
    """The first card of two mates says what must not be moved and until when; the last does not."""
    cards = squeezed(printed(tea_boxes("mm"), show=print_cards))
    assert cards.count("do not move") == 1
    assert "do not move fence height 9 mm and fence angle 90° on the plunge mortiser before card 8" in cards


@pytest.mark.parametrize(("slope", "other_slope"), [(80, 20), (20, 80), (80, 70), (60, 60)])
def test_a_negative_gauge_is_explained(slope: float, other_slope: float) -> None:
    """A gauge below 0 is told, and truly, to be that of a side with the longer lower edge; where none is, nothing is.

    The outsides of two sides that lean outward meet in a line. Going up it, a side whose end goes out with it is longer
    along its upper edge (vectors here, trigonometry in the package)."""
    inside = math.radians(100.0)
    # along each side, away from the corner
    ways = [np.array([1.0, 0.0, 0.0]), np.array([math.cos(inside), math.sin(inside), 0.0])]
    outward = [np.array([0.0, -1.0, 0.0]), np.array([-math.sin(inside), math.cos(inside), 0.0])]
    normals = []
    for way, out, leaning in zip(ways, outward, (slope, other_slope), strict=True):
        up = math.cos(math.radians(leaning)) * out + np.array([0.0, 0.0, math.sin(math.radians(leaning))])
        normals.append(np.cross(way, up))
    line = np.cross(*normals)
    line *= np.sign(line[2])
    longer_below = [float(way @ line) > 0 for way in ways]  # the end draws back towards the side's middle
    found = corner_angles(corner=100, slope=slope, other_slope=other_slope)
    assert [gauge < 0 for gauge in (found.gauge, found.other_gauge)] == longer_below
    out = StringIO()
    print_angles(found, make_console(out, 80))
    told = squeezed(out.getvalue())
    assert ("Gauge below 0: that side is longer along its lower edge" in told) == any(longer_below)
    assert any(
        "gauge below 0: that side is longer along its lower edge" in line for line in found.conventions
    )


def test_angles_are_those_of_the_cube_and_the_octahedron() -> None:
    """Printed angles of exact solids: half an octahedron has gauge 30° and tilt 35.26° (regular faces)."""
    out = StringIO()
    print_angles(corner_angles(sides=4, slope=54.735610), make_console(out, 80))
    assert re.search(r"gauge +30° ", out.getvalue())
    assert re.search(r"tilt +35\.26° ", out.getvalue())


def test_faults_are_all_told_unbroken_in_a_pipe() -> None:
    """Every fault stands on one line of its own, however long, with what would be accepted below."""
    faults = [
        Fault(
            "must be at least 1, not 0 " + "x" * 90, "box.toml", 'part "[/x] <b>&", quantity', 4, "1 or more"
        ),
        Fault("is not known"),
    ]
    out = StringIO()
    print_faults(InputError(faults), make_console(out, 60))
    first, accepted, second, count = out.getvalue().splitlines()
    assert first == 'box.toml:4: part "[/x] <b>&", quantity: must be at least 1, not 0 ' + "x" * 90
    assert (accepted, second, count) == ("    accepted: 1 or more", "is not known", "2 faults")


def test_one_slip_in_many_places_is_told_in_full_three_times() -> None:
    """Of a fault that reads the same in many places the lines are told; every fault counts."""
    faults = [Fault("is not known", "box.toml", f'operation "o{k}"', 10 + k, "id") for k in range(6)]
    out = StringIO()
    print_faults(InputError([*faults, Fault("is empty", "box.toml")]), make_console(out, 80))
    lines = out.getvalue().splitlines()
    assert sum("is not known" in line for line in lines) == 3
    assert lines[6:] == ["    the same 3 times more, in lines 13, 14, 15", "box.toml: is empty", "7 faults"]


def test_progress_is_shown_on_a_terminal_only() -> None:
    """The line of progress leaves nothing in a pipe, and on a terminal tells best, bound, gap and seconds."""
    news = Progress(seconds=3.2, best=16250, bound=16100)
    assert progress_text(news) == (
        "searching: best 162.5 min, no order takes less than 161 min, gap 0.9 %, 3 s"
    )
    assert "no order yet" in progress_text(Progress(seconds=1.0, best=None, bound=0))
    assert progress_text(Progress(1.0, None, 0, "getting ready")).startswith("getting ready: no order yet")
    pipe, screen = StringIO(), StringIO()
    for out, terminal in ((pipe, False), (screen, True)):
        console = Console(file=out, force_terminal=terminal, width=60, _environ={"TERM": "xterm"})
        with progress_line(console) as tell:
            tell(news)
    assert pipe.getvalue() == ""
    assert "best 162.5 min" in screen.getvalue()


@pytest.mark.parametrize(("name", "width"), [("two_shelves_80", 80), ("two_shelves_120", 120)])
def test_exact_output(name: str, width: int) -> None:
    """A small plan prints exactly as kept; run with UPDATE_GOLDEN=1 to keep a new form."""
    kept = GOLDEN / f"{name}.txt"
    text = printed(two_shelves(), width)
    if os.environ.get(UPDATE):
        kept.parent.mkdir(exist_ok=True)
        kept.write_text(text, encoding="utf-8")
    assert text == kept.read_text(encoding="utf-8")
