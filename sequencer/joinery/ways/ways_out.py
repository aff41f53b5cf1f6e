"""What would pass where a joint does not: smaller slips that the shop has; where no depth of the mortises serves
thinner walls, thicker stock. Each is tried before it is told."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from copy import copy
from itertools import product
from math import ceil, prod
from operator import ne

from sequencer.joinery.basis.floor import Floor, even
from sequencer.joinery.basis.nearness import HAIR
from sequencer.joinery.basis.refusal import Refusal
from sequencer.joinery.basis.seats import Body
from sequencer.joinery.basis.tries import least_that_passes
from sequencer.joinery.meetings.rings import Ring, level_cuts, levelled, plane_cut
from sequencer.joinery.slots.fit import Fit
from sequencer.joinery.trenches.cuts import lengthwise
from sequencer.model.parts import Slips

Placing = Callable[[Mapping[str, Body], Floor], Fit]
"""The slips of a joint placed, their depths left open, in these bodies and by this shop's limits; raises Refusal."""
TRIALS = 60
"""So many sizes of slips are tried."""
THICKER = 2.0
"""Stock up to so many times as thick is tried."""


def smaller_slips(
    floor: Floor, cutters: Iterable[float], than: tuple[float, float, float], place: Callable[[Slips], Fit]
) -> str:
    """The first of the shop's slips, none of its sizes more than those of `than` (thickness, width, length), that
    passes; "" where none does. Those with fewest other sizes come first, of these the largest.

    `place` places slips of a thickness, width and length, and raises Refusal.
    """
    limits = floor.limits
    ready = {(slip.thickness, slip.width, slip.length) for slip in limits.slips} or set(
        product(cutters, limits.slip_widths, limits.slip_lengths)
    )
    smaller = {
        size
        for size in ready
        if size != than
        and all(one <= other + HAIR for one, other in zip(size, than, strict=True))
        and size[0] < size[1]
        and size[2] <= size[0] * limits.slip_proportion + HAIR
    }
    nearest = sorted(smaller, key=lambda size: (sum(map(ne, size, than)), -prod(size)))
    for thickness, width, length in nearest[:TRIALS]:
        try:
            one, two = place(Slips(thickness=thickness, width=width, length=length)).depths
        except Refusal:
            continue
        size = " × ".join(floor.length(mm) for mm in (thickness, width, length))
        return f"slips {size}, {floor.length(one)} and {floor.length(two)} deep"
    return ""


def ways_out(
    ring: Ring | None, parts: tuple[str, ...], bodies: Mapping[str, Body], floor: Floor, place: Placing
) -> str:
    """The greatest least_wall and the thinnest stock that pass, with the depths then; "" where neither does."""
    return ", or ".join(
        told for told in (_walls(bodies, floor, place), _stock(ring, parts, bodies, floor, place)) if told
    )


def _walls(bodies: Mapping[str, Body], floor: Floor, place: Placing) -> str:
    def wall(k: int) -> float:
        return even(floor.limits.least_wall - k * floor.grid)

    def holding(k: int) -> str | None:
        shop = copy(floor)
        shop.limits = floor.limits.model_copy(update={"least_wall": wall(k)})
        return _depths(bodies, shop, place)

    found = least_that_passes(ceil(floor.limits.least_wall / floor.grid - HAIR) - 1, holding)
    if found is None:
        return ""
    return f"a least_wall of {floor.length(wall(found[0]))} in the shop's [joinery] ({found[1]})"


def _stock(
    ring: Ring | None, parts: tuple[str, ...], bodies: Mapping[str, Body], floor: Floor, place: Placing
) -> str:
    """All parts of the joint as much thicker; of a shelf or rail the other part may have to spare."""
    step = 2 * floor.grid

    def holding(k: int) -> str | None:
        return _depths({**bodies, **dict(_thicker(ring, parts, bodies, floor, k * step))}, floor, place)

    thick = min(bodies[name].part.thickness for name in parts)
    found = least_that_passes(int(thick * (THICKER - 1) / step), holding)
    if found is None:
        return ""
    more = found[0] * step
    sizes = dict.fromkeys(floor.length(even(bodies[name].part.thickness + more)) for name in parts)
    return f"stock {' and '.join(sizes)} thick ({found[1]})"


def _thicker(
    ring: Ring | None, parts: tuple[str, ...], bodies: Mapping[str, Body], floor: Floor, more: float
) -> Iterator[tuple[str, Body]]:
    boards = {
        name: old.model_copy(update={"thickness": even(old.thickness + more)})
        for name, old in ((name, bodies[name].part) for name in parts)
    }
    if ring is not None:
        ring = levelled(ring, boards)
    for name, part in boards.items():
        cuts = [plane_cut(cut, part) for cut in ring.cuts if cut.part == name] if ring is not None else []
        level = level_cuts(ring, part) if ring is not None else ()
        yield name, Body.of(part, [*cuts, *level], lengthwise(floor.job.joints, part))


def _depths(bodies: Mapping[str, Body], floor: Floor, place: Placing) -> str | None:
    """The depths that hold, in words; None where none do."""
    try:
        one, two = (floor.length(depth) for depth in place(bodies, floor).depths)
    except Refusal:
        return None
    return f"depth {one}" if one == two else f"depths {one} and {two}"
