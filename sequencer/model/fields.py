"""The kinds of field that shop and job files share, and how a table complains: in words, at the very key.

A complaint's message follows on the name of its key ("must be ...") or is a sentence of its own.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from typing import Annotated, Any, NamedTuple

from pydantic import AfterValidator, BeforeValidator, Field, ValidationError, ValidationInfo, WithJsonSchema
from pydantic_core import ErrorDetails, InitErrorDetails, PydanticCustomError

from sequencer.operations import Seen
from sequencer.quantity import (
    LONGEST_TOLD,
    Measure,
    QuantityError,
    Unit,
    as_written,
    parse_angle,
    parse_length,
    parse_number,
)

MOST_PIECES = 1_000_000
"""Pieces in the whole batch; nobody ticks off more."""

LONGEST_NAME = 200
"""Letters."""

Place = tuple[str | int, ...]
"""Where in a file: keys and positions (from 0), outermost first."""


class Complaint(NamedTuple):
    """One thing that is wrong: where, what (and the file-independent hint `accepted`)."""

    place: Place
    message: str
    accepted: str = ""


def refuse(complaints: Iterable[Complaint], besides: ValidationError | None = None) -> None:
    """Raise all complaints as one validation error, each at its own place, with what is told `besides`; do nothing
    where there is none."""
    lines = [
        InitErrorDetails(
            type=PydanticCustomError("said", "{message}", {"message": c.message, "accepted": c.accepted}),
            loc=c.place,
            input=None,
        )
        for c in complaints
    ]
    if lines and besides:
        lines += map(_told_again, besides.errors(include_url=False))
    if lines:
        raise ValidationError.from_exception_data("input", lines)


def _told_again(error: ErrorDetails) -> InitErrorDetails:
    """One line of a validation error, for another one."""
    context = error.get("ctx", {})
    kind = PydanticCustomError("said", "{message}", context) if error["type"] == "said" else error["type"]
    return InitErrorDetails(type=kind, loc=error["loc"], input=error["input"], ctx=context)


def _line(value: Any) -> str:
    if not isinstance(value, str):
        raise QuantityError(f"must be text, not {as_written(value)}")
    if not value.strip():
        raise QuantityError(f"must be a line of text, not {as_written(value)}", "text that can be seen")
    line = value.strip()
    if line.isprintable():
        return line
    at, sign = next((at, sign) for at, sign in enumerate(line, 1) if not sign.isprintable())
    plain = " ".join("".join(c if c.isprintable() else " " if c.isspace() else "" for c in line).split())
    raise QuantityError(
        f"must be a line of text that can be seen, not with {_told(sign)} as its letter {at}",
        as_written(plain) if plain else "text that can be seen",
    )


def _told(sign: str) -> str:
    """A sign that cannot be seen, by its name.

    >>> _told(chr(9)), _told(chr(0xAD))
    ('a tab', 'U+00AD (soft hyphen)')
    """
    if sign in "\t\n":
        return "a tab" if sign == "\t" else "a line end"
    name = unicodedata.name(sign, "").lower()
    return f"U+{ord(sign):04X}" + (f" ({name})" if name else "")


def read_name(value: Any) -> str:
    """A name: a line of text that can be seen, and is not too long. Raises QuantityError."""
    name = _line(value)
    if len(name) > LONGEST_NAME:
        raise QuantityError(f"must be at most {LONGEST_NAME} letters long, not {len(name)}")
    return name


def _part_name(value: Any) -> str:
    name = read_name(value)
    if "/" in name:
        raise QuantityError('must not contain "/": a surface is written "part/surface"')
    return name


def _station_name(value: Any) -> str:
    name = read_name(value)
    if "." in name:
        raise QuantityError(
            'must not contain ".": a setting that mates hold is written "station.setting"',
            as_written(name.replace(".", "-")),
        )
    return name


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise QuantityError(f"must be text, not {as_written(value)}")
    return value.strip()


def whole(value: Any) -> Any:
    """A whole number that is written with a point, as spreadsheets do, as what it is; anything else as it stands.

    >>> whole(2.0), whole(2.5), whole("2")
    (2, 2.5, '2')
    """
    return int(value) if isinstance(value, float) and value.is_integer() and abs(value) < 1e9 else value


def _count(value: Any) -> int:
    value = whole(value)
    if isinstance(value, bool) or not isinstance(value, int) or value < 1:
        raise QuantityError(f"must be a whole number of at least 1, not {as_written(value)}")
    if value > MOST_PIECES:
        raise QuantityError(f"must be at most {MOST_PIECES}, not {as_written(value)}")
    return value


def _switch(value: Any) -> bool:
    if not isinstance(value, bool):
        raise QuantityError(f"must be true or false, not {as_written(value)}")
    return value


def _several(value: Any) -> Any:
    if isinstance(value, str):
        plain = (
            value.strip() and value.isprintable() and len(value) <= LONGEST_TOLD and not {*'"\\'} & {*value}
        )
        alone = as_written(value) if plain else '"text", ...'
        raise QuantityError(f"must be a list, not {as_written(value)}", f"[{alone}]")
    return tuple(value) if isinstance(value, list) else value


def _each_once(names: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(name.strip() for name in names))


FileName = Annotated[str, BeforeValidator(_line)]
"""One line of text, not empty."""
FileNames = Annotated[tuple[FileName, ...], BeforeValidator(_several), AfterValidator(_each_once)]
"""A list of files; one given twice counts once."""
Name = Annotated[str, BeforeValidator(read_name)]
"""One line of text, not empty, and short enough to be told on a card."""
PartName = Annotated[str, BeforeValidator(_part_name)]
"""What a part is called, wherever it is named: a name without "/"."""
StationName = Annotated[str, BeforeValidator(_station_name)]
"""The id of a station: a name without "."."""
Text = Annotated[str, BeforeValidator(_text)]
"""Any text."""
SeenText = Annotated[Seen, BeforeValidator(_text)]
"""A text of which something can be seen."""
Names = Annotated[tuple[Name, ...], BeforeValidator(_several), AfterValidator(_each_once)]
"""A list of names; one given twice counts once."""
PartNames = Annotated[tuple[PartName, ...], BeforeValidator(_several), AfterValidator(_each_once)]
"""A list of parts; one given twice counts once."""
Count = Annotated[int, BeforeValidator(_count), Field(ge=1)]
"""A whole number from 1."""
Switch = Annotated[bool, BeforeValidator(_switch)]
"""true or false."""


def read_value(value: Any, measures: Measure | None, unit: Unit) -> float | str:
    """A setting's value: mm, degrees, a number or a name, as the setting measures; None: a number or a name.

    Raises QuantityError for what the setting cannot stand at.
    """
    if measures == "length":
        return parse_length(value, unit)
    if measures == "angle":
        return parse_angle(value)
    if measures == "name" or (measures is None and isinstance(value, str)):
        if not isinstance(value, str):
            raise QuantityError(f"must be a name, not {as_written(value)}", 'text such as "flat"')
        return read_name(value)
    return parse_number(value)


def _reading(value: Any, info: ValidationInfo) -> float | str:
    context = info.context or {}
    return read_value(value, context.get("measures"), context.get("unit", "mm"))


def _amount(value: Any, info: ValidationInfo) -> float:
    context = info.context or {}
    measures = context.get("measures", "number")
    return float(read_value(value, "number" if measures == "name" else measures, context.get("unit", "mm")))


SettingValue = Annotated[
    float | str,
    BeforeValidator(_reading),
    WithJsonSchema({"anyOf": [{"type": "number"}, {"type": "string"}]}),
]
"""A value a setting stands at, read as the validation context's "measures" and "unit" say."""
Amount = Annotated[
    float,
    BeforeValidator(_amount),
    WithJsonSchema({"anyOf": [{"type": "number"}, {"type": "string"}]}),
]
"""A number in the measure of the setting it belongs to: a limit, a tolerance."""
