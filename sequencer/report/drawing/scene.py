"""A part at a step as it is drawn: its state, the view, what the view leaves out, its edges and mouths of cavities."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sequencer.operations import Operation
from sequencer.quantity import Unit
from sequencer.report.drawing.figure import Spot
from sequencer.report.drawing.history import PartState
from sequencer.report.drawing.projection import View
from sequencer.report.drawing.shortening import Shortening
from sequencer.report.drawing.solid import Segment
from sequencer.report.drawing.vectors import Array


@dataclass(frozen=True)
class Mouth:
    """Where a cavity opens on a surface; `fresh` if the step makes it."""

    surface: str
    points: Array
    fresh: bool


@dataclass(frozen=True)
class Scene:
    """A part's state with the view it is drawn in; its edges and the mouths of its cavities are found but once."""

    state: PartState
    operation: Operation
    view: View
    cut_out: Shortening
    unit: Unit
    cutter_unit: Unit
    names: tuple[str, ...] = ()
    """The parts that look so."""
    edges: tuple[Segment, ...] = ()
    mouths: tuple[Mouth, ...] = ()

    def spot(self, point: Array) -> Spot:
        """Where a point of the board falls on paper."""
        return self.view.spot(self.cut_out.moved(np.asarray(point, dtype=float)))

    def outline(self, points: Array) -> tuple[Spot, ...]:
        """A polygon of the board on paper."""
        return tuple(self.spot(point) for point in points)
