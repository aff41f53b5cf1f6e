"""Whether two sides that shelves hold beside each other, or two stiles of rails, stand level. Lengths in mm.

Each of a joint of its own, they may stand anywhere along their length as far as the joints tell; equally long ones that
do not stand level are mostly meant to (common practice, no source): the second one's places were measured from the
wrong end.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import combinations
from typing import NamedTuple

from sequencer.joinery.basis.floor import Floor
from sequencer.joinery.basis.nearness import COSINE_HAIR, IN_PLACE
from sequencer.joinery.basis.places import in_words
from sequencer.joinery.whole.lying import Piece
from sequencer.model.parts import EndToEdge, EndToFace, Joint, Part


class Beside(NamedTuple):
    """Two joints, each of one end of the same boards with one of two equally long parts."""

    one: EndToEdge | EndToFace
    other: EndToEdge | EndToFace


def side_by_side(joints: Iterable[Joint], parts: Mapping[str, Part]) -> list[Beside]:
    """All such joints."""
    single = [j for j in joints if isinstance(j, (EndToEdge, EndToFace)) and len(j.ends) == 1]
    return [
        Beside(a, b)
        for a, b in combinations(single, 2)
        if a.parts[0] == b.parts[0]
        and a.parts[1] != b.parts[1]
        and a.ends != b.ends
        and abs(parts[a.parts[1]].length - parts[b.parts[1]].length) < IN_PLACE
    ]


def not_level(
    pairs: Sequence[Beside], thing: Sequence[Piece], parts: Mapping[str, Part], floor: Floor
) -> str | None:
    """A remark on the first two that do not stand level in a thing, with the places that would make them."""
    for one, other in pairs:
        board, a, b = one.parts[0], one.parts[1], other.parts[1]
        if not any(p.part == board and {one.id, other.id} <= p.joints for p in thing):
            continue
        found = [[p for p in thing if p.part == j.parts[1] and j.id in p.joints] for j in (one, other)]
        if any(len(pieces) != 1 for pieces in found):
            continue
        (first,), (second,) = found
        along = second.poses[0][0][:, 0]
        if abs(float(along @ first.poses[0][0][:, 0])) < 1 - COSINE_HAIR:
            continue
        off = float(along @ (second.middle(parts[b]) - first.middle(parts[a])))
        if abs(off) > IN_PLACE:
            return (
                f"{a} and {b}, equally long and joined to the same {board}, stand {floor.fine(abs(off))} off each "
                f"other along their length{_works(other, off, second, parts, floor)}"
            )
    return None


def _works(
    joint: EndToEdge | EndToFace, off: float, piece: Piece, parts: Mapping[str, Part], floor: Floor
) -> str:
    """The places that move a piece back by so much, where no other joint has it."""
    board, side = (parts[name] for name in joint.parts)
    size = board.width if isinstance(joint, EndToEdge) else board.thickness
    at = [a + off for a in joint.at or ()]
    if piece.joints != {joint.id} or not at or min(at) < 0 or max(at) + size > side.length:
        return ""
    return f"; with at {in_words(sorted(at), floor)} in {joint.id} they would stand level"
