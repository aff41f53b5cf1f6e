"""The reports on the terminal, one function for each: this is what the command line calls."""

from __future__ import annotations

from rich.console import Console

from sequencer.planfile import Plan
from sequencer.report.terminal_answers import print_angles, print_check, print_rules
from sequencer.report.terminal_cards import print_cards
from sequencer.report.terminal_joints import print_joints
from sequencer.report.terminal_news import print_faults, print_remark, progress_line
from sequencer.report.terminal_page import make_console
from sequencer.report.terminal_steps import print_steps
from sequencer.report.terminal_summary import print_summary

__all__ = [
    "make_console",
    "print_angles",
    "print_cards",
    "print_check",
    "print_faults",
    "print_joints",
    "print_plan",
    "print_remark",
    "print_rules",
    "print_steps",
    "print_summary",
    "progress_line",
]


def print_plan(plan: Plan, console: Console, what: str = "all") -> None:
    """Print the plan: its "summary", its "steps", its "cards", or "all" of them."""
    if what in ("all", "summary"):
        print_summary(plan, console)
    if what in ("all", "steps"):
        print_steps(plan, console)
    if what in ("all", "cards"):
        print_cards(plan, console)
