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

    `progress` hears of every better plan and bound; `stop` is asked now and then and ends the search when it
    says yes.
    """
    from sequencer.solve.greedy import quick_plan  # engines are loaded only when an order is asked for

    found = quick_plan(problem, stop or (lambda: False))
    return found if found is not None else Impossible("no order was found")
