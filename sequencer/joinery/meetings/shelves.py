"""Shelves between sides: end to face; which way round the sides lie. Lengths in mm.

A board has one pose: where its face and its reference edge lie says whether its left end is up or down.
So of two sides with their backs inside, both with the shelf's reference edge flush with theirs, one has its left end
down, below the shelf's back, and the other up, above the shelf's face (`"flush"`). Two sides that are one part can also
lie with both left ends down, their reference edges on opposite sides (`"alike"`), where nothing in their wood tells the
edge from the far edge.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import inf
from typing import Literal

from sequencer.joinery.basis.facing import alike_turned, free_middle, own_parts, two_parts, ways_round
from sequencer.joinery.basis.floor import Floor, even
from sequencer.joinery.basis.nearness import HAIR, NEAR
from sequencer.joinery.basis.places import in_words, within
from sequencer.joinery.basis.refusal import Refusal
from sequencer.joinery.basis.seats import Body, Pair, Seat, X, Y, Z, neg, rail_seat
from sequencer.joinery.meetings.narrow_shelves import full_width, narrower, parts_apart
from sequencer.joinery.trenches.cuts import TrenchJoint, trenches_in
from sequencer.model.parts import CaseMitre, End, EndToFace, Part
from sequencer.operations import Trench

Lie = Literal["flush", "alike"]


def lies(joint: EndToFace, parts: Mapping[str, Part], floor: Floor) -> tuple[Lie, ...]:
    """How the sides can lie as far as their parts tell, the first by preference."""
    shelf, side = (parts[p] for p in joint.parts)
    free = len(joint.ends) == 2 and not _narrower(shelf, side) and _ring(joint, floor) is None
    return ("alike", "flush") if free and _uneven(side, floor, 1) is None else ("flush",)


def end_to_face(joint: EndToFace, bodies: Mapping[str, Body], floor: Floor, lie: Lie) -> tuple[Pair, ...]:
    """Shelf ends into the sides' faces, reference edges flush; the side's end nearer to the slots lies on the fence
    where that reaches them, else a batten measured from it guides the base."""
    shelf, side = (bodies[p].part for p in joint.parts)
    within("at", joint.at, shelf.thickness, shelf, side, floor)
    if shelf.width > side.width + HAIR:
        raise Refusal(
            f"{shelf.id} is wider than {side.id}", f"a width of {floor.fine(side.width)} or less", "parts"
        )
    if lie == "flush" and len(joint.ends) == 2:
        _one_part_serves(joint, shelf, side, floor)
    found = []
    both = len(joint.on) == 2
    height = joint.slips.height or shelf.thickness / 2
    for end in joint.ends:
        for face in joint.on:
            for a in joint.at:
                # With its left end below the shelf the side's reference edge is in front at one end, behind at the
                # other; turned end for end, it is in front again.
                below = (end == "left end") == (face == "back")
                forward = below or lie == "flush"
                upended = not below and lie == "flush"
                place = a + (shelf.thickness - height if upended else height)
                nearer = _nearer_end(joint, side, place, below)
                from_left = nearer == "left end"
                fenced = _reached(place if from_left else side.length - place, floor)
                deep = side.thickness / 2 - floor.limits.least_wall / 2 if both else inf
                seat = Seat(
                    body=bodies[side.id],
                    base=face,
                    fence=nearer if fenced else "",
                    origin=(
                        a + shelf.thickness if upended else a,
                        0.0 if forward else side.width,
                        0.0 if face == "back" else side.thickness,
                    ),
                    along=Y if forward else neg(Y),
                    across=neg(X) if upended else X,
                    axis=Z if face == "back" else neg(Z),
                    start="edge" if forward else "far edge",
                    shift=a if from_left else even(side.length - shelf.thickness - a),
                    deepest=deep,
                    deepest_why="a mortise from the other face meets it",
                    at=a,
                    turned=shelf.thickness if upended == from_left else 0.0,
                    batten_from="" if fenced else nearer,
                )
                first = rail_seat(bodies[shelf.id], end, fence="back")
                found.append(Pair(first, seat, shelf.thickness / 2, 0.0, shelf.thickness))
    return tuple(found)


def _nearer_end(joint: EndToFace, side: Part, place: float, below: bool) -> End:
    """The end of a side that slots in its face, `place` from its left end, are set out from: the nearer; of two as near
    the lower, so that sides that are two parts have the same, and of sides that are one part the left; `below`: whether
    the left end is the lower."""
    past_middle = place - side.length / 2
    if abs(past_middle) > NEAR:
        return "left end" if past_middle < 0 else "right end"
    return "left end" if below or len(joint.ends) * len(joint.on) > 1 else "right end"


def _reached(place: float, floor: Floor) -> bool:
    """Whether the mortiser's fence reaches slots so far from the end on it, and its scale can be set to them."""
    setting = floor.setting("mortiser", "fence_height")
    settable = setting is None or not (
        setting.outside(place) or (setting.values and setting.listed(place) is None)
    )
    return settable and place <= floor.limits.max_fence_height + HAIR


