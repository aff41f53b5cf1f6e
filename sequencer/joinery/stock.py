"""From bought stock to a board with all its surfaces: mill, rip, crosscut."""

from __future__ import annotations

from sequencer.joinery import cautions
from sequencer.joinery.blades import blade_for
from sequencer.joinery.making import Collected, height_over, slug
from sequencer.joinery.refusal import Refusal
from sequencer.model.parts import Part
from sequencer.operations import Check, Notes, Operation, PlaneCut

SHORTEST_MILLED = 300.0
"""Stock shorter than this is better milled in a longer length, mm (common practice, no source)."""


def sizing(work: Collected, part: Part) -> list[Operation]:
    """The operations that bring a part to size; none for one bought as sized."""
    if part.stock == "sized":
        return []
    made = [_mill(work, part)] if part.stock == "rough" else []
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
            check=Check(measure="thickness at both ends", expect=size(part.thickness), tolerance=size(0.1)),
            cautions=(cautions.SHORT_MILLING, cautions.DUST) if short else (cautions.DUST,),
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
    sheet = part.stock == "sheet"
    made = ("edge", "far edge") if sheet else ("far edge",)
    cuts = {
        "edge": PlaneCut(part=part.id, surface="edge", point=(0.0, 0.0, 0.0), normal=(0.0, -1.0, 0.0)),
        "far edge": PlaneCut(
            part=part.id, surface="far edge", point=(0.0, part.width, 0.0), normal=(0.0, 1.0, 0.0)
        ),
    }
    return Operation(
        id=slug("rip", part.id),
        station=floor.station("saw"),
        kind="rip",
        parts=(part.id,),
        quantity=work.pieces(part.id),
        minutes_each=floor.limits.minutes.rip,
        settings=floor.settings(
            "saw",
            {
                "tilt": 0.0,
                "fence": part.width,
                "height": height_over(floor, part.thickness),
                "blade": blade_for(work, "rip"),
            },
        ),
        registers_on=(f"{part.id}/face",) if sheet else (f"{part.id}/face", f"{part.id}/edge"),
        makes=tuple(f"{part.id}/{s}" for s in made),
        surface=f"{part.id}/far edge",
        cuts=tuple(cuts[s] for s in made),
        notes=Notes(
            what=f"rip {part.id} to width",
            fence="the straighter long side, then the edge just sawn" if sheet else "edge",
            table="face",
            way_round="grain along the fence",
            check=Check(
                measure="width at both ends", expect=floor.length(part.width), tolerance=floor.length(0.1)
            ),
            cautions=(cautions.GUARDS,),
        ),
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
            check=Check(measure="length", expect=floor.length(part.length), tolerance=floor.length(0.1)),
            cautions=(cautions.CROSSCUT, cautions.GUARDS, *((cautions.SHORT,) if short else ())),
        ),
    )
