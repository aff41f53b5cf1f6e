"""Keys and values are found at their lines in every way TOML may be written."""

from __future__ import annotations

import tomllib
from typing import Any

import pytest

from sequencer.files.locate import lines_of
from sequencer.model.fields import Place

WRITTEN = '''\
# a comment with [brackets] and "quotes"
title = "a # inside"   # and one behind
"quoted key" = 1
a.b."c d" = 2
long = """
[not.a.table]
x = 1
"""
after_long = 'its'
list = [
  1, # one
  [2, 3],
  { x = 1, y = { z = [
    4] } },
]

[[station]]
id = "saw"
[[station.setting]]
id = "tilt"
stops = [{ value = 0 },
  { value = 45 }]
[[station.setting]]
id = "fence"
[[station]]
id = "mortiser"
[station.where]
at = 1979-05-27 07:32:00
'''

PLACES: dict[Place, int] = {
    ("title",): 2,
    ("quoted key",): 3,
    ("a", "b", "c d"): 4,
    ("long",): 5,
    ("after_long",): 9,
    ("list", 0): 11,
    ("list", 1, 1): 12,
    ("list", 2, "y", "z", 0): 14,
    ("station", 0): 17,
    ("station", 0, "setting", 0, "id"): 20,
    ("station", 0, "setting", 0, "stops", 1, "value"): 22,
    ("station", 0, "setting", 1, "id"): 24,
    ("station", 1, "id"): 26,
    ("station", 1, "where", "at"): 28,
}


@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_places_are_found_at_their_lines(end: str) -> None:
    """Comments, quoted and dotted keys, long texts, nested lists and tables do not lead the count astray."""
    lines = lines_of(WRITTEN.replace("\n", end))
    assert {place: lines[place] for place in PLACES} == PLACES


def test_every_value_has_a_line() -> None:
    """All places of the data that the standard reader finds are located, and no other."""
    found = lines_of(WRITTEN)
    data = tomllib.loads(WRITTEN)
    assert set(found) == set(_places(data))


def _places(data: Any, place: Place = ()) -> list[Place]:
    items = data.items() if isinstance(data, dict) else enumerate(data) if isinstance(data, list) else ()
    here = [place] if place else []
    return here + [each for key, value in items for each in _places(value, (*place, key))]
