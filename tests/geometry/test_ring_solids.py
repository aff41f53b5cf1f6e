"""Rings cut with gauge and tilt alone, assembled in an independent solid modeller (manifold3d)."""

from __future__ import annotations

from math import pi, radians, sin, tan

import numpy as np
import pytest
from manifold3d import Manifold, OpType
from scipy.spatial.transform import Rotation

from sequencer.geometry.angles import CompoundAngle, corner_of, mitre, rip_bevel

CASES = [(3, 80), (4, 45), (4, 75), (5, 70), (6, 60), (8, 80), (12, 85), (4, 90)]
RADIUS, HEIGHT, THICK = 100.0, 60.0, 12.0


def frustum(sides: int, apothem: float, slope: float) -> float:
    """Volume inside a frustum's faces, h / 3 (A0 + A1 + sqrt(A0 A1)). Source: any geometry text."""
    lean = 0.0 if slope == 90 else HEIGHT / tan(radians(slope))
    a0, a1 = (sides * tan(pi / sides) * r**2 for r in (apothem, apothem + lean))
    return HEIGHT / 3 * (a0 + a1 + (a0 * a1) ** 0.5)


def shell(sides: int, slope: float) -> float:
    """Volume of the ring of boards, outer frustum less inner one."""
    return frustum(sides, RADIUS + THICK / sin(radians(slope)), slope) - frustum(sides, RADIUS, slope)


def board(sides: int, slope: float, blank: float, angle: CompoundAngle) -> Manifold:
    """One side, flat: x along, y up the slope, z out; ripped level and cut at both ends by gauge and tilt
    alone.
    """
    width = HEIGHT / sin(radians(slope))
    solid = Manifold.cube((blank, 4 * width, THICK)).translate((-blank / 2, -2 * width, 0))
    lean = Rotation.from_euler("x", -rip_bevel(slope), degrees=True)
    up = lean.apply([0, 1, 0])
    solid = solid.trim_by_plane(tuple(up), 0.0).trim_by_plane(tuple(-up), -HEIGHT)
    swing = Rotation.from_euler("z", -angle.gauge, degrees=True) * Rotation.from_euler(
        "y", angle.tilt, degrees=True
    )
    normal = swing.apply([1, 0, 0])
    corner = np.array([RADIUS * tan(pi / sides), 0, 0])  # where the inner faces meet at the base
    right = float(normal @ corner)
    solid = solid.trim_by_plane(tuple(-normal), -right)
    return solid.trim_by_plane((normal[0], -normal[1], -normal[2]), -right)


def ring(sides: int, slope: float, blank: float, angle: CompoundAngle | None = None) -> list[Manifold]:
    """All sides in their places: leaned, moved out, turned."""
    flat = board(sides, slope, blank, angle or mitre(corner_of(sides), slope))
    stood = flat.rotate((90 + rip_bevel(slope), 0, 0)).translate((0, -RADIUS, 0))
    return [stood.rotate((0, 0, 360 * k / sides)) for k in range(sides)]


@pytest.mark.parametrize(("sides", "slope"), CASES)
def test_ring_closes(sides: int, slope: float) -> None:
    """The boards neither overlap nor leave a gap: sum = union = the analytic volume (solids: manifold3d)."""
    parts = ring(sides, slope, 1200)
    total = sum(part.volume() for part in parts)
    union = Manifold.batch_boolean(parts, OpType.Add)
    overlap = (parts[0] ^ parts[1]).volume()
    assert overlap == pytest.approx(0, abs=1e-4)
    assert union.volume() == pytest.approx(total, rel=1e-6)
    assert total == pytest.approx(shell(sides, slope), rel=1e-6)


@pytest.mark.parametrize(
    ("sides", "slope", "volume"), [(4, 75, 681295.341), (6, 60, 715672.577), (8, 80, 539686.787)]
)
def test_ring_volume_worked_apart(sides: int, slope: float, volume: float) -> None:
    """The ring holds the volume computed apart from this program."""
    assert sum(part.volume() for part in ring(sides, slope, 1200)) == pytest.approx(volume, rel=1e-6)


def test_short_blank_passes_overlap_but_not_volume() -> None:
    """A blank too short shows only in the analytic volume: overlap and union alone would let it pass."""
    parts = ring(4, 75, 200)
    total = sum(part.volume() for part in parts)
    assert (parts[0] ^ parts[1]).volume() == pytest.approx(0, abs=1e-4)
    assert Manifold.batch_boolean(parts, OpType.Add).volume() == pytest.approx(total, rel=1e-6)
    assert total < shell(4, 75) * 0.99


def test_swapped_gauge_and_tilt_do_not_close() -> None:
    """With gauge and tilt exchanged the ring's volume is wrong by more than a percent."""
    angle = mitre(120, 60)
    wrong = ring(6, 60, 1200, CompoundAngle(angle.tilt, angle.gauge))
    assert abs(sum(part.volume() for part in wrong) / shell(6, 60) - 1) > 0.01
