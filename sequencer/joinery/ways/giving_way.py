"""The ways of all joints of a job, each clear of the slots of the others: who gives way, and what gives it room."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

from sequencer.diagnostics import InputError, NoOrderError
from sequencer.joinery.basis.floor import Floor
from sequencer.joinery.basis.seats import Body
from sequencer.joinery.meetings.joined import Joined, parts_of, wishes_of
from sequencer.joinery.trenches.cuts import TrenchJoint
from sequencer.joinery.ways.collisions import OTHERWISE
from sequencer.joinery.ways.offers import find_ways
from sequencer.operations import Operation


def find_all_ways(joined: Sequence[Joined], bodies: Mapping[str, Body], floor: Floor) -> None:
    """The ways of all joints with slips: first of those that say where their slots are, so that the others move aside.
    One that finds no place beside those before it goes before them if then all do.

    Raises InputError with all faults, NoOrderError where there are none but joints that no way is left for.
    """
    order = [each for each in joined if not isinstance(each.joint, TrenchJoint)]
    order.sort(key=lambda each: not wishes_of(each.joint).at)
    failed = _find_in(order, bodies, floor)
    for each, error, alone in failed:
        if alone or _find_in([each], bodies, floor):
            continue
        others = [other for other in order if other is not each]
        if not _find_in([each, *others], bodies, floor):
            return
        if works := _shorter_elsewhere(each, order, bodies, floor):
            error.faults = tuple(
                replace(fault, accepted=works) if fault.accepted == OTHERWISE else fault
                for fault in error.faults
            )
    faults = [fault for _, error, _ in failed if isinstance(error, InputError) for fault in error.faults]
    hopeless = [fault for _, error, _ in failed if isinstance(error, NoOrderError) for fault in error.faults]
    if faults:
        raise InputError([*faults, *hopeless])
    if hopeless:
        raise NoOrderError(hopeless)


class _Failed(NamedTuple):
    """A joint that there is no way for, and why; `alone`: nothing was plunged before it that could stand in its way."""

    each: Joined
    error: InputError | NoOrderError
    alone: bool


def _find_in(order: Iterable[Joined], bodies: Mapping[str, Body], floor: Floor) -> list[_Failed]:
    """The ways of joints, each clear of the slots of those before it; those that there is no way for."""
    failed: list[_Failed] = []
    plunged: list[Operation] = []
    for each in order:
        each.ways, each.lies, each.struck = [], [], []
        try:
            plunged += find_ways(each, bodies, floor, plunged)
        except (InputError, NoOrderError) as error:
            failed.append(_Failed(each, error, not plunged))
    return failed


def _shorter_elsewhere(
    each: Joined, order: Sequence[Joined], bodies: Mapping[str, Body], floor: Floor
) -> str:
    """The longest slips of another joint that leave all of them their places, in words; "" where none do."""
    lengths = {slip.length for slip in floor.limits.slips} or set(floor.limits.slip_lengths)
    for k, other in enumerate(order):
        wishes = wishes_of(other.joint)
        if (
            other is each
            or wishes.length
            or wishes.depths
            or not set(parts_of(other.joint)) & set(parts_of(each.joint))
        ):
            continue
        for length in sorted(lengths, reverse=True):
            slips = wishes.model_copy(update={"length": length})
            shorter = replace(other, joint=other.joint.model_copy(update={"slips": slips}))
            if not _find_in([*order[:k], shorter, *order[k + 1 :]], bodies, floor):
                return f'shorter slips in "{other.joint.id}": slips.length {floor.length(length)}'
    return ""
