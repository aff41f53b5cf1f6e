"""The published schemas of the job and shop files know the keys that the reader knows."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

from sequencer.files.accepted import fields_of
from sequencer.files.schema import job_schema, shop_schema
from sequencer.planfile import Plan

DATA = Path(__file__).parent / "data" / "formats"


def _strangers(value: Any, schema: dict[str, Any], root: dict[str, Any]) -> list[str]:
    """Keys of the value that the schema does not name."""
    while "$ref" in schema:
        schema = root["$defs"][schema["$ref"].rpartition("/")[2]]
    if isinstance(value, list) and "items" in schema:
        return [each for entry in value for each in _strangers(entry, schema["items"], root)]
    if not isinstance(value, dict) or "properties" not in schema:
        return []
    known = schema["properties"]
    inside = [each for key, v in value.items() if key in known for each in _strangers(v, known[key], root)]
    return [key for key in value if key not in known] + inside


def test_the_published_format_keeps_the_schemas() -> None:
    """Every key of the format's examples stands in the schemas, and a made-up one does not."""
    job = tomllib.loads((DATA / "job.toml").read_text(encoding="utf-8"))
    shop = tomllib.loads((DATA / "shop.toml").read_text(encoding="utf-8"))
    assert _strangers(job, job_schema(), job_schema()) == []
    assert _strangers(shop, shop_schema(), shop_schema()) == []
    job["operation"][0]["quantty"] = 3
    assert _strangers(job, job_schema(), job_schema()) == ["quantty"]


def test_notes_may_be_a_text() -> None:
    """The schema accepts what the reader does: notes as a table, or a text alone."""
    notes = job_schema()["$defs"]["OperationTable"]["properties"]["notes"]
    assert notes["anyOf"] == [{"type": "string"}, {"$ref": "#/$defs/NotesTable"}]


def test_the_keys_of_a_plan_are_described() -> None:
    """The schema of the plan file says what each key is; of what is never written neither it nor a message speaks."""
    schema = Plan.model_json_schema(by_alias=True)
    keys = schema["properties"]
    assert [key for key, says in keys.items() if "description" not in says] == ["schema"]
    assert schema["$defs"]["Step"]["properties"]["setup"]["description"].startswith("Number of the setup")
    assert schema["$defs"]["Operation"]["properties"]["of_sets"]["description"].startswith("Of a dry fit")
    assert "planning_seconds" not in keys
    assert "planning_seconds" not in fields_of(Plan)
    assert keys.keys() == fields_of(Plan).keys()
