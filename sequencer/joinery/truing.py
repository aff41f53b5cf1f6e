"""What shows, dry and before the glue takes, that a glue-up has come out true (common practice, no source)."""

from __future__ import annotations

from collections.abc import Iterable

from sequencer.joinery.rings import Ring
from sequencer.model.parts import CaseMitre, EdgeToEdge, Joint
from sequencer.quantity import format_angle

DIAGONALS = ("both diagonals", "diagonals alike")


def truing(joints: Iterable[tuple[Joint, Ring | None]]) -> tuple[str, str]:
    """What to measure on a glue-up of these joints, with their rings, and what to expect."""
    found = dict.fromkeys(shown for joint, ring in joints if (shown := _shown(joint, ring)))
    measures, expects = zip(("every joint", "no light"), *found, strict=True)
    return ", and ".join(measures), ", ".join(expects)


def _shown(joint: Joint, ring: Ring | None) -> tuple[str, str] | None:
    """What to measure of one joint; None where its shape has nothing that is alike."""
    if ring is not None:
        return _of_ring(ring)
    if isinstance(joint, EdgeToEdge):
        return "a straightedge laid across the boards", "no gap under it"
    return DIAGONALS


def _of_ring(ring: Ring) -> tuple[str, str] | None:
    places, joint = ring.places, ring.joint
    inside = {round(corner.inside, 6) for corner in ring.corners}
    if isinstance(joint, CaseMitre) and not joint.closed:
        return "every inside corner", f"{format_angle(joint.corner)} all along"
    if len(inside) > 1:
        return None
    if len(places) == 4:  # four corners alike that close make a rectangle
        return DIAGONALS
    if len(set(places)) > 1:
        return None
    if len(places) % 2:
        return "from every corner to the middle of the side across", "all alike"
    return "from every corner to the one across", "all alike"
