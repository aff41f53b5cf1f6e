"""Rows of lots: what they have in common, what waits for nothing, and what mates and wishes forbid.

Lots are passed as a row of `bits`, a pattern or what it heeds as the place in `ints` where its record begins.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from sequencer.solve.compiled import inner
from sequencer.solve.compiled.bits import lowest
from sequencer.solve.compiled.layout import AHEAD, BINDS, FIRM, GROUP, GROUPS, OPEN, RULED, TIED, WISHES

Whole = Any
"""A whole number, numpy's or Python's."""

ONE = np.uint64(1)
NONE = np.uint64(0)


@inner
def meets(b: Any, one: Whole, other: Whole) -> bool:
    """Whether two rows of lots have any in common."""
    for w in range(b.bits.shape[1]):  # noqa: SIM110 - generators do not compile
        if b.bits[one, w] & b.bits[other, w]:
            return True
    return False


@inner
def has(b: Any, row: Whole, item: Whole) -> Any:
    """Whether a lot is in a row."""
    return b.bits[row, item >> 6] >> np.uint64(item & 63) & ONE != NONE


@inner
def first_of(b: Any, left: Whole) -> Whole:
    """The next lot of `left` that waits for nothing, struck out there with all that follows it; -1 at the end."""
    for w in range(b.bits.shape[1]):
        word = b.bits[left, w]
        if word:
            item = (w << 6) + lowest(word)
            ahead = b.ints[AHEAD] + item
            for x in range(w, b.bits.shape[1]):
                b.bits[left, x] &= ~b.bits[ahead, x]
            return item
    return -1


@inner
def mates(b: Any, group: Whole, rest: Whole, item: Whole) -> Whole:
    """0: all other lots of a group of mates are made or none is left; 1: it is not begun; 2: begun, not finished."""
    begun = others = False
    for w in range(b.bits.shape[1]):
        lots = b.bits[group, w]
        if lots & ~b.bits[rest, w]:
            begun = True
        lots &= b.bits[rest, w]
        if item >> 6 == w:
            lots &= ~(ONE << np.uint64(item & 63))
        if lots:
            others = True
    return (2 if begun else 1) if others else 0


@inner
def tied(b: Any, rules: Whole, rest: Whole, item: Whole) -> bool:
    """Whether a lot is not free: by its dials, because it waits for revocable ones and is bound to others, because it
    would bind mates not bound already, or go against a wish.
    """
    ints = b.ints
    if not has(b, ints[rules + BINDS], item):
        return False
    if has(b, ints[rules + TIED], item):
        return True
    open_at = ints[OPEN]
    for w in range(open_at, 0 if has(b, ints[rules + FIRM], item) else b.bits.shape[1]):
        if b.bits[item, w - open_at] & b.bits[rest, w]:
            return True
    for group in range(ints[rules + GROUP], ints[rules + GROUP] + ints[rules + GROUPS]):
        if has(b, group, item) and mates(b, group, rest, item) == 1:
            return True
    wishes = ints[rules + WISHES] + item
    for wish in range(ints[wishes], ints[wishes + 1], 2):  # noqa: SIM110 - generators do not compile
        if has(b, rest, ints[wish]):
            return True
    return False


@inner
def ruling(b: Any, p: Whole, rest: Whole) -> Whole:
    """Where the record of what a pattern heeds begins; 0 where nothing that it concerns is left."""
    rules = b.ints[p + RULED]
    return rules if rules and meets(b, rest, b.ints[rules + BINDS]) else np.int64(0)
