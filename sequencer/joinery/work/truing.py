"""What shows, dry and before the glue takes, that a glue-up has come out true (common practice, no source)."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import assert_never

from sequencer.joinery.basis.nearness import ANGLE_HAIR
from sequencer.joinery.meetings.rings import Ring, RingJoint
from sequencer.model.parts import (
    CaseMitre,
    EdgeToEdge,
    EndToEdge,
    EndToFace,
    Groove,
    Housing,
    Joint,
    LegToApron,
    Part,
    Rebate,
    Stave,
)
from sequencer.quantity import format_angle

DIAGONALS = ("both diagonals", "diagonals alike")
IN_THE_CORNER = ("a square in the corner", "the blade lies along both")


def truing(joints: Iterable[tuple[Joint, Ring | None]], parts: Mapping[str, Part]) -> tuple[str, str]:
    """What to measure on a glue-up of these joints, with their rings, and what to expect."""
    found = dict.fromkeys(shown for joint, ring in joints if (shown := _shown(joint, ring, parts)))
    measures, expects = zip(("every joint", "no light"), *found, strict=True)
    return ", and ".join(measures), ", ".join(expects)


def _shown(joint: Joint, ring: Ring | None, parts: Mapping[str, Part]) -> tuple[str, str] | None:
    """What to measure of one joint; None where its shape has nothing that is alike."""
    if ring is not None:
        return _of_ring(ring, parts)
    assert not isinstance(joint, RingJoint)
    match joint:
        case Housing():
            return DIAGONALS if joint.holds else None
        case Groove() | Rebate():
            return None
        case EdgeToEdge():
            return "a straightedge laid across the boards", "it lies flat"
        case EndToEdge() | EndToFace():
            return DIAGONALS if len(joint.ends) > 1 else IN_THE_CORNER
        case LegToApron():
            return DIAGONALS
        case _:
            assert_never(joint)


def _of_ring(ring: Ring, parts: Mapping[str, Part]) -> tuple[str, str] | None:
    joint = ring.joint
    if isinstance(joint, CaseMitre) and not joint.closed:
        if abs(joint.corner - 90.0) < ANGLE_HAIR:
            return "a square in every corner", "the blade lies along both"
        return f"a bevel set to {format_angle(joint.corner)} in every corner", "the blade lies along both"
    if len({round(corner.inside, 6) for corner in ring.corners}) > 1:
        return None
    upright = isinstance(joint, Stave)
    sides = [round(parts[p].width if upright else parts[p].length, 2) for p in ring.places]
    if len(sides) == 4 and sides[:2] == sides[2:]:  # with four corners alike, a rectangle
        return DIAGONALS
    if len(set(sides)) > 1:
        return None
    if len(sides) % 2:
        return "from every corner to the middle of the side across", "all alike"
    return "from every corner to the one across", "all alike"
