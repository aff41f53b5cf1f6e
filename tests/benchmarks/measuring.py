"""One measurement: a job, an engine, a process of its own.

The process loads what it needs, then times: seconds are of planning, start-up aside. What a plan costs and whether it
is an order of the job is found here by the same code for the planner and its peers.
"""

from __future__ import annotations

import importlib
import multiprocessing
import os
import pkgutil
import resource
import signal
import tempfile
import time
from collections.abc import Callable
from dataclasses import asdict, dataclass
from multiprocessing.connection import Connection
from pathlib import Path

import sequencer.solve
from sequencer.solve import Impossible, Limits, Outcome, Problem, Progress, solve
from sequencer.solve.one_dial import sequence
from sequencer.solve.price import is_order, price
from sequencer.solve.proof.warm import warm
from tests.benchmarks.answer import Answer, MissingError
from tests.benchmarks.jobs import EXAMPLES, Job, batched_example, known_cost, problem_of
from tests.benchmarks.peers import peer

OURS = "planner"

GRACE_SECONDS = 30.0
"""An engine that takes this much longer than its limit is ended."""


@dataclass
class Row:
    """One measurement. Costs are minutes, or the instance's own unit for the published ones.

    `status`: "proven", "feasible", "no order", "impossible"; "not installed" for a peer whose library is missing;
    "overran", "failed" for one that was ended or died; "WRONG" where the answer contradicts itself or the published
    optimum. `gap` is of the cost, `moving_gap` of the minutes of resets and walks alone where every order has the same
    work and no wishes (else of the cost, too), both in percent; `first_plan` the seconds to the first plan told of.
    Ratios are against the planner on the same job.
    """

    job: str
    engine: str
    limit: float
    status: str = ""
    cost: float | None = None
    bound: float | None = None
    gap: float | None = None
    moving_gap: float | None = None
    seconds: float = 0.0
    cpu_seconds: float = 0.0
    first_plan: float | None = None
    first_plan_cpu: float | None = None
    peak_mb: int = 0
    cost_ratio: float | None = None
    time_ratio: float | None = None
    remark: str = ""

    @property
    def proven(self) -> bool:
        """Whether a plan was found and no other can be cheaper."""
        return self.status == "proven"

    def compare(self, ours: Row) -> None:
        """Fill in the ratios against the planner's row."""
        if self.cost and ours.cost:
            self.cost_ratio = round(self.cost / ours.cost, 3)
        if self.cost or self.bound:
            self.time_ratio = round(self.seconds / max(ours.seconds, 0.001), 1)


def measure(name: str, engine: str, limits: Limits) -> Row:
    """One engine on one job, in a process of its own."""
    context = multiprocessing.get_context("spawn")
    ours, theirs = context.Pipe()
    process = context.Process(target=_run, args=(theirs, name, engine, limits), daemon=False)
    row = Row(name, engine, limits.seconds, "overran", seconds=limits.seconds)
    by_hand = signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for this process, which ends the other
    process.start()
    signal.signal(signal.SIGINT, by_hand)
    theirs.close()
    try:
        ready = ours.recv()  # loaded; the clock starts
        assert ready == "ready"
        if ours.poll((3 if name.startswith("batch ") else 1) * limits.seconds + GRACE_SECONDS):
            row = Row(**ours.recv())
    except EOFError:
        row.status, row.seconds = "failed", 0.0
    finally:
        if process.is_alive():
            process.join(1.0)
            process.kill()
        process.join()
    return row


def _run(answer: Connection, name: str, engine: str, limits: Limits) -> None:
    """Measure and send back the row."""
    row = Row(name, engine, limits.seconds)
    if name.startswith("batch "):
        _measure_batch(row, limits, lambda: answer.send("ready"))
    else:
        problem = problem_of(name)
        _load(engine)
        answer.send("ready")
        measure_problem(row, problem, 2 if Job.read(name) else 1, limits)
    use = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    row.peak_mb = round(sum(each.ru_maxrss for each in use) / 1024)
    answer.send(asdict(row))


def _load(engine: str) -> None:
    """All that the engine imports and compiles, so that loading is not timed."""
    for module in pkgutil.walk_packages(sequencer.solve.__path__, "sequencer.solve."):
        importlib.import_module(module.name)
    importlib.import_module("ortools.sat.python.cp_model")
    if engine == OURS:
        warm()
        sequence.warm()
    else:
        tiny = Job("routed", 3, "plain", 1).problem()
        try:
            peer(engine, tiny, Limits(1.0))
        except MissingError:
            return  # said when it is measured


