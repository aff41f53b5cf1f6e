"""Square meetings of two parts: end to edge, end to face, edge to edge, apron to leg; the seats of each.

The second part's frame follows the first's: where s or c of the first half starts elsewhere on the second, the seat's
`line_shift` and `shift` say by how much. Lengths in mm.
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise
from typing import assert_never

from sequencer.joinery.basis.facing import alike_turned, own_parts, ways_round
from sequencer.joinery.basis.floor import Floor
from sequencer.joinery.basis.nearness import HAIR, NEAR
from sequencer.joinery.basis.places import rail_places, within
from sequencer.joinery.basis.refusal import Refusal
from sequencer.joinery.basis.seats import Body, Pair, Seat, X, Y, Z, neg, rail_seat
from sequencer.joinery.meetings.legs import between_legs
from sequencer.joinery.meetings.shelves import Lie, end_to_face
from sequencer.model.parts import EdgeToEdge, EndToEdge, EndToFace, LegToApron, Part
from sequencer.operations import Point

MeetingJoint = EndToEdge | EndToFace | EdgeToEdge | LegToApron


def pairs_of(
    joint: MeetingJoint, bodies: Mapping[str, Body], floor: Floor, lie: Lie = "flush"
) -> tuple[Pair, ...]:
    """The pairs of seats of a meeting, each once; `lie` for `end_to_face`. Raises Refusal for what cannot meet."""
    if isinstance(joint, (EndToEdge, EndToFace)):
        between_legs(joint, {name: bodies[name].part for name in joint.parts}, floor)
    if isinstance(joint, EndToEdge):
        return end_to_edge(joint, bodies, floor)
    if isinstance(joint, EndToFace):
        return end_to_face(joint, bodies, floor, lie)
    if isinstance(joint, EdgeToEdge):
        return edge_to_edge(joint, bodies)
    if isinstance(joint, LegToApron):
        return leg_to_apron(joint, bodies, floor)
    assert_never(joint)


def edge_seat(
    body: Body, edge: str, along: Point, x: float, line_shift: float, start: str = "left end", at: float = 0.0
) -> Seat:
    """The seat on an edge, its row along the grain from x, the face on the fence."""
    near, part = edge == "edge", body.part
    return Seat(
        body=body,
        base=edge,
        fence="face",
        origin=(x, 0.0 if near else part.width, part.thickness),
        along=along,
        across=neg(Z),
        axis=Y if near else neg(Y),
        start=start,
        line_shift=line_shift,
        at=at,
    )


def end_to_edge(joint: EndToEdge, bodies: Mapping[str, Body], floor: Floor) -> tuple[Pair, ...]:
    """Rail ends into stile edges, faces flush.

    Where both ends are joined, the two stiles are one part, turned about in its plane; all rails keep their reference
    edge inside: toward the stile's middle. So each stile takes the right ends of the rails nearer to its left end,
    the left ends of those nearer to its right end; at a far edge the other way round.
    """
    rail, stile = (bodies[p].part for p in joint.parts)
    at = rail_places(joint, rail, stile)
    within("at", at, rail.width, rail, stile, floor)
    both, middle = len(joint.ends) == 2, (stile.length - rail.width) / 2
    if both and not alike_turned(at, rail.width, stile.length):
        odd = next(a for a in at if not any(abs(2 * middle - a - b) < NEAR for b in at))
        raise Refusal(
            f"two {stile.id}s that face each other lie turned end for end, and what is {floor.fine(odd)} from the left "
            "end of one is as far from the right end of the other",
            ways_round(at, rail.width, stile, joint.ends, floor, own=joint.id),
            "at",
        )
    thin = min(rail.thickness, stile.thickness)
    found = []
    for edge in joint.edges:
        for a in at:
            wanted = joint.ends
            if both and abs(a - middle) > HAIR:
                wanted = ("left end",) if (a > middle) == (edge == "edge") else ("right end",)
            for end in wanted:
                # Going along the rail from its reference edge is going along the stile, or back.
                forward = (end == "left end") == (edge == "edge")
                x = a if forward else a + rail.width
                seat = edge_seat(
                    bodies[stile.id],
                    edge,
                    X if forward else neg(X),
                    x,
                    x if forward else stile.length - x,
                    "left end" if forward else "right end",
                    a,
                )
                found.append(Pair(rail_seat(bodies[rail.id], end), seat, thin / 2, 0.0, thin))
    return tuple(found)


def centred(joint: EndToEdge, bodies: Mapping[str, Body], centres: tuple[float, ...], floor: Floor) -> None:
    """Refuse a row that is not centred where one place takes either end of a rail, in the stile's middle: the two
    stiles would be mirror images."""
    if in_the_middle_of(joint, bodies):
        rail, stile = joint.parts
        symmetrical(bodies[rail].part, bodies[stile].part, centres, floor)


def in_the_middle_of(joint: EndToEdge, bodies: Mapping[str, Body]) -> bool:
    """Whether rails joined at both ends lie in their stile's middle."""
    rail, stile = (bodies[p].part for p in joint.parts)
    middle = (stile.length - rail.width) / 2
    return len(joint.ends) == 2 and any(abs(a - middle) <= HAIR for a in rail_places(joint, rail, stile))


