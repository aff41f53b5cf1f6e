"""The wood that stands between a groove, rebate or housing and a surface beside it, when all is sawn. Lengths in mm."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from math import inf

from sequencer.joinery.basis.floor import Floor
from sequencer.joinery.basis.nearness import HAIR, NEAR
from sequencer.joinery.basis.seats import OPPOSITE, Body
from sequencer.joinery.trenches.cuts import TrenchJoint, trenches_in
from sequencer.joinery.trenches.sawn_off import left_of, planes_of
from sequencer.model.parts import Joint


def lip_remarks(floor: Floor, joints: Sequence[Joint], bodies: Mapping[str, Body]) -> Iterator[str]:
    """A remark for every trench and surface beside it, sawn or not, with less than the shop's least wall between them:
    wood so thin breaks out. What opens in a surface leaves no wall there.
    """
    for body in bodies.values():
        thin: dict[tuple[str, str, str], float] = {}
        for joint, surface, left in _lips(joints, body):
            where = joint.id, joint.on, surface
            if NEAR < left < min(floor.limits.least_wall - HAIR, thin.get(where, inf)):
                thin[where] = left
        for (id, on, surface), left in thin.items():
            yield f"{body.part.id}: only {floor.fine(left)} of wood is left between {id} ({on}) and its {surface}"


def _lips(joints: Sequence[Joint], body: Body) -> Iterator[tuple[TrenchJoint, str, float]]:
    """The wall between every trench of a part and every surface beside it, where it is least, square to the surface, of
    what is left of the trench when all is sawn. (What stays beneath it is the depth its maker chose: it may be a
    tongue's.)
    """
    planes = planes_of(body)
    for joint, box in trenches_in(joints, body.part):
        left = left_of(box, planes)
        for plane in planes if len(left) else ():
            if plane.name != OPPOSITE[joint.on]:
                yield joint, plane.name, -float(plane.height(left).max())
