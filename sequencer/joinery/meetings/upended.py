"""Pieces of one part that lie turned end for end though something else joins their left ends than their right ones."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from sequencer.joinery.basis.facing import lone_ends
from sequencer.joinery.meetings.joined import Joined
from sequencer.model.parts import EndToEdge, EndToFace, Joint, Part


def upended_remarks(
    joined: Iterable[Joined], joints: Sequence[Joint], parts: Mapping[str, Part]
) -> Iterator[str]:
    """A remark for every joint that lays two pieces of a part turned end for end, each of which another joint has at
    one end only: of posts on feet one would have its foot in the air."""
    for each in joined:
        if not _turned(each):
            continue
        board, mate = each.joint.parts
        for lone in lone_ends(parts[mate], joints):
            yield (
                f"{each.joint.id}: the two {mate}s that {board} stands between lie turned end for end, and "
                f'"{lone.id}" joins the {lone.ends[0]} of both to {lone.parts[1]}: where one has its {lone.parts[1]} '
                f"the other has its free end. For both on one side {mate} and {lone.parts[1]} are two parts each"
            )


def _turned(each: Joined) -> bool:
    """Whether the two mates of a joint's boards are one part and lie turned end for end."""
    joint = each.joint
    if isinstance(joint, EndToEdge):
        return len(joint.ends) == 2
    return (
        isinstance(joint, EndToFace)
        and len(joint.ends) == 2
        and any(pair.second.towards_left for way in each.ways for pair in way.pairs)
    )
