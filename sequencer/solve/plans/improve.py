"""Better orders for large jobs: simulated annealing over the turns of an order and the options of choices (see
`compiled.improving`).

For jobs too large for a proof. What counts is exact: along an order every dial is followed by its standings, which
carry ranges, change-over tables, tolerances and starts; mates, wishes and dials that forget are kept too. Still
nothing is taken on trust: an order is handed out only when `price` and `is_order` agree that it is legal and cheaper.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from sequencer.solve.compiled import FAR_64, improving, ready, turns
from sequencer.solve.plans.groundwork import ground_table
from sequencer.solve.price import is_order, price
from sequencer.solve.problem import Problem

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
) -> tuple[tuple[int, ...], tuple[int, ...], int]:
    """An order at most as dear as this legal one, its options and cost, after `effort` moves or when `stop` says so.

    The same seed and effort give the same order; where the kernels must be compiled first, the order as it is. Raises
    ValueError where the order is not legal.
    """
    improver = begun(problem, order, options, seed)
    if improver is None:
        priced = price(problem, order)
        if priced is None or not is_order(problem, order, options):
            raise ValueError("this order is not legal")
        return order, options, priced.cost
    while improver.moves < effort and not stop():
        improver.run(min(SLICE, effort - improver.moves))
    return improver.best, improver.options, improver.cost


def begun(
    problem: Problem, order: tuple[int, ...], options: tuple[int, ...], seed: int = 0
) -> Improver | None:
    """A search from this legal order; None where the kernels must be compiled first. Raises ValueError where the order
    is not legal.
    """
    return Improver(problem, order, options, seed) if _ready() else None


_prepared: list[bool] = []
"""Not empty once the kernels are there."""


def _ready() -> bool:
    """Whether the kernels need no compiling any more; it has begun if they do."""
    if not _prepared and ready([improving.anneal], "sequencer.solve.proof.warm"):
        _prepared.append(True)
    return bool(_prepared)


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
        self._ground = ground = ground_table(problem, self._lots)
        lots, dials, choices = len(self._lots), len(problem.dials), len(problem.choices)
        width = max(ground[turns.SIZES, : turns.DIALS + 1].max(), turns.SWITCH + 1)
        self._play = play = np.zeros((turns.ACTIVE + len(problem.walk), width), np.int64)
        play[turns.MISSING, len(order) : lots] = 1
        play[turns.NOW, turns.TARGET] = len(order)
        for g in range(ground[turns.SIZES, turns.GROUPS]):
            mates = ground[turns.MEMBER, ground[turns.MEMBER_AT, g] : ground[turns.MEMBER_AT, g + 1]]
            play[turns.MEMBERS, g] = np.count_nonzero(mates < len(order))
        self._line, self._fresh, self._found = (
            np.zeros((max(lots, choices) + 4, turns.STOOD + dials), np.int64) for _ in range(3)
        )
        self._line[:choices, turns.TAKEN] = options
        self._line[0, turns.WAS_HASH] = np.bitwise_xor.reduce(ground[turns.MARK, len(order) : lots])
        self._line[0, turns.WAS_HERE] = -1
        self._line[-1, turns.TOTAL] = self._found[-1, turns.TOTAL] = FAR_64
        self._todo = ~np.arange(lots + 2)
        self._chance = np.array([(2 * seed + 1) * 0x9E3779B97F4A7C15 % (1 << 62) | 1], np.int64)
        self._begun, self._cycle = 0, FIRST_CYCLE
        self._heat, self._slack = 0.0, FAR_64
        self._anneal(2)  # lays the order down

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
        improving.anneal(
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
        costs = self._line[: self._line[-1, turns.TURNS] + 1, turns.WAS_COST]
        mean = costs[-1] / max(1, np.count_nonzero(np.diff(costs)))
        hot = HOTTER if self.problem.choices else HOT
        self._heat = mean * hot * (COLD / hot) ** part
        self._slack = int(SLACK * mean)

    def _order(self, line: turns.Table) -> tuple[int, ...]:
        made = line[line[-1, turns.TURNS], turns.WAS_MADE]
        return tuple(self._lots[k] for k in line[:made, turns.LOT])

    def _taken(self, line: turns.Table) -> tuple[int, ...]:
        return tuple(map(int, line[: len(self.problem.choices), turns.TAKEN]))

    def _cost(self, line: turns.Table) -> int:
        return int(line[-1, turns.TOTAL] + line[-1, turns.MORE]) + self._work

    def _take(self) -> None:
        """Keep the best line found, if it is what the kernel says."""
        order = self._order(self._found)
        options = self._taken(self._found)
        priced = price(self.problem, order)
        if priced is not None and priced.cost < self.cost and is_order(self.problem, order, options):
            self.best, self.options, self.cost = order, options, priced.cost
