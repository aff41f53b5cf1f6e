"""How deep the mortises of a joint go: as far as its slips ask for, as the walls allow and the mortiser plunges.

Lengths in mm.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil, floor, inf

from sequencer.joinery.basis.floor import Floor, even
from sequencer.joinery.basis.insides import side_of
from sequencer.joinery.basis.nearness import HAIR
from sequencer.joinery.basis.refusal import Refusal
from sequencer.joinery.basis.seats import Pair, Seat
from sequencer.joinery.slots.congruent import one_of_each
from sequencer.model.parts import Part, Slips


class Depths:
    """The depths of mortises in some pairs of seats that are placed alike."""

    def __init__(self, floor_: Floor, pairs: Sequence[Pair], equal: bool) -> None:
        self.floor, self.limits, self.pairs = floor_, floor_.limits, pairs
        self.kinds = one_of_each(pairs)
        self.equal = equal  # one depth in both halves, so that the depth stop stays
        self.grid, self._l = floor_.grid, floor_.length
        self.most = floor_.greatest("mortiser", "depth", self.limits.max_depth)
        self.listed = floor_.values("mortiser", "depth")  # the only depths there are; none: any
        self.offers: dict[tuple[float, float], None] = {}  # depths that might hold where others do not
        self._deepest_known: dict[tuple[float, ...], tuple[float, str]] = {}

    def guessed(self, height: float, length: float, wishes: Slips) -> tuple[float, float]:
        """How deep slots for slips so long are where both halves may be as deep as they should."""
        if wishes.depths:
            return wishes.depths
        share = length / 2 + self.limits.glue_room
        waste = [max((p.first, p.second)[h].wasted(height) for p in self.kinds) for h in (0, 1)]
        return share + waste[0], share + waste[1]

    def of(
        self,
        height: float,
        thickness: float,
        slots: tuple[float, float],
        centres: Sequence[float],
        length: float,
        wishes: Slips,
        offering: bool = True,
    ) -> tuple[float, float]:
        """Depths in both halves; Refusal, keeping nearby ones to offer, where these do not hold such slips or leave too
        little wood.
        """
        most, why = [], []
        for half, slot in enumerate(slots):
            seats = [(pair.first, pair.second)[half] for pair in self.kinds]
            least = min(self.deepest(seat, height, thickness, slot, centres) for seat in seats)
            most.append(least[0])
            why.append(least[1])
        for half in (0, 1) if wishes.at else ():
            if most[half] < HAIR:
                part = (self.pairs[0].first, self.pairs[0].second)[half].part.id
                places = ", ".join(self._l(centre) for centre in centres)
                raise Refusal(f"no slots go into {part} at {places}: {why[half]}", "", "slips.at")
        waste = [max((p.first, p.second)[h].wasted(height) for p in self.kinds) for h in (0, 1)]
        if wishes.depths:
            if offering:
                self._offer(wishes.depths, waste, most)
            for half in (0, 1):
                if wishes.depths[half] > most[half] + HAIR:
                    raise self._too_deep(half, height, thickness, slots, centres, wishes.depths[half])
            self._embedded(wishes.depths, waste, length)
            return wishes.depths
        share = length / 2 + self.limits.glue_room
        wanted = [share + waste[0], share + waste[1]]
        if self.equal:
            pass
        elif wanted[0] > most[0] + HAIR:
            wanted[1] += wanted[0] - floor(most[0] / self.grid + HAIR) * self.grid
            wanted[0] = floor(most[0] / self.grid + HAIR) * self.grid
        elif wanted[1] > most[1] + HAIR:
            wanted[0] += wanted[1] - floor(most[1] / self.grid + HAIR) * self.grid
            wanted[1] = floor(most[1] / self.grid + HAIR) * self.grid
        if offering:
            self._offer((wanted[0], wanted[1]), waste, most)
        if self.listed:
            return self._among_listed(wanted, waste, most, length)
        if length / 2 < self.limits.least_embedment - HAIR:
            raise self._short(length)
        for half in (0, 1):
            held = wanted[half] - waste[half] - self.limits.glue_room
            if wanted[half] > most[half] + HAIR or held < self.limits.least_embedment - HAIR:
                raise self._too_deep(half, height, thickness, slots, centres, share + waste[half])
        return even(wanted[0]), even(wanted[1])

    def deepest(
        self, seat: Seat, height: float, thickness: float, slot: float, centres: Sequence[float]
    ) -> tuple[float, str]:
        """How deep the slots of a seat may go, and what stops them; looked up where slips of other lengths asked."""
        asked = id(seat), height, thickness, slot, min(centres), max(centres)
        if asked not in self._deepest_known:
            self._deepest_known[asked] = self._reckoned(seat, height, thickness, slot, asked[-2:])
        return self._deepest_known[asked]

    def _reckoned(
        self, seat: Seat, height: float, thickness: float, slot: float, outermost: tuple[float, float]
    ) -> tuple[float, str]:
        best, why = self.most, f"the mortiser plunges {self._l(self.most)}"
        if seat.deepest < best:
            best, why = seat.deepest, seat.deepest_why
        # a like mortise from a leg's other inner side: this one stops short of its cheek
        before = seat.other_at - height - thickness / 2 - self.limits.least_wall
        if before < best:
            best, why = before, "it would come too near the mortise from the leg's other inner side"
        nearest = ""
        for s in outermost:
            for side, left, fall in seat.walls(s, height, slot, thickness, 0.0):
                room = left - self.limits.least_wall
                # an end wall that does not shrink with depth is the row's own affair
                depth = inf if fall < 1e-9 and room > -0.01 else -1.0 if fall < 1e-9 else room / fall
                if depth < best:
                    best, nearest = depth, side.name
        if nearest:
            wall = self._l(self.limits.least_wall)
            why = f"the shop keeps a wall of {wall} to the {self._named(seat.part, nearest)}"
        return best, why

    def _among_listed(
        self, wanted: Sequence[float], waste: Sequence[float], most: Sequence[float], length: float
    ) -> tuple[float, float]:
        """Of the depths that the mortiser lists the least that hold a slip and leave the walls: no less together than
        is wanted, and of as much the nearest to that. Refusal where there are none.
        """
        glue, least = self.limits.glue_room, self.limits.least_embedment
        ones, others = (
            [depth for depth in self.listed if gone + glue + least - HAIR < depth < deepest + HAIR]
            for gone, deepest in zip(waste, most, strict=True)
        )
        pairs = [
            (one, other)
            for one in ones
            for other in others
            if (one == other or not self.equal) and one + other > sum(wanted) - HAIR
        ]
        if not pairs:
            depths = ", ".join(self._l(one) for one in self.listed)
            raise Refusal(
                f"none of the mortiser's depths ({depths}) serves for slips {self._l(length)} long: "
                f"{self._l(wanted[0])} and {self._l(wanted[1])} are wanted, at most {self._l(most[0])} and "
                f"{self._l(most[1])} leave the walls",
                'other values of "depth" in the shop file, or other slips',
            )
        return min(pairs, key=lambda pair: (even(sum(pair)), abs(pair[0] - wanted[0])))

    def _offer(self, depths: tuple[float, float], waste: Sequence[float], most: Sequence[float]) -> None:
        """Keep the depths nearest to these that hold enough of a slip and leave the walls, if there are any."""
        step = 0.1 if self.floor.job.unit == "mm" else 0.0254
        found = []
        for wanted, gone, greatest in zip(depths, waste, most, strict=True):
            shallowest = self.limits.least_embedment + self.limits.glue_room + gone
            least = ceil(shallowest / step - HAIR) * step
            deepest = floor(greatest / step + HAIR) * step
            listed = [one for one in self.listed if shallowest - HAIR < one < greatest + HAIR]
            if least > deepest + HAIR or (self.listed and not listed):
                return
            nearest = min(listed, key=lambda one: abs(one - wanted), default=None)
            found.append(nearest if nearest is not None else even(min(max(wanted, least), deepest)))
        self.offers[found[0], found[1]] = None

    def _embedded(self, depths: tuple[float, float], waste: Sequence[float], length: float) -> None:
        """Refuse depths asked for that, less what is sawn away, hold too little of a slip as long as this (0: as they
        take), or leave it no room for glue.
        """
        glue, least = self.limits.glue_room, self.limits.least_embedment
        held = [depth - gone - glue for depth, gone in zip(depths, waste, strict=True)]
        for half in (0, 1):
            if held[half] < least - HAIR:
                raise Refusal(
                    f"a mortise {self._l(depths[half])} deep holds {self._l(max(held[half], 0.0))} of a slip when all "
                    f"is sawn and glue has its room, shop minimum {self._l(least)}",
                    "",
                    "slips.depths",
                )
        if length > sum(held) + HAIR:
            raise Refusal(
                f"slips {self._l(length)} long are longer than both mortises ({self._l(sum(held))} together "
                "when glue has its room)",
                f"slips of {self._l(sum(held))} or less, or deeper mortises",
                "slips.length",
            )
        if 0.0 < length < 2 * least - HAIR:
            raise self._short(length)

    def _short(self, length: float) -> Refusal:
        """The refusal of slips of which no half holds enough."""
        least = self.limits.least_embedment
        return Refusal(
            f"slips {self._l(length)} long have {self._l(length / 2)} in each half, shop minimum {self._l(least)}",
            f"slips of {self._l(2 * least)} or more, or a smaller least_embedment in the shop's [joinery]",
            "slips.length",
        )

    def _too_deep(
        self,
        half: int,
        height: float,
        thickness: float,
        slots: tuple[float, float],
        centres: Sequence[float],
        depth: float,
    ) -> Refusal:
        """The refusal of a depth."""
        return Refusal(
            lambda: self._wall_left(half, height, thickness, slots, centres, depth), "", "slips.depths"
        )

    def _wall_left(
        self,
        half: int,
        height: float,
        thickness: float,
        slots: tuple[float, float],
        centres: Sequence[float],
        depth: float,
    ) -> str:
        """Of a depth that is too deep the wall it would leave, in words: the least of all pairs."""
        left, surface, part = min(
            (
                (left, side.name, seat.part)
                for pair in self.pairs
                for seat in ((pair.first, pair.second)[half],)
                for side, left, fall in seat.walls(centres[0], height, slots[half], thickness, depth)
                if fall > 1e-9
            ),
            key=lambda wall: (wall[0], wall[1], wall[2].id),
            default=(inf, "", self.pairs[0].first.part),
        )
        if left < self.limits.least_wall:
            return (
                f"wall to the {self._named(part, surface)} of {part.id} would be {self._l(left)} at depth "
                f"{self._l(depth)}, shop minimum {self._l(self.limits.least_wall)}"
            )
        seat = (self.pairs[0].first, self.pairs[0].second)[half]
        stop = self.deepest(seat, height, thickness, slots[half], centres)[1]
        return f"a mortise {self._l(depth)} deep in {seat.part.id} is too deep: {stop}"

    def _named(self, part: Part, surface: str) -> str:
        """A surface in words: a face by the side it is on, where only one of the two is inside."""
        side = side_of(surface, part, self.floor.job)
        return f"{side} face" if side else surface
