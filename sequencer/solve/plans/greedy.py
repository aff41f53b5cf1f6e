"""A quick plan, to start the other engines from: a narrow beam of orders, grown one decision at a time (`growing`).

Partial orders are ranked by their cost so far plus, for each dial, the cheapest move to every value that some
remaining lot insists on.
"""

from __future__ import annotations

from collections.abc import Callable

from sequencer.solve.plans.growing import Decision, Growing, Partial
from sequencer.solve.plans.quick import dived
from sequencer.solve.price import price
from sequencer.solve.problem import Outcome, Problem

WIDTHS = (1, 8, 64, 512)
"""Beam widths tried in turn while no plan is found (mates can lead a narrow beam into dead ends)."""

SMALL = 150
"""Lots up to which a beam is quick enough for a first plan without choices."""

TIES = 8
"""Partial orders beyond the width that are looked at where several promise the same: most lots made goes first."""

MOST = 8_000
"""Lots times width beyond which a beam takes seconds: other engines find a first plan sooner then."""


def greedy(problem: Problem, width: int = 8, stop: Callable[[], bool] = lambda: False) -> Outcome | None:
    """A plan from a beam of this width; None if the beam dies out (mates) or is stopped. Its bound is 0."""
    growing = Growing(problem)
    root = growing.root()
    best: Partial | None = root if growing.complete(root) else None
    front = [root]
    last = 0
    while front:
        decisions: list[Decision] = []
        for node in front:
            if stop():
                return _outcome(growing, best)
            decisions += growing.decisions(node)
        decisions.sort(key=lambda each: (each.stuck, each.rank, each.cost))
        grown: list[tuple[tuple[bool, int, int], Partial]] = []
        seen: set[tuple[object, ...]] = set()
        for decision in decisions:
            if stop() or (len(grown) >= width and decision.rank > last) or len(grown) > width + TIES:
                break
            if best is not None and decision.cost >= best.cost:
                continue
            node = growing.after(decision)
            key = (node.done, node.station, node.standing, node.options)
            if key in seen:
                continue  # reached before at no greater cost
            seen.add(key)
            if not growing.complete(node):
                grown.append(((decision.stuck, decision.rank, -node.done.bit_count()), node))
                last = decision.rank
            elif best is None or node.cost < best.cost:
                best = node
        grown.sort(key=lambda each: each[0])
        front = [node for _, node in grown[:width]]
    return _outcome(growing, best)


def _outcome(growing: Growing, best: Partial | None) -> Outcome | None:
    """The complete order as an outcome."""
    if best is None:
        return None
    order = best.order()
    priced = price(growing.problem, order)
    assert priced is not None
    return Outcome(order=order, options=growing.taken(best), cost=priced.cost, bound=0, engine="greedy")


def quick_plan(
    problem: Problem, stop: Callable[[], bool] = lambda: False, late: Callable[[], bool] = lambda: False
) -> Outcome | None:
    """A plan: with choices, or of many lots, that of a dive; else, or where that fails, from the narrowest beam
    that finds one and the next wider one. None if none does of those `WIDTHS` that are quick enough.

    `stop` ends it; `late` only ends what comes after the dive and the narrowest beam, without which there is mostly
    no plan at all.
    """
    best: Outcome | None = None
    if problem.choices or len(problem.lots) > SMALL:
        best = dived(problem, stop)
        if best is not None:
            return best
    for width in WIDTHS:
        if width > WIDTHS[0] and len(problem.lots) * width > MOST:
            break
        found = greedy(problem, width, stop if width == WIDTHS[0] else lambda: stop() or late())
        last = best is not None
        if found is not None and (best is None or found.cost < best.cost):
            best = found
        if last or stop() or late():
            break
    return best
