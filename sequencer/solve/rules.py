"""The whole problem in the shape of a pattern: all dials as they are, not eased, and every lot.

Searched with mates and wishes heeded, and with the lots that it may help to keep back made one at a time, it
is no bound but the problem itself.
"""

from __future__ import annotations

from sequencer.solve.floor import Floor
from sequencer.solve.heeded import whole
from sequencer.solve.knobs import Knob
from sequencer.solve.patterns import FAR, Pattern, Wheel


class Rules(Pattern):
    """All dials of a floor by their exact rules. `rough`: the dials that are not plain, by number."""

    def __init__(self, floor: Floor) -> None:
        wheels = [_exact(knob) for knob in floor.knobs]
        super().__init__(floor, wheels, tuple(range(len(wheels))), (), lambda: None, heeded=whole(floor))
        self.lots = floor.every
        self.rough = frozenset(d for d, knob in enumerate(floor.knobs) if not knob.plain)
        kinds: dict[tuple[tuple[int, int, tuple[int, ...]], ...], int] = {}
        for item in range(floor.count):
            self.class_of[item] = kinds.setdefault(tuple(floor.needs[item]), len(kinds))
        self.classes = list(kinds)


def _exact(knob: Knob) -> Wheel:
    """A dial as it is; moves that do not exist cost FAR."""
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
    )
