"""Mitre-gauge angle and blade tilt for every kind of corner.

Conventions, to be printed wherever these numbers are: *slope* of a side is measured from the horizontal (90 =
upright side, 0 = flat); *gauge* is measured from a square crosscut (0 = square; many gauge scales read 90
less it); *tilt* is measured from the vertical (0 = blade upright), the board's face flat on the table.
*Corner* is the inside angle of the corner seen in plan. All angles in degrees, all lengths in mm.

The sides of a corner lean outward towards the top; for sides that lean inward turn the work upside down, the
angles are the same. Both formulae and the vector derivation they are tested against: a side has the
directions e along its length and w up its slope and the normal n = e x w; the corner's joint plane has the
normal m; the tilt is the angle whose sine is |m . n|, the gauge the angle between w and the joint line m x n.
(Snyder and Gottesman, "Compound-Angle Joinery", note, 2014, treat the same problem.)
"""

from __future__ import annotations

from dataclasses import dataclass
from math import acos, asin, atan, atan2, copysign, cos, degrees, hypot, inf, radians, sin, tan

from sequencer.geometry.refusal import FigureError, require_between

Vector = tuple[float, float, float]


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


def slope_of(run: float, rise: float) -> float:
    """Slope of a side that goes out by `run` in a height of `rise` (any one unit), degrees from horizontal.

    >>> round(slope_of(4, 10), 4)
    68.1986
    """
    require_between("rise", rise, 0, inf, "")
    require_between("run", run, 0, inf, "", low_open=False)
    return degrees(atan2(rise, run))


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


def regular(sides: int, slope: float = 90.0) -> CompoundAngle:
    """Saw setting for a ring of equal sides, all with the same slope.

    >>> angle = regular(6, 60)
    >>> round(angle.gauge, 2), round(angle.tilt, 2)
    (16.1, 25.66)
    """
    return mitre(corner_of(sides), slope)


def frame_mitre(corner: float) -> CompoundAngle:
    """Saw setting for a flat frame's corner: the blade upright, the gauge at 90 - corner / 2.

    >>> frame_mitre(90)
    CompoundAngle(gauge=45.0, tilt=0.0)
    """
    _check_corner(corner)
    return CompoundAngle(90.0 - corner / 2, 0.0)


def crown(corner: float, spring: float) -> CompoundAngle:
    """Saw setting for a moulding cut lying flat on its back; `spring` is the angle of its back to the wall.

    >>> angle = crown(90, 38)
    >>> round(angle.gauge, 2), round(angle.tilt, 2)
    (31.62, 33.86)
    """
    require_between("spring angle", spring, 0, 90, "degrees from the wall", low_open=False)
    return mitre(corner, 90.0 - spring)


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


def butt(corner: float, slope: float) -> CompoundAngle:
    """Saw setting for the end of a board that butts against its neighbour's face (a hopper not mitred).

    The gauge is the mitre's; sin tilt = cos^2 slope - sin^2 slope cos corner (cos^2 slope at a square
    corner). The tilt is negative where the board must be longer on its inner face.

    >>> round(butt(90, 75).tilt, 2)
    3.84
    """
    gauge = mitre(corner, slope).gauge
    s = radians(slope)
    sine = cos(s) ** 2 - sin(s) ** 2 * cos(radians(corner))
    return CompoundAngle(gauge, 0.0 if abs(sine) < 1e-15 else degrees(asin(sine)))


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


def board_width(height: float, slope: float) -> float:
    """Width of a board, along its face, that stands `height` high when its edges are ripped level, mm.

    >>> round(board_width(60, 75), 4)
    62.1166
    """
    require_between("height", height, 0, inf, "mm")
    _check_slope(slope)
    return height / sin(radians(slope))


def blank_width(height: float, slope: float, thickness: float) -> float:
    """Least width of a square-edged blank from which that board, with both edges level, can be ripped, mm.

    The level edges lean, so the blank is wider than the board by thickness / tan slope.
    """
    require_between("thickness", thickness, 0, inf, "mm")
    lean = 0.0 if slope == 90.0 else thickness / tan(radians(slope))
    return board_width(height, slope) + lean


def rip_bevel(slope: float) -> float:
    """Tilt at which the edges are ripped so that they sit level: the lean of the side from upright, degrees.

    >>> rip_bevel(75)
    15.0
    """
    _check_slope(slope)
    return 90.0 - slope


def level_thickness(thickness: float, slope: float) -> float:
    """Thickness of a leaning side measured level, as a level edge shows it, mm."""
    require_between("thickness", thickness, 0, inf, "mm")
    _check_slope(slope)
    return thickness / sin(radians(slope))


def from_vectors(
    normal: Vector,
    up: Vector,
    joint: Vector,
) -> CompoundAngle:
    """Saw setting for any plane through a board's end, from directions in one frame.

    `normal` is the outward normal of the board's outer face, `up` the direction across its width towards the
    upper edge, `joint` the normal of the joint plane, pointing out of the board's end. Need not be unit.

    >>> angle = from_vectors((0, -1, 0), (0, 0, 1), (1, 1, 0))
    >>> round(angle.gauge, 9), round(angle.tilt, 9)
    (0.0, 45.0)
    """
    n, w, m = (_unit(v) for v in (normal, up, joint))
    e = _cross(w, n)
    if _dot(e, m) < 0:
        e = (-e[0], -e[1], -e[2])
    along, across, through = _dot(m, e), _dot(m, w), _dot(m, n)
    if along < 1e-12:
        raise FigureError(
            "the joint plane runs along the board and makes no end", "a plane that crosses the board"
        )
    # On the plane, going up by 1 moves the end by -across / along; going out through the thickness by
    # -through / along.
    gauge = degrees(atan(-across / along))
    tilt = -copysign(degrees(asin(min(1.0, abs(through)))), through)
    return CompoundAngle(gauge + 0.0, tilt + 0.0)


def _dot(a: Vector, b: Vector) -> float:
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def _cross(a: Vector, b: Vector) -> Vector:
    return (a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0])


def _unit(v: Vector) -> Vector:
    size = hypot(*v)
    if size == 0 or not size < inf:
        raise FigureError("a direction of no length", "a direction with at least one figure other than 0")
    return (v[0] / size, v[1] / size, v[2] / size)
