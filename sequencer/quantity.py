"""Lengths, angles and minutes as makers write them, in and out: mm, degrees and minutes inside.

The international inch is 25.4 mm exactly (NIST Special Publication 811, appendix B). What is written is read
as the exact fraction it stands for and rounded once, so 4.5 in becomes 114.3 mm and prints as 4.5 in again.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Callable, Iterator, Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, ValidationInfo, WithJsonSchema

Unit = Literal["mm", "in"]
Measure = Literal["length", "angle", "number", "name"]
"""What a setting's values are: mm, degrees, plain numbers, or names."""

MM: dict[str, Fraction] = {
    "mm": Fraction(1),
    "cm": Fraction(10),
    "m": Fraction(1000),
    "in": Fraction(254, 10),
    "ft": Fraction(3048, 10),
}
"""How many mm one of each unit is."""

_NAMES = {
    "millimetre": "mm",
    "millimeter": "mm",
    "centimetre": "cm",
    "centimeter": "cm",
    "metre": "m",
    "meter": "m",
    "inch": "in",
    "foot": "ft",
    "feet": "ft",
    '"': "in",
    "''": "in",
    "'": "ft",
}
_NUMBER = r"(?:\d+[\s-]+\d+/\d+|\d+/\d+|\d+\.?\d*|\.\d+)"
_UNIT = r"mm|cm|m|in|ft|(?:milli|centi)?met(?:re|er)s?|inch(?:es)?|foot|feet|''|'|\""
_LENGTH = re.compile(rf"(?P<sign>[-+]?)\s*(?P<number>{_NUMBER})\s*(?P<unit>{_UNIT})?\.?", re.IGNORECASE)
_LENGTH_WITHIN = re.compile(rf"{_NUMBER}(?:\s*(?P<unit>{_UNIT})(?![a-z]))?", re.IGNORECASE)
_FEET_AND_INCHES = re.compile(
    rf"(?P<sign>[-+]?)\s*(?P<feet>\d+)\s*(?:ft\.?|foot|feet|')[\s-]*(?P<inches>{_NUMBER})\s*(?:in\.?|inch(?:es)?|\"|'')",
    re.IGNORECASE,
)
_LIKE_INCH_MARK = str.maketrans(dict(zip("″”“′’−–⁄", '"""\'\'--/', strict=True)))
_MARKS: dict[Unit, tuple[float, ...]] = {"mm": (0.1, 0.01, 0.001), "in": (25.4 / 64,)}
_ANGLE_MARKS = (0.01, 0.001)
LONGEST_TOLD = 40
"""Characters of a value that are told in a message; no length a maker writes is longer."""
_FULL = 3  # places; a value that ends within so many was written so, and is told so

LENGTH_ACCEPTED = 'a number in the file\'s unit, or text such as "18 mm", "3/4 in", "1 1/2 in", "1-1/2\\""'
ANGLE_ACCEPTED = 'a number of degrees, or text such as "22.5 deg"'
MOST_MINUTES = 1e7
"""A lifetime of work, and what all work of a job may come to: longer times are mistakes, and would drown all others
where costs are weighed."""
MINUTES_ACCEPTED = f"a number of minutes from 0 to {MOST_MINUTES:.0f}"

MOST_NUMBER = 1e15
"""Larger numbers are mistakes, and would not be told apart."""

MINUTE_PLACES = 9
"""Decimals of minutes that are counted."""

MOST_LENGTH = 1_000_000
"""mm: no board is a kilometre long, nor the shop that saws it."""

SLIGHTEST = 0.2
"""mm: what the checks on the cards let a cut be off. A size no greater passes its check where nothing is cut at all,
and may read 0."""


class QuantityError(ValueError):
    """What was written is not the quantity asked for. The message follows on the key ("must be ...")."""

    def __init__(self, message: str, accepted: str = "") -> None:
        super().__init__(message)
        self.accepted = accepted


