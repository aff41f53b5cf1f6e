"""Boards that would take the same place on a part: rails along a stile, shelves across a side."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import combinations
from typing import NamedTuple

from sequencer.joinery.basis.floor import Floor
from sequencer.joinery.basis.nearness import HAIR
from sequencer.joinery.basis.refusal import Refusal
from sequencer.model.parts import EndToEdge, EndToFace, Housing, Joint, Part


class Overlap(Refusal):
    """Two boards that stand in each other's way."""


class _Place(NamedTuple):
    """From where to where, from the left end of `part`, a board stands on its `surface`, mm."""

    joint: str
    part: str
    surface: str
    low: float
    high: float
    board: str
    """What stands there; empty for a housing that does not tell."""


def taken_twice(
    floor: Floor, joints: Sequence[Joint], parts: Mapping[str, Part]
) -> Iterator[tuple[str, Refusal]]:
    """Joint and refusal for every two boards that stand in each other's way on a part.

    Housings of two joints are let pass where nothing is said to sit in one of them: that is how a wide one is made
    with a narrow bit. Whether a board with slips stands in a housing that is its own, or nobody's, is not told here
    (`sequencer.joinery.trenches.footprints`).
    """
    keys = {joint.id: placed_by(joint) for joint in joints}
    every = (place for joint in joints for place in _places(joint, parts))
    # what stands beyond its part is told as that (`within`)
    places = [p for p in every if p.low > -HAIR and p.high < parts[p.part].length + HAIR]
    for one, two in combinations(places, 2):
        apart = max(one.low, two.low) - min(one.high, two.high)
        if (one.part, one.surface) != (two.part, two.surface) or apart > -HAIR:
            continue
        if one.joint != two.joint and (one.board == two.board or not (one.board and two.board)):
            continue
        yield (
            two.joint,
            Overlap(
                f"{_said(floor, one)} and {_said(floor, two)} overlap on the {one.surface} of {one.part}"
                + ("" if one.joint == two.joint else f' (the first in joint "{one.joint}")'),
                "places (at) that leave each its room",
                keys[two.joint],
            ),
        )


def placed_by(joint: Joint) -> str:
    """The key by which a joint says where its boards stand: its places, or, where none are written, its parts."""
    return "parts" if getattr(joint, "at", None) is None else "at"


def rail_places(joint: EndToEdge, rail: Part, stile: Part) -> tuple[float, ...]:
    """Where rails lie along a stile: from its left end to the near side of each, mm."""
    return joint.at if joint.at is not None else (0.0, stile.length - rail.width)


def within(key: str, at: tuple[float, ...], size: float, board: Part, part: Part, floor: Floor) -> None:
    """Raises Refusal where a board that takes so much, at these places from the left end, does not stand wholly on a
    part; `key`: of the joint, where its places are written."""
    if size > part.length + HAIR:
        raise Refusal(
            f"{board.id} takes {floor.fine(size)} of {part.id}, which is {floor.fine(part.length)} long",
            f"at most {floor.fine(part.length)}, or a longer {part.id}",
            "parts",
        )
    for a in at:
        if a < 0 or a + size > part.length + HAIR:
            raise Refusal(
                f"from {floor.fine(a)} to {floor.fine(a + size)} is beyond {part.id}, which is "
                f"{floor.fine(part.length)} long",
                f"places from 0 to {floor.fine(part.length - size)}",
                key,
            )


def _said(floor: Floor, place: _Place) -> str:
    board = place.board or "a housing"
    return f"{board} from {floor.length(place.low)} to {floor.length(place.high)}"


def _places(joint: Joint, parts: Mapping[str, Part]) -> Iterator[_Place]:
    if isinstance(joint, EndToEdge):
        rail, stile = (parts[name] for name in joint.parts)
        for edge in joint.edges:
            for at in rail_places(joint, rail, stile):
                yield _Place(joint.id, stile.id, edge, at, at + rail.width, rail.id)
    elif isinstance(joint, EndToFace):
        shelf, side = (parts[name] for name in joint.parts)
        for face in joint.on:
            yield from (_Place(joint.id, side.id, face, a, a + shelf.thickness, shelf.id) for a in joint.at)
    elif isinstance(joint, Housing):
        for name in joint.parts:
            yield from (_Place(joint.id, name, joint.on, a, a + joint.width, joint.holds) for a in joint.at)


def in_words(at: Iterable[float], floor: Floor) -> str:
    """Places as a job file has them, with commas between them."""
    return ", ".join(floor.fine(a) for a in at)
