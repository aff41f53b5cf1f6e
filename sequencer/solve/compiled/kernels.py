"""Questions to patterns, compiled: what `patterns.Pattern` does in Python, on the arrays of `layout`.

`ask` is the whole method in one place: A* on a pattern, its states evaluated when they come to the front, by asking the
patterns it was merged from, each only for what would push the state back.

A pattern, a wheel or a kind of lot is passed as the place in `ints` where its record begins; lots as a row of `bits`;
values as the place in `ints` where they stand.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from sequencer.solve.compiled import inner, kernel
from sequencer.solve.compiled.bits import highest, lowest
from sequencer.solve.compiled.layout import (
    ACCEPT,
    AHEAD,
    BINDS,
    BITS,
    CHILD,
    COST,
    COUNT,
    DEPTH,
    DIALS,
    EASED,
    EXACT,
    FAR,
    FLAT,
    FULL,
    GOAL,
    GROUP,
    GROUPS,
    GUIDE,
    GUIDES,
    HASH,
    HEAP,
    HELD,
    HELPED,
    KEEP,
    KEPT,
    KID,
    KIDS,
    KIND,
    LEAST,
    LEVEL,
    LIKE,
    LIMIT,
    LOOK,
    LOOSE,
    MADE,
    MINDED,
    MINE,
    NAMED,
    NEED,
    NEWS,
    NOTED,
    NOW,
    NUMBER,
    ONLY,
    OPENED,
    OPTION,
    OPTIONS,
    PAID,
    PARENT,
    PATTERN,
    PLAIN,
    ROWS,
    RULED,
    SEARCH,
    SERVES,
    SHUT,
    SPENT,
    STATE,
    STATION,
    STOP,
    STOPPED,
    TARGETS,
    TIED,
    TO,
    TOP,
    TRAIL,
    VALUE,
    VALUES,
    VIA,
    WALK,
    WELL,
    WHEEL,
    WISHES,
)

Whole = Any
"""A whole number, numpy's or Python's."""

ONE = np.uint64(1)
NONE = np.uint64(0)
ENTRY = np.uint64((1 << 24) - 1)
DEEP = np.uint64((1 << 20) - 1)
S24, S44, S29, S32 = np.uint64(24), np.uint64(44), np.uint64(29), np.uint64(32)
MIX, STIR = np.uint64(0x9E37_79B9_7F4A_7C15), np.uint64(0xBF58_476D_1CE4_E5B9)


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
def first_of(b: Any, p: Whole, rest: Whole, left: Whole) -> Whole:
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
    """Whether a lot is not free: by its dials, because it would bind mates not bound already, or go against a wish."""
    ints = b.ints
    if not has(b, ints[rules + BINDS], item):
        return False
    if has(b, ints[rules + TIED], item):
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
def absorb(b: Any, p: Whole, rest: Whole) -> None:
    """Strike out, in place, the lots that will be made beside another one for nothing.

    Such a lot asks for no more than the other on any dial of the pattern, and what is left that must precede or
    follow it must also precede or follow the other, or is that one. The more is made, the more lots there are of
    which this is true, so states that differ in such lots only become one.
    """
    ints, bits = b.ints, b.bits
    words = bits.shape[1]
    others, near = ints[ROWS] + 6, ints[ROWS] + 7
    ahead = ints[AHEAD]
    for a_word in range(words):
        todo = bits[rest, a_word] & bits[ints[p + LIKE], a_word]
        while todo:
            bit = todo & (~todo + ONE)
            todo ^= bit
            a = (a_word << 6) + lowest(bit)
            kind = ints[ints[p + KIND] + a]
            row = ints[kind + 2 + NEED * ints[kind]]
            some = NONE
            for w in range(words):
                bits[others, w] = bits[rest, w] & bits[row, w]
                bits[near, w] = bits[rest, w] & bits[ahead + a, w]
            bits[others, a_word] &= ~bit
            bits[near, a_word] &= ~bit
            for w in range(words):
                some |= bits[others, w]
            w = 0
            while some and w < words:  # the nearest lots after it stand for all that are
                word = bits[near, w]
                if not word:
                    w += 1
                    continue
                low = word & (~word + ONE)
                x = (w << 6) + lowest(low)
                some = NONE
                for v in range(words):
                    own = low if v == w else NONE
                    bits[others, v] &= bits[x, v] | own
                    some |= bits[others, v]
                    bits[near, v] &= ~bits[ahead + x, v]
            if not some:
                continue
            for w in range(words):
                bits[near, w] = bits[rest, w] & bits[a, w]
            w = words - 1
            while some and w >= 0:  # the nearest lots before it
                word = bits[near, w]
                if not word:
                    w -= 1
                    continue
                x = (w << 6) + highest(word)
                some = NONE
                for v in range(words):
                    bits[others, v] &= bits[ahead + x, v]
                    some |= bits[others, v]
                    bits[near, v] &= ~bits[x, v]
                bits[near, w] &= ~(ONE << np.uint64(x & 63))
            if some:
                bits[rest, a_word] &= ~bit


@inner
def ruling(b: Any, p: Whole, rest: Whole) -> Whole:
    """Where the record of what a pattern heeds begins; 0 where nothing that it concerns is left."""
    rules = b.ints[p + RULED]
    return rules if rules and meets(b, rest, b.ints[rules + BINDS]) else np.int64(0)


@inner
def settle(b: Any, p: Whole, rest: Whole, value: Whole, ready: Whole) -> None:
    """Make every lot that moves no dial, in place, and write idle values ELSEWHERE; `ready` is a scratch row.

    An idle value may be held by mates that are begun. If all of them name the dial, none of those left accepts the
    value, so there is no way on, ELSEWHERE or not; only mates that do not name it must find it where it stands.
    """
    ints, bits = b.ints, b.bits
    words, dials, ruled = bits.shape[1], ints[p + DIALS], ruling(b, p, rest)
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
                    if ruled and has(b, ints[ruled + BINDS], item):
                        again = True
    if ints[p + EASED]:
        absorb(b, p, rest)
    for i in range(dials):
        if i == ints[p + WALK]:
            continue
        wheel = ints[p + WHEEL + i]
        v, k = ints[value + i], ints[wheel + VALUES]
        busy = meets(
            b, rest, ints[wheel + SERVES] + v if v < k and ints[wheel + FLAT] else ints[wheel + NAMED]
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
    another one. Where mates or wishes are heeded it may be left for their sake.
    """
    ints = b.ints
    total = 0
    lone = ints[p + DIALS] == 1 and not ints[p + RULED]
    for i in range(ints[p + DIALS]):
        wheel = ints[p + WHEEL + i]
        k, v = ints[wheel + VALUES], ints[value + i]
        for to in range(k):
            if (to == v and not lone) or not meets(b, rest, ints[wheel + ONLY] + to):
                continue
            if ints[wheel + FLAT] and v != k:
                total += ints[ints[wheel + COST] + (k + 1) * k + to]
                continue
            least = ints[ints[wheel + COST] + v * k + to] if to != v else FAR
            for a in range(k):
                cost = ints[ints[wheel + COST] + a * k + to]
                if a != to and cost < least and meets(b, rest, ints[wheel + SERVES] + a):
                    least = cost
            if least < FAR:
                total += least
    return total