def parse_length(value: float | int | str, unit: Unit) -> float:
    """A length in mm, from a number in `unit` or from text with its own unit (without one: `unit`).

    Raises QuantityError for anything that is not one finite length.

    >>> parse_length(4.5, "in"), parse_length("1-1/2\\"", "mm"), parse_length("2' 6 1/2\\"", "mm")
    (114.3, 38.1, 774.7)
    """
    if isinstance(value, bool) or not isinstance(value, (int, float, str)):
        raise QuantityError(f"must be a length, not {as_written(value)}", LENGTH_ACCEPTED)
    most = f"at most {int(MOST_LENGTH / MM[unit])} {unit}"
    exact = (
        _exact_length(value, unit)
        if isinstance(value, str)
        else _exact_number(value, "length", LENGTH_ACCEPTED, most) * MM[unit]
    )
    if abs(exact) > MOST_LENGTH:
        raise QuantityError(f"must be a length a shop can hold, not {as_written(value)}", most)
    return float(exact)


def length_named(text: str, unit: Unit, word: str) -> float | None:
    """The length that a name tells, in mm, without a unit in `unit`; None where it tells none, or not for certain.

    Lengths with a unit count before numbers without. Of several that differ the one at the word `word`, right before
    or behind it, counts, and where that is no single one none does; nor does any where a number without a unit right
    behind the word is another length, or a comma stands in a number. Of several numbers without a unit the first behind
    the last `word` counts or, where none stands there, the last.

    >>> length_named("straight 6 mm, 2 flutes", "mm", "straight"), length_named("no. 7 straight 5", "mm", "straight")
    (6.0, 5.0)
    >>> length_named("2-flute straight-1/4", "in", "straight"), length_named("V", "mm", "straight")
    (6.35, None)
    >>> length_named("1/2 in straight, 1/4 in shank", "mm", "straight"), length_named("1/2 in x 1 in", "mm", "straight")
    (12.7, None)
    """
    plain = _plain(text)
    numbers = list(_LENGTH_WITHIN.finditer(plain))
    if not numbers or re.search(r"\d,\d", plain):
        return None
    try:
        sizes = {number: parse_length(number.group(), unit) for number in numbers}
    except QuantityError:
        return None
    measured = [number for number in numbers if number["unit"]]
    begins = plain.lower().rfind(word)
    if not measured:
        behind = [number for number in numbers if 0 <= begins < number.start()]
        return sizes[(behind or numbers[-1:])[0]]
    beside = [
        number for number in numbers if begins >= 0 and _beside(plain, number, begins, begins + len(word))
    ]
    told = {sizes[number] for number in measured}
    if len(told) > 1:
        told = {sizes[number] for number in measured if number in beside}
    told |= {sizes[number] for number in beside if number.start() > begins}
    return told.pop() if len(told) == 1 else None


def _beside(text: str, number: re.Match[str], begins: int, ends: int) -> bool:
    """Whether nothing but a blank or a hyphen stands between a number and what begins and ends there."""
    between = text[ends : number.start()] if number.start() >= ends else text[number.end() : begins]
    return not between.strip(" -_")


def _plain(text: str) -> str:
    """A text with its fractions and marks as they are typed: "1½″" as `1 1/2"`."""
    plain = "".join(
        f" {unicodedata.normalize('NFKC', c)}" if unicodedata.decomposition(c).startswith("<fraction>") else c
        for c in text
    )
    return plain.translate(_LIKE_INCH_MARK)


def _exact_length(text: str, unit: Unit) -> Fraction:
    """The length written in `text`, exact, in mm."""
    plain = _plain(text).strip()
    hint = "; write a decimal point, not a comma" if re.search(r"\d,\d", plain) else ""
    wrong = QuantityError(f"must be a length, not {as_written(text)}{hint}", LENGTH_ACCEPTED)
    if len(plain) > LONGEST_TOLD:
        raise wrong
    try:
        if found := _FEET_AND_INCHES.fullmatch(plain):
            size = int(found["feet"]) * MM["ft"] + _fraction(found["inches"]) * MM["in"]
        elif found := _LENGTH.fullmatch(plain):
            size = _fraction(found["number"]) * MM[_unit_named(found["unit"] or unit)]
        else:
            raise wrong
    except ZeroDivisionError:
        raise wrong from None
    return -size if found["sign"] == "-" else size


def _unit_named(name: str) -> str:
    name = name.lower()
    if name in MM:
        return name
    return _NAMES[name] if name in _NAMES else _NAMES[name.removesuffix("es" if name == "inches" else "s")]


def _fraction(number: str) -> Fraction:
    """The value of "3", "2.5", "3/4", "1 1/2" or "1-1/2"."""
    return sum((Fraction(part) for part in re.split(r"[\s-]+", number)), Fraction(0))


