"""Kernels that vary an order by its turns: which kind of lot is gone to next, all that is then free made at once.

A *kind* is all lots with the same needs at the same station. An order is told by the kinds the work turns to, its
*turns*; after each, every lot that is ready and changes nothing is made. Taking a turn out, putting one in or
exchanging stretches of turns changes an order as a whole; so does taking another option of a choice, whose lots are
put in from where those of the old one were on. What the new order costs is found by making it from the place of the
change to where it meets the old one again: the same lots made, the dials standing alike. Lots of options that are not
taken are *missing*: as if they had been made before the first turn.

Three tables of whole numbers hold everything. Rows of the *ground*, which never changes, and of the *play*, an order
being made, are named below; of a *line*, an order written down, the columns are. `X_AT` says where the entries of i
lie in X: from `X_AT[i]` to before `X_AT[i + 1]`.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from sequencer.solve.compiled import inner, kernel

Table = npt.NDArray[np.int64]

FAR = 1 << 50
"""More than any order costs."""

BITS = 63
"""Dials that mates can hold, by number; holding others is left to be checked at the end."""

EAGER = 2
"""All but one in so many changed orders take what costs nothing first."""

SWITCHING = 4
"""One in so many changes takes another option, where there are choices."""

(
    SIZES,  # how many lots, groups of mates, kinds, stations, dials and choices there are
    KIND,  # of a lot
    STATION,  # of a kind
    NEED_AT,  # of a kind
    NEED_DIAL,
    NEED_ENTRY,  # together with the dial's standing, the entry of the next five
    LEADS,  # the standing after a lot with this need; -1: impossible
    COSTS,  # what that costs
    FREE,  # whether the standing stays what it is at no cost, held or not
    STILL_LEADS,  # the same for a dial that is held
    STILL_COSTS,
    FOLLOWER_AT,  # of a lot
    FOLLOWER,
    BEFORE,  # of a lot: how many come right before it
    SPECIAL,  # whether a kind is one lot in mates or wishes
    GROUP_AT,  # of a lot
    GROUP,
    MEMBER_AT,  # of a group of mates
    MEMBER,
    HELD,  # of a group: the dials (a mask)
    WISH_AT,  # of a lot: those better made before it
    WISH,
    WISH_PRICE,
    FORGET_AT,  # of a station: its dials that are lost by leaving it
    FORGET,
    NOTHING,  # of a dial: its standing when lost
    MARK_AT,  # of a dial; random words for lots, then for each dial's standings
    MARK,
    STATION_MARK,
    OPTION_AT,  # of a choice
    WORK,  # of an option: the work of its lots
    OPTIONAL_AT,  # of a choice: its lots, each after those of them that come before it
    OPTIONAL,
    IN,  # the options each is in (a mask)
    BOUND,  # of a choice: whether some lot of it has mates or is in wishes
    WALK,  # and one more row for each station
) = range(36)
LOTS, GROUPS, KINDS, STATIONS, DIALS, CHOICES, LOOSE = range(7)
"""Sizes; `LOOSE`: whether a lot may cost nothing and yet change how a dial may stand."""

(
    NOW,  # how things are, see below
    WAITS,  # of a lot: how many are missing before it; -1: it is made
    TOP,  # of a kind: the lot that became ready last; -1: none
    BELOW,  # of a ready lot: the ready lot of its kind before it
    PLACE,  # of a kind that has ready lots: where among its station's
    ACTIVES,  # of a station: how many kinds have ready lots
    STANDING,  # of a dial
    AIM,  # of a dial, in thought
    OPENED,  # of a group: how many are made
    MEMBERS,  # of a group: how many are not missing
    MISSING,  # of a lot: whether it is
    TOUCHED,  # of a lot: the last switch that it stood in the way of
    ORDER,  # the lots made
    ACTIVE,  # kinds that have ready lots, and one more row for each station
) = range(14)
MADE, COST, HERE, HASH, HOLDING, TARGET, SWITCH = range(7)
"""Now: how many lots are made, the cost so far, the station (-1 at first), a hash of all, the dials held (a mask); how
many lots are to be made; how many switches were tried.
"""

LOT, TAKEN, TURN, WAS_MADE, WAS_COST, WAS_HERE, WAS_HASH, STOOD = range(8)
"""Of a line: the lots in order; the options taken of the choices; for each turn its kind, and how things are just
before it: the dials from `STOOD` on.