@inner
def entry_of(b: Any, p: Whole, rest: Whole, value: Whole) -> Whole:
    """The entry of a settled state, made if it is new; -1 when memory is full."""
    ints, bits, info = b.ints, b.bits, b.info
    words, dials, name = bits.shape[1], ints[p + DIALS], ints[p + NUMBER]
    mixed = np.uint64(name + 1) * MIX
    for i in range(dials):
        mixed = (mixed ^ np.uint64(ints[value + i])) * STIR
        mixed ^= mixed >> S29
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


@kernel
def entry(b: Any, number: Whole, rest: Any, values: Any) -> Whole:
    """The entry of a settled state given from outside."""
    row, value = b.ints[ROWS] + 3, b.ints[NOW]
    for w in range(rest.size):
        b.bits[row, w] = rest[w]
    for i in range(values.size):
        b.ints[value + i] = values[i]
    return entry_of(b, number, row, value)


@kernel
def view(b: Any, p: Whole, e: Whole, dials: Any) -> Whole:
    """The entry of a pattern on these dials of another one, whose entry is given."""
    row, value = b.ints[ROWS] + 4, b.ints[NOW]
    for w in range(b.bits.shape[1]):
        b.bits[row, w] = b.rest[e, w] & b.bits[b.ints[p + MINE], w]
    for i in range(dials.size):
        b.ints[value + i] = b.info[e, VALUE + dials[i]]
    settle(b, p, row, value, row + 1)
    return entry_of(b, p, row, value)


