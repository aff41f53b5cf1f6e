"""Whether grooves, rebates and housings leave a board something to stand on where slips join it. Lengths in mm."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import product

from sequencer.joinery.basis.floor import Floor
from sequencer.joinery.basis.nearness import HAIR
from sequencer.joinery.basis.refusal import Refusal
from sequencer.joinery.basis.seats import Pair, Seat, dot
from sequencer.joinery.trenches.cuts import AXIS, TrenchJoint, open_to, trenches_in
from sequencer.operations import Trench

Rectangle = tuple[tuple[float, float], tuple[float, float]]
"""From where to where along both axes of a board's surface."""


def stand_on_wood(floor: Floor, pairs: Iterable[Pair]) -> None:
    """Raises Refusal where trenches take the surface away on which the first board of a pair stands, so that it would
    sink in farther than the mortises reckon with, or stand over a void: no strip of it as wide as the shop's least wall
    is left. Grooves and rebates that merely run through beneath it leave one.
    """
    for pair in pairs:
        print_, seat = _footprint(pair), pair.second
        taken = [
            (joint, mouth)
            for joint, box in trenches_in(floor.job.joints, seat.part)
            if (mouth := _mouth(seat, box)) is not None and _meet(print_, mouth)
        ]
        wide = min(floor.limits.least_wall, *(high - low for low, high in print_))
        mouths = [mouth for _, mouth in taken]
        if taken and not _strip_left(print_, mouths, wide):
            deepest = max((joint for joint, _ in taken), key=lambda joint: joint.depth)
            raise _no_seat(floor, pair, deepest, _strip_left(print_, mouths, 10 * HAIR))


def _footprint(pair: Pair) -> Rectangle:
    """Where the first board's end or edge stands on the second one's surface."""
    one, other = pair.first, pair.second
    size = (one.part.length, one.part.width, one.part.thickness)
    depth = AXIS[one.base]
    corners = []
    for far in product((0.0, 1.0), repeat=3):
        point = [share * length for share, length in zip(far, size, strict=True)]
        point[depth] = one.origin[depth]
        away = (point[0] - one.origin[0], point[1] - one.origin[1], point[2] - one.origin[2])
        corners.append(other.mouth(dot(away, one.along), dot(away, one.across)))
    a, b = _axes(other)
    size = (other.part.length, other.part.width, other.part.thickness)
    return _range((c[a] for c in corners), size[a]), _range((c[b] for c in corners), size[b])


def _range(values: Iterable[float], size: float) -> tuple[float, float]:
    """From the least to the greatest, as far as there is wood: a thicker board stands beside its mate, too."""
    found = list(values)
    return max(0.0, min(found)), min(size, max(found))


def _axes(seat: Seat) -> tuple[int, int]:
    """The two axes of the board that lie in the surface of a seat."""
    a, b = (k for k in range(3) if k != AXIS[seat.base])
    return a, b


def _mouth(seat: Seat, box: Trench) -> Rectangle | None:
    """What a trench takes of the surface of a seat, None where it is not open to it."""
    if not open_to(seat.base, box, seat.part):
        return None
    a, b = _axes(seat)
    return (box.low[a], box.high[a]), (box.low[b], box.high[b])


def _meet(one: Rectangle, other: Rectangle) -> bool:
    return all(max(a, c) < min(b, d) - HAIR for (a, b), (c, d) in zip(one, other, strict=True))


def _strip_left(whole: Rectangle, taken: Sequence[Rectangle], wide: float) -> bool:
    """Whether some rectangle at least so wide both ways is left of a whole one."""
    return any(
        not any(_meet((one, other), mouth) for mouth in taken)
        for one, other in product(*(_spans(whole, taken, axis, wide) for axis in (0, 1)))
    )


def _spans(
    whole: Rectangle, taken: Sequence[Rectangle], axis: int, wide: float
) -> Iterator[tuple[float, float]]:
    """Along one axis, all from one border to another that are wide enough."""
    low, high = whole[axis]
    borders = sorted({low, high, *(x for mouth in taken for x in mouth[axis] if low < x < high)})
    yield from ((a, b) for i, a in enumerate(borders) for b in borders[i + 1 :] if b - a >= wide - HAIR)


def _no_seat(floor: Floor, pair: Pair, joint: TrenchJoint, some: bool) -> Refusal:
    """Why a board cannot both stand where a trench is and be held by slips there; `some`: of its seat is left."""
    board, mate = pair.first.part.id, pair.second.part.id
    return Refusal(
        f'the {joint.kind} "{joint.id}" '
        + (
            f"leaves {board} less than {floor.length(floor.limits.least_wall)} of {mate} to stand on (the shop's least "
            "wall)"
            if some
            else f"seats {board} {floor.length(joint.depth)} deep in {mate}, which the mortises do not reckon with"
        ),
        f"the {joint.kind} or the slips, not both",
    )
