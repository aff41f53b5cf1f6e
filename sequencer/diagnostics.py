"""What is wrong, where, and what would be accepted: the only way a fault reaches a person."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from difflib import get_close_matches


@dataclass(frozen=True)
class Fault:
    """One thing that is wrong.

    `message` stands alone ("quantity must be at least 1, not 0"); `file`, `line` and `where`
    ('operation "rip-front", settings.tilt') say where; `accepted` says what would pass.
    """

    message: str
    file: str = ""
    where: str = ""
    line: int | None = None
    accepted: str = ""

    def __str__(self) -> str:
        place = self.file + (f":{self.line}" if self.file and self.line else "")
        head = ": ".join(part for part in (place, self.where, self.message) if part)
        return f"{head}\n    accepted: {self.accepted}" if self.accepted else head


class SequencerError(Exception):
    """Base of every error meant for a person; carries all faults found, each once, and the exit code."""

    exit_code = 2

    def __init__(self, faults: Iterable[Fault] | str) -> None:
        self.faults: tuple[Fault, ...] = (
            (Fault(faults),) if isinstance(faults, str) else tuple(dict.fromkeys(faults))
        )
        super().__init__("\n".join(str(fault) for fault in self.faults))


class InputError(SequencerError):
    """A file or an option cannot be read or is wrong (exit code 2)."""

    exit_code = 2


class NoOrderError(SequencerError):
    """The input is sound but no order can satisfy it: a cycle, or limits no choice can meet (exit code 3)."""

    exit_code = 3


_LONGEST = 80
"""Letters of a name that are told."""
_MOST = 400
"""Letters of names told together."""


def shortened(name: str) -> str:
    """A name to be told in a message: a long one without its end.

    >>> shortened("front"), shortened("front " * 20)[-9:]
    ('front', 'fr...')
    """
    return name if len(name) <= _LONGEST else f"{name[:_LONGEST]}..."


def quoted(names: Iterable[str]) -> str:
    """Names in quotation marks, each once, as many as go into so many letters.

    >>> quoted(["tilt", "fence", "tilt"])
    '"tilt", "fence"'
    """
    return as_many(f'"{shortened(name)}"' for name in names)


def as_many(texts: Iterable[str]) -> str:
    """Texts with commas between them, each once, as many as go into so many letters.

    >>> as_many(["ts (role saw)", "mill"]), as_many(map(str, range(1000)))[-13:]
    ('ts (role saw), mill', '100, 101, ...')
    """
    told = ""
    for text in dict.fromkeys(texts):
        more = f"{told}, {text}" if told else text
        if len(more) > _MOST:
            return f"{told} ..." if told else more
        told = more
    return told


def no_such(key: str, what: str, name: str, known: Iterable[str]) -> str:
    """That a key names a thing there is not, with the nearest one there is.

    >>> no_such("after", "operation", "rpi", ["rip"])
    'after names no operation: "rpi" (did you mean "rip"?)'
    """
    return f'{key} names no {what}: "{shortened(name)}"{nearest(name, known)}'


def nearest(word: str, known: Iterable[str], likeness: float = 0.6) -> str:
    """The known word most like `word`, as a hint (' (did you mean "tilt"?)'), or nothing where none is so like it.

    `likeness` goes from 0 (anything) to 1 (the same word).

    >>> nearest("tillt", ["tilt", "fence"])
    ' (did you mean "tilt"?)'
    """
    close = get_close_matches(word, list(known), n=1, cutoff=likeness)
    return f' (did you mean "{shortened(close[0])}"?)' if close else ""