@inner
def project(b: Any, p: Whole, place: Whole, e: Whole) -> Whole:
    """The entry of kid number `place` of a pattern for an entry of the pattern."""
    ints, info = b.ints, b.info
    if place < NOTED and info[e, KID + place]:
        return np.int64(info[e, KID + place]) - 1
    guide = guide_of(b, p, place)
    under = ints[guide]
    rest, value = ints[ROWS] + 4, ints[NOW] + ints[p + DIALS]
    for w in range(b.bits.shape[1]):
        b.bits[rest, w] = b.rest[e, w] & b.bits[ints[under + MINE], w]
    for i in range(ints[under + DIALS]):
        ints[value + i] = info[e, VALUE + ints[guide + GUIDE + i]]
    settle(b, under, rest, value, rest + 1)
    found = entry_of(b, under, rest, value)
    if place < NOTED:
        info[e, KID + place] = found + 1
    return found


@inner
def guide_of(b: Any, p: Whole, place: Whole) -> Whole:
    """Where the record of kid number `place` begins."""
    return b.ints[p + GUIDES] + place * (GUIDE + b.info.shape[1] - VALUE)


@inner
def known(b: Any, p: Whole, place: Whole, e: Whole) -> Any:
    """What the partition that begins with kid number `place` is known to cost, and where the next one begins."""
    total = np.int64(0)
    while True:
        kid = project(b, p, place, e)
        if kid < 0:
            return total, place
        total += np.int64(b.info[kid, LEAST])
        place += 1
        if b.ints[guide_of(b, p, place - 1) + 1]:
            return total, place


@inner
def push(b: Any, f: Whole, depth: Whole, e: Whole) -> None:
    """Into the heap: least f first, then the deepest."""
    heap = b.heap
    base, top = b.ints[HEAP], b.ints[TOP]
    key = np.uint64(f) << S44 | (DEEP - np.uint64(depth)) << S24 | np.uint64(e)
    at = top - base
    b.ints[TOP] = top + 1
    if top + TARGETS + 2 >= heap.size:  # what one state offers still fits
        b.ints[STATE] = FULL
    while at:
        up = (at - 1) >> 1
        if heap[base + up] <= key:
            break
        heap[base + at] = heap[base + up]
        at = up
    heap[base + at] = key


@inner
def pop(b: Any) -> Any:
    """The first key of the heap."""
    heap = b.heap
    base = b.ints[HEAP]
    top = b.ints[TOP] - 1
    b.ints[TOP] = top
    first, key = heap[base], heap[top]
    size = top - base
    at = 0
    while True:
        down = 2 * at + 1
        if down >= size:
            break
        if down + 1 < size and heap[base + down + 1] < heap[base + down]:
            down += 1
        if key <= heap[base + down]:
            break
        heap[base + at] = heap[base + down]
        at = down
    heap[base + at] = key
    return first


@inner
def options(b: Any, wheel: Whole, v: Whole, need: Whole, rest: Whole, slot: Whole, prune: bool) -> Whole:
    """The values to move to from v, and how many: not those that cost no less than another one and serve only part
    of what it serves.
    """
    ints, bits = b.ints, b.bits
    k = ints[wheel + VALUES]
    cost = ints[wheel + COST] + v * k
    mine = ints[OPTION] + slot * ints[ints[OPTIONS] - 1]
    count = 0
    for r in range(ints[need + 1], ints[need + 2]):
        to = ints[r]
        if to == v or ints[cost + to] >= FAR:
            continue
        keep = True
        for s in range(ints[need + 1], ints[need + 2]) if prune else range(0):
            other = ints[s]
            if other in (to, v) or ints[cost + other] > ints[cost + to]:
                continue
            within = equal = True
            for w in range(bits.shape[1]):
                one = bits[rest, w] & bits[ints[wheel + SERVES] + to, w]
                its = bits[rest, w] & bits[ints[wheel + SERVES] + other, w]
                if one & ~its:
                    within = False
                    break
                if its & ~one:
                    equal = False
            if within and (ints[cost + other] < ints[cost + to] or not equal or other < to):
                keep = False
                break
        if keep:
            ints[mine + count] = to
            count += 1
    return count


