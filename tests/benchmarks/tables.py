"""The two tables in a terminal, and the machine they were made on."""

from __future__ import annotations

import os
import platform
from collections.abc import Sequence
from importlib.metadata import PackageNotFoundError, version
from itertools import groupby
from textwrap import fill

from tests.benchmarks.measuring import Row
from tests.benchmarks.reach import Reached

WIDE = 80
"""Columns of the narrowest terminal that the tables are made for."""
INDENT = "  "
COLUMNS = (
    ("engine", 18),
    ("status", 13),
    ("cost", 8),
    ("bound", 8),
    ("gap %", 5),
    ("seconds", 7),
    ("MB", 5),
    ("time x", 6),
)
"""What the long table shows of a row, its job on a line of its own above; the JSON has all of it."""
TEXTS = 2
"""The first columns are text, the others numbers."""


def machine() -> dict[str, str | int | float]:
    """Cores, memory in GB, system, Python and the libraries measured; no names of machines."""
    described: dict[str, str | int | float] = {
        "cores": len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1,
        "memory_gb": round(os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") / 2**30, 1),
        "system": f"{platform.system()} {platform.machine()}",
        "python": f"{platform.python_implementation()} {platform.python_version()}",
        "load_before": round(os.getloadavg()[0], 2),
    }
    for package in ("numpy", "ortools", "didppy"):
        try:
            described[package] = version(package)
        except PackageNotFoundError:
            described[package] = "not installed"
    return described


def machine_line() -> str:
    """The machine in words."""
    about = machine()
    return fill(
        f"{about['cores']} cores, {about['memory_gb']} GB, {about['system']}, {about['python']}, "
        f"numpy {about['numpy']}, ortools {about['ortools']}, didppy {about['didppy']}; "
        f"load before {about['load_before']}",
        WIDE,
    )


def head(by_processor: bool = False) -> str:
    """The long table's head; `by_processor`: what is judged, and shown, are processor seconds."""
    titles = [title for title, _ in COLUMNS]
    if by_processor:
        titles[titles.index("seconds")] = "cpu s"
    return f"job\n{_beneath(titles)}"


def line(row: Row, before: Row | None = None, by_processor: bool = False) -> str:
    """A row of the long table, under the name of its job where the row before it is of another one; what is remarked of
    a row without a plan stands below it.
    """
    cells = [row.engine, row.status]
    cells += [_number(row.cost, ".1f"), _number(row.bound, ".1f"), _number(row.moving_gap, ".1f")]
    cells += [f"{row.cpu_seconds if by_processor else row.seconds:.2f}", f"{row.peak_mb}"]
    cells.append(_number(row.time_ratio, ".1f" if (row.time_ratio or 0.0) < 1000 else ".0f"))
    lines = [_beneath(cells)]
    if before is None or before.job != row.job:
        lines.insert(0, row.job)
    if row.status not in ("proven", "feasible") and row.remark:
        lines.append(_wrapped(row.remark, 2 * INDENT))
    return "\n".join(lines)


def _beneath(cells: Sequence[str]) -> str:
    """Cells in their columns, under the name of a job."""
    return INDENT + " ".join(
        f"{cell:{width}}" if k < TEXTS else f"{cell:>{width}}"
        for k, (cell, (_, width)) in enumerate(zip(cells, COLUMNS, strict=True))
    )


def _wrapped(text: str, indent: str = "") -> str:
    return fill(text, WIDE, initial_indent=indent, subsequent_indent=indent or INDENT)


def short_table(table: Sequence[Reached]) -> str:
    """The short table: what is asked, then a line for each family of jobs."""
    lines = [
        f"{'reach':11} {'proven':>9} {'median s':>9} {'9 in 10 s':>9} {'worst s':>9} {'worst gap %':>11}  holds"
    ]
    for (work, asked), group in groupby(table, key=lambda reached: (reached.work, reached.asked)):
        lines.append(_wrapped(f"{work}: {asked}"))
        for one in group:
            if not one.of:
                lines.append("  not measured")
                continue
            proven = f"{one.proven} of {one.of}"
            text = (
                f"  {one.jobs:9} {proven:>9} {_number(one.median, '.2f'):>9} {_number(one.ninth, '.2f'):>9}"
            )
            text += f" {_number(one.worst, '.2f'):>9} {_number(one.worst_gap, '.1f'):>11}"
            lines.append(f"{text}  {'yes' if one.holds else 'NO'}")
            if one.remark:
                lines.append(_wrapped(one.remark, 6 * INDENT))
    return "\n".join(lines)


def _number(value: float | None, form: str) -> str:
    return "-" if value is None else format(value, form)
