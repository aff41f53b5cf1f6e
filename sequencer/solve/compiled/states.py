"""States of a pattern in their shortest writing, and the entries they stand in."""

from __future__ import annotations

from typing import Any

import numpy as np

from sequencer.solve.compiled import FAR_32, inner
from sequencer.solve.compiled.absorbed import absorb
from sequencer.solve.compiled.bits import lowest
from sequencer.solve.compiled.layout import (
    ABSORBS,
    ACCEPT,
    BINDS,
    BITS,
    COST,
    COUNT,
    DIALS,
    EASED,
    EXACT,
    FLAT,
    FULL,
    GAINS,
    GROUP,
    GROUPS,
    HASH,
    KIDS,
    LEAST,
    LOOSE,
    NAMED,
    NUMBER,
    ONLY,
    OPEN,
    PATTERN,
    ROOM,
    ROWS,
    RULED,
    SERVES,
    SHELF,
    SHELVES,
    SPENT,
    STATE,
    STATION,
    VALUE,
    VALUES,
    WALK,
    WELL,
    WHEEL,
)
from sequencer.solve.compiled.rows import ONE, Whole, has, meets, ruling, tied
from sequencer.solve.compiled.stopping import helping, revocable

S29, S32 = np.uint64(29), np.uint64(32)
MIX, STIR = np.uint64(0x9E37_79B9_7F4A_7C15), np.uint64(0xBF58_476D_1CE4_E5B9)


@inner
def settle(b: Any, p: Whole, rest: Whole, value: Whole, ready: Whole) -> None:
    """Make every lot that moves no dial, in place, and write idle values ELSEWHERE; `ready` is a scratch row. Those
    that may be revoked are made for now only (`stopping`).

    An idle value may be held by mates that are begun. If all of them name the dial, none of those left accepts the
    value, so there is no way on, ELSEWHERE or not; only mates that do not name it must find it where it stands.
    """
    ints, bits = b.ints, b.bits
    words, dials, ruled = ints[OPEN], ints[p + DIALS], ruling(b, p, rest)
    for_now = revocable(b, p)
    for w in range(words):
        word = bits[rest, w]
        for i in range(dials):
            word &= bits[ints[ints[p + WHEEL + i] + ACCEPT] + ints[value + i], w]
        bits[ready, w] = word
    again = True
    while again:
        again = False
        for w in range(words):
            word = bits[ready, w]
            while word:
                bit = word & (~word + ONE)
                word ^= bit
                item = (w << 6) + lowest(bit)
                free = True
                for x in range(w + 1):
                    if bits[item, x] & bits[rest, x]:
                        free = False
                        break
                if free and not (ruled and tied(b, ruled, rest, item)):
                    bits[rest, w] ^= bit
                    bits[ready, w] ^= bit
                    if for_now and has(b, for_now, item):
                        bits[rest, words + w] |= bit
                    if ruled and has(b, ints[ruled + BINDS], item):
                        again = True
    if ints[p + ABSORBS]:
        absorb(b, p, rest)
    left = rest
    if for_now:
        left = ints[ROWS] + 7
        for w in range(words if ints[p + EASED] else 0):
            bits[rest, words + w] = bits[for_now, w] & ~bits[rest, w]
        helping(b, p, rest, left)
    for i in range(dials):
        if i == ints[p + WALK]:
            continue
        wheel = ints[p + WHEEL + i]
        v, k = ints[value + i], ints[wheel + VALUES]
        busy = meets(
            b, left, ints[wheel + SERVES] + v if v < k and ints[wheel + FLAT] else ints[wheel + NAMED]
        )
        if not busy and ruled:
            for g in range(ints[ruled + GROUPS]):
                if ints[ints[ruled + LOOSE] + g] >> i & 1 and meets(b, rest, ints[ruled + GROUP] + g):
                    busy = True
        if not busy:
            ints[value + i] = k + 1


