"""Distances of slots against an independent solid modeller (manifold3d)."""

from __future__ import annotations

from math import inf, sqrt

import numpy as np
import pytest
from manifold3d import CrossSection, Manifold
from scipy.spatial.transform import Rotation

from sequencer.geometry import slots
from sequencer.geometry.convex import Plane
from sequencer.geometry.refusal import FigureError
from sequencer.geometry.slots import SlotSolid
from sequencer.operations import Trench


def solid(slot: SlotSolid) -> Manifold:
    """The slot in the solid modeller, its rounds as polygons of 256 corners."""
    straight, r = (slot.length - slot.width) / 2, slot.width / 2
    circle = CrossSection.circle(r, 256)
    stadium = CrossSection.batch_hull([circle.translate((straight, 0)), circle.translate((-straight, 0))])
    frame = np.column_stack([slot.along, np.cross(slot.axis, slot.along), slot.axis, slot.mouth])
    return Manifold.extrude(stadium, slot.depth).transform(frame)


def random_slot(rng: np.random.Generator) -> SlotSolid:
    """A slot anywhere, any way round."""
    turn = Rotation.random(random_state=int(rng.integers(1 << 30)))
    width = rng.uniform(3, 12)
    return SlotSolid(
        rng.uniform(-30, 30, 3),
        turn.apply([0, 0, 1]),
        turn.apply([1, 0, 0]),
        width + rng.uniform(0, 30),
        width,
        rng.uniform(5, 30),
    )


@pytest.mark.parametrize("seed", range(12))
def test_distance_of_slots_agrees_with_the_solid_modeller(seed: int) -> None:
    """The least distance of two slots is manifold3d's min_gap, to the coarseness of its faceted rounds."""
    rng = np.random.default_rng(seed)
    one, other = random_slot(rng), random_slot(rng)
    expect = solid(one).min_gap(solid(other), 500)
    assert slots.distance(one, other) == pytest.approx(expect, abs=2e-3)
    assert slots.distance(one, other) == pytest.approx(slots.distance(other, one), abs=1e-6)


@pytest.mark.parametrize("seed", range(12))
def test_distance_to_a_groove_agrees_with_the_solid_modeller(seed: int) -> None:
    """The same for a slot and a box with sides along the board's axes; some run into each other."""
    rng = np.random.default_rng(100 + seed)
    slot, low, size = random_slot(rng), rng.uniform(-40, 20, 3), rng.uniform(4, 60, 3)
    groove = Trench(part="p", surface="groove g", low=tuple(low), high=tuple(low + size))
    expect = solid(slot).min_gap(Manifold.cube(size).translate(low), 500)
    assert slots.distance_to_box(slot, groove) == pytest.approx(expect, abs=2e-3)


@pytest.mark.parametrize("seed", range(12))
def test_distance_of_what_planes_leave_agrees_with_the_solid_modeller(seed: int) -> None:
    """The same with one or two planes through both; the outline is coarser then."""
    rng = np.random.default_rng(200 + seed)
    slot, low, size = random_slot(rng), rng.uniform(-40, 20, 3), rng.uniform(4, 60, 3)
    groove = Trench(part="p", surface="groove g", low=tuple(low), high=tuple(low + size))
    around = (slot.mouth + low + size / 2) / 2
    planes = [Plane.through("bevel", around, rng.normal(size=3)) for _ in range(1 + seed % 2)]
    bodies = [solid(slot), Manifold.cube(size).translate(low)]
    for plane in planes:
        bodies = [body.trim_by_plane(-plane.normal, -plane.offset) for body in bodies]
    found = slots.distance_to_box(slot, groove, planes)
    if any(body.is_empty() for body in bodies):
        assert found == inf
    else:
        assert found == pytest.approx(bodies[0].min_gap(bodies[1], 500), abs=0.05)


def test_distance_of_round_ends_is_exact() -> None:
    """Two slots side by side and end to end stay apart by straightforward sums, to 1e-6 mm."""
    down, along = np.array([0.0, 0, -1]), np.array([1.0, 0, 0])
    one = SlotSolid(np.zeros(3), down, along, 30, 6, 10)
    beside = SlotSolid(np.array([24 + 9.0, 16, 0]), down, along, 30, 6, 10)  # end centres 9 and 16 apart
    assert slots.distance(one, beside) == pytest.approx(sqrt(9**2 + 16**2) - 6, abs=1e-6)
    assert slots.distance(one, one) == 0


@pytest.mark.parametrize(("length", "width"), [(5, 6), (0, 6), (30, 0), (30, float("inf"))])
def test_impossible_slots_are_refused(length: float, width: float) -> None:
    """A slot shorter than its cutter, or without size, is refused."""
    with pytest.raises(FigureError):
        SlotSolid(np.zeros(3), np.array([0.0, 0, -1]), np.array([1.0, 0, 0]), length, width, 10)


@pytest.mark.parametrize("seed", range(6))
def test_from_where_to_where_a_moved_slot_is_too_near_agrees_with_the_solid_modeller(seed: int) -> None:
    """At the ends it is as near as told, to the coarseness of faceted rounds; just inside nearer, outside further."""
    rng = np.random.default_rng(seed)
    one, other, least = random_slot(rng), random_slot(rng), 3.0

    def gap(by: float) -> float:
        moved = SlotSolid(one.mouth + by * one.along, one.axis, one.along, one.length, one.width, one.depth)
        return float(solid(moved).min_gap(solid(other), 500))

    found = slots.too_near(one, other, least)
    if found is None:
        assert min(gap(by) for by in (-40.0, -20.0, -10.0, 0.0, 10.0, 20.0, 40.0)) >= least - 0.05
        return
    low, high = found
    assert [gap(low), gap(high)] == pytest.approx([least, least], abs=0.05)
    assert gap(low - 1) > least
    assert gap(high + 1) > least
    assert gap((low + high) / 2) < least
