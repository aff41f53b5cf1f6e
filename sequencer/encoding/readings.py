"""The few places of a setting that can matter for some operations.

A place is a reading (`candidates`); of a setting that is measured at another one (the stop clamped to a gauge) the
reading there goes with it: 400 mm at 0° and 400 mm at 45° are two places. Places that serve no operation another one
does not serve at least as cheaply are dropped. What is left is put on a mark that can be read where that changes
nothing, so that plan, cards and reasons tell one value.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from sequencer.encoding.candidates import candidates
from sequencer.model.shop import SLACK, Setting, Station
from sequencer.operations import Between, OneOf, Operation, Wanted, the_one
from sequencer.planfile import Reading
from sequencer.quantity import Unit, format_angle, format_length, format_number, near_marks
from sequencer.solve.relation import bits


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
        self.in_words = f"{station.name or station.id} {setting.called}"

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

    def idle(self, old: Stand, new: Stand) -> bool:
        """Whether it would be set to what it reads already for work that does not ask at which reading of the other
        setting: it stays as it is, and so does what it is good for.
        """
        return new.at is None and self.setting.same(old.reading, new.reading)

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

    def places(self, operations: Iterable[Operation], unit: Unit) -> tuple[Stand, ...]:
        """The places that can matter to these operations, the start among them, on marks of the unit if they can be."""
        asked = [each for each in map(self.asked, operations) if each is not None]
        readings = candidates(self.setting, [each.wanted for each in asked])
        levels = dict.fromkeys(each.at for each in asked)
        found = [
            place
            for at in levels
            for place in (Stand(reading, at) for reading in readings)
            if any(self.reaches(each, place) for each in asked)
        ]
        if self.start is not None:
            found.append(self.start)
        distinct: list[Stand] = []
        for place in sorted(found, key=_in_order):
            if not distinct or not alike(place, distinct[-1]):
                distinct.append(place)
        kept = self._undominated(asked, distinct) if self.setting.minutes is None else distinct
        return self._on_marks(asked, list(kept), unit)

    def _undominated(self, asked: Sequence[Asked], places: Sequence[Stand]) -> Iterator[Stand]:
        """Drop each place that another serves at least as well and as cheaply (settings without a table).

        The other one must stand within tolerance of no third place that the one dropped is not within tolerance of,
        too (or idle to move to or from): then every move to and from the one dropped is a move to and from the other.
        The start is kept.
        """
        reached = [mask(self.reaches(each, place) for place in places) for each in asked]
        stayed = [mask(self.stands(each, place) for place in places) for each in asked]
        near = [mask(self._bound(place, other) for other in places) for place in places]
        price = [self.move_minutes(None, place) for place in places]
        left = everything = (1 << len(places)) - 1
        before = 0
        while left != before:  # what is dropped may have been all that kept two others apart
            before = left
            for p, place in enumerate(places):
                if not left >> p & 1 or (self.start is not None and alike(place, self.start)):
                    continue
                others = left & ~(1 << p)
                for served in (*reached, *stayed):
                    others &= served if served >> p & 1 else everything
                for o in bits(others):
                    if price[o] <= price[p] and not near[o] & left & ~near[p] & ~(1 << o):
                        left &= ~(1 << p)
                        break
        return (place for p, place in enumerate(places) if left >> p & 1)

    def _bound(self, a: Stand, b: Stand) -> bool:
        """Whether there is no move between the two, one way at least."""
        return self.same(a, b) or self.idle(a, b) or self.idle(b, a)

    def _on_marks(self, asked: Sequence[Asked], places: list[Stand], unit: Unit) -> tuple[Stand, ...]:
        """The places, each on the coarsest mark where it serves the same operations at the same price as before, and
        where nothing else is within tolerance that was not. Start, stops and readings with a table stay as they are.
        """
        setting = self.setting
        if setting.values or setting.minutes is not None:
            return tuple(places)
        held = [each for each in (setting.start, *(stop.value for stop in setting.stops)) if each is not None]

        def bearing(place: Stand) -> tuple[object, ...]:
            return (
                isinstance(place.reading, str) or setting.outside(place.reading),
                [(self.reaches(each, place), self.stands(each, place)) for each in asked],
                [self._bound(place, other) for other in places if other is not now],
                [setting.same(place.reading, each) for each in held],
                self.move_minutes(None, place),
            )

        for number, now in enumerate(places):
            if isinstance(now.reading, str) or any(setting.same(now.reading, each) for each in held):
                continue
            before = bearing(now)
            for reading in near_marks(now.reading, setting.measures, unit):
                if bearing(Stand(reading, now.at)) == before:
                    places[number] = Stand(reading, now.at)
                    break
        return tuple(places)

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
    """Places that are alike lie beside each other."""
    return (
        place.at is not None,
        isinstance(place.at, str),
        place.at,
        isinstance(place.reading, str),
        place.reading,
    )


def mask(flags: Iterable[bool]) -> int:
    """The bits of those that hold."""
    return sum(1 << index for index, flag in enumerate(flags) if flag)


def _named(setting: Setting, value: Reading, unit: Unit) -> str:
    """What a value is called for people."""
    if isinstance(value, str):
        return value
    if setting.measures == "length":
        return format_length(value, setting.told_in(unit), decimals=True)
    return format_angle(value, decimals=True) if setting.measures == "angle" else format_number(value)
