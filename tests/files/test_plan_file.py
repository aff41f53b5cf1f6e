"""A plan that was written can be read again; what is no plan is refused in words."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from sequencer import load_job, plan
from sequencer.diagnostics import InputError
from sequencer.files import read_plan, write_whole

DATA = Path(__file__).parents[1] / "data" / "formats"


def test_round_trip_and_what_is_refused(tmp_path: Path) -> None:
    """The plan read back writes the same text; other JSON, and a changed key, are refused with the key's name."""
    path = tmp_path / "plan.json"
    text = plan(load_job(DATA / "job.toml"), time_limit=20).model_dump_json()
    write_whole(path, text)
    assert read_plan(path).model_dump_json() == text
    path.write_text("{")
    with pytest.raises(InputError, match="not valid JSON"):
        read_plan(path)
    path.write_text("[1]")
    with pytest.raises(InputError, match="this is no plan"):
        read_plan(path)
    raw = json.loads(text)
    raw["cost_mins"] = raw.pop("cost_minutes")
    path.write_text(json.dumps(raw))
    with pytest.raises(InputError, match='unknown key "cost_mins"') as refused:
        read_plan(path)
    assert any("cost_minutes is missing" in fault.message for fault in refused.value.faults)