@inner
def simple(b: Any, p: Whole, rest: Whole, value: Whole) -> Whole:
    """Without search: each value that some remaining lot insists on costs at least its cheapest entry.

    On a single dial that goes for the value it stands at too: what insists on it and is left waits for what accepts
    another one. Where mates or wishes are heeded it may be left for their sake. Where there are stops it may be entered
    from a value that no remaining lot accepts, and afresh where leaving loses the dial.
    """
    ints = b.ints
    total = 0
    lone = ints[p + DIALS] == 1 and not ints[p + RULED]
    for i in range(ints[p + DIALS]):
        wheel = ints[p + WHEEL + i]
        k, v = ints[wheel + VALUES], ints[value + i]
        cost = ints[wheel + COST]
        for to in range(k):
            if (to == v and not lone) or not meets(b, rest, ints[wheel + ONLY] + to):
                continue
            afresh = ints[cost + k * k + to] if ints[wheel + STATION] >= 0 else FAR_32
            if ints[wheel + FLAT] and v != k:
                total += min(afresh, ints[cost + (k + 1) * k + to])
                continue
            least = min(afresh, ints[cost + v * k + to]) if to != v else afresh
            for a in range(k):
                if a != to and (ints[wheel + GAINS] or meets(b, rest, ints[wheel + SERVES] + a)):
                    least = min(least, ints[cost + a * k + to])
            if least < FAR_32:
                total += least
    return total


@inner
def entry_of(b: Any, p: Whole, rest: Whole, value: Whole) -> Whole:
    """The entry of a settled state, made if it is new; -1 when memory is full. The effort is spent when the last one
    there is room for is made.
    """
    ints, bits, info = b.ints, b.bits, b.info
    words, dials, name = bits.shape[1], ints[p + DIALS], ints[p + NUMBER]
    mixed = np.uint64(name + 1) * MIX
    for i in range(dials):
        mixed = (mixed ^ np.uint64(ints[value + i])) * STIR
        mixed ^= mixed >> S29
    shelf = np.int64(mixed >> S32) & (SHELVES - 1)
    for w in range(words):
        mixed = (mixed ^ bits[rest, w]) * MIX
        mixed ^= mixed >> S32
        mixed *= STIR
    hashed = np.int64(mixed >> S32) & 0x7FFF_FFFF
    mask = (1 << ints[BITS]) - 1
    place = hashed & mask
    while True:
        e = np.int64(b.table[place]) - 1
        if e < 0:
            break
        if info[e, HASH] == hashed and info[e, PATTERN] == name:
            same = True
            for w in range(words):
                same = same and b.rest[e, w] == bits[rest, w]
            for i in range(dials):
                same = same and info[e, VALUE + i] == ints[value + i]
            if same:
                return e
        place = (place + 1) & mask
    e = ints[COUNT]
    if e + 1 >= info.shape[0]:
        ints[STATE] = FULL
        return -1
    ints[COUNT] = e + 1
    if e + 1 >= ints[ROOM] and ints[STATE] == WELL:
        ints[STATE] = SPENT
    b.table[place] = e + 1
    empty = True
    for w in range(words):
        b.rest[e, w] = bits[rest, w]
        if bits[rest, w]:
            empty = False
    for field in range(VALUE):
        info[e, field] = 0
    info[e, PATTERN] = name
    info[e, HASH] = hashed
    info[e, SHELF] = shelf
    info[e, EXACT] = empty
    for i in range(dials):
        info[e, VALUE + i] = ints[value + i]
    if not empty and ints[p + EASED] and not ints[p + KIDS]:
        info[e, LEAST] = simple(b, p, rest, value)
    if 2 * (e + 1) > mask:
        grow(b)
    return e


@inner
def grow(b: Any) -> None:
    """A hash table twice as large, as long as there is room."""
    size = 2 << b.ints[BITS]
    if size > b.table.size:
        return
    b.ints[BITS] += 1
    for place in range(size):
        b.table[place] = 0
    for e in range(b.ints[COUNT]):
        place = np.int64(b.info[e, HASH]) & (size - 1)
        while b.table[place]:
            place = (place + 1) & (size - 1)
        b.table[place] = e + 1