def measure_problem(row: Row, problem: Problem, unit: int, limits: Limits) -> None:
    """Fill in the row; `unit` cost units make one of the table's."""
    watch = _Watch()
    try:
        if row.engine == OURS:
            found = solve(problem, limits, watch.hear)
            watch.stop(row)
            if isinstance(found, Impossible):
                row.status, row.remark = "impossible", found.why
                return
            answer: Answer | None = Answer(found.order, found.options, found.bound)
            row.remark = found.engine
            claimed = found
        else:
            answer = peer(row.engine, problem, limits)
            watch.stop(row)
            claimed = None
    except (MissingError, TimeoutError) as why:
        watch.stop(row)
        row.status = "not installed" if isinstance(why, MissingError) else "no order"
        row.remark = str(why)
        return
    judge(row, problem, answer, unit, claimed)


def judge(
    row: Row, problem: Problem, answer: Answer | None, unit: int, claimed: Outcome | None = None
) -> None:
    """Price the answer, check that it is an order of the problem, and hold it to the published optimum."""
    bound = answer.bound if answer else 0
    row.bound = bound / unit
    row.status = "no order"
    if answer is None or answer.order is None:
        return
    if not is_order(problem, answer.order, answer.options):
        row.status, row.remark = "WRONG", "not an order of the job"
        return
    priced = price(problem, answer.order)
    if priced is None:
        row.remark = "mates are parted"
        return
    row.cost = priced.cost / unit
    row.status = "proven" if bound >= priced.cost else "feasible"
    row.gap = _percent(priced.cost - bound, priced.cost)
    sure = 0 if problem.choices or problem.wishes else priced.work  # in every order, whatever the bound says
    row.moving_gap = _percent(priced.cost - max(bound, sure), priced.cost - sure)
    known = known_cost(row.job)
    contradiction = bound > priced.cost or (claimed is not None and claimed.cost != priced.cost)
    if contradiction or (known is not None and not bound <= known <= priced.cost):
        row.status = "WRONG"
        row.remark = f"cost {priced.cost}, bound {bound}, published {known}"


def _measure_batch(row: Row, limits: Limits, ready: Callable[[], None]) -> None:
    """The file-level pipeline, from the job file to the plan; times are the least of three runs, as in comparisons of
    times so close to each other the noise of the machine would be taken for a difference.
    """
    from sequencer import load_job, plan

    plan(load_job(EXAMPLES / "board-panel" / "job.toml"), 10.0)  # loads all there is to load
    with tempfile.TemporaryDirectory() as folder:
        path = batched_example(int(row.job.split()[1]), Path(folder))
        ready()
        for _ in range(3):
            watch = _Watch()
            planned = plan(load_job(path), limits.seconds, limits.seed, watch.hear)
            if not row.seconds or watch.seconds < row.seconds:
                watch.stop(row)
    row.status = "proven" if planned.status == "optimal" else "feasible"
    row.cost, row.bound, row.remark = planned.cost_minutes, planned.bound_minutes, planned.engine
    row.gap = _percent(row.cost - row.bound, row.cost)
    row.moving_gap = row.gap  # the rules' preferences are wishes


class _Watch:
    """Seconds, processor seconds, and both at the news of the first plan."""

    def __init__(self) -> None:
        self.begun, self.begun_cpu = time.monotonic(), _processor_seconds()
        self.first: tuple[float, float] | None = None

    def hear(self, news: Progress) -> None:
        """News of the engine."""
        if self.first is None and news.best is not None:
            self.first = self.seconds, self.cpu_seconds

    @property
    def seconds(self) -> float:
        """Since the watch was made."""
        return time.monotonic() - self.begun

    @property
    def cpu_seconds(self) -> float:
        """Of the processor, in the same time; more than the seconds where both cores work."""
        return _processor_seconds() - self.begun_cpu

    def stop(self, row: Row) -> None:
        """Write the times into the row."""
        row.seconds = round(self.seconds, 3)
        row.cpu_seconds = round(self.cpu_seconds, 3)
        row.first_plan, row.first_plan_cpu = row.seconds, row.cpu_seconds
        if self.first is not None:
            row.first_plan, row.first_plan_cpu = round(self.first[0], 3), round(self.first[1], 3)


def _processor_seconds() -> float:
    """Of this process and those it has started and ended."""
    return sum(os.times()[:4])


def _percent(gap: float, of: float) -> float | None:
    return round(100 * max(gap, 0) / of, 2) if of else None
