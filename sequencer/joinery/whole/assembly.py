"""How the parts come together: each piece placed in space, and which meets which.

The seats of a pair lie in one frame by construction (see `sequencer.joinery.basis.seats`), so the second part's place
follows from the first's. A ring is placed corner by corner from its first part: whether it closes is for a check to
find out. One joint is put together here; whether those of a whole thing agree is found out by `together`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import assert_never

import numpy as np
from numpy.typing import NDArray

from sequencer.joinery.basis.seats import Body, Pair, Seat
from sequencer.joinery.meetings.joined import Joined, Way
from sequencer.joinery.meetings.rings import RingJoint, bevel_pair, square_pair
from sequencer.joinery.meetings.square import panel_row
from sequencer.joinery.trenches.cuts import TrenchJoint
from sequencer.model.parts import EdgeToEdge, EndToEdge, EndToFace, LegToApron, Part

Matrix = NDArray[np.float64]
Key = tuple[str, int]


@dataclass(frozen=True, eq=False)
class Placed:
    """One piece in space: a point p of its own frame lies at `rotation @ p + origin` (mm)."""

    part: str
    copy: int
    rotation: Matrix
    origin: Matrix


def put_together(
    each: Joined, way: Way, bodies: Mapping[str, Body], parts: Mapping[str, Part]
) -> tuple[Placed, ...]:
    """The pieces of a joint with slips, put together by one of its ways."""
    links = links_of(each, way, bodies, parts)
    fits = {pair: fit for pairs, fit in way.fits for pair in pairs}
    places: dict[Key, tuple[Matrix, Matrix]] = {links[0][0]: (np.eye(3), np.zeros(3))}
    waiting = list(links)
    while waiting:
        rest = []
        for a, b, pair in waiting:
            height = fits[pair].height
            if a in places:
                places.setdefault(b, _beside(places[a], pair.first, pair.second, height))
            elif b in places:
                places[a] = _beside(places[b], pair.second, pair.first, height)
            else:
                rest.append((a, b, pair))
        if len(rest) == len(waiting):
            break
        waiting = rest
    return tuple(Placed(part, copy, r, t) for (part, copy), (r, t) in places.items())


def _beside(place: tuple[Matrix, Matrix], seat: Seat, other: Seat, height: float) -> tuple[Matrix, Matrix]:
    """Where the part with the seat `other` lies when the part with `seat` lies at `place`."""
    turn, shift = place
    here = turn @ np.column_stack([seat.along, seat.across, [-a for a in seat.axis]])
    there = np.column_stack([other.along, other.across, other.axis])
    rotation = here @ there.T
    between = seat.wasted(height) + other.wasted(height)
    meet = turn @ (np.array(seat.origin) + between * np.array(seat.axis)) + shift
    return rotation, meet - rotation @ np.array(other.origin)


def links_of(
    each: Joined, way: Way, bodies: Mapping[str, Body], parts: Mapping[str, Part]
) -> list[tuple[Key, Key, Pair]]:
    """Which piece (part, copy) meets which, by which pair of seats."""
    joint = each.joint
    if each.ring is not None:
        make = square_pair if way.name == "square-first" else bevel_pair
        found = []
        for corner in each.ring.corners:
            pair = make(each.ring, corner, bodies)
            here = (each.ring.places[corner.here], corner.here)
            there = (each.ring.places[corner.next], corner.next)
            swapped = pair.first.part.id != here[0] or pair.first.base not in (
                corner.first.at,
                corner.first.makes,
            )
            if way.name == "square-first":
                swapped = pair.first.fence != corner.first.at or pair.first.part.id != here[0]
            found.append((there, here, pair) if swapped else (here, there, pair))
        return found
    assert not isinstance(joint, (RingJoint, TrenchJoint))
    if isinstance(joint, EdgeToEdge):
        row = panel_row(joint, parts)
        by = {(p.first.part.id, p.second.part.id): p for p in way.pairs}
        return [((a, i), (b, i + 1), by[a, b]) for i, (a, b) in enumerate(pairwise(row))]
    if isinstance(joint, LegToApron):
        ring = joint.parts * (4 // len(joint.parts))
        by_end = {(p.first.part.id, p.first.base): p for p in way.pairs}
        found = []
        for i, apron in enumerate(ring):
            found.append(((apron, i), (joint.leg, i), by_end[apron, "right end"]))
            after = ring[(i + 1) % 4]
            found.append(((after, (i + 1) % 4), (joint.leg, i), by_end[after, "left end"]))
        return found
    if isinstance(joint, EndToEdge):
        return _frame_links(joint, way, parts)
    if isinstance(joint, EndToFace):
        return _shelf_links(joint, way, parts)
    assert_never(joint)


def _shelf_links(joint: EndToFace, way: Way, parts: Mapping[str, Part]) -> list[tuple[Key, Key, Pair]]:
    """Shelves between two sides, on their first face; on one side where only one end is joined. Where the sides lie
    turned end for end a shelf is as far from the left end of one as from the right end of the other."""
    shelf, side = joint.parts
    both = len(joint.ends) == 2
    pairs = [p for p in way.pairs if not both or p.second.base == joint.on[0]]
    turned = both and any(p.second.towards_left for p in pairs)
    rows = {
        place: i
        for i, place in enumerate(dict.fromkeys((p.second.base, round(p.second.at, 3)) for p in pairs))
    }
    found = []
    for pair in pairs:
        at, end = pair.second.at, pair.first.base
        if turned and end == "right end":
            at = parts[side].length - parts[shelf].thickness - at
        row = rows[pair.second.base, round(at, 3)]
        found.append(
            ((shelf, row), (side, joint.ends.index("left end" if end == "left end" else "right end")), pair)
        )
    return found


def _frame_links(joint: EndToEdge, way: Way, parts: Mapping[str, Part]) -> list[tuple[Key, Key, Pair]]:
    """Rails between two stiles that are one part, turned about; one stile where only one end is joined."""
    rail, stile = joint.parts
    if len(joint.ends) == 1:
        return [((rail, i), (stile, 0), pair) for i, pair in enumerate(way.pairs)]
    pairs = [p for p in way.pairs if p.second.base == joint.edges[0]]
    at = sorted({round(p.second.at, 4) for p in pairs})
    found = []
    for pair in pairs:
        i = at.index(round(pair.second.at, 4))
        j = at.index(round(parts[stile].length - parts[rail].width - pair.second.at, 4))
        if i == j:
            found.append(((rail, i), (stile, 0 if pair.first.base == "left end" else 1), pair))
        else:
            found += [((rail, i), (stile, 0), pair), ((rail, j), (stile, 1), pair)]
    return found
