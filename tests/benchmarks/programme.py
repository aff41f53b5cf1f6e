"""A peer: domain-independent dynamic programming, with a model that says all it can about the problem.

R. Kuroiwa, J. C. Beck, Domain-independent dynamic programming: generic state space search for combinatorial
optimization, ICAPS 2023; complete anytime beam search, its solver recommended for most problems. A state is the lots
waiting, the lots made and how each dial stands. Lots that cost nothing are forced where delaying them cannot pay; every
value that some waiting lot insists on costs its cheapest move. The model carries every feature of the problem. The
library is `didppy`, which is optional.
"""

from __future__ import annotations

from itertools import product
from time import monotonic
from typing import Any

from sequencer.solve.problem import Dial, Limits, Problem
from tests.benchmarks.answer import Answer, MissingError


def dynamic_programme(problem: Problem, limits: Limits) -> Answer | None:
    """The best order the solver finds in the time left after building the model. One thread: two were slower."""
    try:
        import didppy
    except ImportError as missing:
        raise MissingError("didppy is not installed") from missing
    begun = monotonic()
    model = _Programme(problem, didppy).model
    left = max(0.1, limits.seconds - (monotonic() - begun))
    solution = didppy.CABS(model, time_limit=left, quiet=True, threads=limits.workers).search()
    if solution.is_infeasible:
        return None
    bound = int(solution.cost if solution.is_optimal else solution.best_bound or 0)
    if solution.cost is None:
        return Answer(None, (), bound)
    names = [transition.name.split() for transition in solution.transitions]
    # names are as `_Programme` gives them: "option o" for each choice in turn, "lot n" in the order made
    return Answer(
        tuple(int(name[1]) for name in names if name[0] == "lot"),
        tuple(int(name[1]) for name in names if name[0] == "option"),
        bound,
    )


