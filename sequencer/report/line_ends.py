"""Where no line may end, on paper and in a terminal: between a number and what it counts, and the like."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator

FRACTION = r"(\d+ )?\d+/\d+( in\b)?( \([\d.]+\))?"
"""A fraction with its whole number, its unit and its decimals."""
_TIMES = r"(×|\bx)"  # x where a stream cannot carry the sign
_SIDE = rf"({FRACTION}|\d[\d.]*( (mm|in)\b)?( \([\d.]+\))?)"
SIZES = rf"\b{_SIDE}( {_TIMES} {_SIDE})+"
"""Sizes multiplied, with the unit of each or of the last."""
_PARAGRAPH = r"\([a-z0-9]+\)"
TIED = (
    rf"{_TIMES} {FRACTION}|\b(?i:cards?|steps?|sheets?|parts?|plan|remade) \d+\b"
    rf"|\b\d+ CFR \d[\d.]*({_PARAGRAPH})*|{_PARAGRAPH}({_PARAGRAPH})+|\b[a-z_]+ = {_SIDE}"
    rf"|({_TIMES} )?\d[\d.]* ([a-z]{{1,12}}\b|%)|{_TIMES} \d+(\.\d+)?"
)
"""A number with the unit or thing it counts, a thing with its number, a part with how often it was remade, a part of a
code with its title and paragraphs, a key with its number; read by Python and by the typesetter alike. What begins like
a fraction takes all of it: half a fraction is not set as one."""
GO_ON = (
    *("to", "and", "or", "of", "from", "is", "are", "at", "on", "by", "as", "for", "the", "with", "will"),
    "than",
)
"""Words that go with what follows may begin the next line."""

_BOUND = re.compile(f"{FRACTION}|{TIED}")
_SIZES = re.compile(SIZES)


def bound(text: str) -> Iterator[tuple[int, int]]:
    """Where the runs of text begin and end within which no line may end: sizes multiplied first, then what is tied
    within them or elsewhere, for lines that cannot hold all sizes together.

    >>> words = "from 1 3/8 in to 475 mm, 3 of step 12, 6 × 32 mm"
    >>> [words[first:last] for first, last in bound(words)]
    ['6 × 32 mm', '1 3/8 in', '475 mm', 'step 12', '× 32 mm']
    """
    for found in _SIZES.finditer(text):
        yield found.span()
    for found in _BOUND.finditer(text):
        if found[0].rpartition(" ")[2] not in GO_ON:
            yield found.span()


def unbroken(text: str, fits: Callable[[str], bool]) -> list[str]:
    """The text between the spaces at which lines may end; a run that no line holds is parted at its own spaces.

    >>> unbroken("slip 6 × 32 mm deep", lambda run: len(run) < 12)
    ['slip', '6 × 32 mm', 'deep']
    """
    tied = {
        at
        for first, last in bound(text)
        if fits(text[first:last])
        for at in range(first, last)
        if text[at] == " "
    }
    ends = [at for at, sign in enumerate(text) if sign == " " and at not in tied]
    return [text[a + 1 : b] for a, b in zip([-1, *ends], [*ends, len(text)], strict=True)]
