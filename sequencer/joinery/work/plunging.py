"""The plunge operations of joints: seats of a part with the same settings are one lot."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import chain, count

from sequencer.joinery.basis import cautions
from sequencer.joinery.basis.checks import PLUNGED
from sequencer.joinery.basis.fence import fence_reading
from sequencer.joinery.basis.floor import Floor, even
from sequencer.joinery.basis.insides import side_of
from sequencer.joinery.basis.making import Collected
from sequencer.joinery.basis.nearness import ANGLE_HAIR, COSINE_HAIR
from sequencer.joinery.basis.refusal import Refusal
from sequencer.joinery.basis.seats import OPPOSITE, Seat
from sequencer.joinery.slots.fit import Fit
from sequencer.model.parts import Part
from sequencer.operations import BATTEN, Check, Notes, Operation, PencilLine, Wanted, slug
from sequencer.quantity import SLIGHTEST, counted, format_angle

CENTRES = "centres of the slots"
BATTEN_BED = 30.0
"""As much of a board as a clamped batten lies on well, mm (common practice, no source)."""


@dataclass(frozen=True)
class Row:
    """The seats of one half that one lot of plunges works on; `times` how often each seat occurs in the batch."""

    seats: tuple[Seat, ...]
    half: int
    times: int


def plunges(
    work: Collected,
    joint: str,
    way: str,
    rows: Sequence[Row],
    fit: Fit,
    blocks: tuple[str, ...] = (),
    taken: Iterable[str] = (),
) -> list[Operation]:
    """The plunge operations of a joint: seats of a part with the same settings are one lot. Of several that would have
    one id, or one of those `taken`, the later ones are numbered before they are made mates.
    """
    ids = set(taken)
    groups: dict[tuple[object, ...], list[tuple[Seat, Row]]] = {}
    for row in rows:
        for seat in row.seats:
            place = even(seat.from_fence(fit.height))
            parted = (seat.part.id, row.half, row.times, _kind_of(seat), place, even(seat.angle))
            groups.setdefault(parted, []).append((seat, row))
    crowded: dict[tuple[object, ...], int] = {}
    for key in groups:
        crowded[key[:1] + key[3:4]] = crowded.get(key[:1] + key[3:4], 0) + 1
    made: list[Operation] = []
    for key, group in groups.items():
        extra = group[0][0].base if crowded[key[:1] + key[3:4]] > 1 else ""
        row = group[0][1]
        lot = _Lot(tuple(seat for seat, _ in group), row.half, fit)
        op = _plunge(work, joint, way, lot, row.times, extra, blocks)
        names = chain([op.id], (f"{op.id}-no-{n}" for n in count(2)))
        op = op.model_copy(update={"id": next(name for name in names if name not in ids)})
        ids.add(op.id)
        made.append(op)
    by_fence: dict[object, list[Operation]] = {}
    for op in made:
        by_fence.setdefault(
            (str(op.settings.get("fence_angle")), str(op.settings.get("fence_height"))), []
        ).append(op)
    for placed in by_fence.values():
        work.hold(
            placed,
            "mortiser",
            ("fence_height", "fence_angle", "depth"),
            "both mortises of a joint are plunged with the fence where it stands, so that the faces come flush",
        )
    return made


def _kind_of(seat: Seat) -> str:
    """What seats that can be plunged in one lot have in common."""
    if seat.base.endswith(("bevel", "mitre")):
        return seat.base.split()[-1] + "s"
    if seat.base.endswith("end"):
        return "ends"
    return seat.base


@dataclass(frozen=True)
class _Lot:
    """Seats of one part plunged with the same settings, and the half of the joint they are."""

    seats: tuple[Seat, ...]
    half: int
    fit: Fit

    @property
    def seat(self) -> Seat:
        """One of them: what decides the settings is alike in all."""
        return self.seats[0]

    @property
    def part(self) -> Part:
        """The part plunged into."""
        return self.seat.part

    @property
    def angle(self) -> float:
        """Between base and fence, degrees."""
        return even(self.seat.angle)

    @property
    def tilted(self) -> bool:
        """Whether the fence stands at another angle than 90."""
        return bool(self.seat.fence) and abs(self.angle - 90.0) > ANGLE_HAIR

    @property
    def place(self) -> float:
        """From the fence's surface to the middle of the slots, mm."""
        return even(self.seat.from_fence(self.fit.height))

    @property
    def depth(self) -> float:
        """Of the slots, mm."""
        return self.fit.depths[self.half]

    @property
    def slot(self) -> float:
        """Length of the slots, mm."""
        return self.fit.slots[self.half]

    @property
    def sides(self) -> tuple[str, ...]:
        """The surfaces plunged into."""
        return tuple(dict.fromkeys(s.base for s in self.seats))

    @property
    def fences(self) -> tuple[str, ...]:
        """The surfaces on the fence."""
        return tuple(dict.fromkeys(s.fence for s in self.seats))

    @property
    def places_from(self) -> tuple[str, ...]:
        """What the place across the row is measured from: the surface on the fence, or the batten line's start."""
        return tuple(dict.fromkeys(s.place_from for s in self.seats))

    @property
    def slots(self) -> int:
        """Slots in one piece."""
        return self.fit.count * len(self.seats)


