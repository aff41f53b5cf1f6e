"""Whether a whole thing goes together: every board has one place in it, by whichever joint it is reached.

Each joint with slips, put together by itself, is a rigid set of boards (`assembly`). These sets are laid onto one
another from board to board: a board that two joints have must lie alike for both, but for what turning it about its own
middle lines leaves as it is. Where the sides of shelves can lie in several ways, those that agree are taken. Panels,
and joints that would go on for ever, are not followed. Lengths in mm.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from copy import copy
from dataclasses import dataclass, replace
from math import ceil, gcd, inf
from typing import assert_never

import numpy as np

from sequencer.diagnostics import InputError, NoOrderError
from sequencer.joinery.basis.facing import turned_places
from sequencer.joinery.basis.floor import Floor
from sequencer.joinery.basis.nearness import HAIR, IN_PLACE
from sequencer.joinery.basis.places import in_words, placed_by
from sequencer.joinery.basis.refusal import Refusal
from sequencer.joinery.basis.seats import Body, Pair
from sequencer.joinery.meetings.joined import Joined, Way
from sequencer.joinery.meetings.narrow_shelves import full_width, narrower, parts_apart
from sequencer.joinery.meetings.rings import RingJoint
from sequencer.joinery.meetings.square import pairs_of
from sequencer.joinery.slots.fit import Fit
from sequencer.joinery.trenches.cuts import TrenchJoint, lengthwise
from sequencer.joinery.ways.offers import find_ways
from sequencer.joinery.whole.assembly import put_together
from sequencer.joinery.whole.housed import unlike_lengths
from sequencer.joinery.whole.level import Beside, not_level, side_by_side
from sequencer.joinery.whole.lying import Piece, Pose
from sequencer.joinery.whole.outward import Outward, facing_out
from sequencer.joinery.whole.slabs import astray
from sequencer.model.parts import EdgeToEdge, EndToEdge, EndToFace, Joint, LegToApron, Part
from sequencer.operations import Slot

TRIES = 4000
"""Ways of laying one joint's boards onto the others' that are tried; a thing that takes more is told as not judged."""


@dataclass(frozen=True, eq=False)
class _Step:
    """One of a joint, to be laid onto the thing: for each way its parts can lie, its boards."""

    joined: Joined
    lies: tuple[tuple[Way, tuple[Piece, ...]], ...]

    @property
    def id(self) -> str:
        return self.joined.joint.id


@dataclass(frozen=True, eq=False)
class _Misfit:
    """A board of a joint that lies otherwise than the board that other joints have there, if they have any; with how
    many of the joint's boards agreed before, and how little it lies off (mm, negative)."""

    step: int
    agreeing: int
    least: float
    piece: Piece
    there: Piece | None
    joints: tuple[str, ...]


class _NotTold(Exception):  # noqa: N818 - no fault
    """Nothing can be said of a thing: a set of boards that nothing joins, which may lie anywhere."""


class _TooMany(_NotTold):
    """There are more ways of laying a thing out than are tried."""


def go_together(
    joined: Sequence[Joined], bodies: Mapping[str, Body], floor: Floor
) -> tuple[list[tuple[str, Refusal]], list[str], list[Outward]]:
    """Joint and refusal for everything that does not go together, remarks on sides that do not stand level and on
    things that take too long to judge, and what looks outward that holds a board; of shelves and sides that can lie in
    several ways, each joint's way is set to what agrees."""
    parts = {name: body.part for name, body in bodies.items()}
    holding = [each.joint for each in joined if isinstance(each.joint, TrenchJoint) and each.joint.holds]
    misfits: list[tuple[str, Refusal]] = []
    remarks: list[str] = []
    outward: list[Outward] = []
    for group in _hanging_together([each for each in joined if _followed(each)]):
        number = gcd(*(each.number for each in group))
        room = {name: ceil(part.quantity * floor.job.batch / number) for name, part in parts.items()}
        steps = list(_steps(group, number, bodies, parts))
        within = [joint for joint in holding if set(joint.parts) <= _parts(group)]
        search = _Search(steps, room, bodies, parts, within, floor)
        try:
            chosen, remark = _laid(search, side_by_side((each.joint for each in group), parts))
        except _TooMany:
            names = " and ".join(f'"{each.joint.id}"' for each in group)
            remarks.append(
                f"not judged whether {names} go together: there are too many ways of laying their boards out"
            )
            continue
        except _NotTold:
            continue
        if chosen is None:
            misfits.append(search.refusal())
            continue
        remarks += [remark] if remark else []
        for step, way in zip(steps, chosen, strict=True):
            step.joined.ways[-1] = way
        outward += facing_out(holding, search.thing, parts)
    return misfits, remarks, outward


