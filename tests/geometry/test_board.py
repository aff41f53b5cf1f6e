"""Boards as solids against an independent solid modeller (manifold3d)."""

from __future__ import annotations

from math import cos, pi, radians, sin

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from manifold3d import Manifold
from scipy.spatial import ConvexHull

from sequencer.geometry.board import FRESH, Board
from sequencer.geometry.refusal import FigureError
from sequencer.operations import PlaneCut, Slot, Trench

MITRE = PlaneCut(part="side", surface="left mitre", point=(0, 0, 0), normal=(-1, 0, 1))
SLOT = Slot(
    part="side",
    joint="corner",
    mouth=(30, 50, 18),
    axis=(0, 0, -1),
    along=(0, 1, 0),
    length=30,
    width=6,
    depth=10,
)


def test_a_fresh_board_has_six_square_surfaces() -> None:
    """All six surfaces exist, are square and whole; twelve edges, eight corners."""
    board = Board.fresh(200, 100, 18)
    assert [name for name, _ in board.faces] == list(FRESH)
    assert all(board.is_square(name) and board.share_left(name) == 1 for name in FRESH)
    assert (len(board.vertices), len(board.edges)) == (8, 12)
    assert board.volume == 200 * 100 * 18


def test_a_mitre_takes_the_end_away() -> None:
    """After a mitre the square end is gone and the mitre is there, 45 degrees to the back: 343 800 mm3 are
    left.

    Source of the volume: 200 x 100 x 18 less half of 100 x 18 x 18.
    """
    board = Board.fresh(200, 100, 18).after([MITRE])
    assert not board.exists("left end")
    assert board.share_left("left end") == 0
    assert board.exists("left mitre")
    assert not board.is_square("left mitre")
    assert board.is_square("left mitre", "edge")
    assert board.angle("left mitre", "back") == pytest.approx(45)
    assert board.volume == pytest.approx(343_800)
    assert board.area("left mitre") == pytest.approx(100 * 18 * 2**0.5)
    assert board.share_left("face") == pytest.approx(182 / 200)
    assert board.share_left("back") == pytest.approx(1)


def test_the_end_that_guides_a_plunge_is_gone_only_after_the_bevel() -> None:
    """The square end is whole before the bevel and not there after, with a slot plunged in between."""
    fresh = Board.fresh(200, 100, 18)
    assert fresh.after([SLOT]).is_square("left end")
    assert fresh.after([SLOT]).share_left("left end") == 1
    assert not fresh.after([SLOT, MITRE]).exists("left end")


def test_openings_are_taken_off_a_surface() -> None:
    """A slot's mouth (a rectangle and a circle) and a groove come off the face, the groove off the ends too."""
    groove = Trench(part="side", surface="groove", low=(0, 10, 12), high=(200, 16, 18))
    board = Board.fresh(200, 100, 18).after([SLOT, groove])
    mouth = 6 * 24 + pi * 9
    assert board.area_left("face") == pytest.approx(200 * 100 - mouth - 200 * 6, abs=0.1)
    assert board.area_left("left end") == pytest.approx(100 * 18 - 36, abs=1e-3)
    assert board.area_left("back") == pytest.approx(200 * 100)


def test_remade_surface_keeps_one_name() -> None:
    """Cutting an end again remakes it under its name; cutting where it already stands changes nothing."""
    trim = PlaneCut(part="side", surface="left end", point=(5, 0, 0), normal=(-1, 0, 0))
    board = Board.fresh(200, 100, 18).after([trim])
    assert board.volume == pytest.approx(195 * 100 * 18)
    assert sorted(name for name, _ in board.faces) == sorted(FRESH)
    same = board.after([trim])
    assert same.volume == pytest.approx(board.volume)
    assert len(same.faces) == 6
    slanted = PlaneCut(part="side", surface="left end", point=(5, 50, 0), normal=(-1, -0.2, 0))
    both = board.after([slanted])
    assert both.exists("left end")
    assert both.exists("old left end")


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
    assert board.volume == pytest.approx(solid.volume(), rel=1e-5)
    assert sum(board.area(name) for name, _ in board.faces) == pytest.approx(solid.surface_area(), rel=1e-5)
    hull = ConvexHull(board.vertices)
    assert hull.volume == pytest.approx(board.volume, rel=1e-9)
    assert len(board.vertices) - len(board.edges) + len(board.faces) == 2  # Euler


def test_compound_cut_edges() -> None:
    """A compound bevel is not square to face or edge but leaves the other five surfaces square."""
    normal = (-cos(radians(14)) * cos(radians(43)), sin(radians(14)) * cos(radians(43)), sin(radians(43)))
    cut = PlaneCut(part="side", surface="left bevel", point=(40, 0, 0), normal=normal)
    board = Board.fresh(300, 120, 18).after([cut])
    assert not board.is_square("left bevel", "face")
    assert not board.is_square("left bevel", "edge")
    assert all(board.is_square(name) for name in ("edge", "far edge", "face", "back", "right end"))
    low, high = board.extent(np.array([1.0, 0, 0]))
    assert 0 < low < 60
    assert high == 300
