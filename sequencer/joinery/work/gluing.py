"""What is glued up together: sand inside, dry fit, glue."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import chain, count
from math import gcd

from sequencer.joinery.basis.insides import inside_on_both, outside_of
from sequencer.joinery.basis.making import Collected
from sequencer.joinery.basis.seats import OPPOSITE
from sequencer.joinery.meetings.joined import Joined, parts_of
from sequencer.joinery.trenches.cuts import TrenchJoint
from sequencer.joinery.work.truing import truing
from sequencer.listing import listed
from sequencer.model.parts import CaseMitre, EdgeToEdge, EndToFace, Housing, Splayed, Stave
from sequencer.operations import Check, Notes, Operation, slug

FIRST = ("rip", "crosscut", "bevel", "mitre", "rebate")
"""Kinds of work on loose boards that the rule books do not put before the dry fit, since by hand they may well be done
to the whole: derived ones give a board its edges, ends and rebates."""

_TIGHT = "if the slips force a joint open, take slips one size thinner, or plane them, and fill with thickened epoxy"


@dataclass(frozen=True)
class Assembly:
    """What is glued up together: its name, no other's, and its joints in the order of the job."""

    name: str
    joints: tuple[Joined, ...]
    boards: frozenset[str] = frozenset()
    """The parts, of all of the job, that are glued up to panels by themselves."""

    @property
    def parts(self) -> tuple[str, ...]:
        """Its parts, each once."""
        return _parts(self.joints)

    @property
    def panels(self) -> dict[str, str]:
        """The surfaces that stand for its boards being panels, which it makes if it is panels only, else needs."""
        return {part: f"{part}/glued-up panel" for part in self.parts if part in self.boards}


def assemblies(joined: Sequence[Joined]) -> list[Assembly]:
    """All that is glued up, in the order of the job.

    Joints that name their assembly belong to it. The others belong to what they hang together with: an assembly with a
    name, if there is one; where they tie several of these together, they are glued up by themselves. Panels are glued
    up before what they go into (common practice, no source), so they hang together with panels only.
    """
    glued = [each for each in joined if not isinstance(each.joint, TrenchJoint) or each.joint.holds]
    named: dict[str, list[Joined]] = {}
    for each in glued:
        if each.joint.assembly:
            named.setdefault(each.joint.assembly, []).append(each)
    unnamed = []
    for panels in (True, False):
        free = [each for each in glued if not each.joint.assembly and _panels([each]) == panels]
        alike = [others for others in named.values() if _panels(others) == panels]
        for group in _sharing_parts(free):
            near = [others for others in alike if set(_parts(others)) & set(_parts(group))]
            if len(near) == 1:
                near[0] += group
            else:
                unnamed.append(group)
    taken = {slug(name) for name in named}
    found = [*named.items()]
    for group in unnamed:
        name = _name(group, taken)
        taken.add(slug(name))
        found.append((name, group))
    boards = frozenset(_parts(chain(*(group for _, group in found if _panels(group)))))
    made = [Assembly(name, tuple(sorted(group, key=joined.index)), boards) for name, group in found]
    return sorted(made, key=lambda assembly: joined.index(assembly.joints[0]))


def _panels(joints: Iterable[Joined]) -> bool:
    """Whether panels of boards are all that these joints make."""
    return all(isinstance(each.joint, EdgeToEdge) for each in joints)


def _parts(joints: Iterable[Joined]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(part for each in joints for part in parts_of(each.joint)))


def _sharing_parts(joints: Iterable[Joined]) -> list[list[Joined]]:
    """Joints in groups that have no part in common."""
    groups: list[list[Joined]] = []
    for joint in joints:
        parts = set(_parts([joint]))
        near = [group for group in groups if parts & set(_parts(group))]
        groups = [group for group in groups if group not in near] + [[*chain(*near), joint]]
    return groups


def _name(group: Sequence[Joined], taken: set[str]) -> str:
    """A name that is not taken, as operations' ids tell names apart: the id of a joint, one with slips if there is any,
    else the first of these with a number.
    """
    ids = [each.joint.id for each in sorted(group, key=lambda each: isinstance(each.joint, TrenchJoint))]
    numbered = (f"{ids[0]} {number}" for number in count(2))
    return next(name for name in chain(ids, numbered) if slug(name) not in taken)


