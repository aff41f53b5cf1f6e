"""Boards whose lengths do not go with what they are joined to, in words.

Rails and shelves between the same two parts must be equally long, and as long as a rectangular case or frame leaves
room for; staves of unlike lengths make a column of unlike ends.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import NamedTuple

from sequencer.joinery.basis.floor import Floor
from sequencer.joinery.whole.held import mitred_opening
from sequencer.model.parts import CaseMitre, EndToEdge, EndToFace, FrameMitre, Joint, Part, Stave

ALIKE = 0.05
"""mm: lengths that differ by less are alike."""
Met = tuple[str, str]
"""A part, and the surface of it that an end meets."""


class Unlike(NamedTuple):
    """Boards whose lengths do not go together, in words; and the length that would, where that is known."""

    board: str
    """The one that is too long or too short, as far as the others tell."""
    boards: tuple[str, ...]
    """All that are compared."""
    says: str
    works: str


def unlike_spans(floor: Floor, joints: Sequence[Joint], parts: Mapping[str, Part]) -> Iterator[Unlike]:
    """Each board that cannot reach from one of its mates to the other as most of its fellows do, or as the case or
    frame asks that these are part of; and staves of unlike lengths.
    """
    between: dict[tuple[Met, ...], list[str]] = defaultdict(list)
    for board, mates in _between(joints):
        between[mates].append(board)
    ringed: set[tuple[Met, ...]] = set()
    for joint in joints:
        if isinstance(joint, (CaseMitre, FrameMitre)):
            for sides, free in _in_ring(joint, parts):
                ringed.add(sides)
                yield from _against(floor, joint.id, free, between.get(sides, ()), sides, parts)
        elif isinstance(joint, Stave):
            lengths = {name: parts[name].length for name in joint.parts}
            if max(lengths.values()) - min(lengths.values()) > ALIKE:
                each = ", ".join(f"{name} {floor.fine(length)}" for name, length in lengths.items())
                says = f"{joint.id}: staves of unlike lengths ({each}) are flush at their left ends"
                yield Unlike(joint.parts[0], joint.parts, says, "staves of one length")
    for mates, boards in between.items():
        if mates not in ringed:
            yield from _among(floor, boards, mates, parts)


def _among(
    floor: Floor, boards: Sequence[str], mates: Iterable[Met], parts: Mapping[str, Part]
) -> Iterator[Unlike]:
    """Boards between the same mates that are not as long as most pieces there; of as many the shorter ones."""

    def alike(name: str) -> list[str]:
        return [other for other in boards if abs(parts[other].length - parts[name].length) <= ALIKE]

    pieces = {name: sum(parts[other].quantity for other in alike(name)) for name in boards}
    most = max(boards, key=lambda name: (pieces[name], parts[name].length))
    fits = floor.fine(parts[most].length)
    for name in boards:
        if name in alike(most):
            continue
        yield Unlike(
            name,
            tuple(boards),
            f"{name}, {floor.fine(parts[name].length)} long, is joined between the same {_named(mates)} as {most}, "
            f"{fits} long: they cannot both reach",
            f"{name} {fits} long" if pieces[name] < pieces[most] else f"{name} and {most} equally long",
        )


def _named(mates: Iterable[Met]) -> str:
    return " and ".join(dict.fromkeys(part for part, _ in mates))


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
    ring: CaseMitre | FrameMitre, parts: Mapping[str, Part]
) -> Iterator[tuple[tuple[Met, ...], float]]:
    """Two sides of a rectangular case or frame, by what boards between them meet, and the room they leave, mm."""
    inside = "back" if isinstance(ring, CaseMitre) else "far edge"
    for sides in mitred_opening(ring, parts):
        for side in sides:
            yield tuple(sorted((bound, inside) for bound in side.bounds)), side.free


def _against(
    floor: Floor,
    ring: str,
    free: float,
    boards: Iterable[str],
    mates: Iterable[Met],
    parts: Mapping[str, Part],
) -> Iterator[Unlike]:
    """Boards between two sides of a ring against the room these leave, mm."""
    for name in boards:
        if abs(parts[name].length - free) > ALIKE:
            yield Unlike(
                name,
                (name,),
                f"{name}, {floor.fine(parts[name].length)} long, does not fit between {_named(mates)}, which {ring} "
                f"holds {floor.fine(free)} apart",
                f"{name} {floor.fine(free)} long",
            )
