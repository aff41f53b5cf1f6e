"""A setup card as the page sets it: texts and figures in the order they are printed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import cache
from typing import Any

from sequencer.cards.planbook import PlanBook
from sequencer.cards.setup_cards import Card, Lines, SettingLine, Work
from sequencer.listing import numbered
from sequencer.operations import Operation
from sequencer.planfile import Plan, Setup
from sequencer.quantity import counted, format_minutes
from sequencer.report.drawing.dial import dial_figure
from sequencer.report.drawing.figure import Figure
from sequencer.report.drawing.part import part_scenes, scene_figure
from sequencer.report.drawing.section import section_figures
from sequencer.report.drawing.values import figure_values

ALONE = (50.0, 36.0)
PAIRED = (45.0, 34.0)
"""The largest figure on a card, mm: one alone with words beside it, and one of several."""
CLOSE = 0.76
"""How high figures are, against that, on a card that would not fit else."""
_LONGEST = 420  # characters in one block; longer text is set as several
_LONG_MEASURE = 40  # characters; of a longer measure the check tells first what to expect

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
        "standing": ", ".join(f"{s.name} {s.value}" for s in card.settings if s.change != "idle"),
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
    figure = dial(book, setup, line.setting)
    value, _, exact = line.value.partition(" (")
    return {
        "word": _WORDS[line.change],
        "name": line.name,
        "value": value,
        "exact": f"({exact}" if exact else "",
        "was": line.was,
        "notes": notes,
        "figure": figure_values(figure) if figure else None,
    }


def dial(book: PlanBook, setup: Setup, setting: str) -> Figure | None:
    """The small figure of a setting that is an angle."""
    value, record = setup.settings[setting], book.stations.get(setup.station)
    if record is None or record.measures.get(setting) != "angle" or isinstance(value, str):
        return None
    return dial_figure(setting, float(value))


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
    """Steps in a row whose pieces lie alike, and carry the same pencil lines, together."""
    groups: list[list[Work]] = []
    for work in works:
        if groups and (groups[-1][-1].same_lie(work) or _same_lines(groups[-1][-1], work)):
            groups[-1].append(work)
        else:
            groups.append([work])
    return groups


def _same_lines(one: Work, other: Work) -> bool:
    """Whether the steps differ in nothing but their parts, pencil lines included."""
    told = [tuple(replace(lines, part="") for lines in work.lines) for work in (one, other)]
    bare = [replace(work, lines=()) for work in (one, other)]
    return bool(told[0]) and told[0] == told[1] and bare[0].same_lie(bare[1])


def _group(book: PlanBook, works: Sequence[Work]) -> dict[str, Any]:
    first = works[0]
    lie = [["set too", told] for told in first.besides]
    lie += [["fence", first.fence], ["table", first.table], ["way round", first.way_round]]
    if first.registers:
        lie.append(["lies on", ", ".join(first.registers)])
    lie += [["pencil", text] for text in lines_texts(works)]
    figures = _drawing(book.plan, [book.operation(work.operation) for work in works])
    return {
        "works": [
            {
                "step": work.step,
                "what": work.what,
                "count": count_text(work),
                "pieces": pieces_text(work),
                "ticks": work.ticks,
                "spare_ticks": work.spare_ticks,
                "each_box": work.each_box,
            }
            for work in works
        ],
        "figures": [
            [figure_values(figure) for figure in figures(close, bare)]
            for close, bare in ((1.0, False), (CLOSE, False), (CLOSE, True))
        ],
        "lie": [[name, part] for name, text in lie if text for part in in_parts(text)],
        "check": check_parts(first) if first.check else [],
    }


def card_figures(book: PlanBook, card: Card) -> list[list[Figure]]:
    """The drawings of a card: for each group of steps whose pieces lie alike, its figures."""
    groups = [[book.operation(work.operation) for work in works] for works in _alike(card.work)]
    return [_drawing(book.plan, group)(1.0, False) for group in groups]


def _drawing(plan: Plan, operations: Sequence[Operation]) -> Callable[[float, bool], list[Figure]]:
    """What draws the figures of the steps, one for all parts that look alike; smaller and side by side if there are
    several. It is told how high they may be, and whether to leave out the sections of square joints, for a card that
    has no room for them.
    """
    scenes = part_scenes(plan, *operations)

    @cache
    def drawn(number: int, wide: float, high: float) -> Figure:
        return scene_figure(scenes[number], wide, high)

    def figures(close: float, bare: bool) -> list[Figure]:
        (wide, high), (single_wide, single_high) = PAIRED, ALONE
        sections = _told_once(section_figures(plan, operations, wide, high * close, angled_only=bare))
        room = (
            (single_wide, single_high * close) if len(scenes) + len(sections) == 1 else (wide, high * close)
        )
        return [*(drawn(number, *room) for number in range(len(scenes))), *sections]

    return figures


def _told_once(figures: Sequence[Figure]) -> list[Figure]:
    """The figures that differ in more than their titles, or by a thousandth of a mm or more."""
    alike: dict[str, list[Figure]] = {}
    for figure in figures:
        alike.setdefault(repr(figure_values(figure)["items"]), []).append(figure)
    return [
        replace(same[0], title=same[0].title + (" (all alike)" if len(same) > 1 else ""))
        for same in alike.values()
    ]


def pieces_text(work: Work) -> list[str]:
    """Each part with its count, spares apart; of pieces put together, what one set takes."""
    texts = []
    for piece in work.pieces:
        if not piece.part:
            continue
        text = piece.part
        if piece.count is not None:
            text += f"  × {(piece.count - piece.spare) // (piece.sets or 1)}"
            text += f" + {piece.spare} spare" if piece.spare else ""
            text += f" of the {piece.of}" if piece.of else ""
            text += " a set" if piece.sets > 1 else ""
        texts.append(text)
    return texts


def count_text(work: Work) -> str:
    """What the step's quantity counts: "× 8" pieces, "× 8, 2 cuts each", "4 sets"; empty where it has none."""
    if not work.count:
        return ""
    first = work.pieces[0]
    if first.sets:
        return counted(first.sets, "set")
    cuts = f", {work.cuts} cuts each" if work.cuts and work.cuts > 1 else ""
    return f"× {work.count // first.each}{cuts}"


