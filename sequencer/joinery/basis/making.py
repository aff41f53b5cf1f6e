"""What the derivation collects while it goes through parts and joints."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from math import cos, radians

from sequencer.joinery.basis.floor import Floor, even
from sequencer.model.parts import Part
from sequencer.operations import (
    Between,
    Choice,
    MatesGroup,
    Meeting,
    Operation,
    StruckOut,
    WayRemark,
)


@dataclass
class Collected:
    """The worklist while it grows."""

    floor: Floor
    parts: Mapping[str, Part]
    operations: list[Operation] = field(default_factory=list)
    mates: list[MatesGroup] = field(default_factory=list)
    choices: list[Choice] = field(default_factory=list)
    struck_out: list[StruckOut] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)
    way_remarks: list[WayRemark] = field(default_factory=list)
    meetings: list[Meeting] = field(default_factory=list)
    blocks: dict[float, Operation] = field(default_factory=dict)
    """Setting blocks made whatever is chosen, by their tilt: one serves every joint of that angle."""

    def pieces(self, part: str) -> int:
        """Pieces of a part for the whole batch, spares included."""
        found = self.parts[part]
        return found.quantity * self.floor.job.batch + found.spare

    def remark(self, text: str) -> None:
        """Add a remark once."""
        if text not in self.remarks:
            self.remarks.append(text)

    def hold(self, operations: Sequence[Operation], role: str, settings: Iterable[str], why: str) -> None:
        """Make operations mates in those settings on which all of them agree, once."""
        if len(operations) < 2:
            return
        station = self.floor.station(role)
        first = operations[0].settings
        held = tuple(
            f"{station}.{name}"
            for name in settings
            if self.floor.setting(role, name)
            and name in first
            and all(op.settings.get(name) == first[name] for op in operations)
        )
        group = MatesGroup(operations=tuple(op.id for op in operations), hold=held, why=why)
        if held and group not in self.mates:
            self.mates.append(group)


def height_over(floor: Floor, thickness: float, tilt: float = 0.0) -> Between:
    """Blade height for stock of a thickness, measured along the blade, so that a tilted cut asks for more."""
    over, lean = floor.limits.blade_over, cos(radians(tilt))
    return Between(min=even((thickness + over.min) / lean), max=even((thickness + over.max) / lean))
