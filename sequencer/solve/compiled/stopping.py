"""Lots made that may be revoked to serve as a stop on the way (`stops`).

The upper half of a state's row says which of the lots made are revocable and can help, where there are such lots at
all. In the whole those are lots that nothing has been moved for and that nothing keeps from being revoked; in a pattern
of eased dials all that were made, again and again, so that there it follows from what is left.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from sequencer.solve.compiled import inner
from sequencer.solve.compiled.bits import lowest
from sequencer.solve.compiled.layout import (
    ACCEPT,
    AHEAD,
    DIALS,
    EASED,
    FIRM,
    GAINS,
    HELPS,
    KIND,
    LOOK,
    MINE,
    NEED,
    OPEN,
    REVOCABLE,
    RULED,
    SERVES,
    VALUES,
    WHEEL,
)
from sequencer.solve.compiled.rows import NONE, ONE, Whole, has, meets


@inner
def revocable(b: Any, p: Whole) -> Whole:
    """The row of lots that may become revocable; 0 for none."""
    rules = b.ints[p + RULED]
    return b.ints[rules + REVOCABLE] if rules else np.int64(0)


@inner
def helping(b: Any, p: Whole, rest: Whole, left: Whole) -> None:
    """Strike out, in place, the revocable lots that cannot help; `left` becomes what is left or may be so again.

    A stop helps if it helps a lot that is left, one that stops and helps itself, or one that such a lot gives back.
    All others could be pulled forward together: on the way of a dial past them each that helps none of its
    neighbours can be left out, beginning with the last.
    """
    ints, bits, open_at = b.ints, b.bits, b.ints[OPEN]
    words = bits.shape[1]
    for w in range(words):
        bits[left, w] = bits[rest, w] if w < open_at else NONE
    again = True
    while again:
        again = False
        for i in range(ints[p + DIALS]):
            wheel = ints[p + WHEEL + i]
            for v in range(ints[wheel + VALUES] if ints[wheel + HELPS] else 0):
                if not meets(b, left, ints[wheel + HELPS] + v):
                    continue
                for w in range(open_at):
                    word = bits[ints[wheel + SERVES] + v, w] & bits[rest, open_at + w]
                    word &= ~bits[left, open_at + w]
                    bits[left, open_at + w] |= word
                    while word:
                        bit = word & (~word + ONE)
                        word ^= bit
                        give_back(b, p, (w << 6) + lowest(bit), left)
                        bits[left, w] |= bit
                        again = True
    for w in range(open_at, words):
        bits[rest, w] = bits[left, w]
        bits[left, w] = NONE


@inner
def give_back(b: Any, p: Whole, item: Whole, rest: Whole) -> None:
    """Add to the lots left, in place, those that must follow one that is revoked."""
    bits = b.bits
    ahead, mine, firm = b.ints[AHEAD] + item, b.ints[p + MINE], b.ints[b.ints[p + RULED] + FIRM]
    if not has(b, firm, item):
        for w in range(b.ints[OPEN]):
            bits[rest, w] |= bits[ahead, w] & bits[mine, w] & ~bits[firm, w]
        bits[rest, item >> 6] &= ~(ONE << np.uint64(item & 63))


@inner
def make_later(b: Any, p: Whole, item: Whole, rest: Whole) -> None:
    """Make a lot here that is revoked, or one that is never made for now: what it waits for stays as it is made."""
    ints, bits, open_at = b.ints, b.bits, b.ints[OPEN]
    if has(b, rest, item):
        bits[rest, item >> 6] ^= ONE << np.uint64(item & 63)
    else:
        give_back(b, p, item, rest)
    if bits.shape[1] > open_at and not ints[p + EASED]:
        bits[rest, open_at + (item >> 6)] &= ~(ONE << np.uint64(item & 63))
        for w in range(open_at):
            bits[rest, open_at + w] &= ~(bits[item, w] | bits[rest, w])


@inner
def may_stop(b: Any, p: Whole, item: Whole, now: Whole, left: Whole) -> bool:
    """Whether a lot has a value to stop at, from these, that helps one of those left."""
    ints = b.ints
    kind = ints[ints[p + KIND] + item]
    for slot in range(ints[kind]):
        need = kind + 1 + NEED * slot
        for r in range(ints[need + 1], ints[need + 2]):
            if gains(b, ints[p + WHEEL + ints[need]], ints[now + ints[need]], ints[r], left):
                return True
    return False


@inner
def stops(b: Any, p: Whole, now: Whole, to: Whole, left: Whole) -> bool:
    """Whether one of these moves is a stop that helps one of those left."""
    for i in range(b.ints[p + DIALS]):  # noqa: SIM110 - generators do not compile
        if gains(b, b.ints[p + WHEEL + i], b.ints[now + i], b.ints[to + i], left):
            return True
    return False


@inner
def gains(b: Any, wheel: Whole, v: Whole, to: Whole, left: Whole) -> bool:
    """Whether stopping at a value on the way from another one helps one of those left."""
    k = b.ints[wheel + VALUES]
    if not b.ints[wheel + GAINS] or v == to or v > k or to >= k:
        return False
    row = b.ints[b.ints[wheel + GAINS] + v * k + to]
    return row >= 0 and meets(b, left, row)


@inner
def stands(b: Any, p: Whole, item: Whole, value: Whole) -> bool:
    """Whether no dial need be moved for a lot."""
    ints = b.ints
    kind = ints[ints[p + KIND] + item]
    for slot in range(ints[kind]):
        i = ints[kind + 1 + NEED * slot]
        if not has(b, ints[ints[p + WHEEL + i] + ACCEPT] + ints[value + i], item):
            return False
    return True


@inner
def waits(b: Any, rest: Whole, item: Whole) -> bool:
    """Whether something that must come before a lot is left."""
    for w in range(b.ints[OPEN]):  # noqa: SIM110 - generators do not compile
        if b.bits[item, w] & b.bits[rest, w]:
            return True
    return False


@inner
def frees(b: Any, p: Whole, item: Whole, rest: Whole, row: Whole) -> bool:
    """Whether nothing goes back to what is left where a lot is revoked, and no wish is paid; `row` is a scratch row."""
    if has(b, b.ints[b.ints[p + RULED] + FIRM], item):
        return False
    for w in range(b.ints[OPEN]):
        b.bits[row, w] = b.bits[rest, w]
    give_back(b, p, item, row)
    for w in range(b.ints[OPEN]):  # noqa: SIM110 - generators do not compile
        if b.bits[row, w] != b.bits[rest, w]:
            return False
    return True


@inner
def like_another(b: Any, p: Whole, item: Whole, rest: Whole, giving: bool, row: Whole) -> bool:
    """Of a pattern: whether a lot is to be passed over, in the first round (`giving`: the second) over those revoked.

    Where nothing goes back and no wish can be paid, one of a kind does; the others are looked at afterwards, where
    there is none such.
    """
    ints = b.ints
    kind = ints[ints[p + KIND] + item]
    seen = kind + 1 + NEED * ints[kind]
    if ints[seen] == ints[LOOK] or frees(b, p, item, rest, row) == giving:
        return True
    if not giving:
        ints[seen] = ints[LOOK]
    return False
