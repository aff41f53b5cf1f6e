"""The cut list, the steps and the marking-out as CSV files for a spreadsheet, numbers in the job's unit.

UTF-8 with a byte order mark, so that spreadsheets read the names right; lengths are plain decimals.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from pathlib import Path

from sequencer.cards.marking import Marking
from sequencer.cards.planbook import PlanBook
from sequencer.files.output import make_folder, write_whole
from sequencer.operations import as_words
from sequencer.planfile import Plan, Step
from sequencer.quantity import MINUTE_PLACES, in_unit
from sequencer.report.stocklist import cut_list

FILES = ("cut-list.csv", "steps.csv", "marking-out.csv")


def write_csv(plan: Plan, folder: Path) -> tuple[Path, ...]:
    """Write cut-list.csv, steps.csv and marking-out.csv into `folder`, made if need be; returns their paths.

    Raises InputError if they cannot be written.
    """
    folder = make_folder(folder)
    paths = tuple(folder / name for name in FILES)
    for path, rows in zip(paths, (_cut_list(plan), _steps(plan), _marking(plan)), strict=True):
        write_whole(path, _text(rows).encode("utf-8-sig"))
    return paths


def _text(rows: Iterable[Sequence[object]]) -> str:
    page = io.StringIO()
    csv.writer(page).writerows([_plain(cell) for cell in row] for row in rows)
    return page.getvalue()


def _plain(cell: object) -> object:
    """A cell no spreadsheet takes for a formula: text that begins like one gets an apostrophe."""
    return f"'{cell}" if isinstance(cell, str) and cell[:1] in "=+-@\t\r" and cell else cell


def _cut_list(plan: Plan) -> list[Sequence[object]]:
    unit = plan.unit
    head = [
        "part",
        *(f"{which}{size} ({unit})" for which in ("", "rough ") for size in ("length", "width", "thickness")),
    ]
    rows: list[Sequence[object]] = [[*head, "pieces", "spares", "species", "stock"]]
    for row in cut_list(plan):
        part = row.part
        sizes = [in_unit(mm, unit) for mm in (part.length, part.width, part.thickness, *row.rough)]
        rows.append([part.id, *sizes, row.pieces, row.spares, part.species, part.stock])
    return rows


def _steps(plan: Plan) -> list[Sequence[object]]:
    book = PlanBook(plan)
    names = list(dict.fromkeys(name for step in plan.steps for name in step.settings))
    head = [
        "step",
        "card",
        "station",
        "operation",
        "what",
        "parts",
        "pieces",
        "cuts each",
        "sets",
        "min walk",
        "min set",
        "min work",
    ]
    # what the shop file's stations have no settings for, where there is any
    besides = list(dict.fromkeys(name for each in plan.operations for name in each.set_too))
    head += [f"set too: {as_words(name)}" for name in besides]
    rows: list[Sequence[object]] = [[*head, *(as_words(name) for name in names)]]
    for number, step in enumerate(plan.steps, 1):
        set_up = round(sum(reset.minutes for reset in step.resets), MINUTE_PLACES)
        minutes = [step.walk_minutes, set_up, step.work_minutes]
        parts = ", ".join(book.operation(step.operation).parts)
        what = [
            book.station_name(step.station),
            step.operation,
            book.what(step.operation),
            parts,
            *_counts(book, step),
        ]
        told = {name: book.told(step.station, name, value) for name, value in step.settings.items()}
        too = book.operation(step.operation).set_too
        readings = [*(too.get(name, "") for name in besides), *(told.get(name, "") for name in names)]
        rows.append([number, step.setup, *what, *minutes, *readings])
    return rows


def _counts(book: PlanBook, step: Step) -> list[int | str]:
    """Pieces, how often each is cut, and the sets they are put together to; empty where that cannot be told, and where
    not cuts but slots are counted.
    """
    pieces, cuts = book.pieces(step.operation), book.cuts_each(step.operation)
    counts = [piece.count for piece in pieces if piece.count is not None]
    whole = sum(counts) if len(counts) == len(pieces) else step.quantity
    return [whole, "" if cuts is None else cuts, pieces[0].sets or ""]


def _marking(plan: Plan) -> list[Sequence[object]]:
    book = PlanBook(plan)
    rows: list[Sequence[object]] = [
        ["part", "from", "squared across", f"distance ({plan.unit})", "what", "card"]
    ]
    for line, operations in Marking(book).lines.items():
        needed = ", ".join(dict.fromkeys(str(book.setup_of[operation.id]) for operation in operations))
        for at in sorted(line.at):
            rows.append([line.part, line.start, line.across, in_unit(at, plan.unit), line.what, needed])
    return rows
