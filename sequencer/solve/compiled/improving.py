"""Kernels that vary an order by its turns (`turns`), and keep what is cheaper.

Taking a turn out, putting one in or exchanging stretches of turns changes an order as a whole; so does taking another
option of a choice, whose lots are put in from where those of the old one were on. What the new order costs is found by
making it (`playing`) from the place of the change to where it meets the old one again: the same lots made, the dials
standing alike.
"""

from __future__ import annotations

import math

from sequencer.solve.compiled import FAR_64, inner, kernel
from sequencer.solve.compiled.playing import (
    absorb,
    bring_up,
    cheapest,
    draw,
    gratis,
    instead,
    note,
    price_turn,
    set_up,
    some_kind,
    turn_to,
)
from sequencer.solve.compiled.turns import (
    CHOICES,
    COST,
    FOLLOWER,
    FOLLOWER_AT,
    GROUP,
    GROUP_AT,
    HASH,
    IN,
    LOOSE,
    LOT,
    LOTS,
    MADE,
    MARK,
    MEMBERS,
    MET,
    MISSING,
    MORE,
    NOW,
    OPTION_AT,
    OPTIONAL,
    OPTIONAL_AT,
    ORDER,
    SIZES,
    SWITCH,
    TAKEN,
    TARGET,
    TIED,
    TOP,
    TOTAL,
    TOUCHED,
    TURN,
    TURNS,
    WAS_COST,
    WAS_HASH,
    WAS_MADE,
    WORK,
    Table,
)

EAGER = 2
"""All but one in so many changed orders take what costs nothing first."""

SWITCHING = 4
"""One in so many changes takes another option, where there are choices."""


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
    lots as ~lot; its cost, or FAR_64 if it is over the limit, or so far behind the line on the way (by more than the
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
                return FAR_64
            if old <= last and play[NOW, HASH] == line[old, WAS_HASH]:
                total = play[NOW, COST] + line[-1, TOTAL] - line[old, WAS_COST]
                fresh[-1, TURNS] = turn
                fresh[-1, TOTAL] = total
                fresh[-1, MET] = old
                return int(total) if total <= limit else FAR_64
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
                return FAR_64
        if kind < 0:
            continue
        cost = price_turn(ground, play, kind)
        if cost > 0 and eager:
            other = gratis(ground, play)
            if other >= 0:  # first what costs nothing
                kind, cost = other, 0
                at -= listed
        if cost < FAR_64:
            fresh[turn, TURN] = kind
            turn += 1
            turn_to(ground, play, kind, cost)
            if absorbing:
                absorb(ground, play)
    return FAR_64


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
    if ground[TIED, choice]:
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
    return size + shift, shift, FAR_64 if ground[TIED, choice] else i + shift


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
            count, begin, shift, clear, dice = ground[SIZES, LOTS], 0, 0, FAR_64, 0
            limit, absorbing, eager, late = FAR_64 - 1, move == 0, False, slack
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
        if cost < FAR_64:
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
