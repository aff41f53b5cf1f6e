"""Where each key and value of a TOML text stands: `tomllib` keeps no line numbers.

`tomllib` has read the text before, so it is known to be well formed; this scan only follows its shape.
"""

from __future__ import annotations

import re
import tomllib

from sequencer.model.fields import Place

_BLANK = re.compile(r"(?:[ \t\n]|#[^\n]*)*")
_KEY = re.compile(r"""[ \t]*("(?:[^"\\]|\\.)*"|'[^']*'|[A-Za-z0-9_-]+)[ \t]*""")
_TEXT = re.compile(
    r'''"""(?:[^"\\]|\\[\s\S]|"(?!""))*"{3,5}|\'\'\'(?:[^']|'(?!''))*'{3,5}|"(?:[^"\\\n]|\\.)*"|'[^'\n]*\''''
)
_BARE = re.compile(r"[^,\]}#\n]+")


def lines_of(text: str) -> dict[Place, int]:
    """The line (from 1) of every table, key and list entry of a well-formed TOML text.

    >>> lines_of("[a]\\nb = [1,\\n2]\\n[[c]]\\n[[c]]\\nd.e = 3")[("c", 1, "d", "e")]
    6
    """
    return _Scan(text.replace("\r\n", "\n")).lines


class _Scan:
    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.counted, self.line = 0, 1
        self.lines: dict[Place, int] = {}
        self.lists: dict[Place, int] = {}
        """How many `[[tables]]` there have been of each name."""
        table: Place = ()
        while self._skip() < len(text):
            if text.startswith("[", self.at):
                table = self._header()
            else:
                self._pair(table)

    def _skip(self) -> int:
        found = _BLANK.match(self.text, self.at)
        self.at = found.end() if found else self.at
        return self.at

    def _note(self, place: Place) -> None:
        self.line += self.text.count("\n", self.counted, self.at)
        self.counted = self.at
        self.lines.setdefault(place, self.line)

    def _keys(self) -> list[str]:
        """The keys of a dotted key, decoded."""
        keys: list[str] = []
        while found := _KEY.match(self.text, self.at):
            self.at = found.end()
            key = found[1]
            keys.append(str(tomllib.loads(f"k = {key}")["k"]) if key[0] in "\"'" else key)
            if not self.text.startswith(".", self.at):
                break
            self.at += 1
        return keys

    def _header(self) -> Place:
        several = self.text.startswith("[[", self.at)
        start = self.at
        self.at += 2 if several else 1
        keys, end = self._keys(), self.at + (2 if several else 1)
        self.at = start
        place: Place = ()
        for depth, key in enumerate(keys):
            place = (*place, key)
            if several and depth == len(keys) - 1:
                self._note(place)
                self.lists[place] = self.lists.get(place, 0) + 1
            if place in self.lists:
                place = (*place, self.lists[place] - 1)
            self._note(place)
        self.at = end
        return place

    def _pair(self, table: Place) -> None:
        start = self.at
        keys, end = self._keys(), self.at
        self.at = start
        place = table
        for key in keys:
            place = (*place, key)
            self._note(place)
        self.at = end + 1  # the equals sign
        self._value(place)

    def _value(self, place: Place) -> None:
        self._skip()
        self._note(place)
        match self.text[self.at : self.at + 1]:
            case "[":
                self._entries(place)
            case "{":
                self._inline(place)
            case _:
                found = _TEXT.match(self.text, self.at) or _BARE.match(self.text, self.at)
                self.at = found.end() if found else self.at + 1

    def _entries(self, place: Place) -> None:
        self.at += 1
        index = 0
        while self._skip() < len(self.text) and self.text[self.at] != "]":
            self._value((*place, index))
            index += 1
            if self.text.startswith(",", self._skip()):
                self.at += 1
        self.at += 1

    def _inline(self, place: Place) -> None:
        self.at += 1
        while self._skip() < len(self.text) and self.text[self.at] != "}":
            self._pair(place)
            if self.text.startswith(",", self._skip()):
                self.at += 1
        self.at += 1
