"""What to dial on a fence-height scale that is true at 90 degrees only, because the fence pivots.

In section: the tool's base lies on the surface to be mortised, the line y = 0; the wood is at y > 0, the tool
at y < 0; the cutter plunges along +y at x = 0. The fence lies on a second surface of the wood, to the left.
At 90 degrees the face of the fence is the line x = -S, S being what the scale reads. The fence turns about a
pivot fixed to its carriage: `behind` mm behind the fence's face (away from the cutter) and `ahead` mm ahead
of the base (toward the work), both measured with the fence at 90 degrees; so the pivot is at (-S - behind,
ahead). Either may be negative.

At the fence angle t (the wood's inside angle between the surface under the base and the surface under the
fence) the face keeps its distance `behind` from the pivot: with n = (sin t, -cos t), square to the face and
pointing to the cutter, the face is where n . (p - pivot) = behind. On y = 0 that is x = -S - behind + (behind
- ahead cos t) / sin t. So the line where fence and base meet is at the distance

    h = S + behind - (behind - ahead cos t) / sin t

from the cutter: the place of the slot's middle on the mortised surface, measured along it from the corner.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import cos, radians, sin
from typing import Literal

import numpy as np

from sequencer.geometry.refusal import FigureError, require_between


@dataclass(frozen=True)
class Pivot:
    """Where the fence turns, mm at 90 degrees: `behind` the fence's face, `ahead` of the base (see the
    module).
    """

    behind: float
    ahead: float

    def shift(self, fence_angle: float) -> float:
        """How much farther from the corner the slot lands than the scale says, mm; 0 at 90 degrees.

        >>> round(Pivot(behind=0, ahead=10).shift(45), 4), Pivot(3, 10).shift(90)
        (10.0, 0.0)
        """
        require_between("fence angle", fence_angle, 0, 180, "degrees")
        if fence_angle == 90.0:
            return 0.0
        t = radians(fence_angle)
        return self.behind - (self.behind - self.ahead * cos(t)) / sin(t)

    def dial(self, place: float, fence_angle: float) -> float:
        """What the scale must read for the slot's middle to come `place` mm from the corner, along the
        surface.
        """
        return place - self.shift(fence_angle)

    def place(self, dialled: float, fence_angle: float) -> float:
        """Where the slot's middle comes, mm from the corner along the surface, when the scale reads
        `dialled`.
        """
        return dialled + self.shift(fence_angle)


def first_test(dial: float, fence_on: Literal["outside", "inside"], bias: float) -> float:
    """What to dial for the first test plunge: the slot `bias` mm too far toward the inside of the corner.

    With the fence on the outside face that is a little more than wanted, on the inside face a little less.
    Measure where the slot came; `corrected` then gives the setting. An error toward the inside cannot show.
    """
    require_between("bias", bias, 0, 25, "mm", low_open=False)
    return dial + bias if fence_on == "outside" else dial - bias


def corrected(dialled: float, measured: float, wanted: float) -> float:
    """What to dial after a test plunge came out at `measured` instead of `wanted`, at the same fence angle.

    One mm on the scale moves the slot one mm at every angle, so one test is enough.
    """
    return dialled + wanted - measured


def pivot_from_tests(tests: Sequence[tuple[float, float, float]]) -> Pivot:
    """The pivot's position from test plunges, each (fence angle, scale reading, place measured): least
    squares.

    Needs two different angles other than 90; raises FigureError else.

    >>> true = Pivot(4, 9)
    >>> found = pivot_from_tests([(t, 12, true.place(12, t)) for t in (45, 135)])
    >>> round(found.behind, 9), round(found.ahead, 9)
    (4.0, 9.0)
    """
    rows, sides = [], []
    for angle, dialled, measured in tests:
        require_between("fence angle", angle, 0, 180, "degrees")
        t = radians(angle)
        rows.append([1 - 1 / sin(t), cos(t) / sin(t)])
        sides.append(measured - dialled)
    matrix = np.array(rows).reshape(-1, 2)
    if len(rows) < 2 or np.linalg.matrix_rank(matrix, tol=1e-6) < 2:
        raise FigureError(
            "these test plunges do not fix the pivot",
            "plunges at two different fence angles, neither of them 90",
        )
    behind, ahead = np.linalg.lstsq(matrix, np.array(sides), rcond=None)[0]
    return Pivot(float(behind), float(ahead))
