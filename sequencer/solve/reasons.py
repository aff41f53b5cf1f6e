"""Why the rest cannot be saved: the proven bound, taken apart into dials and put into words."""

from __future__ import annotations

from sequencer.solve.floor import Floor, State
from sequencer.solve.patterns import FAR, Pattern
from sequencer.solve.problem import Reason


def reasons(floor: Floor, root: State, patterns: list[Pattern], work: int, bound: int) -> tuple[Reason, ...]:
    """One reason for each pattern that costs something at the root, dearest first.

    A last one stands for what only the search over whole orders has shown: `bound` less `work` less all the
    others. Patterns bound disjoint dials, so the reasons add up; where they come to more than `bound` the
    dearest that fit are given.
    """
    rest, values = floor.left(root), root[1]
    found = []
    left = bound - work
    ranked = sorted(
        ((p.known(p.project(rest, values)), p.dials, p) for p in patterns), key=lambda x: (-x[0], x[1])
    )
    for cost, dials, pattern in ranked:
        if 0 < cost <= left:
            left -= cost
            found.append(
                Reason(tuple(floor.knobs[d].label for d in dials), cost, _words(floor, pattern, root, cost))
            )
    if left > 0 and found:
        found.append(Reason((), left, "searching all orders that could be cheaper found none"))
    return tuple(found)


def floors(floor: Floor, root: State, patterns: list[Pattern]) -> tuple[tuple[tuple[int, ...], int], ...]:
    """What the dials of each pattern, and of each it was merged from, cost at least: pairs (dials, cost).

    A pattern's bound at the root holds for its own dials in any order of the whole, so each may be stated
    alone. Parts that split the values of one dial are left out; the dial itself stands for them.
    """
    rest, values = floor.left(root), root[1]
    found: dict[tuple[int, ...], int] = {}
    todo = list(patterns)
    while todo:
        pattern = todo.pop()
        cost = pattern.known(pattern.project(rest, values))
        if 0 < cost < FAR:
            found[pattern.dials] = max(cost, found.get(pattern.dials, 0))
        todo += [part for part in pattern.parts if part.dials != pattern.dials]
    return tuple(sorted(found.items()))


def _words(floor: Floor, pattern: Pattern, root: State, cost: int) -> str:
    """What makes the dials of this pattern cost that much."""
    rest, values = floor.left(root), root[1]
    lots = pattern.wheels[0].named.bit_count()
    labels = [floor.knobs[d].label for d in pattern.dials]
    if len(labels) == 1:
        moves = _moves(pattern, root)
        wanted = len(set(pattern.wheels[0].stay.values()))
        if moves is None:
            return f"{labels[0]} is needed {wanted} different ways by {lots} operations"
        times = "once" if moves == 1 else f"{moves} times"
        again = (
            f", {moves - wanted} more than its {wanted} different needs: the order of work makes it come back"
            if moves > wanted
            else f": {lots} operations need it in {wanted} different ways"
        )
        return f"{labels[0]} must move {times}{again}"
    alone = sum(
        max((part.known(part.project(rest, values)) for part in [p]), default=0) for p in _leaves(pattern)
    )
    more = ", which costs more than each by itself" if cost > alone else ""
    return f"{', '.join(labels[:-1])} and {labels[-1]} are wanted in several combinations{more}"


def _leaves(pattern: Pattern) -> list[Pattern]:
    """The single dials a pattern was merged from."""
    if len(pattern.dials) == 1:
        return [pattern]
    return [leaf for part in pattern.parts for leaf in _leaves(part)]


def _moves(pattern: Pattern, root: State) -> int | None:
    """How often the dial moves in a cheapest order of its own, if one was found."""
    key = pattern.project(pattern.floor.left(root), root[1])
    moves = 0
    while key[0]:
        total = pattern.exact.get(key, FAR)
        if total >= FAR:
            return None
        onward = [child for cost, child in pattern.steps(key) if cost + _exact(pattern, child) == total]
        if not onward:
            return None
        key = onward[0]
        moves += 1
    return moves


def _exact(pattern: Pattern, key: tuple[int, tuple[int, ...]]) -> int:
    return pattern.exact.get(key, FAR) if key[0] else 0