@inner
def may_leave(b: Any, p: Whole, value: Whole, held: Whole) -> bool:
    """Whether leaving the station loses no dial that mates hold."""
    ints = b.ints
    for i in range(ints[p + DIALS]):
        if held >> i & 1 and ints[ints[p + WHEEL + i] + STATION] == ints[value + ints[p + WALK]]:
            return False
    return True


@inner
def forget(b: Any, p: Whole, station: Whole, value: Whole) -> None:
    """What dials lose when the work leaves this station."""
    for i in range(b.ints[p + DIALS]):
        wheel = b.ints[p + WHEEL + i]
        if b.ints[wheel + STATION] == station:
            b.ints[value + i] = b.ints[wheel + VALUES]


@inner
def bound(b: Any, rules: Whole, rest: Whole) -> Whole:
    """The dials held by mates that are begun and not finished."""
    ints = b.ints
    held = 0
    for g in range(ints[rules + GROUPS]):
        if mates(b, ints[rules + GROUP] + g, rest, np.int64(-1)) == 2:
            held |= ints[ints[rules + HELD] + g]
    return held


@inner
def targets(
    b: Any, p: Whole, kind: Whole, item: Whole, rest: Whole, value: Whole, held: Whole, rows: Whole
) -> Whole:
    """Add the ways to move the dials for lots of this kind; how many rows of targets there are then."""
    ints = b.ints
    dials, walk = ints[p + DIALS], ints[p + WALK]
    most = ints[ints[OPTIONS] - 1]
    ways, leaving = 1, False
    for slot in range(ints[kind]):
        need = kind + 1 + NEED * slot
        i = ints[need]
        wheel, v = ints[p + WHEEL + i], ints[value + i]
        ints[ints[OPTIONS] + slot] = 0
        if has(b, ints[wheel + ACCEPT] + v, item):
            continue
        if held >> i & 1:
            return rows
        if i == walk:
            leaving = True
        count = options(b, wheel, v, need, rest, slot, ints[wheel + FLAT] != 0)
        ints[ints[OPTIONS] + slot] = count
        ways *= count
    if leaving and held and not may_leave(b, p, value, held):
        return rows
    for way in range(ways):
        if rows >= TARGETS:
            ints[STATE] = FULL
            return rows
        which, paid = way, 0
        mine = ints[TO] + rows * dials
        for i in range(dials):
            ints[mine + i] = ints[value + i]
        for slot in range(ints[kind]):
            count = ints[ints[OPTIONS] + slot]
            if count:
                i = ints[kind + 1 + NEED * slot]
                wheel = ints[p + WHEEL + i]
                to = ints[ints[OPTION] + slot * most + which % count]
                which //= count
                paid += ints[ints[wheel + COST] + ints[value + i] * ints[wheel + VALUES] + to]
                ints[mine + i] = to
        if leaving:
            forget(b, p, ints[value + walk], mine)
        known = False
        for row in range(rows):
            equal = True
            for i in range(dials):
                if ints[ints[TO] + row * dials + i] != ints[mine + i]:
                    equal = False
                    break
            if equal:
                known = True
                ints[ints[PAID] + row] = min(paid, ints[ints[PAID] + row])
                break
        if not known:
            ints[ints[PAID] + rows] = paid
            rows += 1
    return rows


@inner
def smallest(b: Any, dials: Whole, value: Whole, rows: Whole) -> None:
    """Strike out (cost -1) the targets that do all that another one does and more."""
    ints = b.ints
    for row in range(rows):
        mine = ints[TO] + row * dials
        for other in range(rows):
            its = ints[TO] + other * dials
            if other == row or ints[ints[PAID] + other] < 0:
                continue
            within = True
            for i in range(dials):
                if ints[its + i] != ints[value + i] and ints[its + i] != ints[mine + i]:
                    within = False
                    break
            if within:
                ints[ints[PAID] + row] = -1
                break


@inner
def covered(b: Any, dials: Whole, value: Whole, to: Whole, rows: Whole) -> bool:
    """Whether some target does nothing that moving to these values does not do."""
    ints = b.ints
    for row in range(rows):
        its = ints[TO] + row * dials
        within = True
        for i in range(dials):
            if ints[its + i] != ints[value + i] and ints[its + i] != ints[to + i]:
                within = False
                break
        if within:
            return True
    return False


