"""The bench as it stands when a plan is gone on with: where each setting is, and what can still be set."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from math import isfinite

from sequencer.diagnostics import Fault, InputError, quoted
from sequencer.model.job import Job
from sequencer.model.shop import Setting, Shop
from sequencer.model.wanted import several_readings
from sequencer.operations import Between, OneOf, Operation, Wanted, the_one
from sequencer.planfile import Plan, Reading, Step
from sequencer.quantity import format_angle

Where = tuple[str, str]
"""A setting: (station, setting)."""


def kept(job: Job, step: Step) -> dict[str, Reading]:
    """The readings a step was made at, as the shop keeps them: lengths in mm. Settings that the shop no longer has are
    left out.
    """
    known = settings_of(job.shop)
    return {
        name: known[step.station, name].in_mm(value, job.unit)
        for name, value in step.settings.items()
        if (step.station, name) in known
    }


def settings_of(shop: Shop) -> dict[Where, Setting]:
    """The settings of a shop's stations."""
    return {(station.id, each.id): each for station in shop.stations for each in station.settings}


def standing_shop(job: Job, plan: Plan, done: Iterable[Step], moved: Mapping[Where, Reading | None]) -> Shop:
    """The shop with every setting where it stands: as the steps done left it, or as is told.

    What a visit loses is not counted on, nor what can no longer be set. What is measured at another setting is so at
    what was asked of that one when it was set; where it is told, at where that one stands.
    """
    shop, done, known = job.shop, tuple(done), settings_of(job.shop)
    standing, asked = _at_first(job, plan), {operation.id: operation for operation in plan.operations}
    measured = _measured_at_first(job, plan, standing)
    for step in done:
        readings = kept(job, step)
        for where, setting, base in _on_others(shop):
            if where[0] == step.station and setting.id in readings:
                wanted, stood, at = asked.get(step.operation), standing.get(where), measured.get(where)
                level = the_one(wanted.settings.get(base.id)) if wanted else None
                good = level is None or (at is not None and base.same(at, level))
                serves = good and stood is not None and setting.same(stood, readings[setting.id])
                # where what the plan would have moved it for was skipped, it was set for this step, if it had to be
                if setting.id in (reset.setting for reset in step.resets) or not serves:
                    measured[where] = level
        standing |= {(step.station, name): value for name, value in readings.items()}
    visited = {step.station for step in done}
    standing |= {where: None for where, each in known.items() if not each.keeps and where[0] in visited}
    standing |= moved
    for where, _, base in _on_others(shop):
        if where in moved:
            measured[where] = standing.get((where[0], base.id))
    stations = []
    for station in shop.stations:
        settings = []
        for each in station.settings:
            where = station.id, each.id
            stands = standing.get(where)
            start = None if stands is None or not settable(each, stands) else stands
            settings.append(each.standing(start, measured.get(where)))
        stations.append(station.model_copy(update={"settings": tuple(settings)}))
    return shop.model_copy(update={"stations": tuple(stations)})


def _on_others(shop: Shop) -> tuple[tuple[Where, Setting, Setting], ...]:
    """The settings that are measured at another one, each with that one."""
    return tuple(
        ((station.id, setting.id), setting, base)
        for station in shop.stations
        for setting in station.settings
        if (base := station.base(setting)) is not None
    )


def _measured_at_first(
    job: Job, plan: Plan, standing: Mapping[Where, Reading | None]
) -> dict[Where, Reading | None]:
    """At what readings of others the settings were set that stood when the plan began. Of a file that does not say so,
    as those others stood."""
    found: dict[Where, Reading | None] = {}
    for where, _, base in _on_others(job.shop):
        at = standing.get((where[0], base.id))
        if plan.begins_at is not None:
            told = plan.begins_at.get(".".join(where))
            at = None if told is None else base.in_mm(told, job.unit)
        found[where] = at
    return found


