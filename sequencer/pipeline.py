"""The data flow in two stages, `plan` being both: `prepare` (job -> operations -> precedence), which can be looked at
by itself, and `order` (-> problem -> order -> plan), which also orders what was prepared in another way.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sequencer.diagnostics import Fault, InputError, NoOrderError, quoted
from sequencer.operations import Edge, Worklist, only_made

if TYPE_CHECKING:
    from sequencer.encoding.encode import Encoded
    from sequencer.model.job import Job
    from sequencer.planfile import Plan
    from sequencer.solve.problem import Progress


@dataclass(frozen=True)
class Prepared:
    """Everything that can be known of a job without ordering it."""

    job: Job
    worklist: Worklist
    edges: tuple[Edge, ...]


def prepare(job: Job, rules_off: tuple[str, ...] = ()) -> Prepared:
    """Derive the operations and their precedence.

    `rules_off` switches rules off besides those the shop file does. Raises InputError for a joint that
    cannot be made as asked, an unknown rule, a name that neither the job nor what is derived of it has, or work of
    more minutes than a lifetime; NoOrderError for a cycle, a joint no way of which can be made, a choice none of
    whose options can be, or mates that ask for different values of what they hold.
    """
    from sequencer.joinery import derive
    from sequencer.options_left import without_impossible
    from sequencer.precedence.graph import overruled
    from sequencer.precedence.misspelt import misspelt_kinds, misspelt_rules
    from sequencer.precedence.rulebook import books_of, in_force

    books = books_of(job)
    rules = in_force(books, (*job.shop.rules.off, *rules_off), job.shop.path)
    worklist = _joined(job, derive(job))
    _demand_a_lifetime(job, worklist)
    idle = tuple(_idle_holds(job, worklist))
    worklist, edges = without_impossible(job, worklist, rules)
    strange = (*misspelt_kinds(job.operations, books), *misspelt_rules(rules, job))
    remarks = (*worklist.remarks, *idle, *strange, *overruled(worklist, rules))
    return Prepared(job, worklist.model_copy(update={"remarks": remarks}), edges)


def plan(
    job: Job,
    time_limit: float = 60.0,
    seed: int = 0,
    progress: Callable[[Progress], None] | None = None,
    stop: Callable[[], bool] | None = None,
) -> Plan:
    """Plan a job: the order with the fewest minutes of resets and walks, with its proof.

    `time_limit` in seconds; `progress` is called with news (costs in hundredths of a minute), `stop` is asked
    often and ends the search with the best plan so far when it answers true. Raises as `prepare` and `order`.
    """
    return order(prepare(job), time_limit, seed, progress, stop)


def order(
    prepared: Prepared,
    time_limit: float = 60.0,
    seed: int = 0,
    progress: Callable[[Progress], None] | None = None,
    stop: Callable[[], bool] | None = None,
) -> Plan:
    """Order a prepared job and draw up its plan; the independent recount has passed when it returns.

    Arguments as of `plan`. Raises InputError where minutes are so large, and so finely told, that they cannot be added
    up exactly; NoOrderError where mates can be kept in no order, and where the time was over before any order was found
    (`stop` did not ask for it); KeyboardInterrupt where `stop` ended the search before any was found.
    """
    from sequencer.encoding.encode import encode
    from sequencer.planned.draw_up import draw_up
    from sequencer.planned.habits import no_dearer
    from sequencer.planned.recount import recount
    from sequencer.solve import Impossible, Limits, solve

    encoded = encode(prepared.worklist, prepared.edges, prepared.job.shop, prepared.job.unit)
    _demand_countable(prepared.job, encoded)
    try:
        outcome = solve(
            encoded.problem, Limits(seconds=time_limit, seed=seed), _in_hundredths(encoded, progress), stop
        )
    except TimeoutError:
        if stop is not None and stop():
            raise KeyboardInterrupt("before any order was found") from None
        raise NoOrderError(
            [
                Fault(
                    f"no order was found within {time_limit:g} seconds, nor shown to be impossible",
                    file=str(prepared.job.path),
                    accepted="a longer --time-limit, or fewer mates",
                )
            ]
        ) from None
    if isinstance(outcome, Impossible):
        names = ", ".join(encoded.operations[lot].id for lot in outcome.lots)
        raise NoOrderError(
            [Fault(outcome.why, file=str(prepared.job.path), where=f"operations {names}" if names else "")]
        )
    outcome = no_dearer(encoded.problem, outcome, encoded.first_parts)
    result = draw_up(prepared.job, prepared.worklist, prepared.edges, encoded, outcome)
    recount(result, prepared.worklist, prepared.edges, prepared.job.shop)
    return result


def _demand_a_lifetime(job: Job, worklist: Worklist) -> None:
    """Raise InputError where the work of all operations comes to more than anybody ever does."""
    from sequencer.quantity import MOST_MINUTES, format_number

    work = sum(operation.work_minutes for operation in worklist.operations)
    if work > MOST_MINUTES:
        longest = max(worklist.operations, key=lambda operation: operation.work_minutes)
        message = f"all work comes to {format_number(round(work))} minutes, more than a lifetime"
        message += f' (most of it is "{longest.id}")'
        accepted = f"at most {format_number(MOST_MINUTES)} minutes; fewer pieces, or fewer minutes for each"
        raise InputError([Fault(message, str(job.path), accepted=accepted)])


def _demand_countable(job: Job, encoded: Encoded) -> None:
    """Raise InputError where minutes are so many and so finely told that they cannot be added up exactly."""
    from sequencer.encoding.encode import COUNTABLE, dearest

    if dearest(encoded.problem) > COUNTABLE:
        message = "the minutes of resets, walks and preferences are too large to be added up as finely as they are told"
        accepted = "fewer minutes, or minutes with fewer decimals"
        raise InputError([Fault(message, job.shop.path or str(job.path), accepted=accepted)])


def _idle_holds(job: Job, worklist: Worklist) -> Iterator[str]:
    """Of mates written by hand, what they hold that binds nothing, or that none of them has to do with.

    Of a setting at the station of one of them it may well be meant that it stays where it is, though none asks for it;
    of one that is lost by leaving its station, that this is not left.
    """
    made = {operation.id: operation for operation in worklist.operations}
    asked = {f"{op.station}.{name}" for op in worklist.operations for name in op.settings}
    for group in job.mates:
        if not made.keys() >= set(group.operations):
            continue  # what has fallen away may have been at the station
        mates = f"mates {quoted(group.operations)}"
        at = {made[id].station for id in group.operations}
        for held in group.hold:
            station, _, setting = held.partition(".")
            if held not in asked and job.shop.station(station).setting(setting).keeps:
                yield f"{mates} hold {held}, which no operation asks for: nothing would move it"
            elif station not in at:
                yield (
                    f"{mates} hold {held}, and none of them is at {station}: no other operation moves it from the "
                    "first to the last of them"
                )


def _in_hundredths(
    encoded: Encoded, progress: Callable[[Progress], None] | None
) -> Callable[[Progress], None] | None:
    """News with costs in hundredths of a minute, whatever unit the engine counts in; no plan is told cheaper than it
    is, nor a bound higher.
    """
    if progress is None:
        return None
    from dataclasses import replace
    from math import ceil, floor

    def relay(news: Progress) -> None:
        best = None if news.best is None else ceil(100 * encoded.minutes(news.best) - 1e-6)
        bound = floor(100 * encoded.minutes(news.bound) + 1e-6)
        progress(replace(news, best=best, bound=best if best and news.bound == news.best else bound))

    return relay


def _joined(job: Job, derived: Worklist) -> Worklist:
    """The operations derived from parts and joints, and those written by hand, in one list."""
    job.check_references(derived)
    operations = (*derived.operations, *job.operations)
    return Worklist(
        operations=operations,
        mates=(*derived.mates, *only_made(job.mates, {operation.id for operation in operations})),
        choices=(*derived.choices, *job.choices),
        struck_out=(*derived.struck_out, *job.struck_out),
        remarks=(*job.remarks, *derived.remarks),
        way_remarks=derived.way_remarks,
        meetings=derived.meetings,
    )
