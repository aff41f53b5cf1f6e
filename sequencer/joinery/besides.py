"""What operations ask of settings that the shop file's station has not: told on cards, but no part of the order.

The machine may have none (a mortiser without a scale for its depth), or the file may call it otherwise. Nothing is
known of what moving it costs, so that no order can be made by it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from sequencer.joinery.basis.making import Collected
from sequencer.listing import listed
from sequencer.model.roles import KNOWN, role_of, taken_for
from sequencer.model.shop import Shop, Station
from sequencer.operations import Between, OneOf, Operation, Wanted
from sequencer.quantity import Unit, format_angle, format_length, inward, scale_marks


def told_besides(work: Collected) -> Iterator[Operation]:
    """The operations with only such settings as their stations have; what they ask of others is told with how these are
    set. One remark for each station says so.
    """
    stations = {station.id: station for station in work.floor.job.shop.stations}
    lacking: dict[str, dict[str, None]] = {}
    made = []
    for operation in work.operations:
        station = stations[operation.station]
        has = {setting.id for setting in station.settings}
        lacking.setdefault(station.id, {}).update(
            dict.fromkeys(n for n in operation.settings if n not in has)
        )
        made.append(_told(operation, has, role_of(station.role, station.id), work.floor.job.unit))
    for id, settings in lacking.items():
        if settings:
            work.remark(_remark(stations[id], list(settings)))
    yield from made


def lacking_left(shop: Shop, left: Iterable[Operation]) -> Iterator[str]:
    """What is to be said of a plan gone on with in a shop: which settings of those that operations `left` are told
    besides its stations have not, and which they have by now. Stations that are gone are refused elsewhere.
    """
    lacking: dict[str, dict[str, None]] = {}
    for operation in left:
        lacking.setdefault(operation.station, {}).update(dict.fromkeys(operation.set_too))
    for station in shop.stations:
        has, names = {each.id for each in station.settings}, lacking.get(station.id, {})
        if missing := [name for name in names if name not in has]:
            yield _remark(station, missing)
        if there := [name for name in names if name in has]:
            yield _since(station, there)


def speaks_of_lacking(remark: str) -> bool:
    """Whether a remark of a plan tells of settings that a station has not, or had not when it was made."""
    return _LACKING.search(remark) is not None


_LACKING = re.compile(
    r'^"[^"]*" (has no settings? .* in the shop file: the cards tell what to set|had no settings? .* in the shop file '
    r"that this was planned by: the cards tell what to set)"
)


def _told(operation: Operation, has: set[str], role: str, unit: Unit) -> Operation:
    hows = operation.notes.how_to_set
    besides = {}
    for name, wanted in operation.settings.items():
        if name not in has:
            how = f" ({hows[name]})" if name in hows else ""
            besides[name] = _in_words(wanted, KNOWN[role][name][0], unit) + how
    return operation.model_copy(
        update={
            "settings": {name: wanted for name, wanted in operation.settings.items() if name in has},
            "set_too": besides,
            "notes": operation.notes.model_copy(
                update={"how_to_set": {name: how for name, how in hows.items() if name in has}}
            ),
        }
    )


def _in_words(wanted: Wanted, measure: str, unit: Unit) -> str:
    match wanted:
        case Between(min=low, max=high):
            return " to ".join(
                _in_words(end, measure, unit) for end in inward(low, high, scale_marks(measure, unit))
            )
        case OneOf(any=values):
            return " or ".join(_in_words(value, measure, unit) for value in values)
        case str():
            return wanted
    return format_angle(wanted) if measure == "angle" else format_length(wanted, unit, decimals=True)


def _remark(station: Station, settings: list[str]) -> str:
    """That the station lacks settings, what follows from it, and which of those it has may be meant by them."""
    several = len(settings) > 1
    names = listed([f'"{name}"' for name in settings])
    meant = [
        f'; if its "{other}" is "{name}", call it so'
        for name in settings
        if (other := taken_for(station, name))
    ]
    return (
        f'"{station.id}" has no setting{"s" if several else ""} {names} in the shop file: the cards tell what to set '
        f"{'them' if several else 'it'} to, but {'their' if several else 'its'} resets are not counted and "
        f"{'their' if several else 'its'} values do not order the work{''.join(meant)}"
    )


def _since(station: Station, settings: list[str]) -> str:
    """That a plan was made when the station had no such settings, although the shop file has them now."""
    several = len(settings) > 1
    names, its = listed([f'"{name}"' for name in settings]), "their" if several else "its"
    return (
        f'"{station.id}" had no setting{"s" if several else ""} {names} in the shop file that this was planned by: the '
        f"cards tell what to set {'them' if several else 'it'} to, but {its} resets are not counted and {its} values "
        "do not order the work; what is not begun counts them if it is planned anew"
    )
