"""What is said while and instead of planning: the line of progress, remarks, and the faults found."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import Protocol

from rich.console import Console
from rich.live import Live
from rich.text import Text

from sequencer.diagnostics import Fault, SequencerError
from sequencer.quantity import format_minutes
from sequencer.report.terminal_page import CAREFUL, HEADING, QUIET, Page

SILENCE = 0.5
"""Seconds of silence before the line of progress shows: a quick plan needs none."""


class News(Protocol):
    """News from the search: seconds, best cost (None: none yet) and bound (costs in 1/100 min); `note` tells what it is
    doing if that is not searching.
    """

    @property
    def seconds(self) -> float: ...
    @property
    def best(self) -> int | None: ...
    @property
    def bound(self) -> int: ...
    @property
    def note(self) -> str: ...


@contextmanager
def progress_line(console: Console) -> Iterator[Callable[[News], None]]:
    """A function to call with news; it keeps one line up to date on a terminal and says nothing elsewhere."""
    if not console.is_terminal:
        yield lambda _news: None
        return
    page = Page(console)
    live = Live(
        console=console, auto_refresh=False, transient=True, redirect_stdout=False, redirect_stderr=False
    )

    def show(news: News) -> None:
        if news.seconds < SILENCE:
            return
        if not live.is_started:
            live.start()
        line = page.text((progress_text(news), QUIET))
        line.truncate(max(1, console.width - 1))
        live.update(line, refresh=True)

    try:
        yield show
    finally:
        if live.is_started:
            live.stop()


def progress_text(news: News) -> str:
    """The line of progress: best, bound, gap, seconds."""
    seconds, doing = f"{news.seconds:.0f} s", news.note or "searching"
    bound = f"no order takes less than {format_minutes(news.bound / 100)}"
    if news.best is None:
        return f"{doing}: no order yet, {bound}, {seconds}"
    gap = 100 * (news.best - news.bound) / news.best if news.best else 0.0
    return f"{doing}: best {format_minutes(news.best / 100)}, {bound}, gap {gap:.1f} %, {seconds}"


ALIKE = 3
"""Faults that read the same told in full; the lines of any further ones follow the last of these."""


def print_faults(error: SequencerError, console: Console) -> None:
    """Print every fault: where, what, and what would be accepted. Lines are broken on a terminal only.

    Where one slip stands in many places, only their lines are told after the first few.
    """
    page = Page(console)
    alike: dict[tuple[str, str, str], list[Fault]] = {}
    for fault in error.faults:
        alike.setdefault((fault.file, fault.message, fault.accepted), []).append(fault)
    for fault in error.faults:
        same = alike[fault.file, fault.message, fault.accepted]
        told = same.index(fault)
        if told >= ALIKE:
            continue
        lines = _fault(page, fault)
        if told == ALIKE - 1 and len(same) > ALIKE:
            lines.append(_likewise(page, same[ALIKE:]))
        for number, line in enumerate(lines):
            if console.is_terminal:
                page.line(line, indent=4 if number else 0)
            else:
                console.print(Text("    " if number else "") + line, soft_wrap=True)
    if len(error.faults) > 1:
        page.line((f"{len(error.faults)} faults", HEADING))


def _likewise(page: Page, faults: Sequence[Fault]) -> Text:
    """Where else the same is wrong."""
    times = "once" if len(faults) == 1 else f"{len(faults)} times"
    lines = [str(fault.line) for fault in faults if fault.line]
    where = f", in {'line' if len(lines) == 1 else 'lines'} {', '.join(lines)}" if lines else ""
    return page.text((f"the same {times} more{where}", CAREFUL))


def print_remark(words: str, console: Console) -> None:
    """Print what is to be known although nothing is wrong. Lines are broken on a terminal only."""
    page = Page(console)
    line = page.text(("remark: ", HEADING), words)
    if console.is_terminal:
        page.line(line)
    else:
        console.print(line, soft_wrap=True)


def _fault(page: Page, fault: Fault) -> list[Text]:
    place = fault.file + (f":{fault.line}" if fault.file and fault.line else "")
    head = ": ".join(part for part in (place, fault.where) if part)
    lines = [page.text((head, HEADING), ": " if head else "", (fault.message, CAREFUL))]
    lines += [page.text(("accepted: ", QUIET), fault.accepted)] if fault.accepted else []
    return lines
