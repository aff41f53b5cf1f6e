"""Mitre-gauge angle and blade tilt for every kind of corner.

Conventions, to be printed wherever these numbers are: *slope* of a side is measured from the horizontal (90 =
upright side, 0 = flat); *gauge* is measured from a square crosscut (0 = square; many gauge scales read 90
less it); *tilt* is measured from the vertical (0 = blade upright), the board's face flat on the table.
*Corner* is the inside angle of the corner seen in plan. All angles in degrees.

The sides of a corner lean outward towards the top; for sides that lean inward turn the work upside down, the
angles are the same. Both formulae and the vector derivation they are tested against: a side has the
directions e along its length and w up its slope and the normal n = e x w; the corner's joint plane has the
normal m; the tilt is the angle whose sine is |m . n|, the gauge the angle between w and the joint line m x n.
(Snyder and Gottesman, "Compound-Angle Joinery", note, 2014, treat the same problem.)
"""

from __future__ import annotations

from dataclasses import dataclass
from math import acos, asin, atan, cos, degrees, radians, sin, tan

from sequencer.geometry.refusal import FigureError, require_between


@dataclass(frozen=True)
class CompoundAngle:
    """How a saw is set for one end of a board, degrees.

    `gauge` is from square, positive when the board is longer along its upper edge; `tilt` is from vertical,
    positive when the board is longer on its outer face.
    """

    gauge: float
    tilt: float


def _check_slope(slope: float, what: str = "slope") -> None:
    require_between(what, slope, 0, 90, "degrees from horizontal", high_open=False)


def _check_corner(corner: float) -> None:
    require_between("corner", corner, 0, 180, "degrees inside in plan")


def corner_of(sides: int) -> float:
    """Inside angle of a regular polygon's corner, degrees.

    >>> corner_of(6)
    120.0
    """
    if sides < 3 or sides != int(sides):
        raise FigureError(f"{sides} sides do not enclose anything", "a whole number of sides, 3 or more")
    return 180.0 - 360.0 / sides


def mitre(corner: float, slope: float = 90.0) -> CompoundAngle:
    """Saw setting for a mitred corner of two sides with the same slope.

    With alpha = 90 - corner / 2: tan gauge = cos slope tan alpha and sin tilt = sin slope sin alpha.

    >>> mitre(90)
    CompoundAngle(gauge=0.0, tilt=45.0)
    """
    _check_corner(corner)
    _check_slope(slope)
    alpha, s = radians(90.0 - corner / 2), radians(slope)
    # cos 90 degrees is not quite nought in floating point, and a square gauge must read exactly 0.
    gauge = 0.0 if slope == 90.0 else degrees(atan(cos(s) * tan(alpha)))
    tilt = 90.0 - corner / 2 if slope == 90.0 else degrees(asin(sin(s) * sin(alpha)))
    return CompoundAngle(gauge, tilt)


def frame_mitre(corner: float) -> CompoundAngle:
    """Saw setting for a flat frame's corner: the blade upright, the gauge at 90 - corner / 2.

    >>> frame_mitre(90)
    CompoundAngle(gauge=45.0, tilt=0.0)
    """
    _check_corner(corner)
    return CompoundAngle(90.0 - corner / 2, 0.0)


def unequal(corner: float, slope: float, other_slope: float) -> tuple[CompoundAngle, CompoundAngle]:
    """Saw settings for a corner of two boards of the same thickness with different slopes, in the order
    given.

    The joint plane bisects the angle between the boards, so both have the same tilt but each its own gauge; a
    gauge is negative where the board gets shorter upwards. (Old graphical method: Building Trades Pocketbook,
    hopper bevels.)

    >>> one, other = unequal(90, 60, 75)
    >>> [round(x, 4) for x in (one.gauge, other.gauge, one.tilt)]
    [13.0643, 29.1474, 41.2823]
    """
    _check_corner(corner)
    _check_slope(slope)
    _check_slope(other_slope, "other slope")
    turn = radians(180.0 - corner)
    s, r = radians(slope), radians(other_slope)
    tilt = (180.0 - dihedral(corner, slope, other_slope)) / 2

    def gauge(own: float, other: float) -> float:
        # One mm up, the outer faces move outward in plan by cot own and cot other; the point where their plan
        # lines meet then moves along the own board by (cot other - cot own cos turn) / sin turn. Per mm of
        # own slope:
        out = (cos(other) / sin(other) - cos(own) / sin(own) * cos(turn)) / sin(turn) * sin(own)
        return degrees(atan(out)) if abs(out) > 1e-15 else 0.0

    return CompoundAngle(gauge(s, r), tilt), CompoundAngle(gauge(r, s), tilt)


def dihedral(corner: float, slope: float, other_slope: float | None = None) -> float:
    """Inside angle between the faces of two boards at a corner, measured square to the joint line, degrees.

    For a mitre it is 180 - 2 tilt. cos dihedral = sin s sin r cos corner - cos s cos r.

    >>> round(dihedral(90, 60, 75), 4)
    97.4355
    """
    _check_corner(corner)
    _check_slope(slope)
    s = radians(slope)
    if other_slope is None:
        r = s
    else:
        _check_slope(other_slope, "other slope")
        r = radians(other_slope)
    return degrees(acos(max(-1.0, min(1.0, sin(s) * sin(r) * cos(radians(corner)) - cos(s) * cos(r)))))


def rip_bevel(slope: float) -> float:
    """Tilt at which the edges are ripped so that they sit level: the lean of the side from upright, degrees.

    >>> rip_bevel(75)
    15.0
    """
    _check_slope(slope)
    return 90.0 - slope
