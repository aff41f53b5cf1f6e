"""The dimension of a wall on a section, after the habits of ISO 129-1: its line runs on out of the wood, dots stand for
arrows where there is no room, the value keeps clear of wood and other values."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from sequencer.quantity import Unit, format_length
from sequencer.report.drawing.dimension import arrow
from sequencer.report.drawing.figure import TEXT, Arc, Item, Path, Words
from sequencer.report.drawing.joint import Halves, LeastWall
from sequencer.report.drawing.nearness import MOSTLY, SHOWN
from sequencer.report.drawing.outline import Flat, common, spot, without
from sequencer.report.drawing.vectors import unit_vector

_BAND = 0.7  # hatching stays this clear of a dimension line, mm on paper
_ROOMY = 4.6  # a dimension this long has room for its arrows
_OUT = 1.4  # from the wood to the value of a wall
_INSIDE, _FAR = 1e-3, 1e3  # where rays begin and end: just within the wood, past all that is drawn


@dataclass(frozen=True)
class WallSize:
    """A wall on paper: from `corner` to `foot`, the direction `out` and how far out of it the wood ends."""

    size: float
    corner: Flat
    foot: Flat
    out: Flat
    reach: float

    @property
    def end(self) -> Flat:
        """Where the dimension line ends, clear of the wood."""
        return self.foot + self.out * (self.reach + _OUT)

    @property
    def band(self) -> Flat:
        """What hatching keeps clear of."""
        side = np.array([-self.out[1], self.out[0]]) * _BAND
        return np.array([self.corner + side, self.corner - side, self.end - side, self.end + side])


def wall_sizes(pair: Halves, on_paper: Callable[[Flat], Flat], boards: Sequence[Flat]) -> list[WallSize]:
    """The wall to dimension of either half: of equal ones those nearest to the open, and on one side; `on_paper` takes
    points of the section to the sheet, where the `boards` lie."""
    choices = [
        [_wall_size(wall, on_paper, boards) for wall in half.walls if wall.size > SHOWN]
        for half in (pair.first, pair.second)
    ]
    if not all(choices):
        return [wall for each in choices for wall in each[:1]]

    def worth(both: tuple[WallSize, WallSize]) -> tuple[float, float, float]:
        one, other = both
        return (
            round(one.reach + other.reach, 3),
            -round(float(one.out @ other.out), 3),
            -round(float(one.out[1]), 3),
        )

    best = min(((one, other) for one in choices[0] for other in choices[1]), key=worth)
    return [*best]


def _wall_size(wall: LeastWall, on_paper: Callable[[Flat], Flat], boards: Sequence[Flat]) -> WallSize:
    corner, foot = (on_paper(point[None, :])[0] for point in (wall.corner, wall.foot))
    out = unit_vector(foot - corner)
    return WallSize(wall.size, corner, foot, out, max(_leaves(board, foot, out) for board in boards))


def dimension(wall: WallSize, boards: Sequence[Flat], others: Sequence[Item], unit: Unit) -> list[Item]:
    """The dimension of a wall, its value beyond the wood and clear of other values."""
    out, end = wall.out, wall.end
    taken = [item for item in others if isinstance(item, Words)]
    value = _value(end, out, format_length(wall.size, unit))
    for _ in range(40):
        if not any(_overlap(value, other) for other in taken) and not any(_on_wood(value, b) for b in boards):
            break
        end = end + out
        value = _value(end, out, value.text)
    items: list[Item] = [_line(wall.corner, end)]
    if float(np.linalg.norm(wall.foot - wall.corner)) > _ROOMY:
        items += [arrow(spot(wall.foot), spot(out)), arrow(spot(wall.corner), spot(-out))]
    else:
        items += [Arc(spot(point), 0.45, pen="narrow", fill="black") for point in (wall.corner, wall.foot)]
    return [*items, value]


def _value(end: Flat, out: Flat, text: str) -> Words:
    """The value at the end of a dimension line that runs `out` of the drawing."""
    tip = end + out * 0.5
    if abs(out[0]) > MOSTLY:
        return Words((float(tip[0]), float(tip[1]) - 0.27 * TEXT), text, "left" if out[0] > 0 else "right")
    return Words((float(tip[0]), float(tip[1]) + (0.2 if out[1] > 0 else -0.8) * TEXT), text)


def _on_wood(value: Words, board: Flat) -> bool:
    return len(common(np.array(value.corners()), board)) > 0


def _leaves(loop: Flat, start: Flat, out: Flat) -> float:
    """How far along a ray the outline is left for good; 0 if it is not met."""
    inside = without([(start + out * _INSIDE, start + out * _FAR)], loop)
    return max((_FAR - float(np.linalg.norm(b - a)) for a, b in inside[-1:]), default=0.0)


def _overlap(one: Words, other: Words) -> bool:
    a, b = np.array(one.corners()), np.array(other.corners())
    return bool((a.min(axis=0) < b.max(axis=0)).all() and (b.min(axis=0) < a.max(axis=0)).all())


def _line(start: Flat, end: Flat) -> Path:
    return Path((spot(start), spot(end)), "narrow")
