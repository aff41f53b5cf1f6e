"""What every part of the constraint model refers to: the lots made, their positions, what each needs."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from ortools.sat.python import cp_model

from sequencer.solve.problem import Dial, Need, Problem

Terms = list[Any]
"""Linear terms whose sum is a cost or a count."""


class Frame:
    """The model with the variables all its parts share.

    `position[n]`: where lot n stands in the order; `made[n]`: whether it is made (1 where always); `taken[c]`:
    one Boolean for each option of choice c; `dials`: with walking as the last one; `needs[n]`: dial -> what lot
    n needs of it, walking too. `tick` is called often while the model is built, and may raise.
    """

    def __init__(self, problem: Problem, tick: Callable[[], None]) -> None:
        self.problem = problem
        self.tick = tick
        self.model = cp_model.CpModel()
        self.count = len(problem.lots)
        self.walking = len(problem.dials)
        last = max(0, self.count - 1)
        self.position = [self.model.new_int_var(0, last, f"pos{n}") for n in range(self.count)]
        self.made: list[Any] = [1] * self.count
        self.taken: list[list[Any]] = []
        self._choose()
        self.dials = (*problem.dials, _walking(problem))
        self.needs = [
            {**lot.needs, self.walking: Need(1 << lot.station, 1 << lot.station)} for lot in problem.lots
        ]
        self.always_before = self._always_before()

    def always(self, lot: int) -> bool:
        """Whether the lot is made whatever is chosen."""
        return isinstance(self.made[lot], int)

    def both_made(self, a: int, b: int) -> Terms:
        """The literals that say that two lots are made."""
        return [self.made[lot] for lot in (a, b) if not self.always(lot)]

    def _choose(self) -> None:
        """One option of each choice; a lot is made if that names it."""
        for c, choice in enumerate(self.problem.choices):
            row = [self.model.new_bool_var(f"choice{c}.{o}") for o in range(len(choice))]
            self.model.add_exactly_one(row)
            self.taken.append(row)
            for lot in sorted(frozenset().union(*choice)):
                self.made[lot] = self.model.new_bool_var(f"made{lot}")
                self.model.add(self.made[lot] == sum(b for b, o in zip(row, choice, strict=True) if lot in o))

    def _always_before(self) -> list[tuple[int, int]]:
        """The pairs (before, after) that follow from the precedence between lots always made."""
        after: list[set[int]] = [set() for _ in range(self.count)]
        for a, b in self.problem.precedence:
            if self.always(a) and self.always(b):
                after[a].add(b)
        pairs = []
        for a in range(self.count):
            self.tick()
            seen: set[int] = set()
            todo = list(after[a])
            while todo:
                b = todo.pop()
                if b not in seen:
                    seen.add(b)
                    todo += after[b]
            pairs += [(a, b) for b in sorted(seen)]
        return pairs


def _walking(problem: Problem) -> Dial:
    """Walking as a dial: its values are the stations, the first one is free."""
    stations = range(len(problem.walk))
    return Dial(
        "walking",
        -1,
        tuple(tuple(problem.walk[a][b] for b in stations) for a in stations),
        (0,) * len(stations),
    )
