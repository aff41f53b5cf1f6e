"""A TOML file read whole, and the faults found in it, each with its table, key and line."""

from __future__ import annotations

import ast
import os
import re
import tomllib
from collections.abc import Iterable
from functools import cached_property, lru_cache
from pathlib import Path
from typing import Any

from pydantic import TypeAdapter, ValidationError

from sequencer.diagnostics import Fault, InputError, nearest, shortened
from sequencer.files.locate import lines_of
from sequencer.files.wording import complaints_of, inside
from sequencer.model.fields import Complaint, Place
from sequencer.quantity import Unit, as_written

ONCE = ("job", "shop", "book", "kinds", "rules", "joinery")
"""Tables of the files that stand once; of others there may be several."""
LARGEST = 20_000_000
"""Bytes; a larger file is no job."""

TEXT_ACCEPTED = "text, with tabs and line ends where need be"
_PREDICATE = ("must ", "is ")
_CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f]")
"""Unicode's category Cc but for tab and newline."""
_SPACES = re.compile(r"[\u00a0\u1680\u2000-\u200a\u202f\u205f\u3000]")
"""Unicode's category Zs but for the space itself."""


def read_text(path: Path, what: str) -> str:
    """The text of a file. `what` says what it is ("the job file"). Raises InputError."""
    name = str(path)
    try:
        with path.open("rb") as file:
            content = file.read(LARGEST + 1)
    except FileNotFoundError:
        raise InputError([Fault("there is no such file", name)]) from None
    except IsADirectoryError:
        raise InputError([Fault(f"this is a folder, not {what}", name)]) from None
    except PermissionError:
        raise InputError([Fault(f"no permission to read {what}", name)]) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise InputError([Fault(f"cannot be read: {reason.lower()}", name)]) from None
    if len(content) > LARGEST:
        raise InputError([Fault(f"{what} is larger than {LARGEST // 1_000_000} MB", name)])
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise InputError(
            [Fault("this is not UTF-8 text", name, line=line, accepted="a text file saved as UTF-8")]
        ) from None


def without_control(text: str) -> tuple[str, str]:
    """A text without control characters, and what is wrong with it where it has any: terminals obey them, and no page
    can show them. Tab and newline are none. Every other kind of space becomes a plain one: they look alike. Of what is
    nothing but control characters a sign is left, so that it is not called empty, too.

    >>> without_control("left\\u00a0end"), without_control("a\\x07b")[0]
    (('left end', ''), 'ab')
    """
    text = _SPACES.sub(" ", text)
    found = _CONTROL.search(text)
    if not found:
        return text, ""
    letter = f"{as_written(found.group())} as its letter {found.start() + 1}"
    return _CONTROL.sub(
        "", text
    ) or "\N{REPLACEMENT CHARACTER}", f"must be text without control characters, not with {letter}"


def is_there(path: Path) -> bool:
    """Whether there is such a file; none can have a name that is too long, or that no system takes."""
    try:
        return path.is_file()
    except (OSError, ValueError):
        return False


def is_folder(path: Path) -> bool:
    """Whether there is such a folder; none can have a name that is too long, or that no system takes."""
    try:
        return path.is_dir()
    except (OSError, ValueError):
        return False


def name_of(path: Path) -> str:
    """A file's name without its ending; what is not UTF-8 in it, or cannot be seen, becomes a sign for that, so it can
    be written and read again.
    """
    name = _SPACES.sub(" ", os.fsencode(path.stem).decode("utf-8", "replace"))
    return "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in name)


