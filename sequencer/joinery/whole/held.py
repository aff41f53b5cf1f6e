"""Whether a bottom, panel or shelf fits the grooves, rebates or housings that hold it.

What is found is told as a remark: a held part may be worked further in ways the job does not tell of (a raised panel,
a tongue), or have reasons of its own. Shelves in housings that are nowhere near are refused elsewhere (`housed`).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping, Sequence
from itertools import pairwise
from typing import NamedTuple

from sequencer.joinery.basis.floor import Floor
from sequencer.joinery.basis.nearness import HAIR
from sequencer.joinery.basis.places import rail_places
from sequencer.joinery.basis.seats import OPPOSITE
from sequencer.joinery.meetings.rings import Ring, inside_of
from sequencer.joinery.meetings.square import panel_row
from sequencer.joinery.trenches.cuts import TrenchJoint
from sequencer.joinery.whole.leaning import Across, level_openings, slopes_of
from sequencer.joinery.whole.outward import Outward
from sequencer.joinery.whole.thickness import unlike_thickness
from sequencer.model.parts import (
    CaseMitre,
    EdgeToEdge,
    EndToEdge,
    EndToFace,
    FrameMitre,
    Groove,
    Housing,
    Joint,
    Part,
    Rebate,
)

ROOM = 0.5
"""mm: the least room in length and width of a part held in grooves, for it to go in (common practice, no source)."""


Trenches = Sequence[TrenchJoint]


class OpeningSide(NamedTuple):
    """One side of an opening: how long it is, and the parts that bound it at both ends, mm."""

    free: float
    bounds: tuple[str, ...]


class Opening(NamedTuple):
    """A rectangle between boards: of a flat frame, whose edges bound it, or of a case, whose faces do."""

    sides: tuple[OpeningSide, OpeningSide]
    flat: bool


def held_remarks(
    floor: Floor,
    joints: Sequence[Joint],
    parts: Mapping[str, Part],
    rings: Sequence[Ring] = (),
    outward: Collection[Outward] = (),
) -> Iterator[str]:
    """A remark for each held part that falls through its opening, does not go into what holds it, or is loose there,
    and for each trench that opens `outward`, which bounds no opening. `rings`: those of the joints.
    """
    turned = list(_turned_out(floor, joints, parts))
    outside = [found for found in outward if all(rail != found.part for rail, _ in turned)]
    holders: dict[str, list[TrenchJoint]] = defaultdict(list)
    for joint in joints:
        if isinstance(joint, TrenchJoint) and joint.holds:
            holders[joint.holds].append(joint)
    for name, holding in holders.items():
        panel = parts[name]
        if not _worked(panel, joints):
            yield from unlike_thickness(floor, panel, holding, slopes_of(rings))
        yield from _told_outside(holding, outside)
        inside = list(_not_outside(holding, outside))
        yield from _size(floor, panel, inside, joints, parts, rings)
        yield from _span(floor, panel, inside, joints, parts)
    yield from (says for _, says in turned)


def _worked(panel: Part, joints: Sequence[Joint]) -> bool:
    """Whether a part is itself grooved or rebated, so that its rim may be of another thickness."""
    return any(isinstance(joint, TrenchJoint) and panel.id in joint.parts for joint in joints)


def _told_outside(holding: Trenches, outward: Collection[Outward]) -> Iterator[str]:
    for joint in holding:
        if names := [name for name in joint.parts if Outward(joint.id, name) in outward]:
            yield (
                f"{joint.id}: the {joint.kind} in the {joint.on} of {' and '.join(names)}"
                + (f", beside the {joint.beside}," if isinstance(joint, Rebate) else "")
                + f" is outside once all is put together, and {joint.holds} does not go in between the boards"
                + ("" if isinstance(joint, Rebate) else f"; inside is the {OPPOSITE[joint.on]}")
            )


def _not_outside(holding: Trenches, outward: Collection[Outward]) -> Iterator[TrenchJoint]:
    """What holds, in those parts only where it does not open outward."""
    for joint in holding:
        if names := tuple(name for name in joint.parts if Outward(joint.id, name) not in outward):
            yield joint.model_copy(update={"parts": names})


def _size(
    floor: Floor,
    panel: Part,
    holding: Trenches,
    joints: Sequence[Joint],
    parts: Mapping[str, Part],
    rings: Sequence[Ring],
) -> Iterator[str]:
    """Length and width against the opening between the parts that hold it, where these make a rectangle; of a panel
    glued up of boards all in all, where they are alike."""
    panels = [joint for joint in joints if isinstance(joint, EdgeToEdge) and panel.id in joint.parts]
    if any(set(joint.parts) != {panel.id} for joint in panels):
        return
    boards = max((len(panel_row(joint, parts)) for joint in panels), default=1)
    trenches = [joint for joint in holding if not isinstance(joint, Housing)]
    found = [
        list(_misfits(floor, panel, boards, _clear(opening, _reach(trenches, opening.flat))))
        for opening in _openings(joints, parts, trenches)
    ]
    # a worked rim may be as thin as it likes, which goes in farthest
    rim = 0.0 if _worked(panel, joints) else panel.thickness
    for across in level_openings(trenches, rings, parts, rim):
        found.append(list(_between_leaning(floor, panel, boards, across)))
    if found:
        yield from min(found, key=len)


def _reach(trenches: Sequence[Groove | Rebate], flat: bool) -> dict[str, float]:
    """How far a held part reaches into each part round the opening: a case's rebates are as deep as that, a flat
    frame's as wide."""
    return {
        name: joint.width if flat and isinstance(joint, Rebate) else joint.depth
        for joint in trenches
        for name in joint.parts
    }


