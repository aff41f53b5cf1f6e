"""Which faces of boards are inside, once all is glued up: both of shelves and dividers, one of the sides of a case."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from itertools import product

from sequencer.joinery.basis.nearness import HAIR
from sequencer.joinery.trenches.cuts import TrenchJoint
from sequencer.model.parts import EndToFace, Housing, Joint, Part


def inside_on_both(part: Part, joints: Iterable[Joint], parts: Mapping[str, Part]) -> bool:
    """Whether a board stands between others, away from the ends of its mates, or has boards on both its faces; one
    flush with these ends, as a box's front is, has one of them outside (`outside_of`)."""
    met: set[str] = set()
    for joint in joints:
        if isinstance(joint, EndToFace):
            if joint.parts[0] == part.id:
                last = parts[joint.parts[1]].length - part.thickness
                if any(HAIR < at < last - HAIR for at in joint.at):
                    return True
            elif joint.parts[1] == part.id:
                met |= {*joint.on}
        elif isinstance(joint, TrenchJoint) and joint.holds:
            if isinstance(joint, Housing) and joint.holds == part.id:
                return True
            if part.id in joint.parts:
                met.add(joint.on)
    return {"face", "back"} <= met


def outside_of(part: Part, joints: Iterable[Joint], parts: Mapping[str, Part]) -> str:
    """The face of a board that is outside, where only one of the two is inside: its face, but for a board butted
    between the ends of others that lies back outwards at all its ends (README, Joints, tells how it lies on its mates).
    """
    outward = set()
    for joint in joints:
        if isinstance(joint, EndToFace) and joint.parts[0] == part.id:
            last = parts[joint.parts[1]].length - part.thickness
            for end, on, at in product(joint.ends, joint.on, joint.at):
                back_to_left_end = (end == "left end") == (on == "back")
                if min(at, last - at) <= HAIR:
                    outward.add("back" if back_to_left_end == (at <= HAIR) else "face")
    return "back" if outward == {"back"} else "face"