@inner
def finished(b: Any, wheel: Whole, to: Whole, rest: Whole, after: Whole) -> bool:
    """Whether a visit to a value was needed and leaves nothing to come back for."""
    insisted = False
    for w in range(b.bits.shape[1]):
        if b.bits[rest, w] & ~b.bits[after, w] & b.bits[b.ints[wheel + ONLY] + to, w]:
            insisted = True
    return insisted and not meets(b, after, b.ints[wheel + SERVES] + to)


@inner
def children(b: Any, p: Whole, e: Whole) -> Whole:
    """Every step from a state worth taking: how many; the entries reached, costs and lots made first stand in
    CHILD, PAID and MADE.

    On a single dial whose moves cost by the value reached, a value that must be visited and that one visit
    would finish is visited now: any order pays that visit once, and moving it here makes no other visit dearer. With
    mates and wishes that goes where no lot could be made without moving. Mates do not mind: none are begun (the dial
    could not move), what is made now begins none, and taken out of its later place it makes the dial move at no other
    lot but the next one, which is not amid mates unless it was itself. Nor do wishes: what is made now goes against
    none, and sooner made it can only meet others.
    """
    ints, bits = b.ints, b.bits
    rest = ints[ROWS]
    left, ready, after = rest + 1, rest + 2, rest + 3
    words, dials = bits.shape[1], ints[p + DIALS]
    value, to = ints[NOW], ints[NOW] + dials
    for w in range(words):
        bits[rest, w] = b.rest[e, w]
        bits[left, w] = b.rest[e, w]
    for i in range(dials):
        ints[value + i] = b.info[e, VALUE + i]
    ints[LOOK] += 1
    ruled = ruling(b, p, rest)
    held = bound(b, ruled, rest) if ruled else np.int64(0)
    rows = np.int64(0)
    wheel, flat = ints[p + WHEEL], ints[ints[p + WHEEL] + FLAT] != 0
    lone = dials == 1 and flat and (ints[value] != ints[wheel + VALUES] or ints[wheel + LEVEL] != 0)
    while True:
        item = first_of(b, p, rest, left)
        if item < 0:
            break
        if ruled and tied(b, ruled, rest, item):
            if lone and has(b, ints[wheel + ACCEPT] + ints[value], item):
                lone = False
            continue
        kind = ints[ints[p + KIND] + item]
        seen = kind + 1 + NEED * ints[kind]
        if ints[seen] != ints[LOOK]:
            ints[seen] = ints[LOOK]
            rows = targets(b, p, kind, item, rest, value, held, rows)
    if rows > 2 and dials > 1:
        smallest(b, dials, value, rows)
    count = np.int64(0)
    for row in range(rows):
        paid = ints[ints[PAID] + row]
        if paid < 0:
            continue
        for w in range(words):
            bits[after, w] = bits[rest, w]
        for i in range(dials):
            ints[to + i] = ints[ints[TO] + row * dials + i]
        reached = ints[to]
        settle(b, p, after, to, ready)
        if lone and finished(b, wheel, reached, rest, after):
            count = np.int64(0)
        found = entry_of(b, p, after, to)
        if found < 0:
            return 0
        ints[ints[CHILD] + count] = found
        ints[ints[PAID] + count] = paid
        ints[ints[MADE] + count] = -1
        count += 1
        if lone and finished(b, wheel, reached, rest, after):
            return 1
    if ruled:
        for w in range(words):
            bits[left, w] = bits[rest, w]
        while True:
            item = first_of(b, p, rest, left)
            if item < 0:
                break
            if tied(b, ruled, rest, item):
                count = one_lot(b, p, item, rest, value, held, rows, count)
    return count


