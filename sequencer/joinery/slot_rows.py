"""Where along a joint its slots go: how many of which width, how far apart, out of the way of what crosses them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from functools import cache
from itertools import pairwise, product
from math import ceil, inf

from sequencer.geometry.slots import SlotSolid, too_near
from sequencer.joinery.floor import Floor, even
from sequencer.joinery.refusal import Refusal
from sequencer.joinery.seats import Pair, Seat
from sequencer.joinery.tries import marks
from sequencer.model.parts import MOST_SLIPS, Slips
from sequencer.operations import Slot, Trench

HAIR = 1e-6
NEAR = 1e-3
"""mm: as much less than the least wall passes for it."""
PLACES = 10_000
"""So many places along a row are tried for a slot: all of them in joints of 5 m."""
Barred = tuple[float, float]
"""From where to where along a row, ends left out, no slot may have its centre."""


class SlotRow:
    """The row of slots of pairs placed alike, at one height: it runs as far as the wood of all their seats. Lengths in
    mm, centres from where s is 0.
    """

    def __init__(self, floor_: Floor, pairs: Sequence[Pair], height: float) -> None:
        self.limits, self.grid, self._l = floor_.limits, floor_.grid, floor_.length
        self.pairs, self.height = pairs, height
        spans = [seat.span(height) for pair in pairs for seat in (pair.first, pair.second)]
        self.low = max(low for low, _ in spans)
        self.high = max(self.low, min(high for _, high in spans))

    def laid_out(self, widths: Sequence[float], wishes: Slips) -> tuple[float, tuple[float, ...]]:
        """The slips' width and the centres of the slots: as asked, else as many as the shop's habit says of the widest
        that go, spread evenly. Raises Refusal where none go.
        """
        room, ends, gap = self.high - self.low, self.limits.end_distance, self.limits.spacing
        slack = 0.0 if wishes.slack == "none" else self.limits.slack
        if wishes.at:
            slots = [width + slack for width in widths]
            return even(self._longest(wishes.at, wishes.count, slots) - slack), wishes.at
        count = wishes.count or self._habit(room, min(widths, default=inf) + slack)
        while count >= 1:
            most = (room - 2 * ends - (count - 1) * gap) / count - slack
            fitting = [w for w in widths if w <= most + HAIR]
            if fitting:
                return fitting[0], self._spread(count, fitting[0] + slack)
            if wishes.count:
                break
            count -= 1
        least = min(widths, default=self.limits.slip_widths[0])
        number = wishes.count or 1
        needs = number * (least + slack) + (number - 1) * gap + 2 * ends
        slips = "one slip" if number == 1 else f"{number} slips"
        raise Refusal(
            f"a joint of {self._l(room)} is too short for {slips} {self._l(least)} wide with "
            f"{self._l(ends)} at each end",
            f"a joint of {self._l(needs)} or more, or narrower slips",
            "slips.width" if wishes.width else "slips.count",
        )

    def _habit(self, room: float, slot: float) -> int:
        """How many slots the shop's habit asks for: one for so much of the joint, but no more than go in."""
        ends, gap = self.limits.end_distance, self.limits.spacing
        most = min(MOST_SLIPS, max(1.0, (room - 2 * ends + gap) / (slot + gap)))
        return max(1, ceil(min(room / self.limits.slip_every, most) - HAIR))

    def _longest(self, at: Sequence[float], count: int | None, slots: Sequence[float]) -> float:
        """The longest of some slots that goes at the centres asked for, with the least wall between them."""
        asked, wall, low, high = sorted(at), self.limits.least_wall, self.low, self.high
        inside = min(asked[0] - low, high - asked[-1])
        fitting = [slot for slot in slots if slot <= 2 * inside + HAIR]
        if not fitting or (count and count != len(asked)):
            ends = self.limits.end_distance
            raise Refusal(
                f"slots at {', '.join(self._l(a) for a in at)} do not fit in a joint of {self._l(high - low)}",
                f"centres from {self._l(low + ends)} to {self._l(high - ends)}, as many as count says",
                "slips.at",
            )
        pitch, least = min((b - a for a, b in pairwise(asked)), default=inf), min(fitting)
        if least + wall > pitch + HAIR:
            raise Refusal(
                f"slots {self._l(pitch)} apart, each {self._l(least)} long, leave no wall of {self._l(wall)} between "
                "them (the shop's minimum)",
                f"centres {self._l(least + wall)} apart or more, or narrower slips",
                "slips.at",
            )
        return next(slot for slot in fitting if slot + wall <= pitch + HAIR)

    def _spread(self, count: int, slot: float) -> tuple[float, ...]:
        """Centres spread evenly: half a gap at the ends where the end distance allows, else even gaps."""
        room = self.high - self.low
        pitch = room / count
        if pitch / 2 - slot / 2 < self.limits.end_distance - HAIR:
            gap = (room - count * slot) / (count + 1)
            first, pitch = gap + slot / 2, slot + gap
        else:
            first = pitch / 2
        half = [round((first + k * pitch) / self.grid) * self.grid for k in range(count // 2)]
        middle = [room / 2] if count % 2 else []
        return tuple(even(self.low + x) for x in (*half, *middle, *(room - x for x in reversed(half))))

    def crossed(
        self, slot: float, thickness: float, height: float, crossing: Sequence[Trench]
    ) -> tuple[Barred, ...]:
        """Where no slot of this length may have its centre for what crosses the row, at this height, in one of the
        boards: each slot and trench is looked at where it lies in its own.
        """
        wall = self.limits.least_wall
        near, aside = thickness / 2 + wall - HAIR, slot / 2 + wall
        mouths = {(s.part.id, s.mouth(0.0, height)) for pair in self.pairs for s in (pair.first, pair.second)}
        found = {
            (box.low[0] - aside - begin, box.high[0] + aside - begin): None
            for box in crossing
            for part, (begin, _, level) in mouths
            if part == box.part and box.low[2] - near < level < box.high[2] + near
        }
        return tuple(found)

    def taken(self, cut: Callable[[Seat, int], Slot], slots: Iterable[Slot]) -> list[Barred]:
        """Where no slot of either half may have its centre for other slots in the same parts; `cut`: the slot of a seat
        of the first (0) or second (1) half with its centre at 0.
        """
        least = self.limits.least_wall - NEAR
        seats = {(seat, half) for pair in self.pairs for half, seat in enumerate((pair.first, pair.second))}
        mine = {cut(seat, half) for seat, half in seats}
        found = {
            _too_near(one, other, least) for one, other in product(mine, slots) if one.part == other.part
        }
        return [barred for barred in found if barred is not None]

    def aside(self, centres: tuple[float, ...], slot: float, barred: Sequence[Barred]) -> tuple[float, ...]:
        """The centres moved out of what is barred, by as little as need be in sum; none where there is no such way.
        `slot`: the slots' length.
        """
        if self.clear(centres, barred):
            return centres
        return _spaced(centres, self._free(centres, slot, barred), slot + self.limits.spacing)

    def aside_alike(
        self, centres: tuple[float, ...], slot: float, barred: Sequence[Barred]
    ) -> tuple[float, ...]:
        """As `aside`, of a row that is the same from both its ends, and stays so."""
        both, gap = centres[0] + centres[-1], slot + self.limits.spacing
        number, odd = divmod(len(centres), 2)
        free = [p for p in self._free(centres, slot, barred) if self.clear((even(both - p),), barred)]
        middle = (even(both / 2),) if odd else ()
        if not self.clear(middle, barred):
            return ()
        inner = both / 2 - (gap if odd else gap / 2)
        half = _spaced(centres[:number], [p for p in free if p <= inner + HAIR], gap) if number else ()
        if number and not half:
            return ()
        return *half, *middle, *(even(both - p) for p in reversed(half))

    @staticmethod
    def clear(centres: Iterable[float], barred: Sequence[Barred]) -> bool:
        """Whether none of the centres is barred."""
        return not any(a + HAIR < p < b - HAIR for p in centres for a, b in barred)

    def _free(self, centres: Sequence[float], slot: float, barred: Sequence[Barred]) -> list[float]:
        rim = self.limits.end_distance + slot / 2
        places = sorted({*centres, *marks(self.low + rim - 2 * HAIR, self.high - rim, self.grid, PLACES)})
        return [p for p in places if self.clear((p,), barred)]


@cache
def _too_near(slot: Slot, other: Slot, least: float) -> Barred | None:
    """As `too_near`, of slots of an operation; the longer slot is too near for as much longer."""
    more = (slot.length - slot.width) / 2
    if more:
        short = _too_near(slot.model_copy(update={"length": slot.width}), other, least)
        return None if short is None else (short[0] - more, short[1] + more)
    return too_near(SlotSolid.of(slot), SlotSolid.of(other), least)


def _spaced(wanted: Sequence[float], free: Sequence[float], apart: float) -> tuple[float, ...]:
    """Of the free places, in order, those so far apart that are least away from the wanted ones in sum; none where
    there are not so many.
    """
    ways: dict[float, tuple[float, tuple[float, ...]]] = {
        place: (abs(place - wanted[0]), (place,)) for place in free
    }
    for want in wanted[1:]:
        best: tuple[float, tuple[float, ...]] | None = None
        further, passed = {}, 0
        for place in free:
            while free[passed] <= place - apart + HAIR:
                way = ways.get(free[passed])
                best = min((known for known in (best, way) if known), default=None)
                passed += 1
            if best is not None:
                further[place] = best[0] + abs(place - want), (*best[1], place)
        ways = further
    return min(ways.values())[1] if ways else ()
