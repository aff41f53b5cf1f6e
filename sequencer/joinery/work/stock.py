"""From bought stock to a board with all its surfaces: mill, rip, crosscut.

Edges of sheets as bought are neither straight nor clean enough to be joined, so the first is sawn off, with the fence a
little further out than for the width, before the piece is turned and ripped to width (common practice, no source).
"""

from __future__ import annotations

from sequencer.joinery.basis import cautions
from sequencer.joinery.basis.checks import SIZE
from sequencer.joinery.basis.floor import even
from sequencer.joinery.basis.making import Collected, height_over
from sequencer.joinery.basis.nearness import HAIR
from sequencer.joinery.basis.refusal import Refusal
from sequencer.joinery.work.blades import blade_for
from sequencer.model.parts import Part
from sequencer.operations import Between, Check, Notes, Operation, PlaneCut, slug

SHORTEST_MILLED = 300.0
"""Stock shorter than this is better milled in a longer length, mm (common practice, no source)."""
LEAST_OVER = 2.0
"""The least width over that both edges of a sheet can be sawn off from, mm (common practice, no source)."""


def sizing(work: Collected, part: Part) -> list[Operation]:
    """The operations that bring a part to size; none for one bought as sized."""
    if part.stock == "sized":
        return []
    first = {"rough": _mill, "sheet": _straighten}.get(part.stock)
    made = [first(work, part)] if first is not None else []
    return [*made, _rip(work, part), _crosscut(work, part)]


def _mill(work: Collected, part: Part) -> Operation:
    floor = work.floor
    size = floor.length
    sizes = floor.limits.allowance.rough(part, floor.job.unit)
    rough = " × ".join(size(a) for a in sizes)
    short = sizes[0] < SHORTEST_MILLED
    return Operation(
        id=slug("mill", part.id),
        station=floor.station("mill"),
        kind="mill",
        parts=(part.id,),
        quantity=work.pieces(part.id),
        minutes_each=floor.limits.minutes.mill,
        settings=floor.settings("mill", {"thickness": part.thickness}),
        makes=tuple(f"{part.id}/{s}" for s in ("face", "edge", "back")),
        surface=f"{part.id}/face",
        notes=Notes(
            what=f"mill {part.id} from {rough}: face flat, edge square to it, back to thickness",
            check=Check(measure="thickness at both ends", expect=size(part.thickness), tolerance=size(SIZE)),
            cautions=(cautions.SHORT_MILLING, cautions.DUST) if short else (cautions.DUST,),
        ),
    )


def _straighten(work: Collected, part: Part) -> Operation:
    """The first edge of a sheet: sawn off with what the second pass leaves over still on."""
    floor = work.floor
    over = floor.limits.allowance.rough(part, floor.job.unit)[1] - part.width
    if over < LEAST_OVER - HAIR:
        raise Refusal(
            f"{part.id}, a sheet, has {floor.length(over)} over its width to saw off both edges",
            f"[joinery.allowance] with a width of {floor.length(LEAST_OVER)} or more in the shop, or "
            'stock = "sized" where it is bought as wide as it stays',
        )
    # A third of what is over goes at either pass at least, so that each saws along the whole edge.
    fence = Between(min=even(part.width + over / 3), max=even(part.width + 2 * over / 3))
    return _ripped(
        work,
        part,
        "edge",
        id=slug("straighten", part.id),
        fence=fence,
        registers_on=(f"{part.id}/face",),
        notes=Notes(
            what=f"rip the first edge of {part.id} straight, still over its width",
            fence="the straighter long side",
            table="face",
            way_round="grain along the fence",
            check=Check(
                measure="width at both ends, which still has the other edge to lose",
                expect=f"between {floor.length(fence.min)} and {floor.length(fence.max)}",
                tolerance="",
            ),
            cautions=(cautions.GUARDS,),
        ),
    )


def _rip(work: Collected, part: Part) -> Operation:
    floor = work.floor
    if part.width < floor.limits.narrowest_piece:
        raise Refusal(
            f"{part.id} is too narrow to rip safely ({floor.length(part.width)}, shop minimum "
            f"{floor.length(floor.limits.narrowest_piece)})",
            'stock = "sized", or a smaller narrowest_piece in the shop\'s [joinery] if a jig holds it',
        )
    return _ripped(
        work,
        part,
        "far edge",
        id=slug("rip", part.id),
        fence=part.width,
        registers_on=(f"{part.id}/face", f"{part.id}/edge"),
        notes=Notes(
            what=f"rip {part.id} to width",
            fence="edge, just sawn" if part.stock == "sheet" else "edge",
            table="face",
            way_round="grain along the fence",
            check=Check(
                measure="width at both ends", expect=floor.length(part.width), tolerance=floor.length(SIZE)
            ),
            cautions=(cautions.GUARDS,),
        ),
    )


def _ripped(
    work: Collected,
    part: Part,
    makes: str,
    id: str,
    fence: float | Between,
    registers_on: tuple[str, ...],
    notes: Notes,
) -> Operation:
    """One pass along the fence, which makes one edge."""
    floor, near = work.floor, makes == "edge"
    return Operation(
        id=id,
        station=floor.station("saw"),
        kind="rip",
        parts=(part.id,),
        quantity=work.pieces(part.id),
        minutes_each=floor.limits.minutes.rip,
        settings=floor.settings(
            "saw",
            {
                "tilt": 0.0,
                "fence": fence,
                "height": height_over(floor, part.thickness),
                "blade": blade_for(work, "rip"),
            },
        ),
        registers_on=registers_on,
        makes=(f"{part.id}/{makes}",),
        surface=f"{part.id}/{makes}",
        cuts=(
            PlaneCut(
                part=part.id,
                surface=makes,
                point=(0.0, 0.0 if near else part.width, 0.0),
                normal=(0.0, -1.0 if near else 1.0, 0.0),
            ),
        ),
        notes=notes,
    )


def _crosscut(work: Collected, part: Part) -> Operation:
    floor = work.floor
    short = part.length < floor.limits.shortest_piece
    return Operation(
        id=slug("crosscut", part.id),
        station=floor.station("saw"),
        kind="crosscut",
        parts=(part.id,),
        quantity=work.pieces(part.id),
        minutes_each=floor.limits.minutes.crosscut,
        settings=floor.settings(
            "saw",
            {
                "tilt": 0.0,
                "gauge": 0.0,
                "stop": part.length,
                "height": height_over(floor, part.thickness),
                "blade": blade_for(work, "crosscut"),
            },
        ),
        registers_on=(f"{part.id}/face", f"{part.id}/edge"),
        makes=(f"{part.id}/left end", f"{part.id}/right end"),
        surface=f"{part.id}/right end",
        cuts=(
            PlaneCut(part=part.id, surface="left end", point=(0.0, 0.0, 0.0), normal=(-1.0, 0.0, 0.0)),
            PlaneCut(
                part=part.id, surface="right end", point=(part.length, 0.0, 0.0), normal=(1.0, 0.0, 0.0)
            ),
        ),
        notes=Notes(
            what=f"crosscut {part.id}: one end square, then to length at the stop",
            fence="edge, against the gauge",
            table="face",
            way_round="the squared end against the stop",
            check=Check(measure="length", expect=floor.length(part.length), tolerance=floor.length(SIZE)),
            cautions=(cautions.CROSSCUT, cautions.GUARDS, *((cautions.SHORT,) if short else ())),
        ),
    )
