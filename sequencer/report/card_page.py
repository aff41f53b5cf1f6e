"""A setup card as the page sets it: texts and figures in the order they are printed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from sequencer.cards import Card, Lines, SettingLine, Work
from sequencer.planbook import PlanBook
from sequencer.planfile import Setup
from sequencer.quantity import format_minutes
from sequencer.report.drawing.dial import dial_figure
from sequencer.report.drawing.figure import Figure
from sequencer.report.drawing.part import part_scenes, scene_figure
from sequencer.report.drawing.section import section_figures
from sequencer.report.drawing.values import figure_values

FIGURE_ROOM = (92.0, 36.0)
SMALL_ROOM = (45.0, 34.0)
"""The largest figure on a card, mm: one alone, and one of several."""
_LONGEST = 420  # characters in one block; longer text is set as several

_WORDS = {"set": "SET", "changed": "CHANGE", "again": "SET AGAIN"}


def card_values(book: PlanBook, card: Card, setup: Setup) -> dict[str, Any]:
    """The card as what JSON can hold."""
    return {
        "number": card.number,
        "of": card.of,
        "station": card.station,
        "job": card.job,
        "time": _time(card),
        "moved": [_moved(book, setup, line) for line in card.settings if line.moves],
        "stays": _stays(card),
        "groups": [_group(book, works) for works in _alike(card.work)],
        "cautions": [
            {"says": _for_steps(caution.steps) + part, "source": caution.source}
            for caution in card.cautions
            for part in in_parts(caution.says)
        ],
        "foot": _foot(card),
    }


def _moved(book: PlanBook, setup: Setup, line: SettingLine) -> dict[str, Any]:
    notes = [part for how in line.how for part in in_parts(how)]
    if line.accepts:
        notes.append(
            f"anything from {line.accepts} will do" if " to " in line.accepts else f"{line.accepts} will do"
        )
    value = setup.settings[line.setting]
    record = book.stations.get(setup.station)
    angle = record is not None and record.measures.get(line.setting) == "angle" and not isinstance(value, str)
    figure = figure_values(dial_figure(line.setting, float(value))) if angle else None
    return {
        "word": _WORDS[line.change],
        "name": line.name,
        "value": line.value,
        "was": line.was,
        "notes": notes,
        "figure": figure,
    }


def _stays(card: Card) -> list[list[str]]:
    """What stands as it is: what this card needs, then what it does not."""
    rows = []
    needed = [f"{s.name} {s.value}{_since(s)}" for s in card.settings if s.change == "stays"]
    idle = [f"{s.name} {s.value}" for s in card.settings if s.change == "idle"]
    if needed:
        rows.append(["stays", ", ".join(needed)])
    if idle:
        rows.append(["not used", ", ".join(idle)])
    return rows


def _since(line: SettingLine) -> str:
    return f" (card {line.since})" if line.since else ""


def _alike(works: Sequence[Work]) -> list[list[Work]]:
    """Steps in a row whose pieces lie alike, together."""
    groups: list[list[Work]] = []
    for work in works:
        if groups and groups[-1][-1].same_lie(work):
            groups[-1].append(work)
        else:
            groups.append([work])
    return groups


def _group(book: PlanBook, works: Sequence[Work]) -> dict[str, Any]:
    first = works[0]
    figures = _figures(book, works)
    lie = [["fence", first.fence], ["table", first.table], ["way round", first.way_round]]
    if first.registers:
        lie.append(["lies on", ", ".join(first.registers)])
    return {
        "works": [
            {
                "step": work.step,
                "what": work.what,
                "count": count_text(work),
                "pieces": pieces_text(work),
                "ticks": work.ticks,
                "per_tick": work.per_tick,
            }
            for work in works
        ],
        "figures": [figure_values(figure) for figure in figures],
        "lie": [[name, part] for name, text in lie if text for part in in_parts(text)],
        "lines": [text for lines in first.lines for text in line_texts(lines)],
        "check": [check_text(first)] if first.check else [],
    }


def card_figures(book: PlanBook, card: Card) -> list[list[Figure]]:
    """The drawings of a card: for each group of steps whose pieces lie alike, its figures."""
    return [_figures(book, works) for works in _alike(card.work)]


def _figures(book: PlanBook, works: Sequence[Work]) -> list[Figure]:
    """The figures of the steps: large if there is one, else smaller and side by side."""
    sections: dict[str, Figure] = {}
    for work in works:
        for figure in section_figures(
            book.plan, book.operation(work.operation), *SMALL_ROOM, angled_only=True
        ):
            if figure.items:
                sections.setdefault(figure.title, figure)
    scenes = [s for work in works for s in part_scenes(book.plan, book.operation(work.operation))]
    room = FIGURE_ROOM if len(scenes) < 2 and not sections else SMALL_ROOM
    return [*(scene_figure(scene, *room) for scene in scenes), *sections.values()]


def pieces_text(work: Work) -> list[str]:
    """Each part with its count; of pieces put together, what one set takes."""
    named = [piece for piece in work.pieces if piece.part]
    return [
        f"{piece.part}  × {piece.count // (piece.sets or 1)}{' a set' if piece.sets > 1 else ''}"
        if piece.count is not None
        else piece.part
        for piece in named
    ]


def count_text(work: Work) -> str:
    """What the step's quantity counts: "× 8" pieces, "× 8, 2 cuts each", "4 sets"; empty where it has none."""
    if not work.count:
        return ""
    first = work.pieces[0]
    if first.sets:
        return f"{first.sets} {'set' if first.sets == 1 else 'sets'}"
    if first.each > 1:
        return f"× {work.count // first.each}, {first.each} cuts each"
    return f"× {work.count}"


