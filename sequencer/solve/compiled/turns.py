"""The tables of an order told by its turns: which kind of lot is gone to next, all that is then free made at once.

A *kind* is all lots with the same needs at the same station. An order is told by the kinds the work turns to, its
*turns*; after each, every lot that is ready and changes nothing is made. Lots of options that are not taken are
*missing*: as if they had been made before the first turn.

Three tables of whole numbers hold everything. Rows of the *ground*, which never changes, and of the *play*, an order
being made, are named below; of a *line*, an order written down, the columns are. `X_AT` says where the entries of i
lie in X: from `X_AT[i]` to before `X_AT[i + 1]`.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Table = npt.NDArray[np.int64]

BITS = 63
"""Dials that mates can hold, by number; holding others is left to be checked at the end."""

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
    LOST,  # of a dial: its standing when lost
    MARK_AT,  # of a dial; random words for lots, then for each dial's standings
    MARK,
    STATION_MARK,
    OPTION_AT,  # of a choice
    WORK,  # of an option: the work of its lots
    OPTIONAL_AT,  # of a choice: its lots, each after those of them that come before it
    OPTIONAL,
    IN,  # the options each is in (a mask)
    TIED,  # of a choice: whether some lot of it has mates or is in wishes
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
