"""A section through a joint: both boards as they will be glued, mortises, slip, glue room and the walls that are left.

Cut square to the slip's width, through the middle of a mortise; only the neighbourhood of the joint is drawn. The two
boards are hatched opposite ways and the slip closer, after the habits of ISO 128-3; the mortise the step plunges is
drawn extra wide, the least wall of either board dimensioned after those of ISO 129-1.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from sequencer.cards.planbook import cutter_unit
from sequencer.operations import Operation, Slot
from sequencer.planfile import PartRecord, Plan
from sequencer.quantity import Unit, format_size
from sequencer.report.drawing.figure import (
    PENS,
    TEXT,
    Figure,
    Item,
    Path,
    PenName,
    Words,
    extent,
    framed,
    hatching,
    text_width,
)
from sequencer.report.drawing.joint import Half, Halves, halves_at
from sequencer.report.drawing.nearness import DUST, POINT, SHOWN
from sequencer.report.drawing.outline import Flat, Piece, spot, without
from sequencer.report.drawing.part_sizes import hyphenated, in_lines
from sequencer.report.drawing.vectors import sides, unit_vector
from sequencer.report.drawing.wall_size import dimension, wall_sizes
from sequencer.report.line_ends import unbroken

MOST = 3
"""Sections a card has room for beside the drawing of the part."""
_SCALES = tuple(2.0 * 0.93**step for step in range(42))  # 2:1 down to 1:10
_THINNEST = 0.7 + PENS["wide"].width
"""The least thickness of a slip on paper, mm: 0.7 mm clear between the lines of its two sides (ISO 128-2)."""
_TALLER = (1.0, 1.32, 1.6)  # times the height where a section would be a blot else
_LINE = 1.3 * TEXT  # from line to line of the notes
_COLUMNS = (0.3, 0.38, 0.46, 0.54)  # shares of the width for notes beside the drawing
_EASIER = 2  # steps by which a drawing must become larger to have its notes beside it
_GAP = 2.0  # between the drawing and notes beside it
_ALONG = 1e-4  # a piece this near to a side lies along it, mm on paper


def section_figures(
    plan: Plan,
    operations: Operation | Sequence[Operation],
    width: float,
    height: float,
    angled_only: bool = False,
) -> tuple[Figure, ...]:
    """A section for each kind of meeting that the operations plunge, at most `MOST`, where the plan knows the mates;
    with `angled_only` for mitred and bevelled joints alone. One that would be no more than a blot has up to `_TALLER`
    times the height, or is left out."""
    works = [operations] if isinstance(operations, Operation) else operations
    pairs = [pair for pair in halves_at(plan, works) if is_angled(pair) or not angled_only]
    marked = cutter_unit(plan)
    drawn: list[tuple[Halves, Figure]] = []
    for pair in pairs[:MOST]:
        tried = (section_figure(pair, plan.unit, marked, width, height * more) for more in _TALLER)
        figure = next((figure for figure in tried if figure is not None), None)
        if figure is not None:
            drawn.append((pair, figure))
    return _told_apart(drawn, plan.unit)


def section_figure(pair: Halves, unit: Unit, marked: Unit, width: float, height: float) -> Figure | None:
    """The section no larger than `width` by `height` mm, at the largest scale up to 2:1 that fits, its notes below or
    beside it, whichever leaves it larger; None where its slip would be drawn less than `_THINNEST`. Cutters, and so
    slips, are `marked` in their own unit."""
    layouts = list(_layouts(_notes(pair, unit, marked), width - 1.2, height - 1.2))
    scales = [scale for scale in _SCALES if scale * pair.slip.thickness >= _THINNEST] or _SCALES[:1]
    sizes: dict[int, Flat] = {}

    def fits(layout: _Layout, step: int) -> bool:
        if step not in sizes:
            sizes[step] = _size(_draw(pair, unit, scales[step], hatched=False))
        return bool((sizes[step] <= layout.room).all())

    # the first scale that fits, by halves
    steps = [bisect_left(range(len(scales)), True, key=lambda step: fits(layout, step)) for layout in layouts]
    legible = [n for n, step in enumerate(steps) if step < len(scales)]
    if not legible:
        return None
    best = min(legible, key=lambda n: steps[n] - (_EASIER if n == 0 else 0))
    items = _draw(pair, unit, scales[steps[best]])
    told = [f"{one.surface} of {one.part} with {two.surface} of {two.part}" for one, two in pair.meets]
    return framed(
        (*items, *layouts[best].words(extent(items))),
        f"section: {_title(pair)}",
        f"section through the joint, with its slip: {'; '.join(told)}",
    )


def _told_apart(drawn: Sequence[tuple[Halves, Figure]], unit: Unit) -> tuple[Figure, ...]:
    """The figures; where several with one title show different things, each title tells the place as well."""
    figures = [figure for _, figure in drawn]
    for title in dict.fromkeys(figure.title for figure in figures):
        alike = [n for n, (_, figure) in enumerate(drawn) if figure.title == title]
        if len({repr(drawn[n][1].items) for n in alike}) > 1:
            for n, place in zip(alike, _places([drawn[n][0] for n in alike], unit), strict=True):
                figures[n] = replace(figures[n], title=f"{title}, {place}")
    return tuple(figures)


def _places(pairs: Sequence[Halves], unit: Unit) -> list[str]:
    """What tells the pairs apart: where their mortises lie on the mate, or on the part itself, or a number."""
    for half in (1, 0):
        told = []
        for pair in pairs:
            slots = [both[half] for both in pair.slots]
            boards = {board.part.id: board.part for board in (pair.first, pair.second)}
            told.append(_place([slot for slot in slots if slot.part in boards], boards, unit))
        if len(set(told)) == len(told) and all(told):
            return told
    return [f"{n} of {len(pairs)}" for n in range(1, len(pairs) + 1)]


def _place(slots: Sequence[Slot], boards: Mapping[str, PartRecord], unit: Unit) -> str:
    """How far the mortises lie from the left end, the edge or the face of their boards, across their long sides."""
    found: dict[str, set[float]] = {}
    for slot in slots:
        axis = int(np.argmax(np.abs(np.cross(slot.axis, slot.along))))
        at = slot.mouth[axis] if axis < 2 else boards[slot.part].thickness - slot.mouth[axis]
        start = ("left end", "edge", "face")[axis]
        found.setdefault(f"from the {start} of {slot.part}", set()).add(round(float(at), 3))
    return "; ".join(
        f"{' and '.join(format_size(at, unit, with_unit=at == max(ats)) for at in sorted(ats))} {start}"
        for start, ats in found.items()
    )


def _size(items: Sequence[Item]) -> Flat:
    left, bottom, right, top = extent(items)
    return np.array([right - left, top - bottom])


@dataclass(frozen=True)
class _Layout:
    """Notes in lines below a drawing, or beside it, and the room, width and height, that they leave for it."""

    lines: tuple[str, ...]
    beside: bool
    room: Flat

    def words(self, around: tuple[float, float, float, float]) -> list[Item]:
        """The lines set, where the drawing's box is `around`."""
        left, bottom, right, top = around
        if not self.beside:
            first = bottom - 0.5
        else:
            left, first = right + _GAP, (top + bottom + _LINE * len(self.lines)) / 2 + 0.2 * TEXT
        return [Words((left, first - _LINE * n), line, "left") for n, line in enumerate(self.lines, 1)]


