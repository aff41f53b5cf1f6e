"""Lengths, angles and minutes in and out, against exact arithmetic."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import TypeAdapter, ValidationError

from sequencer.quantity import (
    Angle,
    Length,
    Minutes,
    PositiveLength,
    QuantityError,
    Size,
    as_fraction,
    format_angle,
    format_length,
    format_minutes,
    format_number,
    format_size,
    in_unit,
    parse_length,
)

INCH = Fraction(254, 10)  # mm; exact by definition (NIST Special Publication 811, appendix B)


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("18 mm", 18),
        ("18mm", 18),
        ("2 cm", 20),
        ("1.2 m", 1200),
        ("3/4 in", 19.05),
        ("1 1/2 in", 38.1),
        ('1-1/2"', 38.1),
        ("1½ in", 38.1),
        ("1.5in", 38.1),
        ("1.5 inches", 38.1),
        ("2 ft", 609.6),
        ("2' 6 1/2\"", 774.7),
        ("2 ft 6 in", 762),
        ("-3 mm", -3),
    ],
)
def test_lengths_as_makers_write_them(text: str, mm: float) -> None:
    """Text with its own unit is the same length in a file of either unit."""
    assert parse_length(text, "mm") == parse_length(text, "in") == mm


@given(st.integers(0, 200), st.integers(0, 63), st.sampled_from([2, 4, 8, 16, 32, 64]))
def test_mixed_fractions_are_read_exactly(whole: int, part: int, denominator: int) -> None:
    """A mixed number of inches becomes the mm of the exact fraction, rounded once, and prints as it was."""
    exact = whole + Fraction(part % denominator, denominator)
    mm = parse_length(f"{whole} {part % denominator}/{denominator} in", "mm")
    assert mm == float(exact * INCH)
    assert as_fraction(mm)[0] == exact
    assert Fraction(in_unit(mm, "in")).limit_denominator(64) == exact
    assert parse_length(format_length(mm, "in"), "mm") == mm


@given(st.decimals(0, 5000, places=4), st.sampled_from(["mm", "in"]))
def test_numbers_come_back_as_they_were_written(number: object, unit: str) -> None:
    """A number of up to four decimals in the file's unit is the same number after the way through mm."""
    written = float(str(number))
    assert in_unit(parse_length(written, unit), unit) == written  # type: ignore[arg-type]


@given(st.floats(-1000, 1000))
def test_fractions_tell_what_rounding_takes(mm: float) -> None:
    """The nearest 64th is within a 128th of an inch, and its error is the difference."""
    fraction, error = as_fraction(mm)
    assert abs(error) <= float(INCH / 128) + 1e-9
    assert float(fraction * INCH) - error == pytest.approx(mm, abs=1e-9)


@given(st.text(max_size=12))
def test_any_text_is_a_length_or_refused_in_words(text: str) -> None:
    """No text makes the reader fail but with its own error."""
    try:
        mm = parse_length(text, "mm")
    except QuantityError:
        return
    assert abs(mm) <= 1_000_000


@pytest.mark.parametrize(
    "value",
    [
        "",
        "abc",
        "18 mn",
        "1/0 in",
        "1,5 mm",
        "1 2 mm",
        "nan",
        "1e3",
        "0x10",
        float("nan"),
        float("inf"),
        True,
        None,
        [3],
    ],
)
def test_what_is_no_length(value: object) -> None:
    """Anything that is not one finite length is refused."""
    with pytest.raises(QuantityError):
        parse_length(value, "mm")  # type: ignore[arg-type]


def test_comma_gets_its_own_hint() -> None:
    """A decimal comma is refused with a word on how to write it, not read as thousands."""
    with pytest.raises(QuantityError, match="decimal point"):
        parse_length("1,5 mm", "mm")


