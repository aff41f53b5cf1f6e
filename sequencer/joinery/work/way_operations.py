"""The operations of a joint made by one way: its ends or edges sawn, its slots plunged, its edges ripped level."""

from __future__ import annotations

from collections import Counter
from itertools import pairwise

from sequencer.joinery.basis.making import Collected
from sequencer.joinery.basis.seats import Pair, Seat
from sequencer.joinery.meetings.joined import Joined, Way, parts_of
from sequencer.joinery.meetings.rings import level_cuts
from sequencer.joinery.meetings.square import panel_row
from sequencer.joinery.work.plunging import Row, plunges
from sequencer.joinery.work.sawing import block, end_cuts, level_rip
from sequencer.model.parts import EdgeToEdge
from sequencer.operations import Operation


def operations_by(work: Collected, each: Joined, way: Way, option: str = "") -> list[Operation]:
    """The operations of a joint by one way; `option` is its name in their ids where there is a choice.

    Raises Refusal for what a machine cannot reach, or a piece that is not held safely.
    """
    joint, ring = each.joint.id, each.ring
    made: list[Operation] = []
    bevels: list[Operation] = []
    if ring is not None:
        minutes = work.floor.limits.minutes
        tilted = any(c.angle.tilt for c in ring.cuts)
        bevels = end_cuts(work, joint, option, ring.cuts, minutes.bevel if tilted else minutes.mitre)
    for pairs, fit in way.fits:
        blocks: list[str] = []
        if way.name == "bevel-first" and ring is not None:
            for angle in dict.fromkeys(round(s.angle, 6) for p in pairs for s in (p.first, p.second)):
                found = block(work, joint, option, angle, bevels)
                known = [*work.operations, *made]
                if found is not None and all(found.id != op.id for op in known):
                    made.append(found)
                if found is not None and found.joint != joint:
                    blocks += found.makes  # for the joint's own block the rule book has the rule
        rows, taken = _rows(work, each, pairs), [op.id for op in made]
        made += plunges(work, joint, option, rows, fit, tuple(blocks), taken)
    level = []
    if ring is not None:
        for part in (work.parts[p] for p in dict.fromkeys(ring.joint.parts)):
            if planes := level_cuts(ring, part):
                level.append(level_rip(work, joint, part, planes))
    return [*bevels, *made, *level]


def _rows(work: Collected, each: Joined, pairs: tuple[Pair, ...]) -> list[Row]:
    """The rows of slots of pairs placed alike, and on how many pieces each is plunged."""
    if isinstance(each.joint, EdgeToEdge):
        return _panel_rows(work, pairs, panel_row(each.joint, work.parts), each.number)
    times = {part: work.pieces(part) for part in parts_of(each.joint)}
    return [Row(seats, half, times[seats[0].part.id]) for half in (0, 1) for seats in _by_part(pairs, half)]


def _panel_rows(work: Collected, pairs: tuple[Pair, ...], boards: tuple[str, ...], panels: int) -> list[Row]:
    """Rows of a panel: the first and last board have one edge without slots. A spare board may have to stand in at any
    of its places, so it gets every row that boards of its part have."""
    counts: Counter[tuple[Seat, int]] = Counter()
    for pair in pairs:
        number = panels * list(pairwise(boards)).count((pair.first.part.id, pair.second.part.id))
        counts[pair.first, 0] += number
        counts[pair.second, 1] += number
    return [
        Row((seat,), half, count + work.parts[seat.part.id].spare) for (seat, half), count in counts.items()
    ]


def _by_part(pairs: tuple[Pair, ...], half: int) -> list[tuple[Seat, ...]]:
    """The seats of one half by part, each once; of the second half only those a single piece has."""
    found: dict[str, dict[tuple[object, ...], Seat]] = {}
    for pair in pairs:
        seat = (pair.first, pair.second)[half]
        place = row_place(seat)
        found.setdefault(seat.part.id, {}).setdefault(place, seat)
    return [tuple(seats.values()) for seats in found.values()]


def row_place(seat: Seat) -> tuple[object, ...]:
    """Where a seat's row is, which tells the seats of one piece apart. A row and the same row seen from the part's
    other end, as the mating part at the other end needs it, lie in the same wood when the places are symmetrical."""
    if seat.base in ("edge", "far edge") and abs(seat.along[0]) > 0.5 and seat.fence == "face":
        return (seat.base, seat.at)
    if seat.base in ("face", "back") and abs(seat.along[1]) > 0.5:
        return (seat.base, seat.shift, seat.place_from)
    return (seat.base, seat.shift, seat.line_shift)
