"""From what an engine found to the plan: steps with their resets, setups, preferences kept or not."""

from __future__ import annotations

from collections.abc import Container, Iterable, Mapping

from sequencer.encoding.encode import Encoded
from sequencer.model.job import Job
from sequencer.model.parts import Part
from sequencer.model.shop import Setting, Station
from sequencer.operations import Edge, Meeting, Worklist, only_made
from sequencer.planfile import (
    BoundReason,
    Habit,
    PartRecord,
    Plan,
    Reading,
    Reset,
    Setup,
    StationRecord,
    Step,
)
from sequencer.planned.habits import habits
from sequencer.quantity import MINUTE_PLACES, in_unit
from sequencer.solve.price import NO_VALUE, Priced, price
from sequencer.solve.problem import Outcome


def draw_up(job: Job, worklist: Worklist, edges: Iterable[Edge], encoded: Encoded, outcome: Outcome) -> Plan:
    """The plan of an outcome; the outcome's order must be one that `price` can price."""
    priced = price(encoded.problem, outcome.order)
    assert priced is not None, "an engine returned an order that mates forbid"
    steps = _steps(job, encoded, outcome, priced)
    choices = {
        name: names[taken] for (name, names), taken in zip(encoded.choices, outcome.options, strict=True)
    }
    made = {step.operation: index for index, step in enumerate(steps)}
    preference = encoded.minutes(priced.wishes)
    cost = encoded.minutes(priced.cost) - preference
    bound = cost if outcome.proven else min(encoded.minutes(outcome.bound) - preference, cost)
    return Plan(
        job=job.name,
        shop=job.shop.name,
        unit=job.unit,
        batch=job.batch,
        glue_room=job.shop.joinery.glue_room,
        status="optimal" if outcome.proven else "feasible",
        interrupted=outcome.interrupted and not outcome.proven,
        cost_minutes=_round(cost),
        bound_minutes=_round(bound),
        reset_minutes=_round(encoded.minutes(priced.moving)),
        walk_minutes=_round(encoded.minutes(priced.walking)),
        work_minutes=_round(encoded.minutes(priced.work)),
        preference_minutes=_round(preference),
        reset_count=sum(len(step.resets) for step in steps),
        planning_seconds=outcome.seconds,
        engine=outcome.engine,
        steps=steps,
        setups=_setups(job, steps),
        precedence=_kept_or_not(edges, made),
        choices=choices,
        options={choice.id: choice.options for choice in worklist.choices},
        struck_out=worklist.struck_out,
        remarks=(*_of_ways_taken(worklist, choices), *worklist.remarks),
        mates=only_made(worklist.mates, made),
        habits=_habits(encoded, outcome),
        reasons=_reasons(encoded, outcome),
        stations=tuple(_station(job, station) for station in job.shop.stations),
        parts=tuple(_part(job, part) for part in job.parts),
        operations=tuple(encoded.operations[lot] for lot in outcome.order),
        meetings=_both_made(worklist.meetings, made),
        begins=_begins(job),
        begins_at=_begins_at(job),
    )


def _kept_or_not(edges: Iterable[Edge], made: Mapping[str, int]) -> tuple[Edge, ...]:
    """What comes before what, of the operations `made` in these places, with whether the order keeps to it."""
    return tuple(
        edge.model_copy(update={"kept": made[edge.before] < made[edge.after]})
        for edge in edges
        if edge.before in made and edge.after in made
    )


def _of_ways_taken(worklist: Worklist, choices: Mapping[str, str]) -> tuple[str, ...]:
    """The remarks on ways of making that are taken."""
    return tuple(
        remark.says
        for remark in worklist.way_remarks
        if choices.get(remark.choice, remark.option) == remark.option
    )


def _both_made(meetings: Iterable[Meeting], made: Container[str]) -> tuple[Meeting, ...]:
    """The meetings of mortises that are both plunged."""
    return tuple(
        meeting
        for meeting in meetings
        if meeting.first.operation in made and meeting.second.operation in made
    )


def _reasons(encoded: Encoded, outcome: Outcome) -> tuple[BoundReason, ...]:
    return tuple(
        BoundReason(settings=reason.dials, minutes=_round(encoded.minutes(reason.cost)), why=reason.why)
        for reason in outcome.reasons
    )


def _station(job: Job, station: Station) -> StationRecord:
    """The station with its settings, as the cards tell them."""
    settings = station.settings
    marked_otherwise = job.shop.unit != job.unit
    return StationRecord(
        id=station.id,
        name=station.name,
        measures={each.id: each.measures for each in settings},
        names={each.id: each.name for each in settings if each.name and each.name != each.id},
        marked={
            each.id: job.shop.unit
            for each in settings
            if each.values and each.measures == "length" and marked_otherwise
        },
        measured_at={each.id: base.id for each in settings if (base := station.base(each)) is not None},
        tolerances={
            each.id: in_unit(each.tolerance, job.unit) if each.measures == "length" else each.tolerance
            for each in settings
            if each.tolerance
        },
    )


