"""Grooves and rebates along the grain that a row of slots across it must keep out of. Lengths in mm.

One that the slots keep clear of wherever along the row they are, since it lies deeper or shallower in the wood, does
not count.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from sequencer.geometry.convex import Plane
from sequencer.geometry.slots import SlotSolid, distance_to_box
from sequencer.joinery.seats import SQUARE, Seat, Z, dot, neg
from sequencer.operations import Trench

Stretch = tuple[float, float]
"""From where to where along a row."""


class InTheWay(NamedTuple):
    """A groove that slots come too near: from where to where along the row it lies, and whether the slots go deeper
    than it, so that one could open in it."""

    near: float
    far: float
    passed: bool


def in_the_way(seat: Seat, c: float, thickness: float, depth: float, least: float) -> tuple[InTheWay, ...]:
    """Where, in s, the grooves lie that slots this thick and deep at c would come nearer to than `least`."""
    steep = seat.along[1]
    if abs(steep) < SQUARE:
        return ()
    start = seat.mouth(0.0, c)
    found = []
    for box in seat.body.grooves:
        near, far = sorted((y - start[1]) / steep for y in (box.low[1], box.high[1]))
        if _near(seat, c, thickness, depth, least, box, (near, far)):
            ahead = [
                [(x - m) * a for x in xs]
                for *xs, m, a in zip(box.low, box.high, start, seat.axis, strict=True)
            ]
            found.append(InTheWay(near, far, sum(max(both) for both in ahead) < depth))
    return tuple(found)


def _near(
    seat: Seat, c: float, thickness: float, depth: float, least: float, box: Trench, stretch: Stretch
) -> bool:
    """Whether some slot of the row would be nearer to a groove than `least`: one so long that it runs past it."""
    near, far = stretch
    whole = far - near + 2 * depth + thickness
    slot = SlotSolid.of(seat.slot("", (near + far) / 2, c, whole, thickness, depth))
    if max(box.low[2] - slot.reach(np.array(Z)), -slot.reach(np.array(neg(Z))) - box.high[2]) >= least:
        return False
    # what the row runs towards ends it: only the planes beside it saw slots and groove off alike wherever these are
    beside = [side for side in seat.body.sides if abs(dot(side.normal, seat.along)) < SQUARE]
    planes = [Plane(side.name, np.array(side.normal), side.offset) for side in beside]
    return distance_to_box(slot, box, planes) < least
