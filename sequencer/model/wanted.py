"""What a job asks of a setting: one value, a range, or any of several, read as the setting measures."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import isfinite
from typing import Any, NamedTuple

from sequencer.diagnostics import nearest, shortened
from sequencer.model.fields import Complaint, Place, read_value, whole
from sequencer.model.shop import Setting
from sequencer.operations import Between, OneOf, Wanted
from sequencer.quantity import QuantityError, Unit, as_written, in_unit


class SettingRead(NamedTuple):
    """What a job asks of a setting: as read, what is wrong with it, and what the setting cannot reach.

    Beyond reach is what is of the right kind, and would be sound in another shop or with a tool that has failed here: a
    value beyond the limits, or none of those listed. Of several values of which any will do, those that can be reached
    are what is asked, and the others are `left_out`.
    """

    wanted: Wanted | None
    wrong: Sequence[Complaint] = ()
    beyond: Sequence[Complaint] = ()
    left_out: Sequence[Complaint] = ()


def read_wanted(raw: Any, setting: Setting, unit: Unit) -> SettingRead:
    """What `raw` (a value, {min, max} or {any}) asks of the setting; places are within `raw`.

    A range is cut down to the setting's limits; a value near one that the setting lists becomes the listed one.
    """
    accepted = "a value, { min = ..., max = ... } or { any = [...] }"
    if isinstance(raw, list):
        return SettingRead(
            None, [Complaint((), "must be one value, a range or any of several, not a list", accepted)]
        )
    if not isinstance(raw, dict):
        return _one(raw, setting, unit)
    if "any" in raw and len(raw) == 1:
        return _any(raw["any"], setting, unit)
    unknown = [key for key in raw if key not in ("min", "max")]
    if unknown or not raw:
        known = ("min", "max", "any")
        wrong = [
            Complaint((key,), f'unknown key "{shortened(key)}"{nearest(key, known)}', accepted)
            if key not in known
            else Complaint((key,), "any goes alone, without min and max", accepted)
            for key in unknown
        ]
        return SettingRead(None, wrong or [Complaint((), "must not be an empty table", accepted)])
    return _range(raw, setting, unit)


def _one(raw: Any, setting: Setting, unit: Unit, place: Place = ()) -> SettingRead:
    try:
        value = read_value(raw, setting.measures, unit)
    except QuantityError as error:
        number = isinstance(raw, (int, float)) and not isinstance(raw, bool)
        bounded = number and (setting.greatest is not None or (isinstance(raw, float) and not isfinite(raw)))
        own = setting.values or setting.measures == "name" or bounded or not error.accepted
        return SettingRead(
            None, [Complaint(place, str(error), setting.accepted(unit) if own else error.accepted)]
        )
    if setting.values:
        listed = setting.listed(value)
        if listed is None:
            hint = nearest(value, map(str, setting.values)) if isinstance(value, str) else ""
            message = f"must be one of the values of {setting.id}, not {as_written(raw)}{hint}"
            return SettingRead(value, (), [Complaint(place, message, setting.accepted(unit))])
        return SettingRead(setting.values[listed])
    if isinstance(value, str) or not setting.outside(value):
        return SettingRead(value)
    if setting.measures == "length" and value < 0 and setting.limits.min is None:
        return SettingRead(None, [Complaint(place, f"must be 0 or more, not {as_written(raw)}")])
    message = f"must be within the limits of {setting.id}, not {as_written(raw)}"
    return SettingRead(value, (), [Complaint(place, message, setting.accepted(unit))])


def _any(raw: Any, setting: Setting, unit: Unit) -> SettingRead:
    if not isinstance(raw, list) or not raw:
        what = "an empty list" if raw == [] else as_written(raw)
        return SettingRead(
            None, [Complaint(("any",), f"must be a list of values, not {what}", _example(setting, unit))]
        )
    read = [_one(value, setting, unit, ("any", k)) for k, value in enumerate(raw)]
    reached = _values(each for each in read if not each.beyond)
    wrong = [complaint for each in read for complaint in each.wrong]
    beyond = [complaint for each in read for complaint in each.beyond]
    if reached:
        return SettingRead(OneOf(any=reached), wrong, left_out=beyond)
    return SettingRead(OneOf(any=_values(read)), wrong, beyond)


def _example(setting: Setting, unit: Unit) -> str:
    """`any` as the job file may have it for the setting."""
    if setting.values:
        values = list(setting.values[:2])
    elif setting.measures == "name":
        return 'any = ["flat"]'
    else:
        ends = [each for each in (setting.least, setting.greatest) if each is not None]
        values = list(dict.fromkeys(ends)) or [1.0, 2.0]
    if setting.measures == "length":
        values = [in_unit(each, unit) for each in values if not isinstance(each, str)]
    return f"any = [{', '.join(as_written(whole(each)) for each in values)}]"


def _values(read: Iterable[SettingRead]) -> tuple[float | str, ...]:
    """The values read, each once."""
    values = [each.wanted for each in read if isinstance(each.wanted, (int, float, str))]
    return tuple(dict.fromkeys(values))


def _range(raw: dict[str, Any], setting: Setting, unit: Unit) -> SettingRead:
    if setting.measures == "name":
        message = f"must be a name, not a range: the values of {setting.id} are names"
        return SettingRead(None, [Complaint((), message, setting.accepted(unit))])
    ends: dict[str, float] = {}
    wrong = []
    for key, limit in (("min", setting.least), ("max", setting.greatest)):
        try:
            if key in raw:
                ends[key] = float(read_value(raw[key], setting.measures, unit))
            elif limit is not None:
                ends[key] = limit
            else:
                accepted = f"{{ min = ..., max = ... }}, or a {key} among the limits of {setting.id} in the shop file"
                wrong.append(Complaint((), f"{key} of {setting.id} is missing", accepted))
        except QuantityError as error:
            wrong.append(Complaint((key,), str(error), error.accepted))
    if wrong:
        return SettingRead(None, wrong)
    low, high = ends["min"], ends["max"]
    if (
        low > high and len(raw) == 2
    ):  # an end that is left open is a limit, which the other may well be beyond
        shown = f"{as_written(raw['min'])} is more than {as_written(raw['max'])}"
        return SettingRead(None, [Complaint((), f"must not have its min above its max: {shown}")])
    if setting.values:
        listed = [value for value in setting.values if not isinstance(value, str) and low <= value <= high]
        if not listed:
            message = f"must leave a value to choose: none of {setting.id} lies in this range"
            return SettingRead(Between(**ends), (), [Complaint((), message, setting.accepted(unit))])
        return SettingRead(OneOf(any=tuple(listed)))
    if setting.least is not None:
        low = max(low, setting.least)
    if setting.greatest is not None:
        high = min(high, setting.greatest)
    if low > high:
        message = f"must reach into the limits of {setting.id}"
        return SettingRead(Between(**ends), (), [Complaint((), message, setting.accepted(unit))])
    return SettingRead(Between(min=low, max=high))


def several_readings(measured: str) -> tuple[str, str]:
    """What is wrong with asking for several readings of what another setting, `measured`, is measured at, and what
    would be accepted."""
    return (
        f"must be one value: {measured} is measured at it",
        "one value, or an operation for each of several, in the options of a [[choice]]",
    )
