"""The CSV cut list: one part a row, its first row the names of the columns (those of `[[part]]`)."""

from __future__ import annotations

import csv
import io
import re
from pathlib import Path
from typing import Any

from pydantic import TypeAdapter, ValidationError

from sequencer.diagnostics import Fault, nearest
from sequencer.files.source import read_text
from sequencer.files.wording import complaints_of
from sequencer.model.parts import Part
from sequencer.quantity import Unit

_NUMBERS = ("quantity", "spare")


def read_cut_list(path: Path, unit: Unit) -> tuple[list[tuple[int, str]], list[Part], list[Fault]]:
    """The ids of the rows with their lines, the parts that are sound, and the faults of the others.

    Commas or semicolons part the columns. Lengths are in the job's unit unless they carry their own. Raises
    InputError where the file cannot be read.
    """
    text = read_text(path, "the cut list")
    head = text.split("\n", 1)[0]
    rows = csv.reader(
        io.StringIO(text, newline=""), delimiter=";" if head.count(";") > head.count(",") else ","
    )
    faults: list[Fault] = []
    ids: list[tuple[int, str]] = []
    parts: list[Part] = []
    names: list[str] | None = None
    known = list(Part.model_fields)

    def say(message: str, where: str = "", accepted: str = "") -> None:
        faults.append(Fault(message, str(path), where, rows.line_num, accepted))

    try:
        for row in rows:
            if not any(cell.strip() for cell in row):
                continue
            if names is None:
                names = [cell.strip().lower() for cell in row]
                for name in names:
                    if name not in known:
                        say(f'unknown column "{name}"{nearest(name, known)}', "", ", ".join(known))
                    elif names.count(name) > 1:
                        say(f'column "{name}" is given twice')
                for name in ("id", "length", "width", "thickness"):
                    if name not in names:
                        say(f'column "{name}" is missing', "", ", ".join(known))
                if faults:
                    return [], [], faults
                continue
            cells = {name: cell.strip() for name, cell in zip(names, row, strict=False) if cell.strip()}
            where = f'part "{cells["id"]}"' if "id" in cells else "row without an id"
            if len(row) > len(names) and any(cell.strip() for cell in row[len(names) :]):
                say(f"this row has {len(row)} cells for {len(names)} columns", where, ", ".join(names))
                continue
            if "id" in cells:
                ids.append((rows.line_num, cells["id"]))
            raw: dict[str, Any] = {k: _whole(v) if k in _NUMBERS else v for k, v in cells.items()}
            try:
                parts.append(TypeAdapter(Part).validate_python(raw, context={"unit": unit}))
            except ValidationError as error:
                for complaint in complaints_of(error, Part, raw):
                    key = ".".join(map(str, complaint.place))
                    predicate = complaint.message.startswith(("must ", "is "))
                    say(
                        f"{key} {complaint.message}" if predicate else complaint.message,
                        where,
                        complaint.accepted,
                    )
    except csv.Error as error:
        say(f"this is not CSV: {error}")
    if names is None:
        say("the cut list is empty", "", "a first row with the columns " + ", ".join(known))
    return ids, parts, faults


def _whole(cell: str) -> int | str:
    return int(cell) if re.fullmatch(r"[+-]?\d{1,9}", cell) else cell
