"""Where the mortises go: slip, depth, height and places of the slots, within the shop's limits.

The search is plain: the thickness nearest to the shop's share of the stock, then the longest slip (`slips_to_try.py`),
then the least shift from the middle toward the inside that leaves the walls, of those at which the scale of the fence
can be set (`heights.py`). The first that fits is taken; one clear of what crosses its row goes before one that opens in
it. Where grooves lie across the row, what goes in beside them is weighed by the surface of the slips (`middle.py`).
Where none holds since the wood narrows, a second search goes on to fewer and narrower slips; so does one that moves the
slots along their row where they come too near the slots of another joint. Lengths in mm.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import takewhile
from math import inf

from sequencer.joinery.basis.floor import Floor, even
from sequencer.joinery.basis.nearness import COSINE_HAIR, HAIR
from sequencer.joinery.basis.refusal import Refusal
from sequencer.joinery.basis.seats import Pair, Seat, dot
from sequencer.joinery.slots.depths import Depths
from sequencer.joinery.slots.fit import Fit, Taken, Wall
from sequencer.joinery.slots.heights import BeyondScale, Heights
from sequencer.joinery.slots.middle import near_the_middle
from sequencer.joinery.slots.slips_to_try import SlipsToTry, ToTry, cutters, slot_lengths
from sequencer.joinery.slots.slot_rows import Barred, SlotRow
from sequencer.model.parts import Slips
from sequencer.operations import Slot, Trench
from sequencer.quantity import counted, format_length, parse_length

TRIES = 4
"""So often slots are laid out anew beside the grooves in the way at the depths they turn out to need."""


class Placement:
    """The search for one set of pairs that shall be placed alike."""

    def __init__(
        self,
        floor_: Floor,
        pairs: Sequence[Pair],
        wishes: Slips,
        share_of: float,
        equal: bool = False,
        crossing: Sequence[Trench] = (),
        shorter_than: float = inf,
        taken: Taken | None = None,
        alike: bool = False,
        chosen: bool = True,
    ) -> None:
        """`crossing`: trenches across rows along the grain, which the slots keep out of if they can; `shorter_than`:
        what the slips chosen must be, mm; `taken`: other slots in these parts, which they must keep clear of; `alike`:
        whether the row should be the same from both its ends; `chosen`: whether their height may be one of those that
        the mortiser's fence lists.
        """
        self.floor, self.limits, self.pairs, self.wishes = floor_, floor_.limits, pairs, wishes
        self.crossing, self.taken, self.alike = crossing, taken, alike
        self.depths = Depths(floor_, pairs, equal)
        self.heights = Heights(floor_, self.depths.kinds, share_of, equal, chosen)
        self.slips = SlipsToTry(floor_, share_of, self.depths, self._row, shorter_than)
        self.stock = share_of
        self.grid, self._l = floor_.grid, floor_.length
        seats = [seat for pair in self.depths.kinds for seat in (pair.first, pair.second)]
        # whether the wood may narrow towards an end of the row, as it does at the tip of a mitre: there a slot may be
        # too near a surface that one farther in, or a narrower one, keeps clear of
        self._narrows = any(
            COSINE_HAIR < abs(dot(side.normal, seat.along)) < 1 - COSINE_HAIR
            for seat in seats
            for side in seat.body.sides
        )
        self._grooved = any(seat.body.grooves and abs(seat.along[1]) > COSINE_HAIR for seat in seats)
        self._first = 0.0  # the height tried first
        self._rows: dict[float, SlotRow] = {}
        self._leans = any(
            abs(dot(side.normal, seat.along)) > COSINE_HAIR
            and abs(dot(side.normal, seat.across)) > COSINE_HAIR
            for seat in seats
            for side in seat.body.sides
            if side.name != seat.base and side.name not in seat.opens
        )

    def fit(self, together: Placement | None = None, apart: Sequence[Placement] = ()) -> Fit:
        """The first fit found; Refusal, with the figures and what would work, where there is none. What works for some
        pairs of a joint works for all: slips that go in all of them placed `together`, or none asked for where each of
        the sets placed `apart` takes some then.
        """
        self._check_wishes()
        found, said = self._search(self.wishes)
        if found is not None:
            return found
        offers = tuple(self.depths.offers)
        free = Slips(slack=self.wishes.slack)
        other, _ = (together or self)._search(free)
        asked = self.wishes != free
        if other is None and asked and apart and all(one._search(free)[0] is not None for one in apart):
            raise Refusal(said.message, "no slips asked for, so that each corner has its own", said.key)
        if other is not None and asked and (works := (together or self)._as_told(other)):
            raise Refusal(said.message, works, said.key)
        holding = next(
            (depths for depths in offers if self._search(self._asking(depths))[0] is not None), None
        )
        if holding is not None and said.key == "slips.depths":
            one, two = (self._l(depth) for depth in holding)
            raise Refusal(
                said.message,
                f"depth {one} holds" if one == two else f"depths {one} and {two} hold",
                "slips.depths",
            )
        key = said.key if asked else ""
        if said.key == "slips.depths":
            raise Refusal(f"{said.message}, and no other depth serves", "", key, sizes=True)
        raise Refusal(said.message, said.accepted, key, said.sizes, slack=said.slack)

    def _as_told(self, fit: Fit) -> str:
        """Slips that hold in words that hold when they are taken literally, with their centres where these are asked
        for or they hold at no others; "" where they do not.
        """
        told = self._as_read
        slips = Slips(
            slack=self.wishes.slack,
            count=fit.count if self.wishes.count else None,
            thickness=told(fit.thickness),
            width=told(fit.width),
            length=told(fit.length),
            depths=(told(fit.depths[0]), told(fit.depths[1])),
            height=told(fit.height),
        )
        placed = slips.model_copy(update={"at": tuple(told(centre) for centre in fit.centres)})
        for asked in (placed,) if self.wishes.at else (slips, placed):
            if self._search(asked)[0] is None:
                continue
            other_count = self.wishes.count not in (None, fit.count)
            begin = f"{counted(fit.count, 'slip')}," if other_count else "slips"
            works = (
                f"{begin} {self._size(fit.thickness, fit.width, fit.length)}, "
                f"{self._l(fit.depths[0])} and {self._l(fit.depths[1])} deep, slips.height {self._l(fit.height)}"
            )
            at = f", centres at {', '.join(self._l(centre) for centre in fit.centres)}"
            return works + at if asked.at else works
        return ""

    def _as_read(self, mm: float) -> float:
        """A length as it is read where it is told."""
        unit = self.floor.job.unit
        return even(
            parse_length(format_length(mm, unit, with_unit=False, decimals=True).partition(" (")[0], unit)
        )

    def _asking(self, depths: tuple[float, float]) -> Slips:
        return self.wishes.model_copy(update={"depths": depths})

    def _check_wishes(self) -> None:
        """Refuse what the shop cannot make wherever it goes: depths, cutters, slips too narrow for a slot."""
        for depth in self.wishes.depths or ():
            if depth > self.depths.most + HAIR:
                raise Refusal(
                    f"a mortise {self._l(depth)} deep is more than the mortiser plunges ({self._l(self.depths.most)})",
                    f"depths of at most {self._l(self.depths.most)}",
                    "slips.depths",
                )
            setting = self.floor.setting("mortiser", "depth")
            if setting is not None and setting.values and setting.listed(depth) is None:
                raise Refusal(
                    f"a mortise {self._l(depth)} deep is none of the mortiser's depths",
                    ", ".join(self._l(one) for one in self.depths.listed),
                    "slips.depths",
                )
        if self.wishes.thickness and not any(
            abs(self.wishes.thickness - c) < 0.01 for c in cutters(self.floor, self.stock)
        ):
            raise Refusal(
                f"the shop has no cutter of {self._l(self.wishes.thickness)}",
                ", ".join(self._l(c) for c in cutters(self.floor, self.stock)),
                "slips.thickness",
            )

        thinnest = self.wishes.thickness or min(cutters(self.floor, self.stock))
        if self.wishes.width and self.wishes.width <= thinnest + HAIR:
            raise Refusal(
                f"a slip {self._l(self.wishes.width)} wide is not wider than {self._l(thinnest)}, the "
                f"{'thickness asked for' if self.wishes.thickness else 'thinnest cutter'}",
                f"a width of more than {self._l(thinnest)}",
                "slips.width",
            )

    def _search(self, wishes: Slips) -> tuple[Fit | None, Refusal]:
        said: Refusal | None = None
        for fewer in (False, True) if self._narrows and self.taken is None else (self.taken is not None,):
            for thickness, widths, lengths in self.slips.sizes(wishes):
                try:
                    return self._with_thickness(thickness, widths, lengths, wishes, fewer), Refusal("")
                except Refusal as refusal:
                    if said is None or isinstance(refusal, BeyondScale) > isinstance(said, BeyondScale):
                        said = refusal
        if self.taken is not None:  # without it there was room
            return None, self.taken.why
        return None, said or Refusal(
            "the shop has no slips that fit its cutters", "slips as thick as a cutter, and wider than thick"
        )

    def _with_thickness(
        self,
        thickness: float,
        widths: Sequence[float],
        lengths: Sequence[float],
        wishes: Slips,
        fewer: bool,
    ) -> Fit:
        low, high = self.heights.between(thickness, wishes)
        heights = self.heights.to_try(low, high, wishes)
        reached = self.heights.within_reach(heights)
        said: Refusal | None = None
        if reached:
            found, said = self._at_any(reached, thickness, widths, lengths, wishes, fewer)
            if found is not None:
                return found
        if len(reached) < len(heights):
            # the walls are judged first: where none hold at other heights either, it is not for the scale
            found, elsewhere = self._at_any(heights, thickness, widths, lengths, wishes, fewer)
            if found is not None and (beyond := self.heights.beyond_scale(found.height, wishes)) is not None:
                raise beyond
            if found is not None and (not reached or self.heights.listed):
                return found  # refused as the setting is
            said = said or elsewhere
        raise said or Refusal(
            f"no slip is short enough for a cutter of {self._l(thickness)}", "shorter slips in the shop"
        )

    def _at_any(
        self,
        heights: Sequence[float],
        thickness: float,
        widths: Sequence[float],
        lengths: Sequence[float],
        wishes: Slips,
        fewer: bool,
    ) -> tuple[Fit | None, Refusal | None]:
        """The first of all slips of a thickness that hold, at the first of some heights at which they do. Raises
        Refusal where no row of them goes in."""
        self._first = heights[0]
        if fewer:
            slips = self.slips.fewer(thickness, widths, lengths, wishes, self._first)
        else:
            slips = self.slips.habitual(widths, lengths, wishes)
        if self.taken is not None:
            return self._moved(slips, heights, thickness, wishes)
        if fewer:
            slips = self.slips.promising(slips, thickness, heights, wishes)
        return self._best(slips, heights, thickness, wishes, fewer)

    def _best(
        self, slips: Iterable[ToTry], heights: Sequence[float], thickness: float, wishes: Slips, fewer: bool
    ) -> tuple[Fit | None, Refusal | None]:
        """The first of some slips that hold, at the first height at which they do, clear of what crosses their row if
        they can be; beside grooves those before them that are clear of these (`_beside_grooves`).
        """
        slips = list(slips)
        if self._grooved:
            found = self._beside_grooves(slips, heights, thickness, wishes, fewer)
            if found is not None:
                return found, None
        said: Refusal | None = None
        unclear: Fit | None = None  # slots may open in a groove or housing
        for each in slips:
            for height in heights:
                try:
                    fit, _, clear = self._at(self._row(height), height, thickness, each, wishes, not fewer)
                except Refusal as refusal:
                    said = _told(said, refusal)
                    continue
                if clear:
                    return fit, None
                unclear = unclear or fit
        return unclear, said

    def _beside_grooves(
        self, slips: Sequence[ToTry], heights: Sequence[float], thickness: float, wishes: Slips, fewer: bool
    ) -> Fit | None:
        """Slips clear of grooves: in the middle (`_in_place`), or where much more surface holds; None where none do."""
        kept = self._in_place(slips, heights, thickness, wishes, fewer)
        if len(heights) == 1:
            return kept
        fit = near_the_middle(
            kept, heights, lambda height, more: self._most_at(height, slips, thickness, wishes, more)
        )
        if fit is None or fit is kept:
            return fit
        nearer = list(takewhile(lambda height: even(height) != fit.height, heights))
        return self._nearer(fit, nearer, 0.0 if wishes.depths and not wishes.length else fit.length, wishes)

    def _in_place(
        self, slips: Iterable[ToTry], heights: Sequence[float], thickness: float, wishes: Slips, fewer: bool
    ) -> Fit | None:
        """Slips clear of grooves at the first height that is deep enough for slips so long: farther from the middle it
        is only grooves that leave other rows, and fewer slips may be longer. Those with most surface, of as much the
        longest; of `fewer` the first, as many as go in. None where none hold.
        """
        best: Fit | None = None
        first: dict[tuple[float, float], float | None] = {}
        for each in slips:
            size = min(each.widths), each.length
            if size not in first:
                first[size] = next(
                    (h for h in heights if self._deep_enough(h, thickness, *size, wishes)), None
                )
            height = first[size]
            if height is None:
                continue
            more = best.surface if best is not None else 0.0
            best = self._most_at(height, [each], thickness, wishes, more) or best
            if fewer and best is not None:
                break
        return best

    def _most_at(
        self, height: float, slips: Iterable[ToTry], thickness: float, wishes: Slips, more: float
    ) -> Fit | None:
        """Of some slips those with most surface at a height, clear of grooves, of as much the first; None where none
        have more than `more`, mm²."""
        best: Fit | None = None
        row = self._row(height)
        for each in slips:
            for nth, surface in enumerate(self._surfaces(row, height, thickness, each, wishes)):
                if surface <= more + HAIR:
                    break
                try:
                    fit, _, clear = self._at(row, height, thickness, each, wishes, False, nth)
                except Refusal:
                    continue
                # slots that come out deeper than the layout was weighed for may have less room
                if clear and fit.surface > more + HAIR:
                    best, more = fit, fit.surface
        return best

    def _deep_enough(
        self, height: float, thickness: float, width: float, length: float, wishes: Slips
    ) -> bool:
        """Whether the wood at a height holds a slip at an end of the row or in its middle, grooves or not."""
        row, slots = self._row(height), slot_lengths(self.floor, width, wishes.slack)
        rim = self.limits.end_distance + max(slots) / 2
        places = [(row.low + rim,), ((row.low + row.high) / 2,), (row.high - rim,)]
        for centres in [wishes.at] if wishes.at else places:
            try:
                self.depths.of(height, thickness, slots, centres, length, wishes, offering=False)
            except Refusal:
                continue
            return True
        return False

    def _surfaces(
        self, row: SlotRow, height: float, thickness: float, slips: ToTry, wishes: Slips
    ) -> list[float]:
        """What slips hold by, mm² of a side of them, in each layout of a row that is worth a try, in the order of
        `SlotRow.layouts`: as grooves leave room for slots no deeper than such slips ask for."""
        depths = self.depths.guessed(height, slips.length, wishes)
        length = slips.length or self._as_long_as(self._embedded(depths, height))
        grooves = row.grooves(thickness, height, depths)
        try:
            layouts = row.layouts(
                slips.widths,
                wishes.model_copy(update={"count": slips.number}),
                grooves,
                others=self._narrows,  # elsewhere all are too deep where some are
            )
        except Refusal:
            return []
        return [laid.width * len(laid.centres) * length for laid in layouts]

    def _nearer(self, fit: Fit, heights: Sequence[float], length: float, wishes: Slips) -> Fit:
        """The fit, at the first of some heights at which the very same slots hold and are clear, if there is one: where
        grooves leave a row fewer slips, these may hold as well where no groove is in the way. `length`: of the slips, 0
        where depths asked for tell it.
        """
        slot = max(fit.slots)
        for height in heights:
            row = self._row(height)
            try:
                depths = self.depths.of(
                    height, fit.thickness, fit.slots, fit.centres, length, wishes, offering=False
                )
            except Refusal:
                continue
            barred = [
                *row.crossed(slot, fit.thickness, height, self.crossing),
                *row.beside(row.grooves(fit.thickness, height, depths), slot),
            ]
            if row.holds(fit.centres, slot) and row.clear(fit.centres, barred):
                return self._made(fit.thickness, fit.width, length, fit.centres, height, depths, fit.slots)
        return fit

    def _moved(
        self, slips: Iterable[ToTry], heights: Sequence[float], thickness: float, wishes: Slips
    ) -> tuple[Fit | None, Refusal | None]:
        """The first of some slips that hold clear of the slots taken, moved along their row."""
        said: Refusal | None = None
        for each in slips:
            for height in heights:
                row = self._row(height)
                try:
                    fit, barred, clear = self._at(row, height, thickness, each, wishes, offering=True)
                except Refusal as refusal:
                    said = _told(said, refusal)
                    continue
                moved = self._clear(row, fit, barred, wishes)
                if moved is not None:
                    return moved, None
                if clear:
                    break
        return None, said

    def _row(self, height: float) -> SlotRow:
        """The row at a height; where surfaces that end it lean across it, it begins and ends elsewhere at others."""
        if not self._leans:
            height = self._first
        if height not in self._rows:
            self._rows[height] = SlotRow(self.floor, self.pairs, height, self.alike)
        return self._rows[height]

    def _at(
        self,
        row: SlotRow,
        height: float,
        thickness: float,
        slips: ToTry,
        wishes: Slips,
        offering: bool,
        nth: int = 0,
    ) -> tuple[Fit, list[Barred], bool]:
        """Slips at one height, by the `nth` layout of their row, clear of what crosses it if they can be; what is
        barred to their slots, and whether they are clear. Raises Refusal where they do not hold or leave too little
        wood.
        """
        if self._grooved and not self._narrows:
            # depths are the same wherever the slots are: where they do not hold, no groove need be looked for
            middle = (row.low + row.high) / 2
            self.depths.of(
                height, thickness, (thickness, thickness), (middle,), slips.length, wishes, offering
            )
        depths = self.depths.guessed(height, slips.length, wishes)
        for _ in range(TRIES):
            grooves = row.grooves(thickness, height, depths)
            layouts = row.layouts(
                slips.widths, wishes.model_copy(update={"count": slips.number}), grooves, others=nth > 0
            )
            laid = layouts[min(nth, len(layouts) - 1)]
            slots = slot_lengths(self.floor, laid.width, wishes.slack)
            centres, clear, barred = laid.centres, laid.clear, list[Barred]()
            if not wishes.at:
                barred = list(row.crossed(max(slots), thickness, height, self.crossing))
                aside = row.aside(centres, max(slots), barred)
                centres, clear = aside or centres, laid.clear and bool(aside)
                barred += row.beside(grooves, max(slots)) if laid.clear else ()
            known = depths
            depths = self.depths.of(height, thickness, slots, centres, slips.length, wishes, offering)
            deeper = any(depth > before + HAIR for depth, before in zip(depths, known, strict=True))
            if not deeper or row.grooves(thickness, height, depths) == grooves:
                break
        fit = self._made(thickness, laid.width, slips.length, centres, height, depths, slots)
        return fit, barred, clear

    def _clear(self, row: SlotRow, fit: Fit, crossed: Sequence[Barred], wishes: Slips) -> Fit | None:
        """A fit with its slots moved along their row, clear of those taken and what is barred else; None where there is
        no such way."""
        assert self.taken is not None

        def cut(seat: Seat, half: int) -> Slot:
            return seat.slot("", 0.0, fit.height, fit.slots[half], fit.thickness, fit.depths[half])

        barred = [*crossed, *row.taken(cut, self.taken.slots)]
        if wishes.at:
            return fit if row.clear(fit.centres, barred) else None
        slot = max(fit.slots)
        places = [row.aside_alike(fit.centres, slot, barred)]
        if not self.taken.alike:
            places.append(row.aside(fit.centres, slot, barred))
        for centres in filter(None, places):
            try:
                depths = self.depths.of(fit.height, fit.thickness, fit.slots, centres, fit.length, wishes)
            except Refusal:
                continue
            if depths == fit.depths:
                return self._made(
                    fit.thickness, fit.width, fit.length, centres, fit.height, depths, fit.slots
                )
        return None

    def _made(
        self,
        thickness: float,
        width: float,
        length: float,
        centres: tuple[float, ...],
        height: float,
        depths: tuple[float, float],
        slots: tuple[float, float],
    ) -> Fit:
        embedded = self._embedded(depths, height)
        length = length or self._as_long_as(embedded)
        walls: dict[tuple[str, str], float] = {}
        for each in self.pairs:
            for seat, slot, depth in ((each.first, slots[0], depths[0]), (each.second, slots[1], depths[1])):
                for s in (min(centres), max(centres)):
                    for side, left, _ in seat.walls(s, height, slot, thickness, depth):
                        key = (seat.part.id, side.name)
                        walls[key] = min(walls.get(key, inf), left)
        found = tuple(Wall(part, name, even(left)) for (part, name), left in walls.items())
        return Fit(
            thickness,
            width,
            even(length),
            centres,
            even(height),
            depths,
            slots,
            embedded,
            found,
            self.limits.glue_room,
        )

    def _embedded(self, depths: tuple[float, float], height: float) -> tuple[float, float]:
        """What is left of slots in both halves when all is sawn."""
        pair = self.pairs[0]
        return even(depths[0] - pair.first.wasted(height)), even(depths[1] - pair.second.wasted(height))

    def _as_long_as(self, embedded: tuple[float, float]) -> float:
        """How long slips are where depths tell it."""
        return even(sum(embedded) - 2 * self.limits.glue_room)

    def _size(self, *mm: float) -> str:
        return " × ".join(self._l(one) for one in mm)


def _told(said: Refusal | None, refusal: Refusal) -> Refusal:
    """Of two refusals the one to tell: that even shorter slips are too short says nothing of the longer ones."""
    return refusal if said is None or refusal.key != "slips.length" else said
