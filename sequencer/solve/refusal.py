"""Why no order exists, in the lots' labels: a small set of lots that stand in each other's way, whatever else is made.

What a set of lots alone cannot do it may well do among others: a lot left out may be what moved a held dial before the
mates began. So sets are asked about in the eased problem, where leaving lots out of an order breaks nothing (`eased`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from itertools import product
from typing import TypeVar

from sequencer.solve.problem import Impossible, Lot, Mates, Need, Problem
from sequencer.solve.relation import Direct, bits_of, circle, mask_of, reached

Item = TypeVar("Item")

MOST_COMBINATIONS = 64

UNREACHED = "no order lets every setting be moved to where it is asked for"

HASTY = " (there was no time to look for fewer in conflict)"


def eased(problem: Problem) -> Problem:
    """The same lots with less asked: a set of them that has no order here has none in the problem either.

    A dial may be moved at once to any value that serves (`reach` is `stay`), every move exists, and costs are none.
    Mates bind those of them that are made at the station of a held dial; there all of them name the dial, those that
    did not so far at any value.

    *Every order of the problem is one of the eased problem.* Let the dials stand as they do there. A dial that holds
    no value when mates begin holds none until they end, and no lot until then names it; let it be moved to some value
    at the first of them. So it stays while they are made, also where other mates begin meanwhile, and the next lot
    that names it moves it, as in the problem.

    *Leaving lots out of an order of the eased problem leaves one.* Let each dial stand as before at every lot that is
    left and names it. It need be moved only at the first of these, and where two of them, one next after the other,
    have it at two values; and any lot may move it to any value it accepts. If mates forbid it there, the first of
    those left of them is the former of the two or comes before it, for all of them name the dial. So both lots were
    amid these mates before, where the dial stood still: it stands at one value for both. A dial is lost by leaving
    only where it was lost before, somewhere between the same two lots: so not amid mates, and what is set anew after
    it is not forbidden either. Precedence and choices ask nothing of lots that are not made.
    """
    names = [{d: Need(need.stay, need.stay) for d, need in lot.needs.items()} for lot in problem.lots]
    groups = []
    for group in problem.mates:
        held = {d for d in group.held if problem.dials[d].values}
        for station in sorted({problem.dials[d].station for d in held}):
            mine = frozenset(d for d in held if problem.dials[d].station == station)
            there = frozenset(lot for lot in group.lots if problem.lots[lot].station == station)
            groups.append(Mates(there, mine))
            for lot in there:
                for d in mine:
                    any_value = (1 << problem.dials[d].values) - 1
                    names[lot].setdefault(d, Need(any_value, any_value))
    lots = zip(problem.lots, names, strict=True)
    dials = (
        replace(dial, move=((0,) * dial.values,) * dial.values, first=(0,) * dial.values)
        for dial in problem.dials
    )
    return replace(
        problem,
        lots=tuple(Lot(lot.label, lot.station, needs) for lot, needs in lots),
        dials=tuple(dials),
        mates=tuple(group for group in groups if len(group.lots) > 1),
        wishes=(),
    )


def suspects(problem: Problem) -> list[list[int]]:
    """Sets of lots that may already stand in each other's way, smallest first: mates, with all that must come between
    them.
    """
    direct = Direct(problem)
    found = set()
    for group in problem.mates:
        mates = mask_of(group.lots)
        found.add(bits_of(mates | (reached(direct.after, mates) & reached(direct.before, mates))))
    return [list(lots) for lots in sorted(found, key=lambda lots: (len(lots), lots))]


def suspected(
    problem: Problem, feasible: Callable[[Problem], bool], over: Callable[[], bool] = lambda: False
) -> Impossible | None:
    """Why the problem has no order, where mates and what must come between them already show it; None where they do
    not, or not before `over` says that time is up. `feasible` tells whether a problem has an order.
    """
    easy = eased(problem)
    for lots in suspects(problem):
        if not over() and not feasible(easy.part(lots)):
            return _by_lots(easy, lots, feasible, over)
    return None


def explain(
    problem: Problem, feasible: Callable[[Problem], bool], over: Callable[[], bool] = lambda: False
) -> Impossible:
    """Why a problem that is known to have no order has none. `feasible` tells whether a problem has an order, and says
    yes where it cannot tell.

    All lots are named where `over` says at once that time is up, none where the eased problem has an order: then the
    fewest mates are told that cannot be kept with all lots to be made.
    """
    everything = list(range(len(problem.lots)))
    if over():
        return Impossible(_sentence(problem, everything) + HASTY, tuple(everything))
    easy = eased(problem)
    if not feasible(easy):
        return _by_lots(easy, everything, feasible, over)
    return _by_mates(problem, feasible, over)


def _by_lots(
    easy: Problem, lots: list[int], feasible: Callable[[Problem], bool], over: Callable[[], bool]
) -> Impossible:
    """The fewest of these lots, which have no order in the eased problem, that have none there."""
    kept, ended = _fewest(lots, lambda fewer: not feasible(easy.part(fewer)), over)
    return Impossible(_sentence(easy, kept) + (HASTY if ended else ""), tuple(kept))


def _by_mates(problem: Problem, feasible: Callable[[Problem], bool], over: Callable[[], bool]) -> Impossible:
    """The fewest mates, each with one dial that they hold, with which the problem has no order."""
    groups = [Mates(group.lots, frozenset({d})) for group in problem.mates for d in sorted(group.held)]
    kept, ended = _fewest(groups, lambda fewer: not feasible(replace(problem, mates=tuple(fewer))), over)
    if not kept:
        return Impossible(UNREACHED)
    said = ", and ".join(_said(problem, sorted(group.lots), group.held) for group in dict.fromkeys(kept))
    hasty = HASTY if ended else ""
    return Impossible(f"{said}, but with all else to be made no order makes them in one visit{hasty}")


def _fewest(
    items: list[Item], enough: Callable[[list[Item]], bool], over: Callable[[], bool]
) -> tuple[list[Item], bool]:
    """Leave items out as long as those left are `enough`; and whether `over`, asked before every trial, ended it."""
    kept = list(items)
    step = max(1, len(kept) // 4)
    while step:
        for begin in range(len(kept) - step, -1, -step):
            if over():
                return kept, True
            fewer = kept[:begin] + kept[begin + step :]
            if enough(fewer):
                kept = fewer
        step //= 2
    return kept, False


def _sentence(problem: Problem, kept: list[int]) -> str:
    part = problem.part(kept)
    combinations = list(product(*(range(len(choice)) for choice in part.choices)))[:MOST_COMBINATIONS]
    ways = {part.made(options) for options in combinations}
    direct = Direct(part)

    def why(made: frozenset[int]) -> str:
        found = circle(part, direct.after, mask_of(made))
        return _broken_mates(part, made) if found is None else found[1]

    return "; ".join(sorted({why(made) for made in ways}))


def _broken_mates(problem: Problem, made: frozenset[int]) -> str:
    """Which mates these lots keep apart."""
    groups = [(sorted(group.lots & made), group.held) for group in problem.mates]
    said = [_said(problem, lots, held) for lots, held in groups if len(lots) > 1 and held]
    among = {lot for lots, held in groups if len(lots) > 1 and held for lot in lots}
    others = [problem.lots[lot].label for lot in sorted(made - among)]
    if not said:
        return f"no setting serves {_list(problem.lots[lot].label for lot in sorted(made))}"
    end = f" with {_list(others)} to be made as well" if others else ""
    return f"{', and '.join(said)}, but no order{end} makes them in one visit"


def _said(problem: Problem, lots: list[int], held: frozenset[int]) -> str:
    names = _list(problem.lots[lot].label for lot in lots)
    return f"{names} are mates that hold {_list(_held(problem, lots, d) for d in sorted(held))}"


def _held(problem: Problem, lots: list[int], d: int) -> str:
    """A dial held, by name; that no value serves all the mates, or that it is lost by leaving, may be all that stands
    in the way.
    """
    dial, common = problem.dials[d], -1
    for need in (problem.lots[lot].needs.get(d) for lot in lots):
        common &= need.stay if need else -1
    if not common:
        return f"{dial.label} (no value serves them all)"
    return dial.label + ("" if dial.keeps else " (lost when the work leaves its station)")


def _list(names: Iterable[str]) -> str:
    words = list(names)
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)
