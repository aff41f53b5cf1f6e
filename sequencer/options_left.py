"""Which options of a job's choices can be made: those that no order can make are struck out before one is sought."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from sequencer.diagnostics import Fault, NoOrderError
from sequencer.encoding.at_odds import MatesAtOdds
from sequencer.model.job import Job
from sequencer.model.rule import Rule
from sequencer.operations import Choice, Edge, StruckOut, Worklist, only_made
from sequencer.precedence.graph import barring, options_without_order, precedence

AGREEING = "one value for all of them, or mates that do not hold this setting"


def without_impossible(
    job: Job, worklist: Worklist, rules: Sequence[Rule]
) -> tuple[Worklist, tuple[Edge, ...]]:
    """The worklist less the options that stand in a circle or whose mates can never agree, and its precedence.

    An option struck out may make another one's operations certain, which may bar others in turn. Raises NoOrderError
    where what is made in any case cannot be ordered so, and where a choice has no option left.
    """
    barred: dict[tuple[str, str], str] = {}
    while True:
        edges = precedence(worklist, rules)
        more = options_without_order(worklist, edges, job.path, barred) or _at_odds(job, worklist, barred)
        if not more:
            return worklist, edges
        worklist = _without(worklist, more)
        barred |= more


def _at_odds(
    job: Job, worklist: Worklist, before: Mapping[tuple[str, str], str]
) -> dict[tuple[str, str], str]:
    """The options (choice, option) with mates written by hand that hold a setting at values that differ (derived ones
    agree), each with these values; `before` are the options barred so far.
    """
    if not job.mates:
        return {}
    mates = MatesAtOdds(worklist, job.shop, job.unit)
    certain = worklist.certain
    if wrong := mates.among(certain):
        where = ", ".join(filter(None, ("mates", barring(before))))
        raise NoOrderError(Fault(says, job.path, where, accepted=AGREEING) for says in wrong)
    found = {
        (choice.id, name): wrong
        for choice in worklist.choices
        for name, ops in choice.options.items()
        if (wrong := mates.among(certain.union(ops)))
    }
    empty = [
        choice.id for choice in worklist.choices if all((choice.id, name) in found for name in choice.options)
    ]
    faults = [
        Fault(says, job.path, f'choice "{choice}", option "{name}"', accepted=AGREEING)
        for (choice, name), wrong in found.items()
        if choice in empty
        for says in wrong
    ]
    if faults:
        raise NoOrderError(faults)
    return {option: "; ".join(wrong) for option, wrong in found.items()}


def _without(worklist: Worklist, barred: dict[tuple[str, str], str]) -> Worklist:
    """The worklist less the options (choice, option) that no order can make; `barred` tells why."""
    kept = tuple(
        Choice(
            id=choice.id,
            options={name: ops for name, ops in choice.options.items() if (choice.id, name) not in barred},
        )
        for choice in worklist.choices
    )
    optional = {op for choice in worklist.choices for op in choice.operations}
    gone = optional.difference(*(choice.operations for choice in kept))
    operations = tuple(op for op in worklist.operations if op.id not in gone)
    return Worklist(
        operations=operations,
        mates=only_made(worklist.mates, {op.id for op in operations}),
        choices=kept,
        struck_out=(
            *worklist.struck_out,
            *(StruckOut(joint=choice, way=name, why=why) for (choice, name), why in barred.items()),
        ),
        remarks=worklist.remarks,
        way_remarks=worklist.way_remarks,
        meetings=tuple(
            meeting
            for meeting in worklist.meetings
            if not gone & {meeting.first.operation, meeting.second.operation}
        ),
    )