def _clear(opening: Opening, reach: Mapping[str, float]) -> list[tuple[float, float]]:
    """How far the sides of an opening are apart, and how much farther the bottoms of what holds a part there."""
    return [(side.free, sum(reach[part] for part in side.bounds)) for side in opening.sides]


def _misfits(
    floor: Floor,
    panel: Part,
    boards: int,
    clear: Sequence[tuple[float, float]],
    within: str = "from bottom to bottom",
) -> Iterator[str]:
    """Length and width against an opening; `within`: what the farthest that a part can reach is called."""
    held = panel.id if boards == 1 else f"{panel.id}, {boards} to a panel"
    for (free, deep), has in zip(sorted(clear), sorted((panel.length, boards * panel.width)), strict=True):
        if has <= free or has > free + deep - ROOM:
            over = has - free - deep
            what = "falls through" if has <= free else "leaves no room in what holds it"
            if over > HAIR:
                what = f"is {floor.length(over)} too large for what holds it"
            yield (
                f"{held}: {floor.length(has)} {what}: the opening is {floor.length(free)}, {within} "
                f"{floor.length(free + deep)}"
            )


def _between_leaning(floor: Floor, panel: Part, boards: int, across: Sequence[Across]) -> Iterator[str]:
    """Length and width against what sides that lean leave free at the lower lips of their grooves. Where there are more
    than four sides the part is cut to their shape from what the job tells, which is no less than they are apart."""
    if len(across) == 2:
        clear = [(each.free, each.deep) for each in across]
        lying = "on the lower lips" if all(each.on_lips for each in across) else "level in the grooves"
        yield from _misfits(floor, panel, boards, clear, f"lying {lying} at most")
        return
    (each,) = across
    least = min(panel.length, boards * panel.width)
    if least <= each.free:
        yield (
            f"{panel.id}: {floor.length(least)} falls through: the opening is {floor.length(each.free)} from side to "
            "side"
        )


