"""Kernels that make an order turn by turn: what is ready, what is free, what turning to a kind costs (the tables are
those of `turns`).
"""

from __future__ import annotations

from sequencer.solve.compiled import FAR_64, inner
from sequencer.solve.compiled.turns import (
    ACTIVE,
    ACTIVES,
    AIM,
    BEFORE,
    BELOW,
    CHOICES,
    COST,
    COSTS,
    DIALS,
    FOLLOWER,
    FOLLOWER_AT,
    FORGET,
    FORGET_AT,
    FREE,
    GROUP,
    GROUP_AT,
    GROUPS,
    HASH,
    HELD,
    HERE,
    HOLDING,
    KIND,
    KINDS,
    LEADS,
    LOST,
    LOT,
    LOTS,
    MADE,
    MARK,
    MARK_AT,
    MEMBER,
    MEMBER_AT,
    MEMBERS,
    MISSING,
    NEED_AT,
    NEED_DIAL,
    NEED_ENTRY,
    NOW,
    OPENED,
    ORDER,
    PLACE,
    SIZES,
    SPECIAL,
    STANDING,
    STATION,
    STATION_MARK,
    STATIONS,
    STILL_COSTS,
    STILL_LEADS,
    STOOD,
    TOP,
    WAITS,
    WALK,
    WAS_COST,
    WAS_HASH,
    WAS_HERE,
    WAS_MADE,
    WISH,
    WISH_AT,
    WISH_PRICE,
    Table,
)


@inner
def draw(chance: Table, below: int) -> int:
    """A random whole number less than `below` (xorshift; Marsaglia, 2003)."""
    word = chance[0]
    word ^= word << 13
    word ^= (word >> 7) & 0x1FFFFFFFFFFFFFF
    word ^= word << 17
    chance[0] = word
    return int(((word >> 11) & 0x7FFFFFFFFFFF) % below)


@inner
def enter(ground: Table, play: Table, lot: int) -> None:
    """Nothing is missing before this lot any more."""
    kind = ground[KIND, lot]
    play[BELOW, lot] = play[TOP, kind]
    if play[TOP, kind] < 0:
        at = ground[STATION, kind]
        play[PLACE, kind] = play[ACTIVES, at]
        play[ACTIVE + at, play[ACTIVES, at]] = kind
        play[ACTIVES, at] += 1
    play[TOP, kind] = lot


@inner
def hold(ground: Table, play: Table) -> None:
    """Find the dials held by groups begun and not finished."""
    held = 0
    for g in range(ground[SIZES, GROUPS]):
        if 0 < play[OPENED, g] < play[MEMBERS, g]:
            held |= ground[HELD, g]
    play[NOW, HOLDING] = held


@inner
def set_up(ground: Table, play: Table, line: Table, turn: int) -> None:
    """Put things as they are just before a turn of a line."""
    for lot in range(ground[SIZES, LOTS]):
        play[WAITS, lot] = ground[BEFORE, lot]
    if ground[SIZES, CHOICES]:
        for lot in range(ground[SIZES, LOTS]):
            if play[MISSING, lot]:
                play[WAITS, lot] = -1
                for f in range(ground[FOLLOWER_AT, lot], ground[FOLLOWER_AT, lot + 1]):
                    play[WAITS, ground[FOLLOWER, f]] -= 1
        for lot in range(ground[SIZES, LOTS]):
            if play[MISSING, lot]:
                play[WAITS, lot] = -1
    for g in range(ground[SIZES, GROUPS]):
        play[OPENED, g] = 0
    made = line[turn, WAS_MADE]
    for k in range(made):
        lot = line[k, LOT]
        play[ORDER, k] = lot
        play[WAITS, lot] = -1
        for f in range(ground[FOLLOWER_AT, lot], ground[FOLLOWER_AT, lot + 1]):
            play[WAITS, ground[FOLLOWER, f]] -= 1
        for g in range(ground[GROUP_AT, lot], ground[GROUP_AT, lot + 1]):
            play[OPENED, ground[GROUP, g]] += 1
    for kind in range(ground[SIZES, KINDS]):
        play[TOP, kind] = -1
    for at in range(ground[SIZES, STATIONS]):
        play[ACTIVES, at] = 0
    for lot in range(ground[SIZES, LOTS]):
        if play[WAITS, lot] == 0:
            enter(ground, play, lot)
    for d in range(ground[SIZES, DIALS]):
        play[STANDING, d] = line[turn, STOOD + d]
    play[NOW, MADE] = made
    play[NOW, COST] = line[turn, WAS_COST]
    play[NOW, HERE] = line[turn, WAS_HERE]
    play[NOW, HASH] = line[turn, WAS_HASH]
    hold(ground, play)


