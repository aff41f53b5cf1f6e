"""What the planner is measured against: general models of the same problem, and the habits of the bench.

A peer answers with an order and what it claims no order can cost less than; what the order costs and whether it is one
is found out elsewhere, by the same code for all.
"""

from __future__ import annotations

from sequencer.solve.plans.greedy import quick_plan
from sequencer.solve.problem import Limits, Problem
from tests.benchmarks.answer import Answer
from tests.benchmarks.circuit import circuit
from tests.benchmarks.programme import dynamic_programme

MODELS = ("circuit", "dynamic programme")
"""General models, which need time and memory that grow steeply with the job."""

HABITS = ("quick plan", "part by part", "machine by machine")
"""Ways to go about it at once."""

PEERS = (*MODELS, *HABITS)


def peer(name: str, problem: Problem, limits: Limits) -> Answer | None:
    """What the peer of this name arrives at; None where it finds no order and no bound.

    Raises MissingError where the library it is written with is not installed.
    """
    if name == "circuit":
        return circuit(problem, limits)
    if name == "dynamic programme":
        return dynamic_programme(problem, limits)
    if name == "quick plan":
        found = quick_plan(problem)
        return None if found is None else Answer(found.order, found.options)
    return Answer(habit(problem, by_machine=name == "machine by machine"), (0,) * len(problem.choices))


def habit(problem: Problem, by_machine: bool) -> tuple[int, ...]:
    """The first available lot as listed, the first way of every choice; `by_machine`: one at the same station, as long
    as there is any. Mates are not looked after.
    """
    made = problem.made((0,) * len(problem.choices))
    waiting = dict.fromkeys(sorted(made), 0)
    behind: dict[int, list[int]] = {lot: [] for lot in made}
    for a, b in problem.precedence:
        if a in made and b in made:
            waiting[b] += 1
            behind[a].append(b)
    order: list[int] = []
    while waiting:
        free = [lot for lot, count in waiting.items() if count == 0]
        here = [lot for lot in free if order and problem.lots[lot].station == problem.lots[order[-1]].station]
        lot = here[0] if by_machine and here else free[0]
        del waiting[lot]
        order.append(lot)
        for later in behind[lot]:
            waiting[later] -= 1
    return tuple(order)
