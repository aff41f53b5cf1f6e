"""From operations, their precedence and the shop to the plain problem the engines see.

Every setting that some operation names becomes a dial; its values are the few places that can matter (`readings.py`).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from fractions import Fraction
from math import gcd

from sequencer.encoding.readings import Adjusted, Stand, alike, mask
from sequencer.model.shop import Shop
from sequencer.operations import Edge, Operation, Worklist, the_one
from sequencer.planfile import Reading
from sequencer.quantity import MINUTE_PLACES, Unit
from sequencer.solve.problem import Dial, Lot, Mates, Need, Problem, Wish


@dataclass(frozen=True)
class Encoded:
    """The problem and the way back: what each lot, dial, value, choice and cost unit stands for."""

    problem: Problem
    operations: tuple[Operation, ...]
    settings: tuple[tuple[str, str], ...]
    """For each dial: (station, setting)."""
    values: tuple[tuple[Reading, ...], ...]
    """For each dial, the reading of each value."""
    choices: tuple[tuple[str, tuple[str, ...]], ...]
    """For each choice: its id and its options' names."""
    minute: Fraction
    """How many cost units make a minute."""

    def minutes(self, cost: int) -> float:
        """A cost in minutes."""
        return float(cost / self.minute)

    @property
    def first_parts(self) -> tuple[str, ...]:
        """For each operation the part it is on, the first where there are several; empty for none."""
        return tuple(operation.parts[0] if operation.parts else "" for operation in self.operations)


def encode(worklist: Worklist, edges: Iterable[Edge], shop: Shop, unit: Unit = "mm") -> Encoded:
    """The problem of ordering these operations.

    `edges` with strength "must" become precedence, "prefer" become wishes. Operations, mates and choices
    may only name what exists in the worklist and the shop (checked when the files were read). The dials' values
    are named in `unit`.
    """
    edges = tuple(edges)
    number = {operation.id: index for index, operation in enumerate(worklist.operations)}
    place = {station.id: index for index, station in enumerate(shop.stations)}
    held = {name for group in worklist.mates for name in group.hold}
    used = [
        Adjusted(station, setting)
        for station in shop.stations
        for setting in station.settings
        if any(op.station == station.id and setting.id in op.settings for op in worklist.operations)
        # mates may lose a setting by leaving although no operation names it
        or (not setting.keeps and f"{station.id}.{setting.id}" in held)
    ]
    tables = [setting.places(worklist.operations, unit) for setting in used]
    scale = _Scale()
    dials = tuple(
        _dial(setting, place[setting.station], places, scale, unit)
        for setting, places in zip(used, tables, strict=True)
    )
    needs: list[dict[int, Need]] = [{} for _ in worklist.operations]
    for index, (setting, places) in enumerate(zip(used, tables, strict=True)):
        for lot, operation in enumerate(worklist.operations):
            if (asked := setting.asked(operation)) is not None:
                needs[lot][index] = Need(
                    reach=mask(setting.reaches(asked, each) for each in places),
                    stay=mask(setting.stands(asked, each) for each in places),
                    either=the_one(asked.wanted) is None,
                )
    index_of = {setting.label: index for index, setting in enumerate(used)}
    problem = Problem(
        lots=tuple(
            Lot(op.id, place[op.station], needs[lot], scale(op.work_minutes), (op.in_short,))
            for lot, op in enumerate(worklist.operations)
        ),
        dials=dials,
        walk=tuple(
            tuple(scale(shop.walk_minutes(a.id, b.id)) if a is not b else 0 for b in shop.stations)
            for a in shop.stations
        ),
        precedence=tuple(
            sorted({(number[edge.before], number[edge.after]) for edge in edges if edge.strength == "must"})
        ),
        mates=tuple(
            Mates(
                frozenset(number[op] for op in group.operations),
                frozenset(index_of[held] for held in group.hold if held in index_of),
            )
            for group in worklist.mates
        ),
        choices=tuple(
            tuple(frozenset(number[op] for op in ops) for ops in choice.options.values())
            for choice in worklist.choices
        ),
        wishes=tuple(
            Wish(number[edge.before], number[edge.after], scale(edge.price_minutes))
            for edge in edges
            if edge.strength == "prefer" and edge.price_minutes > 0
        ),
    )
    return Encoded(
        problem=scale.settle(problem),
        operations=worklist.operations,
        settings=tuple((each.station, each.setting.id) for each in used),
        values=tuple(tuple(place.reading for place in places) for places in tables),
        choices=tuple((choice.id, tuple(choice.options)) for choice in worklist.choices),
        minute=scale.minute,
    )


def _dial(setting: Adjusted, station: int, places: tuple[Stand, ...], scale: _Scale, unit: Unit) -> Dial:
    """The dial of a setting over these places."""
    several, begins = len({place.at for place in places}) > 1, setting.start

    def move(old: Stand, new: Stand) -> int | None:
        if old == new:
            return 0
        still = setting.same(old, new) or setting.idle(old, new)
        return None if still else scale(setting.move_minutes(old, new))

    return Dial(
        label=setting.label,
        station=station,
        move=tuple(tuple(move(a, b) for b in places) for a in places),
        first=tuple(scale(setting.move_minutes(None, place)) for place in places),
        start=next((k for k, each in enumerate(places) if begins and alike(each, begins)), None),
        keeps=setting.setting.keeps,
        names=tuple(setting.named(place, unit, several) for place in places),
        words=setting.in_words,
    )


def dearest(problem: Problem) -> int:
    """More than any order can cost: every lot dearly walked to, with all dials moved for it, and no wish kept."""
    moves = sum(
        max((*dial.first, *(c for row in dial.move for c in row if c)), default=0) for dial in problem.dials
    )
    walk = max((cost for row in problem.walk for cost in row), default=0)
    wishes = sum(wish.price for wish in problem.wishes)
    return sum(lot.work for lot in problem.lots) + len(problem.lots) * (moves + walk) + wishes


COUNTABLE = 1 << 60
"""What costs of a whole order may come to, so that every engine adds them up in 64 bits."""


class _Scale:
    """Minutes as whole numbers: collects every cost as an exact decimal, then divides by the common unit.

    Costs are first counted in the last of `MINUTE_PLACES`; `settle` divides the whole problem by their greatest
    common divisor, so that the engines see small numbers.
    """

    finest: int = 10**MINUTE_PLACES

    def __init__(self) -> None:
        self.divisor = 0
        self.minute = Fraction(self.finest)

    def __call__(self, minutes: float) -> int:
        cost = round(Fraction(repr(float(minutes))) * self.finest)
        self.divisor = gcd(self.divisor, cost)
        return cost

    def settle(self, problem: Problem) -> Problem:
        unit = self.divisor or 1
        self.minute = Fraction(self.finest, unit)
        return replace(
            problem,
            lots=tuple(replace(lot, work=lot.work // unit) for lot in problem.lots),
            dials=tuple(
                replace(
                    dial,
                    move=tuple(
                        tuple(None if cost is None else cost // unit for cost in row) for row in dial.move
                    ),
                    first=tuple(cost // unit for cost in dial.first),
                )
                for dial in problem.dials
            ),
            walk=tuple(tuple(cost // unit for cost in row) for row in problem.walk),
            wishes=tuple(replace(wish, price=wish.price // unit) for wish in problem.wishes),
        )
