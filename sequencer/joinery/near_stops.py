"""Angles so near a positive stop, or each other, that one might be taken for the other: what cards and remarks say.

A plan gone on with has its angles, but the stops of the shop file it is gone on with, so all this is told of operations
as they are, whenever they were derived. Angles in degrees.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import pairwise

from sequencer.joinery.basis import cautions
from sequencer.joinery.basis.floor import Floor
from sequencer.joinery.basis.nearness import ANGLE_HAIR
from sequencer.operations import Operation, as_words
from sequencer.quantity import format_angle

_PROVED = {"bevel": "Prove it on scrap", "mitre": "Prove it on scrap", "plunge": "Check against the block"}
"""By kinds of operations how their angles are known to stand right; a block's are those of its bevel."""
_ANGLES = {"saw": {"tilt": 0.0, "gauge": 0.0}, "mortiser": {"fence_angle": 90.0}}
"""For each role its angles, with what is square."""

_IS_NEAR = " is near the positive stop at "
_APART = " are two settings, kept apart: do not cut one at the other"


def warned(floor: Floor, operation: Operation) -> Operation:
    """The operation with a caution for each angle of it that lies near a stop, and none for another one."""
    notes = operation.notes
    kept = [each for each in notes.cautions if _IS_NEAR not in each.says]
    near = [
        cautions.near_stop(f"{name} {format_angle(value)}", format_angle(stop), _PROVED[operation.kind])
        for name, value, stop in _near(floor, operation)
    ]
    if not near and len(kept) == len(notes.cautions):
        return operation
    return operation.model_copy(update={"notes": notes.model_copy(update={"cautions": (*kept, *near)})})


def angle_remarks(floor: Floor, operations: Iterable[Operation]) -> Iterator[str]:
    """Which angles of derived operations lie near a stop, and which are so near each other that they might be taken for
    one; some of them more than once."""
    derived = [operation for operation in operations if operation.cuts]
    for operation in derived:
        for name, value, stop in _near(floor, operation):
            told = f"{operation.joint}: {name} {format_angle(value)}{_IS_NEAR}{format_angle(stop)}"
            yield f"{told}; it is a setting of its own"
    angled = [
        (station.id, setting)
        for station in floor.job.shop.stations
        for setting in station.settings
        if any(setting.id in angles for angles in _ANGLES.values())
    ]
    for id, setting in angled:
        asked = {op.settings.get(setting.id) for op in derived if op.station == id}
        for a, b in pairwise(sorted(value for value in asked if isinstance(value, float))):
            if 0 < b - a <= floor.limits.near_stop:
                yield f"{setting.called} {format_angle(a)} and {format_angle(b)}{_APART}"


def speaks_of_angles(remark: str) -> bool:
    """Whether a remark of a plan is one of these."""
    return _IS_NEAR in remark or remark.endswith(_APART)


def _near(floor: Floor, operation: Operation) -> Iterator[tuple[str, float, float]]:
    """The angles of a derived operation, square ones aside, that lie near a stop: name, value, stop."""
    if operation.kind not in _PROVED or not operation.cuts:
        return
    for role, angles in _ANGLES.items():
        if floor.has(role) and operation.station == floor.station(role):
            for name, square in angles.items():
                value = operation.settings.get(name)
                if isinstance(value, float) and abs(value - square) > ANGLE_HAIR:
                    stop = floor.near_stop(role, name, value)
                    if stop is not None:
                        yield as_words(name), value, stop