def _laid(search: _Search, pairs: Sequence[Beside]) -> tuple[list[Way] | None, str | None]:
    """The ways by which all goes together, None where none do; with a remark where these parts stand level by none.
    Raises _NotTold."""
    if pairs:
        level = copy(search)
        level.pairs = pairs
        try:
            chosen = level.lay(0, ())
        except _NotTold:
            return search.lay(0, ()), None
        if chosen is not None:
            search.thing = level.thing
            return chosen, None
        return search.lay(0, ()), level.uneven
    return search.lay(0, ()), None


def _followed(each: Joined) -> bool:
    joint = each.joint
    if not each.ways or isinstance(joint, (EdgeToEdge, TrenchJoint)):
        return False
    if isinstance(joint, (RingJoint, LegToApron)):
        return True
    if isinstance(joint, (EndToEdge, EndToFace)):
        on = joint.edges if isinstance(joint, EndToEdge) else joint.on
        return len(on) < 2 or len(joint.ends) < 2
    assert_never(joint)


def _parts(group: Iterable[Joined]) -> set[str]:
    return {
        seat.part.id for each in group for pair in each.ways[0].pairs for seat in (pair.first, pair.second)
    }


def _hanging_together(joints: Sequence[Joined]) -> Iterator[list[Joined]]:
    """Joints that have parts in common, each after one that it has a part in common with, rings first."""
    left = sorted(joints, key=lambda each: each.ring is None)
    while left:
        group = [left.pop(0)]
        while following := next((each for each in left if _parts([each]) & _parts(group)), None):
            left.remove(following)
            group.append(following)
        yield group


