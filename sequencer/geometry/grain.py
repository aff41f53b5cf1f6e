"""What glue meets in a mortise: the angle between every wall and the fibre, the areas, and a relative figure.

A wall is long grain where the fibres run along it (0 degrees) and end grain where they meet it head-on (90
degrees). Two angles decide what a glued wall is worth beside a long-grain wall with parallel fibres, which
counts 1:

* s, the slope of the mortised board's fibre to the wall. The side of the fibres, which glue holds by, is
  cos^2 s of the wall; what holds falls from 1 to CROSSED by Hankinson's formula. Together cos^2 s H(s), that
  is 1 / (1 + tan^2 s / CROSSED): 1 for long grain, 1/4 at 45 degrees, 0 for end grain.
* c, the angle at which the fibres of slip and board cross within the wall: H(c), 1 for parallel fibres,
  CROSSED for fibres at right angles.

H(x) = CROSSED / (sin^2 x + CROSSED cos^2 x), Hankinson's formula with exponent 2 (FPL Report 1203). CROSSED =
1/3, the cross-grain shear of glued members beside the parallel (FPL Report 1522, 1945; Wood Handbook,
FPL-GTR-190, chapter 10). End grain counts nothing and is reported apart. Joining the two factors by a product
is this program's convention. All of it is a *relative figure*, to compare ways of making one joint: never a
load, never a design value.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from math import asin, cos, degrees, pi, radians, sin
from typing import Literal

import numpy as np

from sequencer.geometry.convex import Vec
from sequencer.geometry.refusal import FigureError, require_between
from sequencer.geometry.slots import SlotSolid

CROSSED = 1.0 / 3.0
LONG_GRAIN = 15.0
"""Degrees: up to this slope a wall is called long grain, and from 90 less it end grain; our own line, no
source.
"""

Grain = Literal["long grain", "oblique", "end grain"]


def hankinson(degrees_off: float, along: float, across: float) -> float:
    """Strength at an angle to the grain, in the unit of `along` and `across`: P Q / (P sin2 a + Q cos2 a).

    >>> round(hankinson(45, 49.9, 5.5), 3)
    9.908
    """
    require_between("angle to the grain", degrees_off, 0, 90, low_open=False, high_open=False)
    a = radians(degrees_off)
    return float(along * across / (along * sin(a) ** 2 + across * cos(a) ** 2))


def weight(slope: float, crossing: float, crossed: float = CROSSED) -> float:
    """What a glued wall counts beside a long-grain wall with parallel fibres, 0 to 1 (module text); degrees.

    >>> [round(weight(*angles), 4) for angles in ((0, 0), (0, 90), (45, 0), (0, 45), (90, 0))]
    [1.0, 0.3333, 0.25, 0.5, 0.0]
    """
    if crossed <= 0:
        return float(slope == 0 and crossing == 0)
    side = cos(radians(slope)) ** 2 if slope < 90 else 0.0
    return side * hankinson(slope, 1.0, crossed) * hankinson(crossing, 1.0, crossed)


def grain_of(slope: float) -> Grain:
    """The trade's word for a wall at that slope to the fibre, degrees."""
    return "long grain" if slope <= LONG_GRAIN else "end grain" if slope >= 90 - LONG_GRAIN else "oblique"


@dataclass(frozen=True)
class GluedWall:
    """One wall of a mortise: its area (mm2), the slope of the fibre to it and the crossing of the fibres
    (degrees).

    `counted`: whether the glue on it is counted; `crossed`: what fibres at right angles count.
    """

    name: Literal["cheek", "end", "bottom"]
    area: float
    slope: float
    crossing: float
    counted: bool
    crossed: float = CROSSED

    @property
    def grain(self) -> Grain:
        """Long grain, oblique or end grain."""
        return grain_of(self.slope)

    @property
    def weight(self) -> float:
        """What its glue counts beside long grain with parallel fibres, 0 to 1."""
        return weight(self.slope, self.crossing, self.crossed)


@dataclass(frozen=True)
class MortiseGlue:
    """The glue surface of one mortise (or several alike): all its walls."""

    walls: tuple[GluedWall, ...]

    def area(self, grain: Grain) -> float:
        """Counted area of one kind of grain, mm2."""
        return sum(wall.area for wall in self.walls if wall.counted and wall.grain == grain)

    @property
    def relative(self) -> float:
        """Relative figure: counted areas, each times its weight, mm2 of long grain."""
        return sum(wall.area * wall.weight for wall in self.walls if wall.counted)

    @property
    def cheek_slope(self) -> float:
        """The fibre's slope to the cheeks, degrees."""
        return next(wall.slope for wall in self.walls if wall.name == "cheek")

    def times(self, count: int) -> MortiseGlue:
        """The glue surface of `count` such mortises side by side."""
        many = (replace(wall, area=wall.area * count) for wall in self.walls)
        return MortiseGlue(tuple(many))


