"""What is left of a plan at the bench: steps done, pieces spoiled, settings moved -> the rest, ordered anew.

The choices stay as planned, for the work has begun. A spoiled piece is made again through all steps it had behind it,
as a part of its own ("rail (remade)"), and joins the others for the steps still to come; its steps share setups with
what is left wherever that saves minutes. What stands where follows from the steps done and from what is told.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from itertools import pairwise
from math import ceil
from typing import Any, NamedTuple

from sequencer.diagnostics import Fault, InputError, nearest
from sequencer.happened import Happened
from sequencer.model.job import Job
from sequencer.model.shop import Shop, Station
from sequencer.operations import Edge, MatesGroup, Operation, Worklist
from sequencer.pipeline import Prepared, order
from sequencer.planfile import PartRecord, Plan, Step
from sequencer.quantity import format_minutes, parse_length
from sequencer.rulebook import AFTER

SETS = ("dry-fit", "glue")
"""Kinds of operations that count sets of pieces put together."""
Standing = dict[tuple[str, str], float | str | None]
"""Where each setting (station, setting) stands, as the shop keeps it; None: unknown."""


def replan(
    job: Job,
    plan: Plan,
    happened: Happened,
    time_limit: float = 60.0,
    seed: int = 0,
    progress: Callable[[Any], None] | None = None,
    stop: Callable[[], bool] | None = None,
) -> Plan:
    """The rest of a plan of this job, ordered anew from where things stand, with its proof.

    `done` of the result are the operations made before. Raises InputError for a plan of another job, for steps, parts
    and settings it does not have, where nothing is left, and where what happened cannot be gone on from (a piece that
    is glued up, a step skipped that others rest on); NoOrderError as `order`.
    """
    rest = _Rest(job, plan, happened)
    found = order(rest.prepared(), time_limit, seed, progress, stop)
    still = {operation.id for operation in found.operations}
    return found.model_copy(
        update={
            "choices": plan.choices,
            "struck_out": plan.struck_out,
            "done": (*plan.done, *rest.done),
            "parts": (*plan.parts, *rest.remade.values()),
            "meetings": tuple(
                meeting
                for meeting in plan.meetings
                if still & {meeting.first.operation, meeting.second.operation}
            ),
        }
    )


class _Again(NamedTuple):
    """A done operation made again for the spoiled pieces of some parts."""

    of: str
    operation: Operation
    spoiled: frozenset[str]


class _Rest:
    """The rest of a plan: what is made again, what is still to be made, from where."""

    def __init__(self, job: Job, plan: Plan, happened: Happened) -> None:
        self.job, self.plan, self.happened = job, plan, happened
        self.records = {part.id: part for part in plan.parts}
        _check(job, plan, happened, self.records)
        self.steps = [
            step for n, step in enumerate(plan.steps, 1) if n <= happened.done and n not in happened.skipped
        ]
        made = {step.operation for step in self.steps}
        self.number = {step.operation: n for n, step in enumerate(plan.steps, 1)}
        self.done = tuple(operation for operation in plan.operations if operation.id in made)
        self.left = {operation.id: operation for operation in plan.operations if operation.id not in made}
        self.remade = {name: self._record(name) for name in happened.spoiled}
        self.again = [copy for operation in (*plan.done, *self.done) for copy in self._once_more(operation)]

    def prepared(self) -> Prepared:
        """What is left as a job of its own: operations, precedence, mates, and a shop that stands as the bench does."""
        for part in self.happened.spoiled:
            among = part.partition(" (remade")[0]
            if among != part and not any(part in operation.parts for operation in self.left.values()):
                raise _refused(
                    f"{part} has caught up with the others", "--spoiled", f"{among}, of which it is one now"
                )
            if not any(part in copy.spoiled for copy in self.again):
                accepted = "a part that some step done was on"
                raise _refused(
                    f"nothing was done yet to {part}: it needs no making again", "--spoiled", accepted
                )
        operations = (*(copy.operation for copy in self.again), *self.left.values())
        if not operations:
            raise _refused("nothing is left to be made", "--done", f"fewer than {len(self.plan.steps)} steps")
        mates, begun = self._mates()
        worklist = Worklist(operations=operations, mates=tuple(mates), remarks=(*self._remarks(), *begun))
        job = self.job.model_copy(update={"shop": _standing_shop(self.job.shop, self._standing())})
        return Prepared(job, worklist, tuple(self._edges()))

    def _record(self, part: str) -> PartRecord:
        name, count = f"{part} (remade)", 2
        while name in self.records:
            name, count = f"{part} (remade {count})", count + 1
        return self.records[part].model_copy(
            update={"id": name, "quantity": self.happened.spoiled[part], "spare": 0}
        )

    def _once_more(self, operation: Operation) -> Iterator[_Again]:
        """A done operation again, for the spoiled pieces of its parts; raises InputError where these are glued up."""
        spoiled = [part for part in self.happened.spoiled if part in operation.parts]
        if spoiled and operation.kind == "glue":
            raise _refused(
                f'{spoiled[0]} is glued up ("{operation.id}" is done): one piece of it cannot be made again',
                "--spoiled",
                "parts that are not glued up yet",
            )
        if spoiled and operation.kind in SETS:
            sets = min(operation.quantity, max(self.happened.spoiled[part] for part in spoiled))
            again = operation.model_copy(
                update={
                    "id": _id(operation, spoiled[0], self.remade[spoiled[0]].id),
                    "quantity": sets,
                    "after": (),
                }
            )
            yield _Again(operation.id, again, frozenset(spoiled))
            return
        whole = sum(self.records[part].quantity for part in operation.parts if part in self.records)
        for part in spoiled:
            quantity = ceil(operation.quantity * self.happened.spoiled[part] / whole)
            again = _of_another(operation, part, self.remade[part].id, quantity)
            yield _Again(operation.id, again, frozenset({part}))

    def _edges(self) -> Iterator[Edge]:
        """What must still wait for what; raises InputError where a done operation had to wait for one that is left."""
        before = {copy.of for copy in self.again if copy.of not in self.number}
        for edge in self.plan.precedence:
            if edge.before in self.left and edge.after in self.left:
                yield edge
            elif edge.strength == "must" and edge.before in self.left:
                raise _refused(
                    f"step {self.number[edge.after]} cannot have been made before step {self.number[edge.before]}: "
                    f"{edge.why}",
                    "--skipped",
                    "steps that no step done must wait for",
                )
            elif edge.strength == "must":
                for copy in self.again:
                    if copy.of != edge.before:
                        continue
                    if edge.after in self.left and copy.spoiled & set(self.left[edge.after].parts):
                        yield edge.model_copy(update={"before": copy.operation.id})
                    for later in self.again:
                        if later.of == edge.after and copy.spoiled & later.spoiled:
                            yield edge.model_copy(
                                update={"before": copy.operation.id, "after": later.operation.id}
                            )
        yield from self._as_made(before)

    def _as_made(self, before: set[str]) -> Iterator[Edge]:
        """Of what an earlier plan made, the reasons are gone: its steps come again in the order they were made in, and
        before all else on the same pieces."""
        for part in self.happened.spoiled:
            mine = [copy for copy in self.again if part in copy.spoiled]
            early = [copy.operation.id for copy in mine if copy.of in before]
            late = [copy.operation.id for copy in mine if copy.of not in before]
            late += [operation.id for operation in self.left.values() if part in operation.parts]
            chain = [*pairwise(early), *((early[-1], name) for name in late if early)]
            for one, two in chain:
                yield Edge(before=one, after=two, rule=AFTER, why="in the order in which it was made first")

    def _mates(self) -> tuple[list[MatesGroup], list[str]]:
        """The groups that are left, and what is to be matched by hand where a group is begun."""
        groups, told = [], []
        made = {step.operation: step for step in self.steps}
        for group in self.plan.mates:
            still = tuple(name for name in group.operations if name in self.left)
            again = tuple(copy.operation.id for copy in self.again if copy.of in group.operations)
            if len(still) + len(again) > 1:
                groups.append(group.model_copy(update={"operations": (*again, *still)}))
            begun = [made[name] for name in group.operations if name in made]
            if begun and (still or again):
                told.append(self._match(group, begun[-1], (*again, *still)))
        return groups, told

    def _match(self, group: MatesGroup, step: Step, rest: tuple[str, ...]) -> str:
        names = {s.id: s.name for s in self.job.shop.stations}
        held = ", ".join(name.partition(".")[2].replace("_", " ") for name in group.hold)
        work = {**self.left, **{copy.operation.id: copy.operation for copy in self.again}}
        return (
            f"{'; '.join(work[name].notes.what or name for name in rest)}: {held} of the "
            f"{names.get(step.station, step.station)} must be as at step {self.number[step.operation]} of the plan "
            "begun; prove it on a piece made there" + (f" ({group.why})" if group.why else "")
        )

    def _standing(self) -> Standing:
        """Where each setting stands: as the steps done left it, or as is told; what a visit loses is not counted on."""
        gone_on = bool(self.plan.done)  # then the shop's own start lies before that
        stations = self.job.shop.stations
        standing: Standing = {
            (station.id, setting.id): None if gone_on else setting.start
            for station in stations
            for setting in station.settings
        }
        for step in reversed(self.plan.steps):
            found: dict[str, float | str | None] = dict(step.settings.items())
            found |= {reset.setting: reset.from_ for reset in step.resets}
            for name, value in found.items():
                standing[step.station, name] = self._kept(step.station, name, value)
        for step in self.steps:
            for name, value in step.settings.items():
                standing[step.station, name] = self._kept(step.station, name, value)
        visited = {step.station for step in self.steps}
        for station in stations:
            for setting in station.settings:
                if not setting.keeps and station.id in visited:
                    standing[station.id, setting.id] = None
        return standing | dict(self.happened.moved)

    def _kept(self, station: str, name: str, value: float | str | None) -> float | str | None:
        """A value of the plan as the shop keeps it: lengths in mm."""
        setting = self.job.shop.station(station).setting(name)
        if value is None or isinstance(value, str) or setting.measures != "length":
            return value
        return parse_length(value, self.plan.unit)

    def _remarks(self) -> Iterator[str]:
        steps = len(self.plan.steps)
        ahead = [step for step in self.plan.steps if step.operation not in {s.operation for s in self.steps}]
        minutes = sum(
            step.walk_minutes + step.work_minutes + sum(reset.minutes for reset in step.resets)
            for step in ahead
        )
        yield f"goes on from {len(self.steps)} of {steps} steps; {format_minutes(minutes)} were left of that plan"
        for part, pieces in self.happened.spoiled.items():
            copies = [copy.operation for copy in self.again if part in copy.spoiled]
            work = format_minutes(sum(copy.work_minutes for copy in copies))
            yield f"{part}: {pieces} made again, {len(copies)} steps with {work} of work"


def _check(job: Job, plan: Plan, happened: Happened, records: Mapping[str, PartRecord]) -> None:
    """Raises InputError for a plan of another job, or for what it does not have."""
    faults = []
    stations = {station.id: station for station in job.shop.stations}
    strange = [
        f"{step.station}.{name}"
        for step in plan.steps
        for name in ("", *step.settings)
        if step.station not in stations or (name and not _has(stations[step.station], name))
    ]
    if (plan.job, plan.unit, plan.batch) != (job.name, job.unit, job.batch) or strange:
        faults.append(
            Fault("this plan is of another job, or of another shop", job.path, "", None, "its own job file")
        )
    count = len(plan.steps)
    if not 0 <= happened.done <= count:
        faults.append(
            Fault(f"the plan has no step {happened.done}", where="--done", accepted=f"0 to {count}")
        )
    for step in sorted(happened.skipped):
        if not 1 <= step <= happened.done:
            accepted = f"steps from 1 to {happened.done}"
            faults.append(Fault(f"step {step} is not among those done", where="--skipped", accepted=accepted))
    for part, pieces in happened.spoiled.items():
        if part not in records:
            faults.append(
                Fault(
                    f'the plan has no part "{part}"{nearest(part, records)}',
                    where="--spoiled",
                    accepted=", ".join(records),
                )
            )
        elif not 1 <= pieces <= records[part].quantity:
            accepted = f"1 to {records[part].quantity}"
            faults.append(
                Fault(f"{pieces} of {part} cannot be spoiled", where="--spoiled", accepted=accepted)
            )
    if faults:
        raise InputError(faults)


def _has(station: Station, setting: str) -> bool:
    return any(each.id == setting for each in station.settings)


def _standing_shop(shop: Shop, standing: Standing) -> Shop:
    """The shop with every setting where it stands."""
    return shop.model_copy(
        update={
            "stations": tuple(
                station.model_copy(
                    update={
                        "settings": tuple(
                            setting.model_copy(update={"start": standing[station.id, setting.id]})
                            for setting in station.settings
                        )
                    }
                )
                for station in shop.stations
            )
        }
    )


def _of_another(operation: Operation, part: str, name: str, quantity: int) -> Operation:
    """An operation as it is made on another part, `name`, of the shape of `part`."""

    def surfaces(named: tuple[str, ...]) -> tuple[str, ...]:
        return tuple(f"{name}/{s.rpartition('/')[2]}" for s in named if s.rpartition("/")[0] == part)

    lines = tuple(
        line.model_copy(update={"part": name}) for line in operation.notes.lines if line.part == part
    )
    what = re.sub(rf"(?<!\w){re.escape(part)}(?!\w)", lambda _: name, operation.notes.what)
    return operation.model_copy(
        update={
            "id": _id(operation, part, name),
            "parts": (name,),
            "quantity": quantity,
            "after": (),
            "registers_on": surfaces(operation.registers_on),
            "makes": surfaces(operation.makes),
            "destroys": surfaces(operation.destroys),
            "surface": next(iter(surfaces((operation.surface,))), ""),
            "cuts": tuple(
                cut.model_copy(update={"part": name}) for cut in operation.cuts if cut.part == part
            ),
            "notes": operation.notes.model_copy(update={"lines": lines, "what": what}),
        }
    )


def _id(operation: Operation, part: str, name: str) -> str:
    """The id of an operation made again for "part (remade)"; with the part in it where there are several."""
    again = name.removeprefix(part).strip(" ()").replace(" ", "-")
    return f"{operation.id}-{again}" if len(operation.parts) == 1 else f"{operation.id}-{part}-{again}"


def _refused(message: str, where: str, accepted: str) -> InputError:
    return InputError([Fault(message, where=where, accepted=accepted)])
