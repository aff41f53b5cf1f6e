"""What would pass where no depth of the mortises does: thinner walls, thicker stock; each tried before it is told."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from copy import copy

from sequencer.joinery.floor import Floor, even
from sequencer.joinery.placement import Fit
from sequencer.joinery.refusal import Refusal
from sequencer.joinery.rings import Ring, level_cuts, plane_cut
from sequencer.joinery.seats import Body

Placing = Callable[[Mapping[str, Body], Floor], Fit]
"""The slips of a joint placed, their depths left open, in these bodies and by this shop's limits; raises Refusal."""
THICKER = 2.0
"""Stock up to so many times as thick is tried."""


def ways_out(
    ring: Ring | None, parts: tuple[str, ...], bodies: Mapping[str, Body], floor: Floor, place: Placing
) -> str:
    """The greatest least_wall and the thinnest stock that pass, with the depths then; "" where neither does."""
    return ", or ".join(
        told for told in (_walls(bodies, floor, place), _stock(ring, parts, bodies, floor, place)) if told
    )


def _walls(bodies: Mapping[str, Body], floor: Floor, place: Placing) -> str:
    wall = floor.limits.least_wall - floor.grid
    while wall > 0:
        shop = copy(floor)
        shop.limits = floor.limits.model_copy(update={"least_wall": even(wall)})
        if depths := _depths(bodies, shop, place):
            return f"a least_wall of {floor.length(even(wall))} in the shop's [joinery] ({depths})"
        wall -= floor.grid
    return ""


def _stock(
    ring: Ring | None, parts: tuple[str, ...], bodies: Mapping[str, Body], floor: Floor, place: Placing
) -> str:
    """All parts of the joint as much thicker; of a shelf or rail the other part may have to spare."""
    thick = min(bodies[name].part.thickness for name in parts)
    for more in _steps(2 * floor.grid, thick * (THICKER - 1)):
        if depths := _depths({**bodies, **dict(_thicker(ring, parts, bodies, more))}, floor, place):
            sizes = dict.fromkeys(floor.length(even(bodies[name].part.thickness + more)) for name in parts)
            return f"stock {' and '.join(sizes)} thick ({depths})"
    return ""


def _steps(step: float, most: float) -> Iterator[float]:
    yield from (k * step for k in range(1, int(most / step) + 1))


def _thicker(
    ring: Ring | None, parts: tuple[str, ...], bodies: Mapping[str, Body], more: float
) -> Iterator[tuple[str, Body]]:
    for name in parts:
        old = bodies[name]
        part = old.part.model_copy(update={"thickness": even(old.part.thickness + more)})
        cuts = [plane_cut(cut, part) for cut in ring.cuts if cut.part == name] if ring is not None else []
        level = level_cuts(ring, part) if ring is not None else ()
        yield name, Body.of(part, [*cuts, *level], old.grooves)


def _depths(bodies: Mapping[str, Body], floor: Floor, place: Placing) -> str:
    try:
        one, two = (floor.length(depth) for depth in place(bodies, floor).depths)
    except Refusal:
        return ""
    return f"depth {one}" if one == two else f"depths {one} and {two}"
