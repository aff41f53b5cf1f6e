"""A part laid flat with all its pencil lines, cumulative from the reference end."""

from __future__ import annotations

from collections.abc import Sequence

from sequencer.operations import PencilLine
from sequencer.planfile import PartRecord
from sequencer.quantity import Unit, format_length
from sequencer.report.drawing.dimension import running
from sequencer.report.drawing.figure import Figure, Item, Path, Words, framed

_MOST = 40.0  # height of a board on the sheet, mm


def marking_figure(
    part: PartRecord, lines: Sequence[PencilLine], longest: float, width: float, unit: Unit
) -> Figure:
    """The part at the scale that `longest` (mm) fills `width`: left end left, reference edge down.

    Lines measured from an end run across the width; lines measured from an edge run along it.
    """
    scale = min(1.0, (width - 40.0) / max(longest, part.length, 1.0), _MOST / part.width)
    long, wide = part.length * scale, part.width * scale
    items: list[Item] = [Path(((0, 0), (long, 0), (long, wide), (0, wide)), "wide", closed=True)]
    items += [
        Path(((long / 2 - 0.6, -1.2), (long / 2 - 0.6, 1.2)), "wide"),
        Path(((long / 2 + 0.6, -1.2), (long / 2 + 0.6, 1.2)), "wide"),
    ]
    below, above = [], []
    for line in lines:
        for at in sorted(line.at):
            if line.start in ("edge", "far edge", "reference edge"):
                y = (part.width - at if line.start == "far edge" else at) * scale
                items.append(Path(((0, y), (long, y)), "narrow"))
                above.append((y, format_length(at, unit)))
            else:
                x = (part.length - at if line.start == "right end" else at) * scale
                items.append(Path(((x, 0), (x, wide)), "narrow"))
                below.append((x, format_length(at, unit), line.start == "right end"))
    for right in (False, True):
        spots = sorted({(x, label) for x, label, end in below if end is right})
        if spots:
            origin = (long if right else 0.0, 0.0)
            items += running(
                origin,
                [(x, 0.0) for x, _ in spots],
                (0.0, -1.0),
                5.0 if not right else 3.0,
                [t for _, t in spots],
            )
    marks = sorted(set(above))
    if marks:
        items += running((long, 0.0), [(long, y) for y, _ in marks], (1.0, 0.0), 4.0, [t for _, t in marks])
    for text, x in (("L", 3.0), ("R", long - 3.0)):
        items.append(Words((x, wide - 3.2), text, bold=True))
    return framed(items, part.id, f"{part.id} laid flat with its pencil lines")
