"""The command line: arguments -> pipeline -> report -> exit code. No decisions of the trade are made here.

Exit codes: 0 done; 2 the input cannot be read or is wrong; 3 the input is sound but no order can satisfy
it; 130 interrupted (the best plan so far has been printed and written, if there was one by then and no further
press cut that short). Heavy imports wait until a command needs them.
"""

from __future__ import annotations

import io
import json
import os
import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from time import monotonic
from typing import TYPE_CHECKING

from sequencer import INTERRUPTED, __version__
from sequencer.arguments import read
from sequencer.diagnostics import InputError, SequencerError

if TYPE_CHECKING:
    import argparse
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from sequencer.files.output import Output
    from sequencer.planfile import Plan
    from sequencer.report.drawing.figure import Figure

    Paper = tuple[Output, Callable[[Plan], tuple[Path, ...]]]
    """A file or folder to write, and what writes a plan there and tells which files it wrote."""

PATIENCE = 5.0
"""Seconds that a search asked to stop may take to hand over its best plan before another press ends it at once."""


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; returns its exit code. No traceback reaches a person who gave bad input."""
    heard = signal.getsignal(signal.SIGINT)
    try:
        _ready_output()
        return _run(read(__version__, argv))
    except KeyboardInterrupt as interrupt:
        print(f"interrupted {str(interrupt) or 'before all was done'}", file=sys.stderr)
        return INTERRUPTED
    finally:
        if heard is not None and signal.getsignal(signal.SIGINT) is not heard:
            signal.signal(signal.SIGINT, heard)


def _run(arguments: argparse.Namespace) -> int:
    """The exit code of a command, its faults told."""
    try:
        code = COMMANDS[arguments.command](arguments)
        sys.stdout.flush()
        return code
    except SequencerError as error:
        from sequencer.report.terminal import make_console, print_faults

        print_faults(error, make_console(sys.stderr))
        return error.exit_code
    except (BrokenPipeError, SystemExit):
        # Whoever read our output has gone (`| head`; rich says so by SystemExit): nothing is wrong.
        _drop_output()
        return 0
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        print(f"{error.filename or 'standard output'}: cannot be written: {reason}", file=sys.stderr)
        _drop_output()
        return SequencerError.exit_code


def _ready_output() -> None:
    """Let no letter that standard output cannot show end a command, nor its being closed."""
    if sys.stdout is None:
        sys.stdout = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115 - open as long as the command runs
    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(errors="replace")


def _drop_output() -> None:
    """Nothing more is to be said: what is still to be flushed goes nowhere."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _plan(arguments: argparse.Namespace) -> int:
    return _planned(arguments, _ordered)


def _replan(arguments: argparse.Namespace) -> int:
    return _planned(arguments, _reordered)


def _planned(
    arguments: argparse.Namespace, order: Callable[[argparse.Namespace, Sequence[Output]], Plan]
) -> int:
    """Order, write and print."""
    from sequencer.files.output import Output
    from sequencer.report.terminal import make_console, print_plan

    to_file = arguments.json not in (None, "-")
    outputs = [Output(arguments.json)] if to_file else []
    plan = order(arguments, outputs)
    if arguments.json == "-":
        _print_json(plan.model_dump_json())
    else:
        if to_file:
            _write(arguments.json, plan.model_dump_json() + "\n")
        print_plan(plan, make_console(sys.stdout), arguments.show)
    return INTERRUPTED if plan.interrupted or plan.rules_not_tried else 0


def _cards(arguments: argparse.Namespace) -> int:
    from sequencer.files.output import Output
    from sequencer.report.figures import drawings

    piped, planned = arguments.output == "-", arguments.job.lower().endswith(".json")
    if piped and sys.stdout.isatty():
        raise InputError("-o -: a booklet is no text for a terminal; redirect it or name a file")
    drawn: dict[str, Figure] = {}
    papers = _papers(arguments, drawn)
    outputs = [output for output, _ in papers]

    def with_drawings(plan: Plan) -> Sequence[Output]:
        if arguments.svg is None:
            return ()
        drawn.update(drawings(plan))
        figures = Output(arguments.svg, tuple(drawn), is_folder=True)
        return [figures, *(each for each in outputs if each.path != figures.path)]

    plan = (_as_planned if planned else _ordered)(arguments, outputs, with_drawings)
    if piped:
        sys.stdout.flush()
        sys.stdout.buffer.write(_booklet(arguments, plan))
        sys.stdout.buffer.flush()
    for _, write in papers:
        for path in write(plan):
            print(path, file=sys.stderr if piped else sys.stdout)
    return INTERRUPTED if plan.interrupted and not planned else 0