def glue_up(work: Collected, assembly: Assembly) -> Iterator[Operation]:
    """Sand, dry-fit and glue operations of one assembly, whose parts' operations `work` has; none without a bench."""
    floor, name, parts = work.floor, assembly.name, assembly.parts
    if not floor.has("bench"):
        work.remark("the shop has no bench: sanding, dry fit and glue-up are left out of the plan")
        return
    bench, minutes = floor.station("bench"), floor.limits.minutes
    joints = tuple(each.joint.id for each in assembly.joints)
    number = _number(assembly.joints) or floor.job.batch
    panels = assembly.panels
    makes, needed = (panels.values(), ()) if _panels(assembly.joints) else ((), panels.values())
    surfaces = (*_sawn(work, parts), *needed)
    slipped = any(not isinstance(each.joint, TrenchJoint) for each in assembly.joints)
    if sanded := _inside(assembly):
        both = [p for p in sanded if inside_on_both(work.parts[p], floor.job.joints, work.parts)]
        outside = {p: outside_of(work.parts[p], floor.job.joints, work.parts) for p in sanded}
        alone = {p: _sanding([p], both) for p in sanded} if len(sanded) > 1 else {}
        yield Operation(
            id=slug("sand", name),
            station=bench,
            kind="sand",
            parts=sanded,
            quantity=sum(work.pieces(p) for p in sanded),
            minutes_each=minutes.sand,
            registers_on=(
                *(f"{p}/{OPPOSITE[face]}" for p, face in outside.items()),
                *(f"{p}/{outside[p]}" for p in both),
                *(panels[p] for p in sanded if p in panels),
            ),
            notes=Notes(what=_sanding(sanded, both)),
            what_alone=alone,
        )
    measure, expect = truing([(each.joint, each.ring) for each in assembly.joints], work.parts)
    yield Operation(
        id=slug("dry-fit", name),
        station=bench,
        kind="dry-fit",
        parts=parts,
        quantity=number,
        minutes_each=minutes.dry_fit,
        joints=joints,
        registers_on=surfaces,
        notes=Notes(
            what=f"put {name} together dry{', slips in' if slipped else ''}",
            check=Check(measure=measure, expect=expect, tolerance=floor.length(0.5)),
            way_round=_TIGHT if slipped else "",
        ),
    )
    yield Operation(
        id=slug("glue", name),
        station=bench,
        kind="glue",
        parts=parts,
        quantity=number,
        minutes_each=minutes.glue,
        joints=joints,
        registers_on=surfaces,
        makes=tuple(makes),
        notes=Notes(
            what=f"glue up {name}: {'slips in the tight half first, then ' if slipped else ''}close and clamp"
        ),
    )


def _sanding(sanded: Sequence[str], both: Sequence[str]) -> str:
    """What is sanded, in words: the faces that are inside of the parts `sanded`; those in `both` on both faces."""
    one, two = ([part for part in sanded if (part in both) == twice] for twice in (False, True))
    found = [f"the inside faces of {listed(one)}"] if one else []
    found += [f"both faces of {listed(two)}"] if two else []
    return f"sand {' and '.join(found)}, clear of the joints"


def _number(joints: Sequence[Joined]) -> int:
    """How many of an assembly the pieces make: as many as share out evenly what its joints make; 0 where these do not
    tell. Panels count where there is nothing else: one assembly may well have several.
    """
    told = [each.number for each in joints if not isinstance(each.joint, EdgeToEdge)]
    return gcd(*told) or gcd(*(each.number for each in joints))


def _sawn(work: Collected, parts: Sequence[str]) -> tuple[str, ...]:
    """The sawn surfaces that parts come to the dry fit with, at which some of them are joined, and their rebates. What
    nothing else asks for (an edge ripped, a divider cut to length) would be left until after the glue-up else. Surfaces
    that operations by hand make or remove are theirs: a panel may well be sawn to its length when it is one piece.
    """
    by_hand = work.floor.job.operations
    gone = {surface for op in (*work.operations, *by_hand) for surface in op.destroys}
    gone |= {surface for op in by_hand for surface in op.makes}
    sawn = (op for op in work.operations if op.kind in FIRST and set(op.parts) & set(parts))
    return tuple(sorted({surface for op in sawn for surface in op.makes} - gone))


def _inside(assembly: Assembly) -> tuple[str, ...]:
    """The parts whose backs are inside when all is glued, shelves and dividers in housings among them."""
    within = (CaseMitre, Splayed, Stave, EndToFace, Housing)
    inside = {
        part for each in assembly.joints if isinstance(each.joint, within) for part in parts_of(each.joint)
    }
    return tuple(part for part in assembly.parts if part in inside)
