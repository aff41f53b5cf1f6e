"""Boards whose lengths do not go with what they are joined to, in words.

Rails and shelves between the same two parts must be equally long, and as long as a rectangular case or frame leaves
room for; staves of unlike lengths make a column of unlike ends.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence

from sequencer.joinery.floor import Floor
from sequencer.joinery.held import mitred_opening
from sequencer.model.parts import CaseMitre, EndToEdge, EndToFace, FrameMitre, Joint, Part, Stave

ALIKE = 0.05
"""mm: lengths that differ by less are alike."""
Met = tuple[str, str]
"""A part, and the surface of it that an end meets."""


def unlike_spans(
    floor: Floor, joints: Sequence[Joint], parts: Mapping[str, Part]
) -> Iterator[tuple[str, str]]:
    """A sentence for each board (its part first) that cannot reach from one of its mates to the other as its fellows
    do, or as the case or frame asks that these are part of; and for staves of unlike lengths.
    """
    between: dict[tuple[Met, ...], list[str]] = defaultdict(list)
    for board, mates in _between(joints):
        between[mates].append(board)
    for mates, boards in between.items():
        sides = " and ".join(dict.fromkeys(part for part, _ in mates))
        longest = max(boards, key=lambda name: parts[name].length)
        for name in boards:
            if parts[longest].length - parts[name].length > ALIKE:
                yield (
                    name,
                    f"{name}, {floor.fine(parts[name].length)} long, is joined between the same {sides} as {longest}, "
                    f"{floor.fine(parts[longest].length)} long: they cannot both reach",
                )
    for joint in joints:
        if isinstance(joint, (CaseMitre, FrameMitre)):
            yield from _in_ring(floor, joint, between, parts)
        elif isinstance(joint, Stave):
            lengths = {name: parts[name].length for name in joint.parts}
            if max(lengths.values()) - min(lengths.values()) > ALIKE:
                each = ", ".join(f"{name} {floor.fine(length)}" for name, length in lengths.items())
                yield (
                    joint.parts[0],
                    f"{joint.id}: staves of unlike lengths ({each}) are flush at their left ends",
                )


def _between(joints: Sequence[Joint]) -> Iterator[tuple[str, tuple[Met, ...]]]:
    """Every board joined at both ends, with what these meet; not one whose pieces meet various surfaces."""
    met: dict[str, dict[str, set[Met]]] = defaultdict(lambda: defaultdict(set))
    for joint in joints:
        if isinstance(joint, (EndToEdge, EndToFace)):
            board, mate = joint.parts
            for surface in joint.edges if isinstance(joint, EndToEdge) else joint.on:
                for end in joint.ends:
                    met[board][end].add((mate, surface))
    for board, ends in met.items():
        if len(ends) == 2 and all(len(mates) == 1 for mates in ends.values()):
            yield board, tuple(sorted(mate for mates in ends.values() for mate in mates))


def _in_ring(
    floor: Floor,
    ring: CaseMitre | FrameMitre,
    between: Mapping[tuple[Met, ...], Sequence[str]],
    parts: Mapping[str, Part],
) -> Iterator[tuple[str, str]]:
    """Boards between two sides of a rectangular case or frame against the room these leave."""
    inside = "back" if isinstance(ring, CaseMitre) else "far edge"
    for sides in mitred_opening(ring, parts):
        for side in sides:
            for name in between.get(tuple(sorted((bound, inside) for bound in side.bounds)), ()):
                if abs(parts[name].length - side.free) > ALIKE:
                    yield (
                        name,
                        f"{name}, {floor.fine(parts[name].length)} long, does not fit between "
                        f"{' and '.join(dict.fromkeys(side.bounds))}, which {ring.id} holds "
                        f"{floor.fine(side.free)} apart",
                    )
