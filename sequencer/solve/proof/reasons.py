"""Why the rest cannot be saved: the proven bound, taken apart into dials and put into words."""

from __future__ import annotations

from dataclasses import dataclass, replace

from sequencer.solve.bounds.heeded import Heeded
from sequencer.solve.bounds.patterns import Pattern
from sequencer.solve.bounds.wheels import Wheel, ease
from sequencer.solve.problem import FAR, Reason
from sequencer.solve.relation import bits
from sequencer.solve.transitions.floor import Floor, State

MOST = 60_000
"""Lots times states opened to find what one dial does; beyond that the words go without the count."""

NAMED = 4
"""Dials that are named together; more are just called the settings."""

EXAMPLES = 3
"""Moves of a dial for each of which an operation is named that needs it; of more only one is."""

SHOWN = 8
"""Values of a dial's way that are written out."""


def reasons(floor: Floor, root: State, patterns: list[Pattern], work: int, bound: int) -> tuple[Reason, ...]:
    """Why the dials cost at least what they do: one reason for each dial by itself, dearest first.

    For each pattern of several dials another one says what they cost more together than each by itself. A last
    one stands for what only the search over whole orders has shown: `bound` less `work` less all the others; it may be
    the only one.
    Patterns bound disjoint dials and heed no wish twice, so the reasons add up; where they come to more than `bound`
    the dearest that fit are given.
    """
    rest, values = root
    heeded = {pattern.dials: pattern.heeded for pattern in patterns}
    told: list[tuple[int, int, tuple[int, ...]]] = []  # dials together, cost, dials
    for pattern in patterns:
        whole = pattern.known(pattern.project(rest, values))
        if not 0 < whole < FAR:
            continue
        if len(pattern.dials) > 1:
            for d in pattern.dials:
                cost = _alone(floor, root, pattern, d)
                if 0 < cost <= whole:
                    whole -= cost
                    told.append((1, cost, (d,)))
        told.append((len(pattern.dials), whole, pattern.dials))
    found = []
    left = bound - work
    for size, cost, dials in sorted(told, key=lambda x: (x[0] > 1, -x[1], x[2])):
        if 0 < cost <= left:
            left -= cost
            named = dials if size <= NAMED else ()
            words = _words(floor, root, dials[0]) if size == 1 else _together(floor, dials, heeded[dials])
            found.append(Reason(tuple(floor.knobs[d].label for d in named), cost, words))
    if left > 0:
        found.append(Reason((), left, "searching all orders that could be cheaper found none"))
    return tuple(found)


def _alone(floor: Floor, root: State, pattern: Pattern, d: int) -> int:
    """What one dial of a pattern costs by itself: as its parts know it, or a short search finds."""
    rest, values = root
    known = 0
    todo = list(pattern.parts)
    while todo:
        part = todo.pop()
        if part.dials == (d,):
            known = max(known, part.known(part.project(rest, values)))
        todo += [inner for inner in part.parts if d in inner.dials]
    single = Pattern(floor, [ease(floor, d)], (d,), (), lambda: None, _budget(floor))
    return max(known, single.bound(single.project(rest, values), FAR))