@inner
def one_lot(
    b: Any, p: Whole, item: Whole, rest: Whole, value: Whole, held: Whole, rows: Whole, count: Whole
) -> Whole:
    """Add the steps that make one lot that is not free: on each dial it may stay or move.

    Not where one of the targets (`rows`) moves part of what this does, or all of it: going there first makes its lots,
    which are free, and leaves this one with the other moves; each dial is paid for itself, so it costs the same.
    """
    ints, bits = b.ints, b.bits
    dials, walk, rules = ints[p + DIALS], ints[p + WALK], ints[p + RULED]
    most = ints[ints[OPTIONS] - 1]
    opening = 0
    for g in range(ints[rules + GROUPS]):
        group = ints[rules + GROUP] + g
        if has(b, group, item) and mates(b, group, rest, item) == 1:
            opening |= ints[ints[rules + HELD] + g]
    kind = ints[ints[p + KIND] + item]
    now, to = value + 2 * dials, value + dials
    for i in range(dials):
        ints[now + i] = ints[value + i]
    if walk >= 0 and not has(b, ints[ints[p + WHEEL + walk] + ACCEPT] + ints[value + walk], item):
        if held and not may_leave(b, p, value, held):
            return count
        forget(b, p, ints[value + walk], now)
    ways = 1
    for slot in range(ints[kind]):
        need = kind + 1 + NEED * slot
        i = ints[need]
        wheel, v = ints[p + WHEEL + i], ints[now + i]
        stays = v < ints[wheel + VALUES] and has(b, ints[wheel + ACCEPT] + v, item)
        choices = 0
        if not held >> i & 1 and not (stays and ints[wheel + PLAIN] and not opening >> i & 1):
            prune = ints[wheel + FLAT] != 0 and ints[wheel + PLAIN] != 0
            choices = options(b, wheel, v, need, rest, slot, prune)
        if stays:
            ints[ints[OPTION] + slot * most + choices] = v
            choices += 1
        ints[ints[OPTIONS] + slot] = choices
        ways *= choices
    wishes, mine = 0, ints[rules + WISHES] + item
    for wish in range(ints[mine], ints[mine + 1], 2):
        if has(b, rest, ints[wish]):
            wishes += ints[wish + 1]
    for way in range(ways):
        if count >= TARGETS:
            ints[STATE] = FULL
            return count
        which, paid = way, wishes
        for i in range(dials):
            ints[to + i] = ints[now + i]
        for slot in range(ints[kind]):
            choices = ints[ints[OPTIONS] + slot]
            i = ints[kind + 1 + NEED * slot]
            wheel = ints[p + WHEEL + i]
            goal = ints[ints[OPTION] + slot * most + which % choices]
            which //= choices
            if goal != ints[now + i]:
                paid += ints[ints[wheel + COST] + ints[now + i] * ints[wheel + VALUES] + goal]
            ints[to + i] = goal
        if covered(b, dials, value, to, rows):
            continue
        for w in range(bits.shape[1]):
            bits[rest + 3, w] = bits[rest, w]
        bits[rest + 3, item >> 6] ^= ONE << np.uint64(item & 63)
        settle(b, p, rest + 3, to, rest + 2)
        found = entry_of(b, p, rest + 3, to)
        if found < 0:
            return count
        ints[ints[CHILD] + count] = found
        ints[ints[PAID] + count] = paid
        ints[ints[MADE] + count] = item
        count += 1
    return count


@inner
def keep(b: Any, e: Whole, count: Whole) -> Whole:
    """Where the steps just found stand, kept for when the state is opened again as long as there is room."""
    ints, steps = b.ints, b.steps
    at = ints[KEEP]
    steps[at] = count
    for c in range(count):
        steps[at + 1 + 3 * c] = ints[ints[CHILD] + c]
        steps[at + 2 + 3 * c] = ints[ints[PAID] + c]
        steps[at + 3 + 3 * c] = ints[ints[MADE] + c]
    if ints[STATE] == WELL and at + 3 * (count + TARGETS) + 2 < steps.size:
        b.info[e, KEPT] = at
        ints[KEEP] = at + 3 * count + 1
    return at


@inner
def over(b: Any, e: Whole) -> bool:
    """Whether nothing is left."""
    for w in range(b.rest.shape[1]):  # noqa: SIM110 - generators do not compile
        if b.rest[e, w]:
            return False
    return True


