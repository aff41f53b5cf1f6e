"""The CSV cut list: one part a row, its first row the names of the columns (those of `[[part]]`)."""

from __future__ import annotations

import csv
import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pydantic import TypeAdapter, ValidationError

from sequencer.diagnostics import Fault, nearest, shortened
from sequencer.files.source import read_text, without_control
from sequencer.files.wording import complaints_of
from sequencer.model.parts import Part
from sequencer.quantity import Unit

_NUMBERS = ("quantity", "spare")
_NEEDED = ("id", "length", "width", "thickness")


@dataclass
class PartsRead:
    """As much of a cut list as could be read: a job can be checked against it even where rows are wrong."""

    path: Path
    ids: list[tuple[int, str]] = field(default_factory=list)
    """The ids of the rows, sound or not, with their lines."""
    parts: list[Part] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    complete: bool = True
    """Whether `ids` names every part; a row or a list that cannot be read may name more."""

    def say(self, line: int, message: str, accepted: str = "", where: str = "") -> None:
        """Add a fault."""
        self.faults.append(Fault(message, str(self.path), where, line, accepted))


def read_cut_list(path: Path, unit: Unit) -> PartsRead:
    """The parts of a cut list, with the faults of what is wrong in it.

    Commas or semicolons part the columns. Lengths are in the job's unit unless they carry their own. Raises
    InputError where the file cannot be read.
    """
    text = read_text(path, "the cut list")
    lines = re.split(r"\r\n|\r|\n", text)
    head = next((line for line in lines if line.strip()), "")
    mark = ";" if head.count(";") > head.count(",") else ","
    found = PartsRead(path)
    names: list[str] | None = None
    for number, line in enumerate(lines, start=1):
        cells = _cells(found, number, line, mark)
        if names is None:
            if any(cells):
                names = [cell.lower() for cell in cells]
                _check_columns(found, number, names)
            if found.faults:  # without headings no row tells anything
                found.complete = False
                return found
        elif any(cells):
            _read_row(found, number, names, cells, unit)
    if names is None and not found.faults:
        found.say(1, "the cut list is empty", "a first row with the columns " + ", ".join(Part.model_fields))
    found.complete = found.complete and names is not None
    return found


def _cells(found: PartsRead, number: int, line: str, mark: str) -> list[str]:
    """The cells of one row: a line each, so that a quotation mark left open swallows no other row."""
    rows = csv.reader([line, ""], delimiter=mark)
    try:
        row = next(rows)
    except csv.Error as error:
        found.complete = False
        found.say(number, f"this row is not CSV: {error}", f"cells parted by {mark}")
        return []
    if rows.line_num > 1:  # the mark has taken the next line in
        found.complete = False
        accepted = "each cell on one line, in two of them"
        found.say(number, "a quotation mark in this row is not closed", accepted)
        return []
    cells = [without_control(cell.strip()) for cell in row]
    for k, (_, wrong) in enumerate(cells, start=1):
        if wrong:
            found.say(number, f"cell {k} {wrong}")
    return [cell for cell, _ in cells]


def _check_columns(found: PartsRead, number: int, names: list[str]) -> None:
    known = list(Part.model_fields)
    if any("\t" in name for name in names):
        found.say(number, "tabs part no columns", f"commas or semicolons: {', '.join(known)}")
        return
    for name in dict.fromkeys(names):
        if name not in known:
            found.say(number, f'unknown column "{name}"{nearest(name, known)}', ", ".join(known))
        elif names.count(name) > 1:
            found.say(number, f'column "{name}" is given twice')
    for name in _NEEDED:
        if name not in names:
            found.say(number, f'column "{name}" is missing', ", ".join(known))


def _read_row(found: PartsRead, number: int, names: list[str], row: list[str], unit: Unit) -> None:
    """The part of one row, or its faults."""
    cells = {name: cell for name, cell in zip(names, row, strict=False) if cell}
    where = f'part "{shortened(cells["id"])}"' if "id" in cells else "row without an id"
    if "id" in cells:
        found.ids.append((number, cells["id"]))
    else:
        found.complete = False
    if any(row[len(names) :]):
        found.complete = False
        message = f"this row has {len(row)} cells for {len(names)} columns"
        found.say(number, message, ", ".join(names), where)
        return
    raw: dict[str, Any] = {k: _whole(v) if k in _NUMBERS else v for k, v in cells.items()}
    try:
        found.parts.append(TypeAdapter(Part).validate_python(raw, context={"unit": unit}))
    except ValidationError as error:
        for complaint in complaints_of(error, Part, raw):
            key = ".".join(map(str, complaint.place))
            predicate = complaint.message.startswith(("must ", "is "))
            message = f"{key} {complaint.message}" if predicate else complaint.message
            found.say(number, message, complaint.accepted, where)


def _whole(cell: str) -> int | str:
    number = re.fullmatch(r"([+-]?\d{1,4000})(?:\.0{1,20})?", cell)
    return int(number[1]) if number else cell
