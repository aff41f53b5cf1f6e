"""How many of a thing the pieces make: rings, panels, frames and the like; refused where pieces are left over."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from fractions import Fraction

from sequencer.joinery.meetings import Meeting, panel_row
from sequencer.joinery.refusal import Refusal
from sequencer.joinery.rings import Ring
from sequencer.joinery.seats import OPPOSITE
from sequencer.model.parts import EdgeToEdge, EndToEdge, EndToFace, Joint, LegToApron, Part

LEGS = 4
"""Of what legs and aprons make: the aprons go round it, each between two legs."""


def rings_made(ring: Ring, pieces: Mapping[str, int]) -> int:
    """How many rings, or open runs, `pieces` of each part make. Raises Refusal where they make no whole ones."""
    return _whole("rings" if len(ring.corners) == len(ring.places) else "runs", ring.places, pieces)


def meetings_made(joint: Meeting, parts: Mapping[str, Part], pieces: Mapping[str, int]) -> int:
    """How many panels, or sets of parts that meet, `pieces` of each part make. Raises as `rings_made`, and for what no
    pieces make.
    """
    if isinstance(joint, EdgeToEdge):
        return _whole("panels", panel_row(joint, parts), pieces)
    _not_itself(joint)
    if isinstance(joint, LegToApron):
        aprons = joint.parts * (LEGS // len(joint.parts))
        return _whole("sets", (*aprons, *(joint.leg,) * LEGS), pieces)
    first, second = joint.parts
    rows = 2 if joint.at is None else len(joint.at)
    places = rows * len(joint.edges if isinstance(joint, EndToEdge) else joint.on)
    # with both ends joined there is a second part at each of them
    return _whole("sets", (first,) * places + (second,) * len(joint.ends), pieces)


def _not_itself(joint: EndToEdge | EndToFace | LegToApron) -> None:
    """Refuse a part that meets itself."""
    second = joint.leg if isinstance(joint, LegToApron) else joint.parts[1]
    if second in (joint.parts if isinstance(joint, LegToApron) else joint.parts[:1]):
        raise Refusal(
            f"{second} would be joined to itself, with both halves of the joint in every piece",
            "two parts, each with an id of its own, though they are of one size",
            "leg" if isinstance(joint, LegToApron) else "parts",
        )


def outside_in(joints: Iterable[Joint]) -> Iterator[tuple[str, Refusal]]:
    """Joint and refusal where parts joined at both ends would meet both sides of their mates, of which only two look
    at each other.
    """
    sides: dict[str, tuple[str, str]] = {}
    for joint in joints:
        if not isinstance(joint, (EndToEdge, EndToFace)) or len(joint.ends) < 2:
            continue
        first, second = joint.parts
        key = "edges" if isinstance(joint, EndToEdge) else "on"
        for side in joint.edges if isinstance(joint, EndToEdge) else joint.on:
            known, before = sides.setdefault(second, (side, joint.id))
            if known != OPPOSITE[side]:
                continue
            yield (
                joint.id,
                Refusal(
                    f"{first} would reach from {side} to {side} of two pieces of {second}, which look at each other "
                    f"{known} to {known}" + (f' (joint "{before}")' if before != joint.id else ""),
                    f'{key} = ["{known}"]; for a {second} with {first} on both sides, a joint for each end of {first}, '
                    'as ends = ["left end"]',
                    key,
                ),
            )


def _whole(what: str, needed: tuple[str, ...], pieces: Mapping[str, int]) -> int:
    """How many of what needs these pieces can be made of `pieces`, none left over."""
    needs = Counter(needed)
    shares = {Fraction(pieces[part], count) for part, count in needs.items()}
    number = min(shares)
    if len(shares) > 1 or number.denominator > 1:
        asked = ", ".join(f"{count} {part}" for part, count in needs.items())
        raise Refusal(
            f"the pieces do not make whole {what} of {asked}", "quantities in that proportion", "parts"
        )
    return number.numerator
