"""Whether a held part is as thick as its grooves and housings are wide, or as thick as those of sides that lean let it.
Lengths in mm.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence

from sequencer.joinery.basis.floor import Floor, even
from sequencer.joinery.basis.nearness import HAIR
from sequencer.joinery.trenches.cuts import TrenchJoint
from sequencer.joinery.whole.leaning import level_room, runs_level, whole_edge, width_for
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
        elif what := _misfit(panel.thickness, joint.width, joint.width):
            yield (
                f"{panel.id}, {floor.length(panel.thickness)} thick, {what} the {joint.kind} {joint.id}, "
                f"{floor.length(joint.width)} wide"
            )


def _misfit(thickness: float, room: float, most: float) -> str:
    """What is wrong with a part between walls that leave it so much room, where no more than `most` goes in."""
    if thickness > most + HAIR:
        return "does not go into"
    return "is loose in" if thickness < room - LOOSE else ""


def _level_misfit(thickness: float, joint: TrenchJoint, slope: float) -> str:
    room = level_room(joint, slope)
    return _misfit(thickness, room, min(room, whole_edge(joint, slope)))


def _level_thickness(
    floor: Floor, panel: Part, joint: TrenchJoint, slopes: Mapping[str, float]
) -> Iterator[str]:
    """Of a groove in sides that lean: the first side that leaves too little or too much room, if there is one. Of what
    works only that is told which, done as it is told, is not remarked of that side again."""
    for name in joint.parts:
        slope = slopes.get(name, 90.0)
        if not (what := _level_misfit(panel.thickness, joint, slope)):
            continue
        room = level_room(joint, slope)
        most = min(room, whole_edge(joint, slope))
        thick = max(0.0, math.floor(even(most / floor.mark)) * floor.mark)
        wide = math.ceil(even(width_for(panel.thickness, joint, slope) / floor.mark)) * floor.mark
        works = []
        if thick > 0 and not _level_misfit(thick, joint, slope):
            works.append(f"{floor.length(thick)} thick")
        if not _level_misfit(panel.thickness, joint.model_copy(update={"width": wide}), slope):
            works.append(f"a groove {floor.length(wide)} wide")
        if panel.thickness > most:
            works.append("its rim worked to the slope")
            finds = f"takes the whole edge of {floor.length(thick)} at most" if thick else "takes nothing"
            finds += " to its bottom"
        else:
            apart = math.floor(even(room / floor.mark)) * floor.mark
            finds = f"leaves {floor.length(apart)} between its walls there"
        yield (
            f"{panel.id}, {floor.length(panel.thickness)} thick, {what} the {joint.kind} {joint.id}, "
            f"{floor.length(joint.width)} wide, where it lies level: square to {name}, which slopes "
            f"{format_angle(slope)}, this {finds}" + (f"; works: {', or '.join(works)}" if works else "")
        )
        return
