"""A plan opened for reading: its records looked up by name, its values as text in the job's unit."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from sequencer.operations import PUT_TOGETHER, Between, OneOf, Operation, Slot, Wanted, as_words
from sequencer.planfile import PartRecord, Plan, Reading, Setup, StationRecord, Step
from sequencer.quantity import (
    MM,
    Measure,
    Unit,
    counted,
    format_angle,
    format_length,
    format_number,
    in_unit,
    inward,
    near_marks,
    scale_marks,
)

_SAME = 1e-9
"""mm or degrees: what reckoning in inches may put a value beside itself."""


@dataclass(frozen=True)
class Pieces:
    """Pieces of one part; `part` is empty for work that is on no part in particular."""

    part: str
    count: int | None
    """None where several parts share a count that cannot be told apart."""
    each: int = 1
    """How often the step's quantity counts each piece: 2 where both ends are worked (`PlanBook.cuts_each` is told)."""
    sets: int = 0
    """Where pieces of several parts are put together: how many such sets."""
    spare: int = 0
    """How many of `count` are spares, made along with the others."""
    of: int = 0
    """Where not all pieces of the part are worked: how many there are."""


def reading(value: Reading | None, measure: Measure | None, unit: Unit) -> str:
    """A value of a setting as text, `value` in the job's unit or degrees; empty for no value.

    >>> reading(12.25, "length", "mm"), reading(0.375, "length", "in"), reading(45, "angle", "mm")
    ('12.25 mm', '3/8 in', '45°')
    """
    if value is None:
        return ""
    if isinstance(value, str):
        return value
    if measure == "length":
        return format_length(value * float(MM[unit]), unit, decimals=True)
    if measure == "angle":
        return format_angle(value, decimals=True)
    return format_number(value)


def goes_on(plan: Plan) -> str:
    """Of a plan that goes on from another, the how-manieth it is and how many steps were made before; else empty."""
    before = plan.made_before
    return f"plan {len(before) + 1}, goes on after {counted(sum(before), 'step')}" if before else ""


def title(plan: Plan) -> str:
    """The job, told from what a plan before it said of it: no two cards of a job are to be mixed up."""
    return ", ".join(words for words in (plan.job, goes_on(plan)) if words)


def cutter_unit(plan: Plan) -> Unit:
    """The unit that the mortiser's cutters are marked in, and so the slips that fit them."""
    marks = [record.marked["cutter"] for record in plan.stations if "cutter" in record.marked]
    return marks[0] if marks else plan.unit


