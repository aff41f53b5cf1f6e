"""Whether the grooves, rebates and housings that hold one board lie across from each other, once all boards have their
place: the board is flat, so they must lie in one slab. Lengths in mm.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from sequencer.joinery.basis.floor import Floor
from sequencer.joinery.basis.refusal import Refusal
from sequencer.joinery.trenches.cuts import AXIS, TrenchJoint, beside, boxes
from sequencer.joinery.whole.assembly import Matrix
from sequencer.joinery.whole.lying import Piece
from sequencer.model.parts import Housing, Part, Rebate
from sequencer.operations import Trench

SHARED = 0.5
"""mm: two trenches that hold one board share at least so much of their widths."""


@dataclass(frozen=True, eq=False)
class _Slab:
    """Between which two planes (heights along `normal`, in space) a trench can hold a board."""

    normal: Matrix
    low: float
    high: float


@dataclass(frozen=True, eq=False)
class Hold:
    """A trench of one piece, with the slabs it can hold a board in."""

    joint: TrenchJoint
    board: Piece
    box: Trench
    slabs: tuple[_Slab, ...]


def astray(
    holding: Sequence[TrenchJoint],
    boards: Sequence[Piece],
    room: Mapping[str, int],
    parts: Mapping[str, Part],
    floor: Floor,
) -> tuple[str, Refusal] | None:
    """Joint and refusal for the first trench that none of those which hold the same board lies across from.

    `holding`: trenches of `boards` that tell what they hold; `room`: pieces of each part in one thing. Nothing is said
    where the pieces held do not share out the trenches evenly, or boards are missing.
    """
    for held in dict.fromkeys(joint.holds for joint in holding):
        holds = [h for joint in holding if joint.holds == held for h in holds_of(joint, boards, parts)]
        wanted = sum(
            room[name] * len(list(boxes(joint, parts[name])))
            for joint in holding
            if joint.holds == held
            for name in joint.parts
        )
        each, rest = divmod(len(holds), max(1, room[held]))
        if len(holds) != wanted or rest or each < 2:
            continue
        for hold in holds:
            others = [other for other in holds if other is not hold]
            facing = [other for other in others if share(hold, other)]
            if len(facing) < each - 1 and all(_parallel(hold, other) for other in others):
                return hold.joint.id, _refused(
                    hold, [o for o in others if o not in facing], held, parts, floor
                )
    return None


def holds_of(joint: TrenchJoint, boards: Sequence[Piece], parts: Mapping[str, Part]) -> Iterator[Hold]:
    """The trenches of a joint in all pieces that have their place."""
    for board in boards:
        if board.part in joint.parts:
            for box in boxes(joint, parts[board.part]):
                yield Hold(joint, board, box, tuple(_slabs(joint, box, board)))


def _slabs(joint: TrenchJoint, box: Trench, board: Piece) -> Iterator[_Slab]:
    """A board lies in a rebate with its face on either of its two sides."""
    axes = {AXIS[beside(joint)], AXIS[joint.on]} if isinstance(joint, Rebate) else {AXIS[beside(joint)]}
    for turn, shift in board.poses:
        for axis in sorted(axes):
            normal = turn[:, axis]
            off = float(normal @ shift)
            yield _Slab(normal, box.low[axis] + off, box.high[axis] + off)


def share(one: Hold, other: Hold) -> bool:
    """Whether one board can lie in both."""
    return any(_overlap(a, b) > SHARED for a in one.slabs for b in other.slabs)


def _overlap(one: _Slab, other: _Slab) -> float:
    """How much of their widths two slabs share; less than nothing where they are not parallel."""
    along = float(one.normal @ other.normal)
    if abs(along) < 0.999:
        return -1.0
    low, high = (other.low, other.high) if along > 0 else (-other.high, -other.low)
    return min(one.high, high) - max(one.low, low)


def _parallel(one: Hold, other: Hold) -> bool:
    return any(abs(float(a.normal @ b.normal)) > 0.999 for a in one.slabs for b in other.slabs)


def _refused(
    hold: Hold, others: Sequence[Hold], held: str, parts: Mapping[str, Part], floor: Floor
) -> Refusal:
    other = others[0]
    part = parts[hold.board.part]
    if not isinstance(hold.joint, Housing):
        return Refusal(
            f"put together, this {hold.joint.kind} in {part.id} does not lie across from that in {other.board.part}, "
            f"and {held} cannot lie in both",
            f"{hold.joint.kind}s that lie in one plane (beside, from)",
            "beside",
        )
    at, size = hold.box.low[0], hold.joint.width
    facing = part.length - size - at
    own = other.board.part == part.id
    works = f"at {floor.fine((part.length - size) / 2)}, in the middle, or " if own else ""
    return Refusal(
        f"put together, the housing {floor.fine(at)} from the left end of {part.id} does not lie across from that in "
        f"{'another ' if own else ''}{other.board.part}, and {held} cannot lie in both",
        f"{works}boards that face each other have their left ends on opposite sides: {floor.fine(at)} in one is "
        f"{floor.fine(facing)} in the other{', which is a part of its own' if own else ''}",
        "at",
    )
