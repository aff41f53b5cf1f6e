"""What works where two pieces of one part that look at each other would have to be mirror images. Lengths in mm."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from sequencer.joinery.basis.floor import Floor
from sequencer.joinery.basis.nearness import NEAR
from sequencer.joinery.basis.places import in_words
from sequencer.model.parts import EndToEdge, EndToFace, Joint, LegToApron, Part


def turned_places(at: Iterable[float], size: float, length: float) -> tuple[float, ...]:
    """Places of boards of this size along a part, seen from its other end, in their order from there."""
    return tuple(sorted(round(length - size - a, 6) for a in at))


def alike_turned(at: Iterable[float], size: float, length: float) -> bool:
    """Whether the places are the same from both ends of the part."""
    at = sorted(at)
    return all(abs(a - b) < NEAR for a, b in zip(at, turned_places(at, size, length), strict=True))


def own_parts(part: Part, floor: Floor) -> bool:
    """Whether the two pieces can be parts of their own; aprons and legs cannot, those of a table are one part."""
    tables = (joint for joint in floor.job.joints if isinstance(joint, LegToApron))
    return all(part.id not in (*table.parts, table.leg) for table in tables)


def lone_ends(part: Part, joints: Iterable[Joint]) -> Iterator[EndToEdge | EndToFace]:
    """The joints that have one end of a part's pieces on a mate which the other end is not on: they tell the left end
    from the right one."""
    ends: dict[str, list[EndToEdge | EndToFace]] = {}
    for joint in joints:
        if isinstance(joint, (EndToEdge, EndToFace)) and joint.parts[0] == part.id and len(joint.ends) == 1:
            ends.setdefault(joint.parts[1], []).append(joint)
    for found in ends.values():
        if len({joint.ends for joint in found}) == 1:
            yield from found


def _told_apart(part: Part, floor: Floor, own: str) -> bool:
    """Whether joints but this one make the left end of a part another thing than its right end."""
    others = [joint for joint in floor.job.joints if joint.id != own]
    sizes = {other.id: other for other in floor.job.parts}
    on = [
        j
        for j in others
        if isinstance(j, (EndToEdge, EndToFace)) and j.parts[1] == part.id and j.at is not None
    ]
    return any(lone_ends(part, others)) or any(
        not alike_turned(
            joint.at or (),
            getattr(sizes[joint.parts[0]], "width" if isinstance(joint, EndToEdge) else "thickness"),
            part.length,
        )
        for joint in on
    )


def ways_round(
    at: Sequence[float],
    size: float,
    part: Part,
    ends: Sequence[str],
    floor: Floor,
    uneven: str = "",
    own: str = "",
) -> str:
    """What to do where pieces turned end for end need boards of this size at unlike places: one part with places alike
    from both ends, unless another joint than their `own` tells these apart, or two parts; `uneven`: the trench that is
    unlike itself, too; `ends` as in `two_parts`.
    """
    if not own_parts(part, floor):
        return " and ".join(_one_part(at, size, part, floor, uneven))
    one = "" if uneven else free_middle(at, size, part, floor, own)
    return ", or ".join(filter(None, (one, two_parts(at, size, part, ends, floor))))


def free_middle(at: Sequence[float], size: float, part: Part, floor: Floor, own: str) -> str:
    """The middle of one part that serves for both, where no joint but their `own` tells its ends apart; "" else, and
    for several places."""
    return _middle(at, size, part, floor) if len(at) == 1 and not _told_apart(part, floor, own) else ""


def two_parts(at: Sequence[float], size: float, part: Part, ends: Sequence[str], floor: Floor) -> str:
    """The two joints instead of one; `ends` of the boards: the first meets the piece whose places are kept."""
    one, other = ends
    turned = turned_places(at, size, part.length)
    return (
        f'two joints, each with a {part.id} of its own: one with ends = ["{one}"], one with ends = ["{other}"] and at '
        f"{in_words(turned, floor)}, since the left end is up there{_likewise(part, floor)}"
    )


def _likewise(part: Part, floor: Floor) -> str:
    """What is on one end of a part's pieces: of two parts it is on unlike ends, for one of them has its left end up."""
    mates = dict.fromkeys(joint.parts[1] for joint in lone_ends(part, floor.job.joints))
    return "".join(
        f"; {mate}, which is on one end of {part.id}, is two parts likewise, with a joint for the left end of one "
        f"{part.id} and a joint for the right end of the other"
        for mate in mates
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
    return f"at {in_words(((a + b) / 2 for a, b in pairs), floor)}, {where}"
