"""What the joints of a job put together, pair by pair, for tests to judge."""

from typing import NamedTuple

from sequencer.joinery.whole.assembly import Placed, links_of, put_together
from sequencer.joinery.workshop import work_out


class Mated(NamedTuple):
    """Two pieces (by index) that meet, their slots that must coincide, each in its own board's frame, and the slip's
    length in them."""

    first: int
    second: int
    slots: list
    slip: float


class Assembly(NamedTuple):
    """One joint put together by one way."""

    joint: str
    way: str
    placed: tuple[Placed, ...]
    mated: list[Mated]


def assembled(job):
    """Every joint with slips put together, by each of its ways."""
    shop = work_out(job)
    found = []
    for each in shop.joined:
        for way in each.ways:
            placed = put_together(each, way, shop.bodies, shop.parts)
            index = {(p.part, p.copy): i for i, p in enumerate(placed)}
            fits = {pair: fit for pairs, fit in way.fits for pair in pairs}
            mated = []
            for a, b, pair in links_of(each, way, shop.bodies, shop.parts):
                fit, slots = fits[pair], []
                for s in fit.centres:
                    one, two = (
                        seat.slot(each.joint.id, s, fit.height, fit.slots[k], fit.thickness, fit.depths[k])
                        for k, seat in enumerate((pair.first, pair.second))
                    )
                    slots.append((one, two))
                mated.append(Mated(index[a], index[b], slots, fit.length))
            found.append(Assembly(each.joint.id, way.name, placed, mated))
    return found
