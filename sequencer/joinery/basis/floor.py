"""The shop floor as the derivation sees it: which station does what, and what its settings can reach."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import inf

from sequencer.diagnostics import Fault, as_many, quoted, shortened
from sequencer.joinery.basis.nearness import ANGLE_HAIR
from sequencer.joinery.basis.refusal import Refusal
from sequencer.model.job import Job
from sequencer.model.roles import KNOWN, STANDS_SQUARE, role_of, taken_for
from sequencer.model.shop import Setting, Station
from sequencer.operations import Between, OneOf, Wanted, as_words
from sequencer.quantity import format_angle, format_length, scale_marks

TOLD_BY: Mapping[tuple[str, str], str] = {
    ("mortiser", "fence_height"): "slips.height of a joint tells how high its slots lie",
    (
        "mortiser",
        "slot_length",
    ): "slots are as long as slips.width of their joint, those of the slack half by the shop's slack longer",
}
"""What a job or shop file tells by which settings come out otherwise that are not chosen among listed values."""


def even(value: float) -> float:
    """A computed length or angle rounded to a millionth, so that equal sizes are equal settings."""
    return round(value, 6) + 0.0


class Floor:
    """The stations of a job's shop by the work they do, and words in the job's unit."""

    def __init__(self, job: Job) -> None:
        self.job = job
        self.limits = job.shop.joinery
        self._stations: dict[str, Station] = {}
        for station in job.shop.stations:
            self._stations.setdefault(role_of(station.role, station.id), station)

    def has(self, role: str) -> bool:
        """Whether the shop has a station of this role."""
        return role in self._stations

    def station(self, role: str) -> str:
        """The id of the station of this role; Refusal where there is none."""
        if role not in self._stations:
            raise self.without(role)
        return self._stations[role].id

    def without(self, role: str, needed_by: Sequence[str] = ()) -> Refusal:
        """The refusal where there is no station of this role; `needed_by`: the names of what needs one."""
        stations = (
            f'"{shortened(each.id)}"' + (f' (role "{shortened(each.role)}")' if each.role else "")
            for each in self.job.shop.stations
        )
        wanting = f", which {quoted(needed_by)} cannot be made without" if len(needed_by) > 1 else ""
        accepted = f'a [[station]] with id or role "{role}" in the shop file'
        if role == "mill":
            accepted += ', or stock = "planed", "sheet" or "sized" for parts that are bought so'
        return Refusal(f"the shop has no {role}{wanting}; its stations are {as_many(stations)}", accepted)

    def setting(self, role: str, setting: str) -> Setting | None:
        """A setting of the station of this role, None where it has none of that id."""
        station = self._stations.get(role)
        return next((s for s in station.settings if s.id == setting), None) if station else None

    def settings(self, role: str, wanted: Mapping[str, Wanted | None]) -> dict[str, Wanted]:
        """What is wanted of the known settings; Refusal for what one of them cannot reach, an angle that a station
        without such a setting does not stand at, too. What else is asked of settings that the station has not stays
        until all operations are made (`sequencer.joinery.besides`).
        """
        self.station(role)
        found: dict[str, Wanted] = {}
        for name, value in wanted.items():
            setting = self.setting(role, name)
            if value is None:
                continue
            if setting is not None:
                found[name] = self._reached(role, setting, value)
            elif (role, name) in STANDS_SQUARE:
                self._stands_square(role, name, value)
            elif name in KNOWN[role]:
                found[name] = even(value) if isinstance(value, float) else value
        return found

    def _stands_square(self, role: str, name: str, value: Wanted) -> None:
        """Raises Refusal where an angle is wanted that a machine without such a setting does not stand at."""
        stands, station = STANDS_SQUARE[role, name], self._stations[role]
        if not isinstance(value, (Between, OneOf, str)) and abs(value - stands) > ANGLE_HAIR:
            other = taken_for(station, name)
            raise Refusal(
                f"the {station.name or station.id} stands at {as_words(name)} {format_angle(stands)} and cannot be set "
                f'to {format_angle(value)}: "{station.id}" has no setting "{name}" in the shop file',
                f'a [[station.setting]] with id "{name}" for "{station.id}"'
                + (f' (its "{other}" is none that is known: if it is that, call it so)' if other else ""),
                lacks=True,
            )

    def _reached(self, role: str, setting: Setting, value: Wanted) -> Wanted:
        if isinstance(value, Between):
            low = value.min if setting.least is None else max(value.min, setting.least)
            high = value.max if setting.greatest is None else min(value.max, setting.greatest)
            if low > high:
                raise self.beyond(role, setting, value.min)
            if setting.values and not any(low <= each <= high for each in self.values(role, setting.id)):
                raise self._none_within(role, setting, low, high)
            return Between(min=even(low), max=even(high))
        if isinstance(value, (OneOf, str)):
            return value  # chosen among the setting's values
        if setting.outside(value):
            raise self.beyond(role, setting, value)
        if setting.values:
            listed = setting.listed(value)
            if listed is None:
                raise self.beyond(role, setting, value)
            return setting.values[listed]
        return even(value)

    def beyond(self, role: str, setting: Setting, value: float) -> Refusal:
        """The refusal of a value that a setting cannot reach."""
        named = self._named(role)
        barred = f"none of the {named}'s values" if setting.values else f"beyond the {named}"
        told_by = (
            f" ({TOLD_BY[role, setting.id]})" if setting.values and (role, setting.id) in TOLD_BY else ""
        )
        return Refusal(
            f"{setting.called} {self.worded(setting, value)} is {barred}",
            f"{setting.accepted(self.job.unit)}{told_by}",
        )

    def _none_within(self, role: str, setting: Setting, low: float, high: float) -> Refusal:
        """The refusal of a range in which a setting has no value."""
        return Refusal(
            f"none of the {self._named(role)}'s values of {setting.called} lies from {self.worded(setting, low)} to "
            f"{self.worded(setting, high)}; they are {setting.accepted(self.job.unit)}",
            f'a value in that range among the values of "{setting.id}" in the shop file',
        )

    def _named(self, role: str) -> str:
        """What people call the station of this role."""
        station = self._stations[role]
        return station.name or station.id

    def worded(self, setting: Setting, value: float) -> str:
        """A value of a setting in words."""
        if setting.measures == "length":
            return self.length(value)
        return format_angle(value) if setting.measures == "angle" else f"{value:g}"

    def is_stop(self, role: str, setting: str, value: float) -> bool:
        """Whether a setting reaches this value at a positive stop (or by a fixed list of values)."""
        found = self.setting(role, setting)
        if found is None:
            return False
        return any(found.same(stop.value, value) for stop in found.stops) or (
            bool(found.values) and found.listed(value) is not None
        )

    def near_stop(self, role: str, setting: str, value: float) -> float | None:
        """The positive stop within the shop's caution distance of a value that is no stop itself."""
        found = self.setting(role, setting)
        if found is None or self.is_stop(role, setting, value):
            return None
        near = [
            float(stop.value)
            for stop in found.stops
            if not isinstance(stop.value, str) and abs(float(stop.value) - value) <= self.limits.near_stop
        ]
        return min(near, key=lambda stop: abs(stop - value)) if near else None

    def greatest(self, role: str, setting: str, otherwise: float) -> float:
        """The greatest value of a setting, and no more than `otherwise`."""
        found = self.setting(role, setting)
        limit = found.greatest if found is not None else None
        return min(
            (otherwise if limit is None else limit), otherwise, max(self.values(role, setting), default=inf)
        )

    def values(self, role: str, setting: str) -> tuple[float, ...]:
        """All values of a setting where they can be counted, mm or degrees; none where it can be set to any."""
        found = self.setting(role, setting)
        return tuple(float(v) for v in found.values if not isinstance(v, str)) if found is not None else ()

    @property
    def cutters(self) -> list[float]:
        """The mortiser's cutters, mm: those it lists, else those of the shop's joinery."""
        return list(self.values("mortiser", "cutter") or self.limits.cutters)

    @property
    def grid(self) -> float:
        """What places that are worked out are rounded to, mm: half a millimetre, or a 32nd of an inch."""
        return 0.5 if self.job.unit == "mm" else 25.4 / 32

    @property
    def mark(self) -> float:
        """What a size that is worked out is told to, mm, where it leaves room: a tenth, or a 64th of an inch."""
        return scale_marks("length", self.job.unit)[0]

    def length(self, mm: float) -> str:
        """A length in words, in the job's unit."""
        return format_length(mm, self.job.unit, decimals=True)

    def lengths(self, several: Sequence[float]) -> str:
        """Lengths in words, with their unit once: "100, 200 and 300 mm"."""
        *most, last = several
        told = [format_length(mm, self.job.unit, with_unit=False, decimals=True) for mm in most]
        return f"{', '.join(told)} and {self.length(last)}" if told else self.length(last)

    def fine(self, mm: float) -> str:
        """A length in words, to a hundredth of a mm or a thousandth of an inch: where a tenth of a mm decides."""
        return f"{round(mm, 2):g} mm" if self.job.unit == "mm" else self.length(mm)

    def fault(self, kind: str, id: str, refusal: Refusal) -> Fault:
        """A refusal as a fault of a "part" or "joint" of the job."""
        return self.job.fault(kind, id, refusal.message, refusal.accepted, refusal.key)
