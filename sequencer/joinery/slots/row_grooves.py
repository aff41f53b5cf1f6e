"""Grooves and rebates along the grain that a row of slots across it must keep out of. Lengths in mm.

One that the slots keep clear of wherever along the row they are, since it lies deeper or shallower in the wood, does
not count.
"""

from __future__ import annotations

from functools import lru_cache
from itertools import product
from math import hypot
from typing import NamedTuple

from sequencer.geometry.flat import Dot, apart, around, left
from sequencer.joinery.basis.nearness import COSINE_HAIR
from sequencer.joinery.basis.seats import Seat, add, dot
from sequencer.operations import Point, Trench

Stretch = tuple[float, float]
"""From where to where along a row."""


class InTheWay(NamedTuple):
    """A groove that slots come too near: from where to where along the row it lies for them, and where it crosses the
    line of the mouths, which in a row square to it is the same; and whether the slots go deeper than it, so that one
    could open in it."""

    near: float
    far: float
    at_mouths: Stretch
    passed: bool

    def mirrored(self, both: float) -> InTheWay:
        """The same seen from the other end of a row, whose ends add up to `both`."""
        low, high = self.at_mouths
        return InTheWay(both - self.far, both - self.near, (both - high, both - low), self.passed)


@lru_cache(maxsize=1 << 14)  # the same is asked for slips of every length and width
def in_the_way(seat: Seat, c: float, thickness: float, depth: float, least: float) -> tuple[InTheWay, ...]:
    """Where, in s, the grooves lie that slots this thick and deep at c would come nearer to than `least`. Along a row
    that slants across them it is more than their width: the slots go askew to them, and drift along as they deepen.
    """
    if abs(seat.along[1]) < COSINE_HAIR:
        return ()
    found = []
    for box in seat.body.grooves:
        groove = _within(seat, c, thickness, depth, least, box)
        if groove is not None:
            shallow, deep = (min(depth, max(0.0, v)) for v in groove)
            near, far = _along(seat, c, thickness, least, box, (shallow, deep))
            line = sorted((y - seat.mouth(0.0, c)[1]) / seat.along[1] for y in (box.low[1], box.high[1]))
            found.append(InTheWay(near, far, (line[0], line[1]), groove[1] - least < depth))
    return tuple(found)


def _along(seat: Seat, c: float, thickness: float, least: float, box: Trench, depths: Stretch) -> Stretch:
    """From where to where along the row a groove lies, for slots that keep `least` to it between these depths."""
    steep, mouth = seat.along[1], seat.mouth(0.0, c)[1]
    drift = [seat.axis[1] * depth for depth in depths]
    reach = least + thickness / 2 * hypot(steep, seat.across[1])
    ends = sorted(
        (y - mouth) / steep for y in (box.low[1] - max(drift) - reach, box.high[1] - min(drift) + reach)
    )
    return ends[0] + least + thickness / 2, ends[1] - least - thickness / 2


def _within(
    seat: Seat, c: float, thickness: float, depth: float, least: float, box: Trench
) -> Stretch | None:
    """From what depth to what depth a groove is within `least`, None where no slot of the row would be nearer to it:
    seen along the row, where a slot is as wide as it is thick, and the groove all that it is anywhere.
    """
    mouth = seat.mouth(0.0, c)

    def seen(point: Point) -> Dot:
        away = add(point, mouth, -1.0)
        return round(dot(away, seat.across), 6), round(dot(away, seat.axis), 6)

    whole = around(seen((x, y, z)) for x, y, z in product(*zip(box.low, box.high, strict=True)))
    half = thickness / 2
    beside = min(u for u, _ in whole) - half, -half - max(u for u, _ in whole)
    beyond = min(v for _, v in whole) - depth, -max(v for _, v in whole)
    if max(*beside, *beyond) >= least:
        return None
    # what the row runs towards ends it: only the planes beside it saw slots and groove off alike wherever these are
    planes = tuple(
        (dot(n, seat.across), dot(n, seat.axis), side.offset - dot(n, mouth))
        for side in seat.body.sides
        if abs(dot(n := side.normal, seat.along)) < COSINE_HAIR
    )
    slot = left([(-half, 0.0), (half, 0.0), (half, depth), (-half, depth)], planes)
    groove = left(whole, planes)
    if apart(slot, groove) >= least:
        return None
    return min(v for _, v in groove) - least, max(v for _, v in groove) + least
