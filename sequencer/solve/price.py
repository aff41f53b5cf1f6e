"""What a given order costs: for each dial the cheapest values along the order, by a shortest path over its
values.
"""

from __future__ import annotations

from dataclasses import dataclass

from sequencer.solve.problem import Dial, Problem

NOTHING = -1
"""The value index that stands for "holds no value"."""


@dataclass(frozen=True)
class Move:
    """Dial `dial` is moved from value `start` (NOTHING if it held none) to `to` just before a step, for
    `cost`.
    """

    dial: int
    start: int
    to: int
    cost: int


@dataclass(frozen=True)
class Priced:
    """The cost of an order, whole and in parts, and what is done before each step.

    `values[k]` maps every dial that lot `order[k]` names to the value it stands at; `moves[k]` are the
    moves made just before it; `walks[k]` the walk to it.
    """

    cost: int
    moving: int
    walking: int
    work: int
    wishes: int
    values: tuple[dict[int, int], ...]
    moves: tuple[tuple[Move, ...], ...]
    walks: tuple[int, ...]


def price(problem: Problem, order: tuple[int, ...]) -> Priced | None:
    """The least cost of making the lots in this order, or None where mates forbid it.

    Given the order, the dials do not meet: each is priced alone by a shortest path over its values, one
    layer per step. The order is not checked against precedence or choices (that is the caller's, see
    `is_order`).
    """
    steps = range(len(order))
    station = [problem.lots[lot].station for lot in order]
    walks = tuple(
        0 if k == 0 or station[k] == station[k - 1] else problem.walk[station[k - 1]][station[k]]
        for k in steps
    )
    values: list[dict[int, int]] = [{} for _ in steps]
    moves: list[list[Move]] = [[] for _ in steps]
    for index, dial in enumerate(problem.dials):
        frozen = _frozen(problem, index, order)
        path = _cheapest_values(problem, dial, index, order, frozen)
        if path is None:
            return None
        for k, value, move in path:
            values[k][index] = value
            if move is not None:
                moves[k].append(move)
    place = {lot: k for k, lot in enumerate(order)}
    wishes = sum(
        wish.price
        for wish in problem.wishes
        if wish.before in place and wish.after in place and place[wish.before] > place[wish.after]
    )
    moving = sum(move.cost for step in moves for move in step)
    work = sum(problem.lots[lot].work for lot in order)
    walking = sum(walks)
    return Priced(
        cost=moving + walking + work + wishes,
        moving=moving,
        walking=walking,
        work=work,
        wishes=wishes,
        values=tuple(values),
        moves=tuple(tuple(step) for step in moves),
        walks=walks,
    )


def is_order(problem: Problem, order: tuple[int, ...], options: tuple[int, ...]) -> bool:
    """Whether `order` makes exactly the lots of these options, each once, and keeps every precedence."""
    place = {lot: k for k, lot in enumerate(order)}
    return (
        len(place) == len(order)
        and place.keys() == problem.made(options)
        and all(
            place[before] < place[after]
            for before, after in problem.precedence
            if before in place and after in place
        )
    )


def _frozen(problem: Problem, dial: int, order: tuple[int, ...]) -> list[bool]:
    """For each step, whether mates forbid moving this dial just before it."""
    frozen = [False] * len(order)
    for group in problem.mates:
        if dial in group.held:
            at = [k for k, lot in enumerate(order) if lot in group.lots]
            for k in range(at[0] + 1, at[-1] + 1) if at else ():
                frozen[k] = True
    return frozen


def _cheapest_values(
    problem: Problem, dial: Dial, index: int, order: tuple[int, ...], frozen: list[bool]
) -> list[tuple[int, int, Move | None]] | None:
    """For the steps that name the dial: (step, value it stands at, move made or None), cheapest in sum."""
    start = NOTHING if dial.start is None else dial.start
    best: dict[int, int] = {start: 0}  # value held -> least cost so far
    trail: list[tuple[int, dict[int, tuple[int, Move | None]]]] = []  # step, value held -> where it came from
    here = False  # is the work at the dial's station
    for k, lot_index in enumerate(order):
        lot = problem.lots[lot_index]
        if not dial.keeps and here and lot.station != dial.station:
            if frozen[k]:
                return None
            cost, value = min((cost, value) for value, cost in best.items())
            trail.append((k, {NOTHING: (value, None)}))
            best = {NOTHING: cost}
        here = lot.station == dial.station
        need = lot.needs.get(index)
        if need is None:
            continue
        reached: dict[int, int] = {}
        source: dict[int, tuple[int, Move | None]] = {}
        for value, cost in sorted(best.items()):
            if value != NOTHING and need.stay >> value & 1 and cost < reached.get(value, cost + 1):
                reached[value], source[value] = cost, (value, None)
            for to in () if frozen[k] else _bits(need.reach):
                paid = dial.first[to] if value == NOTHING else dial.move[value][to]
                if to != value and paid is not None and cost + paid < reached.get(to, cost + paid + 1):
                    reached[to], source[to] = cost + paid, (value, Move(index, value, to, paid))
        if not reached:
            return None
        best = reached
        trail.append((k, source))
    _, value = min((cost, value) for value, cost in best.items())
    path: list[tuple[int, int, Move | None]] = []
    for k, source in reversed(trail):
        before, move = source[value]
        if value != NOTHING and index in problem.lots[order[k]].needs:
            path.append((k, value, move))
        value = before
    return path[::-1]


def _bits(mask: int) -> list[int]:
    """The positions of the bits set, lowest first."""
    return [v for v in range(mask.bit_length()) if mask >> v & 1]
