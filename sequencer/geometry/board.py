"""A part as a solid: which surfaces it has after its plane cuts.

The body is a convex block, a box cut by planes, in the board's own frame (see `sequencer.operations`);
slots and trenches are no matter here. Lengths in mm.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property
from math import inf

import numpy as np

from sequencer.geometry import convex
from sequencer.geometry.convex import Plane, Polygon
from sequencer.geometry.refusal import FigureError, require_between
from sequencer.operations import PlaneCut

FRESH = ("left end", "right end", "edge", "far edge", "back", "face")
"""The surfaces of a fresh board: at x = 0 and length, y = 0 and width, z = 0 and thickness."""


@dataclass(frozen=True, eq=False)
class Board:
    """A part after some cuts. `length`, `width` and `thickness` are those of the fresh block, mm."""

    length: float
    width: float
    thickness: float
    planes: tuple[Plane, ...]
    """Every surface that bounds the body, in the order made."""

    @classmethod
    def fresh(cls, length: float, width: float, thickness: float) -> Board:
        """A square block with all six surfaces.

        >>> list(Board.fresh(200, 100, 18).polygons)
        ['left end', 'right end', 'edge', 'far edge', 'back', 'face']
        """
        size = (float(length), float(width), float(thickness))
        for what, measure in zip(("length", "width", "thickness"), size, strict=True):
            require_between(what, measure, 0, inf, "mm")
        planes = []
        for k, name in enumerate(FRESH):
            axis = np.eye(3)[k // 2]
            far = bool(k % 2)
            planes.append(Plane(name, axis if far else -axis, size[k // 2] if far else 0.0))
        return cls(length, width, thickness, tuple(planes))

    def after(self, cuts: Iterable[PlaneCut]) -> Board:
        """The board after these cuts, in this order. Surfaces of which nothing is left are dropped.

        A plane cut under the name of a surface that exists remakes that surface; should a part of the old one
        remain, it is called "old" and its name. Raises FigureError when a plane cut leaves nothing of the
        board.

        >>> bevel = PlaneCut(part="side", surface="left mitre", point=(0, 0, 0), normal=(-1, 0, 1))
        >>> list(Board.fresh(200, 100, 18).after([bevel]).polygons)
        ['right end', 'edge', 'far edge', 'back', 'face', 'left mitre']
        """
        board = self
        for cut in cuts:
            board = board._cut(Plane.through(cut.surface, cut.point, cut.normal), cut.part)
        return board

    def _cut(self, plane: Plane, part: str) -> Board:
        kept = []
        for old in self.planes:
            if old.is_same(plane):
                continue
            kept.append(Plane(f"old {old.name}", old.normal, old.offset) if old.name == plane.name else old)
        board = replace(self, planes=(*kept, plane))
        bounding = tuple(p for p in board.planes if len(board.polygons[p.name]))
        if len(bounding) < 4:
            raise FigureError(
                f"cutting {plane.name} leaves nothing of {part or 'the board'}", "a plane that leaves wood"
            )
        return replace(board, planes=bounding)

    @cached_property
    def polygons(self) -> dict[str, Polygon]:
        """Corners of every surface in order, anticlockwise seen from outside, by its name."""
        size = 10.0 * (self.length + self.width + self.thickness) + max(abs(p.offset) for p in self.planes)
        return {p.name: convex.face(p, self.planes, size) for p in self.planes}