def in_the_middle(joint: EndToFace, parts: Mapping[str, Part], height: float, floor: Floor) -> None:
    """Refuse slots out of the middle of the shelf's thickness where one part serves for two sides turned about."""
    shelf, side = (parts[p] for p in joint.parts)
    if len(joint.ends) == 2 and abs(height - shelf.thickness / 2) > NEAR:
        works = f"slips.height {floor.length(shelf.thickness / 2)}"
        if own_parts(side, floor):
            works += f", or {two_parts(joint.at, shelf.thickness, side, _ends(joint), floor)}"
        raise Refusal(
            f"the slots are not in the middle of the thickness of {shelf.id}, so the two {side.id}s are mirror images",
            works,
            "slips.height",
        )


def _one_part_serves(joint: EndToFace, shelf: Part, side: Part, floor: Floor) -> None:
    """Refuse places, and grooves, rebates and housings, that two sides turned end for end have at unlike heights."""
    ring = _ring(joint, floor)
    uneven = _uneven(side, floor, 0) if ring is None else None
    if uneven is None and alike_turned(joint.at, shelf.thickness, side.length):
        return
    if ring is not None:
        why = (
            f"round {ring} two {side.id}s that face each other lie turned end for end, and what is "
            f"{in_words(joint.at[:1], floor)} from the left end of one is as far from the right end of the other"
        )
    elif _narrower(shelf, side):
        why = f"{shelf.id} is narrower than {side.id}, so the two {side.id}s are mirror images, not one part"
    else:
        what = uneven or _uneven(side, floor, 1)
        why = f"with {what} the two {side.id}s are mirror images, not one part"
    works = "" if ring or uneven or not _narrower(shelf, side) else _of_narrow(joint, shelf, side, floor)
    works = works or ways_round(joint.at, shelf.thickness, side, _ends(joint), floor, uneven or "", joint.id)
    raise Refusal(why, works, "at")


def _of_narrow(joint: EndToFace, shelf: Part, side: Part, floor: Floor) -> str:
    """What works for shelves narrower than their sides where others stand between these, too; "" where none do, or
    joints of other kinds have them, which may ask for more."""
    parts = {part.id: part for part in floor.job.parts}
    joints = [other for other in floor.job.joints if not isinstance(other, TrenchJoint)]
    others = [other for other in joints if side.id in other.parts and other is not joint]
    apart = parts_apart(side.id, joints, parts, floor) if others else ""
    if not apart:
        return ""
    alike = _uneven(side, floor, 1) is None and narrower(others, parts) is None
    middle = free_middle(joint.at, shelf.thickness, side, floor, joint.id)
    wide = full_width(shelf, side, floor) if alike else ""
    return ", or ".join(filter(None, (middle, wide, apart)))


def _ends(joint: EndToFace) -> tuple[End, ...]:
    """The ends of a shelf, that which meets the side whose left end is down first."""
    return joint.ends if joint.on == ("back",) else joint.ends[::-1]


def _narrower(shelf: Part, side: Part) -> bool:
    return abs(shelf.width - side.width) > HAIR


def _ring(joint: EndToFace, floor: Floor) -> str | None:
    """The id of the mitred case that the sides are boards of: it lays all its reference edges on one side."""
    rings = (other for other in floor.job.joints if isinstance(other, CaseMitre))
    return next((f'"{ring.id}"' for ring in rings if joint.parts[1] in ring.parts), None)


def _uneven(side: Part, floor: Floor, axis: int) -> str | None:
    """A groove, rebate or housing of the side that is not the same seen from its other end (axis 0) or edge (1)."""
    found = list(trenches_in(floor.job.joints, side))
    boxes = {_bounds(box) for _, box in found}
    whole = (side.length, side.width)[axis]
    for joint, box in found:
        low, high = list(box.low), list(box.high)
        low[axis], high[axis] = whole - high[axis], whole - low[axis]
        if tuple(round(x, 4) + 0.0 for x in (*low, *high)) not in boxes:
            return f'the {joint.kind} "{joint.id}"'
    return None


def _bounds(box: Trench) -> tuple[float, ...]:
    return tuple(round(x, 4) + 0.0 for x in (*box.low, *box.high))
