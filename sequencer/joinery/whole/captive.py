"""What grooves hold all round: it goes in while the boards round it are put together, not after.

A rebate or a housing is open to one side, and what it holds may well come later; so may what slides into grooves from a
side where no board is.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator, Sequence

from sequencer.joinery.basis.refusal import Refusal
from sequencer.joinery.whole.outward import Outward
from sequencer.joinery.work.gluing import Assembly
from sequencer.model.parts import (
    CaseMitre,
    EndToEdge,
    EndToFace,
    FrameMitre,
    Groove,
    Joint,
    LegToApron,
    Splayed,
)

EDGES, FACES = ("edge", "far edge"), ("face", "back")


def shut_out(assemblies: Sequence[Assembly], outward: Collection[Outward]) -> Iterator[tuple[str, Refusal]]:
    """Joint and refusal for every groove whose held part is glued up in another assembly than boards that enclose it;
    what opens `outward` holds nothing between these."""
    grooves: dict[str, list[tuple[Assembly, Groove]]] = defaultdict(list)
    for assembly in assemblies:
        for joint in (each.joint for each in assembly.joints):
            if isinstance(joint, Groove) and joint.holds:
                grooves[joint.holds].append((assembly, joint))
    for held, holding in grooves.items():
        inward = {
            (name, groove.on)
            for _, groove in holding
            for name in groove.parts
            if Outward(groove.id, name) not in outward
        }
        for assembly in assemblies:
            for joint in (each.joint for each in assembly.joints):
                inside = _inside(joint)
                if not all(any((name, surface) in inward for surface in inside) for name in joint.parts):
                    continue
                for other, groove in holding:
                    if other is not assembly and groove.on in inside and set(groove.parts) & set(joint.parts):
                        yield groove.id, _refusal(held, joint, other, assembly)


def _inside(joint: Joint) -> tuple[str, ...]:
    """The surfaces that may look to what the parts of a joint stand round; none where they do not stand round
    anything that lies along their grain."""
    if isinstance(joint, FrameMitre):
        return EDGES
    if isinstance(joint, EndToEdge):
        return EDGES if len(joint.ends) == 2 and (joint.at is None or len(joint.at) > 1) else ()
    if isinstance(joint, EndToFace):
        return FACES if len(joint.ends) == 2 and len(joint.at) > 1 else ()
    if isinstance(joint, CaseMitre):
        return FACES if joint.closed else ()
    return FACES if isinstance(joint, (Splayed, LegToApron)) else ()


def _refusal(held: str, joint: Joint, other: Assembly, assembly: Assembly) -> Refusal:
    return Refusal(
        f'{held} goes in while "{joint.id}" is put together, in assembly "{assembly.name}", and not with assembly '
        f'"{other.name}": nothing goes into grooves all round once the boards are together',
        f'assembly = "{joint.assembly}"' if joint.assembly else f'one assembly for it and "{joint.id}"',
        "assembly",
    )