def line_texts(lines: Lines) -> list[str]:
    """Pencil lines in words, a dozen distances at a time."""
    head = f"{lines.part}, from {lines.start}, across {lines.across}: "
    tail = f" ({lines.what})" if lines.what else ""
    chunks = [lines.distances[i : i + 12] for i in range(0, len(lines.distances), 12)]
    return [
        head + " · ".join(chunk) + (tail if i == len(chunks) - 1 else "") for i, chunk in enumerate(chunks)
    ]


def check_text(work: Work) -> str:
    """The check after the first piece in one sentence."""
    assert work.check is not None
    check = work.check
    text = f"{check.measure}: expect {check.expect}" if check.expect else check.measure
    return text + (f", within {check.tolerance}" if check.tolerance else "")


def _foot(card: Card) -> list[list[str]]:
    """What must not be moved, what is worth leaving, and what comes next."""
    rows: list[list[str]] = []
    for hold in card.holds:
        what = ", ".join(f"{name} {value}".strip() for name, value in hold.settings)
        rows.append(
            ["DO NOT MOVE", f"{hold.station}: {what}, until card {hold.until} is done. {hold.why}".strip()]
        )
    held = {name for hold in card.holds if hold.station == card.station for name, _ in hold.settings}
    leaves = [leave for leave in card.leaves if leave.name not in held]
    if leaves:
        rows.append(
            ["leave", "; ".join(f"{leave.name} {leave.value} (card {leave.until})" for leave in leaves)]
        )
    if card.next is None:
        rows.append(["next", "nothing: this is the last card"])
    else:
        where = "same station" if card.next.same_station else f"to the {card.next.station}"
        rows.append(["next", f"card {card.next.number}, {where}: {card.next.what}"])
    return [[name, part] for name, text in rows if text for part in in_parts(text)]


def _time(card: Card) -> str:
    minutes = [("walk", card.walk_minutes), ("set", card.reset_minutes), ("work", card.work_minutes)]
    return ", ".join(f"{name} {format_minutes(value)}" for name, value in minutes if value)


def _for_steps(steps: Sequence[int]) -> str:
    return f"Step {', '.join(str(step) for step in steps)}: " if steps else ""


def in_parts(text: str) -> list[str]:
    """The text in pieces of no more than some four hundred characters, broken between words where it can be."""
    parts: list[str] = []
    while len(text) > _LONGEST:
        at = text.rfind(" ", 0, _LONGEST)
        at = at if at > 0 else _LONGEST
        parts.append(text[:at])
        text = text[at:].lstrip()
    return [*parts, text] if text else parts
