"""What works where two pieces of one part that look at each other would have to be mirror images. Lengths in mm."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from sequencer.joinery.floor import Floor
from sequencer.model.parts import LegToApron, Part


def turned_places(at: Iterable[float], size: float, length: float) -> tuple[float, ...]:
    """Places of boards of this size along a part, seen from its other end, in their order from there."""
    return tuple(sorted(round(length - size - a, 6) for a in at))


def alike_turned(at: Iterable[float], size: float, length: float) -> bool:
    """Whether the places are the same from both ends of the part."""
    at = sorted(at)
    return all(abs(a - b) < 1e-3 for a, b in zip(at, turned_places(at, size, length), strict=True))


def own_parts(part: Part, floor: Floor) -> bool:
    """Whether the two pieces can be parts of their own; aprons and legs cannot, those of a table are one part."""
    tables = (joint for joint in floor.job.joints if isinstance(joint, LegToApron))
    return all(part.id not in (*table.parts, table.leg) for table in tables)


def ways_round(
    at: Sequence[float], size: float, part: Part, ends: Sequence[str], floor: Floor, uneven: str = ""
) -> str:
    """What to do where pieces turned end for end need boards of this size at unlike places: one part with places alike
    from both ends, or two parts; `uneven`: the trench that is unlike itself, too; `ends` as in `two_parts`.
    """
    if not own_parts(part, floor):
        return " and ".join(_one_part(at, size, part, floor, uneven))
    one = f"{_middle(at, size, part, floor)}, or " if len(at) == 1 and not uneven else ""
    return one + two_parts(at, size, part, ends, floor)


def two_parts(at: Sequence[float], size: float, part: Part, ends: Sequence[str], floor: Floor) -> str:
    """The two joints instead of one; `ends` of the boards: the first meets the piece whose places are kept."""
    one, other = ends
    turned = turned_places(at, size, part.length)
    return (
        f'two joints, each with a {part.id} of its own: one with ends = ["{one}"], one with ends = ["{other}"] and at '
        f"{listed(turned, floor)}, since the left end is up there"
    )


def _one_part(at: Sequence[float], size: float, part: Part, floor: Floor, uneven: str) -> Iterator[str]:
    """What must change in one part that serves at both places."""
    if uneven:
        yield f"{uneven} alike from both ends"
    if not alike_turned(at, size, part.length):
        yield _middle(at, size, part, floor)


def _middle(at: Sequence[float], size: float, part: Part, floor: Floor) -> str:
    """The places as far apart as before, or nearly, halfway between those from one end and those from the other."""
    pairs = zip(sorted(at), turned_places(at, size, part.length), strict=True)
    where = "in the middle" if len(at) == 1 else "alike from both ends"
    return f"at {listed(((a + b) / 2 for a, b in pairs), floor)}, {where}"


def listed(at: Iterable[float], floor: Floor) -> str:
    """Places in words."""
    return ", ".join(floor.fine(a) for a in at)
