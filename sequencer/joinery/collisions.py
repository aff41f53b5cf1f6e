"""Mortises that come too near other mortises, or grooves, rebates and housings, inside one part."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations
from math import dist, inf

from sequencer.geometry.slots import SlotSolid, distance, distance_to_box
from sequencer.joinery.floor import Floor
from sequencer.joinery.refusal import Refusal
from sequencer.joinery.trenches import TrenchJoint, boxes
from sequencer.operations import Choice, Operation, Slot


def near_slots(
    floor: Floor, operations: Sequence[Operation], choices: Sequence[Choice]
) -> Iterator[tuple[str, Refusal]]:
    """Joint and refusal for every two plunge operations whose slots leave less than the shop's least wall."""
    way_of = {
        op: (choice.id, name) for choice in choices for name, ops in choice.options.items() for op in ops
    }
    for one, two in combinations([op for op in operations if op.kind == "plunge"], 2):
        if one.parts != two.parts:
            continue
        a, b = way_of.get(one.id), way_of.get(two.id)
        if a is not None and b is not None and a[0] == b[0] and a[1] != b[1]:
            continue
        left = min((_left(s, t) for s in _slots(one) for t in _slots(two)), default=inf)
        if left < floor.limits.least_wall - 1e-3:
            where = f"{one.parts[0]}, between the {_said(one)} and the {_said(two)}"
            yield two.joint, _refusal(floor, left, where, "other places")


def clear_of_trenches(floor: Floor, operations: Sequence[Operation]) -> None:
    """Raises Refusal where slots of these operations leave less than the shop's least wall to a groove, rebate or
    housing of their part. They may open in one, as where rails meet grooved stiles: common practice, no source.
    """
    parts = {part.id: part for part in floor.job.parts}
    for joint in [joint for joint in floor.job.joints if isinstance(joint, TrenchJoint)]:
        for one in [op for op in operations if op.kind == "plunge" and op.parts[0] in joint.parts]:
            (part,) = one.parts
            try:
                trenches = list(boxes(joint, parts[part]))
            except Refusal:
                continue  # told of when it is to be made
            left = [distance_to_box(SlotSolid.of(slot), box) for slot in _slots(one) for box in trenches]
            if one.surface == f"{part}/{joint.on}":
                left = [mm for mm in left if mm > 0]
            if min(left, default=inf) < floor.limits.least_wall - 1e-3:
                mouth = one.surface.partition("/")[2]
                where = f"{part}, between the slots in the {mouth} and the {joint.kind} {joint.id}"
                raise _refusal(floor, min(left), where, f"another place for the {joint.kind}")


def _refusal(floor: Floor, left: float, where: str, else_: str) -> Refusal:
    """Why slots are too near something else, `left` mm away."""
    return Refusal(
        f"only {floor.length(left)} of wood would be left in {where}, shop minimum "
        f"{floor.length(floor.limits.least_wall)}",
        f"shallower mortises (slips.depths), narrower slips, or {else_}",
        "slips",
    )


def _said(operation: Operation) -> str:
    return f"slots of {operation.joint} ({operation.surface.partition('/')[2]})"


def _slots(operation: Operation) -> list[Slot]:
    return [cut for cut in operation.cuts if isinstance(cut, Slot)]


def _left(one: Slot, two: Slot) -> float:
    """Distance between two slots; a lower bound where they are far apart."""
    far = dist(one.mouth, two.mouth) - one.length - two.length - one.depth - two.depth
    return far if far > 10.0 else distance(SlotSolid.of(one), SlotSolid.of(two))
