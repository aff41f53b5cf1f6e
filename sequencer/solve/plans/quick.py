"""A first plan with choices: options that ask for little, dived into, then changed one at a time."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from random import Random

from sequencer.solve.plans.dive import Diver
from sequencer.solve.price import price
from sequencer.solve.problem import Outcome, Problem

EFFORT = 4_000
"""Lots made in all dives for better options; a round of all choices that would take more is not begun."""

ATTEMPTS = 12
"""Ways of taking the choices tried until one has an order."""


def dived(problem: Problem, stop: Callable[[], bool] = lambda: False) -> Outcome | None:
    """A plan; None if none of a few ways of taking the choices led to one. Its bound is 0."""
    diver = Diver(problem)
    best = None
    for options in _ways(problem):
        best = _taking(diver, options, stop)
        if best is not None or stop():
            break
    left, again = EFFORT, best is not None
    round_ = len(problem.lots) * sum(len(choice) - 1 for choice in problem.choices)
    while again and best is not None and (left := left - round_) >= 0:
        again = False
        for c, o in ((c, o) for c, choice in enumerate(problem.choices) for o in range(len(choice))):
            if o != best.options[c] and not stop():
                found = _taking(diver, (*best.options[:c], o, *best.options[c + 1 :]), stop)
                if found is not None and found.cost < best.cost:
                    best, again = found, True
    return best


def _taking(diver: Diver, options: tuple[int, ...], stop: Callable[[], bool]) -> Outcome | None:
    """The plan of one dive."""
    order = diver.dive(options, stop)
    priced = None if order is None else price(diver.problem, order)
    if order is None or priced is None:
        return None
    return Outcome(order=order, options=options, cost=priced.cost, bound=0, engine="dive")


def _ways(problem: Problem) -> Iterator[tuple[int, ...]]:
    """Ways of taking the choices: the most modest options first, then any."""
    yield modest(problem)
    rng = Random(0)
    for _ in range(ATTEMPTS if problem.choices else 0):
        yield tuple(rng.randrange(len(choice)) for choice in problem.choices)


def modest(problem: Problem) -> tuple[int, ...]:
    """For each choice the option of least work and settings: a setting counts, at its cheapest, unless a lot
    made in any case insists on a value that would do.
    """
    optional = frozenset().union(*(option for choice in problem.choices for option in choice))
    insisted = [0] * len(problem.dials)
    for n, lot in enumerate(problem.lots):
        for d, need in lot.needs.items() if n not in optional else ():
            if need.stay.bit_count() == 1:
                insisted[d] |= need.stay

    def asks(option: frozenset[int]) -> int:
        needs = {(d, need) for lot in option for d, need in problem.lots[lot].needs.items()}
        cost = sum(problem.lots[lot].work for lot in option)
        for d, need in needs:
            if not need.stay & insisted[d]:
                first = problem.dials[d].first
                cost += min((paid for v, paid in enumerate(first) if need.reach >> v & 1), default=0)
        return cost

    return tuple(min(range(len(choice)), key=lambda o: asks(choice[o])) for choice in problem.choices)
