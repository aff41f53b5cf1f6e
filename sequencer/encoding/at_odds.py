"""Mates that can never agree: what they ask of a setting that they hold has no value in common."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from itertools import combinations

from sequencer.encoding.readings import Adjusted, Asked, Stand
from sequencer.model.shop import Shop
from sequencer.operations import MatesGroup, Worklist
from sequencer.quantity import Unit


class MatesAtOdds:
    """The mates of a worklist, to be asked about with one set of operations after another."""

    def __init__(self, worklist: Worklist, shop: Shop, unit: Unit) -> None:
        self.worklist, self.shop, self.unit = worklist, shop, unit
        self._seen: dict[str, tuple[Adjusted, tuple[Stand, ...]]] = {}

    def among(self, made: Collection[str]) -> tuple[str, ...]:
        """A sentence for each setting that mates hold although no value of it serves all of them that are `made`."""
        return tuple(says for group in self.worklist.mates for says in self._in_group(group, made))

    def _in_group(self, group: MatesGroup, made: Collection[str]) -> Iterator[str]:
        mates = [op for op in self.worklist.operations if op.id in group.operations and op.id in made]
        for held in group.hold if len(mates) > 1 else ():
            setting, places = self._setting(held)
            asked = [(op.id, want) for op in mates if (want := setting.asked(op)) is not None]
            if not asked or _agree(setting, asked, places):
                continue
            pairs = (pair for pair in combinations(asked, 2) if not _agree(setting, pair, places))
            says = [f'"{id}" asks for {setting.worded(want, self.unit)}' for id, want in next(pairs, asked)]
            yield f"mates hold {held}, but {' and '.join(says)}: no order makes them in one visit"

    def _setting(self, held: str) -> tuple[Adjusted, tuple[Stand, ...]]:
        """A held setting ("station.setting") and the places of it that can matter to the job."""
        if held not in self._seen:
            station, _, name = held.partition(".")
            setting = Adjusted(self.shop.station(station), self.shop.station(station).setting(name))
            self._seen[held] = setting, setting.places(self.worklist.operations, self.unit)
        return self._seen[held]


def _agree(setting: Adjusted, asked: Iterable[tuple[str, Asked]], places: Iterable[Stand]) -> bool:
    """Whether the setting standing at one of the places serves all operations (each with what it wants)."""
    return any(all(setting.stands(want, place) for _, want in asked) for place in places)
