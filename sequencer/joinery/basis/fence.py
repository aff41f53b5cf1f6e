"""What the scale of the mortiser's fence must read, which is true at 90 degrees only: the fence pivots."""

from __future__ import annotations

from sequencer.geometry.pivot import FencePivot
from sequencer.joinery.basis.floor import Floor, even


def pivot_of(floor: Floor) -> FencePivot:
    """Where the shop says that the fence turns."""
    return FencePivot(floor.limits.pivot.behind, floor.limits.pivot.ahead)


def fence_reading(floor: Floor, place: float, angle: float) -> float:
    """What the scale of the fence's height reads, mm, for slots whose middle is `place` mm from the edge; `angle` is
    between fence and base, degrees."""
    return even(pivot_of(floor).dial(even(place), even(angle)))
