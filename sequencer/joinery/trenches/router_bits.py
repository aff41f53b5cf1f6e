"""Which router bit cuts a groove, rebate or housing, and in how many passes."""

from __future__ import annotations

import re
from collections.abc import Collection
from math import ceil, inf

from sequencer.joinery.basis.floor import Floor
from sequencer.joinery.basis.making import Collected
from sequencer.joinery.basis.refusal import Refusal
from sequencer.operations import Wanted
from sequencer.quantity import Unit, format_length, format_readable, length_named

SAME = 0.01
"""mm by which a bit may differ from the width it cuts."""

_SHAPED = re.compile(
    r"\b(round|radius|bull|core|cove|chamfer|bevel|mitre|miter|ogee|roman|bead|v\b|v-|v\d|vee|dovetail|keyhole|t-slot|rais|panel)",
    re.IGNORECASE,
)
"""What names of bits begin a word with that leave no square bottom and walls (common practice, no source)."""

_FLUTES = re.compile(r"\d+[\s-]*flutes?", re.IGNORECASE)


_UNCLEAR = "how wide the bit "


def bit_for(work: Collected, width: float, wider_too: bool) -> tuple[Wanted, int]:
    """The bit for a width in mm, and in how many passes it cuts that; one of this width where the router lists none.

    Bits named for another shape than a square one (a roundover, cove, chamfer ...) cut none of it.

    The bit of this very width; where a wider one does as well (`wider_too`: what is cut is open at one side), the
    narrowest of those; else the widest that is narrower, in several passes. A bit that is named rather than measured is
    known by the length in its name (see `length_named`); only a "straight" one may have another width. One whose name
    has numbers and yet tells no length is taken for no cut, and a remark says so.
    Raises Refusal where the shop lists bits and none of them will do.
    """
    floor = work.floor
    setting = floor.setting("router", "bit")
    if setting is None or not setting.values:
        if setting is None or setting.measures != "name":
            return width, 1
        return f"straight-{format_length(width, floor.job.shop.unit, with_unit=False, decimals=True)}", 1
    sizes: dict[float | str, float] = {}
    unclear: list[str] = []
    for value in setting.values:
        if isinstance(value, str) and _SHAPED.search(value):
            continue
        size = _width_named(value, floor.job.shop.unit) if isinstance(value, str) else value
        if size:
            sizes[value] = size
        elif isinstance(value, str) and re.search(r"\d", value):
            unclear.append(
                f"{_UNCLEAR}{setting.worded(value, floor.job.unit)} is its name does not tell: it is taken for "
                'no cut ("straight-6" or "straight 1/4 in" would tell it)'
            )
    for remark in unclear:
        work.remark(remark)
    exact = [bit for bit, size in sizes.items() if abs(size - width) < SAME]
    straight = {
        bit: size for bit, size in sizes.items() if not isinstance(bit, str) or "straight" in bit.lower()
    }
    if exact:
        return next((bit for bit in exact if bit in straight), exact[0]), 1
    wider = [bit for bit, size in straight.items() if size > width] if wider_too else []
    if wider:
        return min(wider, key=straight.__getitem__), 1
    narrower = [bit for bit, size in straight.items() if size < width]
    if not narrower:
        message = "; ".join((f"the router has no bit for {floor.length(width)}", *unclear))
        raise Refusal(message, _widths_cut(sizes.values(), straight.values(), width, floor.job.unit), "width")
    bit = max(narrower, key=straight.__getitem__)
    return bit, ceil((width - SAME) / straight[bit])


def speaks_of_lost_bit(floor: Floor, remark: str) -> bool:
    """Whether a remark of a plan tells that the name of a bit does not say its width, which the router has no more."""
    setting = floor.setting("router", "bit")
    there = [setting.worded(value, floor.job.unit) for value in setting.values] if setting is not None else []
    return remark.startswith(_UNCLEAR) and not any(
        remark.startswith(f"{_UNCLEAR}{bit} is its name ") for bit in there
    )


def _widths_cut(sizes: Collection[float], straight: Collection[float], width: float, unit: Unit) -> str:
    """The widths that bits of these sizes can cut, of which these are straight, and the bit that would cut this one."""
    least = min(straight, default=inf)
    told = [format_readable(size, unit) for size in sorted({*sizes}) if size < least]
    told += [f"{format_readable(least, unit, 'at least')} or more"] if straight else []
    or_ = "or " if told else ""
    return ", ".join(
        (*told, f"{or_}a straight bit of {format_length(width, unit, decimals=True)} or less in the shop")
    )


def _width_named(bit: str, unit: Unit) -> float | None:
    """The width that the name of a bit tells, mm; how many flutes it has is no width."""
    return length_named(_FLUTES.sub("", bit), unit, "straight")
