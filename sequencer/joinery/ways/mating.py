"""Which mortise meets which, and how often in the batch: the plan's meetings, from the pairs of seats."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import pairwise
from typing import assert_never

import numpy as np

from sequencer.joinery.basis.seats import Pair, Seat, dot
from sequencer.joinery.meetings.joined import Way
from sequencer.joinery.meetings.rings import Ring, RingJoint, bevel_pair, square_pair
from sequencer.joinery.meetings.square import panel_row
from sequencer.joinery.slots.fit import Fit
from sequencer.joinery.trenches.cuts import TrenchJoint
from sequencer.model.parts import EdgeToEdge, EndToEdge, EndToFace, Joint, LegToApron
from sequencer.operations import Meeting, Mortises, Operation, Slip, Slot


def meetings_of(
    joint: Joint,
    ring: Ring | None,
    way: Way,
    made: Sequence[Operation],
    pieces: Mapping[str, int],
    number: int,
) -> list[Meeting]:
    """The meetings of a joint made by one way, whose operations are `made`.

    `pieces` counts each part's pieces in the batch, spares aside; `number` the rings or panels made of them.
    """
    found = []
    for pairs, fit in way.fits:
        for pair in pairs:
            here, there = (_mortises(joint.id, seat, fit, half, made) for half, seat in _halves(pair))
            if here is None or there is None:
                continue
            (first, one), (second, other) = here, there
            found.append(
                Meeting(
                    joint=joint.id,
                    times=_times(joint, ring, way, pair, pieces, number),
                    slip=Slip(thickness=fit.thickness, width=fit.width, length=fit.length),
                    first=first,
                    second=second,
                    turned=one != other,
                )
            )
    return found


def _halves(pair: Pair) -> Iterable[tuple[int, Seat]]:
    return enumerate((pair.first, pair.second))


def _mortises(
    joint: str, seat: Seat, fit: Fit, half: int, made: Sequence[Operation]
) -> tuple[Mortises, bool] | None:
    """Where a seat's row is plunged, in the order of the slips, and whether it is seen from its other end there: a
    row that lies alike from both ends of the part is plunged but once."""
    for op in made:
        slots = [
            (n, cut) for n, cut in enumerate(op.cuts) if isinstance(cut, Slot) and cut.part == seat.part.id
        ]
        row: list[int] = []
        turned = False
        for s in fit.centres:
            wanted = seat.slot(joint, s, fit.height, fit.slots[half], fit.thickness, fit.depths[half])
            match = next(((n, cut) for n, cut in slots if _same_wood(wanted, cut)), None)
            if match is None:
                break
            row.append(match[0])
            turned = dot(wanted.along, match[1].along) < 0
        else:
            return Mortises(operation=op.id, cuts=tuple(row)), turned
    return None


def _same_wood(one: Slot, other: Slot) -> bool:
    """Whether two slots take the same wood out of a part, seen from whichever end."""
    sizes = [(slot.length, slot.width, slot.depth) for slot in (one, other)]
    return (
        np.allclose(one.mouth, other.mouth, rtol=0.0, atol=1e-5)
        and np.allclose(one.axis, other.axis, rtol=0.0, atol=1e-7)
        and abs(abs(dot(one.along, other.along)) - 1.0) < 1e-7
        and np.allclose(sizes[0], sizes[1], rtol=0.0, atol=1e-7)
    )


def _times(
    joint: Joint, ring: Ring | None, way: Way, pair: Pair, pieces: Mapping[str, int], number: int
) -> int:
    """How often a pair of seats meets in the batch."""
    if ring is not None:
        bodies = {seat.part.id: seat.body for each in way.pairs for _, seat in _halves(each)}
        make = square_pair if way.name == "square-first" else bevel_pair
        return number * sum(make(ring, corner, bodies) == pair for corner in ring.corners)
    assert not isinstance(joint, (RingJoint, TrenchJoint))
    if isinstance(joint, EdgeToEdge):
        row = panel_row(joint, {seat.part.id: seat.part for p in way.pairs for _, seat in _halves(p)})
        return number * sum((a, b) == (pair.first.part.id, pair.second.part.id) for a, b in pairwise(row))
    if isinstance(joint, LegToApron):  # each apron has its two ends, the legs' sides serve whichever comes
        return pieces[pair.first.part.id]
    if isinstance(joint, (EndToEdge, EndToFace)):
        # A place on the second part takes the ends listed for it in turn: some of its pieces one end, some the other.
        place = _place(pair.second)
        return pieces[pair.second.part.id] // sum(_place(other.second) == place for other in way.pairs)
    assert_never(joint)


def _place(seat: Seat) -> tuple[object, ...]:
    return seat.part.id, seat.base, seat.at, seat.shift
