"""The wood between grooves, rebates and housings that are cut into one part from different surfaces."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import combinations
from math import hypot
from typing import NamedTuple

from sequencer.joinery.floor import Floor
from sequencer.joinery.refusal import Refusal
from sequencer.joinery.trenches.cuts import AXIS, TrenchJoint, beside, open_to, trenches_in
from sequencer.model.parts import Joint, Part
from sequencer.operations import Trench

HAIR = 1e-6


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
    """Joint and refusal for every two trenches that run side by side and meet inside a part: what is between them or
    beyond them falls off. Those that cross meet in a hole, which is left to the maker (`web_remarks`).
    """
    for web in _webs(joints, parts):
        if web.left <= HAIR and not web.crossing:
            yield (
                web.two.id,
                Refusal(
                    f'the {web.two.kind} in the {web.two.on} of {web.part} and the {web.one.kind} "{web.one.id}" in '
                    f"its {web.one.on} meet: no wood is left between them",
                    f"another place, or depths that leave {floor.length(floor.limits.least_wall)} (the shop's least "
                    "wall) between them",
                    "depth",
                ),
            )


def web_remarks(floor: Floor, joints: Sequence[Joint], parts: Mapping[str, Part]) -> Iterator[str]:
    """A remark for every two trenches that leave less than the shop's least wall between them, or cross in a hole."""
    for web in _webs(joints, parts):
        both = f"{web.one.id} ({web.one.on}) and {web.two.id} ({web.two.on})"
        if web.left <= HAIR:
            if web.crossing:
                yield f"{web.part}: {both} go through it where they cross"
        elif web.left < floor.limits.least_wall - HAIR:
            yield f"{web.part}: only {floor.length(web.left)} of wood is left between {both}"


def _webs(joints: Sequence[Joint], parts: Mapping[str, Part]) -> Iterator[_Web]:
    """The least wood between every two joints' trenches in a part that may part it.

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
