"""From a problem to the best order known, with what no order can cost less than.

`solve` is the only door: plain values in, plain values out, whichever engine did the work.
"""

from __future__ import annotations

from collections.abc import Callable

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


def solve(
    problem: Problem,
    limits: Limits | None = None,
    progress: Callable[[Progress], None] | None = None,
    stop: Callable[[], bool] | None = None,
) -> Outcome | Impossible:
    """The cheapest order found within the limits, or why there is none.

    `progress` hears of better plans and bounds; `stop` is asked often and ends the search when it says yes,
    with the best order so far. Raises TimeoutError if not one order was found in the time given.
    """
    from sequencer.solve.cpsat import cpsat  # engines are loaded only when an order is asked for

    return cpsat(problem, limits or Limits(), progress or _silent, stop or _never)


def _silent(_: Progress) -> None:
    """Tell nobody."""


def _never() -> bool:
    """Do not stop."""
    return False
