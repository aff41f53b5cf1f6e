"""The step list on the terminal: steps grouped in setups, with what is set for each and why."""

from __future__ import annotations

import re
from collections.abc import Sequence

from rich.console import Console
from rich.text import Text

from sequencer.cards.planbook import goes_on
from sequencer.cards.setup_cards import SettingLine
from sequencer.cards.steplist import StepGroup, StepLine, step_list
from sequencer.planfile import Plan
from sequencer.quantity import counted, format_minutes
from sequencer.report.terminal_page import HEADING, MOVED, QUIET, Page

NUMBERS, COUNTS, MINUTES = 6, 5, 9
"""Columns for the step's number, its pieces and its minutes."""


def print_steps(plan: Plan, console: Console) -> None:
    """Print the order of work. Of the steps it has to follow a step tells the nearest."""
    page, groups = Page(console), step_list(plan)
    size = f"{counted(len(plan.steps), 'step')} in {counted(len(groups), 'setup')}"
    page.heading("Order of work", ", ".join(words for words in (goes_on(plan), size) if words))
    told: dict[tuple[str, str], int] = {}  # reasons already given in full, and at which step
    for group in groups:
        page.blank()
        _head(page, group)
        for step in group.steps:
            _step(page, step, told)
    page.blank()


def _head(page: Page, group: StepGroup) -> None:
    walk = f"walk {format_minutes(group.walk_minutes)}" if group.walk_minutes else ""
    resets = f"resets {format_minutes(group.reset_minutes)}" if group.reset_minutes else ""
    page.sides(
        page.text(f"Setup {group.number}  ", (group.station, HEADING)),
        page.text((", ".join(word for word in (walk, resets) if word), QUIET)),
    )
    if group.settings:
        page.items("set", (_move(page, line) for line in group.settings), indent=NUMBERS, at=5)
    else:
        page.entry("set", "nothing to be moved", indent=NUMBERS, at=5)


def _move(page: Page, line: SettingLine) -> Text:
    """A setting as it is moved: "fence 100 mm → 320 mm", "blade: rip"."""
    if line.change == "changed":
        return page.text(f"{line.name} {line.was} → ", (line.value, MOVED))
    again = " again" if line.change == "again" else ""
    return page.text(f"{line.name}{again} ", (line.value, MOVED))


def _step(page: Page, step: StepLine, told: dict[tuple[str, str], int]) -> None:
    """A step with the reason why it is not earlier; one given before is only referred to."""
    page.row(
        str(step.number),
        page.text(step.what, _missing(page, step)),
        (page.text(f"×{step.count}"), COUNTS),
        (page.text(format_minutes(step.minutes) if step.minutes else ""), MINUTES),
        at=NUMBERS,
    )
    for why in step.follows[:1]:
        first = told.get((why.rule, why.why))
        words = why.why if first is None else f"as step {first}"
        told.setdefault((why.rule, why.why), step.number)
        rule = f" [{why.rule}{', a preference' if why.preferred else ''}]"
        page.entry(f"after {why.step}", (words + rule, QUIET), indent=NUMBERS, at=10)


def _missing(page: Page, step: StepLine) -> Text:
    """The parts that do not stand in the words, and how many cuts each piece takes.

    Of what is put together all is told: a part whose name is a word of the sentence ("half") is not meant by it.
    """
    parts = [piece.part for piece in step.pieces if piece.part]
    named = set() if any(piece.sets for piece in step.pieces) else _named(step.what, parts)
    told = [part for part in parts if part not in named]
    told += [f"{step.cuts} cuts each"] if step.cuts and step.cuts > 1 else []
    return page.text((f" ({', '.join(told)})", QUIET)) if told else Text()


def _named(words: str, parts: Sequence[str]) -> set[str]:
    """Those of the parts that the words name: as words of their own, not within another one ("side" in "inside") or
    within the name of another part ("rail" in "short rail").
    """
    longest_first = sorted(parts, key=len, reverse=True)
    names = "|".join(re.escape(part) for part in longest_first)
    return set(re.findall(rf"(?<!\w)(?:{names})(?!\w)", words)) if names else set()
