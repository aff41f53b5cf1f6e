"""The page the terminal reports are set on: one grid, few styles, and no sign the stream cannot carry.

User text reaches the page only as `rich.text.Text`, never as markup. Every text is first brought to what the
stream's encoding can carry, before lines are broken, so that the width holds in ASCII too.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Sequence
from typing import IO

from rich.cells import cell_len
from rich.console import Console
from rich.text import Text

from sequencer.report.line_ends import bound

WIDEST = 120
"""Beyond this many columns lines would be too long to read."""
NARROWEST = 40

INDENT = 2
LABEL = 13
"""Columns of a label, its gap included; what it labels stands beside it."""

HEADING = "bold"
MOVED = "bold magenta"
CAREFUL = "bold red"
GOOD = "bold green"
QUIET = "dim"

STAND_INS = {
    "°": " deg",
    "×": "x",
    "→": "->",
    "·": "|",
    "□": "[ ]",
    "━": "=",
    "─": "-",
    "▸": ">",
    "–": "-",
    "—": "-",
    "−": "-",
    "…": "...",
    "‘": "'",
    "’": "'",
    "“": '"',
    "”": '"',
    "≤": "<=",
    "≥": ">=",
    "⁄": "/",
    "æ": "ae",
    "ø": "o",
    "ß": "ss",
}
"""What stands for a sign the stream cannot carry; other letters lose their accents, the rest becomes "?"."""

_TIE = "\ufdd0"
"""Stands for a space at which no line is broken, while lines are broken; it is no character. (A no-break space is a
space to rich.)"""


def make_console(file: IO[str], width: int | None = None) -> Console:
    """A console that takes text as it is: no markup, no emoji codes, nothing coloured by guessing."""
    return Console(file=file, width=width, markup=False, emoji=False, highlight=False)


class Page:
    """Writes lines, labelled entries and columns to a console, none wider than the console."""

    def __init__(self, console: Console) -> None:
        self.console = console
        self.width = max(NARROWEST, min(console.width, WIDEST))
        self._signs: dict[str, str] = {}
        self._blank = False  # whether the last line is an empty one

    def plain(self, words: str) -> str:
        """The words as the stream can carry them, on one line, without control characters."""
        return "".join(self._signs.get(sign) or self._settle(sign) for sign in words)

    def text(self, *pieces: str | Text | tuple[str, str]) -> Text:
        """One text from words, words with a style, and texts."""
        whole = Text()
        for piece in pieces:
            if isinstance(piece, Text):
                whole.append_text(piece)
            elif isinstance(piece, str):
                whole.append(self.plain(piece))
            else:
                whole.append(self.plain(piece[0]), style=piece[1])
        return whole

    def blank(self) -> None:
        """An empty line, if there is none yet: whatever is set apart from what stands above may ask for one."""
        if not self._blank:
            self.console.print()
        self._blank = True

    def line(self, *pieces: str | Text | tuple[str, str], indent: int = 0) -> None:
        """A paragraph, broken at words."""
        self._put(self.text(*pieces), Text(" " * indent))

    def heading(self, words: str, beside: str = "") -> None:
        """A heading over a thin line, with an empty line before; `beside` stands at the right end."""
        self.blank()
        self.sides(self.text((words, HEADING)), self.text((beside, QUIET)))
        self.stroke("─")

    def bar(self, words: Text, beside: str = "") -> None:
        """A title under a heavy line, for the top of a card."""
        self.stroke("━")
        self.sides(words, self.text((beside, QUIET)))

    def sides(self, left: Text, right: Text) -> None:
        """Two texts on one line, at its two ends; on two lines where they do not fit."""
        space = self.width - left.cell_len - right.cell_len
        if space >= 2:
            self._print(left + Text(" " * space) + right)
        else:
            self._put(left, Text())
            self._put(right, Text())

    def stroke(self, sign: str) -> None:
        """A line across the page."""
        mark = self.plain(sign)
        self._print(Text(mark * (self.width // len(mark)), style=QUIET))

    def entry(
        self,
        label: str,
        *pieces: str | Text | tuple[str, str],
        indent: int = INDENT,
        style: str = QUIET,
        at: int = LABEL,
    ) -> None:
        """A label with what it labels beside it, broken at words under its own left edge."""
        head = self.text(" " * indent, (label, style))
        head.append(" " * max(1, indent + at - head.cell_len))
        self._put(self.text(*pieces), head, hang=indent + at)

    def items(self, label: str, items: Iterable[Text], indent: int = INDENT, at: int = LABEL) -> None:
        """A labelled row of items, parted by dots, broken only between items where these fit a line."""
        room = self.width - indent - at
        rows: list[Text] = []
        for item in items:
            if rows and rows[-1].cell_len + 3 + item.cell_len <= room:
                rows[-1] = self.text(rows[-1], (" · ", QUIET), item)
            else:
                rows.append(item)
        for number, row in enumerate(rows):
            self.entry("" if number else label, row, indent=indent, at=at)

    def columns(self, rows: Sequence[Sequence[Text]], gap: int = 2) -> None:
        """Rows of cells: the first column flush left and broken where it must be, the others flush right."""
        if not rows:
            return
        others = [max(row[column].cell_len for row in rows) for column in range(1, len(rows[0]))]
        widest = max(row[0].cell_len for row in rows)
        while gap > 1 and INDENT + widest + sum(others) + gap * len(others) > self.width:
            gap -= 1
        first = max(8, min(widest, self.width - INDENT - sum(others) - gap * len(others)))
        for row in rows:
            lines = self._lines(row[0], first) or [Text()]
            for line in lines[:-1]:
                self._print(Text(" " * INDENT) + line)
            last = Text(" " * INDENT) + lines[-1]
            last.append(" " * (first - lines[-1].cell_len))
            for cell, width in zip(row[1:], others, strict=True):
                last.append(" " * (gap + width - cell.cell_len)).append_text(cell)
            self._print(last)

    def row(self, number: str, words: Text, *cells: tuple[Text, int], at: int = 5) -> None:
        """A numbered row: words broken at words, and cells flush right in the widths given."""
        room = self.width - at - sum(width + 2 for _, width in cells)
        lines = self._lines(words, room) or [Text()]
        head = Text(" " * max(0, at - 2 - cell_len(number)) + number + "  ", style=HEADING)
        first = head + lines[0]
        first.append(" " * (room - lines[0].cell_len))
        for cell, width in cells:
            first.append(" " * (2 + width - cell.cell_len)).append_text(cell)
        self._print(first)
        for line in lines[1:]:
            self._print(Text(" " * at) + line)

    def _put(self, words: Text, head: Text, hang: int | None = None) -> None:
        hang = min(head.cell_len if hang is None else hang, self.width // 2)
        lines = self._lines(words, max(8, self.width - hang))
        if not lines:
            return
        if head.cell_len > hang:  # a label too long for its column has a line of its own
            self._print(head)
            head = Text(" " * hang)
        for number, line in enumerate(lines):
            self._print((Text(" " * hang) if number else head) + line)

    def _lines(self, words: Text, room: int) -> list[Text]:
        """The words broken into lines of so many columns, never between a number and what it counts."""
        signs = list(words.plain)
        for first, last in bound(words.plain):
            if last - first <= room:
                signs[first:last] = words.plain[first:last].replace(" ", _TIE)
        whole = words.copy()
        whole.plain = "".join(signs)
        lines = list(whole.wrap(self.console, room, overflow="fold"))
        for line in lines:
            line.plain = line.plain.replace(_TIE, " ")  # what is copied has plain spaces
        return lines

    def _print(self, line: Text) -> None:
        line.rstrip()
        self.console.print(line, soft_wrap=True)
        self._blank = False

    def _settle(self, sign: str) -> str:
        settled = self._carried(sign)
        self._signs[sign] = settled
        return settled

    def _carried(self, sign: str) -> str:
        kind = unicodedata.category(sign)
        if kind in ("Cc", "Cf", "Zl", "Zp"):
            return " " if sign.isspace() else "?" if kind == "Cc" else ""
        if self._fits(sign):
            return sign
        if sign in STAND_INS and self._fits(STAND_INS[sign]):
            return STAND_INS[sign]
        bare = "".join(c for c in unicodedata.normalize("NFKD", sign) if not unicodedata.combining(c))
        return bare if bare and self._fits(bare) else "?"

    def _fits(self, words: str) -> bool:
        try:
            words.encode(self.console.encoding)
        except (UnicodeEncodeError, LookupError):
            return False
        return True