def _begins(job: Job) -> dict[str, Reading]:
    """Where settings stand at first, where the shop says so."""
    return {
        f"{station.id}.{setting.id}": _in_job_unit(job, setting, setting.start)
        for station in job.shop.stations
        for setting in station.settings
        if setting.start is not None
    }


def _begins_at(job: Job) -> dict[str, Reading]:
    """Of these that are measured at another setting: the reading of that one at which they were set."""
    return {
        f"{station.id}.{setting.id}": _in_job_unit(job, base, setting.start_at)
        for station in job.shop.stations
        for setting in station.settings
        if setting.start is not None
        and setting.start_at is not None
        and (base := station.base(setting)) is not None
    }


def _part(job: Job, part: Part) -> PartRecord:
    """The part for the cut list, with the rough size that the shop's allowances give."""
    return PartRecord(
        id=part.id,
        quantity=part.quantity * job.batch + part.spare,
        spare=part.spare,
        rough=job.shop.joinery.allowance.rough(part, job.unit),
        length=part.length,
        width=part.width,
        thickness=part.thickness,
        species=part.species,
        stock=part.stock,
    )


def _steps(job: Job, encoded: Encoded, outcome: Outcome, priced: Priced) -> tuple[Step, ...]:
    """The steps in order, each with the resets before it and the number of the setup it belongs to."""
    steps: list[Step] = []
    setup = 0
    for index, lot in enumerate(outcome.order):
        operation = encoded.operations[lot]
        resets = tuple(
            Reset(
                setting=encoded.settings[move.dial][1],
                from_=None if move.start == NO_VALUE else _reading(job, encoded, move.dial, move.start),
                to=_reading(job, encoded, move.dial, move.to),
                minutes=_round(encoded.minutes(move.cost)),
            )
            for move in priced.moves[index]
        )
        if index == 0 or resets or steps[-1].station != operation.station:
            setup += 1
        steps.append(
            Step(
                operation=operation.id,
                station=operation.station,
                setup=setup,
                quantity=operation.quantity,
                walk_minutes=_round(encoded.minutes(priced.walks[index])),
                work_minutes=_round(operation.work_minutes),
                settings={
                    encoded.settings[dial][1]: _reading(job, encoded, dial, value)
                    for dial, value in sorted(priced.values[index].items())
                },
                resets=resets,
            )
        )
    return tuple(steps)


def _setups(job: Job, steps: tuple[Step, ...]) -> tuple[Setup, ...]:
    """The cards: every setting of the station known at that moment, and what is moved for the card."""
    standing: dict[str, dict[str, Reading]] = {}
    setups: list[Setup] = []
    for number in range(1, max((step.setup for step in steps), default=0) + 1):
        run = [step for step in steps if step.setup == number]
        station = run[0].station
        if setups and setups[-1].station != station:
            left = job.shop.station(setups[-1].station)
            for setting in left.settings:
                if not setting.keeps:
                    standing[left.id].pop(setting.id, None)
        known = standing.setdefault(station, {})
        for step in run:
            known.update(step.settings)
        setups.append(
            Setup(
                number=number,
                station=station,
                walk_minutes=run[0].walk_minutes,
                settings=dict(known),
                resets=run[0].resets,
                operations=tuple(step.operation for step in run),
            )
        )
    return tuple(setups)


def _habits(encoded: Encoded, outcome: Outcome) -> tuple[Habit, ...]:
    return tuple(
        Habit(
            name=name,
            cost_minutes=_round(encoded.minutes(priced.cost - priced.wishes)),
            reset_count=sum(len(moves) for moves in priced.moves),
        )
        for name, _, priced in habits(encoded.problem, outcome.options, encoded.first_parts)
    )


def _reading(job: Job, encoded: Encoded, dial: int, value: int) -> Reading:
    """A value of a dial in the job's unit."""
    station, name = encoded.settings[dial]
    return _in_job_unit(job, job.shop.station(station).setting(name), encoded.values[dial][value])


def _in_job_unit(job: Job, setting: Setting, reading: Reading) -> Reading:
    if isinstance(reading, str) or setting.measures != "length":
        return reading
    return in_unit(reading, job.unit)


def _round(minutes: float) -> float:
    """Minutes without the dust of binary fractions."""
    return round(minutes, MINUTE_PLACES)
