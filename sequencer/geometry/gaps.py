"""What a bevel that is a little off does to the joint, and how much a thinner slip can take up.

Errors and angles in degrees, lengths in mm. `error` is the bevel's tilt as cut less the tilt wanted: a tilt
too large leaves the gap at the heel, inside, where it can be hidden; one too small opens the outside.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import asin, atan2, degrees, hypot, inf, radians, sin, tan

from sequencer.geometry.refusal import FigureError, number, require_between


def _check(face_length: float, error: float, sides: int) -> None:
    require_between("length of the mitre face", face_length, 0, inf, "mm")
    require_between("bevel error", error, -45, 45, "degrees")
    if sides < 2 or sides * abs(error) >= 90:
        raise FigureError(
            f"a bevel error of {number(error)} degrees on {sides} sides cannot be closed at all",
            f"at least 2 joints and an error below {number(90 / max(sides, 2))} degrees",
        )


def joint_gap(face_length: float, error: float) -> float:
    """Gap of one corner held at its right angle, both bevels off by `error`, mm: 2 F tan e at the far side.

    >>> round(joint_gap(25.4558, 0.5), 4)
    0.4443
    """
    _check(face_length, error, 2)
    return 2 * face_length * tan(radians(abs(error)))


def ring_gap(face_length: float, error: float, sides: int) -> float:
    """Gap of the last corner when all others of a ring of `sides` boards are pulled tight, mm: 2 F sin(n e).

    >>> round(ring_gap(25.4558, 0.1, 4), 4)
    0.3554
    """
    _check(face_length, error, sides)
    return 2 * face_length * sin(radians(sides * abs(error)))


def play(slot_width: float, slip_thickness: float, depth: float) -> float:
    """Degrees a slip can lean, to either side, in one mortise that holds `depth` of it.

    The slip's section, thickness by depth, just fits a slot of the given width when it leans by the angle x
    with thickness cos x + depth sin x = width.

    >>> round(play(6, 5, 12), 2)
    4.87
    """
    require_between("slip thickness", slip_thickness, 0, slot_width, "mm", high_open=False)
    require_between("depth in the mortise", depth, 0, inf, "mm")
    size = hypot(slip_thickness, depth)
    if size <= slot_width:
        return 90.0
    return max(0.0, degrees(asin(slot_width / size) - atan2(slip_thickness, depth)))


@dataclass(frozen=True)
class ThinnerSlip:
    """What using thinner slips with thickened epoxy would give at one joint.

    `play` is how far the joint can turn in all, degrees, both mortises together; `needed` how far it must,
    twice the bevel error; `adhesive` the room on each cheek that the adhesive has to fill, mm.
    """

    slip_thickness: float
    play: float
    needed: float
    adhesive: float

    @property
    def enough(self) -> bool:
        """Whether the bevels can close."""
        return self.play >= self.needed


def thinner_slip(
    slot_width: float, slip_thickness: float, depths: tuple[float, float], error: float
) -> ThinnerSlip:
    """The remedy where the slip forces a joint open: slips of `slip_thickness` in slots `slot_width` wide.

    `depths`: how much of the slip each of the two mortises holds, mm; `error`: of each bevel, degrees.
    """
    turn = sum(play(slot_width, slip_thickness, depth) for depth in depths)
    return ThinnerSlip(slip_thickness, turn, 2 * abs(error), (slot_width - slip_thickness) / 2)


def next_slip_down(slot_width: float, thicknesses: Sequence[float]) -> float:
    """The thickest slip the shop has that is thinner than the slot. Raises FigureError when there is none."""
    thinner = [t for t in thicknesses if 0 < t < slot_width - 1e-9]
    if not thinner:
        raise FigureError(
            f"no slip is thinner than {number(slot_width)} mm", f"slips of less than {number(slot_width)} mm"
        )
    return max(thinner)
