"""From an order of an outline to plans of the whole: which options suit it, and which choice it suits least.

A lot of an open choice is put where the outline has its stand-in; precedence may push it, and others, back.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from heapq import heappop, heappush

from sequencer.solve.choices.outline import Allowed, Outline
from sequencer.solve.price import price
from sequencer.solve.problem import Lot, Problem
from sequencer.solve.relation import bits

Completed = tuple[int, tuple[int, ...], tuple[int, ...]]
"""Cost, order and options."""

TRIED = 40_000
"""Lots placed in all to find where to branch."""

DEAR = 1 << 40
"""The cost of what mates forbid, small enough to be compared and added."""


class Completion:
    """One order of one outline, to be completed."""

    def __init__(self, problem: Problem, allowed: Allowed, seen: Outline, order: tuple[int, ...]) -> None:
        self.problem, self.seen, self.order = problem, seen, order
        self.allowed = [list(bits(mask)) for mask in allowed]
        self.open = [c for c, options in enumerate(self.allowed) if len(options) > 1]
        self.succ: list[list[int]] = [[] for _ in problem.lots]
        self.pred: list[list[int]] = [[] for _ in problem.lots]
        for a, b in problem.precedence:
            self.succ[a].append(b)
            self.pred[b].append(a)
        self.rank: dict[int, float] = {}
        for k, n in enumerate(order):
            stands_for = seen.lots[n]
            for lot in (stands_for,) if isinstance(stands_for, int) else stands_for:
                self.rank.setdefault(lot, k)
        self.least = [
            min(self.allowed[c], key=lambda o, c=c: (self._work(c, o), o))  # type: ignore[misc]
            for c in range(len(self.allowed))
        ]

    def plan(self, stop: Callable[[], bool] = lambda: False) -> Completed | None:
        """A plan of the whole near this order: each open choice in turn takes the option that is cheapest there,
        until `stop` says so.
        """
        options = list(self.least)
        best = self._priced(tuple(options))
        for c in self.open:
            if stop():
                break
            for o in self.allowed[c]:
                if o != options[c]:
                    other = self._priced((*options[:c], o, *options[c + 1 :]))
                    if other is not None and (best is None or other[0] < best[0]):
                        best = other
            if best is not None:
                options = list(best[2])
        return best

    def branch(self) -> tuple[int, int] | None:
        """The open choice whose cheapest option adds most to this order, and that option; None if none is open.

        Each choice is tried alone, the others seen in outline; in a large problem only those of which every
        option makes many lots.
        """
        ranked = []
        most = max(2, TRIED // len(self.problem.lots))
        for c in sorted(
            self.open, key=lambda c: -min(len(self.problem.choices[c][o]) for o in self.allowed[c])
        ):
            if most < 0:
                break
            most -= len(self.allowed[c])
            effects = sorted((self._effect(c, o), o) for o in self.allowed[c])
            ranked.append((effects[0][0], effects[1][0], -c, effects[0][1]))
        if not ranked:
            return None
        _, _, minus, option = max(ranked)
        return -minus, option

    def _work(self, c: int, o: int) -> int:
        return sum(self.problem.lots[lot].work for lot in self.problem.choices[c][o])

    def _priced(self, options: tuple[int, ...]) -> Completed | None:
        order = self._by_rank(set(self.problem.made(options)))
        priced = price(self.problem, order) if order is not None else None
        return None if order is None or priced is None else (priced.cost, order, options)

    def _effect(self, c: int, o: int) -> int:
        """What option o costs in this order above what the outline shows of choice c, the other choices in
        outline.
        """
        mine = frozenset().union(*self.problem.choices[c])
        lots = set(self.problem.choices[c][o])
        rows: list[tuple[float, int]] = []
        for k, n in enumerate(self.order):
            stands_for = self.seen.lots[n]
            if isinstance(stands_for, int):
                lots.add(stands_for)
            elif stands_for[0] not in mine:
                rows.append((k, n))
        order = self._by_rank(lots)
        if order is None:
            return DEAR
        whole = self.seen.problem
        number = {lot: n for n, lot in enumerate(self.seen.lots) if isinstance(lot, int)}
        extra = [lot for lot in order if lot not in number]
        number.update({lot: len(whole.lots) + n for n, lot in enumerate(extra)})
        mixed = replace(whole, lots=(*whole.lots, *(_movable(self.problem.lots[lot]) for lot in extra)))
        line = []
        rows.reverse()
        for lot in order:
            while rows and rows[-1][0] <= self.rank.get(lot, -1):
                line.append(rows.pop()[1])
            line.append(number[lot])
        line += [n for _, n in reversed(rows)]
        priced = price(mixed, tuple(line))
        return DEAR if priced is None else priced.cost - self._work(c, self.least[c])

    def _by_rank(self, lots: set[int]) -> tuple[int, ...] | None:
        """These lots in the order that keeps precedence and, as far as that goes, to their ranks; None for a circle.

        A lot without a rank stands right behind what it had to wait for.
        """
        waiting = {lot: sum(a in lots for a in self.pred[lot]) for lot in lots}
        heap: list[tuple[float, int]] = []
        reached = -1.0
        order: list[int] = []

        def ready(lot: int) -> None:
            heappush(heap, (self.rank.get(lot, reached), lot))

        for lot in sorted(lots):
            if not waiting[lot]:
                ready(lot)
        while heap:
            rank, lot = heappop(heap)
            reached = max(reached, rank)
            order.append(lot)
            for b in self.succ[lot]:
                if b in lots:
                    waiting[b] -= 1
                    if not waiting[b]:
                        ready(b)
        return tuple(order) if len(order) == len(lots) else None


def _movable(lot: Lot) -> Lot:
    """The lot, movable to all it accepts."""
    return replace(lot, needs={d: replace(need, reach=need.stay) for d, need in lot.needs.items()})