@kernel
def ask(b: Any, p: Whole, start: Whole, need: Whole) -> Whole:
    """A lower bound of the rest cost of an entry of a pattern: the exact cost, or at least `need`, or (when the
    effort is spent, or it was told to stop) the best known.
    """
    ints, info = b.ints, b.info
    if info[start, EXACT] or info[start, LEAST] >= need:
        return np.int64(info[start, LEAST])
    base, bottom = ints[HEAP], ints[TRAIL]
    ints[HEAP] = ints[TOP]
    ints[SEARCH] += 1
    mine = ints[SEARCH]
    info[start, MINDED] = mine
    info[start, SHUT] = 0
    info[start, DEPTH] = 0
    info[start, PARENT] = -1
    push(b, np.int64(info[start, LEAST]), np.int64(0), start)
    reached: Whole = FAR
    kids = ints[p + KIDS]
    while ints[TOP] > ints[HEAP]:
        key = pop(b)
        f = np.int64(key >> S44)
        g = np.int64(DEEP - (key >> S24 & DEEP))
        e = np.int64(key & ENTRY)
        if info[e, DEPTH] != g or info[e, SHUT] == mine:
            continue
        if ints[STOP]:
            ints[STATE] = STOPPED
        if f >= need or ints[STATE] != WELL:
            reached = f
            break
        if over(b, e):
            reached = g
            ints[GOAL] = e
            back = np.int64(info[e, PARENT])
            while back >= 0:
                info[back, LEAST] = g - info[back, DEPTH]
                info[back, EXACT] = 1
                back = np.int64(info[back, PARENT])
            break
        if kids and not info[e, EXACT] and g + info[e, LEAST] <= f:
            room = f - g + 1
            best = np.int64(0)
            begin: Whole = 0
            while begin < kids and best < room:  # what is known already may do
                total, begin = known(b, p, begin, e)
                best = max(best, total)
            helped = ints[p + HELPED]
            turn: Whole = 0
            while best < room and turn < kids and ints[STATE] == WELL:
                # partitions in turn, the one that helped last first
                begin = (helped + turn) % kids
                total, end = known(b, p, begin, e)
                place = begin
                while place < end and total < room and ints[STATE] == WELL:
                    kid = project(b, p, place, e)
                    if kid >= 0:
                        had = np.int64(info[kid, LEAST])
                        total += ask(b, ints[guide_of(b, p, place)], kid, room - total + had) - had
                    place += 1
                best = max(best, total)
                if total >= room:
                    ints[p + HELPED] = begin
                turn += max(np.int64(1), end - begin)
            if ints[STATE] != WELL:
                reached = f
                break
            if best > info[e, LEAST]:
                info[e, LEAST] = min(best, FAR)
        if g + info[e, LEAST] > f:
            if info[e, LEAST] < FAR:
                push(b, g + np.int64(info[e, LEAST]), g, e)
            continue
        ints[OPENED] += 1
        if ints[OPENED] >= ints[LIMIT]:
            ints[STATE] = SPENT
        if not base:
            ints[NEWS] = f
        info[e, SHUT] = mine
        b.trail[ints[TRAIL]] = e
        ints[TRAIL] += 1
        if ints[TRAIL] + 1 >= b.trail.size:
            ints[STATE] = FULL
        kept = np.int64(info[e, KEPT])
        if not kept:
            kept = keep(b, e, children(b, p, e))
        for step in range(kept + 1, kept + 1 + 3 * b.steps[kept], 3):
            child = np.int64(b.steps[step])
            deeper = g + b.steps[step + 1]
            if info[child, LEAST] < FAR and (info[child, MINDED] != mine or deeper < info[child, DEPTH]):
                info[child, MINDED] = mine
                info[child, SHUT] = 0
                info[child, DEPTH] = deeper
                info[child, PARENT] = e
                info[child, VIA] = b.steps[step + 2]
                push(b, max(f, deeper + np.int64(info[child, LEAST])), deeper, child)
        if ints[STATE] != WELL:
            reached = f
            break
    for place in range(bottom, ints[TRAIL]):
        e = np.int64(b.trail[place])
        if reached >= FAR:
            info[e, LEAST] = FAR
            info[e, EXACT] = 1
        elif reached - info[e, DEPTH] > info[e, LEAST]:
            info[e, LEAST] = reached - info[e, DEPTH]
    if reached >= FAR:
        info[start, EXACT] = 1
    if reached > info[start, LEAST]:
        info[start, LEAST] = reached
    ints[TRAIL] = bottom
    ints[TOP] = ints[HEAP]
    ints[HEAP] = base
    return np.int64(info[start, LEAST])
