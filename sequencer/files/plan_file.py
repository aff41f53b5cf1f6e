"""Reading a plan that was written before, to print it again or to go on from it."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

from pydantic import ValidationError

from sequencer.agreement.asked import not_as_asked
from sequencer.agreement.cuts import not_cut
from sequencer.agreement.lists import torn
from sequencer.agreement.replay import miscounted
from sequencer.diagnostics import Fault, InputError, shortened
from sequencer.files.source import TEXT_ACCEPTED, read_text, without_control
from sequencer.files.wording import complaints_of
from sequencer.planfile import Plan
from sequencer.quantity import as_written

LARGEST_NUMBER = 1e15
"""No shop counts or measures further."""


def read_plan(path: str | Path) -> Plan:
    """The plan in a "plan/1" file. Raises InputError where the file is none, or contradicts itself."""
    text = read_text(Path(path), "the plan file")
    try:
        raw = json.loads(text, object_pairs_hook=_each_key_once)
    except _KeyTwiceError as error:
        message = f'the key "{shortened(error.args[0])}" is given twice in one object'
        raise InputError([Fault(message, str(path), accepted="each key once")]) from None
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
    wild = [Fault(message, str(path), where, accepted=accepted) for where, message, accepted in _wild(raw)]
    if wild:
        raise InputError(wild)
    try:
        plan = Plan.model_validate_json(text, strict=True)  # a text is no number, and true is none
    except ValidationError as error:
        if (first := error.errors()[0])["type"] == "json_invalid":  # half of a sign, nested too deep ...
            message = f"not valid JSON: {first['ctx']['error']}"
            raise InputError([Fault(message, str(path), accepted='a "plan/1" file')]) from None
        raise InputError(
            Fault(
                complaint.message, str(path), ".".join(map(str, complaint.place)), accepted=complaint.accepted
            )
            for complaint in complaints_of(error, Plan, raw)
        ) from None
    # what the steps come to can only be told where all lists speak of the same steps
    wrong = [*torn(plan)] or [*miscounted(plan), *not_as_asked(plan), *not_cut(plan)]
    if wrong:
        raise InputError(Fault(each.message, str(path), each.where, accepted=each.accepted) for each in wrong)
    return plan


class _KeyTwiceError(Exception):
    """A JSON object has a key twice: two values for one thing, of which nobody knows which is meant."""


def _each_key_once(pairs: list[tuple[str, object]]) -> dict[str, object]:
    """The object of these keys and values; raises _KeyTwiceError."""
    found: dict[str, object] = {}
    for key, value in pairs:
        if key in found:
            raise _KeyTwiceError(key)
        found[key] = value
    return found


def _wild(value: object, where: str = "") -> Iterator[tuple[str, str, str]]:
    """Numbers that are not finite, or larger than any that is worked with, and texts and keys with control characters:
    where they stand, what is wrong, what would be accepted.
    """
    if isinstance(value, (int, float)) and not abs(value) <= LARGEST_NUMBER:
        yield where, f"must be a number a shop can use, not {as_written(value)}", ""
    elif isinstance(value, str) and (wrong := without_control(value)[1]):
        yield where, wrong, TEXT_ACCEPTED
    inside = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, each in inside:
        place = f"{where}.{key}" if where else str(key)
        if isinstance(key, str) and (wrong := without_control(key)[1]):
            yield without_control(place)[0], f"its key {wrong}", TEXT_ACCEPTED
        else:
            yield from _wild(each, place)
