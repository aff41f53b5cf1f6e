"""A part laid flat with all its pencil lines, each on the surface it is squared across, cumulative from its start.

The reference face is up and the reference edge down; an end that lines are squared across is drawn as it is cut then.
Surfaces that stand upright and carry lines are folded out beside the board as strips; what is on the back is dashed.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from sequencer.operations import PencilLine
from sequencer.planfile import PartRecord
from sequencer.quantity import Unit, format_size
from sequencer.report.drawing.dimension import running
from sequencer.report.drawing.figure import TEXT, Figure, Item, Path, PenName, Spot, Words, framed, text_width
from sequencer.report.drawing.row_scales import Row, Scale, Value, scales
from sequencer.report.drawing.vectors import beyond, towards

_MOST = 40.0  # height of a board on the sheet, mm
_SIZES = 30.0  # room beside the board for strips and sizes, mm; more where these need it
_LEAST = 1 / 6  # of the width is the board's, whatever its sizes need
_FEW = 3  # scales beside a board that it becomes smaller for
_GAP = 0.8  # between the board and a strip folded out, mm
_REACH, _LEAST_REACH = 4.0, 1.0  # how far a line runs to either side of the row it is for, mm
_LINE, _FAR_LINE = 3.0, 8.0  # a scale's line from the board: from the reference edge, from the far edge, mm
_VALUES = 2.4  # from there to a scale's values, and past them, mm
_EDGES = ("edge", "far edge", "reference edge")
_CORNER = "joined across the face to the corner"


@dataclass(frozen=True)
class Mark:
    """A pencil line and where the rows lie that it is drawn through: places along the board from its left end, mm.
    Without any it runs the whole length.
    """

    line: PencilLine
    rows: tuple[float, ...] = ()


Slant = tuple[float, float]
"""Where an end of the face meets the reference edge and the far edge: places along the length, mm."""


def marking_figure(
    part: PartRecord,
    marks: Sequence[Mark],
    longest: float,
    width: float,
    unit: Unit,
    slants: Mapping[str, Slant] | None = None,
) -> Figure:
    """The part at the scale that `longest` (mm) fills `width`: left end left, reference edge down.

    `slants` are the ends ("left", "right") of the finished face: lines across a mitre or bevel stand along it.
    """
    scale, beside = _beside(part, marks, longest, width, unit)
    cut = {side for mark in marks for side in _strips(mark.line) if _is_cut(mark.line.across)}
    square = {"left": (0.0, 0.0), "right": (part.length, part.length)}
    ends = square | {side: slant for side, slant in (slants or {}).items() if side in cut}
    board = _Board(part, part.length * scale, part.width * scale, scale, ends, _reach(marks, scale))
    items = board.outline({side for mark in marks for side in _strips(mark.line)})
    below: dict[bool, set[tuple[float, str]]] = {}
    for mark in marks:
        line = mark.line
        far = line.start in ("right end", "far edge")
        for at in line.at:
            if line.start in _EDGES:
                items += board.along(at * scale, far, line.across, mark.rows)
            else:
                x = (part.length - at if far else at) * scale
                items += board.over(x, line, far)
                below.setdefault(far, set()).add((x, format_size(at, unit)))
    foot = -board.out if any("edge" in _strips(mark.line) for mark in marks) else 0.0
    for far, spots in below.items():
        places, labels = zip(*sorted(spots), strict=True)
        start = (board.long if far else 0.0, foot)
        items += running(start, [(x, foot) for x in places], (0.0, -1.0), 3.0 if far else 5.0, labels)
    for number, each in enumerate(beside):
        items += board.sized(each, _out(beside[:number], each.side))
    return framed(items, part.id, f"{part.id} laid flat with its pencil lines")


def _beside(
    part: PartRecord, marks: Sequence[Mark], longest: float, width: float, unit: Unit
) -> tuple[float, list[Scale]]:
    """The scale a part is drawn at and the scales of sizes beside it. The board gives way to a few; for more it would
    be too small to tell places along it, so these stand there only where there is room left."""
    scale = _scale(part, longest, width - _SIZES)
    taken = _taken(part, scale, scales(_rows(part, marks, scale, unit), _FEW))
    if taken > _SIZES:
        scale = _scale(part, longest, max(_LEAST * width, width - taken))
    rows = _rows(part, marks, scale, unit)
    beside = scales(rows, len(rows))
    while len(beside) > _FEW and _taken(part, scale, beside) > width - part.length * scale:
        beside = scales(rows, len(beside) - 1)
    return scale, beside


def _taken(part: PartRecord, scale: float, beside: Sequence[Scale]) -> float:
    """What strips and scales at both ends of a board take of the width, mm."""
    return sum(_strip(part, scale) + _out(beside, side) for side in ("left", "right"))


def _reach(marks: Sequence[Mark], scale: float) -> float:
    """How far lines run to either side of their rows on paper, mm: not into those of the next row."""
    rows = sorted({x for mark in marks for x in mark.rows})
    nearest = min((b - a for a, b in pairwise(rows)), default=math.inf)
    return max(_LEAST_REACH, min(_REACH, nearest * scale / 2))


def _rows(part: PartRecord, marks: Sequence[Mark], scale: float, unit: Unit) -> list[Row]:
    """The rows of lines along the board with their sizes; what is squared across an end is nearest to that."""
    found: dict[tuple[float, float], set[Value]] = {}
    for mark in marks:
        if mark.line.start not in _EDGES:
            continue
        far = mark.line.start == "far edge"
        values = {
            Value((part.width - at if far else at) * scale, far, format_size(at, unit)) for at in mark.line.at
        }
        side = _side(mark.line.across)
        if side in ("left", "right"):
            places = [(-1.0, part.length) if side == "left" else (part.length, -1.0)]
        else:  # a line over the whole length is as near to both ends
            places = [(x, part.length - x) for x in mark.rows or (part.length / 2,)]
        for place in places:
            found.setdefault(place, set()).update(values)
    return [Row(frozenset(values), *place) for place, values in found.items()]


def _out(beside: Sequence[Scale], side: str) -> float:
    """How far these scales reach out from an end, mm: past their values."""
    return sum(
        (_FAR_LINE if any(value.far for value in each.values) else _LINE)
        + _VALUES
        + max(text_width(value.label, TEXT) for value in each.values)
        for each in beside
        if each.side == side
    )


def _scale(part: PartRecord, longest: float, room: float) -> float:
    """At which the longest part is as long as the room (mm), and this one no higher than a board may be."""
    return min(1.0, room / max(longest, part.length, 1.0), _MOST / part.width)


def _strip(part: PartRecord, scale: float) -> float:
    """How far a strip folded out reaches, mm; never so thin that a line on it is lost."""
    return _GAP + max(2.5, part.thickness * scale)


def _is_cut(across: str) -> bool:
    return across.endswith(("mitre", "bevel"))


@dataclass(frozen=True)
class _Board:
    """The board on paper, mm: `long` by `wide`, its lower left corner at the origin."""

    part: PartRecord
    long: float
    wide: float
    scale: float
    ends: dict[str, Slant]
    reach: float

    @property
    def out(self) -> float:
        """How far a strip folded out reaches."""
        return _strip(self.part, self.scale)

    def corners(self, side: str) -> tuple[Spot, Spot]:
        """The ends of the board's left or right side, at the reference edge and at the far edge."""
        low, high = self.ends[side]
        return (low * self.scale, 0.0), (high * self.scale, self.wide)

    def outward(self, side: str) -> Spot:
        """The direction out of the board across its left or right side."""
        x, y = towards(*self.corners(side))
        return (-y, x) if side == "left" else (y, -x)

    def on_end(self, side: str, at: float, far: bool, out: float) -> Spot:
        """The point `at` mm along a side from the reference edge (or the `far` one), `out` mm beyond it."""
        first, last = reversed(self.corners(side)) if far else self.corners(side)
        return beyond(beyond(first, towards(first, last), at), self.outward(side), out)

    def sized(self, scale: Scale, out: float) -> list[Item]:
        """A scale beside its end, `out` mm off: past the values of those within it."""
        items: list[Item] = []
        for far in (False, True):
            told = {value.up: value.label for value in scale.values if value.far == far}
            places = sorted((self.wide - up if far else up, label) for up, label in told.items())
            if places:
                spots = [
                    self.on_end(scale.side, at, far, self.out + out)
                    for at in (0.0, *(at for at, _ in places))
                ]
                labels = [label for _, label in places]
                away = self.outward(scale.side)
                items += running(spots[0], spots[1:], away, _FAR_LINE if far else _LINE, labels)
        return items

    def outline(self, strips: set[str]) -> list[Item]:
        """The board, its strips, the mark of the reference edge, and which end is which."""
        long, wide, out = self.long, self.wide, self.out
        left, right = self.corners("left"), self.corners("right")
        items: list[Item] = [Path((left[0], right[0], right[1], left[1]), "wide", closed=True)]
        for side, square in (("left", 0.0), ("right", long)):
            first, last = self.corners(side)
            if abs(first[0] - last[0]) > 0.05:  # the corner that is cut off
                corner = (square, 0.0) if abs(first[0] - square) > abs(last[0] - square) else (square, wide)
                items.append(Path((first, corner, last), "waste"))
            if side in strips:
                full = math.dist(first, last)
                inner = [self.on_end(side, at, False, _GAP) for at in (0.0, full)]
                outer = [self.on_end(side, at, False, out) for at in (full, 0.0)]
                items.append(Path((*inner, *outer), "wide", closed=True))
        boxes = {
            "edge": ((0.0, -out), (long, -_GAP)),
            "far edge": ((0.0, wide + _GAP), (long, wide + out)),
        }
        items += [_box(*boxes[name]) for name in boxes if name in strips]
        for x in (long / 2 - 0.6, long / 2 + 0.6):
            items.append(Path(((x, -1.2), (x, 1.2)), "wide"))
        above = wide + (out if "far edge" in strips else 0.0) + 1.0  # where no line runs
        low, high = left[1][0] + 1.0, right[1][0] - 1.0
        items += [Words((x, above), text, bold=True) for text, x in (("L", low), ("R", high))]
        return items

    def along(self, at: float, far: bool, across: str, rows: Sequence[float]) -> list[Item]:
        """A line `at` mm from the edge: on the end it is squared across, or on face or back through its rows."""
        side = _side(across)
        if side in ("left", "right"):
            reach = (self.out, _GAP) if side == "left" else (_GAP, self.out)
            first, last = (self.on_end(side, at, far, out) for out in reach)
            return [Path((first, last), "narrow")]
        y = self.wide - at if far else at
        spans = [
            (max(0.0, x * self.scale - self.reach), min(self.long, x * self.scale + self.reach)) for x in rows
        ]
        return [Path(((low, y), (high, y)), _pen(across)) for low, high in spans or [(0.0, self.long)]]

    def over(self, x: float, line: PencilLine, far: bool) -> list[Item]:
        """A line at `x`: on the edge it is squared across, over face or back, or slanting to a corner."""
        side, wide = _side(line.across), self.wide
        if line.what.startswith(_CORNER):
            corner = self.long if far else 0.0
            first, last = (wide, 0.0) if side == "far edge" else (0.0, wide)
            return [Path(((x, first), (corner, last)), "narrow")]
        if side == "edge":
            return [Path(((x, -self.out), (x, -_GAP)), "narrow")]
        if side == "far edge":
            return [Path(((x, wide + _GAP), (x, wide + self.out)), "narrow")]
        return [Path(((x, 0), (x, wide)), _pen(line.across))]


def _side(across: str) -> str:
    """Where a surface is drawn: a strip at the left, right, edge or far edge; empty for face and back."""
    edge = across.removesuffix(" bevel").removeprefix(
        "level "
    )  # a bevelled edge stands where the square one stood
    if edge in ("edge", "far edge"):
        return edge
    return next((side for side in ("left", "right") if across.startswith(side)), "")


def _strips(line: PencilLine) -> set[str]:
    return set() if line.what.startswith(_CORNER) else {_side(line.across)} - {""}


def _pen(across: str) -> PenName:
    return "hidden" if across == "back" else "narrow"


def _box(low: Spot, high: Spot) -> Path:
    return Path((low, (high[0], low[1]), high, (low[0], high[1])), "wide", closed=True)
