"""What a board that lies level finds in the grooves of sides that lean, which are cut square to these. Lengths in mm.

A groove `width` wide and `depth` deep, in a side that slopes s from horizontal. A level board that goes in to the
bottom is stopped by the upper wall: leaning out it lies on the lower lip, its upper side t above this, and meets that
wall where it is depth / sin s in if t = (width sin s - depth cos s) / sin^2 s; leaning in, at the height at which it
goes farthest (below), the same t is as high as the upper lip. A shallow groove would take more, but from depth / cos s
on only a corner of the edge is in the wood: leaning out the upper one stays inside and nothing holds the board down,
leaning in the lower one does and the board is not over the lip. How far in it goes beyond the lower lip follows from
which way the side leans (plane geometry, as in `sequencer.joinery.meetings.rings`):

* out: the lower wall falls away outward, so it lies on the lip, and the bottom is depth / sin s off there;
* in: the lower wall rises outward, so with its underside h above the lip it goes no farther than h tan s, and the
  bottom leans in over it: at its upper side, t higher, that is depth / sin s - (h + t) / tan s off. It goes farthest
  where both are the same, which is (depth - t cos s) sin s.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from math import cos, radians, sin, tan
from typing import NamedTuple

from sequencer.joinery.meetings.rings import Ring, lower_run, rise_outward
from sequencer.joinery.trenches.cuts import TrenchJoint, beside
from sequencer.model.parts import Groove, Part, Splayed


class Across(NamedTuple):
    """From one side of a ring to that across: the parts of both, how far their grooves' lower lips are apart, and how
    far beyond these a level board goes into both grooves together. `on_lips`: lying on the lips, where no side leans in
    (a thin one goes farther higher up, but does not stay there); otherwise at whatever height."""

    bounds: tuple[str, str]
    free: float
    deep: float
    on_lips: bool


def slopes_of(rings: Sequence[Ring]) -> dict[str, float]:
    """The slope from horizontal, in degrees, of every part that leans."""
    return {
        name: slope
        for ring in rings
        for name, slope in zip(ring.places, ring.slopes, strict=True)
        if isinstance(ring.joint, Splayed) and slope != 90.0
    }


def runs_level(joint: TrenchJoint) -> bool:
    """Whether a trench is a groove along the inside or outside of a board, which runs level where this leans."""
    return isinstance(joint, Groove) and joint.on in ("face", "back")


def level_room(joint: TrenchJoint, slope: float) -> float:
    """How thick a level board is that both walls touch at the bottom of a groove; none where this is 0 or less."""
    s = radians(slope)
    return (joint.width * sin(s) - joint.depth * cos(s)) / sin(s) ** 2


def whole_edge(joint: TrenchJoint, slope: float) -> float:
    """How thick a level board is whose whole edge is in the wood at the bottom of a groove, however wide this is."""
    return joint.depth / cos(radians(slope))


def width_for(thickness: float, joint: TrenchJoint, slope: float) -> float:
    """How wide a groove as deep as this one takes a level board of this thickness: what undoes `level_room`."""
    return thickness * sin(radians(slope)) + joint.depth / tan(radians(slope))


def level_openings(
    trenches: Sequence[TrenchJoint], rings: Sequence[Ring], parts: Mapping[str, Part], rim: float
) -> Iterator[tuple[Across, ...]]:
    """What lies between the sides of every splayed ring that all have such a groove inside: of a rectangle both ways,
    of an even number of sides all alike the one way there is. `rim`: how thick the board is that goes into them."""
    grooves = [joint for joint in trenches if isinstance(joint, Groove) and joint.on == "back"]
    for ring in rings:
        if not isinstance(ring.joint, Splayed):
            continue
        for groove in _round(grooves, ring):
            n, inside = len(ring.places), {round(corner.inside, 6) for corner in ring.corners}
            sides = {
                (round(parts[p].length, 3), slope) for p, slope in zip(ring.places, ring.slopes, strict=True)
            }
            if n == 4 and inside == {90.0}:
                yield tuple(
                    _across(ring, k, lower_run(ring, k + 1, parts), groove, parts, rim) for k in (0, 1)
                )
            elif n % 2 == 0 and len(inside) == len(sides) == 1:
                flats = lower_run(ring, 0, parts) / tan(radians(180.0 / n))
                yield (_across(ring, 0, flats, groove, parts, rim),)


def _round(grooves: Sequence[Groove], ring: Ring) -> Iterator[dict[str, Groove]]:
    """For each part of a ring a groove: of one joint all round, or the only one that each has."""
    places = set(ring.places)
    whole = [groove for groove in grooves if places <= set(groove.parts)]
    yield from (dict.fromkeys(places, groove) for groove in whole)
    own = {name: [groove for groove in grooves if name in groove.parts] for name in places}
    if not whole and all(len(found) == 1 for found in own.values()):
        yield {name: found[0] for name, found in own.items()}


def _across(
    ring: Ring, here: int, flats: float, groove: Mapping[str, Groove], parts: Mapping[str, Part], rim: float
) -> Across:
    """`flats`: how far the outsides' lower arrises of a side and that across are apart."""
    free, deep, on_lips, bounds = flats, 0.0, True, []
    for place in (here, here + len(ring.places) // 2):
        name, slope = ring.places[place], ring.slopes[place]
        joint, part, s = groove[name], parts[name], sin(radians(slope))
        near = joint.from_
        lip = near if beside(joint) == "edge" else part.width - near - joint.width
        free += -lip * rise_outward(ring.joint, slope) - part.thickness * s
        leans_in = rise_outward(ring.joint, slope) > 0
        on_lips = on_lips and not leans_in
        deep += max(0.0, (joint.depth - rim * cos(radians(slope))) * s) if leans_in else joint.depth / s
        bounds.append(name)
    return Across((bounds[0], bounds[1]), free, deep, on_lips)