def lines_texts(works: Sequence[Work]) -> list[str]:
    """The pencil lines of steps that carry the same ones; the parts are named where there are several."""
    parts = list(dict.fromkeys(lines.part for work in works for lines in work.lines))
    pieces = {piece.part for work in works for piece in work.pieces}
    named = len({lines.part for lines in works[0].lines}) > 1 or set(parts) != pieces
    return [text for lines in works[0].lines for text in line_texts(lines, lines.part if named else "")]


def line_texts(lines: Lines, part: str = "") -> list[str]:
    """Pencil lines in words: "25.5 · 64.5 mm from the edge, squared across the left end (centres of the slots)"; what
    one block cannot hold a dozen distances at a time, each row told in full."""

    def told(distances: Sequence[str]) -> str:
        text = f"{distances_text(distances)} from the {lines.start.removeprefix('the ')}"
        text += f", squared across the {lines.across.replace(' and ', ' and the ')}" if lines.across else ""
        text += f" ({lines.what})" if lines.what else ""
        return f"{part}: {text}" if part else text

    whole = told(lines.distances)
    if len(whole) <= _LONGEST:
        return [whole]
    return [told(lines.distances[at : at + 12]) for at in range(0, len(lines.distances), 12)]


def distances_text(distances: Sequence[str]) -> str:
    """Distances with their unit once, where it stands last in each of them.

    >>> distances_text(["43.5 mm", "90.5 mm"]), distances_text(["1 in", "2 3/64 in (2.050)"])
    ('43.5 · 90.5 mm', '1 in · 2 3/64 in (2.050)')
    """
    heads = [text.rpartition(" ") for text in distances]
    if len({unit for _, _, unit in heads}) == 1 and all(unit in ("mm", "in") for _, _, unit in heads):
        return " · ".join(head for head, _, _ in heads) + f" {heads[0][2]}"
    return " · ".join(distances)


def check_parts(work: Work) -> list[str]:
    """The check after the first piece: what comes before what to expect, that itself, and what comes after."""
    assert work.check is not None
    check = work.check
    within = f"within {check.tolerance}" if check.tolerance else ""
    if not check.expect:
        return ["", check.measure, within]
    if len(check.measure) <= _LONG_MEASURE:
        return [f"{check.measure}:", check.expect, within]
    return ["", check.expect, "; ".join(text for text in (within, f"measure {check.measure}") if text)]


def _foot(card: Card) -> list[list[str]]:
    """What must not be moved, what is worth leaving, and what comes next."""
    rows: list[list[str]] = []
    for hold in card.holds:
        what = ", ".join(f"{name} {value}" for name, value in hold.settings)
        where = "" if hold.station == card.station else f" on the {hold.station}"
        why = f": {hold.why}" if hold.why else ""
        rows.append(["DO NOT MOVE", f"{what}{where} before card {hold.until} is done{why}"])
    held = {name for hold in card.holds if hold.station == card.station for name, _ in hold.settings}
    stays_here = card.next is not None and card.next.same_station  # the next card says what it moves
    leaves = [leave for leave in card.leaves if leave.name not in held and not stays_here]
    told = [
        f"{', '.join(f'{leave.name} {leave.value}' for leave in leaves if leave.until == until)} for card {until}"
        for until in dict.fromkeys(leave.until for leave in leaves)
    ]
    if told:
        rows.append(["leave", "; ".join(told)])
    if card.next is None:
        rows.append(["next", "nothing: this is the last card"])
    else:
        where = "same station" if card.next.same_station else f"to the {card.next.station}"
        rows.append(["next", f"card {card.next.number}, {where}: {card.next.what}"])
    return [[name, part] for name, text in rows if text for part in in_parts(text)]


def _time(card: Card) -> str:
    minutes = [("walk", card.walk_minutes), ("set", card.reset_minutes), ("work", card.work_minutes)]
    told = [f"{name} {format_minutes(value, with_unit=False)}" for name, value in minutes if value]
    return f"{', '.join(told)} min" if told else ""


def _for_steps(steps: Sequence[int]) -> str:
    return f"{numbered('Step', steps)}: " if steps else ""


def in_parts(text: str) -> list[str]:
    """The text in pieces of no more than some four hundred characters, broken between words where it can be."""
    parts: list[str] = []
    while len(text) > _LONGEST:
        at = text.rfind(" ", 0, _LONGEST)
        at = at if at > 0 else _LONGEST
        parts.append(text[:at])
        text = text[at:].lstrip()
    return [*parts, text] if text else parts
