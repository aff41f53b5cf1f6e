"""The shop: its stations, the settings that can be moved there, and what moving them costs.

Lengths in mm, angles in degrees, times in minutes, whatever the file was written in.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Annotated, Any, Literal, get_args

from pydantic import (
    BeforeValidator,
    ConfigDict,
    Field,
    ModelWrapValidatorHandler,
    PrivateAttr,
    ValidationError,
    ValidationInfo,
    model_validator,
)

from sequencer.model.fields import (
    Amount,
    Complaint,
    FileNames,
    Name,
    Names,
    SettingValue,
    StationName,
    Switch,
    Text,
    read_value,
    refuse,
)
from sequencer.model.parts import Joinery
from sequencer.operations import Value, as_words
from sequencer.quantity import (
    Measure,
    Minutes,
    QuantityError,
    Unit,
    as_written,
    counted,
    format_length,
    format_readable,
    parse_length,
)

SLACK = 1e-9
"""mm or degrees: what binary fractions may add to a tolerance; readings closer than this are one number."""

ANGLE_WORDS = ("angle", "tilt", "gauge", "bevel", "mitre")
LENGTH_WORDS = ("fence", "height", "depth", "length", "width", "stop", "offset")

_ONE_EACH, _BOTH_EACH = "one for each value", "one row and one column for each value"


class Stop(Value):
    """A positive stop: `value` is reached in `reset` minutes."""

    value: SettingValue
    reset: Minutes


def _rows(value: Any, info: ValidationInfo) -> Any:
    """A change-over table that is a list of lists, whatever these hold."""
    size, dots = _shown(info)
    rows = [_in_brackets([int(k != n) for n in range(size)], dots) for k in range(size)]
    accepted = _in_brackets(rows, dots)
    wanted = f"must be a list of rows, {_BOTH_EACH}, not"
    if not isinstance(value, (list, tuple)):
        raise QuantityError(f"{wanted} {as_written(value)}", accepted)
    for number, row in enumerate(value, 1):
        if not isinstance(row, (list, tuple)):
            raise QuantityError(f"{wanted} with {as_written(row)} as row {number}", accepted)
    return value


def _row(value: Any, info: ValidationInfo) -> Any:
    """The minutes of `first`, a list, whatever it holds."""
    if isinstance(value, (list, tuple)):
        return value
    size, dots = _shown(info)
    accepted = _in_brackets(range(1, size + 1), dots)
    raise QuantityError(f"must be a list of minutes, {_ONE_EACH}, not {as_written(value)}", accepted)


def _shown(info: ValidationInfo) -> tuple[int, str]:
    """How many values an example is written for, all that there are if they are few, and what stands for the others."""
    count = len(info.data.get("values", ()))
    return (count, "") if 0 < count <= 3 else (2, ", ...")


def _in_brackets(entries: Iterable[object], dots: str) -> str:
    return f"[{', '.join(map(str, entries))}{dots}]"


class Range(Value):
    """The least and the greatest value a setting can reach; None where there is no limit."""

    min: Amount | None = None
    max: Amount | None = None


_EXAMPLES = {"length": "[18, ...]", "angle": "[45, ...]", "number": "[1, ...]", "name": '["flat", ...]'}


def _values(value: Any, info: ValidationInfo) -> Any:
    if isinstance(value, (list, tuple)):
        return value
    raise QuantityError(
        f"must be a list, not {as_written(value)}",
        _EXAMPLES[(info.context or {}).get("measures") or "number"],
    )


class Setting(Value):
    """One thing adjusted at a station; it keeps its value until it is moved.

    Validation reads lengths in the context's "unit" (mm without one). `measures` is inferred from the
    rest where it is not given.
    """

    id: Name
    name: Text = ""
    measures: Measure = "number"
    start: SettingValue | None = None
    """The value it stands at when the work begins; None when unknown: then the first value used pays too."""
    reset: Minutes = 0.0
    """Minutes to reach a value that is not a stop."""
    stops: tuple[Stop, ...] = ()
    limits: Range = Range()
    tolerance: Amount = 0.0
    """Two values no further apart than this are one setting."""
    values: Annotated[tuple[SettingValue, ...], BeforeValidator(_values)] = ()
    """All values there are, where they can be counted."""
    minutes: Annotated[tuple[tuple[Minutes, ...], ...], BeforeValidator(_rows)] | None = None
    """The change-over table: row from, column to, in the order of `values`."""
    first: Annotated[tuple[Minutes, ...], BeforeValidator(_row)] | None = None
    """Minutes for each of `values` when no value stood before; without it, 0 each. Only beside `minutes`."""
    keeps: Switch = True
    """Whether the value outlasts a visit to the station."""
    measured_at: Text = ""
    """The setting of the same station at one reading of which alone a value of this one is good; empty for none.

    A length stop on a pivoting gauge stands at another length as soon as the gauge swings, and at the old one again
    when it swings back.
    """
    _start_at: float | str | None = PrivateAttr(default=None)
    _marked: Unit | None = PrivateAttr(default=None)
    """The unit of the file it was read from, which lengths that are listed (cutters) are marked in."""

    @model_validator(mode="wrap")
    @classmethod
    def _read(cls, data: Any, handler: ModelWrapValidatorHandler[Setting], info: ValidationInfo) -> Setting:
        if not isinstance(data, Mapping):
            return handler(data)
        told = inferred(data) or unhinted(data.get("id"))
        measures = data.get("measures", told)
        if info.context is not None:  # what the readings inside are read as
            info.context["measures"] = measures if measures in get_args(Measure) else told
        try:
            setting = handler({**data, "measures": measures})
        except ValidationError as error:
            wrong = {each["loc"][:1] for each in error.errors()}
            alone = {key: data[key] for key in ("tolerance", "limits") if key in data and (key,) not in wrong}
            refuse(handler({"id": "faulty", **alone})._wrong_alone(), besides=error)
            raise
        setting._marked = (info.context or {}).get("unit")
        refuse(setting._complaints("reset" in data, (info.context or {}).get("unit", "mm")))
        if setting.start is not None and setting.values:
            return setting.model_copy(update={"start": setting.values[setting.listed(setting.start) or 0]})
        return setting

    @property
    def start_at(self) -> float | str | None:
        """The reading of `measured_at` at which `start` is good; None where nobody knows."""
        return self._start_at

    def standing(self, start: float | str | None, at: float | str | None = None) -> Setting:
        """The setting as it stands at `start`, good at this reading of `measured_at`."""
        found = self.model_copy(update={"start": start})
        found._start_at = at
        return found

    def same(self, a: float | str, b: float | str) -> bool:
        """Whether the two values are one setting: nothing moves between them."""
        if isinstance(a, str) or isinstance(b, str):
            return a == b
        return abs(a - b) <= max(0.0, self.tolerance) + SLACK  # a negative tolerance is refused for itself

    def listed(self, value: float | str) -> int | None:
        """The position in `values` of the nearest value within tolerance; None where there is none."""
        near = [k for k, other in enumerate(self.values) if self.same(value, other)]
        if isinstance(value, str) or len(near) < 2:
            return near[0] if near else None
        return min(near, key=lambda k: abs(float(self.values[k]) - value))

    def move_minutes(self, old: float | str | None, new: float | str) -> float:
        """Minutes to bring the setting from `old` (None: no value stood before) to `new`.

        0 within tolerance; else by the table where there is one; else the `reset` of the stop reached (of the nearest,
        of two as near the cheaper), else the setting's. Raises ValueError for a value the table does not know.
        """
        if old is not None and self.same(old, new):
            return 0.0
        if self.minutes is not None:
            to = self.listed(new)
            start = None if old is None else self.listed(old)
            if to is None or (old is not None and start is None):
                raise ValueError(f"{self.id}: no value {old if to is not None else new}")
            if start is None:
                return self.first[to] if self.first is not None else 0.0
            return self.minutes[start][to]
        reached = [stop for stop in self.stops if self.same(stop.value, new)]
        if not reached:
            return self.reset
        nearest = min(abs(float(stop.value) - new) if not isinstance(new, str) else 0.0 for stop in reached)
        return min(
            stop.reset
            for stop in reached
            if isinstance(new, str) or abs(float(stop.value) - new) <= nearest + SLACK
        )

    def in_mm(self, reading: SettingValue, unit: Unit) -> SettingValue:
        """A reading as a plan tells it, lengths in the job's unit, as the shop keeps it: lengths in mm."""
        if isinstance(reading, str) or self.measures != "length":
            return reading
        return parse_length(reading, unit)

    def outside(self, value: float) -> bool:
        """Whether the limits bar this value."""
        low, high = self.least, self.greatest
        return (low is not None and value < low - SLACK) or (high is not None and value > high + SLACK)

    @property
    def least(self) -> float | None:
        """The least value: the limit, or 0 for a length without one."""
        return 0.0 if self.limits.min is None and self.measures == "length" else self.limits.min

    @property
    def greatest(self) -> float | None:
        """The greatest value, or None where there is no limit."""
        return self.limits.max

    def accepted(self, unit: Unit) -> str:
        """What the setting can be asked for, in words that can be asked for as they stand."""
        if self.values:
            return ", ".join(self._readable(value, unit) for value in self.values)
        return self._within_limits(unit)

    def _within_limits(self, unit: Unit) -> str:
        kind = {
            "length": "a length",
            "angle": "an angle in degrees",
            "number": "a number",
            "name": "a name",
        }[self.measures]
        low = None if self.least is None else self._readable(self.least, unit, "at least")
        high = None if self.greatest is None else self._readable(self.greatest, unit, "at most")
        if low is not None and high is not None:
            return f"{kind} from {low} to {high}"
        if low is not None:
            return f"{kind} of at least {low}"
        return kind if high is None else f"{kind} of at most {high}"

    def _readable(
        self, value: float | str, unit: Unit, within: Literal["at most", "at least"] | None = None
    ) -> str:
        if isinstance(value, str) or self.measures != "length":
            return self.worded(value, unit)
        return format_readable(value, self.told_in(unit), within)

    @property
    def called(self) -> str:
        """Its name for people."""
        return as_words(self.name or self.id)

    def worded(self, value: float | str, unit: Unit) -> str:
        """A value of this setting in words: a length in the unit, or as it is marked, a name in quotation marks."""
        if isinstance(value, str):
            return as_written(value)
        if self.measures == "length":
            return format_length(value, self.told_in(unit), decimals=True)
        return f"{value:.10g}"

    def told_in(self, unit: Unit) -> Unit:
        """The unit its lengths are told in: the job's, or that of the marks where its values are listed."""
        return self._marked or unit if self.values else unit

    def _complaints(self, reset_given: bool, unit: Unit) -> Iterator[Complaint]:
        """What is wrong with the setting although each of its keys is sound."""
        if not reset_given and self.minutes is None:
            yield Complaint(
                ("reset",),
                "reset is missing",
                "the minutes it takes to move the setting, or a change-over table (values and minutes)",
            )
        yield from self._wrong_table(unit)
        if self.measures == "name":
            if self.limits != Range():
                yield Complaint(("limits",), "limits are for numbers, and this setting's values are names")
            if self.tolerance != 0:
                yield Complaint(
                    ("tolerance",), "a tolerance is for numbers, and this setting's values are names"
                )
        else:
            yield from self._wrong_numbers(unit)
        if self.values and self.start is not None and self.listed(self.start) is None:
            yield Complaint(("start",), "start is none of the setting's values", self.accepted(unit))
        for k, stop in enumerate(self.stops):
            if self.values and self.listed(stop.value) is None:
                message = f"stop {k + 1} is none of the setting's values"
                yield Complaint(("stops", k, "value"), message, self.accepted(unit))

    def _wrong_table(self, unit: Unit) -> Iterator[Complaint]:
        count = len(self.values)
        for k, value in enumerate(self.values):
            for other in (other for other in self.values[:k] if self.same(value, other)):
                shown = self._readable(value, unit)
                if value == other:
                    yield Complaint(("values", k), f"{shown} is listed twice", "each value once")
                else:
                    yield Complaint(
                        ("values", k),
                        f"{shown} and {self._readable(other, unit)} before it are one setting, by its tolerance",
                        "values farther apart than the tolerance, or a smaller tolerance",
                    )
                break
        if self.minutes is None:
            if self.first is not None:
                yield Complaint(
                    ("first",), "first goes with a change-over table, and there is no minutes table"
                )
            return
        if not self.values:
            yield Complaint(("minutes",), "values is missing", "the names of the table's rows and columns")
            return
        if len(self.minutes) != count:
            yield Complaint(
                ("minutes",),
                f"minutes has {counted(len(self.minutes), 'row')} for {counted(count, 'value')}",
                f"{counted(count, 'row')} of {count}, {_BOTH_EACH}",
            )
        for k, row in enumerate(self.minutes):
            if len(row) != count:
                message = f"row {k + 1} of minutes has {len(row)} of {count} columns"
                yield Complaint(("minutes", k), message, "one column for each value")
        if self.first is not None and len(self.first) != count:
            message = f"first has {counted(len(self.first), 'number')} for {counted(count, 'value')}"
            yield Complaint(("first",), message, _ONE_EACH)

    def _wrong_alone(self) -> Iterator[Complaint]:
        """What is wrong with the tolerance and the limits, whatever else the table says."""
        if self.tolerance < 0:
            yield Complaint(("tolerance",), "tolerance must be 0 or more")
        if self._upside_down():
            yield Complaint(("limits",), "must not have its min above its max")

    def _upside_down(self) -> bool:
        low, high = self.limits.min, self.limits.max
        return low is not None and high is not None and low > high

    def _wrong_numbers(self, unit: Unit) -> Iterator[Complaint]:
        yield from self._wrong_alone()
        if not self._upside_down():
            yield from self._beyond_limits(unit)
        for k, stop in enumerate(self.stops):
            if any(self.same(stop.value, other.value) for other in self.stops[:k]):
                yield Complaint(
                    ("stops", k),
                    f"stop {k + 1} is no further from another stop than the tolerance",
                    "stops further apart, or a smaller tolerance",
                )

    def _beyond_limits(self, unit: Unit) -> Iterator[Complaint]:
        places: list[tuple[tuple[str | int, ...], float | str]] = [
            (("stops", k, "value"), stop.value) for k, stop in enumerate(self.stops)
        ]
        places += [(("values", k), value) for k, value in enumerate(self.values)]
        places += [] if self.start is None else [(("start",), self.start)]
        for place, value in places:
            if not isinstance(value, str) and self.outside(value):
                if self.limits == Range():
                    yield Complaint(
                        place, "must be 0 or more", "a negative limits.min where it can go below 0"
                    )
                else:
                    yield Complaint(place, "must be within the setting's limits", self._within_limits(unit))


