"""The wood between grooves, rebates and housings that are cut into one part from different surfaces."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import combinations
from math import hypot
from typing import NamedTuple

from sequencer.geometry.cells import Cells, pieces, sides_gone, wood_left
from sequencer.joinery.basis.floor import Floor
from sequencer.joinery.basis.nearness import HAIR
from sequencer.joinery.basis.refusal import Refusal
from sequencer.joinery.trenches.cuts import AXIS, FAR, TrenchJoint, beside, boxes, open_to, trenches_in
from sequencer.listing import listed
from sequencer.model.parts import Joint, Part
from sequencer.operations import Trench

MET = "meet, so that no wood is left between them"


class _Web(NamedTuple):
    """What is left between two trenches of a part."""

    one: TrenchJoint
    two: TrenchJoint
    part: str
    left: float
    """mm of wood; 0 where they meet."""
    crossing: bool
    """Whether they run in unlike directions, so that they come near each other at one place only."""


def parted(floor: Floor, joints: Sequence[Joint], parts: Mapping[str, Part]) -> Iterator[tuple[str, Refusal]]:
    """Joint and refusal for all trenches that together cut a part in pieces, or take off a whole side that it is
    measured from: the last of them.

    What they leave whole may be made: those that cross in a hole, or meet, are remarked (`web_remarks`).
    """
    for part in parts.values():
        mine = {joint.id: joint for joint, _ in trenches_in(joints, part)}
        while not _whole(_left(part, mine.values())):
            least = dict(mine)
            for id in mine:
                without = [joint for joint in least.values() if joint.id != id]
                if not _whole(_left(part, without)):
                    del least[id]
            *others, last = least.values()
            yield last.id, _parted(floor, part, others, last, _left(part, least.values()))
            del mine[last.id]


def _left(part: Part, joints: Iterable[TrenchJoint]) -> Cells:
    """What trenches leave of a part."""
    taken = (box for joint in joints for box in boxes(joint, part))
    return wood_left((part.length, part.width, part.thickness), taken)


def _whole(wood: Cells) -> bool:
    """Whether it is one piece that has all its sides, for some wood at least."""
    return pieces(wood) == 1 and not sides_gone(wood)


def _parted(
    floor: Floor, part: Part, others: Sequence[TrenchJoint], last: TrenchJoint, wood: Cells
) -> Refusal:
    """Why trenches do not leave a part whole."""
    every = [f"the {last.kind} in the {last.on} of {part.id}"]
    every += [f'the {joint.kind} "{joint.id}" in its {joint.on}' for joint in others]
    if pieces(wood) == 1:
        gone = listed([side for side in AXIS if (AXIS[side], side in FAR) in sides_gone(wood)])
        return Refusal(
            f"{listed(every)} {'leave' if others else 'leaves'} nothing of its {gone}, from which it is measured",
            f"sizes that leave some of its {gone}, or a part smaller by what is cut off",
            "depth" if others else "width",
        )
    return Refusal(
        f"{listed(every)} meet: no wood is left between them",
        f"another place, or depths that leave {floor.length(floor.limits.least_wall)} (the shop's least wall) "
        "between them",
        "depth",
    )


def web_remarks(floor: Floor, joints: Sequence[Joint], parts: Mapping[str, Part]) -> Iterator[str]:
    """A remark for every two trenches that leave less than the shop's least wall between them, or none."""
    for web in _webs(joints, parts):
        both = f"{web.one.id} ({web.one.on}) and {web.two.id} ({web.two.on})"
        if web.left <= HAIR:
            yield f"{web.part}: {both} {'go through it where they cross' if web.crossing else MET}"
        elif web.left < floor.limits.least_wall - HAIR:
            yield f"{web.part}: only {floor.length(web.left)} of wood is left between {both}"


def _webs(joints: Sequence[Joint], parts: Mapping[str, Part]) -> Iterator[_Web]:
    """The least wood between every two joints' trenches in a part that may weaken it.

    From one surface they only make each other wider or deeper, and one that is open to the surface beside its own makes
    a step with what is cut into that: a rebate with a groove in the edge it runs along, not with one in the other edge.
    Trenches that cross from neighbouring surfaces open into each other as a housing does in a grooved edge.
    """
    for part in parts.values():
        found: dict[tuple[str, str], _Web] = {}
        for (one, box), (two, other) in combinations(trenches_in(joints, part), 2):
            crossing = _run(one) != _run(two)
            opposite = AXIS[one.on] == AXIS[two.on]
            step = not opposite and (open_to(two.on, box, part) or open_to(one.on, other, part))
            if one.on == two.on or step or (crossing and not opposite):
                continue
            left, known = _between(box, other), found.get((one.id, two.id))
            if known is None or left < known.left:
                found[one.id, two.id] = _Web(one, two, part.id, left, crossing)
        yield from found.values()


def _run(joint: TrenchJoint) -> int:
    """The axis a trench runs along."""
    return 3 - AXIS[joint.on] - AXIS[beside(joint)]


def _between(one: Trench, two: Trench) -> float:
    """Distance between two boxes, mm."""
    gaps = zip(one.low, one.high, two.low, two.high, strict=True)
    return hypot(*(max(0.0, c - b, a - d) for a, b, c, d in gaps))
