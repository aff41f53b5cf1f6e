"""The plunge operations of joints: seats of a part with the same settings are one lot."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sequencer.joinery import cautions
from sequencer.joinery.floor import even
from sequencer.joinery.making import Collected, slug
from sequencer.joinery.placement import Fit
from sequencer.joinery.refusal import Refusal
from sequencer.joinery.seats import OPPOSITE, Seat
from sequencer.operations import (
    Check,
    Notes,
    Operation,
    PencilLine,
    Wanted,
)
from sequencer.quantity import format_angle


@dataclass(frozen=True)
class Row:
    """The seats of one half that one lot of plunges works on; `times` how often each seat occurs in the batch."""

    seats: tuple[Seat, ...]
    half: int
    times: int


def plunges(
    work: Collected, joint: str, way: str, rows: Sequence[Row], fit: Fit, blocks: tuple[str, ...] = ()
) -> list[Operation]:
    """The plunge operations of a joint: seats of a part with the same settings are one lot."""
    groups: dict[tuple[object, ...], list[tuple[Seat, Row]]] = {}
    for row in rows:
        for seat in row.seats:
            parted = (seat.part.id, row.half, row.times, _kind_of(seat), even(seat.shift), even(seat.angle))
            groups.setdefault(parted, []).append((seat, row))
    crowded: dict[tuple[object, ...], int] = {}
    for key in groups:
        crowded[key[:1] + key[3:4]] = crowded.get(key[:1] + key[3:4], 0) + 1
    made: list[Operation] = []
    for key, group in groups.items():
        extra = group[0][0].base if crowded[key[:1] + key[3:4]] > 1 else ""
        op = _plunge(work, joint, way, [seat for seat, _ in group], group[0][1], fit, extra, blocks)
        same = sum(other.id == op.id or other.id.startswith(f"{op.id}-no-") for other in made)
        if same:
            op = op.model_copy(update={"id": f"{op.id}-no-{same + 1}"})
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


def _plunge(
    work: Collected,
    joint: str,
    way: str,
    seats: Sequence[Seat],
    row: Row,
    fit: Fit,
    extra: str,
    blocks: tuple[str, ...],
) -> Operation:
    floor, seat = work.floor, seats[0]
    part, half = seat.part, row.half
    least = floor.limits.shortest_piece
    if part.length < least:
        raise Refusal(
            f"{part.id} is too short to hold safely ({floor.length(part.length)}, shop minimum {floor.length(least)})",
            f"{floor.length(least)} or more, or a smaller shortest_piece in the shop's [joinery] if a jig holds it",
        )
    angle, place = even(seat.angle), even(fit.height + seat.shift)
    dial = place
    if seat.fence and abs(angle - 90.0) > 1e-6:
        from sequencer.geometry.pivot import Pivot

        dial = even(Pivot(floor.limits.pivot.behind, floor.limits.pivot.ahead).dial(place, angle))
    depth, slot = fit.depths[half], fit.slots[half]
    wanted: dict[str, Wanted | None] = {
        "cutter": fit.thickness,
        "slot_length": slot,
        "fence_angle": angle if seat.fence else None,
        "fence_height": dial if seat.fence else None,
        "depth": depth,
    }
    hows: dict[str, str] = {"depth": "from the surface under the base to the bottom of the slot"}
    fences = tuple(dict.fromkeys(_outside(s.fence) for s in seats))
    if fit.slots[0] != fit.slots[1]:
        wider = slot - min(fit.slots)
        hows["slot_length"] = (
            f"the slack half: {floor.length(wider)} longer than the slip is wide"
            if wider > 0
            else "the tight half: as long as the slip is wide"
        )
    says_fence = (
        " or ".join(fences) if seat.fence else "none: the side of the base runs along a clamped batten"
    )
    if len(fences) > 1:
        says_fence += ", whichever the slots are beside"
    if seat.fence and abs(angle - 90.0) > 1e-6:
        stop = floor.is_stop("mortiser", "fence_angle", angle)
        hows["fence_angle"] = (
            f"{format_angle(angle)} between base and fence, at the stop"
            if stop
            else f"{format_angle(angle)} between base and fence: hold the setting block between them until no light "
            "shows"
        )
        hows["fence_height"] = (
            f"slot centre {floor.length(place)} from the sharp edge, along the bevel; dial {floor.length(dial)} "
            "(the scale is true at 90 only). Plunge the first test a little too far inside, measure, correct by "
            "the difference"
        )
    found = [cautions.PLUNGING, cautions.DUST]
    near = floor.near_stop("mortiser", "fence_angle", angle) if seat.fence else None
    if near is not None and abs(angle - 90) > 1e-6:
        found.append(cautions.near_stop(f"fence angle {format_angle(angle)}", format_angle(near)))
        work.remark(
            f"{joint}: fence angle {format_angle(angle)} is near the positive stop at {format_angle(near)}"
        )
    lines = []
    for each in {(s.start, s.base, s.line_shift, s.fence): s for s in seats}.values():
        start, at = _from_nearer_end(each, fit.centres)
        lines.append(
            PencilLine(part=part.id, start=start, across=each.base, at=at, what="centres of the slots")
        )
        if not each.fence:
            batten = even(place - floor.limits.batten_offset)
            lines.append(
                PencilLine(
                    part=part.id,
                    start="left end",
                    across=each.base,
                    at=(batten,),
                    what="side of the batten, which lies towards the left end; the base runs beyond the line",
                )
            )
    registers = {f"{part.id}/{s.base}" for s in seats} | {f"{part.id}/{s.fence}" for s in seats if s.fence}
    starts = tuple(dict.fromkeys(_from_nearer_end(s, fit.centres)[0] for s in seats))
    registers |= {f"{part.id}/{start}" for start in starts if start not in [o.base for o in seats]}
    sides = tuple(dict.fromkeys(s.base for s in seats))
    bases = " and ".join(sides)
    apiece = f", {fit.count * len(seats) // len(sides)} in each" if len(sides) > 1 else ""
    if len(fences) > 1:
        apiece = f", {fit.count * len(seats) // len(fences)} beside each end"
    if not apiece and sides[0] in ("face", "back") and (not seat.fence or "end" in seat.fence):
        apiece = f", {floor.length(place)} from the {seat.fence or 'left end'}"
    return Operation(
        id=slug(joint, way, "plunge", part.id, extra or _kind_of(seat)),
        station=floor.station("mortiser"),
        kind="plunge",
        parts=(part.id,),
        quantity=row.times * len({s.base for s in seats}),
        minutes_each=even(
            floor.limits.minutes.plunge * fit.count * len(seats) / len({s.base for s in seats})
        ),
        settings=floor.settings("mortiser", wanted),
        registers_on=(*sorted(registers), *blocks),
        joint=joint,
        surface=f"{part.id}/{seat.base}",
        cuts=tuple(
            s.slot(joint, along, fit.height, slot, fit.thickness, depth)
            for s in seats
            for along in fit.centres
        ),
        notes=Notes(
            what=f"plunge {_slots(fit.count * len(seats))} in the {bases} of {part.id}{apiece}",
            fence=says_fence,
            table=f"base on the {bases}",
            way_round=f"pencil lines measured from the {' and the '.join(starts)}, carried across while the mates "
            "lie together",
            lines=tuple(lines),
            check=Check(
                measure=f"along the surface plunged into, from the {' or '.join(fences) if seat.fence else 'left end'}"
                f"; the depth may be {floor.length(0.5)} out",
                expect=f"{floor.length(place)} to the middle of the slot, {floor.length(depth)} deep",
                tolerance=floor.length(0.2),
            ),
            how_to_set=hows,
            cautions=tuple(found),
        ),
    )


def _from_nearer_end(seat: Seat, centres: Sequence[float]) -> tuple[str, tuple[float, ...]]:
    """The surface a row's lines are measured from, the nearer of two ends, and their distances from it."""
    at, length = tuple(even(seat.line_shift + s) for s in centres), seat.part.length
    if seat.start in ("left end", "right end") and min(at) > length / 2:
        return OPPOSITE[seat.start], tuple(even(length - a) for a in at)
    return seat.start, at


def _slots(count: int) -> str:
    return "1 slot" if count == 1 else f"{count} slots"


def _outside(surface: str) -> str:
    return {"face": "face (outside)", "back": "back (inside)"}.get(surface, surface)