def _layouts(notes: Sequence[str], width: float, height: float) -> Iterator[_Layout]:
    """Ways of setting the notes; below first, which reads most easily."""
    lines = tuple(line for note in notes for line in in_lines(note, width))
    yield _Layout(lines, False, np.array([width, height - _LINE * len(lines) - 0.5 - 0.25 * TEXT]))
    words = [word for note in notes for word in unbroken(note, lambda run: text_width(run, TEXT) <= width)]
    widest = max(text_width(piece, TEXT) for word in words for piece in hyphenated(word))
    for share in _COLUMNS:
        lines = tuple(line for note in notes for line in in_lines(note, max(share * width, widest)))
        column = max(text_width(line, TEXT) for line in lines)
        if _LINE * len(lines) <= height and column < 0.7 * width:
            yield _Layout(lines, True, np.array([width - column - _GAP, height]))


def _title(pair: Halves) -> str:
    """What meets what: parts, or their surfaces where a part meets its like."""
    if all(one.part == two.part for one, two in pair.meets):
        names = [(one.surface, two.surface) for one, two in pair.meets]
    else:
        names = [(one.part, two.part) for one, two in pair.meets]
    mates: dict[str, list[str]] = {}
    for one, two in dict.fromkeys(names):
        mates.setdefault(one, []).append(two)
    alike: dict[str, list[str]] = {}
    for one, others in mates.items():
        alike.setdefault(" or ".join(sorted(others)), []).append(one)
    return "; ".join(f"{' or '.join(ones)} with {others}" for others, ones in alike.items())


def is_angled(pair: Halves) -> bool:
    """Whether a board of the joint has a face that is not square."""
    return pair.first.angled or pair.second.angled


def _draw(pair: Halves, unit: Unit, scale: float, hatched: bool = True) -> tuple[Item, ...]:
    turned = _turn(pair)

    def on_paper(loop: Flat) -> Flat:
        return np.asarray(loop @ turned.T * scale)

    boards = [on_paper(half.shown) for half in (pair.first, pair.second)]
    sizes = wall_sizes(pair, on_paper, boards)
    labels: list[Item] = []
    for size in sizes:
        labels += dimension(size, boards, labels, unit)
    bands = [size.band for size in sizes] if hatched else None
    return (
        *_board(pair.first, on_paper, 45.0, "cut", bands),
        *_board(pair.second, on_paper, 135.0, "wide", bands),
        *_slip(pair, on_paper),
        *labels,
    )


