"""Dials made smaller: values, needs and whole dials that cannot matter are taken out.

Lots and precedence stay as they are, so an order of the trimmed problem is an order of the original, of the
same cost.
"""

from __future__ import annotations

from dataclasses import replace

from sequencer.solve.problem import Dial, Mates, Need, Problem
from sequencer.solve.reduction.passing import in_use, vain_values
from sequencer.solve.relation import bits


def trimmed(problem: Problem) -> Problem:
    """The problem with values, needs and dials dropped that cannot matter."""
    while (smaller := _without_needs(_without_values(problem))) != problem:
        problem = smaller
    return _without_dials(problem)


def _without_values(problem: Problem) -> Problem:
    """Drop each value that no lot reaches, and each that another one can stand for.

    Value u stands for v (not the start) where every lot that accepts v, to stay or to be moved to, accepts u
    so, reaching u costs no more from anywhere, and leaving it costs no more for anywhere. In any order write
    u for v: each move goes to u or from u instead, or falls away where it went between the two (a lot moved
    to a value may also stay at it). No move is dearer and none is made at a step that had none, so mates
    allow it.
    """
    kept = [_values_kept(problem, d) for d in range(len(problem.dials))]
    if all(mask == (1 << dial.values) - 1 for mask, dial in zip(kept, problem.dials, strict=True)):
        return problem
    places = [list(bits(mask)) for mask in kept]
    return replace(
        problem,
        dials=tuple(_narrowed(dial, at) for dial, at in zip(problem.dials, places, strict=True)),
        lots=tuple(
            replace(
                lot,
                needs={
                    d: Need(_gathered(need.reach, places[d]), _gathered(need.stay, places[d]), need.either)
                    for d, need in lot.needs.items()
                },
            )
            for lot in problem.lots
        ),
    )


def _values_kept(problem: Problem, d: int) -> int:
    dial = problem.dials[d]
    kept = in_use(problem, d)
    reach, stay = [0] * dial.values, [0] * dial.values
    for n, lot in enumerate(problem.lots):
        if need := lot.needs.get(d):
            for v in bits(need.reach):
                reach[v] |= 1 << n
            for v in bits(need.stay):
                stay[v] |= 1 << n
    empty = dial.start is None or not dial.keeps
    for v in bits(kept):
        if v == dial.start:
            continue
        for u in bits(kept):
            if (
                u != v
                and not reach[v] & ~reach[u]
                and not stay[v] & ~stay[u]
                and not (empty and dial.first[u] > dial.first[v])
                and all(
                    _no_dearer(dial.move[w][u], dial.move[w][v])
                    and _no_dearer(dial.move[u][w], dial.move[v][w])
                    for w in bits(kept)
                    if w not in (u, v)
                )
            ):
                kept &= ~(1 << v)
                break
    return kept


def _no_dearer(one: int | None, other: int | None) -> bool:
    """Whether the first move exists and costs no more, or the second does not exist."""
    return other is None or (one is not None and one <= other)


def _narrowed(dial: Dial, places: list[int]) -> Dial:
    """The dial with these values only."""
    return replace(
        dial,
        move=tuple(tuple(dial.move[a][b] for b in places) for a in places),
        first=tuple(dial.first[b] for b in places),
        start=None if dial.start is None else places.index(dial.start),
        names=tuple(dial.names[v] for v in places) if dial.names else (),
    )


def _gathered(mask: int, places: list[int]) -> int:
    return sum(1 << n for n, v in enumerate(places) if mask >> v & 1)


def _without_needs(problem: Problem) -> Problem:
    """Drop needs that nothing can fail.

    Where a dial holds a value from the start and never loses it, a lot that accepts every value in use moves
    nothing, and nothing is gained by moving it there all the same if no value helps in passing (`passing`).
    And a dial that is free to move, to any value and from anywhere, and that no mates hold, fails nobody, if every
    lot that names it can move it somewhere.
    Lots of mates that hold the dial keep their need, since it helps others that all of them name it.
    """
    idle: dict[int, int] = {}  # dial -> its values in use, where a lot accepting them all needs nothing
    free: set[int] = set()
    vain = vain_values(problem)
    for d, dial in enumerate(problem.dials):
        mask = in_use(problem, d)
        live = list(bits(mask))
        held = any(d in group.held for group in problem.mates)
        movable = all(need.reach for lot in problem.lots for e, need in lot.needs.items() if e == d)
        if not mask & ~vain[d] and dial.start is not None and dial.keeps:
            idle[d] = mask
        if (
            not held
            and movable
            and all(dial.move[a][b] == 0 for a in live for b in live if a != b)
            and not any(dial.first[b] for b in live)
        ):
            free.add(d)
    if not idle and not free:
        return problem
    held_at: dict[int, set[int]] = {}  # lot -> dials held by mates it is one of
    for group in problem.mates:
        for lot in group.lots:
            held_at.setdefault(lot, set()).update(group.held)

    def fails(n: int, d: int, need: Need) -> bool:
        if d in free:
            return False
        return d not in idle or bool(idle[d] & ~need.stay) or d in held_at.get(n, ())

    lots = tuple(
        replace(lot, needs={d: need for d, need in lot.needs.items() if fails(n, d, need)})
        for n, lot in enumerate(problem.lots)
    )
    return replace(problem, lots=lots)


def _without_dials(problem: Problem) -> Problem:
    """Drop the dials that nobody names.

    They never move. One that is lost by leaving and held by mates stays: it keeps the work at its station.
    """
    named = {d for lot in problem.lots for d in lot.needs}
    held = {d for group in problem.mates if len(group.lots) > 1 for d in group.held}
    kept = [d for d, dial in enumerate(problem.dials) if d in named or (d in held and not dial.keeps)]
    if len(kept) == len(problem.dials):
        return problem
    number = {d: n for n, d in enumerate(kept)}
    return replace(
        problem,
        dials=tuple(problem.dials[d] for d in kept),
        lots=tuple(
            replace(lot, needs={number[d]: need for d, need in lot.needs.items()}) for lot in problem.lots
        ),
        mates=tuple(
            Mates(group.lots, frozenset(number[d] for d in group.held if d in number))
            for group in problem.mates
        ),
    )
