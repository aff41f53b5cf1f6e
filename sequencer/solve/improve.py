"""Better orders for large jobs: simulated annealing over the turns of an order and the options of choices (see
`compiled.improving`).

For jobs too large for a proof. What counts is exact: along an order every dial is followed by its standings, which
carry ranges, change-over tables, tolerances and starts; mates, wishes and dials that forget are kept too. Still
nothing is taken on trust: an order is handed out only when `price` and `is_order` agree that it is legal and cheaper.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from contextlib import suppress
from functools import lru_cache
from itertools import accumulate

import numpy as np

from sequencer.solve.compiled import improving as im
from sequencer.solve.compiled import prepare
from sequencer.solve.price import is_order, price
from sequencer.solve.problem import Dial, Need, Problem
from sequencer.solve.standing import Standings

MOST_STANDINGS = 200
"""Standings of a dial that are written out (tables with ranges can have many); no step to others is taken."""

HOT, COLD = 0.3, 0.04
"""The heat where a cycle of cooling begins and ends, in costs of a mean turn."""

HOTTER = 0.5
"""Where it begins if there are choices: another option mostly costs more at first."""

FIRST_CYCLE = 20_000  # a multiple of SLICE
"""Moves of the first cycle; each has twice as many as the one before."""

SLACK = 3.0
"""Costs of a mean turn by which a changed order may lag behind on its way."""

SLICE = 500
"""Moves at one heat."""


def improve(
    problem: Problem,
    order: tuple[int, ...],
    options: tuple[int, ...],
    effort: int,
    seed: int = 0,
    stop: Callable[[], bool] = lambda: False,
    patient: bool = True,
) -> tuple[tuple[int, ...], tuple[int, ...], int]:
    """An order at most as dear as this legal one, its options and cost, after `effort` moves or when `stop` says so.

    The same seed and effort give the same order. Where the kernels must be compiled first, the impatient get the order
    as it is. Raises ValueError where the order is not legal.
    """
    with suppress(_Stopped):
        _prepare(stop if patient else lambda: True)
        return _improved(Improver(problem, order, options, seed), effort, stop)
    priced = price(problem, order)
    if priced is None or not is_order(problem, order, options):
        raise ValueError("this order is not legal")
    return order, options, priced.cost


def begun(
    problem: Problem, order: tuple[int, ...], options: tuple[int, ...], seed: int = 0
) -> Improver | None:
    """A search from this legal order; None where the kernels must be compiled first. Raises ValueError where the order
    is not legal.
    """
    with suppress(_Stopped):
        _prepare(lambda: True)
        return Improver(problem, order, options, seed)
    return None


def _improved(
    improver: Improver, effort: int, stop: Callable[[], bool]
) -> tuple[tuple[int, ...], tuple[int, ...], int]:
    """The best order, its options and its cost after so many moves, or when told to stop."""
    while improver.moves < effort and not stop():
        improver.run(min(SLICE, effort - improver.moves))
    return improver.best, improver.options, improver.cost


class _Stopped(Exception):  # noqa: N818 - an order to stop, not an error
    """Raised while the kernels are being compiled."""


_prepared: list[bool] = []
"""Not empty once the kernels are there."""


def _prepare(stop: Callable[[], bool]) -> None:
    """Have the kernels compiled, the first time on a machine; raises _Stopped if `stop` says so meanwhile."""

    def tick() -> None:
        if stop():
            raise _Stopped

    if not _prepared:
        prepare([im.anneal], "sequencer.solve.compiled.warm", tick)
        _prepared.append(True)


class Improver:
    """One search from one order: `best` with its `options` and `cost` so far, after so many `moves`."""

    def __init__(
        self, problem: Problem, order: tuple[int, ...], options: tuple[int, ...], seed: int = 0
    ) -> None:
        priced = price(problem, order)
        if priced is None or not is_order(problem, order, options):
            raise ValueError("this order is not legal")
        self.problem = problem
        self.best, self.options, self.cost, self.moves = order, options, priced.cost, 0
        self._work = priced.work
        made = frozenset(order)
        self._lots = (*order, *(lot for lot in range(len(problem.lots)) if lot not in made))
        self._ground = ground = ground_of(problem, self._lots)
        lots, dials, choices = len(self._lots), len(problem.dials), len(problem.choices)
        width = max(ground[im.SIZES, : im.DIALS + 1].max(), im.SWITCH + 1)
        self._play = play = np.zeros((im.ACTIVE + len(problem.walk), width), np.int64)
        play[im.MISSING, len(order) : lots] = 1
        play[im.NOW, im.TARGET] = len(order)
        for g in range(ground[im.SIZES, im.GROUPS]):
            mates = ground[im.MEMBER, ground[im.MEMBER_AT, g] : ground[im.MEMBER_AT, g + 1]]
            play[im.MEMBERS, g] = np.count_nonzero(mates < len(order))
        self._line, self._fresh, self._found = (
            np.zeros((max(lots, choices) + 4, im.STOOD + dials), np.int64) for _ in range(3)
        )
        self._line[:choices, im.TAKEN] = options
        self._line[0, im.WAS_HASH] = np.bitwise_xor.reduce(ground[im.MARK, len(order) : lots])
        self._line[0, im.WAS_HERE] = -1
        self._line[-1, im.TOTAL] = self._found[-1, im.TOTAL] = im.FAR
        self._todo = ~np.arange(lots + 2)
        self._chance = np.array([(2 * seed + 1) * 0x9E3779B97F4A7C15 % (1 << 62) | 1], np.int64)
        self._begun, self._cycle = 0, FIRST_CYCLE
        self._heat, self._slack = 0.0, im.FAR
        self._anneal(2)  # lays the order down

    @property
    def current(self) -> tuple[tuple[int, ...], tuple[int, ...], int] | None:
        """The order being varied now, its options and what the kernels say it costs; None where they could not lay one
        down.
        """
        if self._line[-1, im.TOTAL] == im.FAR:
            return None
        return self._order(self._line), self._taken(self._line), self._cost(self._line)

    def run(self, moves: int) -> None:
        """Try so many changes of the order. In how many calls they are made does not matter."""
        until = self.moves + moves
        while self.moves < until:
            done = self.moves - self._begun
            if done == self._cycle:
                self._begun, self._cycle, done = self.moves, 2 * self._cycle, 0
            if done % SLICE == 0:
                self._warm(done / self._cycle)
            count = min(until - self.moves, SLICE - done % SLICE)
            self._anneal(count)
            self.moves += count
        if self._cost(self._found) < self.cost:
            self._take()

    def _anneal(self, moves: int) -> None:
        im.anneal(
            self._ground,
            self._play,
            self._line,
            self._fresh,
            self._found,
            self._todo,
            moves,
            self._heat,
            self._slack,
            self._chance,
        )

    def _warm(self, part: float) -> None:
        """Set heat and slack for this part of a cycle, by what a turn that costs something costs."""
        costs = self._line[: self._line[-1, im.TURNS] + 1, im.WAS_COST]
        mean = costs[-1] / max(1, np.count_nonzero(np.diff(costs)))
        hot = HOTTER if self.problem.choices else HOT
        self._heat = mean * hot * (COLD / hot) ** part
        self._slack = int(SLACK * mean)

    def _order(self, line: im.Table) -> tuple[int, ...]:
        made = line[line[-1, im.TURNS], im.WAS_MADE]
        return tuple(self._lots[k] for k in line[:made, im.LOT])

    def _taken(self, line: im.Table) -> tuple[int, ...]:
        return tuple(map(int, line[: len(self.problem.choices), im.TAKEN]))

    def _cost(self, line: im.Table) -> int:
        return int(line[-1, im.TOTAL] + line[-1, im.MORE]) + self._work

    def _take(self) -> None:
        """Keep the best line found, if it is what the kernel says."""
        order = self._order(self._found)
        options = self._taken(self._found)
        priced = price(self.problem, order)
        if priced is not None and priced.cost < self.cost and is_order(self.problem, order, options):
            self.best, self.options, self.cost = order, options, priced.cost


def ground_of(problem: Problem, order: tuple[int, ...]) -> im.Table:
    """The problem as a table, its lots numbered as they come in the order, which names those not made, too, last."""
    number = {lot: k for k, lot in enumerate(order)}
    mates = [[number[lot] for lot in sorted(group.lots)] for group in problem.mates]
    wishes = problem.wishes
    bound = (
        {k for group in mates for k in group}
        | {number[w.before] for w in wishes}
        | {number[w.after] for w in wishes}
    )
    kinds: dict[tuple[object, ...], list[int]] = {}
    for k, lot in enumerate(order):
        needs = sorted((d, need.reach, need.stay) for d, need in problem.lots[lot].needs.items())
        kinds.setdefault((problem.lots[lot].station, *needs, k if k in bound else -1), []).append(k)
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
        im.SIZES: (
            len(order),
            len(mates),
            len(kinds),
            len(problem.walk),
            len(problem.dials),
            len(problem.choices),
            steps.loose,
        ),
        im.KIND: [kind_of[k] for k in range(len(order))],
        im.STATION: [one.station for one in ones],
        im.LEADS: steps.leads,
        im.COSTS: _capped(steps.costs),
        im.FREE: steps.free,
        im.STILL_LEADS: steps.still_leads,
        im.STILL_COSTS: _capped(steps.still_costs),
        im.BEFORE: [len(some) for some in _grouped(len(order), [(b, a) for a, b in pairs])],
        im.SPECIAL: [lots[0] in bound for lots in kinds.values()],
        im.HELD: [sum(1 << d for d in group.held if d < im.BITS) for group in problem.mates],
        im.NOTHING: steps.nothing,
        im.MARK_AT: [len(order) + at for at in accumulate([0, *steps.sizes])],
        im.MARK: words(len(order) + sum(steps.sizes)),
        im.STATION_MARK: words(len(problem.walk)),
        **{im.WALK + at: _capped(row) for at, row in enumerate(problem.walk)},
    }

    def listed(at: int, *lists: tuple[int, list[list[int]]]) -> None:
        rows[at] = [0, *accumulate(map(len, lists[0][1]))]
        for row, each in lists:
            rows[row] = [x for some in each for x in some]

    listed(
        im.NEED_AT,
        (im.NEED_DIAL, [[d for d, _ in needs] for needs in needs_of]),
        (im.NEED_ENTRY, [[steps.entry[each] for each in needs] for needs in needs_of]),
    )
    listed(im.FOLLOWER_AT, (im.FOLLOWER, _grouped(len(order), pairs)))
    listed(
        im.GROUP_AT,
        (im.GROUP, _grouped(len(order), [(k, g) for g, group in enumerate(mates) for k in group])),
    )
    listed(im.MEMBER_AT, (im.MEMBER, mates))
    listed(
        im.WISH_AT,
        (im.WISH, _grouped(len(order), [(number[w.after], number[w.before]) for w in wishes])),
        (im.WISH_PRICE, _grouped(len(order), [(number[w.after], min(w.price, im.FAR)) for w in wishes])),
    )
    varied = [choice if _varied(problem, choice) else () for choice in problem.choices]
    optional = [_sorted(problem, frozenset().union(*choice)) for choice in varied]
    work = [[_work(problem, option) for option in choice] for choice in varied]
    listed(im.OPTION_AT, (im.WORK, work))
    inside = [
        [sum(1 << o for o, option in enumerate(choice) if lot in option) for lot in lots]
        for choice, lots in zip(varied, optional, strict=True)
    ]
    listed(
        im.OPTIONAL_AT, (im.OPTIONAL, [[number[lot] for lot in lots] for lots in optional]), (im.IN, inside)
    )
    rows[im.BOUND] = [any(number[lot] in bound for lot in lots) for lots in optional]
    forgetful = [(dial.station, d) for d, dial in enumerate(problem.dials) if not dial.keeps]
    listed(im.FORGET_AT, (im.FORGET, _grouped(len(problem.walk), forgetful)))
    filled = {row: list(values) for row, values in rows.items()}
    ground = np.zeros((im.WALK + len(problem.walk), max(map(len, filled.values()))), np.int64)
    for row, values in filled.items():
        ground[row, : len(values)] = values
    return ground


def _varied(problem: Problem, choice: tuple[frozenset[int], ...]) -> bool:
    """Whether the kernels can tell its options, and what they cost, apart."""
    return len(choice) < im.BITS and all(_work(problem, option) < im.FAR for option in choice)


def _work(problem: Problem, lots: frozenset[int]) -> int:
    return sum(problem.lots[lot].work for lot in lots)


def _sorted(problem: Problem, lots: frozenset[int]) -> list[int]:
    """These lots, each after those of them that come before it; as far as there is no circle."""
    left, order = sorted(lots), []
    while left:
        held = {b for a, b in problem.precedence if a in left}
        lot = next((lot for lot in left if lot not in held), left[0])
        left.remove(lot)
        order.append(lot)
    return order


def _capped(costs: Iterable[int]) -> list[int]:
    """Costs as the kernels can hold them; what is dearer than any order is never paid."""
    return [min(cost, im.FAR) for cost in costs]


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
