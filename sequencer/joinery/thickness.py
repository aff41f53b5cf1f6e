"""Whether a held part is as thick as its grooves and housings are wide, or as thick as those of sides that lean let it.
Lengths in mm.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from math import ceil, trunc

from sequencer.joinery.floor import Floor, even
from sequencer.joinery.leaning import level_room, runs_level, width_for
from sequencer.joinery.trenches import TrenchJoint
from sequencer.model.parts import Part, Rebate
from sequencer.quantity import format_angle

LOOSE = 1.0
"""mm: a part thinner than its groove by more than this rattles (common practice, no source)."""


def unlike_thickness(
    floor: Floor, panel: Part, holding: Sequence[TrenchJoint], slopes: Mapping[str, float]
) -> Iterator[str]:
    """A remark for each groove and housing that a part does not go into or is loose in. `slopes`: degrees from
    horizontal, of the parts that lean."""
    for joint in holding:
        if isinstance(joint, Rebate):
            continue
        if runs_level(joint) and any(name in slopes for name in joint.parts):
            yield from _level_thickness(floor, panel, joint, slopes)
        elif what := _misfit(panel.thickness, joint.width):
            yield (
                f"{panel.id}, {floor.length(panel.thickness)} thick, {what} the {joint.kind} {joint.id}, "
                f"{floor.length(joint.width)} wide"
            )


def _misfit(thickness: float, room: float) -> str:
    if thickness > room + 1e-6:
        return "does not go into"
    return "is loose in" if thickness < room - LOOSE else ""


def _level_thickness(
    floor: Floor, panel: Part, joint: TrenchJoint, slopes: Mapping[str, float]
) -> Iterator[str]:
    """Of a groove in sides that lean: the first side that leaves too little or too much height, if there is one."""
    for name in joint.parts:
        slope = slopes.get(name, 90.0)
        room = level_room(joint, slope)
        if what := _misfit(panel.thickness, room):
            wide = floor.length(ceil(10 * even(width_for(panel.thickness, joint, slope))) / 10)
            thick = floor.length(max(0.0, trunc(10 * room) / 10))
            works = [f"{thick} thick"] if room >= 0.1 else []
            works += [f"a groove {wide} wide"]
            works += ["its rim worked to the slope"] if panel.thickness > room else []
            yield (
                f"{panel.id}, {floor.length(panel.thickness)} thick, {what} the {joint.kind} {joint.id}, "
                f"{floor.length(joint.width)} wide, where it lies level: square to {name}, which slopes "
                f"{format_angle(slope)}, this leaves {thick} of height to its bottom; works: "
                f"{', or '.join(works)}"
            )
            return
