"""What is wrong with notes written by hand: pencil lines on no board, words on settings that nobody asked for."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping

from sequencer.diagnostics import nearest, no_such, quoted
from sequencer.model.fields import Complaint
from sequencer.model.surfaces import Made, known_of
from sequencer.operations import Notes, PencilLine, plain_surface
from sequencer.quantity import Unit, format_length, format_readable

Reach = tuple[float | None, float | None, float | None]
"""How far a part reaches along its length, across its width and through its thickness, mm; None: nobody knows."""


def wrong_notes(
    notes: Notes,
    settings: Collection[str],
    names: Collection[str],
    reach: Mapping[str, Reach],
    made: Made | None,
    unit: Unit,
) -> Iterator[Complaint]:
    """What is wrong with the notes of an operation that asks for these settings; places are within `notes`.

    `names` are all parts of the job (none where they are not known), `reach` tells how far those go whose size is
    known, `made` the surfaces that somebody makes beside a board's own (None where they are not known): lines start
    from those of their part, and those of no part.
    """
    for name in notes.how_to_set:
        if name not in settings:
            accepted = ", ".join(settings) or "none: the operation asks for no setting"
            message = f'the operation asks for no setting "{name}"{nearest(name, settings)}'
            yield Complaint(("how_to_set", name), message, accepted)
    for number, line in enumerate(notes.lines):
        for complaint in _wrong_line(line, names, reach, made, unit):
            yield complaint._replace(place=("lines", number, *complaint.place))


def _wrong_line(
    line: PencilLine,
    names: Collection[str],
    reach: Mapping[str, Reach],
    made: Made | None,
    unit: Unit,
) -> Iterator[Complaint]:
    if names and line.part not in names:
        yield Complaint(("part",), no_such("part", "part", line.part, names), quoted(names))
    known = known_of((line.part, ""), made or {})
    whole = plain_surface(line.across) in known  # a surface may well have an "and" in its name
    across = (line.across,) if whole else re.split(r", | and ", line.across)
    for key, said in (("start", (line.start,)), ("across", across)):
        for surface in said:
            if made is not None and plain_surface(surface.strip()) not in known:
                yield Complaint((key,), no_such(key, "surface", surface, known), quoted(known))
    room = _room(reach.get(line.part), plain_surface(line.start))
    for number, at in enumerate(line.at):
        if at < 0 or (room is not None and at > room + 1e-6):
            message = f"must lie on the part, not at {format_length(at, unit, decimals=True)}"
            within = (
                ""
                if room is None
                else f"0 to {format_readable(room, unit, 'at most')}, from the {line.start}"
            )
            yield Complaint(("at", number), message, within or "0 or more")


def _room(reach: Reach | None, start: str) -> float | None:
    """How far a part reaches from one of its surfaces, mm; None where that is not known."""
    if reach is None:
        return None
    length, width, thickness = reach
    sizes = {"end": length, "edge": width, "face": thickness, "back": thickness}
    return sizes.get(start.rpartition(" ")[2])