Where the turns are over, one more row says how things are at the end.
"""
TURNS, TOTAL, MET, MORE = range(4)
"""Columns of a line's last row: how many turns, what they cost, which turn of the old line is next; how much more work
its options are than those taken at first.
"""


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
    """What turning to a kind costs now; FAR if that cannot be."""
    held = play[NOW, HOLDING]
    at, here = ground[STATION, kind], play[NOW, HERE]
    cost = 0
    if here >= 0 and here != at:
        cost = ground[WALK + here, at]
        if held:
            for f in range(ground[FORGET_AT, here], ground[FORGET_AT, here + 1]):
                if held >> ground[FORGET, f] & 1:
                    return FAR
    for n in range(ground[NEED_AT, kind], ground[NEED_AT, kind + 1]):
        d = ground[NEED_DIAL, n]
        entry = ground[NEED_ENTRY, n] + play[STANDING, d]
        still = held >> d & 1
        if ground[STILL_LEADS if still else LEADS, entry] < 0:
            return FAR
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
                put(ground, play, ground[FORGET, f], ground[NOTHING, ground[FORGET, f]])
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
    best, least = -1, FAR
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
    best, least = -1, FAR
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


@inner
def follow(
    ground: Table,
    play: Table,
    line: Table,
    fresh: Table,
    todo: Table,
    count: int,
    begin: int,
    shift: int,
    clear: int,
    dice: int,
    absorbing: bool,
    eager: bool,
    limit: int,
    slack: int,
    chance: Table,
) -> int:
    """Make an order from turn `begin` on: `dice` random turns, then the first `count` of `todo`, which are kinds, or
    lots as ~lot; its cost, or FAR if it is over the limit, or so far behind the line on the way (by more than the
    `slack`) that it will hardly catch up.

    From place `clear` on, `todo` is the line's turns moved by `shift` places; where the two orders meet again the
    line's end is taken over. `fresh` becomes the new line up to there; its last row says which turn of `line` is next
    (-1 if the orders have not met).
    """
    at, turn = begin, begin
    lots, last = play[NOW, TARGET], line[-1, TURNS]
    fresh[-1, MET] = -1
    while play[NOW, COST] <= limit:
        note(play, fresh, turn)
        if dice == 0 and at >= clear:
            old = at - shift
            if old <= last and play[NOW, COST] - line[old, WAS_COST] > limit - line[-1, TOTAL] + slack:
                return FAR
            if old <= last and play[NOW, HASH] == line[old, WAS_HASH]:
                total = play[NOW, COST] + line[-1, TOTAL] - line[old, WAS_COST]
                fresh[-1, TURNS] = turn
                fresh[-1, TOTAL] = total
                fresh[-1, MET] = old
                return int(total) if total <= limit else FAR
        if play[NOW, MADE] == lots:
            fresh[-1, TURNS] = turn
            fresh[-1, TOTAL] = play[NOW, COST]
            return int(play[NOW, COST])
        kind, listed = -1, 0
        if dice > 0:
            dice -= 1
            kind = some_kind(ground, play, chance)
        elif at < count:
            kind, listed = todo[at], 1
            at += 1
            if kind < 0:
                kind = bring_up(ground, play, ~kind)
            elif play[TOP, kind] < 0:
                kind = instead(ground, play, kind)
        else:
            kind = cheapest(ground, play)
            if kind < 0:
                return FAR
        if kind < 0:
            continue
        cost = price_turn(ground, play, kind)
        if cost > 0 and eager:
            other = gratis(ground, play)
            if other >= 0:  # first what costs nothing
                kind, cost = other, 0
                at -= listed
        if cost < FAR:
            fresh[turn, TURN] = kind
            turn += 1
            turn_to(ground, play, kind, cost)
            if absorbing:
                absorb(ground, play)
    return FAR


@inner
def copy_rows(line: Table, first: int, after: int, other: Table, place: int) -> None:
    """Copy what is written of some turns of a line to another place, maybe in the same line."""
    back = place > first
    for n in range(after - first):
        k = after - first - 1 - n if back else n
        for column in range(TURN, line.shape[1]):
            other[place + k, column] = line[first + k, column]


@inner
def move_lots(line: Table, first: int, after: int, places: int) -> None:
    """Move some lots of a line by so many places."""
    for n in range(after - first):
        k = after - 1 - n if places > 0 else first + n
        line[k + places, LOT] = line[k, LOT]


@inner
def take_over(play: Table, line: Table, fresh: Table, begin: int) -> None:
    """Put the fresh line, which differs from turn `begin` on, in place of the line."""
    met, turn, last = fresh[-1, MET], fresh[-1, TURNS], line[-1, TURNS]
    if met >= 0:
        longer = play[NOW, MADE] - line[met, WAS_MADE]
        if longer:
            move_lots(line, line[met, WAS_MADE], line[last, WAS_MADE], longer)
            for k in range(met, last + 1):
                line[k, WAS_MADE] += longer
        copy_rows(line, met, last + 1, line, turn)
        gain = fresh[-1, TOTAL] - line[-1, TOTAL]
        for k in range(turn, turn + last + 1 - met):
            line[k, WAS_COST] += gain
        line[-1, TURNS] = turn + last - met
    else:
        line[-1, TURNS] = turn
    copy_rows(fresh, begin, turn if met >= 0 else turn + 1, line, begin)
    for k in range(line[begin, WAS_MADE], line[turn, WAS_MADE]):
        line[k, LOT] = play[ORDER, k]
    line[-1, TOTAL] = fresh[-1, TOTAL]


@inner
def copy_line(line: Table, other: Table) -> None:
    """Make the other line the same."""
    for k in range(max(line[-1, TURNS] + 1, line[line[-1, TURNS], WAS_MADE])):
        for column in range(line.shape[1]):
            other[k, column] = line[k, column]
    for k in range(line.shape[0] - 1):
        other[k, TAKEN] = line[k, TAKEN]
    other[-1, TURNS] = line[-1, TURNS]
    other[-1, TOTAL] = line[-1, TOTAL]
    other[-1, MORE] = line[-1, MORE]


@inner
def write_down(line: Table, first: int, after: int, todo: Table, place: int) -> None:
    """Write some of a line's turns to a place of `todo`."""
    for k in range(after - first):
        todo[place + k] = line[first + k, TURN]


