"""Reading a plan that was written before, to print it again."""

from __future__ import annotations

import json
from pathlib import Path

from pydantic import ValidationError

from sequencer.diagnostics import Fault, InputError
from sequencer.files.source import read_text
from sequencer.files.wording import complaints_of
from sequencer.planfile import Plan


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
    try:
        return Plan.model_validate_json(text)
    except ValidationError as error:
        raise InputError(
            Fault(
                complaint.message, str(path), ".".join(map(str, complaint.place)), accepted=complaint.accepted
            )
            for complaint in complaints_of(error, Plan, raw)
        ) from None