def symmetrical(first: Part, second: Part, centres: tuple[float, ...], floor: Floor) -> None:
    """Refuse a row that is not centred in the width of the first part."""
    if any(abs(a + b - first.width) > NEAR for a, b in zip(centres, reversed(centres), strict=True)):
        apart = f", or two joints with a {second.id} each" if own_parts(second, floor) else ""
        raise Refusal(
            f"the slots are not centred in the width of {first.id}, so the two {second.id}s are mirror images",
            f"slips.at symmetrical about {floor.length(first.width / 2)}{apart}",
            "slips.at",
        )


def edge_to_edge(joint: EdgeToEdge, bodies: Mapping[str, Body]) -> tuple[Pair, ...]:
    """The far edge of each board to the edge of the next, faces flush."""
    found = []
    for one, two in pairwise(panel_row(joint, {p: bodies[p].part for p in joint.parts})):
        a, b = bodies[one].part, bodies[two].part
        thin = min(a.thickness, b.thickness)
        if abs(a.length - b.length) > HAIR:
            raise Refusal(f"{one} and {two} are not equally long", "boards of one length", "parts")
        found.append(
            Pair(
                edge_seat(bodies[one], "far edge", X, 0.0, 0.0),
                edge_seat(bodies[two], "edge", X, 0.0, 0.0),
                thin / 2,
                0.0,
                thin,
            )
        )
    return tuple(dict.fromkeys(found))


def panel_row(joint: EdgeToEdge, parts: Mapping[str, Part]) -> tuple[str, ...]:
    """The boards of one panel in their order. Raises Refusal for fewer than two, or a list that does not fit."""
    count = joint.boards or (len(joint.parts) if len(joint.parts) > 1 else parts[joint.parts[0]].quantity)
    if count < 2:
        raise Refusal("one board makes no panel", "boards = 2 or more", "boards")
    if count % len(joint.parts):
        raise Refusal(
            f"{len(joint.parts)} parts cannot be repeated over {count} boards",
            f"a list of parts that {count} is a multiple of",
            "boards",
        )
    return joint.parts * (count // len(joint.parts))


def leg_to_apron(joint: LegToApron, bodies: Mapping[str, Body], floor: Floor) -> tuple[Pair, ...]:
    """Aprons round square legs: each right end into a far edge, each left end into a back; all legs alike.

    The apron's reference edge is its top, the leg's left end its top, the leg's face and edge its two outsides.
    """
    leg = bodies[joint.leg].part
    found = []
    for name in joint.parts:
        apron = bodies[name].part
        within("drop", (joint.drop,), apron.width, apron, leg, floor)
        _thick_enough(joint, apron, leg, floor)
        far = Seat(
            body=bodies[leg.id],
            base="far edge",
            fence="face",
            origin=(joint.drop, leg.width, leg.thickness - joint.setback),
            along=X,
            across=neg(Z),
            axis=neg(Y),
            start="left end",
            line_shift=joint.drop,
            shift=joint.setback,
            other_at=leg.width - joint.setback,
        )
        back = Seat(
            body=bodies[leg.id],
            base="back",
            fence="edge",
            origin=(joint.drop, joint.setback, 0.0),
            along=X,
            across=Y,
            axis=Z,
            start="left end",
            line_shift=joint.drop,
            shift=joint.setback,
            other_at=leg.thickness - joint.setback,
        )
        ends = {"right end": far, "left end": back}
        for end, seat in ends.items():
            found.append(Pair(rail_seat(bodies[name], end), seat, apron.thickness / 2, 0.0, apron.thickness))
    return tuple(dict.fromkeys(found))


def _thick_enough(joint: LegToApron, apron: Part, leg: Part, floor: Floor) -> None:
    """Refuse an apron that would stand out of the leg on its inner side."""
    room = min(leg.width, leg.thickness) - apron.thickness
    if room < -HAIR:
        raise Refusal(
            f"{apron.id} is {floor.fine(apron.thickness)} thick, more than {leg.id}",
            f"at most {floor.fine(room + apron.thickness)}, or a thicker {leg.id}",
            "parts",
        )
    if joint.setback > room + HAIR:
        raise Refusal(
            f"{apron.id}, set back {floor.length(joint.setback)}, is thicker than what is left of {leg.id}",
            f"a setback of at most {floor.fine(max(0.0, room))}",
            "setback",
        )