def _plunge(
    work: Collected, joint: str, way: str, lot: _Lot, times: int, extra: str, blocks: tuple[str, ...]
) -> Operation:
    floor, part, fit = work.floor, lot.part, lot.fit
    _held_safely(floor, part)
    dial = fence_reading(floor, lot.place, lot.angle) if lot.tilted else lot.place
    lines = tuple(dict.fromkeys(_lines(floor, lot)))  # rows beside both ends share the lines of their slots
    wanted: dict[str, Wanted | None] = {
        "cutter": fit.thickness,
        "slot_length": lot.slot,
        "fence_angle": lot.angle if lot.seat.fence else None,
        "fence_height": dial if lot.seat.fence else None,
        "depth": lot.depth,
    }
    return Operation(
        id=slug(joint, way, "plunge", part.id, extra or _kind_of(lot.seat)),
        station=floor.station("mortiser"),
        kind="plunge",
        parts=(part.id,),
        quantity=times * len(lot.sides),
        minutes_each=even(floor.limits.minutes.plunge * lot.slots / len(lot.sides)),
        settings=floor.settings("mortiser", wanted),
        registers_on=(*_registers(lot, lines), *blocks),
        joint=joint,
        surface=f"{part.id}/{lot.seat.base}",
        cuts=tuple(
            s.slot(joint, along, fit.height, lot.slot, fit.thickness, lot.depth)
            for s in lot.seats
            for along in fit.centres
        ),
        notes=_notes(floor, lot, lines, dial),
    )


def _held_safely(floor: Floor, part: Part) -> None:
    least = floor.limits.shortest_piece
    if part.length < least:
        raise Refusal(
            f"{part.id} is too short to hold safely ({floor.length(part.length)}, shop minimum {floor.length(least)})",
            f"{floor.length(least)} or more, or a smaller shortest_piece in the shop's [joinery] if a jig holds it",
        )


def _registers(lot: _Lot, lines: tuple[PencilLine, ...]) -> list[str]:
    """The surfaces the tool, the check and the very lines that are told register on."""
    registers = {*lot.sides, *lot.places_from, *(line.start for line in lines)}
    return sorted(f"{lot.part.id}/{surface}" for surface in registers)


def _notes(floor: Floor, lot: _Lot, lines: tuple[PencilLine, ...], dial: float) -> Notes:
    """What the card says."""
    starts = tuple(dict.fromkeys(line.start for line in lines if line.what.startswith(CENTRES)))
    fences, bases = [_told(floor, lot.part, surface) for surface in lot.fences], " and ".join(lot.sides)
    places_from = [_told(floor, lot.part, surface) for surface in lot.places_from]
    fence = (
        " or ".join(fences) if lot.seat.fence else "none: the side of the base runs along a clamped batten"
    )
    if len(fences) > 1:
        fence += ", whichever the slots are beside"
    return Notes(
        what=f"plunge {counted(lot.slots, 'slot')} in the {bases} of {lot.part.id}{_apiece(floor, lot)}",
        fence=fence,
        table=f"base on the {bases}",
        way_round=f"pencil lines measured from the {' and the '.join(starts)}",
        lines=lines,
        check=Check(
            measure=f"along the surface plunged into, from the {' or '.join(places_from)}"
            f"; the depth may be {floor.length(PLUNGED)} out",
            expect=f"{floor.length(lot.place)} to the middle of the slot, {floor.length(lot.depth)} deep",
            tolerance=floor.length(SLIGHTEST),
        ),
        how_to_set=_how_to_set(floor, lot, dial),
        cautions=(cautions.PLUNGING, cautions.DUST),
    )


def _apiece(floor: Floor, lot: _Lot) -> str:
    """How the slots of a piece are shared out, or where they are."""
    ends = len(lot.places_from)
    if ends > 1 and lot.seat.fence:
        return f", {lot.slots // ends} beside each end"
    if ends > 1:
        return f", {lot.slots // ends} at {floor.length(lot.place)} from each end"
    if len(lot.sides) > 1:
        return f", {lot.slots // len(lot.sides)} in each"
    if lot.sides[0] in ("face", "back") and (not lot.seat.fence or "end" in lot.seat.fence):
        return f", {floor.length(lot.place)} from the {lot.places_from[0]}"
    return ""