@inner
def note(play: Table, line: Table, turn: int) -> None:
    """Write down how things are just before a turn."""
    line[turn, WAS_MADE] = play[NOW, MADE]
    line[turn, WAS_COST] = play[NOW, COST]
    line[turn, WAS_HERE] = play[NOW, HERE]
    line[turn, WAS_HASH] = play[NOW, HASH]
    for d in range(line.shape[1] - STOOD):
        line[turn, STOOD + d] = play[STANDING, d]


@inner
def make_top(ground: Table, play: Table, kind: int) -> None:
    """Make the lot of a kind that became ready last."""
    lot = play[TOP, kind]
    play[TOP, kind] = play[BELOW, lot]
    if play[TOP, kind] < 0:
        at = ground[STATION, kind]
        play[ACTIVES, at] -= 1
        last = play[ACTIVE + at, play[ACTIVES, at]]
        play[ACTIVE + at, play[PLACE, kind]] = last
        play[PLACE, last] = play[PLACE, kind]
    play[WAITS, lot] = -1
    play[ORDER, play[NOW, MADE]] = lot
    play[NOW, MADE] += 1
    play[NOW, HASH] ^= ground[MARK, lot]
    if ground[SPECIAL, kind]:
        for g in range(ground[GROUP_AT, lot], ground[GROUP_AT, lot + 1]):
            play[OPENED, ground[GROUP, g]] += 1
        hold(ground, play)
    for f in range(ground[FOLLOWER_AT, lot], ground[FOLLOWER_AT, lot + 1]):
        after = ground[FOLLOWER, f]
        play[WAITS, after] -= 1
        if play[WAITS, after] == 0:
            enter(ground, play, after)


@inner
def is_free(ground: Table, play: Table, row: int, kind: int) -> bool:
    """Whether lots of a kind can be made with the dials as in this row of the play, and leave them so."""
    for n in range(ground[NEED_AT, kind], ground[NEED_AT, kind + 1]):
        if not ground[FREE, ground[NEED_ENTRY, n] + play[row, ground[NEED_DIAL, n]]]:
            return False
    return True


@inner
def unmet(ground: Table, play: Table, lot: int) -> int:
    """What making this lot now costs in wishes."""
    price = 0
    for w in range(ground[WISH_AT, lot], ground[WISH_AT, lot + 1]):
        if play[WAITS, ground[WISH, w]] >= 0:
            price += ground[WISH_PRICE, w]
    return price


@inner
def harmless(ground: Table, play: Table, lot: int) -> bool:
    """Whether a free lot may be made at once though it has mates or is in wishes.

    It must break no wish, and begin no group that cannot be finished at once.
    """
    if unmet(ground, play, lot) > 0:
        return False
    for g in range(ground[GROUP_AT, lot], ground[GROUP_AT, lot + 1]):
        group = ground[GROUP, g]
        if play[OPENED, group] == 0:
            for m in range(ground[MEMBER_AT, group], ground[MEMBER_AT, group + 1]):
                mate = ground[MEMBER, m]
                kind = ground[KIND, mate]
                if play[MISSING, mate]:
                    continue
                if (
                    play[WAITS, mate] != 0
                    or ground[STATION, kind] != play[NOW, HERE]
                    or not is_free(ground, play, STANDING, kind)
                ):
                    return False
    return True


@inner
def absorb(ground: Table, play: Table) -> None:
    """Make every lot that is ready and free here, and what becomes ready by that."""
    here = play[NOW, HERE]
    again = here >= 0
    while again:
        again = False
        k = 0
        while k < play[ACTIVES, here]:
            kind = play[ACTIVE + here, k]
            if is_free(ground, play, STANDING, kind):
                if not ground[SPECIAL, kind]:
                    while play[TOP, kind] >= 0:
                        make_top(ground, play, kind)
                    continue  # another kind has come to this place
                if harmless(ground, play, play[TOP, kind]):
                    make_top(ground, play, kind)
                    again = True
                    continue
            k += 1


@inner
def price_turn(ground: Table, play: Table, kind: int) -> int:
    """What turning to a kind costs now; FAR_64 if that cannot be."""
    held = play[NOW, HOLDING]
    at, here = ground[STATION, kind], play[NOW, HERE]
    cost = 0
    if here >= 0 and here != at:
        cost = ground[WALK + here, at]
        if held:
            for f in range(ground[FORGET_AT, here], ground[FORGET_AT, here + 1]):
                if held >> ground[FORGET, f] & 1:
                    return FAR_64
    for n in range(ground[NEED_AT, kind], ground[NEED_AT, kind + 1]):
        d = ground[NEED_DIAL, n]
        entry = ground[NEED_ENTRY, n] + play[STANDING, d]
        still = held >> d & 1
        if ground[STILL_LEADS if still else LEADS, entry] < 0:
            return FAR_64
        cost += ground[STILL_COSTS if still else COSTS, entry]
    if ground[SPECIAL, kind]:
        cost += unmet(ground, play, play[TOP, kind])
    return cost