def _turn(pair: Halves) -> Flat:
    """The rotation (2, 2) by which the first board lies level, by its longest side, or stands upright where the joint
    would else be taller than wide."""
    spans = [b - a for a, b in sides(pair.first.board)]
    longest = max(spans, key=lambda span: float(np.linalg.norm(span)))
    c, s = unit_vector(longest)
    if c < -DUST or (abs(c) <= DUST and s < 0):
        c, s = -c, -s
    level = np.array([[c, s], [-s, c]])
    wide, tall = np.ptp(np.vstack([pair.first.shown, pair.second.shown]) @ level.T, axis=0)
    return level if tall <= wide * 1.01 else np.array([[0.0, -1.0], [1.0, 0.0]]) @ level


def _board(
    half: Half,
    on_paper: Callable[[Flat], Flat],
    angle: float,
    pen: PenName,
    bands: Sequence[Flat] | None,
) -> list[Item]:
    """The board's outline and hatching, and its mortises and grooves; `pen` draws the mortise of the joint, hatching
    keeps clear of the `bands`; None: without hatching."""
    shown = on_paper(half.shown)
    hollows = [on_paper(loop) for loop in (half.hollow, *half.others)]
    lines: list[Piece] = []
    if bands is not None:
        strokes = hatching([[spot(p) for p in shown]], angle, 1.6)
        lines = [(np.array(line.points[0]), np.array(line.points[1])) for line in strokes]
        for loop in (*hollows, *bands):
            lines = without(lines, loop, POINT)  # one that runs along it, too
    items: list[Item] = [_path(piece, "narrow") for piece in lines]
    outside = on_paper(half.board)
    for side in sides(shown):
        pieces = [side]
        for loop in hollows:
            pieces = without(pieces, loop, POINT)
        items += [_path(piece, "wide" if _on(piece, outside) else "narrow") for piece in pieces]
    for number, loop in enumerate(hollows):
        pieces = [side for side in sides(loop) if not _on(side, outside)]
        for other in (
            *hollows[:number],
            *hollows[number + 1 :],
        ):  # where two run into each other no wood is between
            pieces = without(pieces, other, -POINT)
        items += [_path(piece, "wide" if number else pen) for piece in pieces]
    return items


def _slip(pair: Halves, on_paper: Callable[[Flat], Flat]) -> list[Item]:
    wide, room = pair.slip.thickness / 2, pair.glue_room
    low, high = room - pair.first.depth, pair.second.depth - room
    slip = on_paper(np.array([(-wide, low), (wide, low), (wide, high), (-wide, high)]))
    spots = tuple(spot(p) for p in slip)
    axis = slip[2] - slip[1]
    across = math.degrees(math.atan2(axis[1], axis[0])) + 90.0
    return [*hatching([spots], across, 0.7), Path(spots, "wide", closed=True)]


def _notes(pair: Halves, unit: Unit, marked: Unit) -> list[str]:
    """Depths, slip and glue room in words."""
    names = [pair.first.part.id, pair.second.part.id]
    if names[0] == names[1]:
        names = [pair.first.surface, pair.second.surface]
    elif len({(one.part, two.part) for one, two in pair.meets}) > 1:
        names = ["bold", "other"]
    depths = [_depth(half, unit) for half in (pair.first, pair.second)]
    told = [f"{name}: {', '.join(depth)}" for name, depth in zip(names, depths, strict=True)]
    if depths[0] == depths[1]:
        told = [f"both {depths[0][0]}", *depths[0][1:]]
    thick = format_size(pair.slip.thickness, marked, with_unit=marked != unit)
    wide, long = format_size(pair.slip.width, unit, with_unit=False), format_size(pair.slip.length, unit)
    return [
        *told,
        f"slip {thick} × {wide} × {long}",
        f"glue room {format_size(pair.glue_room, unit)}",
    ]


def _depth(half: Half, unit: Unit) -> list[str]:
    """How deep the mortise is plunged, and what is left of it where a bevel takes some."""
    deep = _unbroken(f"{format_size(half.slot.depth, unit)} deep")
    bevelled = f"{_unbroken(format_size(half.depth, unit))} once bevelled"
    return [deep] if half.slot.depth - half.depth < SHOWN else [deep, bevelled]


def _unbroken(text: str) -> str:
    """The text for one line."""
    return text.replace(" ", "\N{NO-BREAK SPACE}")


def _on(piece: Piece, outline: Flat) -> bool:
    """Whether a piece lies along a side of the outline."""
    for a, b in sides(outline):
        span = b - a
        size = float(np.linalg.norm(span))
        if size > DUST and all(
            abs(float(span[0] * (p - a)[1] - span[1] * (p - a)[0])) / size < _ALONG for p in piece
        ):
            return True
    return False


def _path(piece: Piece, pen: PenName) -> Path:
    return Path((spot(piece[0]), spot(piece[1])), pen)
