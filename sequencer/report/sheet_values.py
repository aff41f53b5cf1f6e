"""What the sheets around the cards say, as the page sets it: overview, cut list, slips, preparation, marking-out."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from sequencer.cards.marking import Marking
from sequencer.cards.overview import overview
from sequencer.cards.planbook import PlanBook, cutter_unit, title
from sequencer.cards.setup_cards import lines_told
from sequencer.listing import listed
from sequencer.operations import Operation, PencilLine, Slot
from sequencer.planfile import PartRecord
from sequencer.quantity import counted, format_length, format_minutes
from sequencer.report.card_page import distances_text
from sequencer.report.drawing.figure import Figure
from sequencer.report.drawing.history import finished
from sequencer.report.drawing.marking import Mark, marking_figure
from sequencer.report.drawing.nearness import MOSTLY, SHOWN, WOOD
from sequencer.report.drawing.timeline import timeline_figure
from sequencer.report.drawing.values import figure_values
from sequencer.report.stocklist import SPARE_IN, cut_list, preparations, size_text, slips, unspared

_WHOLE, _HALF = 178.0, 86.0  # room for a marking-out drawing: the sheet's width, or half of it, mm
_INWARDS = {"face": -1.0, "back": 1.0}  # which way through the thickness slots go that are plunged in there


def sheet_values(book: PlanBook) -> dict[str, Any]:
    """All sheets as what JSON can hold."""
    plain = _plain(sheets(book))
    assert isinstance(plain, dict)
    return plain


def _plain(value: object) -> object:
    """The value with its figures as what JSON can hold."""
    if isinstance(value, Figure):
        return figure_values(value)
    if isinstance(value, dict):
        return {key: _plain(each) for key, each in value.items()}
    return [_plain(each) for each in value] if isinstance(value, list) else value


def sheets(book: PlanBook) -> dict[str, Any]:
    """All sheets: texts, tables of texts, and figures."""
    cutters, marked = cutter_unit(book.plan), Marking(book)
    return {
        "title": title(book.plan),
        "overview": _overview(book),
        "timeline": timeline_figure(book, 180.0),
        "cut_list": [row.texts(book.plan.unit) for row in cut_list(book.plan)],
        "unspared": _spares_note(unspared(book.plan)),
        "slips": [slip.texts(book.plan.unit, cutters) for slip in slips(book.plan)],
        "glue_room": format_length(book.plan.glue_room, book.plan.unit),
        "preparations": [list(row) for row in preparations(book.plan)],
        "marking": _marking(book, marked),
        "marking_says": [_marking_says(marked, group) for group in marked.groups],
    }


def _overview(book: PlanBook) -> dict[str, Any]:
    seen = overview(book.plan)
    weighed = ", preferences weighed in" if seen.preferences else ""
    proof = (
        f"Proven: no order of these operations costs less than {format_minutes(seen.bound_minutes)}{weighed}."
        if seen.proven
        else f"Not proven best: no order costs less than {format_minutes(seen.bound_minutes)}{weighed}; "
        f"at most {format_minutes(seen.gap_minutes)} could still be saved."
    )
    facts = [
        ["batch", str(seen.batch)],
        ["shop", seen.shop],
        ["cards", f"{seen.setups}, with {counted(seen.steps, 'step')}"],
        ["resets", f"{seen.reset_count}, {format_minutes(seen.reset_minutes)}"],
        ["walks", f"{seen.walk_count}, {format_minutes(seen.walk_minutes)}"],
        ["work", format_minutes(seen.work_minutes)],
        ["in all", format_minutes(seen.cost_minutes)],
    ]
    facts += [[name, way] for name, way in seen.choices]
    order = [
        [
            str(setup.number),
            book.station_name(setup.station),
            "; ".join(book.what(operation) for operation in setup.operations),
            str(len(setup.resets)),
            *(
                format_minutes(minutes, with_unit=False) if minutes else "–"
                for minutes in (
                    setup.walk_minutes,
                    sum(reset.minutes for reset in setup.resets),
                    sum(book.step[operation].work_minutes for operation in setup.operations),
                )
            ),
        ]
        for setup in book.plan.setups
    ]
    habits = [
        f"{habit.name}: {format_minutes(habit.cost_minutes)}, {counted(habit.resets, 'reset')}"
        for habit in seen.habits
    ]
    total = ["", "in all", "", str(seen.reset_count)]
    total += [
        format_minutes(minutes, with_unit=False)
        for minutes in (seen.walk_minutes, seen.reset_minutes, seen.work_minutes)
    ]
    return {
        "facts": facts,
        "proof": proof,
        "order": [*order, total],
        "habits": habits,
        "remarks": list(seen.remarks),
    }


def _spares_note(names: tuple[str, ...]) -> str:
    if not names:
        return ""
    listed = ", ".join(names[:6]) + (f" and {len(names) - 6} more" if len(names) > 6 else "")
    return (
        f"No spares are made of {listed}. One in {SPARE_IN}, at least one, is common practice (no source): named in "
        "the job (spare = 1), they stand in this list and among the tick boxes of every card."
    )


def marking_figures(book: PlanBook) -> dict[str, Figure]:
    """Each part laid flat with all its pencil lines, as the marking-out sheet shows it, by the part's name."""
    marked = Marking(book)
    marks = _marks(marked)
    longest = max((book.parts[name].length for name in marks if name in book.parts), default=0.0)
    width = _HALF if any(len(group) > 1 for group in marked.groups) else _WHOLE
    return {
        name: marking_figure(part, marks[name], longest, width, book.plan.unit, _slants(book, part))
        for group in marked.groups
        for name in group
        if (part := book.parts.get(name))
    }


