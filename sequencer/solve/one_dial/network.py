"""Problems in which every cost lies between two neighbours, as a network of nodes to visit.

A *node* is a lot made with its dials at given values; a *group* holds the nodes of which exactly one is visited:
those of one lot always made, or of all lots of one choice. Where each lot names every dial of its station that
costs anything, and none keeps its value while work is elsewhere, the node visited last says how all dials
stand: what comes next costs the same however it was reached. This is the sequential ordering problem of L. F.
Escudero, An inexact algorithm for the sequential ordering problem, European J. Operational Research 37(2),
1988, with alternatives. Title from memory.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product

import numpy as np
import numpy.typing as npt

from sequencer.solve.problem import Dial, Lot, Need, Problem
from sequencer.solve.relation import Relation, bits

Costs = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]
Words = npt.NDArray[np.uint64]

MOST_NODES = 400
"""Nodes beyond which the bounds cost more time than they save."""

MOST_GROUPS = 300
"""Groups beyond which they do."""

SCALE = 64
"""Parts of a cost unit in which prices of walks are whole numbers."""

MOST_COST = 1 << 40
"""What no order may come to, so that sums stay far from the end of 64 bits."""


@dataclass(frozen=True)
class Network:
    """The nodes of a problem, what they cost after one another, and what they rule out.

    `enter[b]` is what node b costs as the first, `cost[a, b]` what it costs after a, both with the work that
    exceeds the least of its group; `work` is the sum of these least. What cannot be costs `MOST_COST`.
    `arc[a, b]`: b may come directly after a; `fits[k, b]`: b may be the one at place k; `after[a, b]`: if both
    are visited, b comes after a.

    Marks are numbered bits in words of 64. Visiting b leaves the marks `leaves[b]`; b cannot come once one of
    `barred[b]` stands, nor before all of `needs[b]` stand. Each group has a mark, and each class of nodes of one
    group that differ in what comes before or after them another, so the marks that stand say all that matters
    to what may follow.
    """

    lot: tuple[int, ...]
    group: npt.NDArray[np.int64]
    enter: Costs
    cost: Costs
    arc: Flags
    fits: Flags
    after: Flags
    leaves: Words
    barred: Words
    needs: Words
    work: int


def dear_dials(problem: Problem) -> list[int]:
    """The dials that cost anything to set."""
    return [d for d, dial in enumerate(problem.dials) if any(dial.first) or any(map(any, dial.move))]


def has_network(problem: Problem) -> bool:
    """Whether every cost lies between two neighbours and the network is of a size to work with.

    No mates or wishes, options of one lot each; every lot names all dials of its station that cost anything;
    these keep nothing while work is elsewhere, or there is but one station; no move is missing between values
    wanted; all else is free.
    """
    lots, dials = problem.lots, problem.dials
    if problem.mates or problem.wishes or any(len(o) != 1 for choice in problem.choices for o in choice):
        return False
    dear = dear_dials(problem)
    stations = {lot.station for lot in lots}
    if len(stations) > 1 and any(
        dials[d].station in stations and (dials[d].keeps or dials[d].start is not None) for d in dear
    ):
        return False
    wanted = [0] * len(dials)
    nodes = 0
    for lot in lots:
        here = 1
        for d, need in lot.needs.items():
            wanted[d] |= need.stay
            if d in dear:
                here *= need.stay.bit_count()
            if not need.reach:
                return False
        if any(dials[d].station == lot.station and d not in lot.needs for d in dear):
            return False
        nodes += here
    optional = sum(map(len, problem.choices))
    groups = len(lots) - optional + len(problem.choices)
    if not 2 <= groups <= MOST_GROUPS or nodes > MOST_NODES:
        return False
    dearest = [max(lot.work for lot in lots), *map(max, problem.walk)]
    dearest += [max([*dial.first, *(x or 0 for row in dial.move for x in row)]) for dial in dials]
    if groups * sum(dearest) >= MOST_COST:
        return False
    return not any(_lacks_a_move(dial, wanted[d], d in dear) for d, dial in enumerate(dials))


def _lacks_a_move(dial: Dial, wanted: int, dear: bool) -> bool:
    """Whether some move between different values wanted does not exist; of a free dial, any move."""
    if not dear:
        return any(None in row for row in dial.move)
    start = 0 if dial.start is None else 1 << dial.start
    return any(dial.move[a][b] is None for a in bits(wanted | start) for b in bits(wanted) if a != b)


def network_of(problem: Problem, relation: Relation) -> Network:
    """The network of a problem that has one."""
    dear = dear_dials(problem)
    members = _groups(problem, relation)
    least = [min(problem.lots[lot].work for lot in group) for group in members]
    lot, group, at = [], [], []
    for g, lots in enumerate(members):
        for one in lots:
            for values in _values(problem.lots[one], dear):
                lot.append(one)
                group.append(g)
                at.append(values)
    count = len(lot)
    enter = np.zeros(count, dtype=np.int64)
    cost = np.zeros((count, count), dtype=np.int64)
    useful = np.zeros((count, count), dtype=np.bool_)
    for b in range(count):
        made = problem.lots[lot[b]]
        extra = made.work - least[group[b]]
        first = [_paid(problem.dials[d], problem.dials[d].start, v, made.needs[d]) for d, v in at[b].items()]
        useful[b, b] = None not in first  # for now: whether b may be the first
        enter[b] = sum(x or 0 for x in first) + extra
        for a in range(count):
            station = problem.lots[lot[a]].station
            apart = station != made.station
            moves = [
                _paid(problem.dials[d], None if apart else at[a][d], v, made.needs[d])
                for d, v in at[b].items()
            ]
            if a != b:
                useful[a, b] = group[a] != group[b] and None not in moves
            cost[a, b] = (
                sum(x or 0 for x in moves) + extra + (problem.walk[station][made.station] if apart else 0)
            )
    enter[~useful.diagonal()] = MOST_COST
    cost[~useful & ~np.eye(count, dtype=np.bool_)] = MOST_COST
    return _with_marks(
        lot, np.array(group, dtype=np.int64), enter, cost, useful, relation, members, sum(least)
    )


def _groups(problem: Problem, relation: Relation) -> list[list[int]]:
    """The lots of each group, those always made first; only options that can be taken."""
    of_choice = {lot for choice in problem.choices for option in choice for lot in option}
    alone = [[lot] for lot in range(len(problem.lots)) if lot not in of_choice]
    taken = [
        sorted({next(iter(choice[o])) for o, _ in options})
        for choice, options in zip(problem.choices, relation.options, strict=True)
    ]
    return alone + taken


def _values(lot: Lot, dear: list[int]) -> Iterator[dict[int, int]]:
    """The values at which the dials that cost anything can stand while a lot is made."""
    named = [d for d in dear if d in lot.needs]
    for values in product(*(tuple(bits(lot.needs[d].stay)) for d in named)):
        yield dict(zip(named, values, strict=True))


def _paid(dial: Dial, before: int | None, value: int, need: Need) -> int | None:
    """What it costs to have a dial at a value, None where it cannot be moved there."""
    if before == value:
        return 0
    if not need.reach >> value & 1:
        return None
    return dial.first[value] if before is None else dial.move[before][value]


def _with_marks(
    lot: list[int],
    group: npt.NDArray[np.int64],
    enter: Costs,
    cost: Costs,
    useful: Flags,
    relation: Relation,
    members: list[list[int]],
    work: int,
) -> Network:
    """The network with its marks, and the arcs and places that precedence leaves.

    A group all of whose lots come before b must have been visited before b; one between a and b in this way
    keeps b from coming directly after a. A node cannot stand at a place lower than the number of groups that
    must come before it, nor so high that those that must come after it find no room.
    """
    count, places = len(lot), len(members)
    mark_of: dict[tuple[int, int, int], int] = {}
    for g, lots in enumerate(members):
        kinds = {(relation.before[x], relation.after[x]) for x in lots}
        for kind in sorted(kinds) if len(kinds) > 1 else ():
            mark_of[g, *kind] = places + len(mark_of)
    classes = [
        mark_of.get((g, relation.before[x], relation.after[x]), g)
        for x, g in zip(lot, group.tolist(), strict=True)
    ]
    total = places + len(mark_of)
    masks = [sum(1 << x for x in lots) for lots in members]
    leaves, barred, needs = (np.zeros((count, (total + 63) // 64), dtype=np.uint64) for _ in range(3))
    after = np.array([[relation.after[x] >> y & 1 for y in lot] for x in lot], dtype=np.bool_).reshape(
        count, count
    )
    fits = np.zeros((places, count), dtype=np.bool_)
    whole_before = np.zeros((count, places), dtype=np.bool_)
    whole_after = np.zeros((count, places), dtype=np.bool_)
    for b, x in enumerate(lot):
        whole_before[b] = [not mask & ~relation.before[x] for mask in masks]
        whole_after[b] = [not mask & ~relation.after[x] for mask in masks]
        later = {classes[y] for y in range(count) if after[b, y]}
        _set(leaves[b], {int(group[b]), classes[b]})
        _set(barred[b], {int(group[b])} | later)
        _set(needs[b], set(np.flatnonzero(whole_before[b]).tolist()))
        fits[int(whole_before[b].sum()) : places - int(whole_after[b].sum()), b] = True
    fits[0] &= useful.diagonal()
    between = whole_after.astype(np.int64) @ whole_before.T.astype(np.int64) > 0
    arc = useful & ~after.T & ~between
    np.fill_diagonal(arc, False)
    return Network(tuple(lot), group, enter, cost, arc, fits, after, leaves, barred, needs, work)


def _set(words: Words, marks: set[int]) -> None:
    for mark in marks:
        words[mark >> 6] |= np.uint64(1 << (mark & 63))


def packed(flags: Flags) -> Words:
    """Each row as bits in words of 64."""
    words = np.zeros((len(flags), (flags.shape[1] + 63) // 64), dtype=np.uint64)
    for row, column in zip(*np.nonzero(flags), strict=True):
        words[row, column >> 6] |= np.uint64(1 << (int(column) & 63))
    return words
