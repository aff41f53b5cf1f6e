"""A figure: paths, arcs and words on paper, with the pens they are drawn with.

Everything is in mm on paper, x to the right, y up, the figure's lower left corner at (0, 0). Line types and widths
follow ISO 128-2: wide for visible outlines, narrow (half of it) for dimensions, hatching and hidden edges, extra wide
(twice the wide line) for what the step makes.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from sequencer.report.drawing.nearness import DUST

Spot = tuple[float, float]
"""A point on paper, mm."""

PenName = Literal["wide", "narrow", "hidden", "centre", "waste", "cut", "cut hidden"]
Fill = Literal["none", "white", "black"]


@dataclass(frozen=True)
class Pen:
    """A line's width and its dashes and gaps in turn, mm; no dashes: continuous."""

    width: float
    dashes: tuple[float, ...] = ()


_WIDE = 0.35
_NARROW = _WIDE / 2
PENS: dict[PenName, Pen] = {
    "wide": Pen(_WIDE),
    "narrow": Pen(_NARROW),
    "hidden": Pen(_NARROW, (9 * _NARROW, 4 * _NARROW)),
    "centre": Pen(_NARROW, (24 * _NARROW, 3 * _NARROW, 1 * _NARROW, 3 * _NARROW)),
    "waste": Pen(_NARROW, (16 * _NARROW, 3 * _NARROW, 1 * _NARROW, 3 * _NARROW, 1 * _NARROW, 3 * _NARROW)),
    "cut": Pen(2 * _WIDE),
    "cut hidden": Pen(_WIDE, (5 * _WIDE, 2.5 * _WIDE)),
}
"""Continuous wide: seen; dashed: hidden; long-dash-dot: axis; long-dash-double-dot: what is cut away; extra wide: the
cut. (The order of dashes and gaps is that of ISO 128-2; they are a little shorter, for drawings this small.)"""

TEXT = 2.5
"""Height of type in figures, mm (7.1 pt)."""


@dataclass(frozen=True)
class Path:
    """A chain of straight lines; closed paths may be filled."""

    points: tuple[Spot, ...]
    pen: PenName | None = "wide"
    closed: bool = False
    fill: Fill = "none"


@dataclass(frozen=True)
class Arc:
    """Part of a circle from angle `start` to `end`, degrees counter-clockwise from the x direction."""

    centre: Spot
    radius: float
    start: float = 0.0
    end: float = 360.0
    pen: PenName = "narrow"
    fill: Fill = "none"

    @property
    def whole(self) -> bool:
        """Whether it is a circle."""
        return self.end - self.start >= 360 - DUST


@dataclass(frozen=True)
class Words:
    """Text whose baseline starts (left), is centred (middle) or ends (right) at `at`, turned by `turn` degrees."""

    at: Spot
    text: str
    anchor: Literal["left", "middle", "right"] = "middle"
    size: float = TEXT
    turn: float = 0.0
    bold: bool = False

    @property
    def width(self) -> float:
        """An upper estimate of the width, mm."""
        return text_width(self.text, self.size, self.bold)

    def corners(self) -> tuple[Spot, ...]:
        """The corners of the text's box, from the left foot counter-clockwise."""
        shift = {"left": 0.0, "middle": 0.5, "right": 1.0}[self.anchor] * self.width
        box = ((-shift, -0.22), (self.width - shift, -0.22), (self.width - shift, 0.76), (-shift, 0.76))
        c, s = math.cos(math.radians(self.turn)), math.sin(math.radians(self.turn))
        return tuple(
            (self.at[0] + x * c - y * self.size * s, self.at[1] + x * s + y * self.size * c) for x, y in box
        )


Item = Path | Arc | Words


@dataclass(frozen=True)
class Figure:
    """Items on a sheet of `width` by `height` mm. `title` names the figure, `alt` says in words what it shows."""

    items: tuple[Item, ...]
    width: float
    height: float
    title: str = ""
    alt: str = ""


_NARROW_LETTERS = set("iIjl.,:;'|!()[]1 ft-°\N{NO-BREAK SPACE}")
_WIDE_LETTERS = set("mwMW@%—→")


def text_width(text: str, size: float, bold: bool = False) -> float:
    """An upper estimate of the width of a line of text in mm, from three classes of letters."""
    ems = sum(0.38 if c in _NARROW_LETTERS else 0.95 if c in _WIDE_LETTERS else 0.66 for c in text)
    return ems * size * (1.06 if bold else 1.0)


def extent(items: Iterable[Item]) -> tuple[float, float, float, float]:
    """The box (left, bottom, right, top) around all items, words and pen widths included; zeros for no items."""
    spots: list[Spot] = []
    for item in items:
        if isinstance(item, Path):
            spots += item.points
        elif isinstance(item, Words):
            spots += item.corners()
        else:
            spots += _arc_spots(item)
    if not spots:
        return 0.0, 0.0, 0.0, 0.0
    xs, ys = [s[0] for s in spots], [s[1] for s in spots]
    return min(xs), min(ys), max(xs), max(ys)


def _arc_spots(arc: Arc) -> list[Spot]:
    turns = [arc.start, arc.end] + [a for a in range(-720, 721, 90) if arc.start <= a <= arc.end]
    return [
        (
            arc.centre[0] + arc.radius * math.cos(math.radians(a)),
            arc.centre[1] + arc.radius * math.sin(math.radians(a)),
        )
        for a in turns
    ]


def shifted(items: Iterable[Item], right: float, up: float) -> tuple[Item, ...]:
    """The items moved."""

    def move(spot: Spot) -> Spot:
        return spot[0] + right, spot[1] + up

    moved: list[Item] = []
    for item in items:
        if isinstance(item, Path):
            moved.append(replace(item, points=tuple(move(p) for p in item.points)))
        elif isinstance(item, Words):
            moved.append(replace(item, at=move(item.at)))
        else:
            moved.append(replace(item, centre=move(item.centre)))
    return tuple(moved)


_MARGIN = 0.6


def framed(items: Sequence[Item], title: str = "", alt: str = "") -> Figure:
    """A figure just large enough for the items and a margin, moved so that its lower left corner is (0, 0)."""
    left, bottom, right, top = extent(items)
    return Figure(
        shifted(items, _MARGIN - left, _MARGIN - bottom),
        round(right - left + 2 * _MARGIN, 3),
        round(top - bottom + 2 * _MARGIN, 3),
        title,
        alt,
    )


def hatching(
    outlines: Sequence[Sequence[Spot]], angle: float = 45.0, pitch: float = 1.4, pen: PenName = "narrow"
) -> tuple[Path, ...]:
    """Parallel lines at `angle` degrees, `pitch` mm apart, inside closed outlines; inner ones are holes."""
    c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    sides: list[tuple[Spot, Spot]] = []
    for outline in outlines:
        turned = [(x * c + y * s, -x * s + y * c) for x, y in outline]
        sides += zip(turned, turned[1:] + turned[:1], strict=True)
    levels = [y for side in sides for _, y in side]
    lines: list[Path] = []
    for number in range(math.ceil(min(levels) / pitch), math.floor(max(levels) / pitch) + 1):
        level = number * pitch
        crossings = sorted(
            a[0] + (level - a[1]) * (b[0] - a[0]) / (b[1] - a[1])
            for a, b in sides
            if (a[1] <= level) != (b[1] <= level)
        )
        for start, end in zip(crossings[::2], crossings[1::2], strict=False):
            if end - start > 0.15:
                ends = [(x * c - level * s, x * s + level * c) for x in (start, end)]
                lines.append(Path((ends[0], ends[1]), pen))
    return tuple(lines)
