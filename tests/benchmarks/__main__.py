"""Measure the planner and its peers: `python -m tests.benchmarks` from the root of a clone.

Every measurement runs in a process of its own, so that its peak memory is its own and a peer that overruns is ended.
Costs are minutes of resets, walks and work for the generated jobs, the instance's own unit for the published ones.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterator
from dataclasses import asdict

from sequencer.solve import Limits
from tests.benchmarks.measuring import OURS, Row, measure
from tests.benchmarks.peers import PEERS
from tests.solve.published import FOLDER, OPTIMA

SIZES = (20, 40, 80, 120, 200, 400, 1000)


def main() -> None:
    """Run what the options ask for, print the table, write the JSON."""
    options = _options()
    limits = Limits(options.time_limit, options.seed, 1)
    rows: list[Row] = []
    _print_head()
    for name, unit in _jobs(options):
        ours: Row | None = None
        for engine in (OURS, *options.peers):
            row = measure(name, unit, engine, limits)
            if ours is None:
                ours = row
            elif ours.cost and row.cost:
                row.cost_ratio = round(row.cost / ours.cost, 3)
                row.time_ratio = round(row.seconds / max(ours.seconds, 0.001), 1)
            rows.append(row)
            _print_row(row)
    if options.json:
        text = json.dumps({"time_limit": options.time_limit, "rows": [asdict(row) for row in rows]}, indent=1)
        if options.json == "-":
            print(text)
        else:
            with open(options.json, "w", encoding="utf-8") as file:
                file.write(text + "\n")


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks", description=__doc__)
    parser.add_argument(
        "--sizes", type=int, nargs="*", default=list(SIZES), help="lots of the generated jobs"
    )
    parser.add_argument(
        "--seeds", type=int, nargs="*", default=[1, 2], help="one job per size, kind and seed"
    )
    parser.add_argument(
        "--features", nargs="*", default=["plain", "ranges,stops", "all"], help="kinds of job"
    )
    parser.add_argument("--published", nargs="*", default=[*OPTIMA, "part"], help="published instances")
    parser.add_argument("--peers", nargs="*", default=list(PEERS), choices=PEERS, help="peers to measure too")
    parser.add_argument("--time-limit", type=float, default=60.0, help="seconds for each measurement")
    parser.add_argument("--seed", type=int, default=0, help="seed of the engines")
    parser.add_argument("--json", help="write the table as JSON to this file (- for standard output)")
    return parser.parse_args()


def _jobs(options: argparse.Namespace) -> Iterator[tuple[str, int]]:
    """The names of the jobs, and how many cost units make the unit of the table."""
    for size in options.sizes:
        for kind in options.features:
            for seed in options.seeds:
                yield f"shop {size} {kind} {seed}", 2
    if options.published and not FOLDER.is_dir():
        print("published instances skipped: they are not beside the clone", file=sys.stderr)
        return
    for name in options.published:
        yield f"published {name}", 1


def _print_head() -> None:
    print(f"{'job':28} {'engine':18} {'status':11} {'cost':>8} {'bound':>8} {'gap %':>6}", end=" ")
    print(f"{'seconds':>8} {'MB':>5} {'cost x':>7} {'time x':>8}", flush=True)


def _print_row(row: Row) -> None:
    def show(value: float | None, form: str) -> str:
        return "-" if value is None else format(value, form)

    print(
        f"{row.job:28} {row.engine:18} {row.status:11} {show(row.cost, '.1f'):>8} {row.bound:8.1f}", end=" "
    )
    print(f"{show(row.gap_percent, '.1f'):>6} {row.seconds:8.2f} {row.peak_mb:5.0f}", end=" ")
    print(f"{show(row.cost_ratio, '.3f'):>7} {show(row.time_ratio, '.1f'):>8}", flush=True)


if __name__ == "__main__":
    main()
