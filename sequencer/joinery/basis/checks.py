"""How far off a cut may be by the check after the first piece, and settings whose tolerance lets it be farther off.

A setting that stands within its tolerance of what is asked for is not set anew: where that is more than the check
allows, the card says that it stays and asks for what it does not make. So does a tolerance that takes the tight and the
slack half of a joint for one, or one of the fence's angle that lets slots lean: no check sees that, it shows when the
halves of a joint do not meet.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from math import atan, degrees, radians, tan
from typing import Protocol

from sequencer.joinery.basis.floor import Floor
from sequencer.listing import listed
from sequencer.model.shop import SLACK, Setting, Station
from sequencer.operations import Operation, Slot
from sequencer.quantity import SLIGHTEST, format_readable

SIZE = 0.1
"""mm that a board brought to size may be off."""
MITRE = 0.3
"""mm that the length over the long points of mitred ends may be off."""
PLUNGED = 0.5
"""mm that the depth of a slot may be out."""

ALLOWED: Mapping[str, Mapping[str, float]] = {
    "mill": {"thickness": SIZE},
    "rip": {"fence": SIZE},
    "crosscut": {"stop": SIZE},
    "bevel": {"fence": SLIGHTEST, "stop": SLIGHTEST},
    "mitre": {"stop": MITRE},
    "plunge": {"fence_height": SLIGHTEST, "depth": PLUNGED},
    "groove": {"fence": SLIGHTEST, "height": SLIGHTEST},
    "rebate": {"fence": SLIGHTEST, "height": SLIGHTEST},
    "housing": {"height": SLIGHTEST},
}
"""For each kind of operation the settings that make what is checked, and how far that may be off, mm."""


TOLERANCES = "the tolerance of the "
"""How remarks on tolerances begin."""


class Sized(Protocol):
    """What is known of a part: sizes in mm."""

    @property
    def width(self) -> float:
        """Across the grain."""

    @property
    def thickness(self) -> float:
        """From face to back."""


def coarse_remarks(
    floor: Floor, parts: Mapping[str, Sized], operations: Iterable[Operation]
) -> Iterator[str]:
    """Which settings of derived operations on these parts have a tolerance that lets cuts be farther off than their
    checks, each once, and which tight and slack halves are one setting by it. What is made at no station of the shop
    is left aside."""
    stations = {station.id: station for station in floor.job.shop.stations}
    asked = [
        (operation, stations[operation.station], setting, operation.settings[setting.id])
        for operation in operations
        if operation.station in stations
        for setting in stations[operation.station].settings
        if setting.id in operation.settings and not setting.values
    ]
    worst: dict[tuple[str, str], tuple[float, Operation, Station, Setting]] = {}
    halves: dict[str, set[float]] = {}
    for operation, station, setting, wanted in asked:
        if not isinstance(wanted, float):
            continue
        if operation.kind == "plunge" and setting.id == "slot_length":
            halves.setdefault(operation.joint, set()).add(wanted)
        boards = [parts[name] for name in operation.parts if name in parts]
        allowed = _allowed(operation, setting, wanted, boards)
        key = station.id, setting.id
        if setting.tolerance > allowed + SLACK and (key not in worst or allowed < worst[key][0]):
            worst[key] = allowed, operation, station, setting
    for allowed, operation, station, setting in worst.values():
        yield _coarse(floor, allowed, operation, station, setting)
    yield from _one_half(floor, halves)


def _allowed(operation: Operation, setting: Setting, wanted: float, boards: Sequence[Sized]) -> float:
    """How far from what is wanted a setting may stand for the check to pass, mm or degrees; a fence's angle for slots
    to lie at their bottom within what the check allows at their mouth (common practice, no source).
    """
    kind = operation.kind
    if kind == "plunge" and setting.id == "fence_angle":
        return degrees(atan(SLIGHTEST / deepest)) if (deepest := _deepest(operation)) else setting.tolerance
    if kind in ("bevel", "mitre") and setting.id in ("tilt", "gauge"):
        across = max((each.thickness if setting.id == "tilt" else each.width for each in boards), default=0.0)
        moved = across * (tan(radians(min(wanted + setting.tolerance, 89.0))) - tan(radians(wanted)))
        return setting.tolerance * min(1.0, SLIGHTEST / moved) if moved > 0 else setting.tolerance
    return ALLOWED.get(kind, {}).get(setting.id, setting.tolerance)


def _deepest(operation: Operation) -> float:
    """Depth of the deepest slot of an operation, mm; 0 where there is none."""
    return max((cut.depth for cut in operation.cuts if isinstance(cut, Slot)), default=0.0)


def _coarse(floor: Floor, allowed: float, operation: Operation, station: Station, setting: Setting) -> str:
    unit = floor.job.unit
    if setting.measures == "length":
        has, off, works = floor.length(setting.tolerance), allowed, format_readable(allowed, unit, "at most")
    else:
        has, off, works = f"{setting.tolerance:g}°", SLIGHTEST, f"{int(allowed * 1000) / 1000:g}°"
    opening = f"{TOLERANCES}{setting.called} of the {station.name or station.id}, {has}, "
    if operation.kind == "plunge" and setting.measures == "angle":
        return (
            f'{opening}lets the slots of "{operation.in_short}" lean: {floor.length(_deepest(operation))} deep they '
            f"may be off by more at the bottom than their check allows at the mouth ({floor.length(off)}), and the "
            f"halves of the joint may not meet; a tolerance of {works} or less keeps them"
        )
    return (
        f"{opening}is more than the check of "
        f'"{operation.in_short}" allows ({floor.length(off)}): a card may leave the setting where that check fails; a '
        f"tolerance of {works} or less does not"
    )


def _one_half(floor: Floor, halves: Mapping[str, set[float]]) -> Iterator[str]:
    """Of joints with tight and slack halves those of which one slot length serves for both."""
    setting = floor.setting("mortiser", "slot_length")
    if setting is None or setting.values:
        return
    told = {
        joint: (min(lengths), max(lengths))
        for joint, lengths in halves.items()
        if min(lengths) < max(lengths) and setting.same(min(lengths), max(lengths))
    }
    if told:
        least = min(slack - tight for tight, slack in told.values())
        size = floor.length
        names = listed(
            [f'"{joint}" ({size(tight)} and {size(slack)})' for joint, (tight, slack) in told.items()]
        )
        yield (
            f"{TOLERANCES}{setting.called}, {size(setting.tolerance)}, takes tight and slack half of {names} "
            f"for one setting, and both may be made alike; one of less than {size(least)} keeps them apart"
        )