class _Programme:
    """The model of one problem: first the choices are settled in turn, then the lots are made."""

    def __init__(self, problem: Problem, didppy: Any) -> None:
        self.problem, self.dp = problem, didppy
        self.model = didppy.Model(maximize=False, float_cost=False)
        self.kind = self.model.add_object_type(number=len(problem.lots))
        optional = frozenset().union(*(option for choice in problem.choices for option in choice))
        self.certain = frozenset(range(len(problem.lots))) - optional
        self.waiting = self.model.add_set_var(object_type=self.kind, target=list(range(len(problem.lots))))
        self.made = self.model.add_set_var(object_type=self.kind, target=[])
        stages = self.model.add_object_type(number=len(problem.choices) + 1)
        self.settled = self.model.add_element_var(object_type=stages, target=0)
        stations = self.model.add_object_type(number=len(problem.walk) + 1)  # the last: nowhere yet
        self.here = self.model.add_element_var(object_type=stations, target=len(problem.walk))
        self.walk = self.model.add_int_table(
            [[*row, 0] for row in problem.walk] + [[0] * (len(problem.walk) + 1)]
        )
        self.dials = [self._dial(dial) for dial in problem.dials]
        self.loose = self._loose()
        self.before: list[list[int]] = [[] for _ in problem.lots]
        for a, b in problem.precedence:
            self.before[b].append(a)
        self._settle()
        for lot in range(len(problem.lots)):
            self._make(lot)
        self.model.add_base_case([self.waiting.is_empty(), self.settled == len(problem.choices)])
        self._bound(self.certain, True)
        if optional:
            self._bound(frozenset(range(len(problem.lots))), self.settled == len(problem.choices))

    def _set(self, lots: Any) -> Any:
        return self.model.create_set_const(object_type=self.kind, value=sorted(lots))

    def _dial(self, dial: Dial) -> tuple[Any, Any]:
        """How the dial stands (its last value: holds none), and what moves cost."""
        kind = self.model.add_object_type(number=dial.values + 1)
        held = self.model.add_element_var(
            object_type=kind, target=dial.values if dial.start is None else dial.start
        )
        dear = 10**6  # for moves that do not exist; conditions keep them from being used
        rows = [[dear if paid is None else paid for paid in row] + [0] for row in dial.move]
        return held, self.model.add_int_table([*rows, [*dial.first, 0]])

    def _loose(self) -> frozenset[int]:
        """The lots that may be made at once when that costs nothing: on no dial that holds for mates or whose table a
        detour can beat, and wished neither before nor after another.
        """
        tied = {d for group in self.problem.mates for d in group.held}
        for d, dial in enumerate(self.problem.dials):
            rows = [*dial.move, dial.first]
            values = range(dial.values)
            if any(
                (row[v] or 0) > (row[u] or 0) + (dial.move[u][v] or 0)
                for row in rows
                for u in values
                for v in values
            ):
                tied.add(d)
        walk = self.problem.walk
        if any(
            walk[a][c] > walk[a][b] + walk[b][c]
            for a in range(len(walk))
            for b in range(len(walk))
            for c in range(len(walk))
        ):
            return frozenset()
        wished = {lot for wish in self.problem.wishes for lot in (wish.before, wish.after)}
        grouped = {lot for group in self.problem.mates for lot in group.lots}
        return frozenset(
            n
            for n, lot in enumerate(self.problem.lots)
            if n not in wished | grouped and not tied & lot.needs.keys()
        )

    def _settle(self) -> None:
        """Take an option of each choice; the lots of the others no longer wait."""
        for c, choice in enumerate(self.problem.choices):
            named = frozenset().union(*choice)
            for o, option in enumerate(choice):
                self.model.add_transition(
                    self.dp.Transition(
                        name=f"option {o}",
                        cost=self.dp.IntExpr.state_cost(),
                        preconditions=[self.settled == c],
                        effects=[
                            (self.settled, c + 1),
                            (self.waiting, self.waiting.difference(self._set(named - option))),
                        ],
                    )
                )

    def _make(self, lot: int) -> None:
        """Make the lot, at every combination of values that it accepts."""
        problem, made = self.problem, self.problem.lots[lot]
        ready = [self.settled == len(problem.choices), self.waiting.contains(lot)]
        if self.before[lot]:
            ready.append(self.waiting.isdisjoint(self._set(self.before[lot])))
        held_now: dict[int, list[Any]] = {}
        for group in problem.mates:
            lots = self._set(group.lots)
            running = ~self.made.isdisjoint(lots) & ~self.waiting.isdisjoint(lots)
            for d in group.held:
                held_now.setdefault(d, []).append(running)
        effects = [
            (self.waiting, self.waiting.remove(lot)),
            (self.made, self.made.add(lot)),
            (self.here, made.station),
        ]
        for d, dial in enumerate(problem.dials):
            if not dial.keeps and dial.station != made.station:
                held = self.dials[d][0]
                leaving = self.here == dial.station
                effects.append((held, leaving.if_then_else(self.dp.ElementExpr(dial.values), held + 0)))
                ready += [~(leaving & running) for running in held_now.get(d, ())]
        unmet = self.dp.IntExpr(made.work)
        for wish in problem.wishes:
            if wish.before == lot:
                unmet += self.made.contains(wish.after).if_then_else(wish.price, 0)
        accepted = [
            [v for v in range(problem.dials[d].values) if need.stay >> v & 1]
            for d, need in made.needs.items()
        ]
        for values in product(*accepted):
            cost = unmet + self.walk[self.here, made.station]
            allowed = list(ready)
            free = [self.here == made.station]
            for (d, need), v in zip(made.needs.items(), values, strict=True):
                held, paid = self.dials[d]
                cost += paid[held, v]
                stays = held == v
                free.append(stays)
                barred = [u for u, row in enumerate(problem.dials[d].move) if row[v] is None and u != v]
                if not need.reach >> v & 1:
                    allowed.append(stays)
                else:
                    allowed += [~(held == u) for u in barred]
                allowed += [stays | ~running for running in held_now.get(d, ())]
            settings = [(self.dials[d][0], v) for d, v in zip(made.needs, values, strict=True)]
            self._transition(lot, cost, allowed, effects + settings, forced=False)
            if lot in self.loose:
                self._transition(
                    lot, self.dp.IntExpr(made.work), allowed + free, effects + settings, forced=True
                )

    def _transition(self, lot: int, cost: Any, allowed: list[Any], effects: list[Any], forced: bool) -> None:
        self.model.add_transition(
            self.dp.Transition(
                name=f"lot {lot}",
                cost=cost + self.dp.IntExpr.state_cost(),
                preconditions=allowed,
                effects=effects,
            ),
            forced=forced,
        )

    def _bound(self, lots: frozenset[int], when: Any) -> None:
        """Work, walking to every station and the cheapest move to every value that these lots insist on."""
        problem, dp = self.problem, self.dp
        bound = dp.IntExpr(0)
        for n in sorted(lots):
            if problem.lots[n].work:
                bound += self.waiting.contains(n).if_then_else(problem.lots[n].work, 0)
        nowhere = self.here == len(problem.walk)
        for station in range(len(problem.walk)):
            there = {n for n in lots if problem.lots[n].station == station}
            least = min((row[station] for s, row in enumerate(problem.walk) if s != station), default=0)
            if there and least:
                away = ~(self.here == station) & ~nowhere & ~self.waiting.isdisjoint(self._set(there))
                bound += away.if_then_else(least, 0)
        for d, dial in enumerate(problem.dials):
            held = self.dials[d][0]
            for v in range(dial.values):
                insisting = {
                    n for n in lots if d in problem.lots[n].needs and problem.lots[n].needs[d].stay == 1 << v
                }
                if not insisting:
                    continue
                moves = [row[v] for u, row in enumerate(dial.move) if u != v]
                later = min((paid for paid in moves if paid is not None), default=dial.first[v])
                first = min(later, dial.first[v])
                least = first if not dial.keeps else (held == dial.values).if_then_else(first, later)
                needed = ~(held == v) & ~self.waiting.isdisjoint(self._set(insisting))
                bound += needed.if_then_else(least, 0)
        self.model.add_dual_bound(bound if when is True else when.if_then_else(bound, 0))
