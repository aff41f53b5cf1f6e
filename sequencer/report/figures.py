"""Every drawing of a plan as an SVG file."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from pathlib import Path

from sequencer.cards.planbook import PlanBook
from sequencer.files.output import make_folder, write_whole
from sequencer.planfile import Plan
from sequencer.report.drawing.dial import dial_figure
from sequencer.report.drawing.figure import Figure
from sequencer.report.drawing.part import part_figures
from sequencer.report.drawing.section import section_figures
from sequencer.report.drawing.svg import svg
from sequencer.report.drawing.timeline import timeline_figure
from sequencer.report.sheet_values import marking_figures


def figures(plan: Plan) -> Iterator[tuple[str, Figure]]:
    """All drawings of a plan, each with a name fit for a file: for the whole job, by marked part, by card and step."""
    book = PlanBook(plan)
    yield "timeline", timeline_figure(book, 180.0)
    for count, (part, figure) in enumerate(marking_figures(book).items(), 1):
        yield f"marking-{count:02d}-{_name(part)}", figure
    number = 0
    for setup in plan.setups:
        record = book.stations.get(setup.station)
        for reset in setup.resets:
            if record and record.measures.get(reset.setting) == "angle" and not isinstance(reset.to, str):
                yield (
                    f"card-{setup.number:02d}-{_name(reset.setting)}",
                    dial_figure(reset.setting, float(reset.to)),
                )
        for operation in setup.operations:
            number += 1
            drawn = part_figures(plan, book.operation(operation), 180.0, 100.0)
            drawn += section_figures(plan, book.operation(operation), 90.0, 60.0)
            for count, figure in enumerate(drawn, 1):
                yield f"step-{number:03d}-{_name(operation)}-{count}", figure


def drawings(plan: Plan) -> dict[str, Figure]:
    """Every drawing, by the name of its SVG file."""
    return {f"{name}.svg": figure for name, figure in figures(plan)}


def write_svg(drawn: Mapping[str, Figure], folder: Path) -> tuple[Path, ...]:
    """Write drawings into `folder`, made if need be; returns the paths. Raises InputError if that fails."""
    folder = make_folder(folder)
    for name, figure in drawn.items():
        write_whole(folder / name, svg(figure))
    return tuple(folder / name for name in drawn)


def _name(text: str) -> str:
    """The text as part of a file name.

    >>> _name("crosscut [/x] <b>&")
    'crosscut-x-b'
    """
    return re.sub(r"[^A-Za-z0-9]+", "-", text).strip("-")[:40] or "drawing"