@pytest.mark.parametrize(
    ("mm", "unit", "text"),
    [
        (18.04, "mm", "18 mm"),
        (18.06, "mm", "18.1 mm"),
        (-0.01, "mm", "0 mm"),
        (38.1, "in", "1 1/2 in"),
        (-38.1, "in", "-1 1/2 in"),
        (0.0, "in", "0 in"),
        (25.4, "in", "1 in"),
        (25.39, "in", "1 in"),
    ],
)
def test_lengths_for_people(mm: float, unit: str, text: str) -> None:
    """Millimetres show a tenth, inches the nearest 64th in lowest terms, without a minus before zero."""
    assert format_length(mm, unit) == text  # type: ignore[arg-type]


def test_inches_off_the_64th_show_their_decimals_when_asked() -> None:
    """Where a 64th is off by more than a thousandth of an inch the decimals follow; elsewhere they do not."""
    assert format_length(9, "in", decimals=True) == "23/64 in (0.354)"
    assert format_length(19.05, "in", decimals=True) == "3/4 in"


@pytest.mark.parametrize(
    ("mm", "text"),
    [
        (12.5, "12.5 mm"),
        (12.25, "12.25 mm"),
        (12.46, "12.46 mm"),
        (9.525, "9.525 mm"),
        (0.0, "0 mm"),
        (18.4264, "18.4 mm"),
        (9.128125, "9.1 mm"),
        (0.1 + 0.2, "0.3 mm"),
        (-0.00001, "0 mm"),
    ],
)
def test_what_a_maker_writes_is_told_in_full(mm: float, text: str) -> None:
    """Of two or three places none is cut off, and drawings and lists say the same; computed mm show a tenth."""
    assert format_length(mm, "mm", decimals=True) == format_size(mm, "mm") == text


def test_numbers_are_told_as_they_are_written() -> None:
    """Neither an exponent nor a minus before zero, and no place lost."""
    numbers = (0.00001, -0.00001, -0.0, 1234567.12345, 22000.0, 0.5)
    assert [format_number(n) for n in numbers] == [
        "0.00001",
        "-0.00001",
        "0",
        "1234567.12345",
        "22000",
        "0.5",
    ]


def test_angles_and_minutes_for_people() -> None:
    """Angles show 0.01 degree, minutes all they are counted to, without trailing zeros."""
    assert [format_angle(a) for a in (45, 35.2644, -0.001)] == ["45°", "35.26°", "0°"]
    assert [format_angle(a, decimals=True) for a in (45, 45.004, 35.2644)] == ["45°", "45.004°", "35.26°"]
    assert [format_minutes(m) for m in (27.5, 4.0, 0.125, 1e-9)] == [
        "27.5 min",
        "4 min",
        "0.125 min",
        "0.000000001 min",
    ]
    assert [format_minutes(m) for m in (0.1 + 0.2, 4.85 + 5e-15, -1e-13)] == ["0.3 min", "4.85 min", "0 min"]


def test_fields_read_the_files_unit() -> None:
    """A field reads a bare number in the unit of the validation context, mm without one."""
    length = TypeAdapter(Length)
    assert length.validate_python(2, context={"unit": "in"}) == 50.8
    assert length.validate_python(2, context={"unit": "mm"}) == length.validate_python(2) == 2
    assert TypeAdapter(Angle).validate_python("22.5 deg") == 22.5


@pytest.mark.parametrize(
    ("kind", "value"),
    [
        (PositiveLength, 0),
        (PositiveLength, "-3 mm"),
        (Size, 0),
        (Size, 0.2),
        (Size, "0.001 in"),
        (Minutes, -1),
        (Minutes, float("inf")),
        (Minutes, "3"),
        (Angle, float("nan")),
        (Angle, True),
        (Length, False),
    ],
)
def test_fields_refuse(kind: object, value: object) -> None:
    """Fields refuse what is too small, not finite, or of another type."""
    with pytest.raises(ValidationError):
        TypeAdapter(kind).validate_python(value)
