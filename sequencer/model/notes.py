"""What is wrong with notes written by hand: pencil lines on no board, words on settings that nobody asked for."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping
from typing import get_args

from sequencer.diagnostics import listed, nearest, no_such
from sequencer.model.fields import Complaint
from sequencer.model.parts import Part, Surface
from sequencer.operations import Notes, PencilLine, plain_surface
from sequencer.quantity import Unit, format_length

BEVELLED = tuple(
    f"{side} {cut}" for side in ("left", "right", "edge", "far edge") for cut in ("bevel", "mitre")
)
"""Surfaces that derived operations make, and lines may be measured from."""


def wrong_notes(
    notes: Notes,
    settings: Collection[str],
    names: Collection[str],
    parts: Mapping[str, Part],
    made: Collection[str],
    unit: Unit,
) -> Iterator[Complaint]:
    """What is wrong with the notes of an operation that asks for these settings; places are within `notes`.

    `names` are all parts of the job (none where they are not known), `parts` those whose size is known by their ids,
    `made` the surfaces that somebody makes besides a board's own.
    """
    for name in notes.how_to_set:
        if name not in settings:
            accepted = ", ".join(settings) or "none: the operation asks for no setting"
            message = f'the operation asks for no setting "{name}"{nearest(name, settings)}'
            yield Complaint(("how_to_set", name), message, accepted)
    for number, line in enumerate(notes.lines):
        for complaint in _wrong_line(line, names, parts, made, unit):
            yield complaint._replace(place=("lines", number, *complaint.place))


def _wrong_line(
    line: PencilLine, names: Collection[str], parts: Mapping[str, Part], made: Collection[str], unit: Unit
) -> Iterator[Complaint]:
    if names and line.part not in names:
        yield Complaint(("part",), no_such("part", "part", line.part, names), listed(names))
    known = tuple(dict.fromkeys((*get_args(Surface), *made)))
    for key, said in (("start", (line.start,)), ("across", re.split(r", | and ", line.across))):
        for surface in said:
            if plain_surface(surface.strip()) not in known:
                yield Complaint((key,), no_such(key, "surface", surface, known), listed(known))
    room = _room(parts.get(line.part), plain_surface(line.start))
    for number, at in enumerate(line.at):
        if at < 0 or (room is not None and at > room + 1e-6):
            message = f"must lie on the part, not at {format_length(at, unit, decimals=True)}"
            within = (
                ""
                if room is None
                else f"0 to {format_length(room, unit, decimals=True)}, from the {line.start}"
            )
            yield Complaint(("at", number), message, within or "0 or more")


def _room(part: Part | None, start: str) -> float | None:
    """How far a part reaches from one of its surfaces, mm; None where that is not known."""
    if part is None:
        return None
    sizes = {"end": part.length, "edge": part.width, "face": part.thickness, "back": part.thickness}
    return sizes.get(start.rpartition(" ")[2])
