"""Reading a shop file: every table by itself, then what they say of each other."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from sequencer.diagnostics import nearest, no_such, quoted, shortened
from sequencer.files.source import Source, all_named, is_folder, is_there, name_of
from sequencer.model.fields import Place, StationName, Text
from sequencer.model.parts import Joinery
from sequencer.model.roles import KNOWN, MEASURED_AT, bounded, measured, role_of
from sequencer.model.shop import Rules, Setting, Shop, Station, Walk, inferred
from sequencer.operations import Value
from sequencer.quantity import Measure, Minutes, Unit, as_written

TABLES = ("shop", "station", "joinery", "rules")


class ShopTable(Value):
    """`[shop]`."""

    name: Text = ""
    unit: Unit = "mm"
    walk: Minutes = 0.0
    walks: tuple[Walk, ...] = ()


class StationTable(Value):
    """`[[station]]` without its settings."""

    id: StationName
    name: Text = ""
    role: Text = ""


@dataclass
class ShopRead:
    """As much of a shop file as could be read: a job can be checked against it even where parts are wrong."""

    source: Source
    unit: Unit
    shop: Shop | None
    rules: Rules | None = None
    """What is sound of them, where it names the books, with paths of these as they can be opened."""
    joinery: Joinery | None = None
    """Where it is sound."""
    stations: dict[str, set[str]] = field(default_factory=dict)
    """Every station and the ids of its settings, sound or not."""
    stations_told: bool = True
    """Whether `stations` names all there are: one without an id, or under a misspelt heading, may be any."""
    half_told: set[str] = field(default_factory=set)
    """Stations of which not all settings have a name, or some may stand under a misspelt heading."""
    settings: dict[tuple[str, str], Setting] = field(default_factory=dict)
    """The settings that are sound."""
    untold: dict[tuple[str, str], tuple[int, int]] = field(default_factory=dict)
    """Settings of which the file does not tell what they measure, and where they stand."""

    def lacks(self, station: str, setting: str | None = None) -> bool:
        """Whether the shop has no such station, or the station no such setting, as far as its file tells."""
        if station not in self.stations:
            return self.stations_told
        return setting is not None and setting not in self.stations[station] and station not in self.half_told

    def measures(self, station: str, setting: str, measure: Measure) -> None:
        """Settle what a setting measures that the file does not tell."""
        sound = self.settings[station, setting]
        self.settings[station, setting] = sound.model_copy(update={"measures": measure})

    def finished(self) -> Shop:
        """The shop, with what its settings measure settled, and at what reading of another one they start."""
        assert self.shop is not None
        return self.shop.model_copy(
            update={"stations": tuple(self._settled(station) for station in self.shop.stations)}
        )

    def _settled(self, station: Station) -> Station:
        settings = []
        for each in station.settings:
            setting, base = self.settings[station.id, each.id], station.base(each)
            settings.append(setting if base is None else setting.standing(setting.start, base.start))
        return station.model_copy(update={"settings": tuple(settings)})


def read_shop(path: Path, *, begun: bool = False) -> ShopRead:
    """As much of the shop as can be read; its source has the faults. Raises InputError if it is no TOML.

    Where work in it has `begun`, a station may have been taken out since: walks may name one that there is no longer.
    """
    source = Source(path, "the shop file")
    source.only(TABLES)
    raw = source.table("shop")
    if "shop" not in source.data:
        source.say((), "the table [shop] is missing", '[shop] with name, unit ("mm" or "in") and walk')
    unit = source.unit(raw, "mm")
    head: ShopTable | None = source.read(("shop",), raw, ShopTable, unit)
    read = ShopRead(source, unit, None)
    tables = source.tables("station")
    stations = [
        station for index, table in tables if (station := _read_station(read, index, table)) is not None
    ]
    read.stations_told = "station" in source.data and source.tells_all("station")
    if not read.stations and "station" not in source.data:
        source.say((), "the shop has no station", "at least one [[station]] with an id")
    source.twice("station", tables)
    _check_walks(read, raw, begun)
    _check_roles(source, tables)
    joinery: Joinery | None = source.read(("joinery",), source.table("joinery"), Joinery, unit)
    read.joinery = joinery
    rules = _read_rules(read, source.table("rules"))
    if not source.faults and head and joinery and rules:
        read.shop = Shop(
            name=head.name or name_of(path),
            unit=head.unit,
            walk=head.walk,
            walks=head.walks,
            stations=tuple(stations),
            joinery=joinery,
            rules=rules,
            path=str(path),
        )
    return read


def _read_rules(read: ShopRead, raw: dict[str, Any]) -> Rules | None:
    """The rules, or None where a key is wrong; what is sound of them is judged nevertheless, and noted in `read`.

    Where no sound key names the books, one that is wrong, or not known, may: then nothing is said of ids either.
    """
    source = read.source
    rules: Rules | None = source.read(("rules",), raw, Rules, read.unit)
    sound = rules or Rules.model_validate(
        {key: value for key, value in raw.items() if _is_sound(key, value)}, context={"unit": read.unit}
    )
    if rules is None and not ("books" in raw and _is_sound("books", raw["books"])):
        return None
    books = tuple(str(source.path.parent / book) for book in sound.books)
    for index, book in enumerate(books):
        if not is_there(Path(book)):
            name = f'"{shortened(sound.books[index])}"'
            folder = is_folder(Path(book))
            message = f"{name} is a folder, not a rule book" if folder else f"there is no rule book {name}"
            source.say(("rules", "books", index), message, "a file beside the shop file")
    read.rules = sound.model_copy(update={"books": books})
    return read.rules if rules else None


def _is_sound(key: str, value: Any) -> bool:
    """Whether a key of `[rules]` is known and its value one it takes."""
    try:
        Rules.model_validate({key: value})
    except ValidationError:
        return False
    return True


def _read_station(read: ShopRead, index: int, raw: dict[str, Any]) -> Station | None:
    """One station with its sound settings, or None; what is known of it is noted in `read`."""
    source, place = read.source, ("station", index)
    plain = {key: value for key, value in raw.items() if key != "setting"}
    unknown = plain.keys() - StationTable.model_fields.keys()
    for key in sorted(key for key in unknown if nearest(key, ["setting"], 0.7)):
        source.say((*place, key), f'unknown key "{key}"', "[[station.setting]], one for each setting")
        plain.pop(key)
    misspelt = any(
        isinstance(value, (list, dict))
        for key, value in raw.items()
        if key not in StationTable.model_fields and key != "setting"
    )
    if misspelt or not all_named(raw.get("setting", [])):
        read.half_told.add(str(raw.get("id")).strip())
    table: StationTable | None = source.read(place, plain, StationTable, read.unit)
    known = read.stations.setdefault(raw["id"].strip(), set()) if isinstance(raw.get("id"), str) else set()
    role = role_of(table.role, table.id) if table else ""
    settings: list[Setting] = []
    tables = source.tables_in(place, raw, "setting")
    source.twice("setting", tables, place)
    stands_on = _measured_at(role, tables)
    for number, setting_raw in tables:
        here = (*place, "setting", number)
        accepted = KNOWN.get(role, {}).get(str(setting_raw.get("id")).strip(), ())
        wrong = accepted and setting_raw.get("measures", accepted[0]) not in accepted
        sound = {key: value for key, value in setting_raw.items() if not (wrong and key == "measures")}
        told, wider = bounded(measured(sound, accepted), role, str(setting_raw.get("id")).strip())
        for key, what, within in wider:
            source.say((*here, "limits", key), what, within)
        if "measured_at" not in sound:
            told = {**told, "measured_at": stands_on.get(str(setting_raw.get("id")).strip(), "")}
        setting: Setting | None = source.read(here, told, Setting, read.unit)
        if isinstance(setting_raw.get("id"), str):
            known.add(setting_raw["id"].strip())
        if wrong:
            given = as_written(setting_raw["measures"])
            what = f"must be what the {setting_raw['id'].strip()} of a {role} is, not {given}"
            source.say((*here, "measures"), what, quoted(accepted))
            continue
        if setting is None:
            continue
        settings.append(setting)
        if table is not None:
            read.settings[table.id, setting.id] = setting
            may_be_names = not accepted or "name" in accepted
            if "measures" not in setting_raw and inferred(setting_raw) is None and may_be_names:
                read.untold[table.id, setting.id] = (index, number)
    _check_measured_at(read, place, str(raw.get("id")).strip(), tables, stands_on)
    if table is None:
        return None
    return Station(id=table.id, name=table.name or table.id, role=table.role, settings=tuple(settings))


def _measured_at(role: str, tables: list[tuple[int, Any]]) -> dict[str, str]:
    """For each setting of a station the one it is measured at, as the file or else its role has it; "" for none.

    What is no text is refused where the setting is read.
    """
    ids = [each["id"].strip() for _, each in tables if isinstance(each.get("id"), str)]
    usual = {id: base for id, base in MEASURED_AT.get(role, {}).items() if base in ids}
    said = {
        each["id"].strip(): each["measured_at"].strip()
        for _, each in tables
        if isinstance(each.get("id"), str) and isinstance(each.get("measured_at"), str)
    }
    return {id: said.get(id, usual.get(id, "")) for id in ids}


def _check_measured_at(
    read: ShopRead, place: Place, station: str, tables: list[tuple[int, Any]], stands_on: dict[str, str]
) -> None:
    """What a setting is measured at is another setting of the station, and that one stands for itself."""
    for number, raw in tables:
        id = str(raw.get("id")).strip()
        base = stands_on.get(id, "")
        here = (*place, "setting", number, "measured_at")
        accepted = quoted(other for other, its in stands_on.items() if other != id and not its)
        if base == id and id:
            read.source.say(here, "must be another setting than this one itself", accepted)
        elif base and base not in stands_on:
            if station not in read.half_told:
                message = no_such("measured_at", f"setting of {station}", base, stands_on)
                read.source.say(here, message, accepted)
        elif base and stands_on[base]:
            message = f"must be a setting that stands for itself: {base} is measured at {stands_on[base]}"
            read.source.say(here, message, accepted)


def _check_walks(read: ShopRead, raw: dict[str, Any], begun: bool) -> None:
    """Each walk goes between two stations there are, or were where work has begun, and is given once."""
    walks = raw.get("walks")
    seen: set[tuple[str, str]] = set()
    for index, walk in enumerate(walks if isinstance(walks, list) else ()):
        if not isinstance(walk, dict):
            continue
        place = ("shop", "walks", index)
        ends = [end.strip() if isinstance(end, str) else None for end in (walk.get("from"), walk.get("to"))]
        for key, end, other in zip(("from", "to"), ends, reversed(ends), strict=True):
            if end and read.lacks(end) and not begun:
                message = no_such(key, "station", end, read.stations)
                others = quoted(station for station in read.stations if station != other)
                read.source.say((*place, key), message, others or "another station of the shop")
        if (start := ends[0]) is not None and (to := ends[1]) is not None:
            if start == to:
                read.source.say(place, "from and to must be two stations", quoted(read.stations))
            elif (start, to) in seen:
                read.source.say(place, f'the walk from "{start}" to "{to}" is given twice')
            seen.add((start, to))


def _check_roles(source: Source, tables: list[tuple[int, Any]]) -> None:
    """Derived operations find one station of each role; that two ids are the same is told already."""
    first: dict[str, str] = {}
    for index, raw in tables:
        id, role = raw.get("id"), raw.get("role", "")
        if not isinstance(id, str) or not isinstance(role, str):
            continue
        known = role_of(role, id)
        other = first.setdefault(known, id.strip()) if known in KNOWN else id.strip()
        if other != id.strip():
            source.say(
                ("station", index, "role" if role.strip() else "id"),
                f'station "{other}" is the shop\'s {known} already',
                f'one {known}, and for others a role of their own: role = "second {known}"',
            )