@inner
def vary(line: Table, todo: Table, chance: Table) -> tuple[int, int, int, int, int]:
    """Write changed turns to `todo`: how many, where the change begins, shift, clear and dice as `follow` has them."""
    size = line[-1, TURNS]
    way = draw(chance, 8)
    i = draw(chance, size)
    for _ in range(draw(chance, 8)):  # mostly a turn that costs something
        if line[i + 1, WAS_COST] > line[i, WAS_COST]:
            break
        i = draw(chance, size)
    j = i + min(size - i, 1 + draw(chance, 1 + draw(chance, 60)))
    write_down(line, 0, i, todo, 0)
    shift, clear, dice = 0, i, 0
    if way <= 2:  # take one out, or a few, or put others in their place
        k = i + 1 if way == 0 else min(j, i + 1 + draw(chance, 4))
        write_down(line, k, size, todo, i)
        shift = i - k
        dice = 1 + draw(chance, k - i) if way == 2 else 0
    elif way == 3:  # put one in
        write_down(line, i, size, todo, i)
        dice = 1
    elif way == 4:  # a later one here and there
        todo[i] = line[j - 1, TURN]
        write_down(line, i, size, todo, i + 1)
        shift, clear = 1, i + 1
    elif way == 5:  # a later one here
        todo[i] = line[j - 1, TURN]
        write_down(line, i, j - 1, todo, i + 1)
        write_down(line, j, size, todo, j)
        clear = j
    elif way == 6:  # this one later
        write_down(line, i + 1, j, todo, i)
        todo[j - 1] = line[i, TURN]
        write_down(line, j, size, todo, j)
        clear = j
    else:  # two stretches exchanged
        k = min(size, j + 1 + draw(chance, 8))
        write_down(line, j, k, todo, i)
        write_down(line, i, j, todo, i + k - j)
        write_down(line, k, size, todo, k)
        clear = k
    return size + shift, i, shift, clear, dice


@inner
def take(ground: Table, play: Table, choice: int, option: int) -> None:
    """Take this option of a choice, and no other."""
    for k in range(ground[OPTIONAL_AT, choice], ground[OPTIONAL_AT, choice + 1]):
        lot = ground[OPTIONAL, k]
        missing = 1 - (ground[IN, k] >> option & 1)
        more = play[MISSING, lot] - missing
        play[MISSING, lot] = missing
        play[NOW, TARGET] += more
        for g in range(ground[GROUP_AT, lot], ground[GROUP_AT, lot + 1]):
            play[MEMBERS, ground[GROUP, g]] += more


