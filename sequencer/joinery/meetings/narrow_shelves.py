"""What works where a shelf is narrower than the sides it stands between, and these are one part that other boards stand
between, too: the shelf asks for sides turned end for end, which the others may not allow. Lengths in mm."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from sequencer.joinery.basis.facing import turned_places
from sequencer.joinery.basis.floor import Floor
from sequencer.joinery.basis.nearness import HAIR
from sequencer.joinery.basis.places import in_words
from sequencer.model.parts import EndToFace, Joint, Part


def narrower(joints: Iterable[Joint], parts: Mapping[str, Part]) -> EndToFace | None:
    """The first joint of shelves at both ends that are narrower than their sides, None where there is none."""
    for joint in joints:
        if isinstance(joint, EndToFace) and len(joint.ends) == 2:
            shelf, side = (parts[name] for name in joint.parts)
            if shelf.width < side.width - HAIR:
                return joint
    return None


def full_width(shelf: Part, side: Part, floor: Floor) -> str:
    """The shelf as wide as its sides, so that these can lie alike."""
    return f"{shelf.id} as wide as {side.id}, {floor.fine(side.width)}"


def parts_apart(side: str, joints: Sequence[Joint], parts: Mapping[str, Part], floor: Floor) -> str:
    """Two parts instead of one, with the places of every joint on each; "" where joints of other kinds have it."""
    on = [joint for joint in joints if side in joint.parts]
    both = [
        joint
        for joint in on
        if isinstance(joint, EndToFace) and joint.parts[1] == side and len(joint.ends) == 2
    ]
    if len(both) < len(on) or len({joint.on for joint in both}) > 1:
        return ""
    one, other = ("left end", "right end") if both[0].on == ("back",) else ("right end", "left end")
    places = ", ".join(
        f"{in_words(turned_places(joint.at, parts[joint.parts[0]].thickness, parts[side].length), floor)}"
        f' in "{joint.id}"'
        for joint in both
    )
    return (
        f'two parts instead of {side}, and two joints for each on it: one with ends = ["{one}"] and at as it is, '
        f'one with ends = ["{other}"] and at measured from the other end: {places}'
    )