def _angles(normal: Vec, fibre: Vec, slip_fibre: Vec) -> tuple[float, float]:
    slope = degrees(asin(min(1.0, abs(float(normal @ fibre)))))
    in_wall = fibre - (fibre @ normal) * normal
    slip_in_wall = slip_fibre - (slip_fibre @ normal) * normal
    sizes = float(np.linalg.norm(in_wall) * np.linalg.norm(slip_in_wall))
    if sizes < 1e-9:
        return slope, 0.0
    cross = float(np.linalg.norm(np.cross(in_wall, slip_in_wall))) / sizes
    return slope, degrees(asin(min(1.0, cross)))


def _unit(direction: Iterable[float]) -> Vec:
    vector = np.array(list(direction), dtype=float)
    size = float(np.linalg.norm(vector))
    if size < 1e-12:
        raise FigureError("a fibre without direction", "a direction of some length")
    return vector / size


def mortise_glue(
    slot: SlotSolid,
    fibre: Iterable[float] = (1.0, 0.0, 0.0),
    *,
    count_ends: bool = False,
    crossed: float = CROSSED,
) -> MortiseGlue:
    """The glue surface of a slot for a slip whose fibre runs along the plunge.

    `fibre` is the board's, by default along its length; `slot.depth` is as deep as it is glued. The flat cheeks count,
    the rounded ends only with `count_ends`, the bottom never: the slot is plunged deeper than the slip.
    """
    f, straight = _unit(fibre), slot.length - slot.width
    cheek, end = straight * slot.depth, pi / 2 * slot.width * slot.depth
    bottom = straight * slot.width + pi / 4 * slot.width**2
    walls = [GluedWall("cheek", cheek, *_angles(slot.across, f, slot.axis), True, crossed)] * 2
    walls += [GluedWall("end", end, *_angles(slot.along, f, slot.axis), count_ends, crossed)] * 2
    walls.append(GluedWall("bottom", bottom, *_angles(slot.axis, f, slot.axis), False, crossed))
    return MortiseGlue(tuple(walls))


def integral_glue(
    slot: SlotSolid, fibre: Iterable[float] = (1.0, 0.0, 0.0), *, crossed: float = CROSSED
) -> MortiseGlue:
    """The glue surface of an integral tenon of the same outside size in a mortise with four flat walls.

    The tenon's fibre runs along it, and it is one with its own board, so only this board's mortise is glued.
    """
    f = _unit(fibre)
    cheek, end = slot.length * slot.depth, slot.width * slot.depth
    walls = [GluedWall("cheek", cheek, *_angles(slot.across, f, slot.axis), True, crossed)] * 2
    walls += [GluedWall("end", end, *_angles(slot.along, f, slot.axis), True, crossed)] * 2
    bottom_angles = _angles(slot.axis, f, slot.axis)
    walls.append(GluedWall("bottom", slot.length * slot.width, *bottom_angles, False, crossed))
    return MortiseGlue(tuple(walls))


@dataclass(frozen=True)
class JointGlue:
    """The glue of a joint: both halves, and an integral tenon of the same outside size to compare with."""

    one: MortiseGlue
    other: MortiseGlue
    integral: MortiseGlue

    @property
    def relative(self) -> float:
        """Relative figure of the weaker half, mm2 of long grain."""
        return min(self.one.relative, self.other.relative)

    @property
    def against_integral(self) -> float | None:
        """The relative figure beside the integral tenon's, 1 = as much; None where that would not hold
        either.
        """
        whole = self.integral.relative
        return self.relative / whole if whole > 1e-9 else None

    @property
    def verdict(self) -> str:
        """What the maker should know of the joint, one plain sentence."""
        weaker = max((self.one, self.other), key=lambda half: half.cheek_slope)
        slope = weaker.cheek_slope
        if grain_of(slope) == "end grain":
            return (
                "both cheeks meet end grain: turn the slip, or use two narrower ones side by side, "
                "or let a rebate carry the load"
            )
        if grain_of(slope) == "oblique":
            return (
                f"both cheeks meet the fibre at {round(slope)} degrees: "
                "alignment more than strength; more slips help"
            )
        crossing = max(w.crossing for half in (self.one, self.other) for w in half.walls if w.name == "cheek")
        if crossing > LONG_GRAIN:
            return f"both cheeks are long grain, the fibres crossing at {round(crossing)} degrees: good"
        return "both cheeks are long grain with the fibres parallel: as good as glue gets"


def joint_glue(
    one: SlotSolid,
    other: SlotSolid,
    *,
    count: int = 1,
    count_ends: bool = False,
    crossed: float = CROSSED,
) -> JointGlue:
    """The glue of a joint of `count` slips alike, from one mortise in each board, each in its own board's
    frame.

    The integral tenon is set into the board whose fibre runs less along the plunge, as a tenon on the other
    would be.
    """
    fibre = np.array([1.0, 0.0, 0.0])
    halves = [
        mortise_glue(slot, fibre, count_ends=count_ends, crossed=crossed).times(count)
        for slot in (one, other)
    ]
    mortised = min((one, other), key=lambda slot: abs(float(slot.axis @ fibre)))
    return JointGlue(halves[0], halves[1], integral_glue(mortised, fibre, crossed=crossed).times(count))


def ranked(ways: Mapping[str, JointGlue]) -> list[str]:
    """The ways of making a joint, the best relative figure first, equal ones as given."""
    return sorted(ways, key=lambda way: -ways[way].relative)
