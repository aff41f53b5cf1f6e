"""The corners of a board's body, each once, from the corners of its surfaces, the areas of these, and its volume."""

from __future__ import annotations

import numpy as np
from scipy.spatial import ConvexHull

from sequencer.geometry.board import Board
from sequencer.geometry.convex import area

SAME = 1e-5
"""mm: corners no further apart are one (they are computed once for each surface)."""


def corners_of(board: Board) -> np.ndarray:
    """One row each, mm."""
    corners: list[np.ndarray] = []
    for polygon in board.polygons.values():
        for point in polygon:
            if all(float(np.linalg.norm(point - seen)) > SAME for seen in corners):
                corners.append(point)
    return np.array(corners)


def area_of(board: Board, surface: str) -> float:
    """Area of a surface, mm2; 0 when it is not there."""
    return area(board.polygons.get(surface, np.zeros((0, 3))))


def volume_of(board: Board) -> float:
    """Of the hull of its corners, mm3."""
    return float(ConvexHull(corners_of(board)).volume)
