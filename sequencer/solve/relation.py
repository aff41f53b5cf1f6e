"""What must come before what, over all the choices still open, as bit masks.

A precedence pair counts only between lots that are both made, and nothing is carried through a lot that falls
away. So "a before b" may be relied on, whatever will be chosen, only if every option carries it: either
through lots that are always made, or through each option of some choice in its own way.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from sequencer.solve.problem import Impossible, Problem


def bits(mask: int) -> Iterator[int]:
    """The positions of the bits set, lowest first."""
    while mask:
        low = mask & -mask
        yield low.bit_length() - 1
        mask ^= low


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
    lots made under every combination; `options[c]`: index and lots of each option of choice c that is not
    circular in itself.
    """

    always: int
    options: tuple[tuple[tuple[int, int], ...], ...]
    before: tuple[int, ...]
    after: tuple[int, ...]


def relation_of(problem: Problem) -> Relation | Impossible:
    """The precedence to rely on, or the circle that lots made in any case run in."""
    count = len(problem.lots)
    direct = [0] * count
    for a, b in problem.precedence:
        direct[a] |= 1 << b
    always = (1 << count) - 1
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
    known = _closure(direct, always)
    if known is None:
        return _circle(problem, direct, always)
    options: list[tuple[tuple[int, int], ...]] = []
    under: list[list[list[int]]] = []  # per choice and option: what comes after each lot made under it
    changed = True
    while changed:
        changed = False
        options, under = [], []
        for c, choice_masks in enumerate(choices):
            kept, closures = [], []
            for o, mask in choice_masks:
                joined = [direct[a] | (known[a] if always >> a & 1 else 0) for a in range(count)]
                closure = _closure(joined, always | mask)
                if closure is not None:
                    kept.append((o, mask))
                    closures.append(closure)
            if not kept:
                return Impossible(
                    f"every option of choice {c + 1} makes lots that must come before each other"
                )
            for a in bits(always):
                carried = always
                for closure in closures:
                    carried &= closure[a]
                if carried & ~known[a]:
                    known[a] |= carried
                    changed = True
            choices[c] = kept
            options.append(tuple(kept))
            under.append(closures)
    after = _with_optional(direct, known, always, options, under)
    before = [0] * count
    for a in range(count):
        for b in bits(after[a]):
            before[b] |= 1 << a
    return Relation(always, tuple(options), tuple(before), tuple(after))


def _with_optional(
    direct: list[int],
    known: list[int],
    always: int,
    options: list[tuple[tuple[int, int], ...]],
    under: list[list[list[int]]],
) -> list[int]:
    """Extend the relation to optional lots: through lots always made, and through their own options only."""
    count = len(direct)
    if not options:
        return known
    ahead = list(known)  # for an optional lot: what follows it under every option that makes it
    behind = [0] * count  # the same backwards
    optional: dict[int, list[list[int]]] = {}
    for choice, closures in zip(options, under, strict=True):
        for (_, mask), closure in zip(choice, closures, strict=True):
            for lot in bits(mask):
                optional.setdefault(lot, []).append(closure)
    for lot, closures in optional.items():
        follow = -1
        for closure in closures:
            follow &= closure[lot]
        ahead[lot] = follow
        for a in range(count):
            if all(closure[a] >> lot & 1 for closure in closures):
                behind[lot] |= 1 << a
    for a in bits(always):
        for lot in optional:
            if behind[lot] >> a & 1:
                ahead[a] |= 1 << lot
    # between optional lots of different choices: out of a's own options by one direct step into b's
    into = {
        lot: mask_of([x for x in range(count) if direct[x] & (behind[lot] | 1 << lot)]) for lot in optional
    }
    for a in optional:
        mine = ahead[a] | 1 << a
        for b in optional:
            if a != b and mine & (into[b] | behind[b]):
                ahead[a] |= 1 << b
    return ahead


def _closure(direct: list[int], within: int) -> list[int] | None:
    """All that comes after each lot inside `within`, or None if it runs in a circle."""
    order = _sorted(direct, within)
    if order is None:
        return None
    after = [0] * len(direct)
    for lot in reversed(order):
        for b in bits(direct[lot] & within):
            after[lot] |= 1 << b | after[b]
    return after


def _sorted(direct: list[int], within: int) -> list[int] | None:
    """The lots in an order that keeps the direct precedence, or None if it runs in a circle."""
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


def _circle(problem: Problem, direct: list[int], within: int) -> Impossible:
    """A shortest circle of direct precedence, in words."""
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
    names = " before ".join(problem.lots[lot].label for lot in [*best, best[0]])
    return Impossible(f"these must come before each other: {names}", tuple(best))
