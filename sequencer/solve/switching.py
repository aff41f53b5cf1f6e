"""Better plans under choices: another option for one choice, its lots put where they cost least, the whole improved.

Local search over the options: a plan is improved as it is (`improve`); then each choice in turn tries its other
options in the order found, improved for a moment, and keeps what is cheaper, until a round brings nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from sequencer.solve.completion import Plan
from sequencer.solve.improve import SLICE, begun, improve
from sequencer.solve.price import Priced, is_order, price
from sequencer.solve.problem import Problem

PLACES = 3
"""Places priced for each lot put into an order."""


def better(
    problem: Problem, plan: Plan, moves: int, trial: int, seed: int, stop: Callable[[], bool]
) -> Iterator[tuple[Plan, int]]:
    """The best plan so far, again and again, and how many moves were tried since the last time: this one improved by
    `moves` moves, then by `trial` after each change of an option. Nothing where the kernels must be compiled first.

    What costs the same is taken too, and left again in the next round.
    """
    improver = begun(problem, plan[1], plan[2], seed)
    if improver is None:
        return
    while improver.moves < moves:
        some = min(SLICE, moves - improver.moves)
        improver.run(some)
        yield (improver.cost, improver.best, plan[2]), some
    best = (improver.cost, improver.best, plan[2])
    changes = [(c, o) for c, choice in enumerate(problem.choices) for o in range(len(choice))]
    vain = 0
    while vain < len(changes):
        for c, o in changes:
            vain += 1
            if stop() or vain > len(changes):
                return
            found = switched(problem, best, c, o) if best[2][c] != o else None
            if found is None:
                continue
            order, cost = improve(problem, found[1], found[2], trial, seed, stop)
            if cost < best[0]:
                vain = 0
            if cost <= best[0]:
                best = (cost, order, found[2])
            yield best, trial


def switched(problem: Problem, plan: Plan, c: int, o: int) -> Plan | None:
    """The plan with option o of choice c instead; None if its lots found no place."""
    options = (*plan[2][:c], o, *plan[2][c + 1 :])
    made = problem.made(options)
    order = tuple(lot for lot in plan[1] if lot in made)
    priced = price(problem, order)
    for lot in _sorted(problem, made - frozenset(order)):
        if priced is None:
            return None
        order, priced = _inserted(problem, order, priced, lot)
    return None if priced is None or not is_order(problem, order, options) else (priced.cost, order, options)


def _sorted(problem: Problem, lots: frozenset[int]) -> list[int]:
    """These lots, each after those of them that come before it; as far as there is no circle."""
    left, order = sorted(lots), []
    while left:
        held = {b for a, b in problem.precedence if a in left}
        lot = next((lot for lot in left if lot not in held), left[0])
        left.remove(lot)
        order.append(lot)
    return order


def _inserted(
    problem: Problem, order: tuple[int, ...], priced: Priced, lot: int
) -> tuple[tuple[int, ...], Priced | None]:
    """The order with the lot at the cheapest of the most promising places, and what it costs; None for that if there
    is none.
    """
    place = {other: k for k, other in enumerate(order)}
    first = max((place[a] + 1 for a, b in problem.precedence if b == lot and a in place), default=0)
    last = min((place[b] for a, b in problem.precedence if a == lot and b in place), default=len(order))
    ranked = []
    stands: dict[int, int] = {}
    mine = problem.lots[lot]
    for k in range(last + 1):
        if k >= first:
            away = 0 if k and problem.lots[order[k - 1]].station == mine.station else 1
            misfit = sum(
                max(problem.dials[d].first)
                for d, need in mine.needs.items()
                if d not in stands or not need.stay >> stands[d] & 1
            )
            ranked.append((misfit + away, k))
        if k < len(order):
            stands.update(priced.values[k])
    best: tuple[tuple[int, ...], Priced | None] = order, None
    for _, k in sorted(ranked)[:PLACES]:
        there = (*order[:k], lot, *order[k:])
        cost = price(problem, there)
        if cost is not None and (best[1] is None or cost.cost < best[1].cost):
            best = there, cost
    return best
