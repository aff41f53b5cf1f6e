"""The corners of a board's body, each once, from the corners of its surfaces."""

from __future__ import annotations

import numpy as np

from sequencer.geometry.board import Board

SAME = 1e-5
"""mm: corners no further apart are one (they are computed once for each surface)."""


def corners_of(board: Board) -> np.ndarray:
    """One row each, mm."""
    corners: list[np.ndarray] = []
    for _, polygon in board.faces:
        for point in polygon:
            if all(float(np.linalg.norm(point - seen)) > SAME for seen in corners):
                corners.append(point)
    return np.array(corners)
