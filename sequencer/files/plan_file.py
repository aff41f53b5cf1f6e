"""Reading a plan that was written before, to print it again."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

from pydantic import ValidationError

from sequencer.diagnostics import Fault, InputError
from sequencer.files.source import read_text
from sequencer.files.wording import complaints_of
from sequencer.operations import Slot
from sequencer.planfile import Plan
from sequencer.quantity import as_written

LARGEST_NUMBER = 1e15
"""No shop counts or measures further."""
SAME_MINUTES = 1e-6
"""What rounding may add to a cost."""


def read_plan(path: str | Path) -> Plan:
    """The plan in a "plan/1" file. Raises InputError where the file is none."""
    text = read_text(Path(path), "the plan file")
    try:
        raw = json.loads(text)
    except (ValueError, RecursionError) as error:
        line = getattr(error, "lineno", None)
        raise InputError(
            [Fault("not valid JSON", str(path), line=line, accepted='a "plan/1" file')]
        ) from None
    if not isinstance(raw, dict) or raw.get("schema") != "plan/1":
        raise InputError(
            [
                Fault(
                    "this is no plan",
                    str(path),
                    "schema",
                    accepted='a file written by --json, "schema": "plan/1"',
                )
            ]
        )
    wild = [
        Fault(f"must be a number a shop can use, not {as_written(number)}", str(path), where)
        for where, number in _wild(raw)
    ]
    if wild:
        raise InputError(wild)
    try:
        plan = Plan.model_validate_json(text)
    except ValidationError as error:
        raise InputError(
            Fault(
                complaint.message, str(path), ".".join(map(str, complaint.place)), accepted=complaint.accepted
            )
            for complaint in complaints_of(error, Plan, raw)
        ) from None
    torn = [Fault(message, str(path), where) for where, message in _torn(plan)]
    if torn:
        raise InputError(torn)
    return plan


def _wild(value: object, where: str = "") -> Iterator[tuple[str, float | int]]:
    """The numbers that are not finite, or larger than any that is worked with, and where they stand."""
    if isinstance(value, (int, float)) and not abs(value) <= LARGEST_NUMBER:
        yield where, value
    inside = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, each in inside:
        yield from _wild(each, f"{where}.{key}" if where else str(key))


def _torn(plan: Plan) -> Iterator[tuple[str, str]]:
    """Where the plan's own lists do not speak of the same work: (place, message)."""
    for name, ids in (
        ("steps", [step.operation for step in plan.steps]),
        ("operations", [operation.id for operation in plan.operations]),
        ("done", [operation.id for operation in plan.done]),
        ("parts", [part.id for part in plan.parts]),
        ("stations", [station.id for station in plan.stations]),
    ):
        for index, id in enumerate(ids):
            if id in ids[:index]:
                yield f"{name}.{index}", f'"{id}" is there twice'
    for index, part in enumerate(plan.parts):
        if part.spare >= part.quantity:
            yield (
                f"parts.{index}.spare",
                "the spares are counted in quantity, and there must be more than these",
            )
        if not {other.id for other in plan.parts[:index]}.issuperset(part.named[1:]):
            yield f"parts.{index}", "the parts that it is made again of must come before it"
    room = plan.cost_minutes - plan.bound_minutes
    if room < -SAME_MINUTES:
        yield "bound_minutes", "no order costs less than the bound, so it must not be above cost_minutes"
    if plan.status == "optimal" and room > SAME_MINUTES:
        yield "bound_minutes", 'it must be cost_minutes where the status is "optimal"'
    known = {operation.id for operation in plan.operations}
    for index, step in enumerate(plan.steps):
        if step.operation not in known:
            yield f"steps.{index}", f'"{step.operation}" is none of the plan\'s operations'
    for index, setup in enumerate(plan.setups):
        made = tuple(step.operation for step in plan.steps if step.setup == index + 1)
        if setup.number != index + 1 or setup.operations != made or not made:
            yield f"setups.{index}", f"this is not setup {index + 1} as the steps have it"
    if any(not 1 <= step.setup <= len(plan.setups) for step in plan.steps):
        yield "steps", "a step belongs to a setup that is not there"
    if not known <= {step.operation for step in plan.steps}:
        yield "operations", "an operation is in no step"
    for index, operation in enumerate(plan.done):
        if operation.id in known:
            yield f"done.{index}", f'"{operation.id}" is done already, and in the plan'
    cuts = {operation.id: operation.cuts for operation in (*plan.done, *plan.operations)}
    for index, meeting in enumerate(plan.meetings):
        halves = (meeting.first, meeting.second)
        if len(meeting.first.cuts) != len(meeting.second.cuts) or not meeting.first.cuts:
            yield f"meetings.{index}", "each mortise of the first needs one of the second"
        if meeting.fitted > meeting.times:
            yield f"meetings.{index}.fitted", "no more of them can be fitted than there are"
        for half in halves:
            cut = cuts.get(half.operation, ())
            if not all(0 <= n < len(cut) and isinstance(cut[n], Slot) for n in half.cuts):
                yield f"meetings.{index}", f'"{half.operation}" does not plunge these mortises'
