"""Measure the planner and its peers: `python -m tests.benchmarks` from the root
of a clone.

Prints a long table, under each job a line for each engine, and a short one that
holds the planner to what is asked of it. Gaps are in percent of the minutes of
resets and walks, of all minutes where there are choices or wishes. "time x":
times the seconds of the planner. Every measurement runs in a process of its
own, so that its peak memory is its own and an engine that overruns is ended;
seconds are of planning, start-up aside. Ctrl-C prints the tables of what was
measured so far. Without options everything is measured, which takes hours where
little is proven.
"""

from __future__ import annotations

import argparse
import json
import signal
import sys
import tempfile
from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict, replace
from functools import partial
from math import inf
from pathlib import Path
from typing import Any

from sequencer import load_job
from sequencer.diagnostics import InputError
from sequencer.files.output import Output, demand_writable, write_whole
from sequencer.solve import Limits
from tests.benchmarks.jobs import Job, batched_example
from tests.benchmarks.measuring import OURS, Row, measure
from tests.benchmarks.peers import MODELS, PEERS
from tests.benchmarks.reach import BATCHES, HEAVY, LONG, QUICK, reach
from tests.benchmarks.shop_jobs import FAMILIES, FEATURES
from tests.benchmarks.tables import head, line, machine, machine_line, short_table
from tests.solve.published import ABSENT, THERE

SIZES = (20, 40, 60, 80, 120, 160, 200, 250, 400, 1000)
KINDS = ("plain", "ranges,stops", "choices", "tables,mates", "ranges,stops,tables,mates,choices", "all")
CHOICE_KIND = "12-choices,ranges,stops"
CHOICE_SIZES = (100, 110, 120, 130)


def main(arguments: Sequence[str] | None = None) -> None:
    """Run what the options ask for, print the tables, write the JSON."""
    options = _options(arguments)
    names = list(_names(options))
    if options.list:
        print("\n".join(names))
        return
    rows: list[Row] = []
    show = _shower(options)
    show(machine_line())
    show(head(options.clock == "cpu"))
    try:
        for name in names:
            _measure(name, options, rows, [row for row in options.join if row.job == name])
    except KeyboardInterrupt:
        print("stopped: what follows is of the measurements so far", file=sys.stderr)
    show("")
    if options.clock == "cpu":
        show("judged by processor seconds:")
    show(short_table(reach(rows, options.clock == "cpu")))
    if options.json:
        _write(options, rows)


def _shower(options: argparse.Namespace) -> Callable[[str], None]:
    """What prints the tables: to standard error where standard output is for the JSON."""
    return partial(print, file=sys.stderr if options.json == "-" else sys.stdout, flush=True)


def _measure(name: str, options: argparse.Namespace, rows: list[Row], earlier: list[Row]) -> None:
    """The planner on a job, then the peers, those measured earlier from there; a row for each."""
    limits = Limits(options.time_limit, options.seed, options.workers)
    show = _shower(options)

    def take(row: Row, ours: Row | None) -> Row:
        """Compare, keep and print a measurement."""
        if ours is not None:
            row.compare(ours)
        show(line(row, rows[-1] if rows else None, options.clock == "cpu"))
        rows.append(row)
        return row

    ours: Row | None = None
    job = Job.read(name)
    lots = job.lots if job is not None else 0
    if not options.only_peers:
        ours = take(measure(name, OURS, limits), None)
        if lots == 400 and options.long and not ours.proven:
            take(measure(name, OURS, replace(limits, seconds=LONG)), None)
    for engine in () if name.startswith("batch ") else options.peers:
        known = next((row for row in earlier if row.engine == engine), None)
        needed = not options.reach or (engine == "circuit" and lots == 40)
        if needed and (known or engine not in MODELS or lots <= options.model_lots):
            take(known or measure(name, engine, limits), ours)


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
    try:
        write_whole(options.json, text + "\n")
    except InputError as wrong:
        sys.exit(f"{options.json}: {wrong.faults[0].message}")


def _kind(text: str) -> str:
    try:
        Job("routed", 1, text, 1).features()
    except ValueError as wrong:
        raise argparse.ArgumentTypeError(str(wrong)) from None
    return text