def _marks(marked: Marking) -> dict[str, list[Mark]]:
    """For each part all pencil lines of all its steps, each once, with the rows it is for."""
    found: dict[str, list[Mark]] = {}
    for line, operations in marked.lines.items():
        places = {place for operation in operations for place in _rows(marked.book, operation, line)}
        found.setdefault(line.part, []).append(Mark(line, tuple(sorted(places))))
    return found


def _marking(book: PlanBook, marked: Marking) -> list[list[dict[str, Any]]]:
    """The marked parts; those that share a joint in one group, side by side."""
    drawn, marks = marking_figures(book), _marks(marked)
    return [
        [
            {
                "part": name,
                "size": _size(book, name),
                "mates": ", ".join(marked.mates(name)),
                "figure": drawn.get(name),
                "lines": [
                    [lines.start, lines.across, distances_text(lines.distances), lines.what]
                    for lines in lines_told([mark.line for mark in marks[name]], book.plan.unit)
                ],
            }
            for name in group
        ]
        for group in marked.groups
    ]


def _size(book: PlanBook, name: str) -> str:
    part = book.parts.get(name)
    return size_text((part.length, part.width, part.thickness), book.plan.unit) if part else ""


def _marking_says(marked: Marking, names: tuple[str, ...]) -> str:
    """How boards that share joints are marked: those whose rows of slots lie alike together, the others one by one.
    One that shares none with another is told likewise, so that nobody takes it for a mate of those before it.
    """
    if len(names) == 1:
        if marked.carried_on(names[0]):
            return f"Lay the pieces of {names[0]} side by side and carry across the lines they share."
        return f"Mark {names[0]} from its own list."
    alike = marked.alike(names)
    together = [group for group in alike if len(group) > 1]
    alone = [group[0] for group in alike if len(group) == 1]
    if together == [list(names)]:
        return f"{listed(names)} are mates: lay them side by side and {_carry(marked, names)}."
    if not together:
        return f"{listed(names)} are mates, but their lines do not agree: mark each from its own list."
    told = [f"{listed(names)} are mates, but not all their lines agree."]
    told += [f"Lay {listed(group)} side by side and {_carry(marked, group)}." for group in together]
    told += [f"Mark {listed(alone)} from the list."] if alone else []
    return " ".join(told)


def _carry(marked: Marking, names: Sequence[str]) -> str:
    """Which lines are carried across boards that lie side by side: no board's that another one has not."""
    if marked.same_rows(names):
        return "carry the lines across"
    return "carry across the lines they share; mark the others from each one's list"


def _slants(book: PlanBook, part: PartRecord) -> dict[str, tuple[float, float]]:
    """Where the ends of the finished face meet the reference edge and the far edge, mm along the length."""
    face = finished(book.plan, part).after.face("face")
    if face is None:
        return {}
    x, y = face.points[:, 0], face.points[:, 1]
    low, high = x[y < y.min() + WOOD], x[y > y.max() - WOOD]
    return {
        "left": (float(low.min()), float(high.min())),
        "right": (float(low.max()), float(high.max())),
    }


def _rows(book: PlanBook, operation: Operation, line: PencilLine) -> set[float]:
    """Where the slots lie that a line along face or back is for: their places along the board, mm."""
    part = book.parts.get(line.part)
    if part is None or line.across not in _INWARDS:
        return set()
    far = line.start == "far edge"
    return {
        cut.mouth[0]
        for cut in operation.cuts
        if isinstance(cut, Slot)
        and cut.part == line.part
        and cut.axis[2] * _INWARDS[line.across] > MOSTLY
        and any(abs((part.width - cut.mouth[1] if far else cut.mouth[1]) - at) < SHOWN for at in line.at)
    }
