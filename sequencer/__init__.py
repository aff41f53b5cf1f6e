"""Plans the order of cuts for a joinery shop with the fewest resets, and prints a card for each setup.

>>> from sequencer import load_job, plan
>>> plan(load_job("examples/tea-boxes/job.toml"), time_limit=10).status  # doctest: +SKIP
'optimal'
"""

from __future__ import annotations

TYPE_CHECKING = False  # of `typing`: nothing is loaded before `__main__` hears Ctrl-C
if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path
    from typing import Any

    from sequencer.bench.happened import Happened
    from sequencer.diagnostics import InputError, NoOrderError, SequencerError
    from sequencer.model.job import Job
    from sequencer.planfile import Plan

__all__ = [
    "Happened",
    "InputError",
    "NoOrderError",
    "SequencerError",
    "__version__",
    "load_job",
    "plan",
    "read_plan",
    "replan",
]
__version__ = "0.1.0"
INTERRUPTED = 130
"""The exit code of a command that Ctrl-C ended; here, where `__main__` has it without loading anything."""


# These import what they need when called, so that `import sequencer` and `sequencer --help` stay quick.
def load_job(path: str | Path, *, begun: bool = False) -> Job:
    """Read a job file and the files it names, `begun` to go on with a plan of it (see `sequencer.files.load_job`).

    Raises InputError with all faults found at once.
    """
    from sequencer.files import load_job
    from sequencer.precedence.rulebook import read_books

    return load_job(path, begun=begun, read_books=read_books)


def plan(
    job: Job,
    time_limit: float = 60.0,
    seed: int = 0,
    progress: Callable[[Any], None] | None = None,
    stop: Callable[[], bool] | None = None,
) -> Plan:
    """The plan of a job (see `sequencer.pipeline.plan`); `.model_dump_json()` of it is the published file."""
    from sequencer.pipeline import plan

    return plan(job, time_limit, seed, progress, stop)


def read_plan(path: str | Path) -> Plan:
    """The plan in a file that was written before, by `--json` or `model_dump_json` (see `sequencer.files.read_plan`).

    Raises InputError where the file is none.
    """
    from sequencer.files import read_plan

    return read_plan(path)


def __getattr__(name: str) -> Any:
    """`Happened` and the errors, loaded when they are asked for."""
    if name == "Happened":
        from sequencer.bench.happened import Happened

        return Happened
    if name in ("InputError", "NoOrderError", "SequencerError"):
        from sequencer import diagnostics

        return getattr(diagnostics, name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def replan(
    job: Job,
    plan: Plan,
    happened: Happened,
    time_limit: float = 60.0,
    seed: int = 0,
    progress: Callable[[Any], None] | None = None,
    stop: Callable[[], bool] | None = None,
) -> Plan:
    """What is left of a plan that was begun, ordered anew (see `sequencer.bench.remainder.replan`)."""
    from sequencer.bench.remainder import replan

    return replan(job, plan, happened, time_limit, seed, progress, stop)
