"""Which router bit cuts a groove, rebate or housing, and in how many passes."""

from __future__ import annotations

from math import ceil

from sequencer.joinery.floor import Floor
from sequencer.joinery.refusal import Refusal
from sequencer.operations import Wanted
from sequencer.quantity import format_length, length_named

SAME = 0.01
"""mm by which a bit may differ from the width it cuts."""


def bit_for(floor: Floor, width: float, wider_too: bool) -> tuple[Wanted | None, int]:
    """The bit for a width in mm, and in how many passes it cuts that; no bit where the router has no such setting.

    The bit of this very width; where a wider one does as well (`wider_too`: what is cut is open at one side), the
    narrowest of those; else the widest that is narrower, in several passes. A bit that is named rather than measured is
    known by the length in its name (see `length_named`); only a "straight" one may have another width.
    Raises Refusal where the shop lists bits and none of them will do.
    """
    setting = floor.setting("router", "bit")
    if setting is None:
        return None, 1
    if not setting.values:
        if setting.measures != "name":
            return width, 1
        return f"straight-{format_length(width, floor.job.shop.unit, with_unit=False, decimals=True)}", 1
    sizes: dict[float | str, float] = {}
    for value in setting.values:
        size = length_named(value, floor.job.shop.unit, "straight") if isinstance(value, str) else value
        if size:
            sizes[value] = size
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
        accepted = setting.accepted(floor.job.unit)
        raise Refusal(f"the router has no bit for {floor.length(width)}", accepted, "width")
    bit = max(narrower, key=straight.__getitem__)
    return bit, ceil((width - SAME) / straight[bit])