def _whole(least: int) -> Callable[[str], int]:
    """Reads a whole number that is no less."""

    def read(text: str) -> int:
        try:
            number = int(text)
        except ValueError:
            number = least - 1
        if number < least:
            raise argparse.ArgumentTypeError(f"must be a whole number of at least {least}, not {text!r}")
        return number

    return read


def _seconds(text: str) -> float:
    try:
        seconds = float(text)
    except ValueError:
        seconds = 0.0
    if not 0.0 < seconds < inf:
        raise argparse.ArgumentTypeError(f"must be a number of seconds above 0, not {text!r}")
    return seconds


def _batch(text: str) -> int:
    """A batch that the example can be made in."""
    batch = _whole(1)(text)
    with tempfile.TemporaryDirectory() as folder:
        try:
            load_job(batched_example(batch, Path(folder)))
        except InputError as wrong:
            raise argparse.ArgumentTypeError(f"{text}: {wrong.faults[0].message}") from None
    return batch


def _earlier(file: str) -> list[Row]:
    """The peers' rows of an earlier run's JSON."""
    try:
        rows = [Row(**each) for each in json.loads(Path(file).read_text(encoding="utf-8"))["rows"]]
    except OSError as error:
        raise argparse.ArgumentTypeError(
            f"{file} cannot be read: {(error.strerror or str(error)).lower()}"
        ) from None
    except (ValueError, TypeError, KeyError):
        raise argparse.ArgumentTypeError(f"{file} is not what --json writes") from None
    return [row for row in rows if row.engine != OURS]


def _json_file(text: str) -> str:
    """Where JSON can be written: said before anything is measured."""
    try:
        demand_writable([] if text == "-" else [Output(text)])
    except InputError as wrong:
        raise argparse.ArgumentTypeError(f"{text}: {wrong.faults[0].message}") from None
    return text


def _options(arguments: Sequence[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        prog="python -m tests.benchmarks",
        description=__doc__,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        epilog="Options that take several values may be given none, to leave their part out.",
    )
    add = parser.add_argument
    add("--sizes", type=_whole(2), nargs="*", default=list(SIZES), help="lots of the generated jobs")
    add(
        "--seeds",
        type=_whole(0),
        nargs="*",
        default=[1, 2],
        help="one job per size, family, kind and seed",
    )
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
        type=_whole(2),
        nargs="*",
        default=list(CHOICE_SIZES),
        help="lots of the jobs with 12 choices, ranges and stops",
    )
    add("--batches", type=_batch, nargs="*", default=list(BATCHES), help="batches of one example job")
    add(
        "--published",
        nargs="*",
        default=[*QUICK, *HEAVY, "part"],
        choices=[*QUICK, *HEAVY, "part"],
        metavar="NAME",
        help=f"published instances: {', '.join((*QUICK, *HEAVY, 'part'))}",
    )
    add(
        "--peers",
        nargs="*",
        default=list(PEERS),
        choices=PEERS,
        metavar="NAME",
        help=f"peers to measure too: {', '.join(PEERS)}",
    )
    add("--only-peers", action="store_true", help="leave the planner out")
    add(
        "--model-lots",
        type=_whole(0),
        default=40,
        help="most lots that the general models among the peers are given",
    )
    add("--time-limit", type=_seconds, default=60.0, help="seconds for each measurement")
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
    add("--seed", type=_whole(0), default=0, help="seed of the engines")
    add("--workers", type=_whole(1), default=1, help="workers of the planner")
    add(
        "--reach",
        action="store_true",
        help="measure only what the short table needs: of the peers the circuit model at 40 lots",
    )
    add(
        "--join",
        type=_earlier,
        default=[],
        metavar="FILE",
        help="take the peers that an earlier run wrote as JSON from there",
    )
    add("--list", action="store_true", help="print the names of the jobs and measure nothing")
    add(
        "--json",
        type=_json_file,
        metavar="FILE",
        help="write all measured as JSON to this file (- for standard output; the tables go to standard error then)",
    )
    return parser.parse_args(arguments)


if __name__ == "__main__":
    signal.signal(signal.SIGTERM, signal.default_int_handler)  # ended from outside is as good as Ctrl-C
    main()
