"""The answers to small questions on the terminal: a corner's angles, the rules, what a job comes to."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from rich.console import Console

from sequencer.corner import BELOW_SQUARE
from sequencer.operations import as_words
from sequencer.quantity import counted, format_angle, format_minutes
from sequencer.report.terminal_page import GOOD, HEADING, QUIET, Page

if TYPE_CHECKING:
    from sequencer.corner import CornerAngles
    from sequencer.model.rule import Rule
    from sequencer.model.shop import Shop
    from sequencer.operations import Choice, MatesGroup, Worklist
    from sequencer.pipeline import Prepared

WIDE = 16
"""Columns of the labels here."""


def print_angles(found: CornerAngles, console: Console) -> None:
    """Print gauge, tilt and the other angles of a corner, each with what it is measured from."""
    page = Page(console)
    form = f"{found.sides} equal sides, " if found.sides else ""
    slopes = f"sloping {format_angle(found.slope)}"
    if found.other_slope is not None:
        slopes += f" and {format_angle(found.other_slope)}"
    page.bar(page.text((f"Corner of {format_angle(found.corner)}", HEADING)), f"{form}sides {slopes}")
    page.blank()
    rows = [
        *(
            (name, gauge, f"from a square crosscut; a scale with 90° there: {format_angle(90 - gauge)}")
            for name, gauge in _by_side("gauge", found.gauge, found.other_gauge)
        ),
        ("tilt", found.tilt, "of the blade from vertical, the board's face flat on the table"),
        *(
            (name, bevel, "tilt for top and bottom edges that are to lie level")
            for name, bevel in _by_side("rip bevel", found.rip_bevel, found.other_rip_bevel)
        ),
        ("dihedral", found.dihedral, "inside angle between the two faces at the joint"),
    ]
    wide = max(13, *(len(label) for label, _, _ in rows)) + 1
    for label, angle, told in rows:
        page.entry(f"{label:<{wide}}{format_angle(angle)}", told, style=HEADING, at=wide + 10)
    page.blank()
    if min(found.gauge, found.other_gauge or 0.0) < 0:
        page.line(BELOW_SQUARE[0].upper() + BELOW_SQUARE[1:] + ".", indent=2)
    page.line("Slopes are from horizontal, 90° is upright; the corner is the inside angle in plan.", indent=2)
    page.line("Prove every angle on scrap, by the saw's manual and with the guard in place.", indent=2)
    page.blank()


def _by_side(name: str, first: float, other: float | None) -> list[tuple[str, float]]:
    """An angle, or those of both sides where they differ."""
    return [(name, first)] if other is None else [(f"{name}, side 1", first), (f"{name}, side 2", other)]


def print_rules(rules: Sequence[Rule], console: Console, remarks: Sequence[str] = ()) -> None:
    """Print the rules by book: what each says, why, its source, and how strong it is; and what is remarked of them."""
    page = Page(console)
    books: dict[str, list[Rule]] = {}
    for rule in rules:
        books.setdefault(rule.book, []).append(rule)
    for title, inside in books.items():
        page.heading(title, counted(len(inside), "rule"))
        for rule in inside:
            page.blank()
            page.sides(page.text("  ", (rule.id, HEADING)), page.text((_strength(rule), QUIET)))
            page.entry("", rule.says, at=2)
            page.entry("why", rule.why, indent=4, at=8)
            page.entry("source", (rule.source, QUIET), indent=4, at=8)
    page.blank()
    page.line(
        ("The surfaces come first: ", HEADING),
        "besides these rules, a cut always comes after the surfaces it registers on are made ",
        "and before they are removed.",
    )
    page.blank()
    for remark in remarks:
        page.entry("remark", remark, at=WIDE)
    if remarks:
        page.blank()


def _strength(rule: Rule) -> str:
    if rule.strength == "must":
        return "must"
    return f"preferred, worth {format_minutes(rule.price_minutes)}"


def print_check(prepared: Prepared, console: Console) -> None:
    """Print what is known of a job without ordering it: operations, choices, what binds them, remarks."""
    page, job, worklist = Page(console), prepared.job, prepared.worklist
    page.bar(page.text((job.name, HEADING)), job.shop.name)
    page.blank()
    read = "; the remarks below are to be read" if worklist.remarks else ""
    page.line(("nothing wrong", GOOD), f" was found{read}", indent=2)
    page.blank()
    names = {station.id: station.name or station.id for station in job.shop.stations}
    at = Counter(operation.station for operation in worklist.operations)
    page.entry("parts", f"{len(job.parts)}, batch of {job.batch}", at=WIDE)
    page.entry("operations", str(len(worklist.operations)), at=WIDE)
    for station, count in at.items():
        page.entry("", f"{names.get(station, station)}: {count}", at=WIDE)
    by_rule = Counter(edge.rule for edge in prepared.edges)
    musts = sum(edge.strength == "must" for edge in prepared.edges)
    page.entry(
        "order", f"{counted(musts, 'demand')} and {counted(by_rule.total() - musts, 'preference')}", at=WIDE
    )
    for rule, count in by_rule.most_common():
        page.entry("", (f"{rule}: {count}", QUIET), at=WIDE)
    for together, hold in _mates(worklist):
        held = ", ".join(_held(job.shop, name) for name in hold)
        page.entry("mates", f"{together}: ", (f"without moving {held}", QUIET), at=WIDE)
    for choice in worklist.choices:
        page.entry("choice", f"{as_words(choice.id)}: {' or '.join(map(as_words, choice.options))}", at=WIDE)
    for out in worklist.struck_out:
        page.entry("struck out", f"{as_words(out.joint)}: {as_words(out.way)}, because {out.why}", at=WIDE)
    for remark in worklist.remarks:
        page.entry("remark", remark, at=WIDE)
    page.blank()


def _mates(worklist: Worklist) -> Iterator[tuple[str, tuple[str, ...]]]:
    """Mates in words with what is held for them: those of some options of a choice with these before them, those that
    every option has alike once. An operation that is left of mates by itself, the others struck out, is none.
    """
    words = {operation.id: operation.in_words for operation in worklist.operations}
    told: dict[tuple[str, tuple[str, ...], str], set[str]] = {}
    for mates in (group for group in worklist.mates if len(group.operations) > 1):
        together = "; ".join(dict.fromkeys(words.get(name, name) for name in mates.operations))
        choice, options = _only_in(mates, worklist.choices)
        told.setdefault((together, mates.hold, choice), set()).update(options)
    all_options = {choice.id: choice.options for choice in worklist.choices}
    for (together, hold, choice), found in told.items():
        options = [option for option in all_options.get(choice, ()) if option in found]
        if len(options) == len(all_options.get(choice, ())):
            yield together, hold
        else:
            yield f"with {as_words(choice)} {' or '.join(map(as_words, options))}: {together}", hold


def _only_in(mates: MatesGroup, choices: Sequence[Choice]) -> tuple[str, list[str]]:
    """The choice and those of its options that mates are made with: one of them may be made whatever is taken; nothing
    where two are, which bind each other with any option, or where they are made by several choices.
    """
    chosen = {name for choice in choices for name in choice.operations}
    ways = set(mates.operations) & chosen
    if len(mates.operations) - len(ways) < 2:
        for choice in choices:
            options = [name for name, made in choice.options.items() if ways <= set(made)]
            if options:
                return choice.id, options
    return "", []


def _held(shop: Shop, name: str) -> str:
    """A held setting ("saw.tilt") in words."""
    station, _, setting = name.partition(".")
    found = shop.station(station)
    return f"{found.name or station} {found.setting(setting).called}"