def inferred(data: Mapping[str, Any]) -> Measure | None:
    """What a setting measures, told from its table; None where nothing tells."""
    stops, values = data.get("stops"), data.get("values")
    written = [data["start"]] if "start" in data else []
    written += values if isinstance(values, (list, tuple)) else []
    if isinstance(stops, (list, tuple)):
        written += [stop["value"] for stop in stops if isinstance(stop, Mapping) and "value" in stop]
    hint = hinted(data.get("id"))
    measured = hint is not None and any(isinstance(value, (int, float)) for value in written)
    if not measured and any(isinstance(value, str) and not reads_as(value, hint) for value in written):
        return "name"  # beside numbers a text is a slip of the pen: the others are not wrong for it
    if hint is None and (written or "limits" in data or "tolerance" in data):
        return unhinted(data.get("id"))
    return hint


def hinted(id: Any) -> Measure | None:
    """What a setting of this id measures by the trade's words: fence_angle an angle, fence_height a length.

    >>> hinted("fence_angle"), hinted("fence_height"), hinted("bit")
    ('angle', 'length', None)
    """
    if not isinstance(id, str):
        return None
    if any(word in id.lower() for word in ANGLE_WORDS):
        return "angle"
    return "length" if any(word in id.lower() for word in LENGTH_WORDS) else None


