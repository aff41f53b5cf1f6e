"""Whether a shelf housed at both ends is as long as its housings lie apart, once all boards have their place.

Lengths in mm.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from sequencer.joinery.basis.floor import Floor
from sequencer.joinery.basis.refusal import Refusal
from sequencer.joinery.trenches.cuts import TrenchJoint
from sequencer.joinery.whole.held import ROOM
from sequencer.joinery.whole.lying import Piece
from sequencer.joinery.whole.slabs import Hold, holds_of, share
from sequencer.model.parts import Housing, Part


def unlike_lengths(
    holding: Sequence[TrenchJoint],
    boards: Sequence[Piece],
    room: Mapping[str, int],
    parts: Mapping[str, Part],
    floor: Floor,
) -> tuple[str, Refusal] | None:
    """Joint and refusal for the first shelf, held by two housings, that does not go in between their bottoms, or does
    not reach into both; `holding`, `boards`, `room` as in `astray`.

    One that is only a little short is left to a remark (`held_remarks`); one as wide as the housings lie apart may lie
    across.
    """
    for held in dict.fromkeys(joint.holds for joint in holding):
        joints = [joint for joint in holding if joint.holds == held]
        holds = [hold for joint in joints for hold in holds_of(joint, boards, parts)]
        if not all(isinstance(joint, Housing) for joint in joints) or len(holds) != 2 * room[held]:
            continue
        for hold in holds:
            facing = [found for other in holds if other is not hold for found in _apart(hold, other, parts)]
            if not facing:
                continue
            deep, clear = min(facing)
            sizes = parts[held].length, parts[held].width
            if any(clear < size <= deep + ROOM for size in sizes):
                continue
            why = (
                f"is longer than the {floor.fine(deep)} from the bottom of one to that of the other"
                if sizes[0] > deep
                else f"does not reach from one to the other: they are {floor.fine(clear)} apart"
            )
            return hold.joint.id, Refusal(
                f"{held}, {floor.fine(sizes[0])} long, does not fit in the housings that hold it once all is put "
                f"together: it {why}",
                f"{held} {floor.fine(deep)} long",
                "holds",
            )
    return None


def _apart(one: Hold, other: Hold, parts: Mapping[str, Part]) -> Iterator[tuple[float, float]]:
    """How far two housings that look at each other are apart, from bottom to bottom and from board to board, as their
    boards may lie; nothing where no board lies in both."""
    if not share(one, other):
        return
    for turn, shift in one.board.poses:
        for facing, there in other.board.poses:
            out, back = _outward(one.joint) * turn[:, 2], _outward(other.joint) * facing[:, 2]
            if float(out @ back) > -0.999:
                continue
            begin = float(out @ shift) + _surface(one, parts)
            clear = float(out @ there) - _surface(other, parts) - begin
            if clear > 0:
                yield clear + one.joint.depth + other.joint.depth, clear


def _outward(joint: TrenchJoint) -> float:
    """Which way along a board's thickness the housing opens."""
    return 1.0 if joint.on == "face" else -1.0


def _surface(hold: Hold, parts: Mapping[str, Part]) -> float:
    """How far the surface that a housing opens in is ahead of the back, the way it opens."""
    return parts[hold.board.part].thickness if hold.joint.on == "face" else 0.0
