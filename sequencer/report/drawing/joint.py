"""The two halves of a joint brought together as they will be glued, found from the plan's mortises alone.

Two mortises of one joint fit if they are equally thick. In the finished boards the axis of a mortise leaves the wood
at its effective mouth: there the two mouths meet, axes opposed.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sequencer.operations import Slot
from sequencer.planfile import PartRecord, Plan
from sequencer.report.drawing.history import PartState, finished
from sequencer.report.drawing.solid import Array


@dataclass(frozen=True)
class Half:
    """A mortise in its finished board. `mouth` is where its axis leaves the wood, `depth` from there."""

    part: PartRecord
    state: PartState
    slot: Slot
    mouth: Array
    depth: float


@dataclass(frozen=True)
class Pair:
    """Two halves of a joint; `count` is how many slips of the kind the batch needs."""

    joint: str
    first: Half
    second: Half
    count: int
    glue_room: float = 1.0
    """mm left at each end of the slip."""

    @property
    def slip_length(self) -> float:
        """Both depths less the glue room at either end, mm."""
        return self.first.depth + self.second.depth - 2 * self.glue_room


def half(state: PartState, slot: Slot) -> Half | None:
    """The mortise in the finished board; None if nothing of it is left."""
    mouth, axis = np.array(slot.mouth, dtype=float), np.array(slot.axis, dtype=float)
    bottom = mouth + axis * slot.depth
    _, leave = state.after.chord(bottom[None, :], -axis, 0.0)
    depth = min(float(leave[0]), slot.depth)
    if not 0.0 < depth < float("inf"):
        return None
    return Half(state.part, state, slot, bottom - axis * depth, depth)


def halves(plan: Plan) -> tuple[Pair, ...]:
    """One pair for each joint: mortises in two parts, or in the two ends of one."""
    parts = {part.id: part for part in plan.parts}
    made = {name.id: name for name in plan.operations}
    slots = [
        cut
        for step in plan.steps
        if step.operation in made
        for cut in made[step.operation].cuts
        if isinstance(cut, Slot) and cut.joint and cut.part in parts
    ]
    states: dict[str, PartState] = {}
    found: dict[str, list[Half]] = {}
    for slot in slots:
        state = states.setdefault(slot.part, finished(plan, parts[slot.part]))
        if state.after.faces and (one := half(state, slot)):
            found.setdefault(slot.joint, []).append(one)
    pairs: list[Pair] = []
    for joint, ends in found.items():
        names = list(dict.fromkeys(end.part.id for end in ends))
        first = next(end for end in ends if end.part.id == names[0])
        other = next(
            (
                end
                for end in ends
                if end.part.id == (names[1] if len(names) > 1 else names[0]) and end is not first
            ),
            None,
        )
        if other is None:
            continue
        pieces = sum(parts[end.part.id].quantity for end in ends)
        pairs.append(Pair(joint, first, other, -(-pieces // 2), plan.glue_room))
    return tuple(pairs)
