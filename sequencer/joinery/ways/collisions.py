"""Mortises that come too near other mortises, or grooves, rebates and housings, inside one part."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import combinations, combinations_with_replacement, product
from math import hypot, inf, trunc

import numpy as np

from sequencer.geometry.convex import Plane
from sequencer.geometry.slots import SlotSolid, apart, corners_of, distance_to_box
from sequencer.joinery.basis.floor import Floor, even
from sequencer.joinery.basis.nearness import HAIR, NEAR
from sequencer.joinery.basis.refusal import Refusal
from sequencer.joinery.basis.seats import Body
from sequencer.joinery.slots.fit import Wall
from sequencer.joinery.trenches.cuts import TrenchJoint, trenches_in
from sequencer.operations import Choice, Operation, Slot, Trench

OTHERWISE = "shallower mortises (slips.depths), narrower slips, or other places"
"""What is told of slots too near each other where nothing better is known."""


def near_slots(
    floor: Floor, operations: Sequence[Operation], choices: Sequence[Choice]
) -> Iterator[tuple[str, Refusal]]:
    """Joint and refusal for every one or two plunge operations whose slots leave less than the shop's least wall.

    Two of one joint that a part has pieces enough for meet in none of these.
    """
    way_of = {
        op: (choice.id, name) for choice in choices for name, ops in choice.options.items() for op in ops
    }
    plunges = [op for op in operations if op.kind == "plunge"]
    pieces = {p.id: p.quantity * floor.job.batch + p.spare for p in floor.job.parts}
    for one, two in combinations_with_replacement(plunges, 2):
        if one.parts != two.parts:
            continue
        a, b = way_of.get(one.id), way_of.get(two.id)
        if a is not None and b is not None and a[0] == b[0] and a[1] != b[1]:
            continue
        if one is not two and one.joint == two.joint and one.quantity + two.quantity <= pieces[one.parts[0]]:
            continue  # the edges of a panel's first and last board: no piece has both
        if refusal := _nearer(floor, one, two):
            yield two.joint, refusal


def near_others(
    floor: Floor, earlier: Sequence[Operation], operations: Sequence[Operation]
) -> Iterator[tuple[str, Refusal]]:
    """Earlier joint and refusal for every plunge operation whose slots leave less than the shop's least wall to those
    of an earlier one."""
    plunges = [op for op in operations if op.kind == "plunge"]
    pairs = ((one, two) for one, two in product(earlier, plunges) if one.parts == two.parts)
    yield from ((one.joint, refusal) for one, two in pairs if (refusal := _nearer(floor, one, two)))


def _nearer(floor: Floor, one: Operation, two: Operation) -> Refusal | None:
    """Why two plunge operations of a part, or the slots of one, are too near each other."""
    slots = combinations(_slots(one), 2) if one is two else product(_slots(one), _slots(two))
    left = min((apart(s, t) for s, t in slots), default=inf)
    if left >= floor.limits.least_wall - NEAR:
        return None
    between = f"between the {_said(one)}" + ("" if one is two else f" and the {_said(two)}")
    return Refusal(
        _thin(floor, left, one.parts[0], between),
        OTHERWISE,
        "slips",
        slips=True,
    )


def clear_of_trenches(
    floor: Floor, operations: Sequence[Operation], bodies: Mapping[str, Body]
) -> tuple[Wall, ...]:
    """The walls to grooves, rebates and housings that are thinner than the shop's least wall, and may be.

    Raises Refusal where slots of these operations, as far as sawing leaves them, come nearer than the shop's least wall
    to a groove, rebate or housing of their part; `bodies`: the parts joined.

    A slot may open in one, as where rails meet grooved stiles (common practice, no source), if it is deep enough beyond
    it, and the part that it holds is not one of those joined. So it may leave a thin wall beside one that is open to
    the surface it is plunged into: where that breaks away it opens there.
    """
    thin: dict[tuple[str, str], float] = {}
    slots = [slot for op in operations if op.kind == "plunge" for slot in _slots(op)]
    for part, body in bodies.items():
        planes = [Plane(side.name, np.array(side.normal), side.offset) for side in body.sides]
        mine = [slot for slot in slots if slot.part == part]
        for (joint, trench), slot in product(trenches_in(floor.job.joints, body.part), mine):
            if _apart(slot, trench) > floor.limits.least_wall:
                continue
            left = distance_to_box(SlotSolid.of(slot), trench, planes)
            if left >= floor.limits.least_wall - NEAR:
                continue
            beyond = _beyond(slot, trench) if _opens(slot, trench, planes) else 0.0
            if beyond <= 0:
                raise _too_near(floor, left, slot, joint)
            if joint.holds in bodies:
                raise _seated(floor, slot, joint)
            if beyond - floor.limits.glue_room < floor.limits.least_embedment - HAIR:
                raise _loose(floor, beyond, slot, joint)
            key = (part, trench.surface)
            thin[key] = min(left, thin.get(key, inf))
    return tuple(Wall(part, surface, even(left)) for (part, surface), left in thin.items())


def _apart(slot: Slot, trench: Trench) -> float:
    """No more than the distance between a slot and a trench, mm."""
    mouth, low, high = np.array(slot.mouth), np.array(trench.low), np.array(trench.high)
    away = float(np.linalg.norm(np.maximum(0.0, np.maximum(low - mouth, mouth - high))))
    return away - hypot(slot.length / 2, slot.depth)


def _opens(slot: Slot, trench: Trench, planes: Sequence[Plane]) -> bool:
    """Whether the trench is open to the surface that the slot is plunged into, and none of its mouth is sawn away."""
    solid = SlotSolid.of(slot)
    if any(plane.height(solid.outline()).max() > HAIR for plane in planes):
        return False
    corners = corners_of(trench)
    return any(
        float(plane.normal @ solid.axis) < -1 + 1e-9
        and abs(float(plane.height(solid.mouth))) < HAIR
        and plane.height(corners).max() > -HAIR
        for plane in planes
    )


def _beyond(slot: Slot, trench: Trench) -> float:
    """How much of a slot's depth is deeper than the trench reaches, mm."""
    ahead = (corners_of(trench) - np.array(slot.mouth)) @ np.array(slot.axis)
    return slot.depth - float(ahead.max())


