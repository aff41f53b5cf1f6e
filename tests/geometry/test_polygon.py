"""Irregular rings against shapely."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import MultiPoint

from sequencer.geometry.angles import regular
from sequencer.geometry.polygon import Ring, closed_ring, gap_of, ring_corners
from sequencer.geometry.refusal import FigureError


def drawn(seed: int) -> Ring:
    """Sides and corners of the convex hull of random points, measured apart from the package."""
    points = MultiPoint(np.random.default_rng(seed).uniform(0, 1000, (9, 2))).convex_hull.exterior.coords
    corners = np.array(points[:-1])
    (ax, ay), (bx, by) = corners[1] - corners[0], corners[2] - corners[1]
    if ax * by - ay * bx < 0:
        corners = corners[::-1]
    sides = np.roll(corners, -1, axis=0) - corners
    lengths = np.linalg.norm(sides, axis=1)
    following = np.roll(sides, -1, axis=0)
    cosines = np.sum(sides * following, axis=1) / lengths / np.roll(lengths, -1)
    return Ring(tuple(lengths), tuple(180 - np.degrees(np.arccos(cosines))))


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 5000))
def test_left_out_figures_are_found(seed: int) -> None:
    """One corner and two sides, or three corners, left out of a drawn ring are worked out again (shapely's
    hull).
    """
    ring = drawn(seed)
    assert gap_of(ring.sides, ring.corners) < 1e-6
    sides: list[float | None] = list(ring.sides)
    corners: list[float | None] = list(ring.corners)
    sides[0] = sides[1] = None
    corners[1] = None
    found = closed_ring(sides, corners)
    assert found.sides == pytest.approx(ring.sides, abs=1e-5)
    assert found.corners == pytest.approx(ring.corners, abs=1e-6)
    corners = list(ring.corners)
    for i in (0, len(corners) // 2, len(corners) - 1):
        corners[i] = None
    assert closed_ring(ring.sides, corners).corners == pytest.approx(ring.corners, abs=1e-4)


def test_a_ring_that_does_not_close_is_refused_with_one_that_does() -> None:
    """The refusal's two sides do close the ring."""
    with pytest.raises(FigureError) as refused:
        closed_ring([300, 200, 310, 200], [90, 90, 90, 90])
    assert "10 mm apart" in refused.value.message
    words = refused.value.accepted.split()
    sides: list[float | None] = [300, 200, 310, 200]
    sides[int(words[1]) - 1] = float(words[3])
    sides[int(words[7]) - 1] = float(words[9])
    assert closed_ring(sides, [90, 90, 90, 90]).sides == tuple(sides)


@pytest.mark.parametrize(
    ("sides", "corners"),
    [
        ([300, 200], [90, 90]),
        ([300, 200, 300, 200], [90, 90, 90, 91]),
        ([300, 200, 300, -1], [90, 90, 90, 90]),
        ([300, 200, 300, 200], [90, 90, 90, 180]),
        ([300, None, 300, None], [90, 90, 90, 90]),
        ([300, 100, 100], [None, None, None]),
        ([300, 200, 300, None], [None, None, 90, 90]),
    ],
)
def test_impossible_rings_are_refused(sides: list[float | None], corners: list[float | None]) -> None:
    """Rings that cannot close, or that the figures do not fix, are refused with what would pass."""
    with pytest.raises(FigureError) as refused:
        closed_ring(sides, corners)
    assert refused.value.accepted


def test_corners_of_a_splayed_ring() -> None:
    """A regular ring gets the regular setting at each corner; two slopes share the tilt but not the gauge."""
    even = ring_corners(closed_ring([100] * 6, [120] * 6), 60)
    for corner in even:
        assert corner.before.gauge == pytest.approx(regular(6, 60).gauge)
        assert corner.before.tilt == pytest.approx(regular(6, 60).tilt)
    mixed = ring_corners(closed_ring([300, 200, 300, 200], [90] * 4), [60, 75, 60, 75])
    assert mixed[0].before.gauge == pytest.approx(13.0643, abs=5e-5)
    assert mixed[0].after.gauge == pytest.approx(29.1474, abs=5e-5)
    assert mixed[0].before.tilt == mixed[0].after.tilt
    with pytest.raises(FigureError):
        ring_corners(closed_ring([100] * 6, [120] * 6), [60, 75])
