"""At which heights across the wood the slots may lie: within the walls, and where the mortiser's fence can be set.

A height is c of the seats: from the first half's fence surface to the middle of the slots. Lengths in mm.
"""

from __future__ import annotations

from collections.abc import Sequence

from sequencer.joinery.basis.fence import fence_reading, pivot_of
from sequencer.joinery.basis.floor import Floor, even
from sequencer.joinery.basis.nearness import COSINE_HAIR, HAIR
from sequencer.joinery.basis.refusal import Refusal
from sequencer.joinery.basis.seats import Pair, Seat, dot
from sequencer.joinery.basis.tries import marks
from sequencer.model.parts import Slips

HEIGHTS = 100
"""So many heights are tried: all of them in stock of 100 mm."""


class BeyondScale(Refusal):
    """Slots that would hold where the scale of the mortiser's fence cannot be set, and nowhere else."""


class Heights:
    """The heights of slots in some pairs of seats that are placed alike, in stock of this thickness; only in the middle
    where they must be `equal`; `chosen` among the heights that the mortiser's fence lists, if it does.
    """

    def __init__(
        self, floor_: Floor, pairs: Sequence[Pair], stock: float, equal: bool, chosen: bool = True
    ) -> None:
        self.floor, self.limits, self._l = floor_, floor_.limits, floor_.length
        self.pairs, self.stock, self.equal = pairs, stock, equal
        self._setting = floor_.setting("mortiser", "fence_height")
        self._pivot = pivot_of(floor_)
        self._fenced = [seat for pair in pairs for seat in (pair.first, pair.second) if seat.fence]
        listed = floor_.values("mortiser", "fence_height") if self._fenced else ()
        self.listed = listed if chosen and not equal else ()
        """The only readings there are of the fence's scale, where a height is chosen by them; none: any."""

    def between(self, thickness: float, wishes: Slips) -> tuple[float, float]:
        """Least and greatest height at which the mouth leaves walls; Refusal where the stock is too thin, or for a
        height asked for that leaves none."""
        wall = self.limits.least_wall
        low = max(p.least for p in self.pairs) + thickness / 2 + wall
        high = min(p.most for p in self.pairs) - thickness / 2
        for pair in self.pairs:
            # the far surface leans away from the mouth: its wall is measured square to it
            for seat in (pair.first, pair.second):
                for side, left, _ in seat.walls(0.0, high, thickness, thickness, 0.0):
                    toward, run = dot(side.normal, seat.across), dot(side.normal, seat.along)
                    # (a surface that the row runs towards, such as a level edge, bounds the row, not the height)
                    if toward > 0.5 and abs(run) < COSINE_HAIR and left < wall:
                        high = min(high, high - (wall - left) / toward)
        if low > high + HAIR and not wishes.height:
            raise Refusal(
                f"stock {self._l(self.stock)} thick is too thin for a slot of {self._l(thickness)} and two walls "
                f"of {self._l(wall)} (the shop's minimum)",
                "thicker stock, or a thinner cutter",
                "slips.thickness",
                sizes=True,
            )
        if wishes.height and not low - HAIR <= wishes.height <= high + HAIR:
            raise self._at_surface(wishes.height, thickness, low, high)
        return low, high

    def to_try(self, low: float, high: float, wishes: Slips) -> list[float]:
        """Heights from least to greatest: the middle, then farther and farther toward the inside; then those of listed
        readings."""
        if wishes.height:
            found = [wishes.height]
        elif self.equal:
            found = [self._middle]
        else:
            start = min(max(self._middle, low), high)
            found = [start, *marks(start, high, self.floor.grid, HEIGHTS)]
            found += [h for h in map(self._at_reading, self.listed) if low <= h <= high]
        return [max(low, min(height, high)) for height in found]

    @property
    def _middle(self) -> float:
        """The height that is taken where it leaves the walls.

        The walls on the fence's side are the same whatever the board, those opposite least in the thinnest: in its
        middle the least of all is greatest, and any place farther in is a shift. (Boards of a ring are equally thick,
        but bevels of unlike tilt are not equally wide: the same of the narrowest, whose back is nearest.)
        """
        return min(pair.middle for pair in self.pairs)

    def _at_surface(self, height: float, thickness: float, low: float, high: float) -> Refusal:
        """The refusal of a height asked for at which slots leave no wall beside them."""
        return Refusal(
            f"slots {self._l(thickness)} thick, their middle at {self._l(height)}, leave less than "
            f"{self._l(self.limits.least_wall)} of wood beside them (the shop's minimum)",
            f"{self._l(low)} to {self._l(high)}" if low <= high else "thicker stock, or a thinner cutter",
            "slips.height",
        )

    def within_reach(self, heights: Sequence[float]) -> list[float]:
        """Those of some heights for which the scale of the fence's height can be set: of listed readings the nearest
        to the middle first, of two as near the one toward the inside."""
        setting = self._setting
        if setting is None or (setting.values and not self.listed):
            return list(heights)
        if self.listed:
            found = {
                h for h in heights if all(setting.listed(self._scale(s, h)) is not None for s in self._fenced)
            }
            return sorted(found, key=lambda h: (even(abs(h - self._middle)), -h))
        return [h for h in heights if not any(setting.outside(self._scale(s, h)) for s in self._fenced)]

    def beyond_scale(self, height: float, wishes: Slips) -> BeyondScale | None:
        """The refusal of a height at which slots hold, but that the pivot shifts off the scale of a tilted fence; None
        where it does not (what is off the scale by itself is refused as the setting is)."""
        setting = self._setting
        for seat in self._fenced if setting is not None and not setting.values else ():
            assert setting is not None
            place, reads = even(seat.from_fence(height)), self._scale(seat, height)
            if setting.outside(reads) and not setting.outside(place):
                edge = "sharp edge" if seat.angle < 90.0 else "edge"
                return BeyondScale(
                    f"the scale of the mortiser's fence height would have to read {self._l(reads)} for slots "
                    f"{self._l(place)} from the {edge}",
                    f"a fence whose scale goes to {self._l(reads)} "
                    f"(this one takes {setting.accepted(self.floor.job.unit)})",
                    "slips.height" if wishes.height else "",
                    sizes=True,
                )
        return None

    def _scale(self, seat: Seat, height: float) -> float:
        """What the scale reads for slots of a seat."""
        return fence_reading(self.floor, seat.from_fence(height), seat.angle)

    def _at_reading(self, reading: float) -> float:
        """The height at which the slots of the first seat with a fence lie when its scale reads this."""
        seat = self._fenced[0]
        return even(reading + self._pivot.shift(even(seat.angle)) - seat.from_fence(0.0))
