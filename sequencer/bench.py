"""The bench as it stands when a plan is gone on with: where each setting is, and what can still be set."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from sequencer.diagnostics import Fault, InputError
from sequencer.model.job import Job
from sequencer.model.shop import Setting, Shop
from sequencer.operations import Between, OneOf, Operation, Wanted
from sequencer.planfile import Plan, Reading, Step
from sequencer.quantity import parse_length

Where = tuple[str, str]
"""A setting: (station, setting)."""


def kept(job: Job, step: Step) -> dict[str, Reading]:
    """The readings a step was made at, as the shop keeps them: lengths in mm."""
    return {name: _in_mm(job, step.station, name, value) for name, value in step.settings.items()}


def standing_shop(job: Job, plan: Plan, done: Iterable[Step], moved: Mapping[Where, Reading | None]) -> Shop:
    """The shop with every setting where it stands: as the steps done left it, or as is told.

    What a visit loses is not counted on, nor what can no longer be set.
    """
    shop, done = job.shop, tuple(done)
    standing: dict[Where, Reading | None] = {
        (station.id, each.id): None if plan.done else each.start
        for station in shop.stations
        for each in station.settings
    }
    for step in reversed(plan.steps):  # where things stood when the plan began
        for name, value in kept(job, step).items():
            standing[step.station, name] = value
        for reset in step.resets:
            standing[step.station, reset.setting] = (
                None if reset.from_ is None else _in_mm(job, step.station, reset.setting, reset.from_)
            )
    for step in done:
        standing |= {(step.station, name): value for name, value in kept(job, step).items()}
    visited = {step.station for step in done}
    standing |= {
        (station.id, each.id): None
        for station in shop.stations
        for each in station.settings
        if not each.keeps and station.id in visited
    }
    standing |= moved
    stations = []
    for station in shop.stations:
        settings = []
        for each in station.settings:
            stands = standing.get((station.id, each.id))
            start = None if stands is None or not _settable(each, stands) else stands
            settings.append(each.model_copy(update={"start": start}))
        stations.append(station.model_copy(update={"settings": tuple(settings)}))
    return shop.model_copy(update={"stations": tuple(stations)})


def still_possible(job: Job, operations: Iterable[Operation]) -> tuple[Operation, ...]:
    """The operations, asking only for what the shop's settings still reach.

    Raises InputError for each that asks for what none of them does: a blade that is broken, a limit that is less now.
    """
    faults, found = [], []
    for operation in operations:
        station = job.shop.station(operation.station)
        settings: dict[str, Wanted] = {}
        for name, wanted in operation.settings.items():
            setting = station.setting(name)
            left = _left_of(setting, wanted)
            if left is None:
                where = f'station "{station.id}", setting "{name}"'
                message = f'"{operation.id}" asks for what can no longer be set here'
                faults.append(Fault(message, job.shop.path, where, accepted=setting.accepted(job.unit)))
            else:
                settings[name] = left
        found.append(operation.model_copy(update={"settings": settings}))
    if faults:
        raise InputError(faults)
    return tuple(found)


def _left_of(setting: Setting, wanted: Wanted) -> Wanted | None:
    """What is left of what is wanted, None for nothing."""
    if isinstance(wanted, OneOf):
        values = tuple(value for value in wanted.any if _settable(setting, value))
        return OneOf(any=values) if values else None
    if isinstance(wanted, Between):
        low = wanted.min if setting.least is None else max(wanted.min, setting.least)
        high = wanted.max if setting.greatest is None else min(wanted.max, setting.greatest)
        listed = [v for v in setting.values if not isinstance(v, str) and low <= v <= high]
        return Between(min=low, max=high) if low <= high and (listed or not setting.values) else None
    return wanted if _settable(setting, wanted) else None


def _settable(setting: Setting, value: Reading) -> bool:
    if setting.values and setting.listed(value) is None:
        return False
    return isinstance(value, str) or not setting.outside(value)


def _in_mm(job: Job, station: str, name: str, value: Reading) -> Reading:
    if isinstance(value, str) or job.shop.station(station).setting(name).measures != "length":
        return value
    return parse_length(value, job.unit)
