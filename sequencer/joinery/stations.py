"""Which stations the parts and joints of a job need, asked of the shop before anything is worked out."""

from __future__ import annotations

from collections.abc import Iterator

from sequencer.diagnostics import InputError
from sequencer.joinery.basis.floor import Floor
from sequencer.joinery.meetings.rings import RingJoint
from sequencer.joinery.trenches.cuts import TrenchJoint
from sequencer.model.job import Job
from sequencer.model.parts import Joint, Part


def without_stations(job: Job, stock: bool = False) -> None:
    """Raise InputError with one fault for each station that the joints need, with `stock` the parts, too, and the shop
    has not: told of the first that needs it, with the names of all."""
    floor = Floor(job)
    needing: dict[str, dict[tuple[str, str], None]] = {}
    for part in job.parts if stock else ():
        for role in _for_stock(part):
            needing.setdefault(role, {})["part", part.id] = None
    for joint in job.joints:
        for role in _for_joint(joint, floor):
            needing.setdefault(role, {})["joint", joint.id] = None
    faults = [
        floor.fault(*next(iter(those)), floor.without(role, [name for _, name in those]))
        for role, those in needing.items()
        if not floor.has(role)
    ]
    if faults:
        raise InputError(faults)


def _for_stock(part: Part) -> tuple[str, ...]:
    if part.stock == "sized":
        return ()
    return ("mill", "saw") if part.stock == "rough" else ("saw",)


def _for_joint(joint: Joint, floor: Floor) -> Iterator[str]:
    if isinstance(joint, TrenchJoint):
        if not floor.has("router"):
            yield "saw"
        return
    if isinstance(joint, RingJoint):
        yield "saw"
    yield "mortiser"
