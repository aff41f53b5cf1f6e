"""JSON schemas of the job and shop files, for editors that check while one types."""

from __future__ import annotations

from typing import Any

from pydantic import Field

from sequencer.files.shop_file import ShopTable
from sequencer.model.job import ChoiceTable, JobTable, MatesTable, OperationTable
from sequencer.model.parts import Joinery, Joint, Part
from sequencer.model.shop import Rules, Station
from sequencer.operations import Value


class ShopFile(Value):
    """A shop file."""

    shop: ShopTable
    station: tuple[Station, ...] = Field(min_length=1)
    joinery: Joinery = Joinery()
    rules: Rules = Rules()


class JobFile(Value):
    """A job file."""

    job: JobTable
    part: tuple[Part, ...] = ()
    joint: tuple[Joint, ...] = ()
    operation: tuple[OperationTable, ...] = ()
    mates: tuple[MatesTable, ...] = ()
    choice: tuple[ChoiceTable, ...] = ()


def job_schema() -> dict[str, Any]:
    """The JSON schema of a job file."""
    return JobFile.model_json_schema(by_alias=True)


def shop_schema() -> dict[str, Any]:
    """The JSON schema of a shop file."""
    return ShopFile.model_json_schema(by_alias=True)
