"""Measure the planner and its peers: `python -m tests.benchmarks` from the root of a clone.

Prints a long table, one line for each job and engine, and a short one that holds the planner to what is asked of it.
Every measurement runs in a process of its own, so that its peak memory is its own and an engine that overruns is ended;
seconds are of planning, start-up aside. Ctrl-C prints the tables of what was measured so far. Without options
everything is measured, which takes hours where little is proven.
"""

from __future__ import annotations

import argparse
import json
import signal
import sys
from collections.abc import Iterator, Sequence
from dataclasses import asdict, replace
from typing import Any

from sequencer.solve import Limits
from tests.benchmarks.jobs import Job
from tests.benchmarks.measuring import OURS, Row, measure
from tests.benchmarks.peers import MODELS, PEERS
from tests.benchmarks.reach import BATCHES, HEAVY, LONG, QUICK, reach
from tests.benchmarks.shop_jobs import FAMILIES, FEATURES
from tests.benchmarks.tables import head, line, machine, machine_line, short_table
from tests.solve.published import ABSENT, THERE

SIZES = (20, 40, 60, 80, 120, 160, 200, 250, 400, 1000)
KINDS = ("plain", "ranges,stops", "choices", "tables,mates", "all")
CHOICE_KIND = "12-choices,ranges,stops"
CHOICE_SIZES = (100, 110, 120, 130)


def main(arguments: Sequence[str] | None = None) -> None:
    """Run what the options ask for, print the tables, write the JSON."""
    options = _options(arguments)
    names = list(_names(options))
    if options.list:
        print("\n".join(names))
        return
    print(machine_line())
    print(head(), flush=True)
    rows: list[Row] = []
    try:
        earlier = _earlier(options.join)
        for name in names:
            _measure(name, options, rows, [row for row in earlier if row.job == name])
    except KeyboardInterrupt:
        print("stopped: what follows is of the measurements so far", file=sys.stderr)
    print()
    if options.clock == "cpu":
        print("judged by processor seconds:")
    print(short_table(reach(rows, options.clock == "cpu")), flush=True)
    if options.json:
        _write(options, rows)


def _measure(name: str, options: argparse.Namespace, rows: list[Row], earlier: list[Row]) -> None:
    """The planner on a job, then the peers, those measured earlier from there; a row for each."""
    limits = Limits(options.time_limit, options.seed, options.workers)
    ours: Row | None = None
    job = Job.read(name)
    lots = job.lots if job is not None else 0
    if not options.only_peers:
        ours = _take(measure(name, OURS, limits), None, rows)
        if lots == 400 and options.long and not ours.proven:
            _take(measure(name, OURS, replace(limits, seconds=LONG)), None, rows)
    for engine in () if name.startswith("batch ") else options.peers:
        known = next((row for row in earlier if row.engine == engine), None)
        needed = not options.reach or (engine == "circuit" and lots == 40)
        if needed and (known or engine not in MODELS or lots <= options.model_lots):
            _take(known or measure(name, engine, limits), ours, rows)


def _take(row: Row, ours: Row | None, rows: list[Row]) -> Row:
    """Compare, keep and print a measurement."""
    if ours is not None:
        row.compare(ours)
    rows.append(row)
    print(line(row), flush=True)
    return row


def _earlier(file: str | None) -> list[Row]:
    """The peers' rows of an earlier run's JSON."""
    if file is None:
        return []
    with open(file, encoding="utf-8") as opened:
        return [row for row in (Row(**each) for each in json.load(opened)["rows"]) if row.engine != OURS]


def _names(options: argparse.Namespace) -> Iterator[str]:
    """The names of the jobs asked for."""
    for size in options.sizes:
        for family in options.families:
            for kind in options.kinds:
                for seed in options.seeds:
                    yield Job(family, size, kind, seed).name
    for size in options.choice_sizes:
        for family in options.families:
            for seed in options.seeds:
                yield Job(family, size, CHOICE_KIND, seed).name
    for batch in options.batches:
        yield f"batch {batch}"
    if options.published and not THERE:
        print(f"published instances skipped: {ABSENT}", file=sys.stderr)
        return
    for name in options.published:
        yield f"published {name}"


def _write(options: argparse.Namespace, rows: list[Row]) -> None:
    asked = {key: value for key, value in vars(options).items() if key not in ("json", "join", "list")}
    document: dict[str, Any] = {
        "machine": machine(),
        "options": asked,
        "rows": [asdict(row) for row in rows],
        "reach": [asdict(reached) for reached in reach(rows, options.clock == "cpu")],
    }
    text = json.dumps(document, indent=1)
    if options.json == "-":
        print(text)
        return
    with open(options.json, "w", encoding="utf-8") as file:
        file.write(text + "\n")


def _kind(text: str) -> str:
    try:
        Job("routed", 1, text, 1).features()
    except ValueError as wrong:
        raise argparse.ArgumentTypeError(str(wrong)) from None
    return text


def _options(arguments: Sequence[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        prog="python -m tests.benchmarks",
        description=__doc__,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        epilog="Options that take several values may be given none, to leave their part out.",
    )
    add = parser.add_argument
    add("--sizes", type=int, nargs="*", default=list(SIZES), help="lots of the generated jobs")
    add("--seeds", type=int, nargs="*", default=[1, 2], help="one job per size, family, kind and seed")
    add("--families", nargs="*", default=list(FAMILIES), choices=FAMILIES, help="families of generated jobs")
    add(
        "--kinds",
        type=_kind,
        nargs="*",
        default=list(KINDS),
        help=f"plain, all, or features with commas between them: {', '.join(FEATURES)}",
    )
    add(
        "--choice-sizes",
        type=int,
        nargs="*",
        default=list(CHOICE_SIZES),
        help="lots of the jobs with 12 choices, ranges and stops",
    )
    add("--batches", type=int, nargs="*", default=list(BATCHES), help="batches of one example job")
    add(
        "--published",
        nargs="*",
        default=[*QUICK, *HEAVY, "part"],
        choices=[*QUICK, *HEAVY, "part"],
        help="published instances",
    )
    add("--peers", nargs="*", default=list(PEERS), choices=PEERS, help="peers to measure too")
    add("--only-peers", action="store_true", help="leave the planner out")
    add(
        "--model-lots",
        type=int,
        default=40,
        help="most lots that the general models among the peers are given",
    )
    add("--time-limit", type=float, default=60.0, help="seconds for each measurement")
    add(
        "--long",
        action=argparse.BooleanOptionalAction,
        default=True,
        help=f"give jobs of 400 lots {LONG:g} s in a second run",
    )
    add(
        "--clock",
        choices=("wall", "cpu"),
        default="wall",
        help="what the short table is judged by; cpu on a machine busy with other work (limits are of the wall clock)",
    )
    add("--seed", type=int, default=0, help="seed of the engines")
    add("--workers", type=int, default=1, help="workers of the planner")
    add(
        "--reach",
        action="store_true",
        help="measure only what the short table needs: of the peers the circuit model at 40 lots",
    )
    add("--join", metavar="FILE", help="take the peers that an earlier run wrote as JSON from there")
    add("--list", action="store_true", help="print the names of the jobs and measure nothing")
    add("--json", help="write both tables as JSON to this file (- for standard output)")
    return parser.parse_args(arguments)


if __name__ == "__main__":
    signal.signal(signal.SIGTERM, signal.default_int_handler)  # ended from outside is as good as Ctrl-C
    main()
