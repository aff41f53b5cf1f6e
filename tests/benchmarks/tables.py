"""The two tables in a terminal, and the machine they were made on."""

from __future__ import annotations

import os
import platform
from collections.abc import Sequence
from importlib.metadata import PackageNotFoundError, version
from itertools import groupby

from tests.benchmarks.measuring import Row
from tests.benchmarks.reach import Reached

COLUMNS = (
    ("job", 36),
    ("engine", 18),
    ("status", 13),
    ("cost", 9),
    ("bound", 9),
    ("gap %", 6),
    ("of moves %", 10),
    ("seconds", 8),
    ("cpu", 8),
    ("MB", 5),
    ("cost x", 7),
    ("time x", 8),
)
TEXTS = 3
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
    return (
        f"{about['cores']} cores, {about['memory_gb']} GB, {about['system']}, {about['python']}, "
        f"numpy {about['numpy']}, ortools {about['ortools']}, didppy {about['didppy']}; "
        f"load before {about['load_before']}"
    )


def head() -> str:
    """The long table's head."""
    return " ".join(
        f"{title:{width}}" if k < TEXTS else f"{title:>{width}}" for k, (title, width) in enumerate(COLUMNS)
    )


def line(row: Row) -> str:
    """A line of the long table."""
    cells = [row.job, row.engine, row.status]
    cells += [_number(row.cost, ".1f"), _number(row.bound, ".1f"), _number(row.gap, ".1f")]
    cells += [
        _number(row.moving_gap, ".1f"),
        f"{row.seconds:.2f}",
        f"{row.cpu_seconds:.2f}",
        f"{row.peak_mb}",
    ]
    cells += [_number(row.cost_ratio, ".3f"), _number(row.time_ratio, ".1f")]
    text = " ".join(
        f"{cell:{width}}" if k < TEXTS else f"{cell:>{width}}"
        for k, (cell, (_, width)) in enumerate(zip(cells, COLUMNS, strict=True))
    )
    return f"{text}  {row.remark}" if row.status not in ("proven", "feasible") and row.remark else text


def short_table(table: Sequence[Reached]) -> str:
    """The short table: what is asked, then a line for each family of jobs."""
    lines = [
        f"{'reach':10} {'proven':>9} {'median s':>9} {'9 in 10 s':>9} {'worst s':>9} "
        f"{'worst gap of moves %':>21}  holds"
    ]
    for (work, asked), group in groupby(table, key=lambda reached: (reached.work, reached.asked)):
        lines.append(f"{work}: {asked}")
        for one in group:
            if not one.of:
                lines.append("  not measured")
                continue
            proven = f"{one.proven} of {one.of}"
            text = (
                f"  {one.jobs:8} {proven:>9} {_number(one.median, '.2f'):>9} {_number(one.ninth, '.2f'):>9}"
            )
            text += f" {_number(one.worst, '.2f'):>9} {_number(one.worst_gap, '.1f'):>21}"
            lines.append(f"{text}  {'yes' if one.holds else 'NO'}")
            if one.remark:
                lines.append(f"           {one.remark}")
    return "\n".join(lines)


def _number(value: float | None, form: str) -> str:
    return "-" if value is None else format(value, form)
