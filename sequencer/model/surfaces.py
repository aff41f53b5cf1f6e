"""Surfaces that operations written by hand name: which of them nobody knows, and which look like slips of the pen.

What registers on a surface, or removes it, is ordered by its name alone: a name that is nobody's orders nothing.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Collection, Iterable, Iterator
from typing import NamedTuple, get_args

from sequencer.diagnostics import listed, nearest, no_such, shortened
from sequencer.model.fields import Complaint, Place
from sequencer.model.parts import Surface

BOARD: tuple[str, ...] = get_args(Surface)
BLOCK = "setting block of "
"""How the blocks that derived operations make are called; they are of no part."""


class Named(NamedTuple):
    """A surface as an operation names it: where within the operation, by its plain name, and whether of a board."""

    place: Place
    surface: str
    of_part: bool

    @property
    def key(self) -> str:
        """The key it stands in."""
        return str(self.place[0])


def unknown_surfaces(named: Iterable[Named], made: Collection[str], strict: bool) -> Iterator[Complaint]:
    """A complaint for each surface that is registered on or removed and that no board has and nobody makes.

    `made` are the surfaces that operations make. Unless `strict`, and of what is no board, one may be there without
    being made: only what is a slip of a known name is complained of then.
    """
    known = tuple(dict.fromkeys((*BOARD, *made)))
    for each in named:
        if each.key not in ("registers_on", "destroys") or each.surface in known:
            continue
        if each.surface.startswith(BLOCK) or not ((strict and each.of_part) or _meant(each.surface, known)):
            continue
        yield Complaint(each.place, no_such(each.key, "surface", each.surface, known), listed(known))


def likely_slips(named: Iterable[tuple[str, Named]], made: Collection[str]) -> Iterator[str]:
    """A remark for each surface that one operation alone makes or works on, and whose name is a slip of a known one.

    `named` are all that operations name, with their ids; `made` the surfaces that derived operations make.
    """
    named = tuple(named)
    times = Counter(each.surface for _, each in named)
    known = (*BOARD, *made)
    for id, each in named:
        if each.key not in ("makes", "surface") or times[each.surface] > 1 or each.surface in known:
            continue
        if meant := _meant(each.surface, (*known, *(name for name in times if name != each.surface))):
            says = f'operation "{shortened(id)}": {each.key} names "{shortened(each.surface)}", as nobody else does'
            yield f"{says}{nearest(meant, [meant])}"


def _meant(name: str, known: Iterable[str]) -> str:
    """The known name of which this one is a slip, "" where it is none."""
    return next((other for other in known if other != name and is_slip(name, other)), "")


def is_slip(name: str, other: str) -> bool:
    """Whether two names differ in signs and capitals only, or in one word of three letters or more by one letter: left
    out, another, or two exchanged. Digits, and letters by themselves, tell things apart.

    >>> is_slip("egde", "edge"), is_slip("left-end", "left end"), is_slip("slot 1", "slot 2"), is_slip("b", "a")
    (True, True, False, False)
    """
    words, others = (re.findall(r"\w+", each.lower()) for each in (name, other))
    if "".join(words) == "".join(others):
        return True
    unlike = [(a, b) for a, b in zip(words, others, strict=False) if a != b]
    return len(words) == len(others) and len(unlike) == 1 and _a_letter_apart(*unlike[0])


def _a_letter_apart(a: str, b: str) -> bool:
    """Whether two words differ by one letter: left out, another, or two exchanged."""
    if min(len(a), len(b)) < 3:
        return False
    begins = _alike(a, b)
    a, b = a[begins:], b[begins:]
    ends = _alike(a[::-1], b[::-1])
    a, b = a[: len(a) - ends], b[: len(b) - ends]
    if any(letter.isdigit() for letter in a + b):
        return False
    return max(len(a), len(b)) <= 1 or (len(a) == 2 and a == b[::-1])


def _alike(a: str, b: str) -> int:
    """How many letters two words begin with alike."""
    return next((k for k, (x, y) in enumerate(zip(a, b, strict=False)) if x != y), min(len(a), len(b)))