def _steps(
    group: Sequence[Joined], number: int, bodies: Mapping[str, Body], parts: Mapping[str, Part]
) -> Iterator[_Step]:
    for each in group:
        lies = []
        for way in each.lies:
            made = put_together(each, way, bodies, parts)
            turns = {p.part: _turns(each, way, parts[p.part]) for p in made}
            pieces = tuple(
                Piece(p.part, tuple(_then((p.rotation, p.origin), turn) for turn in turns[p.part]))
                for p in made
            )
            lies.append((way, pieces))
        yield from [_Step(each, tuple(lies))] * (each.number // number)


def _turns(each: Joined, way: Way, part: Part) -> list[Pose]:
    """The half turns of a board about its middle lines, none among them, that leave its slots of a joint as they are
    and what the joint says is flush."""
    joint, middle = each.joint, np.array([part.length, part.width, part.thickness]) / 2
    unlike = _unlike(joint, way.pairs[0].first.part, way.pairs[0].second.part)
    slots = [slot for pairs, fit in way.fits for slot in _slots_of(part, pairs, fit)]
    still = np.eye(3), np.zeros(3)
    found = [still]
    for signs in ((1, -1, -1), (-1, 1, -1), (-1, -1, 1)) if unlike < HAIR else ():
        turn = np.diag(np.array(signs, dtype=np.float64))
        turned = turn, middle - turn @ middle
        if {_seen(slot, turned) for slot in slots} == {_seen(slot, still) for slot in slots}:
            found.append(turned)
    return found


def _unlike(joint: Joint, one: Part, other: Part) -> float:
    """By how much two parts are unlike that a joint has flush at both sides; infinite where it has them otherwise."""
    if isinstance(joint, EndToFace):
        return abs(one.width - other.width)
    if isinstance(joint, EndToEdge):
        return abs(one.thickness - other.thickness)
    if isinstance(joint, (RingJoint, TrenchJoint, EdgeToEdge, LegToApron)):
        return inf
    assert_never(joint)


def _slots_of(part: Part, pairs: Iterable[Pair], fit: Fit) -> Iterator[Slot]:
    for pair in pairs:
        for half, seat in enumerate((pair.first, pair.second)):
            if seat.part.id == part.id:
                for s in fit.centres:
                    yield seat.slot("", s, fit.height, fit.slots[half], fit.thickness, fit.depths[half])


def _seen(slot: Slot, pose: Pose) -> tuple[tuple[float, ...], ...]:
    """The wood of a slot of a board that lies at `pose`, seen from whichever end."""
    turn, shift = pose
    mouth, axis, along = (
        turn @ np.array(slot.mouth) + shift,
        turn @ np.array(slot.axis),
        turn @ np.array(slot.along),
    )
    told, into, one, back = (tuple(round(float(x), 3) + 0.0 for x in v) for v in (mouth, axis, along, -along))
    return told, into, max(one, back), (slot.length, slot.depth)


def _then(pose: Pose, inner: Pose) -> Pose:
    """The pose of what lies at `inner` in a frame that lies at `pose`."""
    return pose[0] @ inner[0], pose[0] @ inner[1] + pose[1]


def _back(pose: Pose) -> Pose:
    turn = pose[0].T
    return turn, -turn @ pose[1]


def _same(one: Pose, other: Pose) -> bool:
    return bool(np.abs(one[0] - other[0]).max() < 0.01 and np.abs(one[1] - other[1]).max() < IN_PLACE)


class _Search:
    """Lays one joint after another onto the thing, and takes back what does not lead on."""

    def __init__(
        self,
        steps: Sequence[_Step],
        room: Mapping[str, int],
        bodies: Mapping[str, Body],
        parts: Mapping[str, Part],
        holding: Sequence[TrenchJoint],
        floor: Floor,
    ) -> None:
        self.steps, self.room, self.bodies, self.parts = steps, room, bodies, parts
        self.holding, self.floor = holding, floor
        self.left = TRIES
        self.worst: _Misfit | None = None
        self.astray: tuple[str, Refusal] | None = None
        self.pairs: Sequence[Beside] = ()
        self.uneven: str | None = None
        self.thing: tuple[Piece, ...] = ()
        """The boards of the whole thing, where all of them found their place."""

    def lay(self, k: int, thing: tuple[Piece, ...]) -> list[Way] | None:
        """The way of each joint from the k-th on, None where none agrees. Raises _NotTold."""
        if k == len(self.steps):
            told = next(
                filter(
                    None,
                    (
                        judge(self.holding, thing, self.room, self.parts, self.floor)
                        for judge in (astray, unlike_lengths)
                    ),
                ),
                None,
            )
            self.astray = self.astray or told
            if told:
                return None
            uneven = not_level(self.pairs, thing, self.parts, self.floor)
            self.uneven = self.uneven or uneven
            self.thing = thing
            return None if uneven else []
        step = self.steps[k]
        for way, pieces in step.lies:
            for grown in self._grown(k, thing, pieces):
                rest = self.lay(k + 1, grown)
                if rest is not None:
                    return [way, *rest]
        return None

    def _grown(
        self, k: int, thing: tuple[Piece, ...], pieces: tuple[Piece, ...]
    ) -> Iterator[tuple[Piece, ...]]:
        """The thing with a joint's boards laid onto it, in every way that agrees, most boards met first."""
        joint = self.steps[k].id
        if not thing:
            yield tuple(replace(piece, joints=frozenset([joint])) for piece in pieces)
            return
        tried: list[Pose] = []
        for mine in pieces:
            for other in thing:
                if other.part == mine.part and joint not in other.joints:
                    for there in other.poses:
                        for here in mine.poses:
                            move = _then(there, _back(here))
                            if not any(_same(move, known) for known in tried):
                                tried.append(move)
        if not tried:
            raise _NotTold
        found = []
        for move in tried:
            self.left -= 1
            if self.left < 0:
                raise _TooMany
            grown = self._met(
                k, thing, [replace(p, poses=tuple(_then(move, q) for q in p.poses)) for p in pieces]
            )
            if grown is not None:
                found.append(grown)
        yield from sorted(found, key=len)

    def _met(self, k: int, thing: tuple[Piece, ...], pieces: Sequence[Piece]) -> tuple[Piece, ...] | None:
        """The thing with these boards, each on the one it meets or as one more; None where that does not go."""
        joint = self.steps[k].id
        grown = list(thing)
        alone = []
        for piece in pieces:
            for i, there in enumerate(grown):
                if there.part != piece.part or joint in there.joints:
                    continue
                poses = tuple(p for p in there.poses if any(_same(p, q) for q in piece.poses))
                if poses:
                    grown[i] = Piece(there.part, poses, there.joints | {joint})
                    break
            else:
                alone.append(piece)
        agreeing = len(pieces) - len(alone)
        for piece in alone:
            if sum(there.part == piece.part for there in grown) >= self.room[piece.part]:
                self._misfit(k, agreeing, piece, grown)
                return None
            grown.append(replace(piece, joints=frozenset([joint])))
        return tuple(grown)

    def _misfit(self, k: int, agreeing: int, piece: Piece, thing: Sequence[Piece]) -> None:
        """Keep the misfit that came furthest; of several the least."""
        joint = self.steps[k].id
        free = [there for there in thing if there.part == piece.part and joint not in there.joints]
        there = min(free, key=lambda one: self._apart(one, piece), default=None)
        least = -inf if there is None else -self._apart(there, piece)
        if self.worst is not None and (self.worst.step, self.worst.agreeing, self.worst.least) >= (
            k,
            agreeing,
            least,
        ):
            return
        near = there.joints if there is not None else {j for one in thing for j in one.joints} - {joint}
        order = [step.id for step in self.steps]
        self.worst = _Misfit(k, agreeing, least, piece, there, tuple(sorted(near, key=order.index)))

    def _apart(self, one: Piece, other: Piece) -> float:
        """How far apart the middles of two boards are; more than any distance where they lie unlike ways round."""
        turned = any(np.abs(p[0] - q[0]).max() < 0.01 for p in one.poses for q in other.poses)
        return float(
            np.linalg.norm(one.middle(self.parts[one.part]) - other.middle(self.parts[other.part]))
        ) + (0.0 if turned else 1e6)

    def refusal(self) -> tuple[str, Refusal]:
        """Joint and refusal of a thing that does not go together."""
        if self.astray is not None:
            return self.astray
        assert self.worst is not None
        told, step = self.worst, self.steps[self.worst.step]
        others = " and ".join(f'"{joint}"' for joint in told.joints)
        return step.id, Refusal(
            f"this does not go together with {others}: {self._off(told)}",
            self._way_out(step),
            placed_by(step.joined.joint),
        )

    def _off(self, told: _Misfit) -> str:
        """How a board lies where it should not."""
        name = told.piece.part
        if told.there is None:
            return f"it would take one {name} more"
        turn, shift = _then(_back(told.there.poses[0]), told.piece.poses[0])
        part = self.parts[name]
        middle = np.array([part.length, part.width, part.thickness]) / 2
        off = turn @ middle + shift - middle
        if np.abs(off).max() < IN_PLACE:
            return f"{name} would lie the other way round"
        k = int(np.abs(off).argmax())
        where = ("along its length", "across its width", "through its thickness")[k]
        size = self.floor.fine(abs(float(off[k])))
        return f"{name} would lie {size} from where it does there, {where}"

    def _way_out(self, step: _Step) -> str:
        """What of this joint would go together with the rest: its places seen from the other end, where that helps."""
        joint = step.joined.joint
        if isinstance(joint, (EndToEdge, EndToFace)) and len(joint.ends) == 1 and joint.at is not None:
            board, mate = (self.parts[name] for name in joint.parts)
            size = board.width if isinstance(joint, EndToEdge) else board.thickness
            at = turned_places(joint.at, size, mate.length)
            if self._would(step, joint.model_copy(update={"at": at})):
                places = in_words(at, self.floor)
                return f"at {places}: measured from the left end of {mate.id}, which lies the other way up"
        told = ", or ".join(self._of_narrow(step))
        return told or "places (at) and sizes that lead to one place for each board"

    def _of_narrow(self, step: _Step) -> Iterator[str]:
        """What would go together where shelves narrower than their sides lay these turned end for end."""
        joints = list({other.id: other.joined.joint for other in self.steps}.values())
        there = self.worst.joints if self.worst is not None else ()
        narrow = narrower((j for j in joints if j.id == step.id or j.id in there), self.parts)
        if narrow is None:
            return
        shelf, side = (self.parts[name] for name in narrow.parts)
        if self._would_as_wide(shelf, side):
            yield full_width(shelf, side, self.floor)
        if told := parts_apart(side.id, joints, self.parts, self.floor):
            yield told

    def _would(self, step: _Step, joint: EndToEdge | EndToFace) -> bool:
        """Whether all goes together with this joint in a step's place."""
        (way, _), *_ = step.lies
        pairs = pairs_of(joint, self.bodies, self.floor)
        moved = replace(step.joined, joint=joint, lies=[Way(way.name, pairs, ((pairs, way.fits[0][1]),))])
        steps: list[_Step] = []
        for other in self.steps:
            steps += _steps([moved], moved.number, self.bodies, self.parts) if other is step else [other]
        return self._goes(steps, self.bodies)

    def _would_as_wide(self, board: Part, mate: Part) -> bool:
        """Whether all goes together with a board as wide as its mate."""
        wide = board.model_copy(update={"width": mate.width})
        bodies = {**self.bodies, board.id: Body.of(wide, (), lengthwise(self.floor.job.joints, wide))}
        parts = {name: body.part for name, body in bodies.items()}
        steps: list[_Step] = []
        for other in self.steps:
            joined = other.joined
            if board.id in joined.joint.parts:
                joined = Joined(joined.joint, number=joined.number)
                try:
                    find_ways(joined, bodies, self.floor)
                except (InputError, NoOrderError):
                    return False
            steps += _steps([joined], joined.number, bodies, parts)
        return self._goes(steps, bodies)

    def _goes(self, steps: Sequence[_Step], bodies: Mapping[str, Body]) -> bool:
        parts = {name: body.part for name, body in bodies.items()}
        try:
            return _Search(steps, self.room, bodies, parts, self.holding, self.floor).lay(0, ()) is not None
        except _NotTold:
            return False
