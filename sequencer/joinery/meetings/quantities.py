"""How many of a thing the pieces make: rings, panels, frames and the like; refused where pieces are left over."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from fractions import Fraction
from typing import assert_never

from sequencer.joinery.basis.refusal import Refusal
from sequencer.joinery.basis.seats import OPPOSITE
from sequencer.joinery.meetings.rings import Ring
from sequencer.joinery.meetings.square import MeetingJoint, panel_row
from sequencer.model.parts import (
    MOST_AROUND,
    CaseMitre,
    EdgeToEdge,
    EndToEdge,
    EndToFace,
    FrameMitre,
    Joint,
    LegToApron,
    Part,
    Splayed,
    Stave,
)

LEGS = 4
"""Of what legs and aprons make: the aprons go round it, each between two legs."""
ALL_ROUND = "aprons and rails go all round the legs; on two sides only they cannot be told"


class LeftOver(Refusal):
    """Pieces that make no whole number of what a joint makes."""


def few_enough(joint: Joint, parts: Mapping[str, Part]) -> None:
    """Raises Refusal for a ring of more sides, or a panel of more boards, than one may have, where it is not `sides` or
    `boards` that says so.
    """
    number, key = _told_by(joint, parts)
    if number > MOST_AROUND:
        what, whole = ("boards", "a panel") if isinstance(joint, EdgeToEdge) else ("sides", "a ring")
        several = f"; where the pieces make several, {key} is that of one" if key == what else ""
        raise Refusal(
            f"{number} {what} are more than the {MOST_AROUND} that {whole} may have",
            f"at most {MOST_AROUND} {what}{several}",
            key,
        )


def _told_by(joint: Joint, parts: Mapping[str, Part]) -> tuple[int, str]:
    """How many sides or boards go together by what else than their number tells it, and the key that does; 0 for
    anything else."""
    listed, pieces = len(joint.parts), sum(parts[name].quantity for name in joint.parts)
    if isinstance(joint, CaseMitre) and not joint.closed:
        return listed, "parts"
    if isinstance(joint, (CaseMitre, FrameMitre)):
        return (round(360.0 / (180.0 - joint.corner)), "corner") if joint.corner < 180 else (0, "")
    if isinstance(joint, Stave) and joint.sides is None:
        return pieces, "sides"
    if isinstance(joint, Splayed) and joint.sides is None:
        return (listed, "parts") if joint.corners is None else (len(joint.corners), "corners")
    if isinstance(joint, EdgeToEdge) and joint.boards is None:
        return (listed, "parts") if listed > 1 else (pieces, "boards")
    return 0, ""


def rings_made(ring: Ring, pieces: Mapping[str, int]) -> int:
    """How many rings, or open runs, `pieces` of each part make. Raises Refusal where they make no whole ones."""
    return _whole("rings" if len(ring.corners) == len(ring.places) else "runs", ring.places, pieces)


def meetings_made(joint: MeetingJoint, parts: Mapping[str, Part], pieces: Mapping[str, int]) -> int:
    """How many panels, or sets of parts that meet, `pieces` of each part make. Raises as `rings_made`, and for what no
    pieces make.
    """
    _not_itself(joint)
    try:
        return _whole("panels" if isinstance(joint, EdgeToEdge) else "sets", needed(joint, parts), pieces)
    except LeftOver as short:
        if isinstance(joint, LegToApron) and [2 * pieces[name] for name in joint.parts] == [
            pieces[joint.leg]
        ]:
            raise LeftOver(f"{short.message}: {ALL_ROUND}", short.accepted, short.key) from None
        raise


def needed(joint: MeetingJoint, parts: Mapping[str, Part]) -> tuple[str, ...]:
    """The part of every piece of one panel, or one set of parts that meet."""
    if isinstance(joint, EdgeToEdge):
        return panel_row(joint, parts)
    if isinstance(joint, LegToApron):
        aprons = joint.parts * (LEGS // len(joint.parts))
        return (*aprons, *(joint.leg,) * LEGS)
    if isinstance(joint, (EndToEdge, EndToFace)):
        first, second = joint.parts
        rows = 2 if joint.at is None else len(joint.at)
        places = rows * len(joint.edges if isinstance(joint, EndToEdge) else joint.on)
        # with both ends joined there is a second part at each of them
        return (first,) * places + (second,) * len(joint.ends)
    assert_never(joint)


def shared_out(needs: Mapping[str, tuple[str, ...]], pieces: Mapping[str, int]) -> dict[str, str]:
    """By joint, what would pass where several joints share a part and take all its pieces together, so that each may be
    of a thing of its own. `needs`: by joint, the part of every piece of one."""
    told: dict[str, str] = {}
    for part in pieces:
        users = {joint: Counter(needed) for joint, needed in needs.items() if part in needed}
        takes: dict[str, int] = {}
        for joint, need in users.items():
            shares = {Fraction(pieces[other], count) for other, count in need.items() if other != part}
            if len(shares) == 1 and (number := shares.pop()).denominator == 1:
                takes[joint] = number.numerator * need[part]
        if 1 < len(takes) == len(users) and sum(takes.values()) == pieces[part]:
            each = ", ".join(f'{count} of {pieces[part]} in "{joint}"' for joint, count in takes.items())
            told |= dict.fromkeys(
                takes, f"a part of its own instead of {part} in each of these joints: {each}"
            )
    return told


def _not_itself(joint: MeetingJoint) -> None:
    """Refuse a part that meets itself; boards of a panel may."""
    if isinstance(joint, EdgeToEdge):
        return
    if isinstance(joint, LegToApron):
        firsts, second, key = joint.parts, joint.leg, "leg"
    elif isinstance(joint, (EndToEdge, EndToFace)):
        firsts, second, key = joint.parts[:1], joint.parts[1], "parts"
    else:
        assert_never(joint)
    if second in firsts:
        raise Refusal(
            f"{second} would be joined to itself, with both halves of the joint in every piece",
            "two parts, each with an id of its own, though they are of one size",
            key,
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
        raise LeftOver(
            f"the pieces do not make whole {what} of {asked}", "quantities in that proportion", "parts"
        )
    return number.numerator
