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

from dataclasses import dataclass
from math import cos, radians, sin

from sequencer.geometry.refusal import require_between


@dataclass(frozen=True)
class FencePivot:
    """Where the fence turns, mm at 90 degrees: `behind` the fence's face, `ahead` of the base (see the
    module).
    """

    behind: float
    ahead: float

    def shift(self, fence_angle: float) -> float:
        """How much farther from the corner the slot lands than the scale says, mm; 0 at 90 degrees.

        >>> round(FencePivot(behind=0, ahead=10).shift(45), 4), FencePivot(3, 10).shift(90)
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
