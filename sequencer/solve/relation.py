"""What must come before what, over all the choices still open, as bit masks.

A precedence pair counts only between lots that are both made, and nothing is carried through a lot that falls
away. So "a before b" may be relied on, whatever will be chosen, only if every option carries it: either
through lots that are always made, or through each option of some choice in its own way.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

from sequencer.solve.problem import Impossible, Problem


def bits(mask: int) -> Iterator[int]:
    """The positions of the bits set, lowest first."""
    while mask:
        low = mask & -mask
        yield low.bit_length() - 1
        mask ^= low


@lru_cache(4096)
def bits_of(mask: int) -> tuple[int, ...]:
    """The same, all at once, for masks that are asked about again and again."""
    return tuple(bits(mask))


def mask_of(members: frozenset[int] | set[int] | range | list[int] | tuple[int, ...]) -> int:
    """The mask with these bits set."""
    mask = 0
    for member in members:
        mask |= 1 << member
    return mask


@dataclass(frozen=True)
class Relation:
    """Precedence that holds whatever is chosen, and the options that can be taken at all.

    `after[a]`: the lots that come after a whenever both are made; `before` the other way round; `always`: the
    lots made under every combination; `options[c]`: index of each option of choice c that is not
    circular in itself, and its lots but for those that every option makes.
    """

    always: int
    options: tuple[tuple[tuple[int, int], ...], ...]
    before: tuple[int, ...]
    after: tuple[int, ...]


def relation_of(problem: Problem) -> Relation | Impossible:
    """The precedence to rely on, or the circle that lots made in any case run in."""
    always, choices = _choices(problem)
    direct = Direct(problem)
    known = _closure(direct.after, always)
    if known is None:
        ring = circle(problem, direct.after, always)
        assert ring is not None
        lots, why = ring
        return Impossible(why, lots)
    sure = _Sure(always, known, _turned(known))
    under: list[list[_Under]] = []  # per choice, its options that run in no circle
    changed = True
    while changed:
        changed = False
        under = []
        for c, choice in enumerate(choices):
            found = [_under(direct, sure, o, mask) for o, mask in choice]
            kept = [option for option in found if option is not None]
            if not kept:
                return Impossible(
                    f"every option of choice {c + 1} makes lots that must come before each other"
                )
            changed |= sure.carry(kept)
            choices[c] = [(option.number, option.lots) for option in kept]
            under.append(kept)
    before, after = _with_optional(direct, sure, under)
    return Relation(always, tuple(tuple(choice) for choice in choices), tuple(before), tuple(after))


def _choices(problem: Problem) -> tuple[int, list[list[tuple[int, int]]]]:
    """The lots always made, and for each choice the number and the other lots of each option."""
    always = (1 << len(problem.lots)) - 1
    choices = []
    for choice in problem.choices:
        masks = [mask_of(option) for option in choice]
        common = masks[0]
        named = 0
        for mask in masks:
            common &= mask
            named |= mask
        always &= ~(named & ~common)
        choices.append([(o, mask & ~common) for o, mask in enumerate(masks)])
    return always, choices


class Direct:
    """The precedence pairs as they are given, from both sides."""

    def __init__(self, problem: Problem) -> None:
        self.after = [0] * len(problem.lots)
        self.before = [0] * len(problem.lots)
        for a, b in problem.precedence:
            self.after[a] |= 1 << b
            self.before[b] |= 1 << a


@dataclass(frozen=True)
class _Under:
    """What one option adds: for each of its lots all that comes before and after it, lots of other choices left
    out.
    """

    number: int
    lots: int
    before: dict[int, int]
    after: dict[int, int]

    def carried(self) -> dict[int, int]:
        """What comes after a lot by way of the option's lots."""
        found: dict[int, int] = {}
        for lot, earlier in self.before.items():
            for a in bits(earlier):
                found[a] = found.get(a, 0) | self.after[lot]
        return found


@dataclass(frozen=True)
class _Sure:
    """What is known so far among the lots always made; closed: what follows from it is in it."""

    always: int
    after: list[int]
    before: list[int]

    def carry(self, options: list[_Under]) -> bool:
        """Add what every one of these options carries; whether that was anything new."""
        first, *others = [option.carried() for option in options]
        new = False
        for a in bits(self.always & mask_of(list(first))):
            common = first[a] & self.always & ~self.after[a]
            for other in others:
                common &= other.get(a, 0)
            for b in bits(common):
                self.after[a] |= 1 << b
                self.before[b] |= 1 << a
                new = True
        return new


