"""Grooves, rebates and housings that look away from all others that hold the same board, once all boards have their
place: outside a case or frame nothing lies between them. Lengths in mm.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from sequencer.joinery.basis.nearness import IN_PLACE
from sequencer.joinery.basis.seats import outward
from sequencer.joinery.trenches.cuts import AXIS, FAR, TrenchJoint, beside
from sequencer.joinery.whole.assembly import Matrix
from sequencer.joinery.whole.lying import Piece
from sequencer.joinery.whole.slabs import Hold, holds_of
from sequencer.model.parts import Part, Rebate


class Outward(NamedTuple):
    """A trench that opens away from what it should hold."""

    joint: str
    part: str


class _Mouth(NamedTuple):
    """Where a trench opens in space (the middle of its mouth), and which way."""

    at: Matrix
    out: Matrix


def facing_out(
    holding: Sequence[TrenchJoint], boards: Sequence[Piece], parts: Mapping[str, Part]
) -> Iterator[Outward]:
    """Every trench of `boards` that has the others which hold the same part behind it, however its pieces may lie.

    Where some of the trenches in `holding` that hold one part are in other boards, none of them is judged: it may lie
    between two things.
    """
    for held in dict.fromkeys(joint.holds for joint in holding):
        joints = [joint for joint in holding if joint.holds == held]
        holds = [hold for joint in joints for hold in holds_of(joint, boards, parts)]
        if not {name for joint in joints for name in joint.parts} <= {hold.board.part for hold in holds}:
            continue
        for joint in joints:
            for name in joint.parts:
                ours = [hold for hold in holds if hold.joint is joint and hold.board.part == name]
                if all(_looks_away(hold, holds, parts) for hold in ours):
                    yield Outward(joint.id, name)


def _looks_away(hold: Hold, holds: Sequence[Hold], parts: Mapping[str, Part]) -> bool:
    """Whether there are others behind it, and none ahead."""
    ahead = [
        float((other.at - mouth.at) @ mouth.out)
        for mouth in _mouths(hold, parts)
        for another in holds
        if another.board is not hold.board
        for other in _mouths(another, parts)
    ]
    return min(ahead, default=0.0) < -IN_PLACE and max(ahead) <= IN_PLACE


def _mouths(hold: Hold, parts: Mapping[str, Part]) -> Iterator[_Mouth]:
    """The mouths of a trench, as its board may lie: a rebate opens to the side it runs along, too."""
    part = parts[hold.board.part]
    size = (part.length, part.width, part.thickness)
    sides = (hold.joint.on, beside(hold.joint)) if isinstance(hold.joint, Rebate) else (hold.joint.on,)
    for side in sides:
        axis = AXIS[side]
        at = [(low + high) / 2 for low, high in zip(hold.box.low, hold.box.high, strict=True)]
        at[axis] = size[axis] if side in FAR else 0.0
        for turn, shift in hold.board.poses:
            yield _Mouth(turn @ at + shift, turn @ outward(side))
