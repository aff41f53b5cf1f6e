"""Convex figures in a plane against shapely's."""

from math import inf

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import convex_hull
from shapely.geometry import MultiPoint, Polygon, box

from sequencer.geometry.flat import apart, around, left

dots = st.lists(st.tuples(st.integers(-9, 9), st.integers(-9, 9)), min_size=1, max_size=8)


@given(dots, dots)
def test_figures_are_as_far_apart_as_those_around_the_same_points(one, other):
    """Points and lines among them."""
    expected = convex_hull(MultiPoint(one)).distance(convex_hull(MultiPoint(other)))
    assert apart(around(one), around(other)) == pytest.approx(expected, abs=1e-9)


@given(dots, st.integers(-3, 3), st.integers(-3, 3), st.integers(-9, 9))
def test_half_planes_leave_as_much(one, a, b, c):
    """The half-plane is a quarter turn of a great square; what is left has its area, and lies as far from a point."""
    hull, far = convex_hull(MultiPoint(one)), (20.0, 30.0)
    kept = left(around(one), [(a, b, c)])
    if (a, b) == (0, 0):
        assert (len(kept) > 0) == (c >= 0)
        return
    size = a * a + b * b
    foot, reach = (a * c / size, b * c / size), 1000.0
    corners = [(0, -reach), (0, reach), (-reach, reach), (-reach, -reach)]
    half = Polygon([(foot[0] + u * a - v * b, foot[1] + u * b + v * a) for u, v in corners])
    met = hull.intersection(half)
    if met.is_empty:
        assert apart(kept, [far]) == inf or hull.distance(half) < 1e-9
        return
    assert apart(kept, [far]) == pytest.approx(met.distance(MultiPoint([far])), abs=1e-6)
    assert apart(kept, list(box(-40, -40, -39, -39).exterior.coords)) == pytest.approx(
        met.distance(box(-40, -40, -39, -39)), abs=1e-6
    )
