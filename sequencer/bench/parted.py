"""A plan that was begun, parted into what is done and what is left, with what is made again for spoiled pieces."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Set
from dataclasses import dataclass
from functools import cached_property

from sequencer.bench.happened import Happened, unknown
from sequencer.bench.made_again import Again, made_again, open_again, records_again
from sequencer.bench.standing import kept
from sequencer.diagnostics import Fault, InputError
from sequencer.model.job import Job
from sequencer.operations import Operation
from sequencer.planfile import PartRecord, Plan, Reading, Step


@dataclass(frozen=True)
class Parted:
    """What is done of a plan and what is left; what was made before the plan began is done, too."""

    steps: tuple[Step, ...]
    """The steps of this plan that were made, in its order."""
    made: tuple[Operation, ...]
    """All that was made, in this plan or before, at the readings that mates hold."""
    reopened: Set[str]
    """Dry fits that were made, and are to be made of sets with new pieces."""
    left: Mapping[str, Operation]
    """What is still to be made, by name: what is opened again with it, but for `again`."""
    again: tuple[Again, ...]
    """What is made again for the spoiled pieces."""
    remade: Mapping[str, PartRecord]
    """The parts that the new pieces are, by the part they were of."""

    @cached_property
    def done(self) -> tuple[Operation, ...]:
        """What was made and is not opened again."""
        return tuple(operation for operation in self.made if operation.id not in self.reopened)


def parted(job: Job, plan: Plan, happened: Happened) -> Parted:
    """The plan as it stands after what happened.

    Raises InputError for steps, parts and settings it does not have, for parts that nothing was done to, and for pieces
    that are glued up.
    """
    if faults := unknown(job, plan, happened):
        raise InputError(faults)
    steps = tuple(
        step for n, step in enumerate(plan.steps, 1) if n <= happened.done and n not in happened.skipped
    )
    made_at = {step.operation: kept(job, step) for step in steps}
    made = (
        *plan.done,
        *(_at_its_readings(each, plan, made_at[each.id]) for each in plan.operations if each.id in made_at),
    )
    left = {operation.id: operation for operation in plan.operations if operation.id not in made_at}
    remade = records_again(plan, left.values(), happened.spoiled)
    _demand_begun(plan, remade, made)
    again = tuple(made_again(plan, made, remade))
    fits = open_again(plan, made, left.values(), remade)
    with_fits = left | fits
    return Parted(
        steps=steps,
        made=made,
        reopened=fits.keys() - left.keys(),
        left=with_fits,
        again=again,
        remade=records_again(plan, with_fits.values(), happened.spoiled),  # they go through these fits, too
    )


def refused(message: str, where: str, accepted: str) -> InputError:
    """What was told, at an option of the command line, cannot be gone on from."""
    return InputError([Fault(message, where=where, accepted=accepted)])


def _demand_begun(plan: Plan, spoiled: Iterable[str], made: Iterable[Operation]) -> None:
    """Refuse spoiled pieces of parts that nothing was done to."""
    records, made = {part.id: part for part in plan.parts}, tuple(made)
    for part in spoiled:
        if not any(records[part].goes_through(operation) for operation in made):
            message = f"nothing was done yet to {part}: it needs no making again"
            raise refused(message, "--spoiled", "a part that some step done was on")


def _at_its_readings(operation: Operation, plan: Plan, readings: Mapping[str, Reading]) -> Operation:
    """A done operation, asking for the readings it was made at wherever mates hold a setting."""
    held = {name for group in plan.mates if operation.id in group.operations for name in group.hold}
    settings = {
        name: readings.get(name, wanted) if f"{operation.station}.{name}" in held else wanted
        for name, wanted in operation.settings.items()
    }
    return operation.model_copy(update={"settings": settings})