def _papers(arguments: argparse.Namespace, drawn: dict[str, Figure]) -> list[Paper]:
    """The files that are asked for, each with what writes it; what is `drawn` by then goes to the folder of figures."""
    from pathlib import Path

    from sequencer.files.output import Output
    from sequencer.report.figures import write_svg
    from sequencer.report.spreadsheet import FILES, write_csv
    from sequencer.report.web import write_html

    def into(path: str, content: str | bytes) -> tuple[Path, ...]:
        _write(path, content)
        return (Path(path),)

    pdf, csv, svg, html = arguments.output, arguments.csv, arguments.svg, arguments.html
    papers: list[Paper] = []
    if pdf != "-":
        papers.append((Output(pdf), lambda plan: into(pdf, _booklet(arguments, plan))))
    if csv is not None:
        papers.append((Output(csv, FILES, is_folder=True), lambda plan: write_csv(plan, Path(csv))))
    if svg is not None:
        papers.append((Output(svg, is_folder=True), lambda _: write_svg(drawn, Path(svg))))
    if html is not None:
        papers.append((Output(html), lambda plan: into(html, write_html(plan))))
    return papers


def _booklet(arguments: argparse.Namespace, plan: Plan) -> bytes:
    """The booklet; a remark tells of letters that its faces lack."""
    from sequencer.report.booklet import booklet_values, set_booklet
    from sequencer.report.letters import letters_remark, missing_letters
    from sequencer.report.terminal import make_console, print_remark

    values = booklet_values(plan)
    if remark := letters_remark(missing_letters(values)):
        print_remark(remark, make_console(sys.stderr))
    return set_booklet(values, arguments.paper, arguments.per_sheet)


def _no_more(plan: Plan) -> Sequence[Output]:
    return ()


def _ordered(
    arguments: argparse.Namespace,
    outputs: Sequence[Output],
    more: Callable[[Plan], Sequence[Output]] = _no_more,
) -> Plan:
    """Load, prepare and order the job, with news on the way; Ctrl-C ends the search, not the command.

    Refused before the search where what is asked for cannot be written, or what is read would be written over; after it
    where that is so of `more`, which only the plan tells the names of.
    """
    from sequencer import load_job
    from sequencer.files.output import demand_writable
    from sequencer.pipeline import order, prepare
    from sequencer.report.terminal import make_console, progress_line

    job = load_job(arguments.job)
    demand_writable(outputs, job.files)
    prepared = prepare(job)
    with _interruptible() as stopped:
        with progress_line(make_console(sys.stderr)) as news:
            plan = order(prepared, arguments.time_limit, arguments.seed, news, stopped)
        if arguments.command == "plan" and arguments.price_rules:
            from sequencer.rule_costs import price_rules

            plan = price_rules(prepared, plan, arguments.time_limit, arguments.seed, stopped)
    demand_writable(more(plan), job.files)
    return plan


def _reordered(arguments: argparse.Namespace, outputs: Sequence[Output]) -> Plan:
    """What is left of a plan, ordered anew; otherwise as `_ordered`."""
    from sequencer import load_job
    from sequencer.bench.happened import told
    from sequencer.bench.remainder import replan
    from sequencer.files import read_plan
    from sequencer.files.output import demand_writable
    from sequencer.report.terminal import make_console, progress_line

    job, begun = load_job(arguments.job, begun=True), read_plan(arguments.plan)
    demand_writable(outputs, [*job.files, arguments.plan])
    happened = told(
        job, begun, arguments.done, ",".join(arguments.skipped), arguments.spoiled, arguments.moved
    )
    with _interruptible() as stopped, progress_line(make_console(sys.stderr)) as news:
        return replan(job, begun, happened, arguments.time_limit, arguments.seed, news, stopped)


def _as_planned(
    arguments: argparse.Namespace, outputs: Sequence[Output], more: Callable[[Plan], Sequence[Output]]
) -> Plan:
    """The plan that a file holds, without planning again; otherwise as `_ordered`."""
    from sequencer.files import read_plan
    from sequencer.files.output import demand_writable

    plan = read_plan(arguments.job)
    for asked in (outputs, more(plan)):
        demand_writable(asked, [arguments.job])
    return plan


