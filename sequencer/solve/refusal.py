"""Why no order exists, in the lots' labels: a small set of lots that already cannot be ordered together."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from itertools import pairwise, product

from sequencer.solve.problem import Impossible, Problem

MOST_COMBINATIONS = 64


def suspects(problem: Problem) -> list[list[int]]:
    """Sets of lots that may already have no order, smallest first: mates, with all that must come between them.

    Where a set has no order the problem has none either, for leaving lots out of an order breaks no rule.
    """
    after: list[set[int]] = [set() for _ in problem.lots]
    before: list[set[int]] = [set() for _ in problem.lots]
    for a, b in problem.precedence:
        after[a].add(b)
        before[b].add(a)
    found = {
        tuple(sorted(group.lots | (_reached(after, group.lots) & _reached(before, group.lots))))
        for group in problem.mates
    }
    return [list(lots) for lots in sorted(found, key=lambda lots: (len(lots), lots))]


def _reached(onward: list[set[int]], lots: frozenset[int]) -> set[int]:
    seen: set[int] = set()
    todo = list(lots)
    while todo:
        new = onward[todo.pop()] - seen
        seen |= new
        todo += new
    return seen


def explain(
    problem: Problem,
    feasible: Callable[[Problem], bool],
    over: Callable[[], bool] = lambda: False,
    within: Iterable[int] | None = None,
) -> Impossible:
    """Shrink a problem without an order lot by lot, as long as it has none, and say what is left.

    `feasible` tells whether a problem has an order. `within`: lots that are known to have none (all, if not
    given). Asked before every trial, `over` ends the shrinking when it says yes; the lots left still have no
    order, only some of them may not be needed for that.
    """
    kept = list(range(len(problem.lots)) if within is None else within)
    step = max(1, len(kept) // 4)
    while step:
        for begin in range(len(kept) - step, -1, -step):
            if over():
                why = f"{_sentence(problem, kept)} (there was no time to look for fewer lots in conflict)"
                return Impossible(why, tuple(kept))
            fewer = kept[:begin] + kept[begin + step :]
            if not feasible(problem.part(fewer)):
                kept = fewer
        step //= 2
    return Impossible(_sentence(problem, kept), tuple(kept))


def _sentence(problem: Problem, kept: list[int]) -> str:
    part = problem.part(kept)
    combinations = list(product(*(range(len(choice)) for choice in part.choices)))[:MOST_COMBINATIONS]
    ways = {part.made(options) for options in combinations}
    whys = sorted({_circle(part, made) or _broken_mates(part, made) for made in ways})
    return "; ".join(whys)


def _circle(problem: Problem, made: frozenset[int]) -> str | None:
    """The shortest circle of precedence among these lots, in words."""
    after = {lot: [b for a, b in problem.precedence if a == lot and b in made] for lot in made}
    shortest: list[int] = []
    for lot in sorted(made):
        paths = [[lot]]
        seen = set()
        while paths:
            path = paths.pop(0)
            if lot in after[path[-1]]:
                if not shortest or len(path) < len(shortest):
                    shortest = path
                break
            for b in after[path[-1]]:
                if b not in seen:
                    seen.add(b)
                    paths.append([*path, b])
    if not shortest:
        return None
    names = [problem.lots[lot].label for lot in (*shortest, shortest[0])]
    links = [f"{a} must come before {b}" for a, b in pairwise(names)]
    return " and ".join([", ".join(links[:-1]), links[-1]] if len(links) > 1 else links)


def _broken_mates(problem: Problem, made: frozenset[int]) -> str:
    """Which mates these lots keep apart."""
    groups = [(sorted(group.lots & made), group.held) for group in problem.mates]
    said = [
        f"{_list(problem.lots[lot].label for lot in lots)} are mates that hold {_list(_held(problem, held))}"
        for lots, held in groups
        if len(lots) > 1 and held
    ]
    among = {lot for lots, held in groups if len(lots) > 1 and held for lot in lots}
    others = [problem.lots[lot].label for lot in sorted(made - among)]
    if not said:
        return f"no setting serves {_list(problem.lots[lot].label for lot in sorted(made))}"
    end = f" with {_list(others)} to be made as well" if others else ""
    return f"{', and '.join(said)}, but no order{end} makes them in one visit"


def _held(problem: Problem, held: frozenset[int]) -> list[str]:
    return [problem.dials[d].label for d in sorted(held)]


def _list(names: Iterable[str]) -> str:
    words = list(names)
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)
