"""What the bevels of a part leave of its grooves, rebates and housings. Lengths in mm.

A trench is asked for in the square board. Bevelled ends may shorten it; what is sawn along it takes of its width and
depth, or all of it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

import numpy as np

from sequencer.geometry import convex
from sequencer.geometry.convex import Plane, Vec
from sequencer.geometry.slots import corners_of
from sequencer.joinery.basis.floor import Floor
from sequencer.joinery.basis.nearness import COSINE_HAIR, HAIR
from sequencer.joinery.basis.refusal import Refusal
from sequencer.joinery.basis.seats import Body
from sequencer.joinery.trenches.cuts import AXIS, FAR, TrenchJoint, beside, trenches_in
from sequencer.model.parts import Housing, Joint, Rebate
from sequencer.operations import Trench
from sequencer.quantity import SLIGHTEST


class _Widths(NamedTuple):
    """How wide a trench is in the surface it is cut into, and at its bottom."""

    mouth: float
    bottom: float


class _Loss(NamedTuple):
    """A trench that is nowhere along its run as wide and deep as asked for."""

    joint: TrenchJoint
    part: str
    by: tuple[str, ...]
    """The sawn surfaces that take of it."""
    most: _Widths
    least: _Widths
    """What is left of its width at the one end of its run and at the other, where there is more and where less."""
    deep: float
    """How deep it is at most."""
    long: float
    run: float
    """Along how much of its run anything is left, and how long that is."""
    gone: bool
    """Whether no more is left than what checks let a cut be off."""

    @property
    def sawn(self) -> str:
        """The surfaces, in words."""
        return " and ".join(f"the {surface}" for surface in self.by)


def sawn_off(joints: Sequence[Joint], bodies: Mapping[str, Body]) -> Iterator[tuple[str, Refusal]]:
    """Joint and refusal for every groove, rebate or housing of which sawing leaves nothing."""
    for loss in _losses(joints, bodies):
        if loss.gone:
            joint = loss.joint
            where = f"in the {joint.on} of {loss.part}"
            other = "a wider one" if isinstance(joint, Rebate) else "a place"
            yield (
                joint.id,
                Refusal(
                    f"nothing is left of the {joint.kind} {where} when all is sawn: {loss.sawn} "
                    f"{'takes' if len(loss.by) == 1 else 'take'} the wood it is cut into",
                    f"{other} clear of {loss.sawn}, or another surface",
                    _placed_by(joint),
                ),
            )


def _placed_by(joint: TrenchJoint) -> str:
    """The key that says where in its surface a trench lies."""
    return "at" if isinstance(joint, Housing) else "width" if isinstance(joint, Rebate) else "from"


def sawn_remarks(floor: Floor, joints: Sequence[Joint], bodies: Mapping[str, Body]) -> Iterator[str]:
    """A remark for every groove, rebate or housing that sawing leaves nowhere as wide and deep as it is asked for."""
    told: dict[str, None] = {}  # several housings of a joint may lose alike
    for loss in _losses(joints, bodies):
        joint = loss.joint
        told[
            f"{loss.part}: {loss.sawn} {'takes' if len(loss.by) == 1 else 'take'} part of the {joint.kind} {joint.id}: "
            f"when all is sawn it {_left_in_words(floor, loss)}"
        ] = None
    yield from told


def _left_in_words(floor: Floor, loss: _Loss) -> str:
    """What is left of a trench: both widths, since what is sawn mostly slants across it, and what else is less."""
    joint, size = loss.joint, floor.length
    mouth, bottom = (size(left) if left >= SLIGHTEST else "nothing" for left in loss.most)
    if loss.most.mouth >= SLIGHTEST:
        wide = f"{mouth} wide at the {joint.on} and {bottom} at its bottom"
    else:
        wide = f"nothing at the {joint.on} and {bottom} wide at its bottom"
    deep = f", at most {size(loss.deep)} deep" if loss.deep < joint.depth - SLIGHTEST else ""
    if loss.long < loss.run - SLIGHTEST:
        return f"tapers from {wide}{deep}, and ends after {size(loss.long)} of {size(loss.run)}"
    if any(more - less > SLIGHTEST for more, less in zip(loss.most, loss.least, strict=True)):
        mouth, bottom = (size(left) if left >= SLIGHTEST else "nothing" for left in loss.least)
        return f"tapers from {wide} to {mouth} and {bottom}{deep}"
    return f"is nowhere {size(joint.width)} wide and {size(joint.depth)} deep, but {wide}{deep}"


def _losses(joints: Sequence[Joint], bodies: Mapping[str, Body]) -> Iterator[_Loss]:
    for body in bodies.values():
        planes = planes_of(body)
        for joint, box in trenches_in(joints, body.part):
            cutting = [plane for plane in planes if plane.height(corners_of(box)).max() > SLIGHTEST]
            if not cutting or _full(joint, box, cutting):
                continue
            yield _loss(joint, body.part.id, box, cutting)


def _loss(joint: TrenchJoint, part: str, box: Trench, cutting: Sequence[Plane]) -> _Loss:
    run, into, across = _edges(joint, box)[0], AXIS[joint.on], AXIS[beside(joint)]
    by = _taking(joint, box, cutting)
    left, all_off = left_of(box, [plane for plane in cutting if plane.name in by]), left_of(box, cutting)
    mouth, bottom = (box.high, box.low) if joint.on in FAR else (box.low, box.high)
    ends = [_at(left, run, limit[run]) for limit in (box.low, box.high)]
    widths = [
        _Widths(*(_extent(_at(there, into, level[into]), across) for level in (mouth, bottom)))
        for there in (*ends, left)
    ]
    return _Loss(
        joint,
        part,
        by,
        widths[-1],
        min(widths, key=sum),
        _extent(left, into),
        _extent(left, run),
        box.high[run] - box.low[run],
        min(_extent(all_off, across), _extent(all_off, into)) < SLIGHTEST,
    )


def _at(points: Vec, axis: int, place: float) -> Vec:
    """Those of some points that lie at a place along an axis."""
    return points[np.abs(points[:, axis] - place) < HAIR]


def _extent(points: Vec, axis: int) -> float:
    """How far points reach along an axis."""
    return float(np.ptp(points[:, axis])) if len(points) else 0.0


def _edges(joint: TrenchJoint, box: Trench) -> tuple[int, Vec]:
    """The axis a trench runs along, and where its four long edges begin."""
    run = 3 - AXIS[joint.on] - AXIS[beside(joint)]
    corners = corners_of(box)
    return run, corners[corners[:, run] == box.low[run]]


def _full(joint: TrenchJoint, box: Trench, planes: Sequence[Plane]) -> bool:
    """Whether a trench has its whole section anywhere along its run: there all its long edges are in the wood."""
    run, starts = _edges(joint, box)
    low, high = 0.0, box.high[run] - box.low[run]
    for plane in planes:
        rate = float(plane.normal[run])
        for height in plane.height(starts):
            if abs(rate) > COSINE_HAIR:
                low, high = (low, min(high, -height / rate)) if rate > 0 else (max(low, -height / rate), high)
            elif height > SLIGHTEST:
                return False
    return high - low > SLIGHTEST


def _taking(joint: TrenchJoint, box: Trench, planes: Sequence[Plane]) -> tuple[str, ...]:
    """The surfaces that take of a trench in the middle of its run; any where none does there."""
    run, starts = _edges(joint, box)
    middle = starts + np.eye(3)[run] * (box.high[run] - box.low[run]) / 2
    there = tuple(plane.name for plane in planes if plane.height(middle).max() > SLIGHTEST)
    return there or tuple(plane.name for plane in planes)


def planes_of(body: Body) -> list[Plane]:
    """The surfaces of a part when all is sawn."""
    return [Plane(side.name, np.array(side.normal), side.offset) for side in body.sides]


def left_of(box: Trench, planes: Sequence[Plane]) -> Vec:
    """Corners of what the planes leave of a trench; none where nothing is left."""
    sides = [
        Plane("", sign * np.eye(3)[k], sign * limit)
        for k in range(3)
        for sign, limit in ((-1.0, box.low[k]), (1.0, box.high[k]))
    ]
    every = [*sides, *planes]
    size = 10 * float(np.abs(corners_of(box)).max() + max(abs(plane.offset) for plane in planes))
    faces = [convex.face(plane, every, size) for plane in every]
    return np.vstack([np.zeros((0, 3)), *(face for face in faces if len(face))])
