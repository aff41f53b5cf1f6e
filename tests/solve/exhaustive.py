"""The least cost of a small problem by trying everything: every option, every order, every value.

Written from the wording of `sequencer.solve.problem` alone and kept plain on purpose; it shares no code with
the package. Orders come from `networkx.all_topological_sorts`; where the least cost of all is asked for they are
written out here, which is quicker, and `test_exhaustive` holds them to those.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product

import networkx as nx

from sequencer.solve.problem import Problem

Standing = tuple[int | None, ...]
"""The value each dial holds."""


def combinations(problem: Problem) -> Iterator[tuple[tuple[int, ...], list[int]]]:
    """Every way to take one option of each choice, with the lots then made."""
    optional = {lot for choice in problem.choices for option in choice for lot in option}
    for options in product(*(range(len(choice)) for choice in problem.choices)):
        taken = {lot for choice, o in zip(problem.choices, options, strict=True) for lot in choice[o]}
        yield options, [lot for lot in range(len(problem.lots)) if lot not in optional or lot in taken]


def orders(problem: Problem, lots: list[int]) -> Iterator[list[int]]:
    """Every order of these lots that keeps the precedence between them; none if it runs in a circle."""
    graph = nx.DiGraph()
    graph.add_nodes_from(lots)
    graph.add_edges_from((a, b) for a, b in problem.precedence if a in graph and b in graph)
    if nx.is_directed_acyclic_graph(graph):
        yield from nx.all_topological_sorts(graph)


def least_cost(problem: Problem) -> int | None:
    """The least cost of any order under any options, or None when there is none."""
    costs = (_least(problem, [], set(lots), _at_first(problem)) for _, lots in combinations(problem))
    return min((cost for cost in costs if cost is not None), default=None)


def _least(problem: Problem, order: list[int], left: set[int], standings: dict[Standing, int]) -> int | None:
    """The least cost of all orders that begin like this; None when precedence or mates forbid each."""
    if not standings:
        return None
    if not left:
        return _total(problem, order, standings)
    waiting = {b for a, b in problem.precedence if a in left}
    costs = (
        _least(problem, [*order, lot], left - {lot}, _after_step(problem, order, lot, left, standings))
        for lot in sorted(left - waiting)
    )
    return min((cost for cost in costs if cost is not None), default=None)


def cost_of(problem: Problem, order: list[int]) -> int | None:
    """The least cost of this order over every choice of values, or None when mates forbid it."""
    standings = _at_first(problem)
    for k, lot in enumerate(order):
        standings = _after_step(problem, order[:k], lot, set(order[k:]), standings)
    return _total(problem, order, standings) if standings else None


def _at_first(problem: Problem) -> dict[Standing, int]:
    return {tuple(dial.start for dial in problem.dials): 0}


def _after_step(
    problem: Problem, before: list[int], number: int, left: set[int], standings: dict[Standing, int]
) -> dict[Standing, int]:
    """Every way the dials can stand after this lot, made after those before it and the first of those left, with the
    least cost to get there (walking and moving).
    """
    lot = problem.lots[number]
    came_from = problem.lots[before[-1]].station if before else lot.station
    held = set()
    for group in problem.mates:
        if not group.lots.isdisjoint(before) and not group.lots.isdisjoint(left):
            held |= group.held
    lost = {
        d
        for d, dial in enumerate(problem.dials)
        if not dial.keeps and came_from != lot.station and dial.station == came_from
    }
    if lost & held:
        return {}
    after: dict[Standing, int] = {}
    for standing, cost in standings.items():
        ways: list[list[tuple[int | None, int]]] = []
        for d, dial in enumerate(problem.dials):
            value = None if d in lost else standing[d]
            if d not in lot.needs:
                ways.append([(value, 0)])
                continue
            need = lot.needs[d]
            mine: list[tuple[int | None, int]] = []
            if value is not None and need.stay & 2**value:
                mine.append((value, 0))
            if d not in held:
                for to in range(dial.values):
                    price = dial.first[to] if value is None else dial.move[value][to]
                    if need.reach & 2**to and price is not None and to != value:
                        mine.append((to, price))
            ways.append(mine)
        for way in product(*ways):
            then = tuple(value for value, _ in way)
            total = cost + problem.walk[came_from][lot.station] + sum(price for _, price in way)
            if total < after.get(then, total + 1):
                after[then] = total
    return after


def _total(problem: Problem, order: list[int], standings: dict[Standing, int]) -> int:
    """The cheapest way the dials can stand at the end, the work, and the wishes not met."""
    unmet = sum(
        wish.price
        for wish in problem.wishes
        if wish.before in order and wish.after in order and order.index(wish.before) > order.index(wish.after)
    )
    return min(standings.values()) + unmet + sum(problem.lots[lot].work for lot in order)
