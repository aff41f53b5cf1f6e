"""Boards in their places in the thing that joints make of them. Lengths in mm."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sequencer.joinery.whole.assembly import Matrix
from sequencer.model.parts import Part

Pose = tuple[Matrix, Matrix]
"""Rotation and shift: a point p of the board's own frame lies at rotation @ p + shift."""


@dataclass(frozen=True, eq=False)
class Piece:
    """A board in the thing: how it may lie, by all joints that have it so far."""

    part: str
    poses: tuple[Pose, ...]
    joints: frozenset[str] = frozenset()

    def middle(self, part: Part) -> Matrix:
        """Where the middle of the board lies, which is the same for each of its poses."""
        turn, shift = self.poses[0]
        found: Matrix = turn @ (np.array([part.length, part.width, part.thickness]) / 2) + shift
        return found
