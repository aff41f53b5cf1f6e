"""What the bevels of a ring leave of its boards: face and back, which these lie on."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from math import cos, radians, tan

from sequencer.joinery.basis.floor import Floor
from sequencer.joinery.basis.refusal import Refusal
from sequencer.joinery.basis.seats import Body
from sequencer.joinery.meetings.rings import Ring
from sequencer.model.parts import Part, Stave


def vanished(
    rings: Iterable[Ring], bodies: Mapping[str, Body], floor: Floor
) -> Iterator[tuple[str, Refusal]]:
    """Joint and refusal for each board whose bevels meet, so that nothing is left of its back or face: for the second
    cut it would lie on nothing, and cards would measure to what is not there.
    """
    for ring in rings:
        for name in dict.fromkeys(ring.places):
            body = bodies[name]
            gone = next((side for side in ("back", "face") if body.side(side) is None), "")
            if not gone:
                continue
            staves, part = isinstance(ring.joint, Stave), body.part
            size, needed = part.width if staves else part.length, _taken(ring, part)
            what = "width" if staves else "length"
            yield (
                ring.joint.id,
                Refusal(
                    f"the bevels of {name} leave nothing of its {gone} to lie on"
                    + (
                        f": they take {floor.fine(needed)} of its {what} of {floor.fine(size)}"
                        if needed >= size
                        else ""
                    ),
                    f"a {what} of more than {floor.fine(needed)}, or thinner stock"
                    if needed >= size
                    else "thinner stock, or a larger board",
                    "parts",
                ),
            )


def narrow_backs(rings: Iterable[Ring], parts: Mapping[str, Part], floor: Floor) -> Iterator[str]:
    """A remark for staves that have less to lie on, between their bevels, than they are thick: they tip (common
    practice, no source).
    """
    for ring in rings:
        for part in (parts[name] for name in dict.fromkeys(ring.places)):
            left = part.width - _taken(ring, part)
            if isinstance(ring.joint, Stave) and left < part.thickness:
                yield (
                    f"{part.id}: between its bevels only {floor.length(left)} of the back are left to lie on, less "
                    f"than its {floor.length(part.thickness)} of thickness; rip the second edge with a carrier that "
                    "keeps it from tipping"
                )


def _taken(ring: Ring, part: Part) -> float:
    """How much of a part's length (of a stave's width) its bevels take from the back where it is longest, mm."""
    angles = [cut.angle for cut in ring.cuts if cut.part == part.id]
    return sum(part.thickness * tan(radians(a.tilt)) / cos(radians(a.gauge)) for a in angles)