class Source:
    """One TOML file: its data, and the faults found in it so far."""

    def __init__(self, path: Path, what: str) -> None:
        """Read the file; raises InputError where it cannot be read or is not TOML."""
        self.path = path
        self.faults: list[Fault] = []
        self.misspelt = False
        """Whether it has a heading that is not known (see `only`)."""
        self.text = read_text(path, what)
        try:
            self.data: dict[str, Any] = tomllib.loads(self.text)
            self.data = self._without_control((), self.data)
        except tomllib.TOMLDecodeError as error:
            raise InputError([_not_toml(str(error), str(path), self.text)]) from None
        except (ValueError, RecursionError) as error:
            shown = "lists nested too deep" if isinstance(error, RecursionError) else "a number too long"
            raise InputError([Fault(f"this TOML cannot be read: {shown}", str(path))]) from None

    def _without_control(self, place: Place, value: Any) -> Any:
        """What stands at `place` without control characters, keys too, and its spaces plain; a fault for each text that
        has any, and for keys that come to the same.
        """
        if isinstance(value, dict):
            plain: dict[str, Any] = {}
            for key, each in value.items():
                name = self._without_control((*place, key), key)
                if name in plain:
                    self.say((*place, key), f'the key "{shortened(name)}" is given twice', "each key once")
                plain[name] = self._without_control((*place, key), each)
            return plain
        if isinstance(value, list):
            return [self._without_control((*place, number), each) for number, each in enumerate(value)]
        if not isinstance(value, str):
            return value
        text, wrong = without_control(value)
        if wrong:
            self.say(place, wrong, TEXT_ACCEPTED)
        return text

    @cached_property
    def _lines(self) -> dict[Place, int]:
        return lines_of(self.text)

    def line(self, place: Place) -> int | None:
        """The line of the innermost table or key of `place` that stands in the file."""
        while place and place not in self._lines:
            place = place[:-1]
        return self._lines.get(place)

    def where(self, place: Place) -> tuple[str, str]:
        """The table `place` lies in ('operation "rip-front"'), and the key within it ("settings.tilt")."""
        tables: list[str] = []
        keys: list[str] = []
        here: Any = self.data
        for depth, step in enumerate(place):
            above, here = here, inside(here, step)
            if isinstance(step, int):
                key = keys.pop() if keys else ""
                if isinstance(here, dict) and isinstance(above, list) and not keys:
                    name = here.get("id")
                    named = f'"{shortened(name)}"' if isinstance(name, str) and name else step + 1
                    tables.append(f"{key} {named}")
                else:
                    keys.append(f"{key}[{step + 1}]")
            elif depth == 0 and isinstance(here, dict):
                tables.append(f"[{step}]")
            else:
                keys.append(shortened(step))
        return ", ".join(tables), ".".join(keys)

    def fault(self, place: Place, message: str, accepted: str = "") -> Fault:
        """A fault at `place`; a message that starts with its predicate is completed by the key's name."""
        where, key = self.where(place)
        if message.startswith(_PREDICATE) and not key and place and isinstance(place[-1], int):
            where, key = self.where(place[:-1])  # a table in a list where something else belongs
            key += f"[{place[-1] + 1}]"
        if message.startswith(_PREDICATE):
            message = f"{key or 'this table'} {message}"
        elif "." in key:
            where = f"{where}, {key.rpartition('.')[0]}" if where else key.rpartition(".")[0]
        return Fault(message, str(self.path), where, self.line(place), accepted)

    def say(self, place: Place, message: str, accepted: str = "") -> None:
        """Add a fault."""
        self.faults.append(self.fault(place, message, accepted))

    def complain(self, place: Place, complaints: Iterable[Complaint]) -> None:
        """Add complaints whose places lie within `place`."""
        for complaint in complaints:
            self.say((*place, *complaint.place), complaint.message, complaint.accepted)

    def read(self, place: Place, raw: Any, model: Any, unit: Unit) -> Any:
        """The value of one table, or None where it has faults, which are added."""
        try:
            return _adapter(model).validate_python(raw, context={"unit": unit})
        except ValidationError as error:
            self.complain(place, complaints_of(error, model, raw))
            return None

    def tables(self, key: str) -> list[tuple[int, Any]]:
        """The tables `[[key]]` with their positions; a fault where `key` is something else."""
        return self.tables_in((), self.data, key)

    def tables_in(self, place: Place, data: dict[str, Any], key: str) -> list[tuple[int, Any]]:
        """The tables `[[key]]` within a table; a fault for what is not a table."""
        raw = data.get(key, [])
        header = ".".join([*(step for step in place if isinstance(step, str)), key])
        if not isinstance(raw, list):
            self.say((*place, key), f"{key} must be written [[{header}]], one for each", f"[[{header}]]")
            return []
        for index, each in enumerate(raw):
            if not isinstance(each, dict):
                self.say((*place, key, index), f"must be a table, not {as_written(each)}", f"[[{header}]]")
        return [(index, each) for index, each in enumerate(raw) if isinstance(each, dict)]

    def table(self, key: str) -> dict[str, Any]:
        """The table `[key]`, empty where there is none; a fault where `key` is something else."""
        raw = self.data.get(key, {})
        if isinstance(raw, dict):
            return raw
        self.say((key,), f"{key} must be a table [{key}]", f"[{key}]")
        return {}

    def only(self, known: Iterable[str]) -> None:
        """A fault for each top-level key that is not known."""
        known = tuple(known)
        for key in self.data:
            if key not in known:
                self.misspelt = True
                self.say((key,), f'unknown table "{shortened(key)}"{nearest(key, known)}', ", ".join(known))

    def tells_all(self, key: str) -> bool:
        """Whether the tables `[[key]]` name all there are of them: one without an id, or under a heading that is not
        known, may be any.
        """
        return not self.misspelt and all_named(self.data.get(key, []))

    def unit(self, table: dict[str, Any], default: Unit) -> Unit:
        """The unit a table gives, or the default (a wrong one is reported where the table is read)."""
        unit = table.get("unit")
        return unit if unit in ("mm", "in") else default

    def twice(self, key: str, tables: Iterable[tuple[int, Any]], place: Place = ()) -> None:
        """A fault for each id that an earlier table of the same kind has."""
        seen: dict[str, int] = {}
        for index, raw in tables:
            id = raw.get("id")
            if not isinstance(id, str):
                continue
            id = id.strip()
            if id in seen:
                first = self.line((*place, key, seen[id], "id"))
                self.say(
                    (*place, key, index, "id"),
                    f'id "{shortened(id)}" is taken (line {first})',
                    "an id of its own",
                )
            seen.setdefault(id, index)


