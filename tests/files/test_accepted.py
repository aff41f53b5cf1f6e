"""Where a list or a table belongs and something else stands, the fault shows what is accepted, as the file has it."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from functools import cache
from typing import Any, get_args

import pytest
from pydantic import TypeAdapter, ValidationError

from sequencer.files.accepted import fields_of
from sequencer.files.shop_file import ShopTable
from sequencer.files.wording import complaints_of
from sequencer.model.fields import Complaint
from sequencer.model.job import ChoiceTable, JobTable, LinesTable, MatesTable, NotesTable, OperationTable
from sequencer.model.parts import Joinery, Joint, Part, Slips
from sequencer.model.shop import Rules, Setting

TABLES = (JobTable, OperationTable, NotesTable, LinesTable, MatesTable, ChoiceTable)
TABLES += (Part, Slips, ShopTable, Setting, Rules, Joinery)


def keys() -> Iterator[tuple[Any, str, dict[str, Any]]]:
    """Each key of each table of the files: the model it is read by, and what tells that in the table."""
    for model in TABLES:
        yield from ((model, key, {}) for key in fields_of(model))
    for joint in get_args(get_args(Joint)[0]):
        (kind,) = get_args(joint.model_fields["kind"].annotation)
        yield from ((Joint, key, {"kind": kind}) for key in fields_of(joint) if key != "kind")


adapter = cache(TypeAdapter)


def of_wrong_kind(model: Any, raw: dict[str, Any], key: str) -> list[Complaint]:
    """What is said of the key's value being no list or no table."""
    try:
        adapter(model).validate_python(raw, context={"unit": "mm"})
    except ValidationError as error:
        return [
            complaint
            for complaint in complaints_of(error, model, raw)
            if complaint.place[:1] == (key,)
            and complaint.message.startswith(("must be a list", "must be a table"))
        ]
    return []


@pytest.mark.parametrize("value", [5, "x", True, [5], {"x": 5}], ids=str)
def test_the_example_told_is_accepted(value: Any) -> None:
    """Put in its place what is told as accepted is of the right kind; there are 30 such keys or more."""
    told = 0
    for model, key, head in keys():
        for complaint in of_wrong_kind(model, head | {key: value}, key):
            assert complaint.accepted, (key, complaint)
            if complaint.place != (key,) or "{ ... }" in complaint.accepted or "= ..." in complaint.accepted:
                continue
            example = tomllib.loads(f"v = {complaint.accepted.replace(', ...', '')}")["v"]
            assert not of_wrong_kind(model, head | {key: example}, key), (key, complaint)
            told += 1
    assert told > (30 if value in (5, "x", True) else 5)
