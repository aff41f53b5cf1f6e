"""From a problem to the best order known, with what no order can cost less than.

`solve` is the only door: plain values in, plain values out, whichever engine did the work.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from time import monotonic

from sequencer.solve.problem import (
    Dial,
    Impossible,
    Limits,
    Lot,
    Mates,
    Need,
    Outcome,
    Problem,
    Progress,
    Reason,
    Wish,
)

__all__ = [
    "Dial",
    "Impossible",
    "Limits",
    "Lot",
    "Mates",
    "Need",
    "Outcome",
    "Problem",
    "Progress",
    "Reason",
    "Wish",
    "solve",
]

SMALL = 120
"""Lots up to which the constraint model, given the time left, may still close what the search has not."""

SEARCH_SHARE = 0.7
"""The part of the time the search has for itself on small problems."""

LEAST_SECONDS = 0.5
"""With less time left the constraint model is not built."""


def solve(
    problem: Problem,
    limits: Limits | None = None,
    progress: Callable[[Progress], None] | None = None,
    stop: Callable[[], bool] | None = None,
) -> Outcome | Impossible:
    """The cheapest order found within the limits, or why there is none.

    The search over patterns proves most orders, combination by combination where choices are few; the
    constraint model comes after it where it has not, and where it has found no order: to find one, or to
    name the lots that stand in the way. `progress` hears of better plans and bounds; `stop` is asked often
    and ends the search when it says yes, with the best order so far. Raises TimeoutError if not one order
    was found in the time given.
    """
    from sequencer.solve.options import FEW, combinations, one_by_one
    from sequencer.solve.search import search  # engines are loaded only when an order is asked for

    limits, progress, stop = limits or Limits(), progress or _silent, stop or _never
    begun = monotonic()
    small = len(problem.lots) <= SMALL
    share = SEARCH_SHARE if small else 1.0
    shared = replace(limits, seconds=share * limits.seconds)
    if 1 < combinations(problem) <= FEW:
        found = one_by_one(problem, shared, progress, stop, search)
    else:
        found = search(problem, shared, progress, stop)
    if isinstance(found, Impossible):
        if found.lots:
            return found
    elif found.proven or found.interrupted or not small:
        return found
    left = limits.seconds - (monotonic() - begun)
    if isinstance(found, Outcome) and left < LEAST_SECONDS:
        return found
    from sequencer.solve.cpsat import cpsat

    start = found if isinstance(found, Outcome) else None
    second = cpsat(problem, replace(limits, seconds=max(left, LEAST_SECONDS)), progress, stop, start)
    if isinstance(second, Impossible):
        return second
    return replace(
        second,
        seconds=monotonic() - begun,
        engine=f"search, then {second.engine}",
        reasons=start.reasons if start else (),
    )


def _silent(_: Progress) -> None:
    """Tell nobody."""


def _never() -> bool:
    """Do not stop."""
    return False