class PlanBook:
    """A plan with its records by name. What a plan leaves out reads as empty, never as an error."""

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        self.operations: dict[str, Operation] = {operation.id: operation for operation in plan.operations}
        self.parts: dict[str, PartRecord] = {part.id: part for part in plan.parts}
        self.stations: dict[str, StationRecord] = {station.id: station for station in plan.stations}
        self.number: dict[str, int] = {step.operation: n for n, step in enumerate(plan.steps, 1)}
        self.step: dict[str, Step] = {step.operation: step for step in plan.steps}
        self.setup_of: dict[str, int] = {
            name: setup.number for setup in plan.setups for name in setup.operations
        }

    def operation(self, name: str) -> Operation:
        """The operation, or a bare one of that name where the plan does not carry it."""
        return self.operations.get(name) or Operation(id=name, station=self.step[name].station)

    def what(self, operation: str) -> str:
        """What the operation does, in words."""
        return self.operation(operation).in_words

    def station_name(self, station: str) -> str:
        """The station's name for people."""
        record = self.stations.get(station)
        return record.name or station if record else station

    def settings_in_order(self, setup: Setup) -> tuple[str, ...]:
        """The settings of the setup's station that have a known value, in the shop's order."""
        record = self.stations.get(setup.station)
        order = [name for name in (record.measures if record else ()) if name in setup.settings]
        return tuple(dict.fromkeys([*order, *setup.settings]))

    def base(self, station: str, setting: str) -> str:
        """The setting of the station at one reading of which alone this one is good; empty for none."""
        record = self.stations.get(station)
        return record.measured_at.get(setting, "") if record else ""

    def level(self, station: str, setting: str, setup: int) -> str:
        """What that other setting read when this one was set that stands so for a setup of this number, or, for 0, when
        the plan begins: "gauge 45°"; empty where nobody knows.
        """
        return self._levels[station, setting][setup] if self.base(station, setting) else ""

    @cached_property
    def _levels(self) -> dict[tuple[str, str], list[str]]:
        """For each setting that is measured at another one what that read when it was set, by the setup's number."""
        found: dict[tuple[str, str], list[str]] = {}
        for station, record in self.stations.items():
            for setting, base in record.measured_at.items():
                told = (self.plan.begins_at or {}).get(f"{station}.{setting}")
                levels = [self.at(station, base, told)]
                for setup in self.plan.setups:
                    if setup.station == station and any(reset.setting == setting for reset in setup.resets):
                        told = self.step[setup.operations[0]].settings.get(base)
                    levels.append(self.at(station, base, told))
                found[station, setting] = levels
        return found

    def at(self, station: str, setting: str, value: Reading | None) -> str:
        """A setting with its reading: "gauge 45°"; empty where it has none."""
        if value is None:
            return ""
        return f"{self.setting_name(station, setting)} {self.reading(station, setting, value)}"

    def at_station(self, station: str) -> tuple[Setup, ...]:
        """The station's setups in order."""
        return tuple(setup for setup in self.plan.setups if setup.station == station)

    def setting_name(self, station: str, setting: str) -> str:
        """The setting's name for people."""
        record = self.stations.get(station)
        return as_words(record.names.get(setting, setting) if record else setting)

    def marked(self, station: str, setting: str) -> Unit:
        """The unit a length of the setting is told in: the job's, but for tools marked otherwise."""
        record = self.stations.get(station)
        return record.marked.get(setting, self.plan.unit) if record else self.plan.unit

    def reading(self, station: str, setting: str, value: Reading | None) -> str:
        """A value of the station's setting as text: where all that use it leave room, the nearest 64th or tenth.

        Two values of one setting never read the same: what rounding would make alike is told in full.
        """
        measure = self._measure(station, setting)
        if value is None or isinstance(value, str) or measure not in ("length", "angle"):
            return reading(value, measure, self.plan.unit)
        unit = self.marked(station, setting)
        if self._hidden(station, setting, value):
            size = in_unit(value * float(MM[self.plan.unit]), unit) if measure == "length" else value
            return format_number(size) + (f" {unit}" if measure == "length" else "°")
        return self._rounded(station, setting, value)

    def told(self, station: str, setting: str, value: Reading) -> Reading:
        """The value as `reading` tells it where there is room, in the job's unit or degrees; else the value itself."""
        measure = self._measure(station, setting)
        if isinstance(value, str) or self._hidden(station, setting, value):
            return value
        size = self._on_mark(station, setting, value)
        return value if size is None else in_unit(size, self.plan.unit) if measure == "length" else size

    def _hidden(self, station: str, setting: str, value: float) -> bool:
        """Whether rounding would make the value read like another one of the setting."""
        told = self._readings.get((station, setting), {})
        text = told.get(value) or self._rounded(station, setting, value)
        return any(other == text and at != value for at, other in told.items())

    @cached_property
    def _readings(self) -> dict[tuple[str, str], dict[float, str]]:
        """For each length and angle of a station the values it stands at in the plan, each as it is rounded."""
        found: dict[tuple[str, str], dict[float, str]] = {}
        for setup in self.plan.setups:
            moved = [(reset.setting, at) for reset in setup.resets for at in (reset.from_, reset.to)]
            for setting, at in (*setup.settings.items(), *moved):
                if isinstance(at, float) and self._measure(setup.station, setting) in ("length", "angle"):
                    told = found.setdefault((setup.station, setting), {})
                    if at not in told:
                        told[at] = self._rounded(setup.station, setting, at)
        return found

    def _rounded(self, station: str, setting: str, value: float) -> str:
        """A length or angle as text: where all that use it leave room, to the coarsest mark within that."""
        length, plain = self._measure(station, setting) == "length", self._on_mark(station, setting, value)
        size = value * float(MM[self.plan.unit]) if length else value
        return _told(size if plain is None else plain, length, self.marked(station, setting))

    def _on_mark(self, station: str, setting: str, value: float) -> float | None:
        """Where all that use the value leave room, what it may be set to on the coarsest mark, mm or degrees."""
        measure = self._measure(station, setting) or ""
        size = value * float(MM[self.plan.unit]) if measure == "length" else value
        plain = near_marks(size, measure, self.marked(station, setting))
        return next((each for each in plain if self._roomy(station, setting, value, each)), None)

    @cached_property
    def _uses(self) -> dict[tuple[str, str], list[tuple[Reading, Wanted]]]:
        """For each setting of a station the values it stands at for a step, each with what the operation asked for."""
        found: dict[tuple[str, str], list[tuple[Reading, Wanted]]] = {}
        for step in self.plan.steps:
            asked = self.operation(step.operation).settings
            for setting, value in step.settings.items():
                if setting in asked:
                    found.setdefault((step.station, setting), []).append((value, asked[setting]))
        return found

    def _roomy(self, station: str, setting: str, value: float, size: float) -> bool:
        """Whether every operation that uses the value would do as well with `size`, in mm or degrees."""
        asked = [want for stood, want in self._uses.get((station, setting), ()) if stood == value]
        return bool(asked) and all(isinstance(want, Between) and _takes(want, size) for want in asked)

    def accepts(self, setup: Setup, setting: str) -> str:
        """What would do wherever the setting is used until it is reset again; empty if one value, or if the setup does
        not use it.

        Tolerance is no room: where the value stands outside what all accept, serving some of them by tolerance alone,
        nothing is told.
        """
        if not any(setting in self.operation(name).settings for name in setup.operations):
            return ""
        named = [self.operation(name).settings for name in self._until_reset(setup, setting)]
        wanted = [settings[setting] for settings in named if setting in settings]
        ranges = [want for want in wanted if isinstance(want, Between)]
        lists = [want.any for want in wanted if isinstance(want, OneOf)]
        if not wanted or len(ranges) + len(lists) < len(wanted):
            return ""
        low = max((want.min for want in ranges), default=float("-inf"))
        high = min((want.max for want in ranges), default=float("inf"))
        measure, stands = self._measure(setup.station, setting), setup.settings[setting]
        if measure == "length" and not isinstance(stands, str):
            stands *= float(MM[self.plan.unit])
        if not all(_takes(want, stands) for want in wanted):
            return ""
        if lists:
            common = [value for value in lists[0] if all(value in other for other in lists)]
            fitting = [value for value in common if isinstance(value, str) or low <= value <= high]
            texts = [self._wanted(setup.station, setting, value) for value in fitting]
            return " or ".join(texts) if len(texts) > 1 else ""
        if measure in ("length", "angle") and low < high:
            low, high = inward(low, high, scale_marks(measure, self.plan.unit))
        ends = [self._wanted(setup.station, setting, value) for value in (low, high)]
        return " to ".join(ends) if ends[0] != ends[1] else ""

    def _until_reset(self, setup: Setup, setting: str) -> list[str]:
        """The operations made at the setup's station while the setting stands as it does there."""
        runs: list[list[Setup]] = [[]]
        for other in self.at_station(setup.station):
            if any(reset.setting == setting for reset in other.resets):
                runs.append([])
            runs[-1].append(other)
        return [name for run in runs if setup in run for other in run for name in other.operations]

    def pieces(self, operation: str) -> tuple[Pieces, ...]:
        """How many pieces of each part the step is on, and how often each is worked.

        A step's quantity may count pieces, several cuts of each (both ends bevelled), or sets of pieces put
        together; which of these follows from the quantities of its parts.
        """
        return self._pieces(self.operation(operation), self.step[operation].quantity)

    def cuts_each(self, operation: str) -> int | None:
        """How many cuts each piece takes; None for plunges, whose words count the slots in a piece."""
        if any(isinstance(cut, Slot) for cut in self.operation(operation).cuts):
            return None
        return max(piece.each for piece in self.pieces(operation))

    def on_some(self, operation: str) -> bool:
        """Whether the step is on some pieces of a part only, or repeats one that is."""
        again = self._done.get(self.operation(operation).again)
        first = self._pieces(again, again.quantity) if again else ()
        return any(piece.of for piece in (*self.pieces(operation), *first))

    @cached_property
    def _done(self) -> dict[str, Operation]:
        return {operation.id: operation for operation in self.plan.done}

    def _pieces(self, operation: Operation, count: int) -> tuple[Pieces, ...]:
        parts, first = operation.parts, operation.of_sets or max(count, self._glued(operation))
        if not parts:
            return (Pieces("", count),)
        counts = [self.parts[part].quantity if part in self.parts else 0 for part in parts]
        whole = sum(counts)
        if all(counts) and first % whole == 0 and count == first:
            return tuple(
                Pieces(part, n, count // whole, spare=self.parts[part].spare)
                for part, n in zip(parts, counts, strict=True)
            )
        together = len(parts) > 1 or operation.kind in PUT_TOGETHER
        if not together and count < whole:
            return (Pieces(parts[0], count, spare=self._spare(operation.id, count), of=whole),)
        if not together or (
            len(parts) == 1 and whole and first % whole == 0 and not count % (first // whole)
        ):
            each = max(1, first // whole) if together else 1
            return (Pieces(parts[0], count // each, each, of=whole if count // each < whole else 0),)
        # spares are not put together
        used = [n - self.parts[part].spare if n else 0 for part, n in zip(parts, counts, strict=True)]
        if all(n and n % first == 0 for n in used):
            return tuple(
                Pieces(part, n // first * count, sets=count) for part, n in zip(parts, used, strict=True)
            )
        if len(parts) == 1:
            return (Pieces(parts[0], count),)
        return tuple(Pieces(part, None) for part in parts)

    def _spare(self, operation: str, count: int) -> int:
        """How many of the pieces that a plunge on some of a part's pieces is on are spares: those beyond what meets."""
        halves = [
            (half, meeting.times)
            for meeting in self.plan.meetings
            for half in (meeting.first, meeting.second)
        ]
        met = sum(times for half, times in halves if half.operation == operation)
        return max(0, count - met) if met else 0

    def _glued(self, operation: Operation) -> int:
        """How many sets of what a dry fit puts together are glued up; 0 where the plan does not tell, or it is none."""
        if operation.kind != "dry-fit":
            return 0
        glued = (
            each for each in self.plan.operations if each.kind == "glue" and each.parts == operation.parts
        )
        return max((self.step[each.id].quantity for each in glued), default=0)

    def _measure(self, station: str, setting: str) -> Measure | None:
        record = self.stations.get(station)
        return record.measures.get(setting) if record else None

    def _wanted(self, station: str, setting: str, value: Reading) -> str:
        """A value an operation asks for; there lengths are in mm."""
        measure = self._measure(station, setting)
        if measure != "length" or isinstance(value, str):
            return reading(value, measure, self.plan.unit)
        return format_length(value, self.plan.unit, decimals=True)


def _takes(wanted: Wanted, value: Reading) -> bool:
    """Whether a value, in mm or degrees, is one of those asked for, without tolerance."""
    if isinstance(wanted, Between):
        return not isinstance(value, str) and wanted.min - _SAME <= value <= wanted.max + _SAME
    asked = wanted.any if isinstance(wanted, OneOf) else (wanted,)
    if isinstance(value, str):
        return value in asked
    return any(not isinstance(each, str) and abs(value - each) <= _SAME for each in asked)


def _told(size: float, length: bool, unit: Unit) -> str:
    """A length (mm) or angle (degrees) as text."""
    return format_length(size, unit, decimals=True) if length else format_angle(size, decimals=True)