def _under(direct: Direct, sure: _Sure, number: int, lots: int) -> _Under | None:
    """One option on top of what is known; None if its lots run in a circle.

    A way from one of them to another leads through lots always made, or straight: so the way is looked for
    among the option's lots only, the rest being closed.
    """
    after, before, into = {}, {}, {}
    for lot in bits(lots):
        earlier, later = direct.before[lot] & sure.always, direct.after[lot] & sure.always
        for a in bits(later):
            later |= sure.after[a]
        into[lot] = direct.before[lot] & (sure.always | lots)
        for a in bits(earlier):
            earlier |= sure.before[a]
        after[lot], before[lot] = later, earlier
    step = [0] * len(direct.after)
    for lot, later in after.items():
        reached = later | 1 << lot
        step[lot] = mask_of([other for other, entry in into.items() if entry & reached])
    closed = _closure(step, lots)
    if closed is None:
        return None
    whole = {lot: later | closed[lot] for lot, later in after.items()}
    behind = dict(before)
    for lot in after:
        for other in bits(closed[lot]):
            whole[lot] |= after[other]
            behind[other] |= before[lot] | 1 << lot
    return _Under(number, lots, behind, whole)


def _with_optional(direct: Direct, sure: _Sure, under: list[list[_Under]]) -> tuple[list[int], list[int]]:
    """The relation extended to optional lots: through lots always made, and through their own options only."""
    ahead, behind = list(sure.after), list(sure.before)
    optional: dict[int, list[_Under]] = {}
    for choice in under:
        for option in choice:
            for lot in bits(option.lots):
                optional.setdefault(lot, []).append(option)
    for lot, options in optional.items():  # what follows, and what leads, under every option that makes it
        ahead[lot] = behind[lot] = -1
        for option in options:
            ahead[lot] &= option.after[lot]
            behind[lot] &= option.before[lot]
    # between optional lots of different choices: out of a's own options by one direct step into b's
    entry = {}
    for lot in optional:
        entry[lot] = behind[lot] | direct.before[lot]
        for a in bits(behind[lot]):
            entry[lot] |= direct.before[a]
    out = {lot: ahead[lot] | 1 << lot for lot in optional}
    for b, into in entry.items():
        for a in bits(behind[b] & sure.always):
            ahead[a] |= 1 << b
        for a, mine in out.items():
            if mine & into and a != b:
                ahead[a] |= 1 << b
    return _turned(ahead), ahead


def _turned(after: list[int]) -> list[int]:
    """The same relation from the other side."""
    before = [0] * len(after)
    for a, later in enumerate(after):
        for b in bits(later):
            before[b] |= 1 << a
    return before


def _closure(direct: list[int], within: int) -> list[int] | None:
    """All that comes after each lot inside `within`, or None if it runs in a circle."""
    order = in_order(direct, within)
    if order is None:
        return None
    after = [0] * len(direct)
    for lot in reversed(order):
        for b in bits(direct[lot] & within):
            after[lot] |= 1 << b | after[b]
    return after


def reached(direct: Sequence[int], lots: int) -> int:
    """All that the direct precedence leads to from these lots; of themselves those it leads back to."""
    found, todo = 0, lots
    while todo:
        new = 0
        for lot in bits(todo):
            new |= direct[lot]
        todo = new & ~found
        found |= todo
    return found


def in_order(direct: list[int], within: int) -> list[int] | None:
    """The lots of the mask in any order that keeps the direct precedence, or None if it runs in a circle."""
    waiting = dict.fromkeys(bits(within), 0)
    for lot in waiting:
        for b in bits(direct[lot] & within):
            waiting[b] += 1
    ready = [lot for lot, count in waiting.items() if not count]
    order = []
    while ready:
        lot = ready.pop()
        order.append(lot)
        for b in bits(direct[lot] & within):
            waiting[b] -= 1
            if not waiting[b]:
                ready.append(b)
    return order if len(order) == len(waiting) else None


def circle(problem: Problem, direct: Sequence[int], within: int) -> tuple[tuple[int, ...], str] | None:
    """A shortest circle of direct precedence inside `within`, and in words; None if there is none."""
    best: list[int] = []
    for start in bits(within):
        came = {start: start}
        front = [start]
        found = False
        while front and not found:
            grown = []
            for lot in front:
                for b in bits(direct[lot] & within):
                    if b == start:
                        path = [lot]
                        while path[-1] != start:
                            path.append(came[path[-1]])
                        if not best or len(path) < len(best):
                            best = path[::-1]
                        found = True
                    elif b not in came:
                        came[b] = lot
                        grown.append(b)
            front = grown
    if not best:
        return None
    names = [problem.lots[lot].label for lot in (*best, best[0])]
    *links, last = [f"{a} must come before {b}" for a, b in pairwise(names)]
    return tuple(best), f"{', '.join(links)} and {last}" if links else last