def _exact_number(value: float | int, what: str, accepted: str, most: str = "") -> Fraction:
    """The fraction a finite number stands for as written: 0.1 is a tenth."""
    if isinstance(value, float) and not math.isfinite(value):
        raise QuantityError(f"must be a finite {what}, not {value}", accepted)
    if abs(value) > MOST_NUMBER:
        article = "an" if what[0] in "aeiou" else "a"
        raise QuantityError(
            f"must be {article} {what} a shop can use, not {as_written(value)}", most or accepted
        )
    return Fraction(Decimal(repr(value))) if isinstance(value, float) else Fraction(value)


def in_unit(mm: float, unit: Unit) -> float:
    """A length in the file's unit, rounded to 11 places: finer than two readings of one setting may differ.

    >>> in_unit(114.3, "in"), in_unit(18, "mm")
    (4.5, 18.0)
    """
    return round(float(mm) / float(MM[unit]), 11) + 0.0


def as_fraction(mm: float) -> tuple[Fraction, float]:
    """The nearest 64th of an inch, and how much longer (mm) it is than the length itself.

    >>> fraction, error = as_fraction(9.0)
    >>> print(fraction, round(error, 3))
    23/64 0.128
    """
    fraction = Fraction(round(mm / float(MM["in"]) * 64), 64)
    return fraction, float(fraction) * float(MM["in"]) - mm


def on_tape(mm: float, unit: Unit) -> float:
    """A length rounded up to what a tape shows at a glance: whole mm, or eighths of an inch.

    >>> on_tape(581.4, "mm"), on_tape(23.0, "in") / 25.4
    (582.0, 1.0)
    """
    mark = float(MM["in"]) / 8 if unit == "in" else 1.0
    return math.ceil(round(mm / mark, 6)) * mark


def near_marks(value: float, measure: str, unit: Unit) -> Iterator[float]:
    """The readings a setting with room may be set to instead of this one (mm or degrees), the first best: on coarse
    marks before fine ones, of each the nearest first. Nothing for what is neither a length nor an angle.

    >>> [round(size, 6) for size in near_marks(26.425639, "length", "mm")][:4]
    [26.4, 26.5, 26.3, 26.43]
    >>> [round(size / 25.4, 6) for size in near_marks(22.05, "length", "in")]
    [0.875, 0.890625, 0.859375]
    """
    for mark in scale_marks(measure, unit) if math.isfinite(value) else ():
        nearest = round(value / mark)
        yield from (round(count * mark, 9) for count in (nearest, nearest + 1, nearest - 1))


def scale_marks(measure: str, unit: Unit) -> tuple[float, ...]:
    """What a length is read to, mm, or an angle, degrees, where the work leaves room; the coarsest first."""
    return _MARKS[unit] if measure == "length" else _ANGLE_MARKS if measure == "angle" else ()


def inward(low: float, high: float, among: Sequence[float]) -> tuple[float, float]:
    """The range rounded to the coarsest of the marks that has one within it, never beyond its ends."""
    for mark in among:
        inner = (
            math.ceil(round(low / mark, 6)) * mark if math.isfinite(low) else low,
            math.floor(round(high / mark, 6)) * mark if math.isfinite(high) else high,
        )
        if inner[0] <= inner[1]:
            return inner
    return low, high


def format_length(mm: float, unit: Unit, *, with_unit: bool = True, decimals: bool = False) -> str:
    """A length for people: mm to a tenth, inches as a fraction to 1/64.

    With `decimals` a card does not hide what rounding takes. mm that end at the second or third place are told
    in full: a maker has written them so, or they are sums of such. What runs on beyond that was computed, and a
    tenth will do. Inches that no 64th meets within a thousandth are followed by their decimals, and what a 64th
    would miss by more than a tenth is told in decimals alone.

    >>> format_length(18.04, "mm"), format_length(38.1, "in"), format_length(9, "in", decimals=True)
    ('18 mm', '1 1/2 in', '23/64 in (0.354)')
    >>> format_length(12.25, "mm", decimals=True), format_length(18.4264, "mm", decimals=True)
    ('12.25 mm', '18.4 mm')
    >>> format_length(0.1, "in", decimals=True), format_length(0.5, "in", decimals=True)
    ('0.004 in', '0.020 in')
    """
    end = f" {unit}" if with_unit else ""
    if unit == "mm":
        return (_in_full(mm, 1) if decimals else _trimmed(mm, 1)) + end
    fraction, error = as_fraction(mm)
    sign, size = ("-" if fraction < 0 else ""), abs(fraction)
    whole, rest = divmod(size, 1)
    if decimals and abs(error) > max(0.0005 * float(MM["in"]), 0.1 * abs(mm)):
        return f"{mm / float(MM['in']):.3f}{end}"
    text = sign + (" ".join(str(part) for part in (whole, rest) if part) or "0") + end
    if decimals and abs(error) > 0.001 * float(MM["in"]):
        text += f" ({mm / float(MM['in']):.3f})"
    return text


