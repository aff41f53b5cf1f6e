"""Surfaces that operations written by hand name: which of them nobody knows, and which look like slips of the pen.

What registers on a surface, or removes it, is ordered by its part and name alone: what nobody makes orders nothing.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping
from typing import NamedTuple, assert_never, get_args

from sequencer.diagnostics import nearest, no_such, quoted, shortened
from sequencer.model.fields import Complaint, Place
from sequencer.model.parts import (
    CaseMitre,
    EdgeToEdge,
    EndToEdge,
    EndToFace,
    FrameMitre,
    Groove,
    Housing,
    Joint,
    LegToApron,
    Rebate,
    Splayed,
    Stave,
    Surface,
)

BOARD: tuple[str, ...] = get_args(Surface)
BLOCK = "setting block of "
"""How the blocks that derived operations make are called; they are of no part."""


Made = Mapping[str, tuple[str, ...]]
"""The surfaces that operations make beside a board's own, by their part; "": those of no part."""


def made_by(joint: Joint) -> Iterator[tuple[str, str]]:
    """The surfaces, each with its part, that derived operations of a joint may make beside a board's own, by any of
    its ways.
    """
    match joint:
        case CaseMitre() | Splayed():
            for number, part in enumerate(joint.parts):
                if joint.kind == "splayed" or joint.closed or number > 0:
                    yield part, "left bevel"
                if joint.kind == "splayed" or joint.closed or number < len(joint.parts) - 1:
                    yield part, "right bevel"
                if joint.kind == "splayed" and joint.level_edges:
                    yield part, "level edge"
                    yield part, "level far edge"
        case FrameMitre():
            yield from ((part, mitre) for part in joint.parts for mitre in ("left mitre", "right mitre"))
        case Stave():
            yield from ((part, bevel) for part in joint.parts for bevel in ("edge bevel", "far edge bevel"))
        case EdgeToEdge():
            yield from ((part, "glued-up panel") for part in joint.parts)
        case Groove() | Rebate() | Housing():
            yield from ((part, f"{joint.kind} {joint.id}") for part in joint.parts)
        case EndToEdge() | EndToFace() | LegToApron():
            pass
        case _:
            assert_never(joint)


def by_part(surfaces: Iterable[tuple[str, str]]) -> dict[str, tuple[str, ...]]:
    """Surfaces, each given with its part, by their parts; each once."""
    found: dict[str, dict[str, None]] = {}
    for part, surface in surfaces:
        found.setdefault(part, {})[surface] = None
    return {part: tuple(names) for part, names in found.items()}


class Named(NamedTuple):
    """A surface as an operation names it: where within the operation, by its plain name, and of which parts."""

    place: Place
    surface: str
    parts: tuple[str, ...]
    """Those it is written with, else those of its operation; none where it is of no board."""

    @property
    def key(self) -> str:
        """The key it stands in."""
        return str(self.place[0])


class Known:
    """The surfaces that boards have or that operations make of whatever part, in their order."""

    def __init__(self, made: Made) -> None:
        self.part_of: dict[str, str] = {}
        """For each surface that is made the first part it is made of."""
        for part, surfaces in made.items():
            for surface in surfaces:
                self.part_of.setdefault(surface, part)
        self.names = tuple(dict.fromkeys((*BOARD, *self.part_of)))
        self.slips = _Slips(self.names)


def unknown_surfaces(
    named: Iterable[Named], made: Made, anywhere: Known, strict: bool
) -> Iterator[Complaint]:
    """A complaint for each surface that is registered on or removed and that its board has not and nobody makes of it.

    Of an operation on several parts one of them has it. Unless `strict`, and of what is no board, a surface may be
    there without being made: only what is a slip of a known name, of whatever part, is complained of then.
    """
    for each in named:
        if each.key not in ("registers_on", "destroys") or each.surface.startswith(BLOCK):
            continue
        if strict and each.parts:
            known = known_of(each.parts, made)
        elif each.surface not in anywhere.part_of and anywhere.slips.meant(each.surface):
            known = anywhere.names
        else:
            continue
        if each.surface in known:
            continue
        way_out = f', or an operation with makes = ["{shortened(each.surface)}"]' if each.surface else ""
        if each.surface in anywhere.part_of:
            message = f'{each.key} names no surface of {quoted(each.parts)}: "{shortened(each.surface)}"'
            elsewhere = f"{anywhere.part_of[each.surface]}/{each.surface}"
            message += nearest(elsewhere, [elsewhere])
        else:
            message = no_such(each.key, "surface", each.surface, known)
        yield Complaint(each.place, message, quoted(known) + way_out)


