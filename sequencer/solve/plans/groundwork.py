"""A problem as one table of whole numbers, for the kernels that make orders turn by turn (`compiled.turns` names its
rows): kinds of lots, every step from every standing of every dial, mates, wishes and options.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache
from itertools import accumulate

import numpy as np

from sequencer.solve.compiled import FAR_64, turns
from sequencer.solve.plans.standing import Standings
from sequencer.solve.problem import Dial, Need, Problem

MOST_STANDINGS = 200
"""Standings of a dial that are written out (tables with ranges can have many); no step to others is taken."""


def ground_table(problem: Problem, order: tuple[int, ...]) -> turns.Table:
    """The problem as a table, its lots numbered as they come in the order, which names those not made, too, last."""
    number = {lot: k for k, lot in enumerate(order)}
    mates = [[number[lot] for lot in sorted(group.lots)] for group in problem.mates]
    wishes = problem.wishes
    tied = (
        {k for group in mates for k in group}
        | {number[w.before] for w in wishes}
        | {number[w.after] for w in wishes}
    )
    kinds: dict[tuple[object, ...], list[int]] = {}
    for k, lot in enumerate(order):
        needs = sorted((d, need.reach, need.stay) for d, need in problem.lots[lot].needs.items())
        kinds.setdefault((problem.lots[lot].station, *needs, k if k in tied else -1), []).append(k)
    kind_of = {k: kind for kind, lots in enumerate(kinds.values()) for k in lots}
    ones = [problem.lots[order[lots[0]]] for lots in kinds.values()]
    pairs = sorted({(number[a], number[b]) for a, b in problem.precedence})
    steps = Steps(problem, order)
    # the dials that stand wrong most often come first
    needs_of = [sorted(one.needs.items(), key=lambda need: -problem.dials[need[0]].values) for one in ones]
    chance = np.random.default_rng(0)

    def words(count: int) -> Iterable[int]:
        return map(int, chance.integers(-(1 << 62), 1 << 62, count))

    rows: dict[int, Iterable[int]] = {
        turns.SIZES: (
            len(order),
            len(mates),
            len(kinds),
            len(problem.walk),
            len(problem.dials),
            len(problem.choices),
            steps.loose,
        ),
        turns.KIND: [kind_of[k] for k in range(len(order))],
        turns.STATION: [one.station for one in ones],
        turns.LEADS: steps.leads,
        turns.COSTS: _capped(steps.costs),
        turns.FREE: steps.free,
        turns.STILL_LEADS: steps.still_leads,
        turns.STILL_COSTS: _capped(steps.still_costs),
        turns.BEFORE: [len(some) for some in _grouped(len(order), [(b, a) for a, b in pairs])],
        turns.SPECIAL: [lots[0] in tied for lots in kinds.values()],
        turns.HELD: [sum(1 << d for d in group.held if d < turns.BITS) for group in problem.mates],
        turns.LOST: steps.nothing,
        turns.MARK_AT: [len(order) + at for at in accumulate([0, *steps.sizes])],
        turns.MARK: words(len(order) + sum(steps.sizes)),
        turns.STATION_MARK: words(len(problem.walk)),
        **{turns.WALK + at: _capped(row) for at, row in enumerate(problem.walk)},
    }

    def listed(at: int, *lists: tuple[int, list[list[int]]]) -> None:
        rows[at] = [0, *accumulate(map(len, lists[0][1]))]
        for row, each in lists:
            rows[row] = [x for some in each for x in some]

    listed(
        turns.NEED_AT,
        (turns.NEED_DIAL, [[d for d, _ in needs] for needs in needs_of]),
        (turns.NEED_ENTRY, [[steps.entry[each] for each in needs] for needs in needs_of]),
    )
    listed(turns.FOLLOWER_AT, (turns.FOLLOWER, _grouped(len(order), pairs)))
    listed(
        turns.GROUP_AT,
        (turns.GROUP, _grouped(len(order), [(k, g) for g, group in enumerate(mates) for k in group])),
    )
    listed(turns.MEMBER_AT, (turns.MEMBER, mates))
    listed(
        turns.WISH_AT,
        (turns.WISH, _grouped(len(order), [(number[w.after], number[w.before]) for w in wishes])),
        (
            turns.WISH_PRICE,
            _grouped(len(order), [(number[w.after], min(w.price, FAR_64)) for w in wishes]),
        ),
    )
    varied = [choice if _varied(problem, choice) else () for choice in problem.choices]
    optional = [_lowest_first(problem, frozenset().union(*choice)) for choice in varied]
    work = [[_work(problem, option) for option in choice] for choice in varied]
    listed(turns.OPTION_AT, (turns.WORK, work))
    inside = [
        [sum(1 << o for o, option in enumerate(choice) if lot in option) for lot in lots]
        for choice, lots in zip(varied, optional, strict=True)
    ]
    listed(
        turns.OPTIONAL_AT,
        (turns.OPTIONAL, [[number[lot] for lot in lots] for lots in optional]),
        (turns.IN, inside),
    )
    rows[turns.TIED] = [any(number[lot] in tied for lot in lots) for lots in optional]
    forgetful = [(dial.station, d) for d, dial in enumerate(problem.dials) if not dial.keeps]
    listed(turns.FORGET_AT, (turns.FORGET, _grouped(len(problem.walk), forgetful)))
    filled = {row: list(values) for row, values in rows.items()}
    ground = np.zeros((turns.WALK + len(problem.walk), max(map(len, filled.values()))), np.int64)
    for row, values in filled.items():
        ground[row, : len(values)] = values
    return ground


def _varied(problem: Problem, choice: tuple[frozenset[int], ...]) -> bool:
    """Whether the kernels can tell its options, and what they cost, apart."""
    return len(choice) < turns.BITS and all(_work(problem, option) < FAR_64 for option in choice)


def _work(problem: Problem, lots: frozenset[int]) -> int:
    return sum(problem.lots[lot].work for lot in lots)


def _lowest_first(problem: Problem, lots: frozenset[int]) -> list[int]:
    """These lots, each after those of them that come before it, the lowest numbers first.

    Lots of unlike options may wait for each other in a circle, since they are never made together: there the lowest
    goes on. (The kernels put the lots of an option in by this order: another one among ties would give other plans.)
    """
    left, order = sorted(lots), []
    while left:
        held = {b for a, b in problem.precedence if a in left}
        lot = next((lot for lot in left if lot not in held), left[0])
        left.remove(lot)
        order.append(lot)
    return order


def _capped(costs: Iterable[int]) -> list[int]:
    """Costs as the kernels can hold them; what is dearer than any order is never paid."""
    return [min(cost, FAR_64) for cost in costs]


def _grouped(count: int, pairs: list[tuple[int, int]]) -> list[list[int]]:
    """The second of each pair, listed by the first."""
    lists: list[list[int]] = [[] for _ in range(count)]
    for a, b in pairs:
        lists[a].append(b)
    return lists


class Steps:
    """Every step from every standing of every dial, written one after the other.

    `entry[d, need] + standing` is where a step is found. `sizes`: how many standings each dial has.
    """

    def __init__(self, problem: Problem, order: tuple[int, ...]) -> None:
        self.entry: dict[tuple[int, Need], int] = {}
        self.leads: list[int] = []
        self.costs: list[int] = []
        self.free: list[bool] = []
        self.still_leads: list[int] = []
        self.still_costs: list[int] = []
        self.nothing: list[int] = []
        self.sizes: list[int] = []
        for d, dial in enumerate(problem.dials):
            needs = {problem.lots[lot].needs[d] for lot in order if d in problem.lots[lot].needs}
            ordered = tuple(sorted(needs, key=lambda need: (need.reach, need.stay)))
            nothing, steps = steps_of(dial, ordered)
            self.nothing.append(nothing)
            self.sizes.append(max([nothing + 1, *map(len, steps)]))
            for need, rows in zip(ordered, steps, strict=True):
                self.entry[d, need] = len(self.leads)
                for standing, (lead, cost, still, still_cost) in enumerate(rows):
                    self.leads.append(lead)
                    self.costs.append(cost)
                    self.still_leads.append(still)
                    self.still_costs.append(still_cost)
                    self.free.append(lead == still == standing and cost == still_cost == 0)

    @property
    def loose(self) -> bool:
        """Whether some step costs nothing and yet changes how the dial may stand."""
        steps = zip(self.leads, self.costs, self.free, strict=True)
        return any(lead >= 0 and cost == 0 and not free for lead, cost, free in steps)


Step = tuple[int, int, int, int]
"""Where a step leads and its cost, then the same for a dial that is held; -1 where there is no step."""


@lru_cache(maxsize=256)
def steps_of(dial: Dial, needs: tuple[Need, ...]) -> tuple[int, tuple[tuple[Step, ...], ...]]:
    """The standing of a dial that holds nothing; for each need, the steps from every standing."""
    standings = Standings(dial)
    size = 1 + max(standings.start, standings.nothing)
    looked = 0
    while looked < size < MOST_STANDINGS:
        for need in needs:
            for held in (False, True):
                step = standings.step(looked, need, held)
                if step is not None:
                    size = max(size, step[0] + 1)
        looked += 1
    known = range(min(size, MOST_STANDINGS))

    def within(step: tuple[int, int] | None) -> tuple[int, int]:
        return step if step is not None and step[0] in known else (-1, 0)

    return standings.nothing, tuple(
        tuple(
            (*within(standings.step(at, need, False)), *within(standings.step(at, need, True)))
            for at in known
        )
        for need in needs
    )
