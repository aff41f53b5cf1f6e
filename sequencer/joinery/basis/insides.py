"""Which faces of boards are inside, once all is glued up: both of shelves and dividers, one of the sides of a case."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from itertools import product
from typing import Literal

from sequencer.joinery.basis.nearness import HAIR
from sequencer.joinery.basis.seats import OPPOSITE
from sequencer.model.job import Job
from sequencer.model.parts import (
    CaseMitre,
    EndToEdge,
    EndToFace,
    FrameMitre,
    Groove,
    Housing,
    Joint,
    LegToApron,
    Part,
    Rebate,
    Splayed,
    Stave,
)

_TRENCH = (Groove, Rebate, Housing)
_ROUND = (CaseMitre, Splayed, Stave, LegToApron)
"""What goes round something with its faces out."""
_FACES_OUT = (*_ROUND, FrameMitre, EndToEdge)
"""What has its faces outside, be they round something or a frame's."""


def side_of(surface: str, part: Part, job: Job) -> Literal["inside", "outside", ""]:
    """The side a face of a board is on, where only one of the two is inside; "" for all other surfaces."""
    parts = {other.id: other for other in job.parts}
    if surface not in ("face", "back") or inside_on_both(part, job.joints, parts):
        return ""
    return "outside" if surface == outside_of(part, job.joints, parts) else "inside"


def inside_on_both(part: Part, joints: Iterable[Joint], parts: Mapping[str, Part]) -> bool:
    """Whether a board stands between others, away from the ends of its mates, or both its faces are inside else; one
    flush with these ends, as a box's front is, has one of them outside (`outside_of`)."""
    joints = tuple(joints)
    return _between(part, joints, parts) or {"face", "back"} <= _inside(part, joints, parts)


def outside_of(part: Part, joints: Iterable[Joint], parts: Mapping[str, Part]) -> str:
    """The face of a board that is outside, where only one of the two is inside: its back where its face is, else its
    face, as README, Parts, has it."""
    return "back" if _inside(part, tuple(joints), parts) == {"face"} else "face"


def _between(part: Part, joints: Iterable[Joint], parts: Mapping[str, Part]) -> bool:
    """Whether a board stands between others: butted away from their ends, or in their housings."""
    for joint in joints:
        if isinstance(joint, EndToFace) and joint.parts[0] == part.id:
            last = parts[joint.parts[1]].length - part.thickness
            if any(HAIR < at < last - HAIR for at in joint.at):
                return True
        elif isinstance(joint, Housing) and joint.holds == part.id:
            return True
    return False


def _inside(part: Part, joints: tuple[Joint, ...], parts: Mapping[str, Part]) -> set[str]:
    """The faces of a board that are known to be inside: those other boards stand on or in, the backs of boards that go
    round something, and that of a board butted between the ends of others which it turns to these."""
    found: set[str] = set()
    outward: set[str] = set()
    faces_out = any(isinstance(joint, _FACES_OUT) and part.id in _boards(joint) for joint in joints)

    def closes(joint: Groove | Rebate | Housing) -> bool:
        """Whether what it holds goes round the outside, as a lid does, or closes a frame from there."""
        return faces_out and isinstance(joint, Rebate) and joint.on == "face"

    for joint in joints:
        if isinstance(joint, EndToFace):
            if joint.parts[0] == part.id:
                outward |= _outward(joint, part, parts[joint.parts[1]])
            elif joint.parts[1] == part.id:
                found |= {*joint.on}
        elif isinstance(joint, _ROUND) and part.id in _boards(joint):
            found.add("back")
        elif isinstance(joint, _TRENCH) and joint.holds and part.id in joint.parts and not closes(joint):
            found.add(joint.on)
    if len(outward) == 1:
        found |= {OPPOSITE[face] for face in outward}
    return found & {"face", "back"}


def _boards(joint: Joint) -> tuple[str, ...]:
    """The parts of a joint, its legs among them."""
    return (*joint.parts, joint.leg) if isinstance(joint, LegToApron) else tuple(joint.parts)


def _outward(joint: EndToFace, part: Part, mate: Part) -> set[str]:
    """The faces of a board that lie outwards where it is flush with the ends of its mates (README, Joints, tells how it
    lies on these): both where it may lie either way."""
    last = mate.length - part.thickness
    found = set()
    for end, on, at in product(joint.ends, joint.on, joint.at):
        back_to_left_end = (end == "left end") == (on == "back")
        if min(at, last - at) <= HAIR:
            found.add("back" if back_to_left_end == (at <= HAIR) else "face")
    return found
