"""The setup cards on the terminal: one for each setup, everything the helper at the machine has to know."""

from __future__ import annotations

from rich.console import Console
from rich.text import Text

from sequencer.cards.planbook import Pieces
from sequencer.cards.setup_cards import Card, CardCaution, Hold, Leave, Lines, SettingLine, Work, cards
from sequencer.listing import listed, numbered
from sequencer.planfile import Plan
from sequencer.quantity import format_minutes
from sequencer.report.terminal_page import CAREFUL, HEADING, INDENT, LABEL, MOVED, QUIET, Page

DEFER = (
    "Cautions point to the rules they name and leave much out: local codes, the tool's own manual and "
    "training come first."
)
STEP = 6
"""Columns to the left of a step's words."""
BESIDE = 14
"""Columns of the labels under a step."""
END = 11
"""Columns of the labels at the card's end."""


def print_cards(plan: Plan, console: Console) -> None:
    """Print every setup card."""
    page = Page(console)
    for card in cards(plan):
        print_card(card, page)
    page.blank()
    page.stroke("─")
    page.line((DEFER, QUIET))
    page.blank()


def print_card(card: Card, page: Page) -> None:
    """Print one setup card."""
    page.blank()
    page.bar(page.text((f"Card {card.number} of {card.of}", HEADING), "   ", (card.station, MOVED)), card.job)
    _settings(page, card)
    told: Work | None = None  # the last step told in full
    for work in card.work:
        same = told is not None and work.same_lie(told)
        _work(page, work, told if same else None)
        told = told if same else work
    if card.cautions:
        page.blank()
    for caution in card.cautions:
        _caution(page, caution)
    for hold in card.holds:
        _hold(page, hold)
    _then(page, card)


def _settings(page: Page, card: Card) -> None:
    page.blank()
    if not card.settings:
        page.line(("nothing to set", QUIET), indent=INDENT)
        return
    lines = [line for line in card.settings if line.change != "idle"]
    names = max([LABEL - 2, *(len(page.plain(line.name)) + 2 for line in lines if len(line.name) < 24)])
    values = max([10, *(len(page.plain(line.value)) + 2 for line in lines if len(line.value) < 24)])
    for line in lines:
        _setting(page, line, names, values)
    idle = [line for line in card.settings if line.change == "idle"]
    if idle:
        told = (page.text((f"{line.name} {line.value}", QUIET)) for line in idle)
        page.items("not used", told, indent=INDENT + 2, at=names)


def _setting(page: Page, line: SettingLine, names: int, values: int) -> None:
    mark, style = ("▸ ", MOVED) if line.moves else ("  ", "")
    value = page.text((line.value, style))
    value.append(" " * max(2, values - value.cell_len))
    page.entry(
        mark + line.name,
        value,
        (_change(line), "" if line.moves else QUIET),
        style=HEADING if line.moves else "",
        at=names + 2,
    )
    for how in line.how:
        page.entry("", (how, QUIET), at=names + 2 + values)
    if line.accepts and line.moves:
        page.entry("", (f"{line.accepts} will do", QUIET), at=names + 2 + values)


def _change(line: SettingLine) -> str:
    cost = f" ({format_minutes(line.minutes)})" if line.minutes else ""
    match line.change:
        case "set":
            return f"set{cost}"
        case "changed":
            return f"CHANGED from {line.was}{cost}"
        case "again":
            return f"set AGAIN, lost when the work left{cost}"
        case _:
            return f"stays as on card {line.since}" if line.since else "stays as it stands"


