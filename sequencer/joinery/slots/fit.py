"""How the slips of a joint are placed, and the walls they leave. Lengths in mm."""

from __future__ import annotations

from dataclasses import dataclass

from sequencer.joinery.basis.refusal import Refusal
from sequencer.operations import Slot


@dataclass(frozen=True)
class Wall:
    """The least wood a slot leaves to a surface of a part, or to a groove, rebate or housing in it, mm."""

    part: str
    surface: str
    left: float


@dataclass(frozen=True)
class Fit:
    """How a joint's slips are placed: the same in all its pairs of seats."""

    thickness: float
    width: float
    length: float
    centres: tuple[float, ...]
    height: float
    """c: from the first half's fence surface to the middle of the slots."""
    depths: tuple[float, float]
    slots: tuple[float, float]
    """Length of the slots in the first and second half."""
    embedded: tuple[float, float]
    """Depth of slot that is left in each half when all is sawn."""
    walls: tuple[Wall, ...]

    glue_room: float
    """At the bottom of each slot."""

    @property
    def count(self) -> int:
        """Slips in one corner or meeting."""
        return len(self.centres)

    @property
    def surface(self) -> float:
        """Of one side of all slips of a corner or meeting, mm²."""
        return self.width * self.count * self.length

    @property
    def held(self) -> tuple[float, float]:
        """How much of a slip each half holds: half its length, or as much as a shallow one takes before its room for
        glue.
        """
        one, other = (min(self.length / 2, depth - self.glue_room) for depth in self.embedded)
        return (one, self.length - one) if one < other else (self.length - other, other)


@dataclass(frozen=True)
class Taken:
    """Slots that joints placed before have in the parts of a joint."""

    slots: tuple[Slot, ...]
    why: Refusal
    """What is said where there is no place clear of them."""
    alike: bool
    """Whether the row must stay the same from both its ends: a part serves for its own mirror image."""
