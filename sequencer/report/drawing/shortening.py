"""Long boards are drawn with a piece left out of the middle, so that their ends are large enough to read.

The interrupted view of ISO 128-3: both ends to the same scale, narrow lines at the break. Nothing the step makes or
marks is ever left out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sequencer.geometry.convex import Plane
from sequencer.operations import Operation, PlaneCut, Slot, Trench
from sequencer.report.drawing.history import PartState
from sequencer.report.drawing.solid import Solid
from sequencer.report.drawing.vectors import Array

_LONG = 3.5  # a board longer than this times its width and thickness together is shortened
_WORTH = 0.25  # a gap must be this part of the length to be worth a break


@dataclass(frozen=True)
class Shortening:
    """The stretch of length from `start` to `end` that is left out, `gap` of it kept open; nothing if equal."""

    start: float = 0.0
    end: float = 0.0
    gap: float = 0.0

    @property
    def happens(self) -> bool:
        return self.end > self.start

    def moved(self, point: Array) -> Array:
        """A point of the board as it stands in the shortened one; in the stretch itself, squeezed into the gap."""
        if not self.happens or point[0] <= self.start:
            return point
        shift = self.end - self.start - self.gap
        if point[0] >= self.end:
            return np.asarray(point - np.array([shift, 0.0, 0.0]))
        share = (point[0] - self.start) / (self.end - self.start)
        return np.array([self.start + share * self.gap, point[1], point[2]])

    def solids(self, solid: Solid) -> list[Solid]:
        """The solid, or its two ends moved together, its cutters whole with each: the body clips them when drawn."""
        if not self.happens:
            return [solid]
        ends: list[Solid] = []
        for name, at, sign in (("break left", self.start, 1.0), ("break right", self.end, -1.0)):
            plane = Plane(name, np.array([sign, 0.0, 0.0]), sign * at)
            body = solid.body.clipped(plane)
            shift = np.array([self.end - self.start - self.gap if sign < 0 else 0.0, 0.0, 0.0])
            ends.append(
                Solid(
                    body.moved(-shift), tuple(cutter.moved(-shift) for cutter in solid.cutters), solid.fresh
                )
            )
        return ends


def shorten(state: PartState, operation: Operation) -> Shortening:
    """Where a board may be interrupted, if it is long enough and has nothing to show there."""
    part = state.part
    low, high = float(state.before.low[0]), float(state.before.high[0])
    across = part.width + part.thickness
    if high - low < _LONG * across:
        return Shortening()
    keep = [(low, low + 0.9 * across), (high - 0.9 * across, high)]
    for cut in (*state.old, *state.new):
        keep += _reach(cut, across)
    for line in operation.notes.lines:
        if line.part == part.id:
            from_right = line.start == "right end"
            keep += [(x - 5.0, x + 5.0) for x in ((part.length - at) if from_right else at for at in line.at)]
    reach, gaps = low, []
    for start, end in sorted(keep):
        if start > reach:
            gaps.append((reach, start))
        reach = max(reach, end)
    if not gaps:
        return Shortening()
    start, end = max(gaps, key=lambda gap: gap[1] - gap[0])
    gap = 0.12 * across
    return Shortening(start, end, gap) if end - start > _WORTH * (high - low) + gap else Shortening()


def _reach(cut: PlaneCut | Slot | Trench, across: float) -> list[tuple[float, float]]:
    """The stretches of length where a cut begins, ends or shows."""
    if isinstance(cut, Slot):
        half = (
            abs(cut.along[0]) * cut.length / 2
            + (1 - abs(cut.along[0])) * cut.width / 2
            + abs(cut.axis[0]) * cut.depth
        )
        return [(cut.mouth[0] - half - 0.2 * across, cut.mouth[0] + half + 0.2 * across)]
    if isinstance(cut, Trench):
        return [(x - 0.3 * across, x + 0.3 * across) for x in (cut.low[0], cut.high[0])]
    if abs(cut.normal[0]) < 0.2:  # along the board
        return []
    return [(cut.point[0] - across, cut.point[0] + across)]
