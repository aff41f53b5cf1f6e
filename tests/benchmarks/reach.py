"""How far the planner reaches: what is asked of each size of work, and what the measurements say.

All figures are computed from rows of the long table; a row that was not proven counts with the seconds it was given.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from math import ceil
from statistics import median

from tests.benchmarks.jobs import Job
from tests.benchmarks.measuring import OURS, Row

LONG = 300.0
"""Seconds that jobs of 400 lots get in a second run, if the first has not proven them."""

QUICK = ("ESC07", "ESC11", "ESC12", "ESC25", "ESC47", "br17.10", "br17.12")
HEAVY = ("ft53.4", "ry48p.4", "rbg109a")
BATCHES = (1, 10, 100, 1000)
SAME = 1.5
"""Times between the slowest and the quickest batch that still count as the same time (timing varies that much)."""

FACTOR = 1000
"""How much quicker than the circuit model a proof is asked to be at 40 lots."""


@dataclass(frozen=True)
class Reached:
    """One line of the short table; `jobs` is the family of its generated jobs, "batches" or "published". Seconds are
    None where nothing was measured, and so is `holds`; `worst_gap` is of the rows' `moving_gap`.
    """

    work: str
    asked: str
    jobs: str
    proven: int
    of: int
    median: float | None
    ninth: float | None
    worst: float | None
    worst_gap: float | None
    holds: bool | None
    remark: str = ""


@dataclass(frozen=True)
class Line:
    """What is asked of some work: `takes` picks its rows by job name, `holds` judges them."""

    work: str
    asked: str
    takes: Callable[[str], bool]
    holds: Callable[[Sequence[Row]], bool]
    remark: Callable[[Sequence[Row]], str] = lambda rows: ""


def reach(rows: Sequence[Row], by_processor: bool = False) -> list[Reached]:
    """The short table: a line for each kind of work, apart for each family of generated jobs measured, for batches and
    for published jobs.

    `by_processor`: judged by processor seconds, for a machine that is busy with other work.
    """
    if by_processor:
        rows = [replace(row, seconds=row.cpu_seconds, first_plan=row.first_plan_cpu) for row in rows]
    table: list[Reached] = []
    for line in LINES:
        mine = [row for row in rows if row.engine == OURS and line.takes(row.job)]
        table += [_reached(line, jobs, some) for jobs, some in _by_family(mine)]
    return [*table, *_against_circuit(rows)]


def _by_family(rows: Sequence[Row]) -> Iterator[tuple[str, list[Row]]]:
    """The rows of each family, of batches and of published jobs; one empty group if there are none at all."""
    groups: dict[str, list[Row]] = {}
    for row in rows:
        family = row.job.split()[0]
        groups.setdefault("batches" if family == "batch" else family, []).append(row)
    yield from groups.items() or [("", [])]


def _short(rows: Sequence[Row]) -> list[Row]:
    """The rows without the long second runs."""
    return [row for row in rows if row.limit < LONG] or list(rows)


def _reached(line: Line, jobs: str, rows: Sequence[Row]) -> Reached:
    short = _short(rows)
    seconds = [row.seconds for row in short]
    gaps = [row.moving_gap for row in short if row.moving_gap is not None]
    return Reached(
        work=line.work,
        asked=line.asked,
        jobs=jobs,
        proven=len({row.job for row in rows if row.proven}),
        of=len({row.job for row in rows}),
        median=median(seconds) if seconds else None,
        ninth=ninth(seconds) if seconds else None,
        worst=max(seconds, default=None),
        worst_gap=max(gaps, default=None),
        holds=line.holds(rows) if rows else None,
        remark=line.remark(rows) if rows else "",
    )


def ninth(seconds: Sequence[float]) -> float:
    """The least of these within which nine in ten lie (nearest rank)."""
    return sorted(seconds)[ceil(0.9 * len(seconds)) - 1]


def _lots(least: int, most: int) -> Callable[[str], bool]:
    """Picks generated jobs of so many lots, without those of a said number of choices."""

    def takes(name: str) -> bool:
        job = Job.read(name)
        return job is not None and least <= job.lots <= most and "-choices" not in job.kind

    return takes


def _choices(name: str) -> bool:
    job = Job.read(name)
    return (
        job is not None
        and 100 <= job.lots <= 130
        and {"12-choices", "ranges", "stops"} <= set(job.kind.split(","))
    )


def _published(*names: str) -> Callable[[str], bool]:
    return lambda name: name in {f"published {each}" for each in names}


def _proven(rows: Sequence[Row], within: float) -> bool:
    return all(row.proven and row.seconds <= within for row in rows)


def _first(rows: Sequence[Row]) -> float:
    """Seconds to the slowest first plan; without end where there is none."""
    return max(float("inf") if row.cost is None or row.first_plan is None else row.first_plan for row in rows)


def _gap(rows: Sequence[Row]) -> float:
    """The worst gap; without end where there is no plan."""
    return max((float("inf") if row.moving_gap is None else row.moving_gap for row in rows), default=0.0)


def _medium(rows: Sequence[Row]) -> bool:
    seconds = [row.seconds for row in rows]
    return _proven(rows, 60) and median(seconds) <= 2 and ninth(seconds) <= 10


def _large(rows: Sequence[Row]) -> bool:
    proven = [row for row in rows if row.proven and row.seconds <= 60]
    return 10 * len(proven) >= 7 * len(rows) and _gap([row for row in rows if row not in proven]) <= 2


def _four_hundred(rows: Sequence[Row]) -> bool:
    short = _short(rows)
    proven = {row.job for row in rows if row.proven and row.seconds <= LONG}
    return _first(short) <= 1 and _gap(short) <= 4 and 3 * len(proven) >= len({row.job for row in rows})


def _thousand(rows: Sequence[Row]) -> bool:
    return _first(rows) <= 5 and _gap(rows) <= 8 and max(row.peak_mb for row in rows) < 2048


def _size(rows: Sequence[Row]) -> str:
    return f"first plan {_first(_short(rows)):.2f} s at worst, memory up to {max(row.peak_mb for row in rows)} MB"


def _over(rows: Sequence[Row]) -> float:
    """The most seconds that a run took beyond its limit."""
    return max(row.seconds - row.limit for row in rows)


def _spread(rows: Sequence[Row]) -> float:
    return max(row.seconds for row in rows) / max(0.001, min(row.seconds for row in rows))


LINES = (
    Line(
        "up to 60 lots",
        "all proven, half of them within 0.2 s, each within 3 s",
        _lots(1, 60),
        lambda rows: _proven(rows, 3) and median(row.seconds for row in rows) <= 0.2,
    ),
    Line(
        "80 to 160 lots",
        "all proven, half of them within 2 s, nine in ten within 10 s, each within 60 s",
        _lots(80, 160),
        _medium,
    ),
    Line(
        "200 to 250 lots",
        "seven in ten proven within 60 s, a gap of at most 2 % for the others",
        _lots(200, 250),
        _large,
    ),
    Line(
        "400 lots",
        "a plan within 1 s, a gap of at most 4 % after 60 s, a third proven within 300 s",
        _lots(400, 400),
        _four_hundred,
        _size,
    ),
    Line(
        "1000 lots",
        "a plan within 5 s, a gap of at most 8 % after 60 s, less than 2 GB",
        _lots(1000, 1000),
        _thousand,
        _size,
    ),
    Line(
        "12 choices, 100 to 130 lots, ranges, stops",
        "each proven within 10 s",
        _choices,
        lambda rows: _proven(rows, 10),
    ),
    Line(
        "one job, batches of 1 to 1000",
        f"proven in the same time whatever the batch (at most {SAME:g} times the quickest)",
        lambda name: name.startswith("batch "),
        lambda rows: all(row.proven for row in rows) and _spread(rows) <= SAME,
        lambda rows: f"slowest batch {_spread(rows):.2f} times the quickest",
    ),
    Line(
        "published sequences, easier: " + ", ".join(QUICK),
        "each proven within 5 s",
        _published(*QUICK),
        lambda rows: _proven(rows, 5),
    ),
    Line(
        "published sequences, harder: " + ", ".join(HEAVY),
        "each proven within 30 s",
        _published(*HEAVY),
        lambda rows: _proven(rows, 30),
    ),
    Line(
        "published process-planning part",
        "proven within 5 s",
        _published("part"),
        lambda rows: _proven(rows, 5),
    ),
    Line(
        "everything measured",
        "the time limit kept to within a second, no answer wrong",
        lambda name: True,
        lambda rows: _over(rows) <= 1 and not {"WRONG", "failed", "overran"} & {row.status for row in rows},
        lambda rows: f"at most {max(0.0, _over(rows)):.1f} s beyond the limit",
    ),
)


def _against_circuit(rows: Sequence[Row]) -> Iterator[Reached]:
    """The planner against the circuit model on the jobs of 40 lots that both were given."""
    takes = _lots(40, 40)
    theirs = {row.job: row for row in rows if row.engine == "circuit" and takes(row.job)}

    def times(row: Row) -> float:
        return theirs[row.job].seconds / max(row.seconds, 0.001)

    def holds(mine: Sequence[Row]) -> bool:
        return all(row.proven and (not theirs[row.job].proven or times(row) >= FACTOR) for row in mine)

    def remark(mine: Sequence[Row]) -> str:
        done = sum(theirs[row.job].proven for row in mine)
        limit = max(theirs[row.job].limit for row in mine)
        ratios = [times(row) for row in mine]
        return (
            f"the circuit model proves {done} of {len(mine)} within {limit:g} s; its time is {min(ratios):.0f} to "
            f"{max(ratios):.0f} times ours, counted to its limit where it is not done"
        )

    line = Line(
        "40 lots, against the circuit model",
        f"proven {FACTOR} times quicker, or the circuit model not done within its time",
        takes,
        holds,
        remark,
    )
    both = [row for row in rows if row.engine == OURS and row.job in theirs]
    for jobs, mine in _by_family(both):
        yield _reached(line, jobs, mine)