@inner
def turned(ground: Table, play: Table, line: Table, choice: int, option: int) -> tuple[int, int]:
    """The first turn that this option of a choice may change, and the marks of the lots that come and go.

    That is the one that makes a lot that goes, or one that must come after a lot that comes. Mates and wishes reach
    further back: the lots made before may have to wait for one that comes.
    """
    play[NOW, SWITCH] += 1
    now, change = play[NOW, SWITCH], 0
    for k in range(ground[OPTIONAL_AT, choice], ground[OPTIONAL_AT, choice + 1]):
        lot = ground[OPTIONAL, k]
        comes = ground[IN, k] >> option & 1
        if comes != play[MISSING, lot]:
            continue  # as before
        change ^= ground[MARK, lot]
        if comes:
            for f in range(ground[FOLLOWER_AT, lot], ground[FOLLOWER_AT, lot + 1]):
                play[TOUCHED, ground[FOLLOWER, f]] = now
        else:
            play[TOUCHED, lot] = now
    turn, made, turns = 0, 0, line[-1, TURNS]
    if ground[BOUND, choice]:
        return turn, change
    while made < line[turns, WAS_MADE] and play[TOUCHED, line[made, LOT]] != now:
        made += 1
    while turn < turns and line[turn + 1, WAS_MADE] <= made:
        turn += 1
    return turn, change


@inner
def insert(
    ground: Table, play: Table, line: Table, todo: Table, choice: int, option: int, begin: int, chance: Table
) -> tuple[int, int, int]:
    """Write the turns to `todo`, and the lots of this option that are missing from some place after `begin` on: how
    many, shift and clear as `follow` has them.

    Where lots have mates the orders never meet: the hash does not tell whether a group with a missing lot is begun.
    """
    size = line[-1, TURNS]
    i = begin
    if draw(chance, 2):
        i += draw(chance, min(size - begin, draw(chance, 60)) + 1)
    write_down(line, 0, i, todo, 0)
    shift = 0
    for k in range(ground[OPTIONAL_AT, choice], ground[OPTIONAL_AT, choice + 1]):
        lot = ground[OPTIONAL, k]
        if not ground[IN, k] >> option & 1 or not play[MISSING, lot]:
            continue
        if shift and draw(chance, 2):
            j = min(size, i + draw(chance, 8))
            write_down(line, i, j, todo, i + shift)
            i = j
        todo[i + shift] = ~lot
        shift += 1
    write_down(line, i, size, todo, i + shift)
    return size + shift, shift, FAR if ground[BOUND, choice] else i + shift


@kernel
def anneal(
    ground: Table,
    play: Table,
    line: Table,
    fresh: Table,
    best: Table,
    todo: Table,
    moves: int,
    heat: float,
    slack: int,
    chance: Table,
) -> None:
    """Try so many changes; one that costs more is taken with a chance that falls with its cost over the heat
    (simulated annealing; Kirkpatrick, Gelatt and Vecchi, 1983). `best` is kept the cheapest line seen.
    """
    choices = ground[SIZES, CHOICES]
    for move in range(moves):
        choice, option, change, more = 0, -1, 0, 0
        if line[-1, TURNS]:
            if choices and draw(chance, SWITCHING) == 0:
                choice = draw(chance, choices)
                options = ground[OPTION_AT, choice + 1] - ground[OPTION_AT, choice]
                if options > 1:
                    option = (line[choice, TAKEN] + 1 + draw(chance, options - 1)) % options
            if option >= 0:
                dice, old = 0, ground[OPTION_AT, choice] + line[choice, TAKEN]
                more = ground[WORK, ground[OPTION_AT, choice] + option] - ground[WORK, old]
                begin, change = turned(ground, play, line, choice, option)
                count, shift, clear = insert(ground, play, line, todo, choice, option, begin, chance)
                take(ground, play, choice, option)
            else:
                count, begin, shift, clear, dice = vary(line, todo, chance)
            late = slack + max(more, 0)  # what more work brings may show later only
            luck = (1 + draw(chance, 1 << 30)) / (1 << 30)
            limit, absorbing = line[-1, TOTAL] + int(-math.log(luck) * heat) - more, True
            eager = ground[SIZES, LOOSE] > 0 and draw(chance, EAGER) > 0
        elif move < 2:
            count, begin, shift, clear, dice = ground[SIZES, LOTS], 0, 0, FAR, 0
            limit, absorbing, eager, late = FAR - 1, move == 0, False, slack
        else:
            return
        set_up(ground, play, line, begin)
        play[NOW, HASH] ^= change
        cost = follow(
            ground,
            play,
            line,
            fresh,
            todo,
            count,
            begin,
            shift,
            clear,
            dice,
            absorbing,
            eager,
            limit,
            late,
            chance,
        )
        if cost < FAR:
            take_over(play, line, fresh, begin)
            if option >= 0:
                line[choice, TAKEN] = option
                line[-1, MORE] += more
                for k in range(begin):
                    line[k, WAS_HASH] ^= change
            if cost + line[-1, MORE] < best[-1, TOTAL] + best[-1, MORE]:
                copy_line(line, best)
        elif option >= 0:
            take(ground, play, choice, line[choice, TAKEN])
