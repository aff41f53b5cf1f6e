"""From operations, their precedence and the shop to the plain problem the engines see.

Every setting that some operation names becomes a dial. Its values are the few that can matter: wherever a
value within ranges is free to choose, it can be lowered until it meets the low end of a range, a value
asked for, a stop, or one of these less the tolerance: the set of operations it serves does not shrink on
the way, and its price does not rise (a stop that costs more than a free value is seen to apart). Nor does it come
within tolerance of another value the setting may stand at, from which it could no longer be moved, unless two of all
these places are within twice the tolerance of each other (`_crowded`): there more readings are tried. Values that serve
no operation another value does not serve at least as cheaply are dropped. What is left is put on a mark that can be
read where that changes nothing (`_on_marks`), so that plan, cards and reasons tell one value.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import combinations, pairwise
from math import gcd, isfinite

from sequencer.model.shop import SLACK, Setting, Shop
from sequencer.operations import Between, Edge, OneOf, Operation, Wanted, Worklist
from sequencer.quantity import Unit, format_angle, format_length, format_number, near_marks
from sequencer.solve.problem import Dial, Lot, Mates, Need, Problem, Wish

Reading = float | str


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
        (station.id, setting)
        for station in shop.stations
        for setting in station.settings
        if any(op.station == station.id and setting.id in op.settings for op in worklist.operations)
        # mates may lose a setting by leaving although no operation names it
        or (not setting.keeps and f"{station.id}.{setting.id}" in held)
    ]
    tables = [_values(setting, station, worklist.operations, unit) for station, setting in used]
    scale = _Scale()
    dials = tuple(
        _dial(f"{station}.{setting.id}", place[station], setting, values, scale, unit)
        for (station, setting), values in zip(used, tables, strict=True)
    )
    needs: list[dict[int, Need]] = [{} for _ in worklist.operations]
    for index, ((station, setting), values) in enumerate(zip(used, tables, strict=True)):
        for lot, operation in enumerate(worklist.operations):
            if operation.station == station and setting.id in operation.settings:
                wanted = operation.settings[setting.id]
                needs[lot][index] = Need(
                    reach=_mask(_reaches(setting, wanted, value) for value in values),
                    stay=_mask(stands(setting, wanted, value) for value in values),
                )
    index_of = {f"{station}.{setting.id}": index for index, (station, setting) in enumerate(used)}
    problem = Problem(
        lots=tuple(
            Lot(op.id, place[op.station], needs[lot], scale(op.work_minutes))
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
        settings=tuple((station, setting.id) for station, setting in used),
        values=tuple(tables),
        choices=tuple((choice.id, tuple(choice.options)) for choice in worklist.choices),
        minute=scale.minute,
    )


def disagreements(worklist: Worklist, shop: Shop, unit: Unit) -> Iterator[str]:
    """A sentence for each setting that mates hold although no value of it serves them all.

    Mates that are made under some options of a choice only are left to the engines: another option may do.
    """
    optional = {op for choice in worklist.choices for ops in choice.options.values() for op in ops}
    for group in worklist.mates:
        mates = [op for op in worklist.operations if op.id in group.operations and op.id not in optional]
        for held in group.hold:
            station, _, name = held.partition(".")
            asked = [
                (op.id, op.settings[name]) for op in mates if op.station == station and name in op.settings
            ]
            setting = shop.station(station).setting(name)
            values = _values(setting, station, worklist.operations, unit)
            if not asked or _agree(setting, asked, values):
                continue
            pairs = (pair for pair in combinations(asked, 2) if not _agree(setting, pair, values))
            says = [f'"{id}" asks for {_worded(setting, want, unit)}' for id, want in next(pairs, asked)]
            yield f"mates hold {held}, but {' and '.join(says)}: no order makes them in one visit"


def _agree(setting: Setting, asked: Iterable[tuple[str, Wanted]], values: Iterable[Reading]) -> bool:
    """Whether one of the values serves all operations (each with what it wants)."""
    return any(all(stands(setting, want, value) for _, want in asked) for value in values)


def _worded(setting: Setting, wanted: Wanted, unit: Unit) -> str:
    """What an operation wants of a setting, for people."""
    if isinstance(wanted, OneOf):
        return " or ".join(_named(setting, value, unit) for value in wanted.any)
    if isinstance(wanted, Between):
        return f"{_named(setting, wanted.min, unit)} to {_named(setting, wanted.max, unit)}"
    return _named(setting, wanted, unit)


def stands(setting: Setting, wanted: Wanted, value: Reading) -> bool:
    """Whether a setting standing at `value` is, within tolerance, what an operation wants."""
    if isinstance(wanted, OneOf):
        return any(setting.same(value, each) for each in wanted.any)
    if isinstance(wanted, Between):
        if isinstance(value, str):
            return False
        return wanted.min - setting.tolerance - SLACK <= value <= wanted.max + setting.tolerance + SLACK
    return setting.same(value, wanted)


def _reaches(setting: Setting, wanted: Wanted, value: Reading) -> bool:
    """Whether the setting may be moved to exactly `value` for an operation that wants `wanted`."""
    if isinstance(wanted, OneOf):
        return any(_equal(value, each) for each in wanted.any)
    if isinstance(wanted, Between):
        return not isinstance(value, str) and wanted.min - SLACK <= value <= wanted.max + SLACK
    return _equal(value, wanted)


def _equal(a: Reading, b: Reading) -> bool:
    if isinstance(a, str) or isinstance(b, str):
        return a == b
    return abs(a - b) <= SLACK


def _values(
    setting: Setting, station: str, operations: Sequence[Operation], unit: Unit
) -> tuple[Reading, ...]:
    """The readings of one setting that can matter, its start among them."""
    wanted = [
        op.settings[setting.id] for op in operations if op.station == station and setting.id in op.settings
    ]
    points: list[Reading] = []
    for want in wanted:
        match want:
            case OneOf():
                points.extend(want.any)
            case Between():
                points.append(want.min)
            case _:
                points.append(want)
    points.extend(stop.value for stop in setting.stops)
    if setting.tolerance > 0:
        points.extend([point - setting.tolerance for point in points if not isinstance(point, str)])
    places = _places(setting, wanted)
    halfway = _halfway(setting)
    if halfway or any(stop.reset > setting.reset for stop in setting.stops):
        points.extend(_between(setting, places, halfway))
    elif any(isinstance(want, Between) for want in wanted):
        points.extend(_between(setting, _crowded(setting, places)))
    if setting.values:
        points = [value for value in setting.values if any(_reaches(setting, want, value) for want in wanted)]
    candidates = [point for point in points if any(_reaches(setting, want, point) for want in wanted)]
    if setting.start is not None:
        candidates.append(setting.start)
    distinct: list[Reading] = []
    for point in sorted(candidates, key=lambda value: (isinstance(value, str), value)):
        if not any(_equal(point, other) for other in distinct):
            distinct.append(point)
    return _on_marks(
        setting,
        wanted,
        _undominated(setting, wanted, distinct) if setting.minutes is None else distinct,
        unit,
    )


def _on_marks(
    setting: Setting, wanted: Sequence[Wanted], values: Sequence[Reading], unit: Unit
) -> tuple[Reading, ...]:
    """The values, each on the coarsest mark where it serves the same operations at the same prices as before.

    The problem stays the same but for the names of its values. Start, stops and what can be counted stay as they are.
    """
    held = [place for place in (setting.start, *(stop.value for stop in setting.stops)) if place is not None]
    settled = list(values)
    for index, value in enumerate(values if not setting.values else ()):
        if isinstance(value, str) or any(setting.same(value, place) for place in held):
            continue
        others = [*settled[:index], *settled[index + 1 :], *held]
        serves = _bearing(setting, wanted, others, value)
        plain = near_marks(value, setting.measures, unit)
        settled[index] = next(
            (each for each in plain if _bearing(setting, wanted, others, each) == serves), value
        )
    return tuple(settled)


def _bearing(
    setting: Setting, wanted: Sequence[Wanted], others: Sequence[Reading], value: float
) -> tuple[object, ...]:
    """All that a value means for an order: what it serves, what is the same as it, and what moves cost."""
    return (
        setting.outside(value),
        [(_reaches(setting, want, value), stands(setting, want, value)) for want in wanted],
        [
            (setting.same(value, each), setting.move_minutes(value, each), setting.move_minutes(each, value))
            for each in others
        ],
        setting.move_minutes(None, value),
    )


def _places(setting: Setting, wanted: Sequence[Wanted]) -> list[float]:
    """The ends of ranges, values asked for, stops and start of a setting, each once, in order."""
    places: list[Reading | None] = [setting.start, *(stop.value for stop in setting.stops)]
    for want in wanted:
        match want:
            case OneOf():
                places.extend(want.any)
            case Between():
                places.extend((want.min, want.max))
            case _:
                places.append(want)
    return sorted({place for place in places if isinstance(place, (int, float)) and isfinite(place)})


def _crowded(setting: Setting, places: Sequence[float]) -> list[float]:
    """Those of the places that have another one within twice the tolerance."""
    near = [
        (low, high) for low, high in pairwise(places) if SLACK < high - low <= 2 * setting.tolerance + SLACK
    ]
    return sorted({place for pair in near for place in pair})


def _halfway(setting: Setting) -> list[float]:
    """Where one stop gives way to the next: a reading within tolerance of both counts as at the nearer."""
    stops = sorted(stop.value for stop in setting.stops if not isinstance(stop.value, str))
    return [(low + high) / 2 for low, high in pairwise(stops) if high - low <= 2 * setting.tolerance + SLACK]


def _between(setting: Setting, places: Sequence[float], halfway: Sequence[float] = ()) -> list[float]:
    """One reading between any two neighbours of these places and what is one or two tolerances from them.

    Only needed where a stop costs more than a free value, two stops share readings, or places are crowded, so that
    lowering a value onto such a place would not be free.
    """
    marks = sorted({*halfway, *(place + k * setting.tolerance for place in places for k in (-1, 0, 1, 2))})
    return [(low + high) / 2 for low, high in pairwise(marks) if high - low > SLACK]


def _undominated(setting: Setting, wanted: Sequence[Wanted], values: list[Reading]) -> list[Reading]:
    """Drop each value that another serves at least as well and as cheaply (settings without a table).

    Where a third value lies within tolerance of either, the two are left alone: what "nothing moves" means
    for a chain of near values depends on the very readings.
    """
    serves = {
        value: (
            frozenset(k for k, want in enumerate(wanted) if _reaches(setting, want, value)),
            frozenset(k for k, want in enumerate(wanted) if stands(setting, want, value)),
        )
        for value in values
    }
    kept = list(values)
    for value in values:
        for other in kept:
            if value == other or (setting.start is not None and _equal(value, setting.start)):
                continue
            if any(
                third not in (value, other) and (setting.same(third, value) or setting.same(third, other))
                for third in kept
            ):
                continue
            if (
                serves[value][0] <= serves[other][0]
                and serves[value][1] <= serves[other][1]
                and setting.move_minutes(None, other) <= setting.move_minutes(None, value)
            ):
                kept.remove(value)
                break
    return kept


def _dial(
    label: str, station: int, setting: Setting, values: tuple[Reading, ...], scale: _Scale, unit: Unit
) -> Dial:
    """The dial of a setting over these readings."""
    start = None
    if setting.start is not None:
        start = next(index for index, value in enumerate(values) if _equal(value, setting.start))
    return Dial(
        label=label,
        station=station,
        move=tuple(
            tuple(
                0 if a == b else None if setting.same(a, b) else scale(setting.move_minutes(a, b))
                for b in values
            )
            for a in values
        ),
        first=tuple(scale(setting.move_minutes(None, value)) for value in values),
        start=start,
        keeps=setting.keeps,
        names=tuple(_named(setting, value, unit) for value in values),
    )


def _named(setting: Setting, value: Reading, unit: Unit) -> str:
    """What a value is called for people."""
    if isinstance(value, str):
        return value
    if setting.measures == "length":
        return format_length(value, unit, decimals=True)
    return format_angle(value, decimals=True) if setting.measures == "angle" else format_number(value)


def dearest(problem: Problem) -> int:
    """More than any order can cost: every lot dearly walked to, with all dials moved for it, and no wish kept."""
    moves = sum(
        max((*dial.first, *(c for row in dial.move for c in row if c)), default=0) for dial in problem.dials
    )
    walk = max((cost for row in problem.walk for cost in row), default=0)
    wishes = sum(wish.price for wish in problem.wishes)
    return sum(lot.work for lot in problem.lots) + len(problem.lots) * (moves + walk) + wishes


def _mask(flags: Iterable[bool]) -> int:
    return sum(1 << index for index, flag in enumerate(flags) if flag)


COUNTABLE = 1 << 60
"""What costs of a whole order may come to, so that every engine adds them up in 64 bits."""


class _Scale:
    """Minutes as whole numbers: collects every cost as an exact decimal, then divides by the common unit.

    Costs are first counted in units of 1e-9 minutes; `settle` divides the whole problem by their greatest
    common divisor, so that the engines see small numbers.
    """

    finest = 10**9

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
