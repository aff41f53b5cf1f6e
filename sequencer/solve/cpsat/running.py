"""The solver at work, within its time and open to a stop by hand."""

from __future__ import annotations

import atexit
import threading
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from math import isfinite
from typing import Any

from ortools.sat.python import cp_model

from sequencer.solve.clock import Clock, Stopped
from sequencer.solve.cpsat.model import Runs
from sequencer.solve.problem import Limits, Progress

POLL_SECONDS = 0.05

GRACE_SECONDS = 0.5
"""How long the solver may take to stop when told to; then it is left to itself, until the process ends."""


@dataclass
class Answer:
    """What the solver said: `status` as it names it, the last order with the options taken, the bound."""

    status: str = "UNKNOWN"
    found: tuple[tuple[int, ...], tuple[int, ...]] | None = None
    cost: int | None = None
    bound: int = 0


def over(clock: Clock) -> bool:
    """Whether the time is spent, or somebody asked to stop."""
    try:
        clock.tick()
    except Stopped:
        return True
    return clock.by_hand


def run(model: Runs, limits: Limits, clock: Clock, progress: Callable[[Progress], None]) -> Answer:
    """Solve until the clock runs out or somebody asks to stop, and tell of what is found on the way.

    The solver runs in a thread of its own, so that this one hears of a signal and can ask whether to stop.
    """
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = max(0.01, clock.until - clock.begun - clock.seconds)
    solver.parameters.random_seed = limits.seed
    solver.parameters.num_workers = limits.workers
    solver.parameters.catch_sigint_signal = (
        False  # its own handler aborts the process, the solver being in a thread
    )
    answer = Answer()

    class Listener(cp_model.CpSolverSolutionCallback):
        def on_solution_callback(self) -> None:
            answer.found = model.order(self.value)
            answer.cost = round(self.objective_value)
            hear(self.best_objective_bound)

    def hear(bound: float) -> None:
        if isfinite(bound):
            answer.bound = max(answer.bound, -(-round(bound * 1000) // 1000))

    listener = Listener()
    solver.best_bound_callback = hear
    status: list[Any] = []
    thread = threading.Thread(
        target=lambda: status.append(solver.solve(model.frame.model, listener)),
        daemon=True,
        name="constraint model",
    )
    told: tuple[int | None, int] = (None, 0)
    stop_at: float | None = None
    try:
        thread.start()
        while thread.is_alive() and (stop_at is None or clock.seconds < stop_at + GRACE_SECONDS):
            thread.join(POLL_SECONDS)
            if told != (answer.cost, answer.bound):
                told = (answer.cost, answer.bound)
                progress(Progress(clock.seconds, *told))
            if stop_at is None and over(clock):
                stop_at = clock.seconds
            if stop_at is not None and thread.is_alive():
                solver.stop_search()
    finally:  # also where somebody asks to stop once more, meanwhile
        if thread.is_alive():
            atexit.register(_await, thread, solver)
    if status:
        answer.status = solver.status_name(status[0])
        if answer.status != "INFEASIBLE":
            hear(solver.best_objective_bound)
    return answer


def _await(thread: threading.Thread, solver: cp_model.CpSolver) -> None:
    """Wait for a solver left to itself before the process ends: a thread ended amid its work would abort the process,
    and what it had to say by its exit code would be lost. So an interrupt changes nothing here; the solver's own time
    ends the wait at the latest.
    """
    while thread.is_alive():
        with suppress(KeyboardInterrupt):
            solver.stop_search()
            thread.join(POLL_SECONDS)