def _budget(floor: Floor) -> int:
    """States a search for the words may open: fewer where each takes longer."""
    return max(20, MOST // max(1, floor.count))


def floors(root: State, patterns: list[Pattern]) -> tuple[tuple[tuple[int, ...], int], ...]:
    """What the dials of each pattern, and of each it was merged from, cost at least: pairs (dials, cost).

    A pattern's bound at the root holds for its own dials in any order of the whole, so each may be stated alone. Where
    wishes are heeded, the moves cost at least what all their prices leave of it. Parts that split the values of one
    dial are left out; the dial itself stands for them.
    """
    rest, values = root
    found: dict[tuple[int, ...], int] = {}
    todo = list(patterns)
    while todo:
        pattern = todo.pop()
        cost = pattern.known(pattern.project(rest, values))
        if cost < FAR:
            cost -= pattern.heeded.paid
        if 0 < cost < FAR:
            found[pattern.dials] = max(cost, found.get(pattern.dials, 0))
        todo += [part for part in pattern.parts if part.dials != pattern.dials]
    return tuple(sorted(found.items()))


def _words(floor: Floor, root: State, d: int) -> str:
    """What makes this dial move as often as it does, to be read after its name."""
    wheel = ease(floor, d)
    visits = least_visits(floor, root, d)
    if visits is None or not visits:
        wanted = len(set(wheel.stay.values()))
        return f"is needed {wanted} different ways by {wheel.named.bit_count()} operations"
    if d == floor.walking:
        return _walks(floor, visits)
    names = [_surely(floor, d, wheel, visit.value) for visit in visits]
    times = "once" if len(visits) == 1 else f"{len(visits)} times"
    ways = f" ({_shortened(names)})" if all(names) else ""
    start = floor.knobs[d].start
    begun = _name(floor, d, start) if start < floor.knobs[d].values else ""
    least = f"must move{f' from {begun}' if begun else ''} at least {times}"
    moves = f"{least}{ways}"
    back = _return(floor, d, wheel, visits)
    if back:
        return f"{moves}: {back}"
    needed = [v for v, lots in enumerate(wheel.only) if lots and v != start]
    if len(needed) != len(visits):
        return f"{moves}: no shorter way serves all {wheel.named.bit_count()} operations that name it"
    work = []
    for visit in visits:
        insisting = _sure(floor, d, wheel, visit.value) or bits(wheel.only[visit.value] or visit.made)
        work.append(_lot(floor, next(iter(insisting))))
    if len(needed) == 1:
        return f"{moves}: needed by {work[0]}"
    if len(needed) > EXAMPLES:
        named = f", {names[0]} by {work[0]}" if names[0] else ""
        return f"{moves}: each is needed by work that no other of them serves{named}"
    each = (f"to {name} for {lot}" if name else f"for {lot}" for name, lot in zip(names, work, strict=True))
    return f"{least}: {', '.join(each)}"


@dataclass(frozen=True)
class Visit:
    """A stretch of a dial's cheapest way: the value it is moved to, the items made there that name it."""

    value: int
    made: int


def least_visits(floor: Floor, root: State, d: int) -> list[Visit] | None:
    """The fewest moves with which dial d gets through all its work, whatever they cost.

    The same search as for the cost, every move counted as one (walking: from the first station on). None if
    it takes too long.
    """
    wheel = ease(floor, d)
    k = wheel.values
    first = 0 if d == floor.walking else 1
    rows = [tuple(int(a != b) for b in range(k)) for a in range(k)]
    counting = replace(wheel, cost=(*rows, (first,) * k, (1,) * k), price=(1,) * k, level=True)
    count = Pattern(floor, [counting], (d,), (), lambda: None, _budget(floor))
    key = count.project(*root)
    if count.bound(key, FAR) >= FAR or key in count.tired:
        return None
    visits = []
    while key[0]:
        total = count.exact.get(key, FAR)
        onward = [child for cost, child in count.steps(key) if cost + _exact(count, child) == total]
        if total >= FAR or not onward:
            return None
        made = key[0] & ~onward[0][0]
        visits.append(Visit(next(v for v in range(k) if not made & ~wheel.serves[v]), made))
        key = onward[0]
    return visits


def _walks(floor: Floor, visits: list[Visit]) -> str:
    """Why the work must go from station to station so often."""
    times = "once" if len(visits) == 2 else f"{len(visits) - 1} times"
    back = _return(floor, floor.walking, ease(floor, floor.walking), visits)
    if back:
        return f"the work must change station at least {times}: {back}"
    return f"the work must change station at least {times}: it is made at {len(visits)} stations"


def _return(floor: Floor, d: int, wheel: Wheel, visits: list[Visit]) -> str:
    """For one value come back to: which operation there waits for which operation elsewhere."""
    for j, late in enumerate(visits):
        for i, early in enumerate(visits[:j]):
            if early.value != late.value:
                continue
            between = 0
            for visit in visits[i + 1 : j]:
                between |= visit.made
            for item in bits(late.made):
                waits = floor.before[item] & between
                if waits:
                    other = next(bits(waits))
                    away = next(v.value for v in visits[i + 1 : j] if v.made >> other & 1)
                    value = _surely(floor, d, wheel, away)
                    here = _surely(floor, d, wheel, late.value)
                    to, there = (f" to {here}", f" at {value}") if here and value else ("", "")
                    waiting = f"{_lot(floor, item)} must wait for {_lot(floor, other)}"
                    return f"it comes back{to} because {waiting}{there}"
    return ""


def _together(floor: Floor, dials: tuple[int, ...], heeded: Heeded) -> str:
    """What binds several dials: the combinations of values in which operations want two of them; and what is counted
    in besides moves.
    """
    wheels = {d: ease(floor, d) for d in dials if d != floor.walking}
    best: dict[tuple[int, int], int] = {}
    pair = (0, 0)
    for a in wheels:
        for b in wheels:
            ways: dict[tuple[int, int], int] = {}
            one, other = wheels[a].stay, wheels[b].stay
            both = [item for item in one if a < b and item in other]
            for item in both:
                either = any(_either(floor, item, dial) for dial in (a, b))
                if one[item].bit_count() == other[item].bit_count() == 1 and not either:
                    ways.setdefault((one[item].bit_length() - 1, other[item].bit_length() - 1), item)
            if len(ways) > len(best):
                best, pair = ways, (a, b)
    bound = "that much more together than each by itself"
    if len(dials) > NAMED:
        bound = f"all settings cost {bound}"
    if heeded.groups:
        bound += ", mates made in one visit"
    if heeded.wishes:
        bound += ", wishes gone against counted in"
    if len(best) < 2:
        return f"{bound}: what spares one of them a move makes another come back"
    texts = []
    for values, item in sorted(best.items())[:2]:
        names = [_name(floor, d, v) for d, v in zip(pair, values, strict=True)]
        texts.append(_lot(floor, item) + (f" {names[0]} with {names[1]}" if all(names) else ""))
    if len(best) > len(texts):
        texts.append("...")
    which = (
        "they are"
        if len(dials) == 2
        else f"{' and '.join(floor.problem.dials[d].in_words for d in pair)} are"
    )
    return f"{bound}: {which} wanted in {len(best)} combinations ({', '.join(texts)})"


def _name(floor: Floor, d: int, value: int) -> str:
    """What a value is called; nothing if it has no name."""
    names = floor.problem.dials[d].names if d < floor.walking else ()
    return names[value] if value < len(names) else ""


def _surely(floor: Floor, d: int, wheel: Wheel, value: int) -> str:
    """What a value is called; nothing if it has no name, or only lots ask for it that may come to another."""
    return _name(floor, d, value) if _sure(floor, d, wheel, value) else ""


def _sure(floor: Floor, d: int, wheel: Wheel, value: int) -> list[int]:
    """The items that ask for this value and no other, whatever is chosen."""
    return [item for item in bits(wheel.only[value]) if not _either(floor, item, d)]


def _either(floor: Floor, item: int, d: int) -> bool:
    """Whether a lot may have the dial at other values, or stands for several that do not want the same of it."""
    need = floor.problem.lots[floor.lot_of[item]].needs.get(d)
    return need is not None and need.either


def _lot(floor: Floor, item: int) -> str:
    return " or ".join(f'"{words}"' for words in floor.problem.lots[floor.lot_of[item]].in_words)


def _shortened(names: list[str]) -> str:
    """The way from value to value, its middle left out where it is long."""
    shown = names if len(names) <= SHOWN else [*names[: SHOWN - 2], "...", names[-1]]
    return " -> ".join(shown)


def _exact(pattern: Pattern, key: tuple[int, tuple[int, ...]]) -> int:
    return pattern.exact.get(key, FAR) if key[0] else 0
