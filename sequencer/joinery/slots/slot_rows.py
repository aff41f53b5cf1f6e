"""Where along a joint its slots go: how many of which width, how far apart, out of the way of what crosses them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from functools import cache
from itertools import pairwise, product
from math import ceil, floor, inf
from typing import NamedTuple

from sequencer.geometry.slots import SlotSolid, too_near
from sequencer.joinery.basis.floor import Floor, even
from sequencer.joinery.basis.nearness import HAIR, NEAR
from sequencer.joinery.basis.refusal import Refusal
from sequencer.joinery.basis.seats import Pair, Seat
from sequencer.joinery.basis.tries import marks
from sequencer.joinery.slots.congruent import one_of_each
from sequencer.joinery.slots.row_grooves import InTheWay, Stretch, in_the_way
from sequencer.listing import listed
from sequencer.model.parts import MOST_SLIPS, Slips
from sequencer.operations import Slot, Trench
from sequencer.quantity import counted

PLACES = 10_000
"""So many places along a row are tried for a slot: all of them in joints of 5 m."""
Barred = tuple[float, float]
"""From where to where along a row, ends left out, no slot may have its centre."""


class Laid(NamedTuple):
    """Slips laid out along a row: their width, mm, the centres of their slots, and whether these are clear of the
    grooves in the way."""

    width: float
    centres: tuple[float, ...]
    clear: bool = True


class SlotRow:
    """The row of slots of pairs placed alike: it runs as far as the wood of all their seats does at `height`, the c it
    is made for; `alike` from both its ends, if it can be. Lengths in mm, centres from where s is 0.
    """

    def __init__(self, floor_: Floor, pairs: Sequence[Pair], height: float, alike: bool = False) -> None:
        self.limits, self.grid, self._l = floor_.limits, floor_.grid, floor_.length
        self.pairs, self.kinds, self.alike = pairs, one_of_each(pairs), alike
        spans = [seat.span(height) for pair in self.kinds for seat in (pair.first, pair.second)]
        self.low = max(low for low, _ in spans)
        self.high = max(self.low, min(high for _, high in spans))
        self._laid: dict[tuple[object, ...], list[Laid]] = {}  # stretches come again for many depths

    def laid_out(self, widths: Sequence[float], wishes: Slips, grooves: Sequence[InTheWay] = ()) -> Laid:
        """The slips' width and the centres of the slots: as asked, else as many as the shop's habit says of the widest
        that go, spread evenly over the stretches of the row that `grooves` leave. Raises Refusal where none go.
        """
        return self.layouts(widths, wishes, grooves, others=False)[0]

    def layouts(
        self, widths: Sequence[float], wishes: Slips, grooves: Sequence[InTheWay] = (), others: bool = True
    ) -> list[Laid]:
        """As `laid_out`, and then `others`, over fewer of the stretches, most width in sum first: where the wood
        narrows towards an end of the row they may go deeper. Raises Refusal where none go.
        """
        slack = 0.0 if wishes.slack == "none" else self.limits.slack
        if wishes.at:
            slots = [width + slack for width in widths]
            width = even(self._longest(wishes.at, wishes.count, slots, grooves) - slack)
            return [Laid(width, wishes.at)]
        laid: list[Laid] = []
        if self.alike and grooves:
            both = {*grooves, *(groove.mirrored(self.low + self.high) for groove in grooves)}
            laid = [
                one
                for one in self._beside(tuple(both), widths, wishes.count, slack, others)
                if self._same(one)
            ]
        laid = laid or self._beside(grooves, widths, wishes.count, slack, others)
        if not laid:
            room = max((high - low for low, high in self._left_by(grooves)), default=0.0)
            raise self._too_short(room, widths, wishes, slack, bool(grooves))
        return laid

    def _beside(
        self,
        grooves: Sequence[InTheWay],
        widths: Sequence[float],
        count: int | None,
        slack: float,
        others: bool,
    ) -> list[Laid]:
        """Slips over the stretches that grooves leave, else at the least wall from grooves, else in shallow ones."""
        laid = self._over(self._left_by(grooves), widths, count, slack, others)
        if not laid and grooves:
            laid = self._between(grooves, widths, count, slack)
        if not laid and all(groove.passed for groove in grooves):
            whole = self._over([(self.low, self.high)], widths, count, slack, others)
            laid = [each._replace(clear=not grooves) for each in whole]
        return laid

    def _same(self, laid: Laid) -> bool:
        """Whether a row is the same from both its ends."""
        both, centres = self.low + self.high, laid.centres
        return all(abs(a + b - both) <= NEAR for a, b in zip(centres, reversed(centres), strict=True))

    def _too_short(
        self, room: float, widths: Sequence[float], wishes: Slips, slack: float, parted: bool
    ) -> Refusal:
        """The refusal of a row without room for slips, whose longest stretch is so long; `parted`: by grooves."""
        ends, gap = self.limits.end_distance, self.limits.spacing
        least = min(widths, default=self.limits.slip_widths[0])
        number = wishes.count or 1
        needs = number * (least + slack) + (number - 1) * gap + 2 * ends
        slips = "one slip" if number == 1 else f"{number} slips"
        message = f"a joint of {self._l(room)} is"
        accepted = f"a joint of {self._l(needs)} or more"
        if parted:
            message = (
                f"the {self._l(room)} that grooves leave of a joint of {self._l(self.high - self.low)} are"
            )
            accepted = f"other places for the grooves ({self._l(needs)} or more beside them)"
        room_for = [f"{self._l(slack)} of slack{' each' if number > 1 else ''}"] if slack else []
        room_for += [f"{self._l(gap)} between them"] if number > 1 else []
        return Refusal(
            f"{message} too short for {slips} {self._l(least)} wide with "
            f"{listed([*room_for, f'{self._l(ends)} at each end'])}",
            f"{accepted}, or narrower slips",
            "slips.width" if wishes.width else "slips.count",
            slack=slack > 0.0,
        )

    def _left_by(self, grooves: Iterable[InTheWay]) -> list[Stretch]:
        """What grooves leave of the row. A stretch ends where one crosses the line of the mouths as the row does at the
        end of the wood, and earlier where the least wall asks for it.
        """
        more = self.limits.least_wall - self.limits.end_distance
        found, low = [], self.low
        for groove in sorted(grooves):
            end = min(groove.at_mouths[0], groove.near - more)
            if end > low + HAIR:
                found.append((low, min(end, self.high)))
            low = max(low, groove.at_mouths[1], groove.far + more)
        if low < self.high:
            found.append((low, self.high))
        return found

    def _over(
        self,
        stretches: Sequence[Stretch],
        widths: Sequence[float],
        count: int | None,
        slack: float,
        others: bool = False,
    ) -> list[Laid]:
        """Slips over some stretches of the row, evenly in each; none where none go. As many as `count`, or in every
        stretch as many as the habit says or none: those with most width in sum; and after these `others`, those over
        fewer stretches next to one another.
        """
        asked = tuple(stretches), tuple(widths), count, slack, others
        if asked not in self._laid:
            self._laid[asked] = self._laid_over(*asked)
        return self._laid[asked]

    def _laid_over(
        self,
        stretches: tuple[Stretch, ...],
        widths: tuple[float, ...],
        count: int | None,
        slack: float,
        others: bool,
    ) -> list[Laid]:
        """The same, worked out."""
        rooms = [high - low for low, high in stretches]
        least = min(widths, default=inf) + slack
        usual = [min(self._habit(room, least), self._most(room, least)) for room in rooms]
        ways: dict[tuple[float, tuple[int, ...]], None] = {}
        for run in _runs(len(stretches)) if others else (range(len(stretches)),):
            best: tuple[float, float, tuple[int, ...]] | None = None
            for width in sorted(widths, reverse=True):
                most = [self._most(room, width + slack) if k in run else 0 for k, room in enumerate(rooms)]
                if count:
                    numbers = _shared(count, rooms, most)
                else:
                    numbers = [n if n <= m else 0 for n, m in zip(usual, most, strict=True)]
                if sum(numbers) and (best is None or sum(numbers) * width > best[0] + HAIR):
                    best = sum(numbers) * width, width, tuple(numbers)
            if best is not None:
                ways[best[1:]] = None
        return [
            Laid(width, self._centres(numbers, width + slack, stretches))
            for width, numbers in sorted(ways, key=lambda way: -round(sum(way[1]) * way[0], 6))
        ]

    def _centres(
        self, numbers: Sequence[int], slot: float, stretches: Sequence[Stretch]
    ) -> tuple[float, ...]:
        return tuple(
            centre
            for stretch, number in zip(stretches, numbers, strict=True)
            if number
            for centre in self._spread(number, slot, stretch)
        )

    def _between(
        self, grooves: Sequence[InTheWay], widths: Sequence[float], count: int | None, slack: float
    ) -> list[Laid]:
        """Slips over the whole row that keep no more than the least wall to the grooves; none where none do."""
        whole = (self.low, self.high)
        usual = count or self._habit(self.high - self.low, min(widths, default=inf) + slack)
        for number in [usual] if count else range(usual, 0, -1):
            for width in sorted(widths, reverse=True):
                laid = self._over([whole], [width], number, slack)
                if laid and self.clear(laid[0].centres, self.beside(grooves, width + slack)):
                    return laid
        return []

    def holds(self, centres: Sequence[float], slot: float) -> bool:
        """Whether slots of this length at such centres keep the end distance to both ends of the row."""
        rim = self.limits.end_distance + slot / 2 - HAIR
        return self.low + rim <= min(centres) and max(centres) <= self.high - rim

    def beside(self, grooves: Iterable[InTheWay], slot: float) -> list[Barred]:
        """Where no slot of this length may have its centre for these grooves."""
        away = slot / 2 + self.limits.least_wall
        return [(near - away, far + away) for near, far, *_ in grooves]

    def _most(self, room: float, slot: float) -> int:
        """How many slots go in."""
        ends, gap = self.limits.end_distance, self.limits.spacing
        return max(0, floor((room - 2 * ends + gap) / (slot + gap) + HAIR))

    def _habit(self, room: float, slot: float) -> int:
        """How many slots the shop's habit asks for: one for so much of the joint, but no more than go in."""
        ends, gap = self.limits.end_distance, self.limits.spacing
        most = min(MOST_SLIPS, max(1.0, (room - 2 * ends + gap) / (slot + gap)))
        return max(1, ceil(min(room / self.limits.slip_every, most) - HAIR))

    def _longest(
        self, at: Sequence[float], count: int | None, slots: Sequence[float], grooves: Sequence[InTheWay]
    ) -> float:
        """The longest of some slots that goes at the centres asked for, with the least wall between them and, if any
        has it, to the grooves."""
        asked, wall, low, high = sorted(at), self.limits.least_wall, self.low, self.high
        inside = min(asked[0] - low, high - asked[-1])
        fitting = [slot for slot in slots if slot <= 2 * inside + HAIR]
        if count and count != len(asked):
            raise Refusal(
                f"{counted(len(asked), 'centre')} for {counted(count, 'slip')}",
                "as many centres as count says, or no count",
                "slips.at",
            )
        if not fitting:
            ends = self.limits.end_distance
            raise Refusal(
                f"slots at {', '.join(self._l(a) for a in at)} do not fit in a joint of {self._l(high - low)}",
                f"centres from {self._l(low + ends)} to {self._l(high - ends)}",
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
        apart = [slot for slot in fitting if slot + wall <= pitch + HAIR]
        return next((slot for slot in apart if self.clear(at, self.beside(grooves, slot))), apart[0])

    def _spread(self, count: int, slot: float, stretch: Stretch) -> tuple[float, ...]:
        """Centres spread evenly: half a gap at the ends where the end distance allows, else even gaps."""
        low, room = stretch[0], stretch[1] - stretch[0]
        pitch = room / count
        if pitch / 2 - slot / 2 < self.limits.end_distance - HAIR:
            gap = (room - count * slot) / (count + 1)
            first, pitch = gap + slot / 2, slot + gap
        else:
            first = pitch / 2
        half = [round((first + k * pitch) / self.grid) * self.grid for k in range(count // 2)]
        middle = [room / 2] if count % 2 else []
        return tuple(even(low + x) for x in (*half, *middle, *(room - x for x in reversed(half))))

    def crossed(
        self, slot: float, thickness: float, height: float, crossing: Sequence[Trench]
    ) -> tuple[Barred, ...]:
        """Where no slot of this length may have its centre for what crosses the row, at this height, in one of the
        boards: each slot and trench is looked at where it lies in its own.
        """
        if not crossing:
            return ()
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

    def grooves(self, thickness: float, height: float, depths: tuple[float, float]) -> tuple[InTheWay, ...]:
        """Where the grooves and rebates along the grain lie that slots so deep at this height would come too near."""
        least = self.limits.least_wall - NEAR
        found = {
            groove: None
            for pair in self.kinds
            for seat, depth in zip((pair.first, pair.second), depths, strict=True)
            for groove in in_the_way(seat, height, thickness, depth, least)
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
        if any(abs(a + b - both) > NEAR for a, b in zip(centres, reversed(centres), strict=True)):
            return ()  # nor is it now
        places = self._free(centres, slot, barred)
        reach = self.limits.end_distance + slot / 2 - 2 * HAIR, self.low, self.high
        free = [
            p
            for p in places
            if reach[1] + reach[0] <= both - p <= reach[2] - reach[0]
            and self.clear((even(both - p),), barred)
        ]
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


def _runs(number: int) -> list[range]:
    """The runs of one or more of so many things in a row, longer ones first."""
    return [range(first, first + many) for many in range(number, 0, -1) for first in range(number - many + 1)]


def _shared(count: int, rooms: Sequence[float], most: Sequence[int]) -> list[int]:
    """So many slots over some rooms, one after another where there is most room for each; no more in each than go in,
    none at all where not all go in.
    """
    numbers = [0] * len(rooms)
    for _ in range(count if count <= sum(most) else 0):
        open_ = [k for k, number in enumerate(numbers) if number < most[k]]
        numbers[max(open_, key=lambda k: rooms[k] / (numbers[k] + 1))] += 1
    return numbers


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
