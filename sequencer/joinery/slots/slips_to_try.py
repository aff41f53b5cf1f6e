"""Which slips some pairs placed alike may take: their sizes and numbers, the most fitting first.

The thickness nearest to the shop's share of the stock, then the longest slip; where none of the habit's slips hold
since the wood narrows or other slots are in the way, fewer and narrower ones, too. Lengths in mm.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Literal, NamedTuple

from sequencer.joinery.basis.floor import Floor, even
from sequencer.joinery.basis.nearness import HAIR
from sequencer.joinery.basis.refusal import Refusal
from sequencer.joinery.slots.depths import Depths
from sequencer.joinery.slots.slot_rows import SlotRow
from sequencer.model.parts import Slips


class ToTry(NamedTuple):
    """Slips to try: the widest of `widths` that go, as many as `number` (None: as the shop's habit says), and
    as long as `length` (0: as the depths asked for take)."""

    widths: tuple[float, ...]
    number: int | None
    length: float


def cutters(floor: Floor, stock: float) -> list[float]:
    """The cutters the shop has, the most fitting for stock of this thickness first."""
    wanted = stock * floor.limits.slip_share
    return sorted(floor.cutters, key=lambda c: (abs(c - wanted), c))


def slot_lengths(
    floor: Floor, width: float, slack: Literal["first", "second", "none"]
) -> tuple[float, float]:
    """How long the slots are for slips of a width, in the first and the second half."""
    loose = even(width + floor.limits.slack)
    match slack:
        case "first":
            return loose, width
        case "second":
            return width, loose
        case _:
            return width, width


class SlipsToTry:
    """The slips to try in pairs of these depths, whose row at each height `row` tells; all shorter than
    `shorter_than`."""

    def __init__(
        self,
        floor_: Floor,
        stock: float,
        depths: Depths,
        row: Callable[[float], SlotRow],
        shorter_than: float,
    ) -> None:
        self.floor, self.limits = floor_, floor_.limits
        self.stock, self.depths, self.row, self.shorter_than = stock, depths, row, shorter_than

    def sizes(self, wishes: Slips) -> Iterator[tuple[float, list[float], list[float]]]:
        """Thickness, widths and lengths to try, the most fitting first."""
        for cutter in cutters(self.floor, self.stock):
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
            widths = [width for width in widths if self._listed(width, wishes)] or widths
            lengths = sorted({s.length for s in ready} or self.limits.slip_lengths, reverse=True)
            most = cutter * self.limits.slip_proportion
            yield (
                cutter,
                [wishes.width] if wishes.width else widths,
                [wishes.length]
                if wishes.length
                else [one for one in lengths if one <= most + HAIR and one < self.shorter_than - HAIR],
            )

    def _listed(self, width: float, wishes: Slips) -> bool:
        """Whether the mortiser has both slots for slips of a width, or can be set to any."""
        setting = self.floor.setting("mortiser", "slot_length")
        if setting is None or not setting.values:
            return True
        return all(setting.listed(slot) is not None for slot in slot_lengths(self.floor, width, wishes.slack))

    def habitual(self, widths: Sequence[float], lengths: Sequence[float], wishes: Slips) -> list[ToTry]:
        """As many as are asked for, or as the shop's habit says, of each length."""
        return [ToTry(tuple(widths), wishes.count, length) for length in _tried(lengths, wishes)]

    def fewer(
        self,
        thickness: float,
        widths: Sequence[float],
        lengths: Sequence[float],
        wishes: Slips,
        height: float,
    ) -> list[ToTry]:
        """Narrower, shorter and fewer ones, too, as they go into the row at a height: of as many those first that have
        the most surface."""
        row, found = self.row(height), dict[ToTry, None]()
        for length in _tried(lengths, wishes):
            depths = self.depths.guessed(height, length, wishes)
            grooves = row.grooves(thickness, height, depths)
            most = len(row.laid_out(widths, wishes, grooves).centres)
            for count in [wishes.count] if wishes.count or wishes.at else range(most, 0, -1):
                for narrower in range(len(widths)):
                    asked = wishes.model_copy(update={"count": count})
                    try:
                        laid = row.laid_out(widths[narrower:], asked, grooves)
                    except Refusal:
                        break
                    found[ToTry((laid.width,), len(laid.centres), length)] = None
        return sorted(found, key=lambda one: (-(one.number or 1), -one.widths[0] * one.length))

    def promising(
        self, rows: Sequence[ToTry], thickness: float, heights: Sequence[float], wishes: Slips
    ) -> list[ToTry]:
        """Those of slips as long as go in where there are fewest and narrowest: such slots, spread about the middle of
        the row, are nowhere nearer to a surface than the nearest slot of others.
        """
        fewest = min(rows, key=lambda one: (one.number or 1, one.widths[0]), default=None)
        if fewest is None:
            return []
        slots = slot_lengths(self.floor, fewest.widths[0], wishes.slack)
        asked = wishes.model_copy(update={"count": fewest.number})
        least = self.limits.least_embedment + self.limits.glue_room
        open_: list[tuple[float, tuple[float, ...]]] = []
        for height in heights:
            try:
                centres = self.row(height).laid_out(fewest.widths, asked).centres
            except Refusal:
                continue
            if all(
                self.depths.deepest(seat, height, thickness, slot, centres)[0] - seat.wasted(height)
                > least - HAIR
                for pair in self.depths.kinds
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


def _tried(lengths: Sequence[float], wishes: Slips) -> Sequence[float]:
    """The lengths to try: 0 where the depths asked for tell it."""
    return [0.0] if wishes.depths and not wishes.length else lengths
