"""Words and numbers as a sentence lists them."""

from __future__ import annotations

from collections.abc import Iterable


def listed(words: Iterable[str]) -> str:
    """Words as a list in a sentence.

    >>> listed(["a", "b", "c"])
    'a, b and c'
    """
    *most, last = words
    return f"{', '.join(most)} and {last}" if most else last


def numbered(what: str, numbers: Iterable[int]) -> str:
    """Cards, steps and the like by number.

    >>> numbered("card", [3]), numbered("card", [3, 5, 6])
    ('card 3', 'cards 3, 5 and 6')
    """
    words = [str(number) for number in numbers]
    return f"{what}{'s' if len(words) > 1 else ''} {listed(words)}"
