"""The whole problem in the shape of a pattern: all dials as they are, not eased, and every lot.

Searched with mates and wishes heeded, and with the lots that it may help to keep back made for now only (`stops`),
it is no bound but the problem itself.
"""

from __future__ import annotations

from sequencer.solve.bounds.heeded import whole
from sequencer.solve.bounds.patterns import Pattern
from sequencer.solve.bounds.stops import MANY_VALUES, Stops, stops_of
from sequencer.solve.bounds.wheels import Wheel, stopping
from sequencer.solve.compiled.layout import Layout
from sequencer.solve.problem import FAR
from sequencer.solve.proof.joining import Joining
from sequencer.solve.relation import bits, mask_of
from sequencer.solve.transitions.floor import Floor


class Rules(Pattern):
    """All dials of a floor by their exact rules. `rough`: the dials that are not plain, by number."""

    def __init__(self, floor: Floor) -> None:
        wheels = [_exact(floor, d) for d in range(len(floor.knobs))]
        heeded = whole(floor, stopping(wheels))
        super().__init__(floor, wheels, tuple(range(len(wheels))), (), lambda: None, heeded=heeded)
        self.lots = floor.every
        self.rough = frozenset(d for d, knob in enumerate(floor.knobs) if not knob.plain)
        kinds: dict[tuple[tuple[int, int, tuple[int, ...]], ...], int] = {}
        for item in range(floor.count):
            self.class_of[item] = kinds.setdefault(tuple(floor.needs[item]), len(kinds))
        self.classes = list(kinds)


def put_whole(layout: Layout, joining: Joining) -> tuple[int, int]:
    """The numbers of the whole and of what its parts guide, put on a board.

    Where lots can serve as stops, that is a pattern of all dials, in which lots made may stop again and again. It has
    far fewer states than the whole and mostly costs the same; it guides the whole.
    """
    rules = Rules(joining.floor)
    number = layout.put(rules, rough=rules.rough)
    if not (joining.sharp and rules.heeded.revocable):
        return number, number
    eased = layout.put(joining.every())
    layout.guide(number, [(eased,)])
    return number, eased


def _stops(floor: Floor, d: int) -> Stops | None:
    """What stops of a dial help, or of walking."""
    knob = floor.knobs[d]
    if d == floor.walking:
        worth = [0 if floor.vain[d] >> s & 1 else floor.every for s in range(knob.values)]
        if not any(worth[s] and knob.accept[s] for s in range(knob.values)):
            return None
        helped = {item: floor.every for s in range(knob.values) if worth[s] for item in bits(knob.accept[s])}
        return Stops([worth] * (knob.values + 1), helped)
    if knob.plain or knob.values > MANY_VALUES:
        return None
    needs = {
        item: (stay, reach) for item, need in enumerate(floor.needs) for e, stay, reach in need if e == d
    }
    stuck: dict[int, int] = {}
    for item, (stay, reach) in needs.items():
        for v in bits(stay & ~mask_of(reach)):
            stuck[v] = stuck.get(v, 0) | 1 << item
    for lots, held in floor.groups:
        if held >> d & 1 and lots & ~knob.named:
            for v in range(knob.values):
                stuck[v] = stuck.get(v, 0) | knob.accept[v]
    return stops_of(
        knob.cost[: knob.values + 1], {item: mask_of(reach) for item, (_, reach) in needs.items()}, stuck
    )


def _exact(floor: Floor, d: int) -> Wheel:
    """A dial as it is; moves that do not exist cost FAR."""
    knob = floor.knobs[d]
    return Wheel(
        values=knob.values,
        cost=tuple(tuple(FAR if cost is None else cost for cost in row) for row in knob.cost),
        price=knob.price,
        level=False,
        accept=tuple(lots | ~knob.named for lots in knob.accept),
        serves=tuple(lots & knob.named for lots in knob.accept[: knob.values]),
        only=(0,) * knob.values,
        named=knob.named,
        stay={},
        keeps=knob.keeps,
        station=knob.station,
        stops=_stops(floor, d),
    )
