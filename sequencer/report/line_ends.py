"""Where no line may end, on paper and in a terminal: between a number and what it counts, and the like."""

from __future__ import annotations

import re
from collections.abc import Iterator

FRACTION = r"(\d+ )?\d+/\d+( in\b)?( \([\d.]+\))?"
"""A fraction with its whole number, its unit and its decimals."""
TIED = (
    rf"× {FRACTION}|\b(?i:cards?|steps?|sheets?|parts?|plan) \d+\b"
    r"|(× )?\d[\d.]* ([a-z]{1,12}\b|%)|× \d+(\.\d+)?"
)
"""A number with the unit or thing it counts, a thing with its number; read by Python and by the typesetter alike. What
begins like a fraction takes all of it: half a fraction is not set as one."""
GO_ON = (
    *("to", "and", "or", "of", "from", "is", "are", "at", "on", "by", "as", "for", "the", "with", "will"),
    "than",
)
"""Words that go with what follows may begin the next line."""

_BOUND = re.compile(f"{FRACTION}|{TIED}")


def bound(text: str) -> Iterator[tuple[int, int]]:
    """Where the runs of text begin and end within which no line may end.

    >>> words = "from 1 3/8 in to 475 mm, 3 of step 12"
    >>> [words[first:last] for first, last in bound(words)]
    ['1 3/8 in', '475 mm', 'step 12']
    """
    for found in _BOUND.finditer(text):
        if found[0].rpartition(" ")[2] not in GO_ON:
            yield found.span()
