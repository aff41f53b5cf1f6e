"""By which ways a joint can be made: those offered, placed and tried on the machines; what is said of the others."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from copy import copy
from dataclasses import replace
from math import inf

from sequencer.diagnostics import InputError, NoOrderError
from sequencer.joinery.basis.floor import Floor
from sequencer.joinery.basis.making import Collected
from sequencer.joinery.basis.refusal import Refusal
from sequencer.joinery.basis.seats import Body, Pair
from sequencer.joinery.meetings.joined import Joined, Way, parts_of, wishes_of
from sequencer.joinery.meetings.rings import RingJoint, inside_of, ring_pairs
from sequencer.joinery.meetings.shelves import Lie, in_the_middle, lies
from sequencer.joinery.meetings.square import MeetingJoint, centred, in_the_middle_of, pairs_of, symmetrical
from sequencer.joinery.slots.fit import Fit, Taken
from sequencer.joinery.slots.placement import Placement
from sequencer.joinery.slots.slips_to_try import cutters
from sequencer.joinery.trenches.cuts import across
from sequencer.joinery.trenches.footprints import stand_on_wood
from sequencer.joinery.ways.collisions import clear_of_trenches, near_others, near_slots
from sequencer.joinery.ways.ways_out import smaller_slips, ways_out
from sequencer.joinery.work.way_operations import operations_by, row_place
from sequencer.model.parts import CaseMitre, EdgeToEdge, EndToEdge, EndToFace, Joint, Slips
from sequencer.operations import Operation, Slot, StruckOut
from sequencer.quantity import format_angle


def find_ways(
    each: Joined, bodies: Mapping[str, Body], floor: Floor, earlier: Sequence[Operation] = ()
) -> list[Operation]:
    """Place the slips of a joint by every way, clear of those that earlier operations plunge, striking out those that
    do not fit; the plunge operations of all that is found.

    Raises InputError where none does and the job asks for what cannot be, NoOrderError where none of several does.
    """
    refusals: list[tuple[str, Refusal]] = []
    plunged: list[Operation] = []
    for name in _offered(each):
        said: list[Refusal] = []
        found: list[Way] = []
        for lie in _lies(each.joint, bodies, floor):
            try:
                way, made = _way(each, name, bodies, floor, lie, earlier)
                found.append(way)
                plunged += (op for op in made if op.kind == "plunge")
            except Refusal as refusal:
                said.append(_with_ways_out(refusal, each, name, bodies, floor, lie, earlier))
        if found:
            each.lies = sorted(found, key=lambda way: way.hold, reverse=True)
            each.ways.append(each.lies[0])
        else:
            refusals.append((name, said[0]))
    if not each.ways:
        raise _none_left(floor, each.joint, refusals)
    each.struck += [StruckOut(joint=each.joint.id, way=name, why=r.sentence) for name, r in refusals]
    return plunged


def _with_ways_out(
    refusal: Refusal,
    each: Joined,
    name: str,
    bodies: Mapping[str, Body],
    floor: Floor,
    lie: Lie,
    earlier: Sequence[Operation],
) -> Refusal:
    """A refusal of slips that do not serve in this stock, with what would."""
    if refusal.slack:
        return _with_no_slack(refusal, each, name, bodies, floor, lie, earlier)
    if not (refusal.sizes or refusal.slips):
        return refusal
    wishes = wishes_of(each.joint)

    def asking(slips: Slips) -> Joint:
        asked = wishes.model_copy(update={"depths": None, **slips.model_dump(exclude_unset=True)})
        return each.joint.model_copy(update={"slips": asked})

    def place(others: Mapping[str, Body], shop: Floor) -> Fit:
        parts = tuple(others[p.id].part if p.id in others else p for p in shop.job.parts)
        shop = copy(shop)
        shop.job = shop.job.model_copy(update={"parts": parts})
        way, _ = _way(replace(each, joint=asking(Slips())), name, others, shop, lie, earlier)
        return way.fits[0][1]

    def smaller(slips: Slips) -> Fit:
        way, _ = _way(replace(each, joint=asking(slips)), name, bodies, floor, lie, earlier)
        return way.fits[0][1]

    pairs = _pairs(each, name, bodies, floor, lie)
    try:
        fit = _placed(floor, pairs, each.joint, name, _same_from_both_ends(each.joint, bodies, lie))[0][1]
        than = fit.thickness, fit.width, fit.length
    except Refusal:
        than = wishes.thickness or inf, wishes.width or inf, wishes.length or inf
    told = smaller_slips(floor, cutters(floor, min(pair.most for pair in pairs)), than, smaller)
    if refusal.slips:
        return Refusal(refusal.message, ", ".join(filter(None, (told, refusal.accepted))), refusal.key)
    works = told or ways_out(each.ring, parts_of(each.joint), bodies, floor, place)
    return Refusal(refusal.message, works or refusal.accepted, refusal.key)


def _with_no_slack(
    refusal: Refusal,
    each: Joined,
    name: str,
    bodies: Mapping[str, Body],
    floor: Floor,
    lie: Lie,
    earlier: Sequence[Operation],
) -> Refusal:
    """A refusal of slots that find no room in their row, with slots as long as the slips are wide, where these do."""
    tight = wishes_of(each.joint).model_copy(update={"slack": "none"})
    try:
        _way(
            replace(each, joint=each.joint.model_copy(update={"slips": tight})),
            name,
            bodies,
            floor,
            lie,
            earlier,
        )
    except Refusal:
        return refusal
    return Refusal(refusal.message, f'{refusal.accepted}, or slips.slack "none"', refusal.key)


def _lies(joint: Joint, bodies: Mapping[str, Body], floor: Floor) -> tuple[Lie, ...]:
    """How the second parts can lie; only of shelves and sides there is more than one."""
    if not isinstance(joint, EndToFace):
        return ("flush",)
    return lies(joint, {name: body.part for name, body in bodies.items()}, floor)


def _offered(each: Joined) -> Sequence[str]:
    """The names of the ways to try; square first is struck out where it cannot make the corner."""
    joint = each.joint
    if each.ring is None:
        return ["square"]
    if not isinstance(joint, CaseMitre):
        return ["bevel-first"]
    ways = list(dict.fromkeys(joint.ways))
    if _right_angled(joint) or len(ways) == 1:
        return ways
    why = (
        f"with the fence at 90 it makes a corner of 90°, not {format_angle(inside_of(joint), decimals=True)}"
    )
    each.struck.append(StruckOut(joint=joint.id, way="square-first", why=why))
    return ["bevel-first"]


def _right_angled(joint: CaseMitre) -> bool:
    return abs(inside_of(joint) - 90.0) <= 1e-6


def _way(
    each: Joined,
    name: str,
    bodies: Mapping[str, Body],
    floor: Floor,
    lie: Lie,
    earlier: Sequence[Operation],
) -> tuple[Way, list[Operation]]:
    """One way, its slips placed, and its operations. Raises Refusal where they do not fit, a machine does not reach, a
    piece is not held safely, slots run into a groove, rebate or housing, or those of `earlier`, or a trench takes a
    board's seat away.
    """
    pairs = _pairs(each, name, bodies, floor, lie)
    way, made = _clear_of_slots(each, name, pairs, bodies, floor, lie, earlier)
    joined = {seat.part.id: seat.body for pair in pairs for seat in (pair.first, pair.second)}
    beside = clear_of_trenches(floor, made, joined)
    if each.ring is None:
        stand_on_wood(floor, pairs)
    return replace(way, beside=beside), made


def _clear_of_slots(
    each: Joined,
    name: str,
    pairs: tuple[Pair, ...],
    bodies: Mapping[str, Body],
    floor: Floor,
    lie: Lie,
    earlier: Sequence[Operation],
) -> tuple[Way, list[Operation]]:
    """A way and its operations with the longest slips whose slots at one end or edge of a part keep clear of those at
    the other, moved aside where they come too near those of earlier operations. Raises as `_way`, and where no slips
    do, or those asked for do not.
    """
    joint, longest, near = each.joint, inf, None
    alike = _same_from_both_ends(joint, bodies, lie)
    fits, taken = None, None
    alone: tuple[Fit, ...] = ()
    clashes: list[tuple[str, Refusal]] = []
    while True:
        try:
            if fits is None:
                fits = _placed(floor, pairs, joint, name, alike, longest)
            else:  # alike where they were alike before
                fits = [
                    (group, _placement(floor, group, pairs, joint, name, alike, longest, taken).fit())
                    for group, _ in fits
                ]
        except Refusal as refusal:
            raise (refusal if taken is not None else near or refusal) from None
        way = Way(name, pairs, tuple(fits))
        _demand_alike(joint, way.fits[0][1], bodies, floor, lie)
        made = operations_by(Collected(floor, {p.id: p for p in floor.job.parts}), each, way)
        found = next(near_slots(floor, made, ()), None)
        if found is not None:
            near = near or found[1]
            if wishes_of(joint).length or wishes_of(joint).depths:
                raise near
            longest = max(fit.length for _, fit in way.fits)
            fits = None if taken is None else fits
            continue
        near_now = list(near_others(floor, earlier, made))
        if not near_now:
            others = tuple(dict.fromkeys(other for other, _ in clashes))
            return replace(way, clear_of=others, alone=alone), made
        if taken is not None:
            raise taken.why
        clashes, alone = near_now, tuple(fit for _, fit in fits)
        slots = tuple(cut for op in earlier for cut in op.cuts if isinstance(cut, Slot))
        taken = Taken(slots, clashes[0][1], alike)


def _same_from_both_ends(joint: Joint, bodies: Mapping[str, Body], lie: Lie) -> bool:
    """Whether one part can serve at both ends of a rail or shelf only with a row that is centred."""
    return lie == "alike" or (isinstance(joint, EndToEdge) and in_the_middle_of(joint, bodies))


def _demand_alike(joint: Joint, fit: Fit, bodies: Mapping[str, Body], floor: Floor, lie: Lie) -> None:
    """Raise Refusal where one part cannot serve at both ends of a rail or shelf, for its slots are no mirror images."""
    if isinstance(joint, EndToEdge):
        centred(joint, bodies, fit.centres, floor)
    elif isinstance(joint, EndToFace):
        parts = {name: bodies[name].part for name in joint.parts}
        if lie == "alike":
            symmetrical(parts[joint.parts[0]], parts[joint.parts[1]], fit.centres, floor)
        else:
            in_the_middle(joint, parts, fit.height, floor)


def _pairs(each: Joined, way: str, bodies: Mapping[str, Body], floor: Floor, lie: Lie) -> tuple[Pair, ...]:
    joint = each.joint
    if each.ring is None:
        assert isinstance(joint, MeetingJoint)
        return pairs_of(joint, bodies, floor, lie)
    if way == "square-first" and isinstance(joint, CaseMitre) and not _right_angled(joint):
        raise Refusal("square first makes corners of 90° only", 'ways = ["bevel-first"]', "ways")
    return ring_pairs(each.ring, bodies, way)


def _placed(
    floor: Floor, pairs: tuple[Pair, ...], joint: Joint, way: str, alike: bool, longest: float = inf
) -> list[tuple[tuple[Pair, ...], Fit]]:
    """All pairs placed alike where that works, else each corner by itself, but with those that share the end of a part;
    slips shorter than `longest`, mm; `alike`: rows the same from both ends, where they can be.
    """
    try:
        together = _placement(floor, pairs, pairs, joint, way, alike, longest)
        return [(pairs, together.fit())]
    except Refusal:
        groups = _sharing(joint, pairs)
        if len(pairs) == 1 or (len(groups) == 1 and not isinstance(joint, RingJoint)):
            raise
    apart = [_placement(floor, group, pairs, joint, way, alike, longest) for group in groups]
    found = []
    for group, placement in zip(groups, apart, strict=True):
        try:
            found.append((group, placement.fit(together, apart)))
        except Refusal:
            if len(group) > 1 and isinstance(joint, RingJoint):
                for pair in group:
                    _placement(floor, (pair,), pairs, joint, way, alike, longest).fit(together, apart)
                raise _unlike_pieces(group) from None
            raise
    return found


def _sharing(joint: Joint, pairs: tuple[Pair, ...]) -> list[tuple[Pair, ...]]:
    """The pairs in groups that share no row of slots: the pieces of a part are alike, so each has at an end whatever
    any of them has there. Boards of a panel are not: they are told apart by the rows they have.
    """
    if isinstance(joint, EdgeToEdge):
        return [(pair,) for pair in pairs]
    groups: list[tuple[Pair, ...]] = []
    for pair in pairs:
        near = [group for group in groups if any(_rows(pair) & _rows(other) for other in group)]
        groups = [group for group in groups if group not in near]
        groups.append((*(other for group in near for other in group), pair))
    return groups


def _rows(pair: Pair) -> set[tuple[object, ...]]:
    return {(seat.part.id, *row_place(seat)) for seat in (pair.first, pair.second)}


def _unlike_pieces(group: tuple[Pair, ...]) -> Refusal:
    """Of corners that share an end of a part, and can be made each by itself but not alike."""
    ends = Counter(seat.part.id for pair in group for seat in (pair.first, pair.second))
    (part, _), mates = ends.most_common(1)[0], [name for name, number in ends.items() if number == 1]
    return Refusal(
        f"{part} needs slots in other places where it meets {' than where it meets '.join(mates[:2])}, and its pieces "
        "are alike",
        f"a part of its own for each place of {part} in the ring",
        "parts",
    )


def _placement(
    floor: Floor,
    group: tuple[Pair, ...],
    pairs: tuple[Pair, ...],
    joint: Joint,
    way: str,
    alike: bool,
    longest: float,
    taken: Taken | None = None,
) -> Placement:
    """The search for some of a joint's pairs, placed alike."""
    thin = min(min(p.first.part.thickness, p.most) for p in pairs)
    boards = {seat.part.id: seat.part for p in pairs for seat in (p.first, p.second)}
    crossing = (
        tuple(box for part in boards.values() for box in across(floor.job.joints, part))
        if isinstance(joint, EdgeToEdge)  # elsewhere both ends of a piece, and mirror images, must agree
        else ()
    )
    equal = way == "square-first"
    chosen = not isinstance(joint, EndToFace)  # shelves are held at places of their own, or turned about
    return Placement(floor, group, wishes_of(joint), thin, equal, crossing, longest, taken, alike, chosen)


def _none_left(
    floor: Floor, joint: Joint, refusals: Sequence[tuple[str, Refusal]]
) -> InputError | NoOrderError:
    """What to say where no way fits: a fault of the file where there is one way, or slips are asked for, or
    the shop file lacks what every way needs."""
    once = len({r.message for _, r in refusals}) == 1
    if len(refusals) == 1 or (once and (_asks(joint) or refusals[0][1].lacks)):
        return InputError([floor.fault("joint", joint.id, refusals[0][1])])
    if _asks(joint):
        text = "; ".join(f"{way}: {r.message}" for way, r in refusals)
        works = "; ".join(f"{way}: {r.accepted}" for way, r in refusals if r.accepted)
        return InputError([floor.fault("joint", joint.id, Refusal(text, works, refusals[0][1].key))])
    text = "; ".join(f"{way}: {r.sentence}" for way, r in refusals)
    return NoOrderError([floor.job.fault("joint", joint.id, f"no way of making this joint is left: {text}")])


def _asks(joint: Joint) -> bool:
    """Whether the job itself asks for figures of the slips."""
    slips = getattr(joint, "slips", None)
    return slips is not None and slips != Slips(slack=slips.slack)
