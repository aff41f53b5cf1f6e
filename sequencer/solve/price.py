"""What a given order costs: for each dial the cheapest values along the order, by a shortest path over its
values.
"""

from __future__ import annotations

from dataclasses import dataclass

from sequencer.solve.problem import Dial, Need, Problem
from sequencer.solve.relation import bits_of

NO_VALUE = -1
"""The value index that stands for "holds no value"."""


@dataclass(frozen=True)
class Move:
    """Dial `dial` is moved from value `start` (NO_VALUE if it held none) to `to` just before a step, for
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
    """The least cost of making the lots in this order, or None where mates forbid it, or no move leads a dial
    to what a lot needs.

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
    asked: list[list[tuple[int, Need | None]]] = [[] for _ in problem.dials]
    for k, lot in enumerate(order):
        for index, need in problem.lots[lot].needs.items():
            asked[index].append((k, need))
    for index, dial in enumerate(problem.dials):
        frozen = _frozen(problem, index, order)
        if not dial.keeps:
            left = [k for k in steps if k and station[k - 1] == dial.station != station[k]]
            asked[index] = sorted(
                [*((k, None) for k in left), *asked[index]], key=lambda step: (step[0], step[1] is not None)
            )
        path = _cheapest_values(dial, index, asked[index], frozen)
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
    dial: Dial, index: int, asked: list[tuple[int, Need | None]], frozen: list[bool]
) -> list[tuple[int, int, Move | None]] | None:
    """For the steps that name the dial: (step, value it stands at, move made or None), cheapest in sum, and of what is
    as cheap with the fewest moves: one that costs nothing has to be made, too.

    `asked`: these steps and what they need, and, with None, those before which a dial is left that loses its value.
    """
    many = len(asked) + 1  # costs are counted so many times, and each move once
    best: dict[int, int] = {
        NO_VALUE if dial.start is None else dial.start: 0
    }  # value held -> least cost so far
    trail: list[dict[int, int]] = []  # value held -> value held before
    for k, need in asked:
        if need is None:
            if frozen[k]:
                return None
            cost, value = min((cost, value) for value, cost in best.items())
            trail.append({NO_VALUE: value})
            best = {NO_VALUE: cost}
            continue
        reached: dict[int, int] = {}
        source: dict[int, int] = {}
        reach = () if frozen[k] else bits_of(need.reach)
        for value, cost in sorted(best.items()):
            if value != NO_VALUE and need.stay >> value & 1 and cost < reached.get(value, cost + 1):
                reached[value], source[value] = cost, value
            row = dial.first if value == NO_VALUE else dial.move[value]
            for to in reach:
                paid = row[to]
                if to == value or paid is None:
                    continue
                total = cost + paid * many + 1
                if total < reached.get(to, total + 1):
                    reached[to], source[to] = total, value
        if not reached:
            return None
        best = reached
        trail.append(source)
    _, value = min((cost, value) for value, cost in best.items())
    path: list[tuple[int, int, Move | None]] = []
    for (k, need), source in zip(reversed(asked), reversed(trail), strict=True):
        before = source[value]
        if need is not None:
            path.append((k, value, None if before == value else _move(dial, index, before, value)))
        value = before
    return path[::-1]


def _move(dial: Dial, index: int, start: int, to: int) -> Move:
    paid = dial.first[to] if start == NO_VALUE else dial.move[start][to]
    assert paid is not None
    return Move(index, start, to, paid)
