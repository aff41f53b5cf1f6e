"""From a problem to the best order known, with what no order can cost less than.

`solve` is the only door: plain values in, plain values out, whichever engine did the work.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
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

MODEL_LOTS = 60
"""Lots beyond which the constraint model is not asked for a proof where there are no choices: it brought nothing."""

MODEL_LOTS_CHOICES = 120
"""The same in problems with choices."""

SEARCH_SHARE = 0.75
"""The part of the time the search has before the constraint model is asked for a proof, without choices."""

SEARCH_SHARE_CHOICES = 0.9
"""The same with choices."""

SEQUENCE_SHARE = 0.7
"""The part of the time for walks and sweeps where the problem is one sequencing dial."""

LEAST_SECONDS = 0.5
"""With less time left no further engine is begun."""


def solve(
    problem: Problem,
    limits: Limits | None = None,
    progress: Callable[[Progress], None] | None = None,
    stop: Callable[[], bool] | None = None,
) -> Outcome | Impossible:
    """The cheapest order found within the limits, or why there is none.

    What cannot matter is taken out first (`reduce`) and put back in the answer, so every engine sees the
    smaller problem; where that has no order, the original is tried, to name its own lots. Problems whose costs
    lie between neighbours go to the sweeps of `sequence` first, whatever else to the search at once. The search
    over patterns proves most orders, by branch and bound over the choices where there are any. The constraint
    model comes after it where it has not (up to MODEL_LOTS lots, or MODEL_LOTS_CHOICES with choices), and
    wherever it has found no order: to find one, or to name the lots that stand in the way.
    `progress` hears of better plans and bounds; `stop` is asked often and ends the search when it says yes,
    with the best order so far. Raises TimeoutError if not one order was found in the time given, nor was it shown
    that there is none.
    """
    from sequencer.solve.reduction.reduce import reduce  # engines are loaded only when an order is asked for

    limits, progress, stop = limits or Limits(), progress or _silent, stop or _never
    begun = monotonic()
    smaller, undo = reduce(problem)

    def left() -> Limits:
        return replace(limits, seconds=max(LEAST_SECONDS, limits.seconds - (monotonic() - begun)))

    found = _solved(smaller, left(), progress, stop)
    if isinstance(found, Impossible):
        if smaller is problem:
            return found
        try:
            return _solved(problem, left(), progress, stop)
        except TimeoutError:  # what is shown stays so, only in other lots
            return Impossible(found.why)
    order, options = undo(found.order, found.options)
    # the floors speak of the smaller problem's dials
    return replace(found, order=order, options=options, seconds=monotonic() - begun, floors=())


def _solved(
    problem: Problem, limits: Limits, progress: Callable[[Progress], None], stop: Callable[[], bool]
) -> Outcome | Impossible:
    """What the engines make of a problem as it stands."""
    from sequencer.solve.one_dial.sequence import applies, sequence

    if not applies(problem):
        return _search_first(problem, limits, progress, stop)
    begun = monotonic()
    share = replace(limits, seconds=SEQUENCE_SHARE * limits.seconds)
    try:
        first = sequence(problem, share, progress, stop)
    except TimeoutError:
        rest = limits.seconds - (monotonic() - begun)
        return _search_first(problem, replace(limits, seconds=max(rest, LEAST_SECONDS)), progress, stop)
    left = limits.seconds - (monotonic() - begun)
    if isinstance(first, Impossible) or first.proven or first.interrupted or left < LEAST_SECONDS:
        return first
    try:
        second = _search_first(problem, replace(limits, seconds=left), _go_on(progress, first), stop)
    except TimeoutError:
        return replace(first, seconds=monotonic() - begun)
    return _together(first, second, monotonic() - begun)


def _search_first(
    problem: Problem, limits: Limits, progress: Callable[[Progress], None], stop: Callable[[], bool]
) -> Outcome | Impossible:
    """The search over patterns, by branch and bound over the choices where there are any; the constraint model
    where it has found no order, or where it has not proven one with choices.

    Raises TimeoutError if no order was found, nor shown to be impossible.
    """
    from sequencer.solve.choices.options import branch_and_bound
    from sequencer.solve.proof.search import begin

    begun = monotonic()
    small = len(problem.lots) <= MODEL_LOTS_CHOICES
    found: Outcome | Impossible | None = None
    with suppress(TimeoutError):
        if not problem.choices:
            found = _by_turns(problem, limits, progress, stop)
        else:
            shared = replace(limits, seconds=(SEARCH_SHARE_CHOICES if small else 1.0) * limits.seconds)
            found = branch_and_bound(problem, shared, progress, stop, begin)
    if isinstance(found, Impossible):
        if found.lots:
            return found
    elif found and (found.proven or found.interrupted or not problem.choices or not small):
        return found
    left = limits.seconds - (monotonic() - begun)
    if isinstance(found, Outcome) and left < LEAST_SECONDS:
        return found
    from sequencer.solve.cpsat import cpsat

    start = found if isinstance(found, Outcome) else None
    try:
        second = cpsat(problem, replace(limits, seconds=max(left, LEAST_SECONDS)), progress, stop, start)
    except TimeoutError:
        if found:  # the search has shown that there is none, only not why
            return found
        raise
    if isinstance(second, Impossible) or start is None:
        return second
    return _together(start, second, monotonic() - begun)


def _by_turns(
    problem: Problem,
    limits: Limits,
    progress: Callable[[Progress], None],
    stop: Callable[[], bool],
) -> Outcome | Impossible:
    """Without choices: the search, which closes nearly everything; then, where it has not, the constraint model, told
    what the search has found and proven.
    """
    from sequencer.solve.proof.search import search

    begun = monotonic()
    share = SEARCH_SHARE if len(problem.lots) <= MODEL_LOTS else 1.0
    found = search(problem, replace(limits, seconds=share * limits.seconds), progress, stop)
    if isinstance(found, Impossible) or found.proven or found.interrupted:
        return found
    left = limits.seconds - (monotonic() - begun)
    if left < LEAST_SECONDS or len(problem.lots) > MODEL_LOTS:
        return found
    from sequencer.solve.cpsat import cpsat

    second = cpsat(problem, replace(limits, seconds=left), _go_on(progress, found), stop, found)
    return _together(found, second, monotonic() - begun)


def _go_on(progress: Callable[[Progress], None], first: Outcome) -> Callable[[Progress], None]:
    """News of a second engine, told from what the first has found and proven."""

    def tell(news: Progress) -> None:
        best = first.cost if news.best is None else min(news.best, first.cost)
        bound = min(max(news.bound, first.bound), best)
        progress(replace(news, seconds=first.seconds + news.seconds, best=best, bound=bound))

    return tell


def _together(first: Outcome, second: Outcome | Impossible, seconds: float) -> Outcome:
    """The better plan of two engines with the better bound; a second that found no order changes nothing.

    Where the second proves more and does not say why, the first one's reasons hold, and what it adds is told as one
    more.
    """
    if isinstance(second, Impossible):
        return replace(first, seconds=seconds)
    plan = second if second.cost < first.cost else first
    bound = min(plan.cost, max(first.bound, second.bound))
    reasons = first.reasons
    if bound > first.bound:
        more = Reason((), bound - first.bound, "no order that could be cheaper keeps to all rules at once")
        reasons = second.reasons or (reasons and (*reasons, more))
    return replace(
        plan,
        bound=bound,
        seconds=seconds,
        engine=f"{first.engine}, then {second.engine}",
        interrupted=second.interrupted,
        reasons=reasons,
    )


def _silent(_: Progress) -> None:
    """Tell nobody."""


def _never() -> bool:
    """Do not stop."""
    return False
