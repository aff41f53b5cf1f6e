"""From a problem to the cheapest order the constraint model finds, within the time given."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress

from sequencer.solve.clock import Clock, Stopped
from sequencer.solve.cpsat.counts import Counts, counts_of
from sequencer.solve.cpsat.model import Runs
from sequencer.solve.cpsat.running import Answer, over, run
from sequencer.solve.plans.greedy import quick_plan
from sequencer.solve.price import price
from sequencer.solve.problem import Impossible, Limits, Outcome, Problem, Progress
from sequencer.solve.refusal import explain, suspected

FEASIBLE_SECONDS = 2.0
"""How long to ask whether a part of a problem has an order."""


def cpsat(
    problem: Problem,
    limits: Limits,
    progress: Callable[[Progress], None],
    stop: Callable[[], bool],
    start: Outcome | None = None,
) -> Outcome | Impossible:
    """The cheapest order CP-SAT finds within the limits, or why there is none.

    `start`, a plan in hand, or else a quick plan warms the model up; the bound and the floors of `start` are
    kept. Raises TimeoutError if the time is over before
    any order was found.
    """
    clock = Clock(limits.seconds, stop)
    best = start
    if best is None:
        with clock.until_share(0.5):
            best = quick_plan(problem, lambda: over(clock))
    least = start.bound if start else 0
    if best is not None:
        progress(Progress(clock.seconds, best.cost, least, "" if start else "a quick plan"))

    def has_order(part: Problem) -> bool:
        return feasible(part, limits.seed, clock)

    if best is None:  # what stands in the way is often small and quickly found
        refused = suspected(problem, has_order, lambda: over(clock))
        if refused is not None:
            return refused
    answer = Answer()
    with suppress(Stopped, MemoryError):
        counts = counts_of(problem, start.floors if start else (), least, clock)
        answer = run(Runs(problem, best, counts, clock.tick), limits, clock, progress)
    if answer.status == "INFEASIBLE" and best is None:
        return explain(problem, has_order, lambda: over(clock))
    if answer.found is not None:
        order, options = answer.found
        priced = price(problem, order)
        assert priced is not None
        if best is None or priced.cost < best.cost:
            best = Outcome(order, options, priced.cost, 0)
    if best is None:
        raise TimeoutError("no order was found in the time given")
    # nothing but the bound itself is taken for a proof: "infeasible" here, with a plan that keeps all rules in
    # hand, would mean that a floor is wrong
    return Outcome(
        order=best.order,
        options=best.options,
        cost=best.cost,
        bound=max(least, min(answer.bound, best.cost)),
        seconds=clock.seconds,
        engine="constraint model",
        interrupted=clock.by_hand,
    )


def feasible(problem: Problem, seed: int, clock: Clock) -> bool:
    """Whether any order exists (taken to be so if it cannot be told in time)."""
    left = min(FEASIBLE_SECONDS, clock.until - clock.begun - clock.seconds)
    mine = Clock(left, clock.stop)
    try:
        model = Runs(problem, None, Counts(), mine.tick)
    except Stopped:
        return True
    model.frame.model.clear_objective()  # type: ignore[no-untyped-call]
    answer = run(model, Limits(left, seed), mine, lambda _: None)
    return answer.status != "INFEASIBLE"
