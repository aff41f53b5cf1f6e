"""A joint as the derivation works it out: its parts, its ring, the ways that fit."""

from __future__ import annotations

from dataclasses import dataclass, field

from sequencer.joinery.basis.seats import Pair
from sequencer.joinery.meetings.rings import Ring
from sequencer.joinery.slots.fit import Fit, Wall
from sequencer.joinery.trenches.cuts import TrenchJoint
from sequencer.model.parts import Joint, LegToApron, Slips
from sequencer.operations import StruckOut


@dataclass(frozen=True)
class Way:
    """One way of making a joint that fits: its name, the seats in pairs, and how they are placed."""

    name: str
    pairs: tuple[Pair, ...]
    fits: tuple[tuple[tuple[Pair, ...], Fit], ...]
    """Pairs placed alike, with their placement; most joints have one."""

    clear_of: tuple[str, ...] = ()
    """The joints whose slots its own gave way to."""
    alone: tuple[Fit, ...] = ()
    """How they would be placed without those, as in `fits`; none where they gave way to no others."""
    beside: tuple[Wall, ...] = ()
    """To grooves, rebates and housings, where they are thinner than the shop's least wall; 0 where slots open there."""

    @property
    def hold(self) -> tuple[int, float]:
        """How many slips it has, and the surface of one side of all of them, mm2: the more, the better it holds."""
        slips = [(len(pairs) * fit.count, fit.width * fit.length) for pairs, fit in self.fits]
        return sum(count for count, _ in slips), round(sum(count * size for count, size in slips), 3)


@dataclass
class Joined:
    """A joint worked out: its ring where it is one, the ways that fit and those struck out."""

    joint: Joint
    ring: Ring | None = None
    number: int = 0
    """How many rings, panels or sets of it the batch's pieces make; 0 for a groove, rebate or housing."""
    ways: list[Way] = field(default_factory=list)
    lies: list[Way] = field(default_factory=list)
    """The last of the ways, and the same with the second parts lying otherwise (`meetings.shelves`)."""
    struck: list[StruckOut] = field(default_factory=list)


def parts_of(joint: Joint) -> tuple[str, ...]:
    """All parts that a joint names, each once: those joined, the leg, and what a trench holds."""
    names = [*joint.parts]
    if isinstance(joint, LegToApron):
        names.append(joint.leg)
    if isinstance(joint, TrenchJoint) and joint.holds:
        names.append(joint.holds)
    return tuple(dict.fromkeys(names))


def wishes_of(joint: Joint) -> Slips:
    """What a joint with slips asks of them."""
    wishes: Slips = getattr(joint, "slips")  # noqa: B009 - every joint but grooves, rebates and housings has slips
    return wishes
