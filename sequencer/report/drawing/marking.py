"""A part laid flat with all its pencil lines, each on the surface it is squared across, cumulative from its start.

The reference face is up and the reference edge down. Surfaces that stand upright and carry lines are folded out beside
the board as strips; what is on the back is dashed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sequencer.operations import PencilLine
from sequencer.planfile import PartRecord
from sequencer.quantity import Unit, format_length
from sequencer.report.drawing.dimension import running
from sequencer.report.drawing.figure import Figure, Item, Path, PenName, Spot, Words, framed

_MOST = 40.0  # height of a board on the sheet, mm
_SIZES = 30.0  # room beside the board for strips and sizes, mm
_GAP = 0.8  # between the board and a strip folded out, mm
_REACH = 0.25  # how much of the length a line at one end takes
_CORNER = "joined across the face to the corner"


@dataclass(frozen=True)
class Mark:
    """A pencil line and the ends ("left", "right") it belongs to; both or none: it runs the whole length."""

    line: PencilLine
    ends: frozenset[str] = frozenset()


def marking_figure(
    part: PartRecord, marks: Sequence[Mark], longest: float, width: float, unit: Unit
) -> Figure:
    """The part at the scale that `longest` (mm) fills `width`: left end left, reference edge down."""
    scale = min(1.0, (width - _SIZES) / max(longest, part.length, 1.0), _MOST / part.width)
    board = _Board(part, part.length * scale, part.width * scale, scale)
    items = board.outline({side for mark in marks for side in _strips(mark.line)})
    below: dict[bool, set[tuple[float, str]]] = {}
    beside: dict[tuple[bool, bool], set[tuple[float, str]]] = {}
    for mark in marks:
        line = mark.line
        far = line.start in ("right end", "far edge")
        for at in line.at:
            label = format_length(at, unit)
            if line.start in ("edge", "far edge", "reference edge"):
                y = (part.width - at if far else at) * scale
                items += board.along(y, line.across, mark.ends)
                left = _side(line.across) == "left" or mark.ends == {"left"}
                beside.setdefault((left, far), set()).add((y, label))
            else:
                x = (part.length - at if far else at) * scale
                items += board.over(x, line, far)
                below.setdefault(far, set()).add((x, label))
    foot = -board.out if any("edge" in _strips(mark.line) for mark in marks) else 0.0
    for far, spots in below.items():
        places, labels = zip(*sorted(spots), strict=True)
        start = (board.long if far else 0.0, foot)
        items += running(start, [(x, foot) for x in places], (0.0, -1.0), 3.0 if far else 5.0, labels)
    for (left, far), spots in beside.items():
        if not left and spots == beside.get((True, far)):
            continue  # both ends alike: the sizes stand once
        places, labels = zip(*sorted(spots), strict=True)
        x, away = (-board.out, (-1.0, 0.0)) if left else (board.long + board.out, (1.0, 0.0))
        start = (x, board.wide if far else 0.0)
        items += running(start, [(x, y) for y in places], away, 8.0 if far else 3.0, labels)
    return framed(items, part.id, f"{part.id} laid flat with its pencil lines")


@dataclass(frozen=True)
class _Board:
    """The board on paper, mm: `long` by `wide`, its lower left corner at the origin."""

    part: PartRecord
    long: float
    wide: float
    scale: float

    @property
    def out(self) -> float:
        """How far a strip folded out reaches; never so thin that a line on it is lost."""
        return _GAP + max(2.5, self.part.thickness * self.scale)

    def outline(self, strips: set[str]) -> list[Item]:
        """The board, its strips, the mark of the reference edge, and which end is which."""
        long, wide, out = self.long, self.wide, self.out
        items: list[Item] = [_box((0, 0), (long, wide))]
        boxes = {
            "left": ((-out, 0.0), (-_GAP, wide)),
            "right": ((long + _GAP, 0.0), (long + out, wide)),
            "edge": ((0.0, -out), (long, -_GAP)),
            "far edge": ((0.0, wide + _GAP), (long, wide + out)),
        }
        items += [_box(*boxes[name]) for name in boxes if name in strips]
        for x in (long / 2 - 0.6, long / 2 + 0.6):
            items.append(Path(((x, -1.2), (x, 1.2)), "wide"))
        above = wide + (out if "far edge" in strips else 0.0) + 1.0  # where no line runs
        items += [Words((x, above), text, bold=True) for text, x in (("L", 1.0), ("R", long - 1.0))]
        return items

    def along(self, y: float, across: str, ends: frozenset[str]) -> list[Item]:
        """A line at `y`: on the end it is squared across, or on face or back at the ends it belongs to."""
        side = _side(across)
        if side == "left":
            return [Path(((-self.out, y), (-_GAP, y)), "narrow")]
        if side == "right":
            return [Path(((self.long + _GAP, y), (self.long + self.out, y)), "narrow")]
        reach = self.long * _REACH
        spans = {"left": (0.0, reach), "right": (self.long - reach, self.long)}
        found = [spans[end] for end in sorted(ends)] or [(0.0, self.long)]
        return [Path(((low, y), (high, y)), _pen(across)) for low, high in found]

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
    if across in ("edge", "far edge"):
        return across
    return next((side for side in ("left", "right") if across.startswith(side)), "")


def _strips(line: PencilLine) -> set[str]:
    return set() if line.what.startswith(_CORNER) else {_side(line.across)} - {""}


def _pen(across: str) -> PenName:
    return "hidden" if across == "back" else "narrow"


def _box(low: Spot, high: Spot) -> Path:
    return Path((low, (high[0], low[1]), high, (low[0], high[1])), "wide", closed=True)