def _openings(
    joints: Sequence[Joint], parts: Mapping[str, Part], trenches: Sequence[Groove | Rebate]
) -> Iterator[Opening]:
    """Every rectangular opening with all its sides among the parts that hold."""
    holding = {name for joint in trenches for name in joint.parts}
    for joint in joints:
        if isinstance(joint, (CaseMitre, FrameMitre)) and set(joint.parts) <= holding:
            flat = isinstance(joint, FrameMitre)
            yield from (Opening(sides, flat) for sides in mitred_opening(joint, parts))
    frames = [j for j in joints if isinstance(j, EndToEdge) and set(j.parts) <= holding]
    yield from (Opening(sides, True) for sides in _between(EndToEdge, frames, joints, parts, holding))
    inside = {(name, joint.on) for joint in trenches for name in joint.parts}
    cases = [
        j
        for j in joints
        if isinstance(j, EndToFace)
        and set(j.parts) <= holding
        and all((j.parts[1], surface) in inside for surface in j.on)
    ]
    yield from (Opening(sides, False) for sides in _between(EndToFace, cases, joints, parts, holding))


def _between(
    kind: type[EndToEdge | EndToFace],
    held: Sequence[EndToEdge | EndToFace],
    joints: Sequence[Joint],
    parts: Mapping[str, Part],
    holding: set[str],
) -> Iterator[tuple[OpeningSide, OpeningSide]]:
    """The openings between neighbouring rails or shelves, all joined as `kind` is, with both ends on what holds."""
    rails: dict[tuple[str, str], list[tuple[float, float, Part]]] = defaultdict(list)
    stiles: dict[str, dict[str, str]] = defaultdict(dict)
    for joint in held:
        rail, stile = (parts[name] for name in joint.parts)
        stiles[rail.id] |= dict.fromkeys(joint.ends, stile.id)
        for surface in joint.edges if isinstance(joint, EndToEdge) else joint.on:
            rails[stile.id, surface] += [(low, high, rail) for low, high in _standing(joint, parts)]
    for on_stile in rails.values():
        for (_, low, one), (high, _, two) in pairwise(sorted(on_stile, key=lambda place: place[:2])):
            if abs(one.length - two.length) < HAIR and len(stiles[one.id]) == 2:
                across = OpeningSide(high - low, (one.id, two.id))
                for along in _spans(kind, joints, parts, across, stiles[one.id]):
                    if set(along.bounds) <= holding:
                        yield along, across


def _standing(joint: EndToEdge | EndToFace, parts: Mapping[str, Part]) -> list[tuple[float, float]]:
    """From where to where along the stile or side each rail or shelf stands."""
    board, mate = (parts[name] for name in joint.parts)
    if isinstance(joint, EndToEdge):
        return [(at, at + board.width) for at in rail_places(joint, board, mate)]
    return [(at, at + board.thickness) for at in joint.at]


def _spans(
    kind: type[EndToEdge | EndToFace],
    joints: Sequence[Joint],
    parts: Mapping[str, Part],
    across: OpeningSide,
    stiles: Mapping[str, str],
) -> Iterator[OpeningSide]:
    """What the boards that stand between two rails or shelves (`across`: their distance) leave free from stile to stile
    or from side to side.

    `kind`: how all are joined; `stiles`: those at the ends of the rails.
    """
    rail, other = across.bounds
    met = [(joint, *joint.parts) for joint in joints if isinstance(joint, kind)]
    on_other = {board for _, board, edged in met if edged == other}
    taken = [
        (low, high, board)
        for joint, board, edged in met
        if edged == rail and board in on_other and abs(parts[board].length - across.free) < HAIR
        for low, high in _standing(joint, parts)
    ]
    far = parts[rail].length
    ends = (0.0, 0.0, stiles["left end"]), (far, far, stiles["right end"])
    for (_, start, one), (end, _, two) in pairwise(sorted((*ends, *taken))):
        if end - start > HAIR:
            yield OpeningSide(end - start, (one, two))