def known_of(parts: Iterable[str], made: Made) -> tuple[str, ...]:
    """The surfaces that one or the other of these parts has or is given."""
    return tuple(dict.fromkeys((*BOARD, *(name for part in parts for name in made.get(part, ())))))


def likely_slips(named: Iterable[tuple[str, Named]], made: Collection[str]) -> Iterator[str]:
    """A remark for each surface that one operation alone makes or works on, and whose name is a slip of a known one.

    `named` are all that operations name, with their ids; `made` the surfaces that derived operations make.
    """
    named = tuple(named)
    times = Counter(each.surface for _, each in named)
    known = {*BOARD, *made}
    slips = _Slips((*BOARD, *made, *times))
    for id, each in named:
        if each.key not in ("makes", "surface") or times[each.surface] > 1 or each.surface in known:
            continue
        if meant := slips.meant(each.surface):
            says = f'operation "{shortened(id)}": {each.key} names "{shortened(each.surface)}", as nobody else does'
            yield f"{says}{nearest(meant, [meant])}"


class _Slips:
    """Known names in their order, among which the one is found that another is a slip of. No slip changes a digit, so
    that of thousands of numbered names those alone are compared that have the same digits.
    """

    def __init__(self, known: Iterable[str]) -> None:
        self._known: dict[str, list[str]] = {}
        for name in dict.fromkeys(known):
            self._known.setdefault(_digits(name), []).append(name)

    def meant(self, name: str) -> str:
        """The first known name of which this one is a slip, "" where it is none."""
        alike = self._known.get(_digits(name), ())
        return next((other for other in alike if other != name and is_slip(name, other)), "")


def _digits(name: str) -> str:
    return "".join(letter for letter in name if letter.isdigit())


def is_slip(name: str, other: str) -> bool:
    """Whether two names differ in signs and capitals only, or in one word of three letters or more by a letter behind
    its first: left out, too many or another, or by two that are exchanged. Another first letter makes another word;
    digits, and letters by themselves, tell things apart.

    >>> is_slip("egde", "edge"), is_slip("left-end", "left end"), is_slip("slot 1", "slot 2"), is_slip("b", "a")
    (True, True, False, False)
    >>> is_slip("edgge", "edge"), is_slip("ledge", "edge"), is_slip("rack", "back")
    (True, False, False)
    """
    words, others = (re.findall(r"\w+", each.lower()) for each in (name, other))
    if "".join(words) == "".join(others):
        return True
    unlike = [(a, b) for a, b in zip(words, others, strict=False) if a != b]
    return len(words) == len(others) and len(unlike) == 1 and _a_letter_apart(*unlike[0])


def _a_letter_apart(a: str, b: str) -> bool:
    """Whether two words differ by a letter behind the first, or by two exchanged."""
    if min(len(a), len(b)) < 3:
        return False
    begins = _alike(a, b)
    a, b = a[begins:], b[begins:]
    ends = _alike(a[::-1], b[::-1])
    a, b = a[: len(a) - ends], b[: len(b) - ends]
    if any(letter.isdigit() for letter in a + b):
        return False
    return (begins > 0 and max(len(a), len(b)) <= 1) or (len(a) == 2 and a == b[::-1])


def _alike(a: str, b: str) -> int:
    """How many letters two words begin with alike."""
    return next((k for k, (x, y) in enumerate(zip(a, b, strict=False)) if x != y), min(len(a), len(b)))
