"""Lots struck out of a state because they will be made beside others.

Most states differ little from others seen before, so what decided last time is noted for each lot of a pattern, and
looked at first.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from sequencer.solve.compiled import inner
from sequencer.solve.compiled.bits import highest, lowest
from sequencer.solve.compiled.layout import AHEAD, BESIDE, KIND, LIKE, NEED, OPEN, ROWS, WATCH
from sequencer.solve.compiled.rows import NONE, ONE, Whole, has


@inner
def absorb(b: Any, p: Whole, rest: Whole) -> None:
    """Strike out, in place, the lots that will be made beside another one for nothing.

    Such a lot asks for no more than the other on any dial of the pattern, and what is left that must precede or
    follow it must also precede or follow the other, or is that one. So in any order of the lots without it, it can be
    put beside the other: there the dials stand right, all it waits for is made, and nothing that waits for it is. The
    rest costs the same with it and without; one strike after the other, the same holds of what is left. Lots of which
    mates or wishes are heeded are not struck out.

    The more is made, the more lots there are of which this is true, so states that differ in such lots only become one.
    """
    ints, bits = b.ints, b.bits
    for a_word in range(ints[OPEN]):
        todo = bits[rest, a_word] & bits[ints[p + LIKE], a_word]
        while todo:
            bit = todo & (~todo + ONE)
            todo ^= bit
            a = (a_word << 6) + lowest(bit)
            if not still_apart(b, ints[p + WATCH] + 2 * a, rest) and (
                still_beside(b, rest, a, ints[ints[p + BESIDE] + a]) or beside(b, p, rest, a)
            ):
                bits[rest, a_word] ^= bit


@inner
def still_apart(b: Any, watch: Whole, rest: Whole) -> bool:
    """Whether all that last kept a lot from being struck out is left, and none of the others this does not hold for."""
    for w in range(b.ints[OPEN]):
        word = b.bits[rest, w]
        if (b.bits[watch, w] & ~word) | (b.bits[watch + 1, w] & word):
            return False
    return True


@inner
def still_beside(b: Any, rest: Whole, a: Whole, other: Whole) -> bool:
    """Whether a lot can be struck out beside the other one as it was before."""
    if other < 0 or not has(b, rest, other):
        return False
    bits, ahead = b.bits, b.ints[AHEAD]
    for w in range(b.ints[OPEN]):
        late = bits[ahead + a, w] & ~bits[ahead + other, w]
        early = bits[a, w] & ~bits[other, w]
        if w == a >> 6:
            late &= ~(ONE << np.uint64(a & 63))
        if w == other >> 6:
            early &= ~(ONE << np.uint64(other & 63))
        if (late | early) & bits[rest, w]:
            return False
    return True


@inner
def beside(b: Any, p: Whole, rest: Whole, a: Whole) -> bool:
    """Whether a lot can be struck out beside another one.

    What decides it is noted: where it can, the other one; where it cannot, lots before and after it that keep it from
    that, and the others that these do not keep it from, none of which is left.
    """
    ints, bits = b.ints, b.bits
    words = ints[OPEN]
    ahead = ints[AHEAD]
    kind = ints[ints[p + KIND] + a]
    row = ints[kind + 2 + NEED * ints[kind]]
    watch = ints[p + WATCH] + 2 * a
    others, near = watch + 1, ints[ROWS] + 6
    some = NONE
    for w in range(words):
        bits[watch, w] = NONE
        bits[others, w] = bits[row, w]
        bits[near, w] = bits[rest, w] & bits[ahead + a, w]
    bits[others, a >> 6] &= ~(ONE << np.uint64(a & 63))
    bits[near, a >> 6] &= ~(ONE << np.uint64(a & 63))
    for w in range(words):
        some |= bits[others, w] & bits[rest, w]
    w = 0
    while some and w < words:  # the nearest lots after it stand for all that are
        word = bits[near, w]
        if not word:
            w += 1
            continue
        low = word & (~word + ONE)
        x = (w << 6) + lowest(low)
        bits[watch, w] |= low
        some = NONE
        for v in range(words):
            own = low if v == w else NONE
            bits[others, v] &= bits[x, v] | own
            some |= bits[others, v] & bits[rest, v]
            bits[near, v] &= ~bits[ahead + x, v]
    if not some:
        return False
    for w in range(words):
        bits[near, w] = bits[rest, w] & bits[a, w]
    w = words - 1
    while some and w >= 0:  # the nearest lots before it
        word = bits[near, w]
        if not word:
            w -= 1
            continue
        x = (w << 6) + highest(word)
        bits[watch, w] |= ONE << np.uint64(x & 63)
        some = NONE
        for v in range(words):
            bits[others, v] &= bits[ahead + x, v]
            some |= bits[others, v] & bits[rest, v]
            bits[near, v] &= ~bits[x, v]
        bits[near, w] &= ~(ONE << np.uint64(x & 63))
    if not some:
        return False
    for w in range(words):
        word = bits[others, w] & bits[rest, w]
        if word:
            ints[ints[p + BESIDE] + a] = (w << 6) + lowest(word)
            break
    return True
