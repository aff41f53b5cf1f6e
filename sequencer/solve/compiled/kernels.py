"""Questions to patterns, compiled: what `patterns.Pattern` does in Python, on the arrays of `layout`.

`ask` is the whole method in one place: A* on a pattern, its states evaluated when they come to the front, by asking the
patterns of the partitions that guide it, each only for what would push the state back.

A pattern, a wheel or a kind of lot is passed as the place in `ints` where its record begins; lots as a row of `bits`;
values as the place in `ints` where they stand.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from sequencer.solve.compiled import FAR_32, inner, kernel
from sequencer.solve.compiled.heap import DEEP, ENTRY, S24, S44, pop, push
from sequencer.solve.compiled.layout import (
    DEPTH,
    DIALS,
    EASED,
    EXACT,
    FULL,
    GOAL,
    GUIDE,
    GUIDES,
    HEAP,
    HELPED,
    KEPT,
    KID,
    KIDS,
    LEAST,
    LIMIT,
    MINDED,
    MINE,
    NEWS,
    NOTED,
    NOW,
    OPENED,
    PARENT,
    ROWS,
    RULED,
    SEARCH,
    SHUT,
    SPENT,
    STATE,
    STOP,
    STOPPED,
    TOP,
    TRAIL,
    VALUE,
    VIA,
    WELL,
)
from sequencer.solve.compiled.outdone import outdone, shelve
from sequencer.solve.compiled.rows import Whole
from sequencer.solve.compiled.states import entry_of, settle
from sequencer.solve.compiled.steps import children, keep
from sequencer.solve.compiled.stopping import revocable


@kernel
def entry(b: Any, number: Whole, rest: Any, values: Any) -> Whole:
    """The entry of a state given from outside; settled, if it is to be asked about."""
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
    reached: Whole = FAR_32
    kids = ints[p + KIDS]
    shelved = kids and not revocable(b, p)
    dead_ends = shelved and (ints[p + RULED] or not ints[p + EASED])  # there may be some
    while ints[TOP] > ints[HEAP]:
        key = pop(b)
        f = np.int64(key >> S44)
        g = np.int64(DEEP - (key >> S24 & DEEP))
        e = np.int64(key & ENTRY)
        if info[e, DEPTH] != g or info[e, SHUT] == mine:
            continue
        if ints[STOP]:
            ints[STATE] = STOPPED
        if dead_ends and f >= need and outdone(b, p, e, g, FAR_32 + 1, mine) >= 0:
            continue
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
            begin: Whole = ints[p + HELPED]
            checked: Whole = 0
            while checked < kids and best < room and ints[STATE] == WELL:  # what is known already may do
                total, end = known(b, p, begin, e)
                best = max(best, total)
                checked += max(np.int64(1), end - begin)
                begin = end if end < kids else 0
            if best < room and shelved:
                other = outdone(b, p, e, g, room, mine)
                if other >= 0 and info[other, LEAST] < room:
                    continue
                if other >= 0:
                    best = np.int64(info[other, LEAST])
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
                info[e, LEAST] = min(best, FAR_32)
        if g + info[e, LEAST] > f:
            if info[e, LEAST] < FAR_32:
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
            if shelved and info[e, KEPT]:
                shelve(b, e)
        for step in range(kept + 1, kept + 1 + 3 * b.steps[kept], 3):
            child = np.int64(b.steps[step])
            deeper = g + b.steps[step + 1]
            if info[child, LEAST] < FAR_32 and (info[child, MINDED] != mine or deeper < info[child, DEPTH]):
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
        if reached >= FAR_32:
            info[e, LEAST] = FAR_32
            info[e, EXACT] = 1
        elif reached - info[e, DEPTH] > info[e, LEAST]:
            info[e, LEAST] = reached - info[e, DEPTH]
    if reached >= FAR_32:
        info[start, EXACT] = 1
    if reached > info[start, LEAST]:
        info[start, LEAST] = reached
    ints[TRAIL] = bottom
    ints[TOP] = ints[HEAP]
    ints[HEAP] = base
    return np.int64(info[start, LEAST])
