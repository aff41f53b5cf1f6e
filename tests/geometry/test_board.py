"""Boards as solids against an independent solid modeller (manifold3d)."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from manifold3d import Manifold

from sequencer.geometry.board import FRESH, Board
from sequencer.geometry.refusal import FigureError
from sequencer.operations import PlaneCut
from tests.joinery.board_corners import area_of, corners_of, volume_of

MITRE = PlaneCut(part="side", surface="left mitre", point=(0, 0, 0), normal=(-1, 0, 1))


def test_a_fresh_board_has_six_square_surfaces() -> None:
    """All six surfaces exist and are whole; eight corners."""
    board = Board.fresh(200, 100, 18)
    assert list(board.polygons) == list(FRESH)
    assert [area_of(board, name) for name in FRESH] == [
        100 * 18,
        100 * 18,
        200 * 18,
        200 * 18,
        20_000,
        20_000,
    ]
    assert len(corners_of(board)) == 8
    assert volume_of(board) == pytest.approx(200 * 100 * 18)


def test_a_mitre_takes_the_end_away() -> None:
    """After a mitre the square end is gone and the mitre is there: 343 800 mm3 are left.

    Source of the volume: 200 x 100 x 18 less half of 100 x 18 x 18.
    """
    board = Board.fresh(200, 100, 18).after([MITRE])
    assert "left end" not in board.polygons
    assert volume_of(board) == pytest.approx(343_800)
    assert area_of(board, "left mitre") == pytest.approx(100 * 18 * 2**0.5)
    assert area_of(board, "face") == pytest.approx(182 * 100)
    assert area_of(board, "back") == pytest.approx(200 * 100)


def test_remade_surface_keeps_one_name() -> None:
    """Cutting an end again remakes it under its name; cutting where it already stands changes nothing."""
    trim = PlaneCut(part="side", surface="left end", point=(5, 0, 0), normal=(-1, 0, 0))
    board = Board.fresh(200, 100, 18).after([trim])
    assert volume_of(board) == pytest.approx(195 * 100 * 18)
    assert sorted(board.polygons) == sorted(FRESH)
    same = board.after([trim])
    assert volume_of(same) == pytest.approx(volume_of(board))
    assert len(same.polygons) == 6
    slanted = PlaneCut(part="side", surface="left end", point=(5, 50, 0), normal=(-1, -0.2, 0))
    both = board.after([slanted])
    assert {"left end", "old left end"} <= set(both.polygons)


def test_nothing_left_is_refused() -> None:
    """A cut that takes the whole board is refused by name."""
    with pytest.raises(FigureError, match="leaves nothing of side"):
        Board.fresh(200, 100, 18).after(
            [PlaneCut(part="side", surface="end", point=(-1, 0, 0), normal=(1, 0, 0))]
        )


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 100_000))
def test_random_cuts_agree_with_the_solid_modeller(seed: int) -> None:
    """Volume and every surface's area after up to five cuts anywhere agree with manifold3d and scipy's hull."""
    rng = np.random.default_rng(seed)
    size = rng.uniform(20, 300, 3)
    solid = Manifold.cube(tuple(size))
    cuts = []
    for k in range(int(rng.integers(1, 6))):
        normal = rng.normal(size=3)
        normal /= np.linalg.norm(normal)
        point = size / 2 + normal * rng.uniform(0.1, 0.45) * size.min()
        cuts.append(PlaneCut(part="p", surface=f"cut {k}", point=tuple(point), normal=tuple(normal)))
        solid = solid.trim_by_plane(tuple(-normal), -float(normal @ point))
    board = Board.fresh(*size).after(cuts)
    assert volume_of(board) == pytest.approx(solid.volume(), rel=1e-5)
    assert sum(area_of(board, name) for name in board.polygons) == pytest.approx(
        solid.surface_area(), rel=1e-5
    )
    edges = sum(len(corners) for corners in board.polygons.values()) // 2  # each is a side of two faces
    assert len(corners_of(board)) - edges + len(board.polygons) == 2  # Euler
