"""Few choices: each combination of options ordered as a problem of its own, the cheapest taken.

Without choices every lot is certain and the bounds are at their sharpest, so a handful of small proofs is
often quicker than one that has to reason about what may fall away. The cost of the cheapest combination is
the optimum when each is proven; else the least of all their bounds holds for the whole.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from itertools import product
from math import prod
from time import monotonic

from sequencer.solve.patterns import FAR
from sequencer.solve.problem import Impossible, Limits, Mates, Outcome, Problem, Progress

FEW = 8
"""Combinations up to which they are taken one by one."""

CeilingEngine = Callable[
    [Problem, Limits, Callable[[Progress], None], Callable[[], bool], int], Outcome | Impossible
]
"""An engine that also ends once no order costs less than the last argument."""


def combinations(problem: Problem) -> int:
    """How many combinations of options there are."""
    return prod(len(choice) for choice in problem.choices)


def fixed(problem: Problem, options: tuple[int, ...]) -> tuple[Problem, tuple[int, ...]]:
    lots = tuple(sorted(problem.made(options)))
    number = {lot: index for index, lot in enumerate(lots)}
    return (
        Problem(
            lots=tuple(problem.lots[lot] for lot in lots),
            dials=problem.dials,
            walk=problem.walk,
            precedence=tuple(
                (number[a], number[b]) for a, b in problem.precedence if a in number and b in number
            ),
            mates=tuple(
                Mates(frozenset(number[lot] for lot in group.lots if lot in number), group.held)
                for group in problem.mates
                if not number.keys().isdisjoint(group.lots)
            ),
            wishes=tuple(
                replace(wish, before=number[wish.before], after=number[wish.after])
                for wish in problem.wishes
                if wish.before in number and wish.after in number
            ),
        ),
        lots,
    )


def one_by_one(
    problem: Problem,
    limits: Limits,
    progress: Callable[[Progress], None],
    stop: Callable[[], bool],
    engine: CeilingEngine,
) -> Outcome | Impossible:
    """The cheapest outcome of `engine` over all combinations of options; time is shared evenly.

    Each combination is searched only until it is proven not to beat the cheapest so far.
    """
    begun = monotonic()
    todo = list(product(*(range(len(choice)) for choice in problem.choices)))
    best: Outcome | None = None
    bounds: list[int] = []
    impossible: Impossible | None = None
    for index, options in enumerate(todo):
        left = limits.seconds - (monotonic() - begun)
        part, lots = fixed(problem, options)
        share = replace(limits, seconds=max(0.05, left / (len(todo) - index)))
        found = engine(part, share, _relay(best, progress, begun), stop, best.cost if best else FAR)
        if isinstance(found, Impossible):
            impossible = Impossible(found.why, tuple(lots[lot] for lot in found.lots))
            continue
        bounds.append(found.bound)
        if best is None or found.cost < best.cost:
            order = tuple(lots[lot] for lot in found.order)
            best = replace(found, order=order, options=options)
        if found.interrupted:
            return replace(best, interrupted=True, bound=0, seconds=monotonic() - begun, floors=())
    if best is None:
        return impossible or Impossible("no order was found")
    # the floors of one combination need not hold in another
    return replace(best, bound=min(*bounds, best.cost), seconds=monotonic() - begun, floors=())


def _relay(
    best: Outcome | None, progress: Callable[[Progress], None], begun: float
) -> Callable[[Progress], None]:
    """Pass news on with the best of all combinations so far; a bound for the whole is known only at the end."""

    def tell(news: Progress) -> None:
        costs = [cost for cost in (news.best, best.cost if best else None) if cost is not None]
        progress(Progress(monotonic() - begun, min(costs, default=None), 0, news.note))

    return tell