def format_readable(mm: float, unit: Unit, within: Literal["at most", "at least"] | None = None) -> str:
    """A length that may be asked for, in words that are read as this very length.

    A limit that would take more than four places is told rounded to its inner side, `within` which lengths lie; any
    other length with all its places.

    >>> format_readable(7.62, "in"), format_readable(9.525, "in"), format_readable(12.25, "mm")
    ('0.3 in', '3/8 in', '12.25 mm')
    >>> format_readable(50, "in", "at most"), format_readable(3, "in", "at least")
    ('1.968 in', '0.119 in')
    """
    size = in_unit(mm, unit)
    texts = [
        format_length(mm, unit),
        *(f"{size:.{places}f} {unit}" for places in range(1, 5 if within else 12)),
    ]
    exact = (text for text in texts if abs(parse_length(text, unit) - mm) < 1e-9)
    inner = (math.floor if within == "at most" else math.ceil)(size * 1000) / 1000
    return next(exact, f"{inner:.3f} {unit}" if within else texts[-1])


def format_size(mm: float, unit: Unit, *, with_unit: bool = True) -> str:
    """A length where there is little room, in a drawing or a list: mm as on the cards, inches without their decimals.

    >>> format_size(12.25, "mm"), format_size(9, "in")
    ('12.25 mm', '23/64 in')
    """
    return format_length(mm, unit, with_unit=with_unit, decimals=unit == "mm")


def format_angle(degrees: float, *, decimals: bool = False) -> str:
    """An angle for people, to 0.01 degree; with `decimals`, one that ends at the third place in full.

    >>> format_angle(35.2644), format_angle(45), format_angle(45.004, decimals=True)
    ('35.26°', '45°', '45.004°')
    """
    return (_in_full(degrees, 2) if decimals else _trimmed(degrees, 2)) + "°"


def format_number(value: float) -> str:
    """A plain number for people: as it was written, without an exponent and without a minus before zero.

    >>> format_number(22000.0), format_number(-0.00001), format_number(1234567.12345), format_number(-0.0)
    ('22000', '-0.00001', '1234567.12345', '0')
    """
    return f"{Decimal(f'{value + 0.0:.12g}'):f}"


def format_minutes(minutes: float, *, with_unit: bool = True) -> str:
    """Minutes for people with all their decimals, so that what is told adds up: as many as costs are counted to.

    >>> format_minutes(27.5), format_minutes(4.0), format_minutes(0.125), format_minutes(0.1 + 0.2)
    ('27.5 min', '4 min', '0.125 min', '0.3 min')
    """
    return format_number(round(minutes, MINUTE_PLACES)) + (" min" if with_unit else "")


def counted(number: int, one: str) -> str:
    """A number with what it counts.

    >>> counted(1, "reset"), counted(2, "reset"), counted(0, "slip")
    ('1 reset', '2 resets', '0 slips')
    """
    return f"{number} {one if number == 1 else one + 's'}"


def _in_full(value: float, places: int) -> str:
    """The number to so many places, or with all it has where it ends at the last one that a maker writes."""
    return _trimmed(value, _FULL if abs(value - round(value, _FULL)) < 1e-7 else places)


