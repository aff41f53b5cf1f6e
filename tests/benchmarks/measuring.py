"""One measurement: a job, an engine, a process of its own."""

from __future__ import annotations

import multiprocessing
import resource
import time
from dataclasses import dataclass
from multiprocessing.connection import Connection

from sequencer.solve import Impossible, Limits, Problem, solve
from tests.benchmarks.peers import NotCarriedError, peer
from tests.benchmarks.shop_jobs import FEATURES, shop_job
from tests.solve.published import part_problem, sop_problem

OURS = "planner"
GRACE_SECONDS = 30.0


@dataclass
class Row:
    """One measurement. `cost_ratio` and `time_ratio` are against the planner on the same job."""

    job: str
    engine: str
    status: str
    cost: float | None
    bound: float
    gap_percent: float | None
    seconds: float
    peak_mb: float
    cost_ratio: float | None = None
    time_ratio: float | None = None


def problem_of(name: str) -> Problem:
    """The problem of a job's name."""
    words = name.split()
    if words[0] == "published":
        return part_problem() if words[1] == "part" else sop_problem(words[1])
    named = {"plain": frozenset[str](), "all": frozenset(FEATURES)}
    features = named.get(words[2], frozenset(words[2].split(",")))
    return shop_job(int(words[1]), int(words[3]), features)


def measure(name: str, unit: int, engine: str, limits: Limits) -> Row:
    """One engine on one job, in a process of its own."""
    ours, theirs = multiprocessing.Pipe()
    process = multiprocessing.get_context("spawn").Process(target=_run, args=(theirs, name, engine, limits))
    process.start()
    theirs.close()
    try:
        answered = ours.poll(limits.seconds + GRACE_SECONDS)
        status, cost, bound, seconds, peak = (
            ours.recv() if answered else ("overran", None, 0, limits.seconds, 0.0)
        )
    except EOFError:
        status, cost, bound, seconds, peak = "failed", None, 0, 0.0, 0.0
    if process.is_alive():
        process.terminate()
    process.join()
    gap = None if not cost else round(100 * (cost - bound) / cost, 1)
    return Row(name, engine, status, None if cost is None else cost / unit, bound / unit, gap, seconds, peak)


def _run(answer: Connection, name: str, engine: str, limits: Limits) -> None:
    """Solve and send back (status, cost, bound, seconds, peak MB)."""
    problem = problem_of(name)
    begun = time.monotonic()
    cost: int | None = None
    bound = 0
    status = ""
    try:
        if engine == OURS:
            found = solve(problem, limits)
            if isinstance(found, Impossible):
                status = "impossible"
            else:
                cost, bound = found.cost, found.bound
        else:
            cost, bound = peer(engine, problem, limits)
    except NotCarriedError:
        status = "not carried"
    status = status or ("no order" if cost is None else "proven" if bound >= cost else "feasible")
    seconds = round(time.monotonic() - begun, 3)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    answer.send((status, cost, bound, seconds, round(peak)))