def mitred_opening(
    joint: CaseMitre | FrameMitre, parts: Mapping[str, Part]
) -> Iterator[tuple[OpeningSide, OpeningSide]]:
    """The opening of a rectangle of four boards; nothing for another form."""
    closed = isinstance(joint, FrameMitre) or joint.closed
    if inside_of(joint) != 90.0 or not closed or 4 % len(joint.parts):
        return
    ring = [parts[name] for name in joint.parts * (4 // len(joint.parts))]
    if any(abs(ring[k].length - ring[k + 2].length) > HAIR for k in (0, 1)):
        return
    into = [board.thickness if isinstance(joint, CaseMitre) else board.width for board in ring]
    yield (
        OpeningSide(ring[0].length - into[1] - into[3], (ring[1].id, ring[3].id)),
        OpeningSide(ring[1].length - into[0] - into[2], (ring[0].id, ring[2].id)),
    )


def _span(
    floor: Floor,
    panel: Part,
    holding: Trenches,
    joints: Sequence[Joint],
    parts: Mapping[str, Part],
) -> Iterator[str]:
    """A shelf housed in two sides alike against what holds these apart: boards between them, or the mitred case that
    they are sides of; one between a side and a divider spans less than these."""
    housings = [joint for joint in holding if isinstance(joint, Housing)]
    if len({name for joint in housings for name in joint.parts}) > 1:
        return
    for joint in housings:
        for holds, apart in _apart(joint, joints, parts):
            if abs(panel.length - 2 * joint.depth - apart) > ROOM:
                yield (
                    f"{panel.id}: {floor.length(panel.length)} long, in housings {floor.length(joint.depth)} deep, "
                    f"does not fit between sides that {holds} holds {floor.length(apart)} apart"
                )
                break


def _apart(joint: Housing, joints: Sequence[Joint], parts: Mapping[str, Part]) -> Iterator[tuple[str, float]]:
    """What holds two of a housing's part apart, and how far, mm."""
    for other in joints:
        if isinstance(other, EndToFace) and other.parts[1] in joint.parts and len(other.ends) == 2:
            yield other.parts[0], parts[other.parts[0]].length
        elif isinstance(other, CaseMitre) and joint.on == "back":
            for sides in mitred_opening(other, parts):
                yield from ((other.id, side.free) for side in sides if set(side.bounds) == set(joint.parts))


def _turned_out(
    floor: Floor, joints: Sequence[Joint], parts: Mapping[str, Part]
) -> Iterator[tuple[str, str]]:
    """Each rail that holds a panel in its reference edge, is the outermost of its stile on its side of the middle, and
    is laid out with this edge away from the middle; with a remark that tells how it is turned. A rail between others
    may hold its panel on either side.
    """
    holding = {
        name
        for joint in joints
        if isinstance(joint, (Groove, Rebate)) and joint.holds and "edge" in (joint.on, joint.beside)
        for name in joint.parts
    }
    for joint in joints:
        if not isinstance(joint, EndToEdge) or len(joint.ends) != 1 or joint.parts[0] not in holding:
            continue
        rail, stile = (parts[name] for name in joint.parts)
        along = [
            at
            for other in joints
            if isinstance(other, EndToEdge) and other.parts[1] == stile.id
            for at in rail_places(other, parts[other.parts[0]], stile)
        ]
        middle = (stile.length - rail.width) / 2
        (end,) = joint.ends
        for edge in joint.edges:
            for at in rail_places(joint, rail, stile):
                toward_left = (end == "left end") == (edge == "edge")
                outermost = at in (min(along), max(along))
                if outermost and abs(at - middle) > HAIR and toward_left == (at < middle):
                    other = "right end" if end == "left end" else "left end"
                    yield (
                        rail.id,
                        f"{joint.id}: with its {end} on the {edge} of {stile.id} at {floor.length(at)}, {rail.id} has "
                        f'its reference edge outside; ends = ["{other}"] there turns it inside',
                    )