def _check(arguments: argparse.Namespace) -> int:
    from sequencer import load_job
    from sequencer.pipeline import prepare
    from sequencer.report.terminal import make_console, print_check

    print_check(prepare(load_job(arguments.job)), make_console(sys.stdout))
    return 0


def _joints(arguments: argparse.Namespace) -> int:
    from sequencer import load_job
    from sequencer.files.output import Output, demand_writable
    from sequencer.joinery import joint_report
    from sequencer.report.terminal import make_console, print_joints

    job = load_job(arguments.job)
    if arguments.json not in (None, "-"):
        demand_writable([Output(arguments.json)], job.files)
    reports = joint_report(job)
    if arguments.json is not None:
        _put_json(arguments.json, [report.model_dump(mode="json") for report in reports])
    if arguments.json != "-":
        print_joints(reports, make_console(sys.stdout), job.unit, marked=job.shop.unit)
    return 0


def _angles(arguments: argparse.Namespace) -> int:
    from sequencer.corner import corner_angles
    from sequencer.report.terminal import make_console, print_angles

    found = corner_angles(
        sides=arguments.sides,
        corner=arguments.corner,
        slope=arguments.slope,
        spring=arguments.spring,
        other_slope=arguments.other_slope,
    )
    if arguments.json is not None:
        _put_json(arguments.json, found.model_dump(mode="json", exclude_none=True))
    if arguments.json != "-":
        print_angles(found, make_console(sys.stdout))
    return 0


def _rules(arguments: argparse.Namespace) -> int:
    from sequencer import load_job
    from sequencer.precedence.misspelt import misspelt_rules
    from sequencer.precedence.rulebook import books_of, in_force, load_books
    from sequencer.report.terminal import make_console, print_rules

    remarks: tuple[str, ...] = ()
    if arguments.job:
        job = load_job(arguments.job)
        rules = in_force(books_of(job), job.shop.rules.off, job.shop.path)
        remarks = misspelt_rules(rules, job)
    else:
        rules = in_force(load_books())
    print_rules(rules, make_console(sys.stdout), remarks)
    return 0


def _show(arguments: argparse.Namespace) -> int:
    from sequencer.files import read_plan
    from sequencer.report.terminal import make_console, print_plan

    print_plan(read_plan(arguments.plan), make_console(sys.stdout), arguments.show)
    return 0


def _schema(arguments: argparse.Namespace) -> int:
    from sequencer.files.schema import job_schema, shop_schema
    from sequencer.planfile import Plan

    schemas = {
        "plan": lambda: Plan.model_json_schema(by_alias=True),
        "job": job_schema,
        "shop": shop_schema,
    }
    print(json.dumps(schemas[arguments.file](), indent=2))
    return 0


@contextmanager
def _interruptible() -> Iterator[Callable[[], bool]]:
    """A question that answers true once Ctrl-C was pressed.

    Pressed again it changes nothing, so that an impatient finger does not throw away what was found: until it is handed
    over, or to the end of the command, only a third press, or one after PATIENCE, interrupts.
    """
    if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:  # started so, in the background
        yield lambda: False
        return
    presses: list[float] = []

    def remember(_signal: int, _frame: object) -> None:
        presses.append(monotonic())
        if len(presses) > 2 or presses[-1] - presses[0] > PATIENCE:
            raise KeyboardInterrupt("again, before the best plan so far was handed over in full")

    before = signal.signal(signal.SIGINT, remember)
    try:
        yield lambda: bool(presses)
    finally:
        if not presses:
            signal.signal(signal.SIGINT, before)


def _write(path: str, content: str | bytes) -> None:
    from sequencer.files import write_whole

    write_whole(path, content)


def _put_json(path: str, value: object) -> None:
    text = json.dumps(value, indent=2)
    if path == "-":
        _print_json(text)
    else:
        _write(path, text + "\n")


def _print_json(text: str) -> None:
    """JSON is UTF-8 whatever the terminal shows (RFC 8259, section 8.1)."""
    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(encoding="utf-8")
    print(text)


COMMANDS: dict[str, Callable[[argparse.Namespace], int]] = {
    "plan": _plan,
    "replan": _replan,
    "cards": _cards,
    "check": _check,
    "joints": _joints,
    "angles": _angles,
    "rules": _rules,
    "show": _show,
    "schema": _schema,
}
