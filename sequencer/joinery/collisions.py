"""Mortises of different seats that come too near each other inside one part."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations
from math import dist

from sequencer.geometry.slots import SlotSolid, distance
from sequencer.joinery.floor import Floor
from sequencer.joinery.refusal import Refusal
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
        left = min((_left(s, t) for s in _slots(one) for t in _slots(two)), default=float("inf"))
        if left < floor.limits.least_wall - 1e-3:
            where = f"in {one.parts[0]}, between the {_said(one)} and the {_said(two)}"
            yield (
                two.joint,
                Refusal(
                    f"only {floor.length(left)} of wood would be left {where}, shop minimum "
                    f"{floor.length(floor.limits.least_wall)}",
                    "shallower mortises (slips.depths), narrower slips, or other places",
                    "slips",
                ),
            )


def _said(operation: Operation) -> str:
    return f"slots of {operation.joint} ({operation.surface.partition('/')[2]})"


def _slots(operation: Operation) -> list[Slot]:
    return [cut for cut in operation.cuts if isinstance(cut, Slot)]


def _left(one: Slot, two: Slot) -> float:
    """Distance between two slots; a lower bound where they are far apart."""
    far = dist(one.mouth, two.mouth) - one.length - two.length - one.depth - two.depth
    return far if far > 10.0 else distance(SlotSolid.of(one), SlotSolid.of(two))
