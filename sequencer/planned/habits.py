"""The usual habits a plan is compared with: as listed, part by part, machine by machine.

Each habit is the order a maker would fall into who follows it as far as precedence lets him; it is priced
like any order, only that the mates' demand to leave a setting alone is waived for it (habits do not know of
it). Where a search was cut short, one that keeps the mates too may be cheaper than what it found.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from sequencer.solve.price import Priced, price
from sequencer.solve.problem import Outcome, Problem

Rank = Callable[[tuple[int, ...], int], tuple[object, ...]]
"""How much a lot is wanted next, given the order so far: the least is taken."""


def habits(
    problem: Problem, options: tuple[int, ...], parts: Sequence[str]
) -> tuple[tuple[str, tuple[int, ...], Priced], ...]:
    """(name, order, price) of each habit for the options taken; `parts` names each lot's part."""
    first_seen = {part: index for index, part in reversed(list(enumerate(parts)))}

    def as_listed(_: tuple[int, ...], lot: int) -> tuple[object, ...]:
        return (lot,)

    def part_by_part(order: tuple[int, ...], lot: int) -> tuple[object, ...]:
        return (not order or parts[lot] != parts[order[-1]], first_seen[parts[lot]], lot)

    def machine_by_machine(order: tuple[int, ...], lot: int) -> tuple[object, ...]:
        here = bool(order) and problem.lots[lot].station == problem.lots[order[-1]].station
        return (not here, problem.lots[lot].station, lot)

    waived = replace(problem, mates=())
    found = []
    for name, rank in (
        ("as listed", as_listed),
        ("part by part", part_by_part),
        ("machine by machine", machine_by_machine),
    ):
        order = _follow(problem, options, rank)
        priced = price(waived, order)
        if priced is not None:
            found.append((name, order, priced))
    return tuple(found)


def no_dearer(problem: Problem, outcome: Outcome, parts: Sequence[str]) -> Outcome:
    """What was found, or with the same options the cheapest of the habits, mates kept, where that is cheaper still."""
    if outcome.proven:
        return outcome
    for _, order, _ in habits(problem, outcome.options, parts):
        priced = price(problem, order)
        if priced is not None and priced.cost < outcome.cost:
            outcome = replace(outcome, order=order, cost=priced.cost, bound=min(outcome.bound, priced.cost))
    return outcome


def _follow(problem: Problem, options: tuple[int, ...], rank: Rank) -> tuple[int, ...]:
    """The order that always takes the lot ranked first among those precedence allows."""
    left = set(problem.made(options))
    before: dict[int, set[int]] = {lot: set() for lot in left}
    for first, then in problem.precedence:
        if first in left and then in left:
            before[then].add(first)
    order: tuple[int, ...] = ()
    while left:
        lot = min((lot for lot in left if not before[lot] & left), key=lambda lot: rank(order, lot))
        left.remove(lot)
        order += (lot,)
    return order