def unhinted(id: Any) -> Measure:
    """What a setting measures that is no name, where its id does not tell either: of a "bit" the width, a length.

    >>> unhinted("bit"), unhinted("speed")
    ('length', 'number')
    """
    return "length" if id == "bit" else "number"


def reads_as(text: str, measure: Measure | None) -> bool:
    """Whether a text is a length or an angle, where that is measured."""
    try:
        return measure in ("length", "angle") and isinstance(read_value(text, measure, "mm"), float)
    except QuantityError:
        return False


class Station(Value):
    """A machine or a place of work, with the settings that can be moved there."""

    model_config = ConfigDict(populate_by_name=True)

    id: StationName
    name: Text = ""
    role: Text = ""
    """What it is in the trade's words, for operations derived from parts and joints."""
    settings: tuple[Setting, ...] = Field(default=(), alias="setting")

    def setting(self, id: str) -> Setting:
        """The setting of this id; raises KeyError where there is none."""
        for setting in self.settings:
            if setting.id == id:
                return setting
        raise KeyError(id)

    def base(self, setting: Setting) -> Setting | None:
        """The setting that a setting of this station is measured at; None for one that stands for itself."""
        return next((each for each in self.settings if each.id == setting.measured_at), None)


class Walk(Value):
    """Minutes to take the work from one station to another, in this direction only."""

    model_config = ConfigDict(populate_by_name=True)

    from_: Name = Field(alias="from")
    to: Name
    minutes: Minutes


class Rules(Value):
    """Rules switched off by id, and rule books of the shop's own (paths as they can be opened)."""

    off: Names = ()
    books: FileNames = ()


class Shop(Value):
    """A shop as a whole. `walk` is for every pair of stations that `walks` does not name."""

    name: Text = ""
    unit: Unit = "mm"
    walk: Minutes = 0.0
    walks: tuple[Walk, ...] = ()
    stations: tuple[Station, ...] = ()
    joinery: Joinery = Joinery()
    rules: Rules = Rules()
    path: str = ""

    def station(self, id: str) -> Station:
        """The station of this id; raises KeyError where there is none."""
        for station in self.stations:
            if station.id == id:
                return station
        raise KeyError(id)

    def walk_minutes(self, start: str, to: str) -> float:
        """Minutes to take the work from station `start` to station `to`; 0 when they are one."""
        if start == to:
            return 0.0
        for walk in self.walks:
            if (walk.from_, walk.to) == (start, to):
                return walk.minutes
        return self.walk
