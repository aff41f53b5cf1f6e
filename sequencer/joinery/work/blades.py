"""Which of the saw's blades a cut takes, known by their names."""

from __future__ import annotations

import re
from typing import Literal

from sequencer.joinery.basis.floor import Floor
from sequencer.joinery.basis.making import Collected
from sequencer.operations import OneOf

Cut = Literal["rip", "crosscut"]

_BEGINNINGS = {"rip": "rip", "crosscut": "cross", "combination": "combi"}
"""How a word of a blade's name begins that says what it is for ("triple chip" says nothing of ripping)."""


def blade_for(work: Collected, cut: Cut) -> OneOf | None:
    """The blades that do for a cut: those named for it, and combination blades; None where the saw has no such setting.

    Where no name says so, those that are not named for the other cut, or any; a remark tells it.
    """
    setting = work.floor.setting("saw", "blade")
    if setting is None:
        return None
    if not setting.values:
        return OneOf(any=(cut, "combination"))
    fit = tuple(blade for blade in setting.values if _named(blade, cut) or _named(blade, "combination"))
    if fit:
        return OneOf(any=fit)
    other: Cut = "crosscut" if cut == "rip" else "rip"
    left = tuple(blade for blade in setting.values if not _named(blade, other))
    listed = " or ".join(setting.worded(blade, work.floor.job.unit) for blade in left or setting.values)
    if left == setting.values:
        work.remark(
            f'no blade of the saw is named "rip", "crosscut" or "combination": every cut takes {listed}'
        )
    else:
        work.remark(f'no blade of the saw is named "{cut}" or "combination": these cuts take {listed}')
    return OneOf(any=left or setting.values)


def blades_since(floor: Floor, remark: str) -> str:
    """A remark of a plan gone on with: one that says how no blade is named, of the blades its shop had, unless none is
    named so in this one either. Any other as it is.
    """
    told = _NONE_NAMED.match(remark)
    if told is None:
        return remark
    setting, names = floor.setting("saw", "blade"), told["names"]
    blades = setting.values if setting is not None else ()
    uses = [use for use in _BEGINNINGS if f'"{use}"' in names]
    still = blades and not any(_named(blade, use) for blade in blades for use in uses)
    since = f"is named {names}" if still else f"was named {names} in the shop file that this was planned by"
    return f"no blade of the saw {since}: {told['takes']}"


_NONE_NAMED = re.compile(
    r"no blade of the saw (is|was) named (?P<names>[^:]*?)( in the shop file that this was planned by)?: (?P<takes>.*)"
)


def _named(blade: float | str, use: str) -> bool:
    return isinstance(blade, str) and bool(re.search(rf"\b{_BEGINNINGS[use]}", blade.replace("_", " "), re.I))