def _work(page: Page, work: Work, like: Work | None) -> None:
    """One step; in short where all but its pieces is as for the step `like`."""
    minutes = format_minutes(work.minutes) if work.minutes else ""
    page.blank()
    page.row(str(work.step), page.text((work.what, HEADING)), (page.text(minutes), 8), at=STEP)

    def entry(label: str, *words: str | Text | tuple[str, str]) -> None:
        page.entry(label, *words, indent=STEP, at=BESIDE)

    entry("pieces", _pieces(work))
    entry("", _ticks(work.ticks), (f"  {work.each_box}" if work.each_box else "", QUIET))
    if like:
        entry("the rest", f"as for step {like.step}")
        return
    for label, words in (
        *(("" if k else "set too", told) for k, told in enumerate(work.besides)),
        ("on the fence", work.fence),
        ("on the table", work.table),
        ("way round", work.way_round),
    ):
        if words:
            entry(label, words)
    if work.registers:
        entry("guided by", ", ".join(work.registers))
    for lines in work.lines:
        _pencil(page, lines, only=len(work.pieces) == 1 and work.pieces[0].part == lines.part)
    if work.check:
        within = f", within {work.check.tolerance}" if work.check.tolerance else ""
        entry("first piece", (work.check.expect, HEADING), within)
        entry("", f"measure {work.check.measure}")


def _pieces(work: Work) -> str:
    """Names and counts: "front ×8", "front ×8, 2 cuts each", "4 sets, each of front ×2, lid ×1"."""
    pieces = work.pieces
    if any(piece.count is None for piece in pieces):
        return f"{', '.join(piece.part for piece in pieces)}: {work.count} in all"
    sets = pieces[0].sets
    told = ", ".join(_piece(piece, sets) for piece in pieces)
    if sets:
        return f"{sets} sets, each of {told}" if sets > 1 else told
    return f"{told}, {work.cuts} cuts each" if work.cuts and work.cuts > 1 else told


def _piece(piece: Pieces, sets: int) -> str:
    """A part with its count, and how many of these are spares: "side ×13 (1 spare)", "board ×6 of the 8 (2 spare)"."""
    told = f"{piece.part} ×{(piece.count or 0) // (sets or 1)}".strip()
    told += f" of the {piece.of}" if piece.of else ""
    return f"{told} ({piece.spare} spare)" if piece.spare else told


def _ticks(ticks: int) -> str:
    """Boxes to tick, in groups of five, so that a count is seen at a glance."""
    fives, rest = divmod(ticks, 5)
    return " ".join(["□" * 5] * fives + (["□" * rest] if rest else []))


def _pencil(page: Page, lines: Lines, only: bool) -> None:
    """Where to draw the lines; the part is named unless it is the only one."""
    words = [page.text((", ".join(lines.distances), HEADING), f" from {lines.start}")]
    if lines.across:
        words.append(page.text(f", squared across {lines.across}"))
    if not only:
        words.insert(0, page.text(f"{lines.part}: "))
    page.entry("pencil lines", *words, indent=STEP, at=BESIDE)
    if lines.what:
        page.entry("", (lines.what, QUIET), indent=STEP, at=BESIDE)


def _caution(page: Page, caution: CardCaution) -> None:
    where = f"{numbered('step', caution.steps)}: " if caution.steps else ""
    page.entry("! caution", f"{where}{caution.says} ", (f"[{caution.source}]", QUIET), style=CAREFUL, at=END)


def _hold(page: Page, hold: Hold) -> None:
    page.blank()
    held = listed([f"{name} {value}" for name, value in hold.settings])
    reason = hold.why or "what is still to come must match"
    page.entry(
        "! hold",
        ("do not move ", CAREFUL),
        (held, HEADING),
        f" on the {hold.station} before card {hold.until} is done: {reason}",
        style=CAREFUL,
        at=END,
    )
    page.entry("", (f"still to come: {'; '.join(hold.operations)}", QUIET), at=END)


def _then(page: Page, card: Card) -> None:
    page.blank()
    if card.next is None:
        page.entry("then", "nothing more: this is the last card", at=END)
        return
    if not card.next.same_station:
        held = {name for hold in card.holds if hold.station == card.station for name, _ in hold.settings}
        _leave(page, [leave for leave in card.leaves if leave.name not in held])
    place = "stay here" if card.next.same_station else f"go to the {card.next.station}"
    page.entry("then", f"{place}: card {card.next.number}, {card.next.what}", at=END)


def _leave(page: Page, leaves: list[Leave]) -> None:
    for until in dict.fromkeys(leave.until for leave in leaves):
        standing = ", ".join(f"{leave.name} {leave.value}" for leave in leaves if leave.until == until)
        page.entry("leave", f"{standing}, as set, for card {until}", at=END)
