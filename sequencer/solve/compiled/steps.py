"""The steps from a state: how dials may be moved for the lots that wait for nothing, and what is made then."""

from __future__ import annotations

from typing import Any

import numpy as np

from sequencer.solve.compiled import FAR_32, inner
from sequencer.solve.compiled.bits import lowest
from sequencer.solve.compiled.layout import (
    ACCEPT,
    CHILD,
    COST,
    DIALS,
    EASED,
    FLAT,
    FULL,
    GROUP,
    GROUPS,
    HELD,
    KEEP,
    KEPT,
    KIND,
    LEVEL,
    LOOK,
    MADE,
    NEED,
    NOW,
    ONLY,
    OPEN,
    OPTION,
    OPTIONS,
    PAID,
    PLAIN,
    ROWS,
    RULED,
    SERVES,
    STATE,
    STATION,
    TARGETS,
    TO,
    VALUE,
    VALUES,
    WALK,
    WELL,
    WHEEL,
    WISHES,
)
from sequencer.solve.compiled.rows import NONE, ONE, Whole, first_of, has, mates, meets, ruling, tied
from sequencer.solve.compiled.states import entry_of, settle
from sequencer.solve.compiled.stopping import (
    helping,
    like_another,
    make_later,
    may_stop,
    revocable,
    stands,
    stops,
    waits,
)


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
        if to == v or ints[cost + to] >= FAR_32:
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
def held_dials(b: Any, rules: Whole, rest: Whole) -> Whole:
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
def within(b: Any, dials: Whole, value: Whole, its: Whole, to: Whole) -> bool:
    """Whether moving to the values at `its` does part of what moving to those at `to` does, or all of it."""
    for i in range(dials):  # noqa: SIM110 - generators do not compile
        if b.ints[its + i] != b.ints[value + i] and b.ints[its + i] != b.ints[to + i]:
            return False
    return True


@inner
def smallest(b: Any, dials: Whole, value: Whole, rows: Whole) -> None:
    """Strike out (cost -1) the targets that do all that another one does and more."""
    ints = b.ints
    for row in range(rows):
        mine = ints[TO] + row * dials
        for other in range(rows):
            its = ints[TO] + other * dials
            if other != row and ints[ints[PAID] + other] >= 0 and within(b, dials, value, its, mine):
                ints[ints[PAID] + row] = -1
                break


@inner
def covered(b: Any, dials: Whole, value: Whole, to: Whole, rows: Whole) -> bool:
    """Whether some target does nothing that moving to these values does not do."""
    for row in range(rows):  # noqa: SIM110 - generators do not compile
        if within(b, dials, value, b.ints[TO] + row * dials, to):
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
def one_lot(
    b: Any, p: Whole, item: Whole, rest: Whole, value: Whole, held: Whole, rows: Whole, count: Whole
) -> Whole:
    """Add the steps that make one lot that is not free: on each dial it may stay or move. One that is revoked must stop
    where that helps.

    Not where one of the targets (`rows`) moves part of what this does, or all of it: going there first makes its lots,
    which are free, and leaves this one with the other moves; each dial is paid for itself, so it costs the same.
    """
    ints, bits = b.ints, b.bits
    dials, walk, rules = ints[p + DIALS], ints[p + WALK], ints[p + RULED]
    most = ints[ints[OPTIONS] - 1]
    revoked = not has(b, rest, item)
    left = ints[ROWS] + 8
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
    if revoked and not may_stop(b, p, item, now, left):
        return count
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
        if covered(b, dials, value, to, rows) or (revoked and not stops(b, p, now, to, left)):
            continue
        for w in range(bits.shape[1]):
            bits[rest + 3, w] = bits[rest, w]
        make_later(b, p, item, rest + 3)
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
def children(b: Any, p: Whole, e: Whole) -> Whole:
    """Every step from a state worth taking: how many; the entries reached, costs and lots made first stand in
    CHILD, PAID and MADE.

    In the whole a lot that may be revoked is made alone where something is moved for it, for then it must stand there.

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
        bits[left, w] = b.rest[e, w] if w < ints[OPEN] else NONE
    for i in range(dials):
        ints[value + i] = b.info[e, VALUE + i]
    ints[LOOK] += 1
    ruled = ruling(b, p, rest)
    held = held_dials(b, ruled, rest) if ruled else np.int64(0)
    rows = np.int64(0)
    for_now = revocable(b, p)
    singly = np.int64(0) if ints[p + EASED] else for_now
    wheel, flat = ints[p + WHEEL], ints[ints[p + WHEEL] + FLAT] != 0
    lone = dials == 1 and flat and (ints[value] != ints[wheel + VALUES] or ints[wheel + LEVEL] != 0)
    while True:
        item = first_of(b, left)
        if item < 0:
            break
        if ruled and tied(b, ruled, rest, item):
            if lone and has(b, ints[wheel + ACCEPT] + ints[value], item):
                lone = False
            continue
        if singly and has(b, singly, item) and not stands(b, p, item, value):
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
    if ruled or singly:
        for w in range(words):
            bits[left, w] = bits[rest, w] if w < ints[OPEN] else NONE
        while True:
            item = first_of(b, left)
            if item < 0:
                break
            if (singly and has(b, singly, item)) or (ruled and tied(b, ruled, rest, item)):
                count = one_lot(b, p, item, rest, value, held, rows, count)
    if for_now:
        count = revocations(b, p, rest, value, held, rows, count)
    return count


@inner
def revocations(b: Any, p: Whole, rest: Whole, value: Whole, held: Whole, rows: Whole, count: Whole) -> Whole:
    """Add the steps that revoke a lot."""
    ints, bits, open_at = b.ints, b.bits, b.ints[OPEN]
    helping(b, p, rest, ints[ROWS] + 8)
    ints[LOOK] += 1
    eased = ints[p + EASED] != 0
    for turn in range(2 if eased else 1):
        for w in range(open_at):
            word = bits[rest, open_at + w]
            while word:
                bit = word & (~word + ONE)
                word ^= bit
                item = (w << 6) + lowest(bit)
                if waits(b, rest, item):
                    continue
                if not eased or not like_another(b, p, item, rest, turn == 1, rest + 1):
                    count = one_lot(b, p, item, rest, value, held, rows, count)
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