@inner
def put(ground: Table, play: Table, d: int, standing: int) -> None:
    """Change how a dial stands."""
    at = ground[MARK_AT, d]
    play[NOW, HASH] ^= ground[MARK, at + play[STANDING, d]] ^ ground[MARK, at + standing]
    play[STANDING, d] = standing


@inner
def turn_to(ground: Table, play: Table, kind: int, cost: int) -> None:
    """Go to a kind's station, set its dials and make the lot of it that became ready last."""
    held = play[NOW, HOLDING]
    at, here = ground[STATION, kind], play[NOW, HERE]
    if here != at:
        if here >= 0:
            for f in range(ground[FORGET_AT, here], ground[FORGET_AT, here + 1]):
                put(ground, play, ground[FORGET, f], ground[LOST, ground[FORGET, f]])
            play[NOW, HASH] ^= ground[STATION_MARK, here]
        play[NOW, HASH] ^= ground[STATION_MARK, at]
        play[NOW, HERE] = at
    for n in range(ground[NEED_AT, kind], ground[NEED_AT, kind + 1]):
        d = ground[NEED_DIAL, n]
        entry = ground[NEED_ENTRY, n] + play[STANDING, d]
        put(ground, play, d, ground[STILL_LEADS if held >> d & 1 else LEADS, entry])
    play[NOW, COST] += cost
    make_top(ground, play, kind)


@inner
def cheapest(ground: Table, play: Table) -> int:
    """The ready kind that costs least to turn to; -1 if none can be."""
    best, least = -1, FAR_64
    for at in range(ground[SIZES, STATIONS]):
        for k in range(play[ACTIVES, at]):
            kind = play[ACTIVE + at, k]
            cost = price_turn(ground, play, kind)
            if cost < least:
                best, least = kind, cost
    return best


@inner
def gratis(ground: Table, play: Table) -> int:
    """A ready kind here without mates that costs nothing now, though it changes how dials may stand; -1 if none."""
    here = play[NOW, HERE]
    if here >= 0:
        for k in range(play[ACTIVES, here]):
            kind = play[ACTIVE + here, k]
            lot = play[TOP, kind]
            alone = ground[GROUP_AT, lot] == ground[GROUP_AT, lot + 1]
            if alone and price_turn(ground, play, kind) == 0:
                return int(kind)
    return -1


@inner
def some_kind(ground: Table, play: Table, chance: Table) -> int:
    """The cheapest of one to four ready kinds drawn at random; -1 if none can be turned to."""
    count = 0
    for at in range(ground[SIZES, STATIONS]):
        count += play[ACTIVES, at]
    best, least = -1, FAR_64
    if count == 0:
        return best
    for _ in range(1 + draw(chance, 4)):
        k = draw(chance, count)
        at = 0
        while k >= play[ACTIVES, at]:
            k -= play[ACTIVES, at]
            at += 1
        kind = play[ACTIVE + at, k]
        cost = price_turn(ground, play, kind)
        if cost < least:
            best, least = kind, cost
    return best


@inner
def instead(ground: Table, play: Table, kind: int) -> int:
    """Where no lot of a kind is ready: the ready kind with most needs that turning to it would set free, or -1."""
    held = play[NOW, HOLDING]
    for d in range(ground[SIZES, DIALS]):
        play[AIM, d] = play[STANDING, d]
    for n in range(ground[NEED_AT, kind], ground[NEED_AT, kind + 1]):
        d = ground[NEED_DIAL, n]
        play[AIM, d] = ground[
            STILL_LEADS if held >> d & 1 else LEADS, ground[NEED_ENTRY, n] + play[STANDING, d]
        ]
        if play[AIM, d] < 0:
            return -1
    best, most = -1, 0
    at = ground[STATION, kind]
    for k in range(play[ACTIVES, at]):
        other = play[ACTIVE + at, k]
        needs = ground[NEED_AT, other + 1] - ground[NEED_AT, other]
        if needs > most and is_free(ground, play, AIM, other):
            best, most = other, needs
    return best


@inner
def bring_up(ground: Table, play: Table, lot: int) -> int:
    """Make a lot the one of its kind that is made first; the kind, or -1 where the lot is made or not ready."""
    if play[WAITS, lot] != 0:
        return -1
    kind = ground[KIND, lot]
    above = -1
    other = play[TOP, kind]
    while other != lot:
        above = other
        other = play[BELOW, other]
    if above >= 0:
        play[BELOW, above] = play[BELOW, lot]
        play[BELOW, lot] = play[TOP, kind]
        play[TOP, kind] = lot
    return int(kind)
