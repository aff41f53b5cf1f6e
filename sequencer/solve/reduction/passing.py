"""Values of dials and stations that it never helps to pass through.

A lot can be worth keeping back where a change-over table breaks the triangle inequality: it is a reason to stop on
the way from one value to another, which can be cheaper than going straight there. The same where a walk is shorter by
way of a third station, and where a dial is set more cheaply after its value was lost by leaving the station. Every
other lot may be made as soon as nothing has to be moved for it, and be taken out of an order without making the rest
dearer.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import inf

import numpy as np
from numpy.typing import NDArray

from sequencer.solve.problem import Problem
from sequencer.solve.relation import bits

EXAMINED_VALUES = 400
"""Values up to which a change-over table is examined for its triangles; of a dial with more none counts as vain."""

Costs = NDArray[np.float64]
"""What moves cost, infinite where there is none."""


def in_use(problem: Problem, d: int) -> int:
    """The values (a mask) dial d can ever hold: where it starts, and those some lot moves it to."""
    start = problem.dials[d].start
    mask = 0 if start is None else 1 << start
    for lot in problem.lots:
        if d in lot.needs:
            mask |= lot.needs[d].reach
    return mask


def vain_values(problem: Problem) -> list[int]:
    """For each dial the values (a mask) of which it never helps to pass through them; those never held count too.

    Such a value v may be moved to by every lot that accepts it; going by way of v is never possible where going
    straight is not, nor cheaper, from any value in use or from none to any other; and all lots of a group of
    mates that hold the dial name it. Take a lot that stood at v out of an order: the move to v and the next
    one become one move, not dearer, made where the next one was. Mates that hold the dial allow a move there
    or allow one before, since already the first of them names the dial.
    """
    return [_vain(problem, d) for d in range(len(problem.dials))]


def vain_stations(problem: Problem) -> int:
    """The stations (a mask) of which it never helps to pass through them, but for what their own dials start at
    (`first_visit_helps`).

    Take a lot out of an order, and let nothing else have been made in its visit to station t. If work came from
    another station than it went on to, one walk takes the place of two, and is not dearer. If it came from s and went
    back there, two walks are saved, but the dials of s keep values that were lost: the next lot to name such a dial
    moves it from there to where it was set afresh, each dial once. What this costs more at most (`_kept`) is not more
    than the walks.
    """
    used = sorted({lot.station for lot in problem.lots})
    walk = np.array([[problem.walk[a][b] if a != b else 0 for b in used] for a in used], float)
    kept = np.array([_kept(problem, s) for s in used])
    found = 0
    for at, t in enumerate(used):
        there_and_back = np.delete(kept > walk[:, at] + walk[at], at)
        if not there_and_back.any() and not _shortens(walk, at, walk):
            found |= 1 << t
    return found


def first_visit_helps(problem: Problem, station: int) -> bool:
    """Whether the first visit to a station can help though nobody needs it: a dial there starts at a value that is
    better lost. Later ones cannot, for nothing is left to be lost.
    """
    return _kept(problem, station, started=True) > 0


def _kept(problem: Problem, station: int, *, started: bool = False) -> float:
    """What it costs more at most that the dials of a station keep their values instead of losing them by leaving;
    `started`: only those that start at one.
    """
    total = 0.0
    for d, dial in enumerate(problem.dials):
        if dial.station == station and not dial.keeps and (dial.start is not None or not started):
            live = list(bits(in_use(problem, d)))
            total += np.max(_costs(problem, d, live) - [dial.first[b] for b in live], initial=0)
    return total


def _vain(problem: Problem, d: int) -> int:
    dial = problem.dials[d]
    for group in problem.mates:
        if (
            d in group.held
            and len(group.lots) > 1
            and any(d not in problem.lots[x].needs for x in group.lots)
        ):
            return 0
    mask = in_use(problem, d)
    fine = (1 << dial.values) - 1
    for lot in problem.lots:
        if need := lot.needs.get(d):
            fine &= ~(need.stay & ~need.reach & mask)
    live = list(bits(mask))
    if len(live) > EXAMINED_VALUES:
        return 0
    onward = _costs(problem, d, live)
    rows = onward
    if dial.start is None or not dial.keeps:
        rows = np.vstack([onward, [dial.first[b] for b in live]])
    for at, v in enumerate(live):
        if _shortens(rows, at, onward):
            fine &= ~(1 << v)
    return fine


def _costs(problem: Problem, d: int, live: Sequence[int]) -> Costs:
    """The moves of a dial between values in use."""
    move = problem.dials[d].move
    table = [[0 if a == b else inf if (cost := move[a][b]) is None else cost for b in live] for a in live]
    return np.array(table, float).reshape(len(live), len(live))


def _shortens(rows: Costs, at: int, onward: Costs) -> bool:
    """Whether some way is shorter by way of this place."""
    return bool((rows > rows[:, at, None] + onward[at]).any())