def _trimmed(value: float, places: int) -> str:
    """The number rounded, without trailing zeros and without a minus before zero."""
    text = f"{value:.{places}f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def as_written(value: object) -> str:
    """A value as it would stand in a TOML file, shortened, to be quoted in a message."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        shown = value if len(value) <= LONGEST_TOLD else value[:LONGEST_TOLD] + "..."
        return f'"{"".join(c if c.isprintable() else repr(c)[1:-1] for c in shown)}"'
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, (list, tuple)):
        return "a list"
    text = str(value)
    return text if len(text) <= LONGEST_TOLD else f"{text[:LONGEST_TOLD]}..."


def parse_angle(value: float | int | str) -> float:
    """An angle in degrees, from a number or text such as "22.5 deg" or "22.5°". Raises QuantityError."""
    if isinstance(value, str):
        number = re.fullmatch(r"([-+]?(?:\d+\.?\d*|\.\d+))\s*(?:°|deg(?:rees?)?)?", value.strip())
        if number is None or len(value) > LONGEST_TOLD:
            raise QuantityError(f"must be an angle, not {as_written(value)}", ANGLE_ACCEPTED)
        return float(number[1])
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise QuantityError(f"must be an angle, not {as_written(value)}", ANGLE_ACCEPTED)
    return float(_exact_number(value, "angle", ANGLE_ACCEPTED))


def parse_number(value: float | int) -> float:
    """A plain finite number. Raises QuantityError."""
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise QuantityError(f"must be a number, not {as_written(value)}")
    return float(_exact_number(value, "number", f"a number from -{MOST_NUMBER:.0f} to {MOST_NUMBER:.0f}"))


def parse_minutes(value: float | int) -> float:
    """Minutes, 0 or more. Raises QuantityError."""
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise QuantityError(f"must be a number of minutes, not {as_written(value)}", MINUTES_ACCEPTED)
    minutes = float(_exact_number(value, "number of minutes", MINUTES_ACCEPTED))
    if minutes < 0:
        raise QuantityError(f"must be 0 or more minutes, not {as_written(value)}", MINUTES_ACCEPTED)
    if minutes > MOST_MINUTES:
        raise QuantityError(
            f"must be fewer minutes than a lifetime, not {as_written(value)}", MINUTES_ACCEPTED
        )
    return minutes


def _size(value: Any, info: ValidationInfo) -> float:
    """A positive length that is no slighter than what a check lets pass."""
    unit: Unit = (info.context or {}).get("unit", "mm")
    mm = parse_length(value, unit)
    if mm > SLIGHTEST:
        return mm
    least = format_length(SLIGHTEST, unit, decimals=True)
    wanted = (
        f"more than the {least} that the checks on the cards let a cut be off" if mm > 0 else "more than 0"
    )
    raise QuantityError(
        f"must be {wanted}, not {as_written(value)}", f"more than {least}, as {LENGTH_ACCEPTED}"
    )


def _length_reader(
    above: float | None = None, *, or_equal: bool = True
) -> Callable[[Any, ValidationInfo], float]:
    def read(value: Any, info: ValidationInfo) -> float:
        unit: Unit = (info.context or {}).get("unit", "mm")
        mm = parse_length(value, unit)
        if above is not None and (mm < above or (mm == above and not or_equal)):
            wanted = "0 or more" if or_equal else "more than 0"
            raise QuantityError(
                f"must be {wanted}, not {as_written(value)}", f"{wanted}, as {LENGTH_ACCEPTED}"
            )
        return mm

    return read


_positive = _length_reader(0.0, or_equal=False)
_EITHER = [{"type": "number"}, {"type": "string"}]
_LENGTH_SCHEMA = WithJsonSchema({"anyOf": _EITHER, "description": LENGTH_ACCEPTED})
_ANGLE_SCHEMA = WithJsonSchema({"anyOf": _EITHER, "description": ANGLE_ACCEPTED})
_MINUTES_SCHEMA = WithJsonSchema({"type": "number", "minimum": 0, "description": MINUTES_ACCEPTED})

Length = Annotated[float, BeforeValidator(_length_reader()), _LENGTH_SCHEMA]
"""A length in mm; numbers are read in the unit of the validation context's "unit" (without a context: mm)."""
PositiveLength = Annotated[float, BeforeValidator(_positive), _LENGTH_SCHEMA]
"""A length of more than 0 mm."""
Size = Annotated[float, BeforeValidator(_size), _LENGTH_SCHEMA]
"""A length, width or depth of wood, of a cut or of a tool: more than `SLIGHTEST`."""
ZeroOrMoreLength = Annotated[float, BeforeValidator(_length_reader(0.0)), _LENGTH_SCHEMA]
"""A length of 0 mm or more."""
Angle = Annotated[float, BeforeValidator(parse_angle), _ANGLE_SCHEMA]
"""An angle in degrees, finite."""
Minutes = Annotated[float, BeforeValidator(parse_minutes), _MINUTES_SCHEMA]
"""Minutes, finite, 0 or more."""
