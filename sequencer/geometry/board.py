"""A part as a solid: which surfaces it has after any cuts, whether they are square and how much of each is
left.

The body is a convex block, a box cut by planes, in the board's own frame (see `sequencer.operations`); slots
and trenches are kept beside it as the wood they remove. Lengths in mm, areas in mm2, angles in degrees.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property
from math import acos, degrees, inf

import numpy as np

from sequencer.geometry import convex
from sequencer.geometry.convex import HAIR, SLIVER, Plane, Polygon, Vec
from sequencer.geometry.refusal import FigureError, require_between
from sequencer.geometry.slots import SlotSolid
from sequencer.operations import Cut, PlaneCut, Slot, Trench

SQUARE = 0.01
"""Degrees: a surface nearer to square than this is square."""

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
    slots: tuple[Slot, ...] = ()
    trenches: tuple[Trench, ...] = ()

    @classmethod
    def fresh(cls, length: float, width: float, thickness: float) -> Board:
        """A square block with all six surfaces.

        >>> Board.fresh(200, 100, 18).volume
        360000.0
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

    def after(self, cuts: Iterable[Cut]) -> Board:
        """The board after these cuts, in this order. Surfaces of which nothing is left are dropped.

        A plane cut under the name of a surface that exists remakes that surface; should a part of the old one
        remain, it is called "old" and its name. Raises FigureError when a plane cut leaves nothing of the
        board.
        """
        board = self
        for cut in cuts:
            if isinstance(cut, PlaneCut):
                board = board._cut(Plane.through(cut.surface, cut.point, cut.normal), cut.part)
            elif isinstance(cut, Slot):
                board = replace(board, slots=(*board.slots, cut))
            else:
                board = replace(board, trenches=(*board.trenches, cut))
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
        """Corners of every surface in order, anticlockwise seen from outside, by its name (slots not taken
        out).
        """
        size = 10.0 * (self.length + self.width + self.thickness) + max(abs(p.offset) for p in self.planes)
        return {p.name: convex.face(p, self.planes, size) for p in self.planes}

    @property
    def faces(self) -> tuple[tuple[str, Polygon], ...]:
        """Name and corners of each surface of the body, for drawing."""
        return tuple((name, corners) for name, corners in self.polygons.items() if len(corners))

    @cached_property
    def vertices(self) -> Vec:
        """The body's corners, one row each, mm."""
        corners: list[Vec] = []
        for _, polygon in self.faces:
            for point in polygon:
                if all(float(np.linalg.norm(point - seen)) > 100 * HAIR for seen in corners):
                    corners.append(point)
        return np.array(corners)

    @cached_property
    def edges(self) -> tuple[tuple[Vec, Vec], ...]:
        """The body's edges, each once, as its two end points."""
        found: list[tuple[Vec, Vec]] = []
        for _, polygon in self.faces:
            for a, b in zip(polygon, np.roll(polygon, -1, axis=0), strict=True):
                if not any(
                    float(np.linalg.norm(a - d) + np.linalg.norm(b - c)) < 1000 * HAIR for c, d in found
                ):
                    found.append((a, b))
        return tuple(found)

    @property
    def volume(self) -> float:
        """Volume of the body, slots and trenches not taken out, mm3."""
        return convex.volume([polygon for _, polygon in self.faces])

    def plane(self, surface: str) -> Plane:
        """The plane of a surface that exists; KeyError for one that does not."""
        for plane in self.planes:
            if plane.name == surface and self.exists(surface):
                return plane
        raise KeyError(surface)

    def exists(self, surface: str) -> bool:
        """Whether anything of the surface is left.

        >>> bevel = PlaneCut(part="side", surface="left mitre", point=(0, 0, 0), normal=(-1, 0, 1))
        >>> side = Board.fresh(200, 100, 18).after([bevel])
        >>> side.exists("left end"), side.exists("left mitre"), side.is_square("left mitre")
        (False, True, False)
        """
        return len(self.polygons.get(surface, ())) > 0

    def angle(self, surface: str, other: str) -> float:
        """Inside angle of wood between two surfaces that exist, degrees."""
        cosine = float(self.plane(surface).normal @ self.plane(other).normal)
        return 180.0 - degrees(acos(max(-1.0, min(1.0, cosine))))

    def is_square(self, surface: str, to: str | None = None) -> bool:
        """Whether a surface exists and is square: to the surface `to`, else to face and edge as the fresh
        board had them (a face, edge or end as it should be)."""
        if not self.exists(surface) or (to is not None and not self.exists(to)):
            return False
        if to is not None:
            return abs(self.angle(surface, to) - 90.0) <= SQUARE
        off = degrees(acos(min(1.0, float(np.abs(self.plane(surface).normal).max()))))
        return off <= SQUARE

    def area(self, surface: str) -> float:
        """Area of a surface within its outline, mm2; 0 when it does not exist."""
        return convex.area(self.polygons.get(surface, np.zeros((0, 3))))

    def openings(self, surface: str) -> tuple[Polygon, ...]:
        """Outlines, on a surface, of the mouths of slots and trenches within it."""
        if not self.exists(surface):
            return ()
        outline, plane = self.polygons[surface], self.plane(surface)
        # Just under the surface, so that a mouth that lies in it counts and a trench's far side does not.
        under = Plane(plane.name, plane.normal, plane.offset - 10 * HAIR)
        found = [SlotSolid.of(slot).opening(under) for slot in self.slots]
        found += [_trench_section(trench, under) for trench in self.trenches]
        sides = [
            Plane.through("", a, np.cross(b - a, plane.normal))
            for a, b in zip(outline, np.roll(outline, -1, axis=0), strict=True)
        ]
        for side in sides:
            found = [convex.clip(mouth, side) for mouth in found]
        return tuple(mouth for mouth in found if convex.area(mouth) > SLIVER)

    def area_left(self, surface: str) -> float:
        """Area of a surface less its openings, mm2; openings that overlap are both taken off."""
        return max(0.0, self.area(surface) - sum(convex.area(mouth) for mouth in self.openings(surface)))

    def share_left(self, surface: str) -> float:
        """How much of a fresh board's surface is still there, 0 to 1.

        Raises KeyError for a surface that a fresh board does not have.
        """
        whole = Board.fresh(self.length, self.width, self.thickness)
        if surface not in FRESH:
            raise KeyError(surface)
        return self.area_left(surface) / whole.area(surface)

    def extent(self, direction: Vec) -> tuple[float, float]:
        """Least and greatest reach of the body along a unit direction, mm."""
        heights = self.vertices @ np.asarray(direction, dtype=float)
        return float(heights.min()), float(heights.max())


def _trench_section(trench: Trench, plane: Plane) -> Polygon:
    low, high = np.array(trench.low), np.array(trench.high)
    (x, y, z), (u, v, w) = low, high
    base = np.array([(x, y, z), (u, y, z), (u, v, z), (x, v, z)])
    return convex.section_of_prism(base, np.array([0.0, 0.0, w - z]), plane)
