"""Grooves, rebates and housings: plain cuts, at the router table or, where the shop has none, at the saw."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from sequencer.joinery.basis import cautions
from sequencer.joinery.basis.floor import Floor
from sequencer.joinery.basis.making import Collected
from sequencer.joinery.basis.nearness import HAIR
from sequencer.joinery.basis.refusal import Refusal
from sequencer.joinery.basis.seats import OPPOSITE, cross, dot, outward
from sequencer.joinery.trenches.router_bits import bit_for
from sequencer.model.parts import Groove, Housing, Joint, Part, Rebate
from sequencer.operations import Check, Notes, Operation, PencilLine, Trench, Wanted, slug
from sequencer.quantity import SLIGHTEST

TrenchJoint = Groove | Rebate | Housing
AXIS = {"left end": 0, "right end": 0, "edge": 1, "far edge": 1, "back": 2, "face": 2}
FAR = ("right end", "far edge", "face")


def beside(joint: TrenchJoint) -> str:
    """The surface the trench is measured from."""
    if isinstance(joint, Housing):
        return "left end"
    if isinstance(joint, Rebate):
        return joint.beside
    return joint.beside or ("edge" if joint.on in ("face", "back") else "face")


def fits_into(joint: TrenchJoint, part: Part, floor: Floor) -> None:
    """Raises Refusal for a groove, rebate or housing that is not in the part."""
    near, size = beside(joint), floor.fine
    if joint.holds == part.id:
        raise Refusal(
            f"the {joint.kind} in {part.id} would hold {part.id} itself",
            "the part that sits in it, or no holds (as for boards with tongues, joined otherwise)",
            "holds",
        )
    if AXIS[near] == AXIS[joint.on]:
        raise Refusal(
            f"a groove in the {joint.on} cannot be measured from the {near}", "a surface beside it", "beside"
        )
    room, thick = _size(part, near), _size(part, joint.on)
    if joint.depth >= thick:
        raise Refusal(
            f"{size(joint.depth)} deep goes through {part.id}, which is {size(thick)} there",
            f"less than {size(thick)}",
            "depth",
        )
    if joint.width > room + HAIR:
        raise Refusal(
            f"{size(joint.width)} is wider than {part.id}, which is {size(room)} there",
            f"at most {size(room)}",
            "width",
        )
    for start in _starts(joint):
        end = start + joint.width
        if end > room + HAIR:
            raise Refusal(
                f"from {size(start)} to {size(end)} is beyond {part.id}, which is {size(room)} there",
                f"at most {size(room - joint.width)}",
                "at" if isinstance(joint, Housing) else "from",
            )


def _size(part: Part, surface: str) -> float:
    """How far a part reaches from one of its surfaces to the other side."""
    return (part.length, part.width, part.thickness)[AXIS[surface]]


def _starts(joint: TrenchJoint) -> tuple[float, ...]:
    """From the surface it is measured from to the near side of each groove, rebate or housing."""
    if isinstance(joint, Housing):
        return joint.at
    return (0.0,) if isinstance(joint, Rebate) else (joint.from_,)


def boxes(joint: TrenchJoint, part: Part) -> Iterator[Trench]:
    """The wood removed, one box for each groove, rebate or housing that fits into the part."""
    near = beside(joint)
    room, thick = _size(part, near), _size(part, joint.on)
    for start in _starts(joint):
        low, high = [0.0, 0.0, 0.0], [part.length, part.width, part.thickness]
        _span(low, high, near, start, start + joint.width, room)
        _span(low, high, joint.on, 0.0, joint.depth, thick)
        yield Trench(
            part=part.id,
            surface=f"{joint.kind} {joint.id}",
            low=(low[0], low[1], low[2]),
            high=(high[0], high[1], high[2]),
        )


def _span(low: list[float], high: list[float], surface: str, start: float, end: float, room: float) -> None:
    k = AXIS[surface]
    low[k], high[k] = (room - end, room - start) if surface in FAR else (start, end)


def trenches_in(joints: Iterable[Joint], part: Part) -> Iterator[tuple[TrenchJoint, Trench]]:
    """The grooves, rebates and housings of a part, with the wood each takes."""
    for joint in joints:
        if isinstance(joint, TrenchJoint) and part.id in joint.parts:
            yield from ((joint, box) for box in boxes(joint, part))


def open_to(surface: str, trench: Trench, part: Part) -> bool:
    """Whether a trench reaches this surface of its part, so that it is open to it."""
    k = AXIS[surface]
    return trench.high[k] > _size(part, surface) - HAIR if surface in FAR else trench.low[k] < HAIR


def lengthwise(joints: Iterable[Joint], part: Part) -> tuple[Trench, ...]:
    """The grooves and rebates along the grain of a part."""
    return tuple(
        box
        for joint, box in trenches_in(joints, part)
        if not isinstance(joint, Housing) and box.low[0] == 0.0 and box.high[0] == part.length
    )


def across(joints: Iterable[Joint], part: Part) -> tuple[Trench, ...]:
    """The housings of a part, and its rebates along an end: they cross rows of slots along the grain."""
    return tuple(
        box for _, box in trenches_in(joints, part) if box.low[1] == 0.0 and box.high[1] == part.width
    )


def trench(work: Collected, joint: TrenchJoint) -> list[Operation]:
    """One operation for each part with the trench."""
    floor = work.floor
    role = "router" if floor.has("router") else "saw"
    made = []
    for name in joint.parts:
        part = work.parts[name]
        cuts = tuple(boxes(joint, part))
        near = beside(joint)
        # at a rebate the cutter stands out of the fence by the width, however wide the cutter is
        rebate, guide = isinstance(joint, Rebate), _guide(joint)
        across = joint.from_ if isinstance(joint, Groove) else joint.width if rebate else 0.0
        bit, passes = bit_for(work, joint.width, rebate) if role == "router" else (None, 1)
        wanted: dict[str, Wanted | None] = {
            "fence": None if isinstance(joint, Housing) else across,
            "height": joint.depth,
            "tilt": 0.0,
            "gauge": 0.0 if guide else None,
            "bit": bit,
        }
        made.append(
            Operation(
                id=slug(joint.id, joint.kind, name),
                station=floor.station(role),
                kind=joint.kind,
                parts=(name,),
                quantity=work.pieces(name),
                minutes_each=getattr(floor.limits.minutes, joint.kind) * len(cuts) * passes,
                settings=floor.settings(role, wanted),
                registers_on=tuple(
                    f"{name}/{side}" for side in dict.fromkeys((joint.on, near, guide)) if side
                ),
                makes=(f"{name}/{joint.kind} {joint.id}",),
                joint=joint.id,
                surface=f"{name}/{joint.on}",
                cuts=cuts,
                notes=Notes(
                    what=f"{_trenches(joint)} in the {joint.on} of {name}, {floor.length(joint.width)} wide",
                    fence=_fence(joint, guide),
                    table=joint.on,
                    way_round=f"{joint.on} down, {_way_round(joint, guide)}"
                    + (
                        _passes_of_bit(floor, joint, passes)
                        if role == "router"
                        else _passes_of_blade(floor, joint, near)
                    ),
                    lines=_lines(joint, name),
                    check=_check(floor, joint, near),
                    how_to_set={
                        "fence": f"from the fence to the {'far' if rebate else 'near'} side of the cutter"
                    },
                    cautions=(cautions.GROOVING, cautions.DUST),
                ),
            )
        )
    return made


def _trenches(joint: TrenchJoint) -> str:
    """The trench, or how many of them each piece gets."""
    count = len(_starts(joint))
    return joint.kind if count == 1 else f"{count} {joint.kind}s"


def _guide(joint: TrenchJoint) -> str:
    """The surface that keeps a cut across the grain square, "" where the fence does.

    An end is too narrow to run along the fence by itself: the board pivots. At a rebate along one the fence is the
    stop, and what guides is the surface that trails as the work goes by a fence on its right: so at the saw, and at the
    router table fed from right to left with the fence on the far side. Common practice, no source.
    """
    if isinstance(joint, Housing):
        return "edge"
    near = beside(joint)
    if AXIS[near] != 0:
        return ""
    trailing = cross(outward(near), outward(OPPOSITE[joint.on]))
    return next(name for name in AXIS if dot(outward(name), trailing) > 0.5)


def _fence(joint: TrenchJoint, guide: str) -> str:
    """What lies on the fence, and against push block or gauge."""
    square = f"{guide}, against a square push block or the gauge"
    if isinstance(joint, Housing):
        return square
    return f"{beside(joint)}; {square}" if guide else beside(joint)


def _way_round(joint: TrenchJoint, guide: str) -> str:
    """What the cut is made to."""
    if isinstance(joint, Housing):
        return "cut to the lines"
    near = beside(joint)
    if not guide:
        return f"{near} against the fence"
    return (
        f"{near} against the fence, which is only the stop: the block or gauge behind the {guide} keeps the board "
        f"square (behind the {OPPOSITE[guide]} where the fence is on the left)"
    )


def _passes_of_bit(floor: Floor, joint: TrenchJoint, passes: int) -> str:
    """How a bit narrower than the trench clears it: so that each pass after the first cuts on the side away from the
    fence only, where the bit turns against the feed (on the other side it would pull the work along).
    """
    if passes == 1:
        return ""
    head = f"; the bit is narrower and takes {passes} passes: "
    if isinstance(joint, Housing):
        return (
            f"{head}with the left end towards the fence the first along the line, the others beyond it, away from the "
            f"fence, until the housing is {_full_width(floor, joint)}"
        )
    if isinstance(joint, Rebate):
        return f"{head}the fence stands for the last; begin with less of the bit, all pieces at each pass"
    return f"{head}{_outwards(floor, joint)}"


def _passes_of_blade(floor: Floor, joint: TrenchJoint, near: str) -> str:
    """How a saw blade, mostly narrower than the trench, clears it: in passes, the fence set for the first."""
    head = f"; a blade that cuts less than {floor.length(joint.width)} wide takes several passes: "
    if isinstance(joint, Housing):
        return f"{head}the first along the line, the others beyond it until the housing is {_full_width(floor, joint)}"
    if isinstance(joint, Rebate):
        return (
            f"{head}the fence stands for the inner side; move it in, all pieces at each pass, to the {near}; then "
            f"bring the fence back to {floor.length(joint.width)}"
        )
    return f"{head}{_outwards(floor, joint)}"


def _outwards(floor: Floor, joint: Groove) -> str:
    """Passes of a groove from the side nearest the fence on."""
    return (
        f"the fence stands for the side nearest it; move it out pass by pass, all pieces at each, until the groove is "
        f"{_full_width(floor, joint)}; then bring the fence back to {floor.length(joint.from_)}"
    )


def _full_width(floor: Floor, joint: Groove | Housing) -> str:
    """How wide a groove or housing is in the end, and what it must take then."""
    return f"{floor.length(joint.width)} wide{f' and takes {joint.holds}' if joint.holds else ''}"


def _lines(joint: TrenchJoint, part: str) -> tuple[PencilLine, ...]:
    """The lines a housing is cut to; none for what a fence guides."""
    if not isinstance(joint, Housing):
        return ()
    what = "near side of the housing, carried round to the surface that is up"
    return (PencilLine(part=part, start="left end", across=joint.on, at=joint.at, what=what),)


def _check(floor: Floor, joint: TrenchJoint, near: str) -> Check:
    """What to measure after the first piece."""
    size, tolerance = floor.length, floor.length(SLIGHTEST)
    if isinstance(joint, Rebate):
        expect = f"{size(joint.width)} wide, {size(joint.depth)} deep"
        return Check(measure=f"width from the {near}, and depth", expect=expect, tolerance=tolerance)
    return Check(
        measure=f"from the {near} to the near side of {'the' if len(_starts(joint)) == 1 else 'each'} {joint.kind}, "
        "and its depth",
        expect=f"{floor.lengths(_starts(joint))} from the {near}, {size(joint.depth)} deep",
        tolerance=tolerance,
    )