def _at_first(job: Job, plan: Plan) -> dict[Where, Reading | None]:
    """Where the settings stood when the plan began, as far as anybody knows. A file that does not say so has what its
    steps find; for the first plan of a job, the shop's own starts besides.
    """
    known = settings_of(job.shop)
    if plan.begins is not None:
        begins = {where: plan.begins.get(".".join(where)) for where in known}
        return {w: None if at is None else known[w].in_mm(at, job.unit) for w, at in begins.items()}
    standing = {where: None if plan.done else each.start for where, each in known.items()}
    for step in reversed(plan.steps):
        standing |= {(step.station, name): value for name, value in kept(job, step).items()}
        for reset in step.resets:
            where = step.station, reset.setting
            if where in known:
                standing[where] = None if reset.from_ is None else known[where].in_mm(reset.from_, job.unit)
    return standing


def still_possible(job: Job, operations: Iterable[Operation]) -> tuple[Operation, ...]:
    """The operations, asking only for what the shop's settings still reach.

    Raises InputError for each station that is gone, and each that asks for what no setting reaches: one that is gone,
    too, a blade that is broken, a limit that is less now.
    """
    faults, found, known = [], [], settings_of(job.shop)
    operations, stations = tuple(operations), [station.id for station in job.shop.stations]
    for station in dict.fromkeys(each.station for each in operations if each.station not in stations):
        ids = [operation.id for operation in operations if operation.station == station]
        message = f"{quoted(ids)} {'is' if len(ids) == 1 else 'are'} to be made at station "
        message += f'"{station}", which the shop does not have'
        faults.append(Fault(message, job.shop.path, accepted=", ".join(stations)))
    for operation in operations:
        settings: dict[str, Wanted] = {}
        if operation.station not in stations:
            continue
        for name, wanted in operation.settings.items():
            setting = known.get((operation.station, name))
            left = _left_of(setting, wanted) if setting else None
            if left is None:
                where = f'station "{operation.station}", setting "{name}"'
                asked = f"{_in_words(setting, wanted, job)}, which" if setting else "what"
                message = f'"{operation.id}" asks for {asked} can no longer be set here'
                accepted = (
                    setting.accepted(job.unit)
                    if setting
                    else ", ".join(name for station, name in known if station == operation.station)
                    or "no settings: this station has none"
                )
                faults.append(Fault(message, job.shop.path, where, accepted=accepted))
            else:
                settings[name] = left
        for (station, name), _, base in _on_others(job.shop):
            several = base.id in settings and the_one(settings[base.id]) is None
            if station == operation.station and name in settings and several:
                message, accepted = several_readings(name)
                where = f'station "{operation.station}", setting "{base.id}"'
                faults.append(Fault(f'"{operation.id}": {message}', job.shop.path, where, accepted=accepted))
        found.append(operation.model_copy(update={"settings": settings}))
    if faults:
        raise InputError(faults)
    return tuple(found)


def reading_in_words(setting: Setting, value: Reading, job: Job) -> str:
    """A value of a setting (mm, degrees) in words, as the job is told: "30°", "12 mm"."""
    if setting.measures == "angle" and not isinstance(value, str):
        return format_angle(value)
    return setting.worded(value, job.unit)


def _in_words(setting: Setting, wanted: Wanted, job: Job) -> str:
    """What is wanted of a setting, in words."""
    match wanted:
        case OneOf(any=values):
            return " or ".join(reading_in_words(setting, value, job) for value in values)
        case Between(min=low, max=high):
            return " to ".join(reading_in_words(setting, value, job) for value in (low, high))
        case _:
            return reading_in_words(setting, wanted, job)


def _left_of(setting: Setting, wanted: Wanted) -> Wanted | None:
    """What is left of what is wanted, None for nothing."""
    if isinstance(wanted, OneOf):
        values = tuple(value for value in wanted.any if settable(setting, value))
        return OneOf(any=values) if values else None
    if isinstance(wanted, Between):
        low = wanted.min if setting.least is None else max(wanted.min, setting.least)
        high = wanted.max if setting.greatest is None else min(wanted.max, setting.greatest)
        listed = [v for v in setting.values if not isinstance(v, str) and low <= v <= high]
        return Between(min=low, max=high) if low <= high and (listed or not setting.values) else None
    return wanted if settable(setting, wanted) else None


def settable(setting: Setting, value: Reading) -> bool:
    """Whether a setting, as the shop has it now, can stand at a value (mm, degrees)."""
    if isinstance(value, str) != (setting.measures == "name"):
        return False
    if setting.values and setting.listed(value) is None:
        return False
    return isinstance(value, str) or (isfinite(value) and not setting.outside(value))
