"""What a pattern heeds besides dials and precedence: mates and wishes, as far as they concern its own lots and dials.

Any order of the whole, with the lots left out that the pattern does not keep, must keep what is heeded there and pay no
more for it (`patterns` proves that of the dials):

*Mates.* Of a group, those lots are heeded for a dial it holds that name the dial. Between the first and the last of
them the whole does not move the dial, nor does it leave the station where that would lose it. Nor does the order with
lots left out: a dial moves there at lots that name it, to where the whole has it then; so what a lot left out has moved
is moved by the next lot that names the dial. Amid the mates nothing was moved, and what was moved before them is moved
by the first of them at the latest, because it names the dial. A member that does not name the dial is not asked for
it: what is moved before it in the whole might be moved after it here.

*Wishes.* A wish whose two lots are kept is paid here exactly if the whole pays it. It is heeded only where one dial is,
its owner; so no two patterns on disjoint dials pay it, and their costs still add up. What such a pattern costs is
no longer a cost of its dials alone: `Heeded.paid` is the most of it that goes into wishes.

Lots can still be made at once where they move nothing, except the first of mates (it might bind them too early) and the
second lot of a wish before its first. Taken out of its later place and put here, any other lot moves nothing; there
its moves fall to the next lot that names the dial as above, so none comes to lie amid mates (if it is one of them
itself, they are begun, and lie closer together); what it was wished before comes after it all the more.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sequencer.solve.bounds.stops import MANY_VALUES
from sequencer.solve.reduction.passing import first_visit_helps
from sequencer.solve.relation import bits, mask_of
from sequencer.solve.transitions.floor import Floor


@dataclass(frozen=True)
class Group:
    """Mates: their lots (mask) and the dials held between the first and the last (mask of places in the pattern).
    `loose`: those of the dials that some of the lots do not name.
    """

    lots: int
    held: int
    loose: int = 0


@dataclass(frozen=True)
class Wished:
    """A wish: `price` is paid if lot `after` is made while `before` is left."""

    before: int
    after: int
    price: int


@dataclass(frozen=True)
class Heeded:
    """Groups of mates, wishes, lots that are never free (mask); those that are revocable, those made that stay made
    where one that they wait for is revoked, and those that end that what they wait for is revocable (`stops`).

    The last, `steady`, are at a station whose first visit can help: what they wait for is not revoked once they are
    made. They only widen `lots`; `compiled.rows.tied` does the rest: what is there, but neither `tied` nor `firm`, is
    not free while what it waits for may be revoked.
    """

    groups: tuple[Group, ...] = ()
    wishes: tuple[Wished, ...] = ()
    tied: int = 0
    revocable: int = 0
    firm: int = 0
    steady: int = 0

    def __bool__(self) -> bool:
        return bool(self.groups or self.wishes or self.tied or self.revocable)

    @property
    def lots(self) -> int:
        """All that any of it concerns (mask)."""
        named = self.tied | self.steady
        for group in self.groups:
            named |= group.lots
        for wish in self.wishes:
            named |= 1 << wish.before | 1 << wish.after
        return named

    @property
    def paid(self) -> int:
        """The most that can be paid for wishes."""
        return sum(wish.price for wish in self.wishes)


NOTHING_HEEDED = Heeded()


def whole(floor: Floor, stopping: int) -> Heeded:
    """All that binds lots, for a pattern of all dials as they are; `stopping`: lots that can serve as stops (mask).

    Lots that it may help to keep back are revocable, or never free where they are bound to others, or where a dial has
    too many values to tell what stops help.
    """
    groups = []
    for lots, held in floor.groups:
        loose = mask_of([d for d in bits(held) if lots & ~_naming(floor, d)])
        groups.append(Group(lots, held, loose))
    tied = floor.tied
    for knob in floor.knobs:
        if knob.values > MANY_VALUES and not knob.plain:
            tied |= knob.named
    revocable = stopping & ~floor.free & ~tied
    steady = 0
    for station, lots in enumerate(floor.knobs[floor.walking].accept[: len(floor.problem.walk)]):
        if revocable and first_visit_helps(floor.problem, station):
            steady |= lots
    return Heeded(tuple(groups), _wishes(floor), tied & ~floor.free, revocable, steady=steady)


def part(floor: Floor, dials: Sequence[int], stopping: int = 0) -> Heeded:
    """What a pattern on these dials heeds; `stopping`: lots that can serve as stops there (mask)."""
    held: dict[int, int] = {}
    for lots, dials_held in floor.groups:
        for place, d in enumerate(dials):
            mates = lots & _naming(floor, d) if dials_held >> d & 1 else 0
            if mates & (mates - 1):
                held[mates] = held.get(mates, 0) | 1 << place
    groups = tuple(Group(lots, places) for lots, places in held.items())
    wishes = tuple(wish for wish in _wishes(floor) if owner(floor, wish) in dials)
    return Heeded(groups, wishes, revocable=stopping, firm=floor.tied)


def owner(floor: Floor, wish: Wished) -> int:
    """The dial with which a wish is heeded, one that both of its lots name: walking where there is no other."""
    both = 1 << wish.before | 1 << wish.after
    return next(d for d in range(floor.walking + 1) if not both & ~_naming(floor, d))


def _naming(floor: Floor, d: int) -> int:
    """The lots that name a dial (mask)."""
    return floor.knobs[d].named


def _wishes(floor: Floor) -> tuple[Wished, ...]:
    return tuple(
        Wished(before.bit_length() - 1, after, price)
        for after, wishes in enumerate(floor.wish_before)
        for before, price in wishes
    )
