"""Where the mortises go: slip, depth, height and places of the slots, within the shop's limits.

The search is plain: the thickness nearest to the shop's share of the stock, then the longest slip, then the least
shift from the middle toward the inside that leaves the walls (of boards of unlike thickness placed alike, from the
middle of the thinnest), of those at which the scale of the fence can be set. The first that fits is taken; one clear of
what crosses its row goes before one that opens in it. Where grooves lie across the row, what goes in beside them is
weighed by the surface of the slips. Where none holds since the wood narrows, a second search goes
on to fewer and narrower slips; so does one that moves the slots along their row where they come too near the slots of
another joint.
Lengths in mm.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from math import inf
from typing import NamedTuple

from sequencer.geometry.pivot import Pivot
from sequencer.joinery.floor import Floor, even
from sequencer.joinery.nearness import HAIR
from sequencer.joinery.refusal import Refusal
from sequencer.joinery.seats import SQUARE, Pair, Seat, dot
from sequencer.joinery.slots.depths import Depths
from sequencer.joinery.slots.fit import Fit, Taken, Wall
from sequencer.joinery.slots.slot_rows import Barred, SlotRow
from sequencer.joinery.tries import marks
from sequencer.model.parts import Slips
from sequencer.operations import Slot, Trench
from sequencer.quantity import counted

TRIES = 4
"""So often slots are laid out anew beside the grooves in the way at the depths they turn out to need."""
HEIGHTS = 100
"""So many heights are tried: all of them in stock of 100 mm."""


class _Slips(NamedTuple):
    """Slips to try: the widest of `widths` that go, as many as `number` (None: as the shop's habit says), and
    as long as `length` (0: as the depths asked for take)."""

    widths: tuple[float, ...]
    number: int | None
    length: float


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
    ) -> None:
        """`crossing`: trenches across rows along the grain, which the slots keep out of if they can; `shorter_than`:
        what the slips chosen must be, mm; `taken`: other slots in these parts, which they must keep clear of; `alike`:
        whether the row should be the same from both its ends.
        """
        self.floor, self.limits, self.pairs, self.wishes = floor_, floor_.limits, pairs, wishes
        self.crossing, self.shorter_than, self.taken = crossing, shorter_than, taken
        self.equal, self.alike = equal, alike
        self.depths = Depths(floor_, pairs, equal)
        self.stock = share_of
        self.grid, self._l = floor_.grid, floor_.length
        seats = [seat for pair in pairs for seat in (pair.first, pair.second)]
        # whether the wood may narrow towards an end of the row, as it does at the tip of a mitre: there a slot may be
        # too near a surface that one farther in, or a narrower one, keeps clear of
        self._narrows = any(
            SQUARE < abs(dot(side.normal, seat.along)) < 1 - SQUARE
            for seat in seats
            for side in seat.body.sides
        )
        self._grooved = any(seat.body.grooves and abs(seat.along[1]) > SQUARE for seat in seats)
        self._first = 0.0  # the height tried first
        self._rows: dict[float, SlotRow] = {}
        self._leans = any(
            abs(dot(side.normal, seat.along)) > SQUARE and abs(dot(side.normal, seat.across)) > SQUARE
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
        if other is not None and asked:
            other_count = self.wishes.count not in (None, other.count)
            slips = f"{counted(other.count, 'slip')}," if other_count else "slips"
            works = (
                f"{slips} {self._size(other.thickness, other.width, other.length)}, "
                f"{self._l(other.depths[0])} and {self._l(other.depths[1])} deep, "
                f"slips.height {self._l(other.height)}"
            )
            if self.wishes.at:
                works += f", centres at {', '.join(self._l(centre) for centre in other.centres)}"
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
        raise Refusal(said.message, said.accepted, key, said.sizes)

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
        if self.wishes.thickness and not any(abs(self.wishes.thickness - c) < 0.01 for c in self.cutters()):
            raise Refusal(
                f"the shop has no cutter of {self._l(self.wishes.thickness)}",
                ", ".join(self._l(c) for c in self.cutters()),
                "slips.thickness",
            )

        thinnest = self.wishes.thickness or min(self.cutters())
        if self.wishes.width and self.wishes.width <= thinnest + HAIR:
            raise Refusal(
                f"a slip {self._l(self.wishes.width)} wide is not wider than {self._l(thinnest)}, the "
                f"{'thickness asked for' if self.wishes.thickness else 'thinnest cutter'}",
                f"a width of more than {self._l(thinnest)}",
                "slips.width",
            )

    def cutters(self) -> list[float]:
        """The cutters the shop has, the most fitting first."""
        wanted = self.stock * self.limits.slip_share
        return sorted(self.floor.cutters, key=lambda c: (abs(c - wanted), c))

    def _sizes(self, wishes: Slips) -> Iterator[tuple[float, list[float], list[float]]]:
        """Thickness, widths and lengths to try, the most fitting first."""
        for cutter in self.cutters():
            if wishes.thickness and abs(cutter - wishes.thickness) > 0.01:
                continue
            if wishes.width and wishes.width <= cutter + HAIR:
                continue
            ready = [s for s in self.limits.slips if abs(s.thickness - cutter) < 0.01]
            if self.limits.slips and not ready and not (wishes.width and wishes.length):
                continue
            ready_widths = {s.width for s in ready} or self.limits.slip_widths
            widths = [width for width in sorted(ready_widths, reverse=True) if width > cutter + HAIR]
            if not widths and not wishes.width:
                continue
            lengths = sorted({s.length for s in ready} or self.limits.slip_lengths, reverse=True)
            most = cutter * self.limits.slip_proportion
            yield (
                cutter,
                [wishes.width] if wishes.width else widths,
                [wishes.length]
                if wishes.length
                else [one for one in lengths if one <= most + HAIR and one < self.shorter_than - HAIR],
            )

    def _search(self, wishes: Slips) -> tuple[Fit | None, Refusal]:
        said: Refusal | None = None
        for fewer in (False, True) if self._narrows and self.taken is None else (self.taken is not None,):
            for thickness, widths, lengths in self._sizes(wishes):
                try:
                    return self._with_thickness(thickness, widths, lengths, wishes, fewer), Refusal("")
                except Refusal as refusal:
                    said = said or refusal
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
        low, high = self._heights(thickness, wishes)
        if wishes.height and not low - HAIR <= wishes.height <= high + HAIR:
            raise self._at_surface(wishes.height, thickness, low, high)
        heights = self._within_reach(self._shifted(low, high, wishes))
        self._first = max(low, min(heights[0], high))
        slips: Iterable[_Slips] = self._slips(thickness, widths, lengths, wishes, fewer)
        if fewer and self.taken is None:
            slips = self._promising(list(slips), thickness, heights, wishes)
        places = [max(low, min(height, high)) for height in heights]
        if self.taken is None:
            found, said = self._best(slips, places, thickness, wishes, fewer)
        else:
            found, said = self._moved(slips, places, thickness, wishes)
        if found is not None:
            return found
        raise said or Refusal(
            f"no slip is short enough for a cutter of {self._l(thickness)}", "shorter slips in the shop"
        )

    def _best(
        self, slips: Iterable[_Slips], heights: Sequence[float], thickness: float, wishes: Slips, fewer: bool
    ) -> tuple[Fit | None, Refusal | None]:
        """The first of some slips that hold, at the first height at which they do, clear of what crosses their row if
        they can be; beside grooves those before them that need no other height than other slips of their length
        (`_in_place`).
        """
        slips = list(slips)
        if self._grooved and (found := self._in_place(slips, heights, thickness, wishes, fewer)) is not None:
            return found, None
        said: Refusal | None = None
        unclear: Fit | None = None  # slots may open in a groove or housing
        for each in slips:
            for place, height in enumerate(heights):
                try:
                    fit, _, clear = self._at(self._row(height), height, thickness, each, wishes, not fewer)
                except Refusal as refusal:
                    said = _told(said, refusal)
                    continue
                if clear:
                    return self._nearer(fit, heights[:place], each, wishes) if self._grooved else fit, None
                unclear = unclear or fit
        return unclear, said

    def _in_place(
        self, slips: Iterable[_Slips], heights: Sequence[float], thickness: float, wishes: Slips, fewer: bool
    ) -> Fit | None:
        """Slips clear of grooves at the first height that is deep enough for slips so long: farther from the middle it
        is only grooves that leave other rows, and fewer slips may be longer. Those with most surface, of as much the
        longest; of `fewer` the first, as many as go in. None where none hold.
        """
        best: tuple[float, Fit] | None = None
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
            row = self._row(height)
            for nth, surface in enumerate(self._surfaces(row, height, thickness, each, wishes)):
                if best is not None and surface <= best[0] + HAIR:
                    break
                try:
                    fit, _, clear = self._at(row, height, thickness, each, wishes, False, nth)
                except Refusal:
                    continue
                if clear:
                    best = surface, fit
                    break
            if fewer and best is not None:
                break
        return best[1] if best is not None else None

    def _deep_enough(
        self, height: float, thickness: float, width: float, length: float, wishes: Slips
    ) -> bool:
        """Whether the wood at a height holds a slip at an end of the row or in its middle, grooves or not."""
        row, slots = self._row(height), self._slots(width)
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
        self, row: SlotRow, height: float, thickness: float, slips: _Slips, wishes: Slips
    ) -> list[float]:
        """What slips hold by, mm² of a side of them (mm, where depths tell their length), in each layout of a row that
        is worth a try, in the order of `SlotRow.layouts`."""
        grooves = row.grooves(thickness, height, self.depths.guessed(height, slips.length, wishes))
        try:
            layouts = row.layouts(
                slips.widths,
                wishes.model_copy(update={"count": slips.number}),
                grooves,
                others=self._narrows,  # elsewhere all are too deep where some are
            )
        except Refusal:
            return []
        return [laid.width * len(laid.centres) * (slips.length or 1.0) for laid in layouts]

    def _nearer(self, fit: Fit, heights: Sequence[float], slips: _Slips, wishes: Slips) -> Fit:
        """The fit, at the first of some heights at which the very same slots hold and are clear, if there is one: where
        grooves leave a row fewer slips, these may hold as well where no groove is in the way.
        """
        slot = max(fit.slots)
        for height in heights:
            row = self._row(height)
            try:
                depths = self.depths.of(
                    height, fit.thickness, fit.slots, fit.centres, slips.length, wishes, offering=False
                )
            except Refusal:
                continue
            barred = [
                *row.crossed(slot, fit.thickness, height, self.crossing),
                *row.beside(row.grooves(fit.thickness, height, depths), slot),
            ]
            if row.holds(fit.centres, slot) and row.clear(fit.centres, barred):
                return self._made(
                    fit.thickness, fit.width, slips.length, fit.centres, height, depths, fit.slots
                )
        return fit

    def _moved(
        self, slips: Iterable[_Slips], heights: Sequence[float], thickness: float, wishes: Slips
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

    def _at_surface(self, height: float, thickness: float, low: float, high: float) -> Refusal:
        """The refusal of a height asked for at which slots leave no wall beside them."""
        return Refusal(
            f"slots {self._l(thickness)} thick, their middle at {self._l(height)}, leave less than "
            f"{self._l(self.limits.least_wall)} of wood beside them (the shop's minimum)",
            f"{self._l(low)} to {self._l(high)}" if low <= high else "thicker stock, or a thinner cutter",
            "slips.height",
        )

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
        slips: _Slips,
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
            slots = self._slots(laid.width)
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

    def _slips(
        self,
        thickness: float,
        widths: Sequence[float],
        lengths: Sequence[float],
        wishes: Slips,
        fewer: bool,
    ) -> Iterator[_Slips]:
        """Slips to try; with `fewer` narrower, shorter and fewer ones, too: of as many those first that have the most
        surface."""
        tries: Sequence[float] = [0.0] if wishes.depths and not wishes.length else lengths
        if not fewer:
            yield from (_Slips(tuple(widths), wishes.count, length) for length in tries)
            return
        row, found = self._row(self._first), dict[_Slips, None]()
        for length in tries:
            depths = self.depths.guessed(self._first, length, wishes)
            grooves = row.grooves(thickness, self._first, depths)
            most = len(row.laid_out(widths, wishes, grooves).centres)
            for count in [wishes.count] if wishes.count or wishes.at else range(most, 0, -1):
                for narrower in range(len(widths)):
                    asked = wishes.model_copy(update={"count": count})
                    try:
                        laid = row.laid_out(widths[narrower:], asked, grooves)
                    except Refusal:
                        break
                    found[_Slips((laid.width,), len(laid.centres), length)] = None
        yield from sorted(found, key=lambda one: (-(one.number or 1), -one.widths[0] * one.length))

    def _promising(
        self, rows: Sequence[_Slips], thickness: float, heights: Sequence[float], wishes: Slips
    ) -> list[_Slips]:
        """Those of slips as long as go in where there are fewest and narrowest: such slots, spread about the middle of
        the row, are nowhere nearer to a surface than the nearest slot of others.
        """
        fewest = min(rows, key=lambda one: (one.number or 1, one.widths[0]), default=None)
        if fewest is None:
            return []
        slots = self._slots(fewest.widths[0])
        asked = wishes.model_copy(update={"count": fewest.number})
        least = self.limits.least_embedment + self.limits.glue_room
        open_: list[tuple[float, tuple[float, ...]]] = []
        for height in heights:
            try:
                centres = self._row(height).laid_out(fewest.widths, asked).centres
            except Refusal:
                continue
            if all(
                self.depths.deepest(seat, height, thickness, slot, centres)[0] - seat.wasted(height)
                > least - HAIR
                for pair in self.pairs
                for seat, slot in zip((pair.first, pair.second), slots, strict=True)
            ):
                open_.append((height, centres))

        def holds(height: float, centres: tuple[float, ...], length: float) -> bool:
            try:
                self.depths.of(height, thickness, slots, centres, length, wishes, offering=False)
            except Refusal:
                return False
            return True

        lengths = {one.length for one in rows}
        holding = {length for length in lengths if any(holds(*place, length) for place in open_)}
        return [one for one in rows if one.length in holding]

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

    def _heights(self, thickness: float, wishes: Slips) -> tuple[float, float]:
        """Least and greatest height at which the mouth leaves walls; Refusal where the stock is too thin."""
        wall = self.limits.least_wall
        low = max(p.least for p in self.pairs) + thickness / 2 + wall
        high = min(p.most for p in self.pairs) - thickness / 2
        for pair in self.pairs:
            # the far surface leans away from the mouth: its wall is measured square to it
            for seat in (pair.first, pair.second):
                for side, left, _ in seat.walls(0.0, high, thickness, thickness, 0.0):
                    toward, run = dot(side.normal, seat.across), dot(side.normal, seat.along)
                    # (a surface that the row runs towards, such as a level edge, bounds the row, not the height)
                    if toward > 0.5 and abs(run) < SQUARE and left < wall:
                        high = min(high, high - (wall - left) / toward)
        if low > high + HAIR and not wishes.height:
            raise Refusal(
                f"stock {self._l(self.stock)} thick is too thin for a slot of {self._l(thickness)} and two walls "
                f"of {self._l(wall)} (the shop's minimum)",
                "thicker stock, or a thinner cutter",
                "slips.thickness",
                sizes=True,
            )
        return low, high

    @property
    def _middle(self) -> float:
        """The height that is taken where it leaves the walls.

        The walls on the fence's side are the same whatever the board, those opposite least in the thinnest: in its
        middle the least of all is greatest, and any place farther in is a shift. (Boards of a ring are equally thick,
        but bevels of unlike tilt are not equally wide: the same of the narrowest, whose back is nearest.)
        """
        return min(pair.middle for pair in self.pairs)

    def _shifted(self, low: float, high: float, wishes: Slips) -> list[float]:
        """Heights to try: the middle, then farther and farther toward the inside."""
        if wishes.height:
            return [wishes.height]
        if self.equal:
            return [self._middle]
        start = min(max(self._middle, low), high)
        return [start, *marks(start, high, self.grid, HEIGHTS)]

    def _within_reach(self, heights: Sequence[float]) -> list[float]:
        """Those of some heights for which the scale of the fence's height can be set, all of them where there is none.
        Raises Refusal where there is none since the pivot shifts the scale of a tilted fence."""
        setting = self.floor.setting("mortiser", "fence_height")
        if setting is None or setting.values:
            return list(heights)
        pivot = Pivot(self.limits.pivot.behind, self.limits.pivot.ahead)
        seats = [seat for pair in self.pairs for seat in (pair.first, pair.second) if seat.fence]

        def scale(seat: Seat, height: float) -> float:
            return even(pivot.dial(even(seat.from_fence(height)), even(seat.angle)))

        found = [h for h in heights if not any(setting.outside(scale(seat, h)) for seat in seats)]
        for seat in () if found else seats:
            place = even(seat.from_fence(heights[0]))
            reads = scale(seat, heights[0])
            if setting.outside(reads) and not setting.outside(place):
                raise Refusal(
                    f"the scale of the mortiser's fence height would have to read {self._l(reads)} for slots "
                    f"{self._l(place)} from the edge",
                    setting.accepted(self.floor.job.unit),
                    "slips.height" if self.wishes.height else "",
                )
        return found or list(heights)

    def _slots(self, width: float) -> tuple[float, float]:
        loose = even(width + self.limits.slack)
        match self.wishes.slack:
            case "first":
                return loose, width
            case "second":
                return width, loose
            case _:
                return width, width

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
        pair = self.pairs[0]
        embedded = (
            even(depths[0] - pair.first.wasted(height)),
            even(depths[1] - pair.second.wasted(height)),
        )
        if length == 0.0:
            length = even(sum(embedded) - 2 * self.limits.glue_room)
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

    def _size(self, *mm: float) -> str:
        return " × ".join(self._l(one) for one in mm)


def _told(said: Refusal | None, refusal: Refusal) -> Refusal:
    """Of two refusals the one to tell: that even shorter slips are too short says nothing of the longer ones."""
    return refusal if said is None or refusal.key != "slips.length" else said