def all_named(tables: Any) -> bool:
    """Whether all tables of a list have an id."""
    return isinstance(tables, list) and all(
        isinstance(each, dict) and isinstance(each.get("id"), str) and bool(each["id"].strip())
        for each in tables
    )


@lru_cache
def _adapter(model: Any) -> TypeAdapter[Any]:
    """The validator of a model, built once."""
    return TypeAdapter(model)


def _not_toml(message: str, path: str, text: str) -> Fault:
    if text.lstrip().startswith("{"):  # no TOML does
        accepted = "TOML; plans are read by show and replan, and by cards where the name ends in .json"
        return Fault("this is JSON, not TOML: it looks like a plan", path, accepted=accepted)
    found = re.fullmatch(
        r"(?P<what>.*?) \(at (?:line (?P<line>\d+), column (?P<column>\d+)|end of document)\)", message
    )
    what = found["what"] if found else message
    line = int(found["line"]) if found and found["line"] else text.count("\n") + 1
    twice = what == "Cannot overwrite a value" or what.startswith("Cannot declare")
    if twice and (early := _heading_before(text, line)):
        line, what = early
        return Fault(f"not valid TOML (line {line}): {what}", path, line=line)
    column = f", column {found['column']}" if found and found["column"] else ""
    what = {
        "Cannot overwrite a value": "this key is given twice",
        "Invalid value": "this is no value; text needs quotation marks",
    }.get(what, what[:1].lower() + what[1:])
    if named := re.fullmatch(r"(?P<before>[\w ]+) (?P<key>\(.*\)|'.*'|\".*\")(?: twice)?", what):
        key = ast.literal_eval(named["key"])
        name = shortened(key if isinstance(key, str) else ".".join(key))
        what = {
            "cannot declare": f"the table [{name}] is given twice",
            "cannot redefine namespace": f"the table [{name}] is given twice",
            "cannot mutate immutable namespace": f"the table {name} is written whole elsewhere; add to it there",
            "duplicate inline table key": f"{name} is given twice in this table",
        }.get(named["before"], what)
    return Fault(f"not valid TOML (line {line}{column}): {what}", path, line=line)


def _heading_before(text: str, line: int) -> tuple[int, str] | None:
    """Of a heading in this line that cannot stand there for one before it: the line of the one that is wrong, and what
    is wrong with it; None where no heading is at fault.

    >>> _heading_before("[[station.setting]]\\n[[station]]", 2)
    (1, '[[station.setting]] comes before any [[station]] and belongs to none; put the [[station]] first')
    >>> _heading_before("[station]\\n[[station]]", 2)
    (1, '[station] is [[station]] elsewhere; write [[station]] for each')
    >>> _heading_before("[[station]]\\n[station]", 2)
    (2, '[station] is [[station]] elsewhere; write [[station]] for each')
    >>> _heading_before("[job]\\n[[job]]", 2)
    (2, '[job] is there already, and stands once')
    """
    lines = text.split("\n")
    several, keys = _heading(lines[line - 1])
    try:
        places = lines_of("\n".join(lines[: line - 1]))
    except (tomllib.TOMLDecodeError, RecursionError):
        return None
    there = [at for place, at in places.items() if [key for key in place if isinstance(key, str)] == keys]
    if not there:
        return None
    before, within = _heading(lines[max(there) - 1])
    if within == keys and several != before:
        name = ".".join(keys)
        if name in ONCE:
            return line if several else max(there), f"[{name}] is there already, and stands once"
        return line if before else max(there), f"[{name}] is [[{name}]] elsewhere; write [[{name}]] for each"
    if not several:
        return None
    name, early = f"[[{'.'.join(keys)}]]", ".".join(within)
    early = f"[[{early}]]" if before else f"[{early}]"
    if within[: len(keys)] == keys:
        return max(there), f"{early} comes before any {name} and belongs to none; put the {name} first"
    return None


def _heading(line: str) -> tuple[bool, list[str]]:
    """Whether the line is a heading in two pairs of brackets, and its keys; none where it is no heading."""
    keys: list[str] = []
    try:
        inner: Any = tomllib.loads(line) if line.lstrip().startswith("[") else {}
    except tomllib.TOMLDecodeError:
        inner = {}
    while inner:
        if isinstance(inner, dict):
            keys.extend(inner)
        (inner,) = inner.values() if isinstance(inner, dict) else inner
    return line.lstrip().startswith("[["), keys
