"""A peer: the textbook constraint model, a circuit for each dial over the lots that turn it.

Every lot has a position, and for each dial that it names a node for every value it accepts, one of which is visited. An
arc of the dial's circuit says that its lot is the next to name the dial, and costs the move. A dial that is lost by
leaving its station passes through all lots. The model carries every feature of the problem.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from time import monotonic
from typing import Any

import networkx as nx
from ortools.sat.python import cp_model

from sequencer.solve.problem import Dial, Limits, Lot, Need, Problem
from tests.benchmarks.answer import Answer

UNTOUCHED, LOST = -1, -2
"""Standings besides the values: of a dial that is lost by leaving, as at the start while the work has not been at its
station; and none.
"""

Change = tuple[int, bool]
"""What is paid, and whether the dial is moved or lost."""


def circuit(problem: Problem, limits: Limits) -> Answer | None:
    """The best order the solver finds with both cores in the time left after building the model."""
    begun = monotonic()
    model = _Circuits(problem)
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = max(0.1, limits.seconds - (monotonic() - begun))
    solver.parameters.num_workers = max(2, limits.workers)  # at its best on the two cores of the table
    solver.parameters.random_seed = limits.seed
    status = solver.solve(model.model)
    if status == cp_model.INFEASIBLE:
        return None
    bound = max(0, math.ceil(solver.best_objective_bound - 1e-6))
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return Answer(None, (), bound)
    options = tuple(
        next(o for o, literal in enumerate(choice) if solver.value(literal)) for choice in model.taken
    )
    order = sorted(problem.made(options), key=lambda lot: solver.value(model.position[lot]))
    return Answer(tuple(order), options, bound)


class _Circuits:
    """The model of one problem."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.model = model = cp_model.CpModel()
        count = len(problem.lots)
        self.position = [model.new_int_var(0, count - 1, "") for _ in range(count)]
        model.add_all_different(self.position)
        self.taken = [[model.new_bool_var("") for _ in choice] for choice in problem.choices]
        self.made: list[Any] = [model.new_constant(1)] * count
        for choice, literals in zip(problem.choices, self.taken, strict=True):
            model.add_exactly_one(literals)
            for lot in frozenset().union(*choice):
                self.made[lot] = model.new_bool_var("")
                naming = [literal for option, literal in zip(choice, literals, strict=True) if lot in option]
                model.add(self.made[lot] == sum(naming))
        self.costs: list[Any] = [lot.work * made for lot, made in zip(problem.lots, self.made, strict=True)]
        for a, b in problem.precedence:
            model.add(self.position[a] < self.position[b]).only_enforce_if(self.made[a], self.made[b])
        # without choices everything that comes after is known beforehand, and arcs against it are left out
        ground = nx.DiGraph() if problem.choices else nx.DiGraph(problem.precedence)
        circular = not nx.is_directed_acyclic_graph(ground)
        self.against = set() if circular else {(b, a) for a, b in nx.transitive_closure_dag(ground).edges}
        self.windows = [self._window(sorted(group.lots)) for group in problem.mates]
        for d in range(len(problem.dials)):
            self._dial(d)
        self._walking()
        for wish in problem.wishes:
            unmet = model.new_bool_var("")
            self.costs.append(wish.price * unmet)
            model.add(self.position[wish.before] < self.position[wish.after]).only_enforce_if(
                ~unmet, self.made[wish.before], self.made[wish.after]
            )
        model.minimize(sum(self.costs))

    def _window(self, lots: list[int]) -> tuple[Any, Any]:
        """From the position of the first to that of the last of these mates."""
        count = len(self.problem.lots)
        first, last = self.model.new_int_var(0, count, ""), self.model.new_int_var(-1, count, "")
        for lot in lots:
            self.model.add(first <= self.position[lot]).only_enforce_if(self.made[lot])
            self.model.add(last >= self.position[lot]).only_enforce_if(self.made[lot])
        return first, last

    def _dial(self, d: int) -> None:
        dial = self.problem.dials[d]
        nodes = {lot: list(_standings(self.problem, d, lot)) for lot in range(len(self.problem.lots))}
        begin = LOST if dial.start is None else dial.start if dial.keeps else UNTOUCHED
        windows = [
            window for group, window in zip(self.problem.mates, self.windows, strict=True) if d in group.held
        ]
        self._circuit(
            {lot: values for lot, values in nodes.items() if values},
            begin,
            lambda lot, u, v: _change(
                dial, self.problem.lots[lot], self.problem.lots[lot].needs.get(d), u, v
            ),
            windows,
        )

    def _walking(self) -> None:
        walk = self.problem.walk
        self._circuit(
            {lot: [made.station] for lot, made in enumerate(self.problem.lots)},
            LOST,
            lambda lot, u, v: (0 if u in (v, LOST) else walk[u][v], u != v),
            [],
        )

    def _circuit(
        self,
        nodes: dict[int, list[int]],
        begin: int,
        change: Callable[[int, int, int], Change | None],
        windows: list[tuple[Any, Any]],
    ) -> None:
        """One circuit through one node of each lot made, from the dial's standing `begin` round to it again.

        `change(lot, u, v)`: what it takes to make the lot at v next when the dial stands at u; in `windows` nothing
        may move.
        """
        if not nodes:
            return
        model, position = self.model, self.position
        number = {
            node: n for n, node in enumerate([(lot, v) for lot, values in nodes.items() for v in values], 1)
        }
        arcs: list[Any] = []
        idle = model.new_bool_var("")  # no lot of these is made
        arcs.append((0, 0, idle))
        for lot, values in nodes.items():
            visited = [model.new_bool_var("") for _ in values]
            model.add(sum(visited) == self.made[lot])
            model.add_implication(idle, ~self.made[lot])
            for v, literal in zip(values, visited, strict=True):
                arcs.append((number[lot, v], number[lot, v], ~literal))
                arcs.append((number[lot, v], 0, model.new_bool_var("")))
        for j, v in number:
            sources = [
                (None, begin),
                *(node for node in number if node[0] != j and (node[0], j) not in self.against),
            ]
            for i, u in sources:
                taken = change(j, u, v)
                if taken is None:
                    continue
                cost, moved = taken
                arc = model.new_bool_var("")
                arcs.append((0 if i is None else number[i, u], number[j, v], arc))
                self.costs.append(cost * arc)
                if i is not None:
                    model.add(position[i] < position[j]).only_enforce_if(arc)
                for first, last in windows if moved else ():
                    late = model.new_bool_var("")
                    model.add(position[j] > last).only_enforce_if(arc, late)
                    model.add(position[j] <= first).only_enforce_if(arc, ~late)
        model.add_circuit(arcs)


def _standings(problem: Problem, d: int, lot: int) -> Iterator[int]:
    """How the dial can stand when the lot is made; nothing where the dial's circuit does not pass it."""
    dial, made = problem.dials[d], problem.lots[lot]
    if d in made.needs:
        yield from (v for v in range(dial.values) if made.needs[d].stay >> v & 1)
    elif not dial.keeps:
        yield LOST
        yield from range(dial.values) if made.station == dial.station else (UNTOUCHED,)


def _change(dial: Dial, lot: Lot, need: Need | None, u: int, v: int) -> Change | None:
    """What it takes to come from standing `u` to `v` for a lot that needs this; None where it cannot be done."""
    if not dial.keeps and lot.station != dial.station:
        if u == UNTOUCHED or v == UNTOUCHED:
            return (0, False) if u == v else None
        return (0, u != LOST) if v == LOST else None
    held = dial.start if u == UNTOUCHED else u
    if held == v:
        return 0, False
    if need is None or held is None or not need.reach >> v & 1:
        return None
    paid = dial.first[v] if held == LOST else dial.move[held][v]
    return None if paid is None else (paid, True)
