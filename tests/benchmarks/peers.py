"""What the planner is measured against: general models of the same problem, and the habits of the bench.

The general models carry what their names promise and no more: one value to each lot, no choices, no mates, no dial
that is lost by leaving. A problem with more than that raises `NotCarriedError`.
"""

from __future__ import annotations

from typing import Any

from sequencer.solve.greedy import quick_plan
from sequencer.solve.price import price
from sequencer.solve.problem import Limits, Outcome, Problem

PEERS = ("circuit", "dynamic programme", "quick plan", "part by part", "machine by machine")


class NotCarriedError(Exception):
    """The peer's model cannot say this problem."""


def peer(name: str, problem: Problem, limits: Limits) -> tuple[int | None, int]:
    """Cost and bound that the peer of this name arrives at; the cost is None where it finds no order."""
    if name == "circuit":
        return circuit(problem, limits)
    if name == "dynamic programme":
        return dynamic_programme(problem, limits)
    if name == "quick plan":
        return _worth(quick_plan(problem)), 0
    priced = price(problem, habit(problem, by_machine=name == "machine by machine"))
    return (None if priced is None else priced.cost), 0


def _worth(outcome: Outcome | None) -> int | None:
    return None if outcome is None else outcome.cost


def habit(problem: Problem, by_machine: bool) -> tuple[int, ...]:
    """The first available lot as listed; `by_machine`: one at the same station, as long as there is any."""
    made = problem.made(tuple(0 for _ in problem.choices))
    waiting = {lot: sum(b == lot and a in made for a, b in problem.precedence) for lot in made}
    order: list[int] = []
    while waiting:
        free = sorted(lot for lot, count in waiting.items() if count == 0)
        here = [lot for lot in free if order and problem.lots[lot].station == problem.lots[order[-1]].station]
        lot = here[0] if by_machine and here else free[0]
        del waiting[lot]
        order.append(lot)
        for a, b in problem.precedence:
            if a == lot and b in waiting:
                waiting[b] -= 1
    return tuple(order)


def _plain(problem: Problem) -> tuple[list[dict[int, int]], list[Any]]:
    """Each lot's one value on each dial it names, walking added as the last dial; and the dials' tables.

    A table is (first cost of each value, from-to costs, start or None).
    """
    if problem.choices or problem.mates or problem.wishes or not all(dial.keeps for dial in problem.dials):
        raise NotCarriedError
    values = []
    for lot in problem.lots:
        if any(need.stay.bit_count() != 1 for need in lot.needs.values()):
            raise NotCarriedError
        at = {d: need.stay.bit_length() - 1 for d, need in lot.needs.items()}
        values.append({**at, len(problem.dials): lot.station})
    tables: list[Any] = [(dial.first, dial.move, dial.start) for dial in problem.dials]
    tables.append(((0,) * len(problem.walk), problem.walk, None))
    return values, tables


def circuit(problem: Problem, limits: Limits) -> tuple[int | None, int]:
    """The textbook constraint model: a circuit per dial over the lots that name it, positions, arc costs."""
    from ortools.sat.python import cp_model

    values, tables = _plain(problem)
    model = cp_model.CpModel()
    count = len(problem.lots)
    position = [model.new_int_var(0, count - 1, "") for _ in range(count)]
    model.add_all_different(position)
    for a, b in problem.precedence:
        model.add(position[a] < position[b])
    costs: list[Any] = []
    for d, (first, move, start) in enumerate(tables):
        mine = {lot: at[d] for lot, at in enumerate(values) if d in at}
        if not mine:
            continue
        arcs = []
        for i, u in mine.items():
            begin, end = model.new_bool_var(""), model.new_bool_var("")
            arcs += [(count, i, begin), (i, count, end)]
            costs.append((first[u] if start is None else move[start][u]) * begin)
            for j, v in mine.items():
                if i != j:
                    arc = model.new_bool_var("")
                    arcs.append((i, j, arc))
                    costs.append(move[u][v] * arc)
                    model.add(position[i] < position[j]).only_enforce_if(arc)
        model.add_circuit(arcs)
    work = sum(lot.work for lot in problem.lots)
    model.minimize(sum(costs) + work)
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = limits.seconds
    solver.parameters.num_workers = max(2, limits.workers)  # at its best on the two cores of the table
    solver.parameters.random_seed = limits.seed
    status = solver.solve(model)
    found = status in (cp_model.OPTIMAL, cp_model.FEASIBLE)
    return (round(solver.objective_value) if found else None), max(0, round(solver.best_objective_bound))


def dynamic_programme(problem: Problem, limits: Limits) -> tuple[int | None, int]:
    """Domain-independent dynamic programming: state (lots made, value of each dial), complete anytime beam search."""
    try:
        import didppy
    except ImportError as missing:
        raise NotCarriedError from missing
    values, tables = _plain(problem)
    model = didppy.Model(maximize=False, float_cost=False)
    lots = model.add_object_type(number=len(problem.lots))
    made = model.add_set_var(object_type=lots, target=[])
    everything = model.create_set_const(object_type=lots, value=list(range(len(problem.lots))))
    held, paid = [], []
    for first, move, start in tables:
        size = len(first)
        kind = model.add_object_type(number=size + 1)  # the last value: holds none
        held.append(model.add_element_var(object_type=kind, target=size if start is None else start))
        paid.append(model.add_int_table([[*row, 0] for row in move] + [[*first, 0]]))
    before: list[list[int]] = [[] for _ in problem.lots]
    for a, b in problem.precedence:
        before[b].append(a)
    for lot, at in enumerate(values):
        cost = sum((paid[d][held[d], v] for d, v in at.items()), start=didppy.IntExpr(problem.lots[lot].work))
        needed = model.create_set_const(object_type=lots, value=before[lot])
        model.add_transition(
            didppy.Transition(
                name=str(lot),
                cost=cost + didppy.IntExpr.state_cost(),
                preconditions=[~made.contains(lot), needed.issubset(made)],
                effects=[(made, made.add(lot)), *((held[d], v) for d, v in at.items())],
            )
        )
    model.add_base_case([everything.issubset(made)])
    model.add_dual_bound(0)
    solution = didppy.CABS(model, time_limit=limits.seconds, quiet=True).search()
    cost = None if solution.cost is None else int(solution.cost)
    return cost, int(cost if solution.is_optimal else solution.best_bound or 0)