def _lines(floor: Floor, lot: _Lot) -> Iterator[PencilLine]:
    """The lines of the slots, and of the batten where no fence reaches."""
    for seat in {(s.start, s.base, s.line_shift, s.fence): s for s in lot.seats}.values():
        start, at = _from_nearer_end(seat, lot.fit.centres)
        yield PencilLine(
            part=lot.part.id, start=start, across=seat.base, at=at, what=f"{CENTRES}{_runs_slanting(seat)}"
        )
    for base, start in dict.fromkeys((s.base, s.batten_from) for s in lot.seats if s.batten_from):
        batten, end, runs = _batten(floor, lot, start)
        yield PencilLine(
            part=lot.part.id,
            start=start,
            across=base,
            at=(batten,),
            what=f"{BATTEN}, which lies towards the {end}; the base runs {runs}",
        )


def _batten(floor: Floor, lot: _Lot, start: str) -> tuple[float, str, str]:
    """Where the side of the batten lies from the end its line starts from, mm, towards which end the batten lies, and
    on which side of the line the base runs. Raises Refusal where there is no board for it on either side of the slots.
    """
    offset, length = floor.limits.batten_offset, lot.part.length
    near, far = even(lot.place - offset), even(lot.place + offset)
    if near >= min(BATTEN_BED, length - far) and near > 0:
        return near, start, "beyond the line"
    if far < length:
        return far, OPPOSITE[start], "short of it, turned about so that the same side lies against it"
    raise Refusal(
        f"no batten finds room on {lot.part.id} beside slots {floor.length(lot.place)} from the {start}, its side "
        f"{floor.length(offset)} from them, and the fence does not reach so far",
        f"a batten_offset below {floor.fine(max(lot.place, length - lot.place))} in the shop's [joinery], or a fence "
        f"that reaches {floor.fine(lot.place)}",
        "at",
    )


def _how_to_set(floor: Floor, lot: _Lot, dial: float) -> dict[str, str]:
    """How settings are set whose scale does not tell all."""
    hows = {"depth": "from the surface under the base to the bottom of the slot"}
    if lot.seat.fence:
        hows["fence_height"] = "proved with a plunge in scrap of this thickness"
    if lot.fit.slots[0] != lot.fit.slots[1]:
        wider = lot.slot - min(lot.fit.slots)
        hows["slot_length"] = (
            f"the slack half: {floor.length(wider)} longer than the slip is wide"
            if wider > 0
            else "the tight half: as long as the slip is wide"
        )
    if lot.tilted:
        between = f"{format_angle(lot.angle)} between base and fence"
        hows["fence_angle"] = (
            f"{between}, at the stop"
            if floor.is_stop("mortiser", "fence_angle", lot.angle)
            else f"{between}: hold the setting block between them until no light shows"
        )
        hows["fence_height"] = (
            f"slot centre {floor.length(lot.place)} from the sharp edge, along the bevel; dial {floor.length(dial)} "
            "(the scale is true at 90 only). Plunge the first test, in bevelled scrap of this thickness, a "
            "little too far inside, measure, correct by the difference"
        )
    return hows


def _from_nearer_end(seat: Seat, centres: Sequence[float]) -> tuple[str, tuple[float, ...]]:
    """The surface a row's lines are measured from, the nearer of two ends, and their distances from it."""
    at, length = tuple(even(seat.line_shift + s) for s in centres), seat.part.length
    if seat.start in ("left end", "right end") and min(at) > length / 2:
        return OPPOSITE[seat.start], tuple(even(length - a) for a in at)
    return seat.start, at


def _runs_slanting(seat: Seat) -> str:
    """How distances are measured on an end that is not square to the edge: square from the edge they are less. Lines
    squared across a bevel meet the edge's plane farther on the farther they are from its sharp edge, along which both
    halves of a corner measure alike; across a mitre that is not tilted it is all one.
    """
    if seat.start not in ("edge", "far edge") or abs(seat.along[1]) > 1 - COSINE_HAIR:
        return ""
    kind = seat.base.split()[-1]
    if abs(seat.axis[2]) < COSINE_HAIR:
        return f", measured along the {kind}"
    return f", measured along the sharp edge of the {kind} (at the {seat.fence}), from its corner with the {seat.start}"


def _told(floor: Floor, part: Part, surface: str) -> str:
    """A surface in words: a face with the side it is on, where only one of the two is inside."""
    side = side_of(surface, part, floor.job)
    return f"{surface} ({side})" if side else surface
