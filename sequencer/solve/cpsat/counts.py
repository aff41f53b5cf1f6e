"""What is proven of the dials beforehand, stated in the constraint model.

A *floor* (dials, cost) says that in every order the moves of these dials together cost at least so much; a
*count* (dials, number) that they are at least so many.

Both hold for every order with every feature. A problem with choices is seen in outline (`outline`): any order of it
becomes one of the outline in which no dial moves oftener. No dial costs more there, but for the share of a walk
that `hidden` lets a move of a dial lost by leaving cost; `ease` lets such a dial be set afresh without it. Take an
order with its moves, leave out all dials but the given ones and all lots that name none of them: what remains keeps
the precedence, moves the given dials at the same cost, and serves every lot of the pattern. It is thus an order of
the pattern, which asks for less: moves that do not exist are allowed, values that are lost may be kept, and any
table is lowered until it keeps the triangle inequality. Mates and wishes are dropped here. Floors handed over from
the search may heed them: what heeds mates is still such an order (`heeded`), and what wishes can cost is taken off
(`reasons.floors`). So the least cost of the pattern is a floor. With every move at the price of one the same least
cost is a count, as the number of moves is what that order costs then; the first value of a dial is a move, the
first station is not. Where the search for the least cost ends early, what it has proven is less.

In the model a row with n filled slots has n moves, less one where the dial stands somewhere at first, and for
walking: neighbours differ, or lie in different visits where leaving loses the value. So floors and counts cut
off no plan.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from sequencer.solve.bounds.patterns import Pattern
from sequencer.solve.bounds.wheels import ease
from sequencer.solve.choices.outline import outline
from sequencer.solve.clock import Clock
from sequencer.solve.cpsat.frame import Frame, Terms
from sequencer.solve.cpsat.rows import Row
from sequencer.solve.problem import FAR, Impossible, Problem
from sequencer.solve.relation import relation_of
from sequencer.solve.transitions.floor import Floor

Proven = tuple[tuple[tuple[int, ...], int], ...]
"""Sets of dials with what their moves come to at least."""

SHARE = 0.2
"""The part of the time in which floors and counts are looked for."""

TRIAL = 2000
"""States that may be opened for one dial."""

LARGE = 200
"""Lots beyond which nothing is looked for: the model is then out of reach of a proof."""


@dataclass(frozen=True)
class Counts:
    """Floors and counts of one problem, the work done whatever is chosen, what no order can cost less than."""

    floors: Proven = ()
    moves: Proven = ()
    work: int = 0
    bound: int = 0

    def without(self, d: int) -> int:
        """What all but dial d cost at least, work included: floors on disjoint dials add up.

        Which ones to add is chosen greedily, by what they gain over their dials one by one.
        """
        left = [(dials, cost) for dials, cost in self.floors if d not in dials]
        alone = {dials[0]: cost for dials, cost in left if len(dials) == 1}
        gains = [
            (cost - sum(alone.get(e, 0) for e in dials), dials) for dials, cost in left if len(dials) > 1
        ]
        total = self.work + sum(alone.values())
        used: set[int] = set()
        for gain, dials in sorted(gains, reverse=True):
            if gain > 0 and used.isdisjoint(dials):
                total += gain
                used.update(dials)
        return total


def counts_of(problem: Problem, floors: Proven, bound: int, clock: Clock) -> Counts:
    """The floors given, with floors and counts of each dial by itself as far as a share of the time allows.

    Raises Stopped when somebody asks to stop, or all the time is spent.
    """
    if len(problem.lots) > LARGE:
        return Counts(floors, bound=bound)
    seen = outline(problem, tuple((1 << len(choice)) - 1 for choice in problem.choices))
    if isinstance(seen, Impossible) or isinstance(relation := relation_of(seen.problem), Impossible):
        return Counts(floors, bound=bound)
    best: dict[tuple[int, ...], int] = {}
    for dials, cost in floors:
        best[dials] = max(cost, best.get(dials, 0))
    moves: dict[tuple[int, ...], int] = {}
    floor = Floor(seen.problem, relation)
    with clock.until_share(SHARE):
        for here, found in (floor, best), (Floor(_at_one(seen.problem), relation), moves):
            root = here.first().state
            for d in range(len(here.knobs)):
                clock.tick()
                pattern = Pattern(here, [ease(here, d)], (d,), (), clock.tick, TRIAL)
                least = pattern.bound(pattern.project(*root), FAR)
                if 0 < least < FAR:
                    found[d,] = max(least, found.get((d,), 0))
    return Counts(tuple(sorted(best.items())), tuple(sorted(moves.items())), seen.least + floor.work, bound)


def state(frame: Frame, counts: Counts, rows: list[Row], costs: list[Terms], total: Any) -> None:
    """Floors and counts as constraints; `costs` and `rows` by dial, `total` the objective."""
    model = frame.model
    for dials, cost in counts.floors:
        model.add(sum(term for d in dials for term in costs[d]) >= cost)
    for dials, number in counts.moves:
        if all(rows[d].values for d in dials):
            given = sum(frame.dials[d].start is not None or d == frame.walking for d in dials)
            model.add(sum(filled for d in dials for filled in rows[d].filled) >= number + given)
    model.add(total >= counts.bound)


def _at_one(problem: Problem) -> Problem:
    """The problem with the price of one for every move."""
    return replace(
        problem,
        dials=tuple(
            replace(
                dial,
                move=tuple(
                    tuple(None if p is None else int(a != b) for b, p in enumerate(row))
                    for a, row in enumerate(dial.move)
                ),
                first=(1,) * dial.values,
            )
            for dial in problem.dials
        ),
        walk=tuple(tuple(int(a != b) for b in range(len(row))) for a, row in enumerate(problem.walk)),
    )