def _loose(floor: Floor, beyond: float, slot: Slot, joint: TrenchJoint) -> Refusal:
    """Why a slot opens in a trench that is too deep for it."""
    return Refusal(
        f'the {joint.kind} "{joint.id}" leaves {floor.length(beyond)} of the mortises in {slot.part}, where '
        f"{floor.length(floor.limits.glue_room + floor.limits.least_embedment)} is the shop minimum (least_embedment "
        "and glue_room)",
        f"a shallower {joint.kind}, another place for the {joint.kind}, deeper mortises (slips.depths), or other "
        "places for the slots (slips.at, slips.height)",
    )


def _seated(floor: Floor, slot: Slot, joint: TrenchJoint) -> Refusal:
    """Why a part cannot both sit in a trench and be held by slips there."""
    return Refusal(
        f'the {joint.kind} "{joint.id}" seats {joint.holds} {floor.length(joint.depth)} deep in {slot.part}, which '
        "the mortises do not reckon with",
        f"the {joint.kind} or the slips, not both",
    )


def _too_near(floor: Floor, left: float, slot: Slot, joint: TrenchJoint) -> Refusal:
    """Why a slot is too near a trench, `left` mm away."""
    what = f'the {joint.kind} "{joint.id}"'
    return Refusal(
        f"the slots in {slot.part} run into {what}"
        if left < 0.05
        else _thin(floor, left, slot.part, f"between the slots and {what}"),
        "other places for the slots (slips.at, slips.count, slips.height), shallower ones (slips.depths), or another "
        f"place for the {joint.kind}",
        slips=True,
    )


def _thin(floor: Floor, left: float, part: str, between: str) -> str:
    """How little wood is left in a part, in words; rounded down, so that it does not read as enough."""
    return (
        f"only {floor.length(trunc(10 * left + HAIR) / 10)} of wood would be left in {part}, {between}, shop minimum "
        f"{floor.length(floor.limits.least_wall)}"
    )


def _said(operation: Operation) -> str:
    return f"slots of {operation.joint} ({operation.surface.partition('/')[2]})"


def _slots(operation: Operation) -> list[Slot]:
    return [cut for cut in operation.cuts if isinstance(cut, Slot)]
