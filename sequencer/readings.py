"""The few places of a setting that can matter for some operations.

A place is a reading; of a setting that is measured at another one (the stop clamped to a gauge) the reading there goes
with it: 400 mm at 0° and 400 mm at 45° are two places. Wherever a reading within ranges is free to choose, it can be
lowered until it meets the low end of a range, a value
asked for, a stop, or one of these less the tolerance: the set of operations it serves does not shrink on
the way, and its price does not rise (a stop that costs more than a free value is seen to apart). Nor does it come
within tolerance of another value the setting may stand at, from which it could no longer be moved, unless two of all
these places are within twice the tolerance of each other (`_crowded`): there more readings are tried. Values that serve
no operation another value does not serve at least as cheaply are dropped.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import isfinite

from sequencer.model.shop import SLACK, Setting, Station
from sequencer.operations import Between, OneOf, Operation, Wanted, the_one
from sequencer.quantity import Unit, format_angle, format_length, format_number

Reading = float | str


@dataclass(frozen=True)
class Stand:
    """Where a setting stands: its reading and, where it is measured at another setting, the reading of that one which
    was asked for when it was set; None where none was.
    """

    reading: Reading
    at: Reading | None = None


@dataclass(frozen=True)
class Asked:
    """What an operation asks of a setting, and at which reading of the one it is measured at; None: at whatever one."""

    wanted: Wanted
    at: Reading | None = None


class Adjusted:
    """A setting of a station as operations ask for it, together with the one it is measured at."""

    def __init__(self, station: Station, setting: Setting) -> None:
        self.station, self.setting, self.base = station.id, setting, station.base(setting)

    @property
    def label(self) -> str:
        """What it is called among all settings of the shop."""
        return f"{self.station}.{self.setting.id}"

    @property
    def start(self) -> Stand | None:
        """Where it stands when the work begins."""
        start = self.setting.start
        return None if start is None else Stand(start, self.setting.start_at if self.base else None)

    def asked(self, operation: Operation) -> Asked | None:
        """What an operation asks of it; None where it leaves it alone."""
        if operation.station != self.station or self.setting.id not in operation.settings:
            return None
        at = the_one(operation.settings.get(self.base.id)) if self.base else None
        return Asked(operation.settings[self.setting.id], at)

    def same(self, a: Stand, b: Stand) -> bool:
        """Whether the two are one place: nothing moves between them."""
        return self.setting.same(a.reading, b.reading) and self._level(a.at, b.at)

    def stands(self, asked: Asked, place: Stand) -> bool:
        """Whether the setting standing there is, within tolerance, what an operation wants."""
        return _stands(self.setting, asked.wanted, place.reading) and (
            asked.at is None or self._level(asked.at, place.at)
        )

    def reaches(self, asked: Asked, place: Stand) -> bool:
        """Whether the setting may be moved to this very place for an operation."""
        return _equal_levels(asked.at, place.at) and _reaches(self.setting, asked.wanted, place.reading)

    def move_minutes(self, old: Stand | None, new: Stand) -> float:
        """Minutes to bring the setting from `old` to `new`. What it read at another reading of the one it is measured
        at it reads no longer: it is set as if no value stood.
        """
        read = old is not None and self._level(old.at, new.at)
        return self.setting.move_minutes(old.reading if old and read else None, new.reading)

    def _level(self, a: Reading | None, b: Reading | None) -> bool:
        if a is None or b is None or self.base is None:
            return a is b
        return self.base.same(a, b)

    def places(self, operations: Iterable[Operation]) -> tuple[Stand, ...]:
        """The places that can matter to these operations, the start among them."""
        asked = [each for each in map(self.asked, operations) if each is not None]
        points = _points(self.setting, [each.wanted for each in asked])
        levels = dict.fromkeys(each.at for each in asked)
        candidates = [
            place
            for at in levels
            for place in (Stand(point, at) for point in points)
            if any(self.reaches(each, place) for each in asked)
        ]
        if self.start is not None:
            candidates.append(self.start)
        distinct: list[Stand] = []
        for place in sorted(candidates, key=_in_order):
            if not any(alike(place, other) for other in distinct):
                distinct.append(place)
        return tuple(distinct if self.setting.minutes is not None else self._undominated(asked, distinct))

    def _undominated(self, asked: Sequence[Asked], places: list[Stand]) -> list[Stand]:
        """Drop each place that another serves at least as well and as cheaply (settings without a table).

        Where a third place lies within tolerance of either, the two are left alone: what "nothing moves" means
        for a chain of near values depends on the very readings.
        """
        serves = {
            place: (
                frozenset(k for k, each in enumerate(asked) if self.reaches(each, place)),
                frozenset(k for k, each in enumerate(asked) if self.stands(each, place)),
            )
            for place in places
        }
        kept = list(places)
        for place in places:
            for other in kept:
                if other == place or (self.start is not None and alike(place, self.start)):
                    continue
                if any(
                    third not in (place, other) and (self.same(third, place) or self.same(third, other))
                    for third in kept
                ):
                    continue
                if (
                    serves[place][0] <= serves[other][0]
                    and serves[place][1] <= serves[other][1]
                    and self.move_minutes(None, other) <= self.move_minutes(None, place)
                ):
                    kept.remove(place)
                    break
        return kept

    def named(self, place: Stand, unit: Unit, told: bool) -> str:
        """What a place is called for people; `told`: with the reading it is measured at."""
        name = _named(self.setting, place.reading, unit)
        return (
            f"{name} at {_named(self.base, place.at, unit)}"
            if told and self.base and place.at is not None
            else name
        )

    def worded(self, asked: Asked, unit: Unit) -> str:
        """What an operation wants of the setting, for people."""
        wanted = asked.wanted
        if isinstance(wanted, OneOf):
            says = " or ".join(_named(self.setting, value, unit) for value in wanted.any)
        elif isinstance(wanted, Between):
            says = f"{_named(self.setting, wanted.min, unit)} to {_named(self.setting, wanted.max, unit)}"
        else:
            says = _named(self.setting, wanted, unit)
        if self.base is None or asked.at is None:
            return says
        return f"{says} at {self.base.id} {_named(self.base, asked.at, unit)}"


def _stands(setting: Setting, wanted: Wanted, value: Reading) -> bool:
    """Whether a reading is, within tolerance, what an operation wants."""
    if isinstance(wanted, OneOf):
        return any(setting.same(value, each) for each in wanted.any)
    if isinstance(wanted, Between):
        if isinstance(value, str):
            return False
        return wanted.min - setting.tolerance - SLACK <= value <= wanted.max + setting.tolerance + SLACK
    return setting.same(value, wanted)


def _reaches(setting: Setting, wanted: Wanted, value: Reading) -> bool:
    """Whether the setting may be moved to exactly this reading for an operation that wants `wanted`."""
    if isinstance(wanted, OneOf):
        return any(_equal(value, each) for each in wanted.any)
    if isinstance(wanted, Between):
        return not isinstance(value, str) and wanted.min - SLACK <= value <= wanted.max + SLACK
    return _equal(value, wanted)


def _equal(a: Reading, b: Reading) -> bool:
    if isinstance(a, str) or isinstance(b, str):
        return a == b
    return abs(a - b) <= SLACK


def alike(a: Stand, b: Stand) -> bool:
    """Whether the two are one place but for the dust of binary fractions."""
    return _equal(a.reading, b.reading) and _equal_levels(a.at, b.at)


def _equal_levels(a: Reading | None, b: Reading | None) -> bool:
    return a is b if a is None or b is None else _equal(a, b)


def _in_order(place: Stand) -> tuple[object, ...]:
    return (
        isinstance(place.reading, str),
        place.reading,
        place.at is not None,
        isinstance(place.at, str),
        place.at,
    )


def _points(setting: Setting, wanted: Sequence[Wanted]) -> list[Reading]:
    """The readings that can matter, whatever the setting is measured at."""
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
    return list(setting.values) or points


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


def _named(setting: Setting, value: Reading, unit: Unit) -> str:
    """What a value is called for people."""
    if isinstance(value, str):
        return value
    if setting.measures == "length":
        return format_length(value, unit, decimals=True)
    return format_angle(value, decimals=True) if setting.measures == "angle" else format_number(value)
