"""What is glued up together: sand inside, dry fit, glue."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from sequencer.joinery.making import Collected, slug
from sequencer.model.parts import Groove, Housing, Joint, LegToApron, Rebate
from sequencer.operations import Check, Notes, Operation

TRENCHES = (Groove, Rebate, Housing)


def assemblies(joints: Sequence[Joint]) -> dict[str, tuple[str, ...]]:
    """The parts of each glue-up by its name: what hangs together by joints, unless a joint names its assembly."""
    groups: list[tuple[str, list[str]]] = []
    for joint in joints:
        parts = list(joint.parts)
        if isinstance(joint, LegToApron):
            parts.append(joint.leg)
        held = [joint.holds] if isinstance(joint, TRENCHES) and joint.holds else []
        if isinstance(joint, TRENCHES) and not held:
            continue
        members, name = [*parts, *held], joint.assembly
        joined = [g for g in groups if (g[0] == name and name) or (not name and set(g[1]) & set(members))]
        for group in joined:
            groups.remove(group)
            members = [*group[1], *members]
            name = name or group[0]
        groups.append((name or (joined[0][0] if joined else ""), list(dict.fromkeys(members))))
    named: dict[str, tuple[str, ...]] = {}
    for name, members in groups:
        first = next(
            j.id for j in joints if (set(j.parts) & set(members) and not isinstance(j, TRENCHES)) or j.id
        )
        for joint in joints:
            if set(joint.parts) <= set(members) and not isinstance(joint, TRENCHES):
                first = joint.id
                break
        named[name or first] = tuple(members)
    return named


def glue_up(
    work: Collected,
    name: str,
    parts: tuple[str, ...],
    surfaces: tuple[str, ...],
    number: int,
    inside: Mapping[str, str],
    true: tuple[str, str],
) -> list[Operation]:
    """Sand, dry-fit and glue operations of one assembly; `number` of it in the batch; `true`: what to measure and
    expect (`truing`).
    """
    floor = work.floor
    if not floor.has("bench"):
        work.remark("the shop has no bench: sanding, dry fit and glue-up are left out of the plan")
        return []
    bench, minutes = floor.station("bench"), floor.limits.minutes
    sanded = tuple(p for p in parts if p in inside)
    made = []
    if sanded:
        made.append(
            Operation(
                id=slug("sand", name),
                station=bench,
                kind="sand",
                parts=sanded,
                quantity=sum(work.pieces(p) for p in sanded),
                minutes_each=minutes.sand,
                registers_on=tuple(f"{p}/{inside[p]}" for p in sanded),
                notes=Notes(what=f"sand the inside faces of {name}, clear of the joints"),
            )
        )
    made.append(
        Operation(
            id=slug("dry-fit", name),
            station=bench,
            kind="dry-fit",
            parts=parts,
            quantity=number,
            minutes_each=minutes.dry_fit,
            registers_on=surfaces,
            notes=Notes(
                what=f"put {name} together dry, slips in",
                check=Check(measure=true[0], expect=true[1], tolerance=floor.length(0.5)),
                way_round="if the slips force a joint open, take slips one size thinner and fill with thickened epoxy",
            ),
        )
    )
    made.append(
        Operation(
            id=slug("glue", name),
            station=bench,
            kind="glue",
            parts=parts,
            quantity=number,
            minutes_each=minutes.glue,
            registers_on=surfaces,
            notes=Notes(what=f"glue up {name}: slips in the tight half first, then close and clamp"),
        )
    )
    return made
