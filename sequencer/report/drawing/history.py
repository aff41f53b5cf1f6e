"""What a part looks like at a step: its blank, the cuts made before, the cuts of the step."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from sequencer.geometry.convex import Plane
from sequencer.operations import Cut, Operation, PlaneCut, Slot, Trench
from sequencer.planfile import PartRecord, Plan
from sequencer.report.drawing.nearness import DUST, WOOD
from sequencer.report.drawing.solid import Convex, box, slot_cutter, trench_cutter

_SPARE = (
    0.06  # wood drawn beyond a cut that makes a surface of the finished board, as a part of its length ...
)
_LEAST_SPARE = 6.0  # ... but at least this, mm


@dataclass(frozen=True)
class PartState:
    """A part at a step: `before` and `after` its cuts. `waste` is what the step's plane cuts take off."""

    part: PartRecord
    before: Convex
    after: Convex
    waste: tuple[Convex, ...]
    old: tuple[Cut, ...]
    new: tuple[Cut, ...]
    cutters: tuple[Convex, ...] = field(default=(), repr=False)
    """Of the mortises and grooves in `old` and `new`, in that order."""
    uncut: frozenset[int] = frozenset()
    """The axes along which the size is not known yet: wood is drawn there that later steps saw off."""

    @property
    def fresh(self) -> tuple[bool, ...]:
        """For each of the cutters, whether this step makes it."""
        hollow = [sum(not isinstance(cut, PlaneCut) for cut in cuts) for cuts in (self.old, self.new)]
        return (False,) * hollow[0] + (True,) * hollow[1]


def part_state(plan: Plan, operation: Operation, part: PartRecord) -> PartState:
    """The part as it comes to the operation and leaves it, in the order of the plan's steps."""
    made = {name.id: name for name in plan.operations}
    old = [cut for earlier in plan.done for cut in _of(part, earlier)]
    later: list[Cut] = []
    new = tuple(cut for cut in operation.cuts if cut.part == part.id)
    passed = False
    for step in plan.steps:
        passed = passed or step.operation == operation.id
        if step.operation in made:
            (later if passed else old).extend(_of(part, made[step.operation]))
    body = _blank(part, [*new, *later])
    for cut in old:
        if isinstance(cut, PlaneCut):
            body = body.clipped(plane_of(cut))
    after, waste = body, []
    for cut in new:
        if isinstance(cut, PlaneCut):
            plane = plane_of(cut)
            off = after.clipped(Plane(cut.surface, -plane.normal, -plane.offset))
            waste += [off] if off.faces else []
            after = after.clipped(plane)
    hollow = [cut for cut in (*old, *new) if not isinstance(cut, PlaneCut)]
    rest = _to_be_cut(part, later) - _to_be_cut(part, new)
    return PartState(
        part,
        body,
        after,
        tuple(waste),
        tuple(old),
        new,
        tuple(cutter(cut, body) for cut in hollow),
        frozenset(axis for axis, _ in rest),
    )


def finished(plan: Plan, part: PartRecord) -> PartState:
    """The part after all cuts of the plan; nothing is new."""
    made = {name.id: name for name in plan.operations}
    steps = [*plan.done, *(made[step.operation] for step in plan.steps if step.operation in made)]
    cuts = [cut for operation in steps for cut in _of(part, operation)]
    body = box((0, 0, 0), (part.length, part.width, part.thickness))
    for cut in cuts:
        if isinstance(cut, PlaneCut):
            body = body.clipped(plane_of(cut))
    hollow = tuple(cutter(cut, body) for cut in cuts if not isinstance(cut, PlaneCut))
    return PartState(part, body, body, (), tuple(cuts), (), hollow)


def _of(part: PartRecord, operation: Operation) -> list[Cut]:
    """The cuts of an operation that pieces of a part get, those made again with the others they go with."""
    names = part.named if operation.id in part.passes else (part.id,)
    return [cut for cut in operation.cuts if cut.part in names]


def plane_of(cut: PlaneCut) -> Plane:
    """The plane of a cut, named by the surface it makes."""
    return Plane.through(cut.surface, cut.point, cut.normal)


def cutter(cut: Slot | Trench, body: Convex) -> Convex:
    """The wood a mortise or groove takes out of the body."""
    return slot_cutter(cut) if isinstance(cut, Slot) else trench_cutter(cut, body)


def _blank(part: PartRecord, to_come: Sequence[Cut]) -> Convex:
    """The board before any cut: of finished size, with some wood to spare beyond surfaces that are still to be cut."""
    low, high = np.zeros(3), np.array(part_size(part))
    spare = np.maximum(_SPARE * high, _LEAST_SPARE)
    spare[2] = min(_LEAST_SPARE, part.thickness / 4)
    for axis, upper in _to_be_cut(part, to_come):
        if upper:
            high[axis] += spare[axis]
        else:
            low[axis] -= spare[axis]
    return box(low, high)


def _to_be_cut(part: PartRecord, cuts: Sequence[Cut]) -> set[tuple[int, bool]]:
    """The sides of the finished board that cuts make: the axis, and whether it is the upper one."""
    sides = set()
    for cut in cuts:
        if not isinstance(cut, PlaneCut):
            continue
        axis = int(np.argmax(np.abs(cut.normal)))
        upper = cut.normal[axis] > 0
        beyond = cut.point[axis] >= part_size(part)[axis] - WOOD if upper else cut.point[axis] <= WOOD
        if abs(cut.normal[axis]) > 1 - DUST and beyond:
            sides.add((axis, upper))
    return sides


def part_size(part: PartRecord) -> tuple[float, float, float]:
    """Length, width, thickness, mm."""
    return part.length, part.width, part.thickness
