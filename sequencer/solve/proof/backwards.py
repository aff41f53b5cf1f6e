"""A problem told backwards: its orders are those of the problem from the last lot to the first, at the same cost.

Where all that is asked holds from both ends, the least cost may be looked for from either, and how much work a proof is
can differ by a factor of ten: what lies near the one end is decided early there.

A dial takes one value for each lot that names it. What they cost is the sum over neighbours and what the first one
costs, f(v) for value v. From the other end the last one is the first; so let a move back from b to a cost
move[a][b] + f(a) - f(b), and the first value there f again. What is added and taken away along the way cancels, but
for f of both ends, and the sum stays the same. No move may cost less than nothing, or bounds would not hold.
"""

from __future__ import annotations

from dataclasses import replace

from sequencer.solve.problem import Dial, Mates, Problem


def backwards(problem: Problem) -> Problem | None:
    """The problem from its other end; None where it is not the same from there.

    That is so where a lot accepts values a dial cannot be moved to for it, where mates hold a dial that not all of them
    name, and where a dial that starts at a value is lost by leaving or is one setting with another value there: these
    hold from one end only. Nor is it told where choices are open, or a move would cost less than nothing.
    """
    if problem.choices or any(need.reach != need.stay for lot in problem.lots for need in lot.needs.values()):
        return None
    if not all(_named(problem, group) for group in problem.mates if len(group.lots) > 1):
        return None
    dials = [_turned(dial) for dial in problem.dials]
    if None in dials:
        return None
    return replace(
        problem,
        dials=tuple(dial for dial in dials if dial),
        walk=tuple(zip(*problem.walk, strict=True)),
        precedence=tuple((b, a) for a, b in problem.precedence),
        wishes=tuple(replace(wish, before=wish.after, after=wish.before) for wish in problem.wishes),
    )


def _named(problem: Problem, group: Mates) -> bool:
    return all(d in problem.lots[lot].needs for lot in group.lots for d in group.held)


def _turned(dial: Dial) -> Dial | None:
    """The dial as it costs from the other end; None where it cannot be told (see `backwards`)."""
    values = range(dial.values)
    first = list(dial.first)
    if dial.start is not None:
        if not dial.keeps:
            return None
        for v in values:
            cost = dial.move[dial.start][v]
            if cost is None:
                return None
            first[v] = 0 if v == dial.start else cost
    rows: list[tuple[int | None, ...]] = []
    for b in values:
        row: list[int | None] = []
        for a in values:
            cost = dial.move[a][b]
            if cost is not None and a != b:
                cost += first[a] - first[b]
                if cost < 0:
                    return None
            row.append(cost)
        rows.append(tuple(row))
    return replace(dial, move=tuple(rows), first=tuple(first), start=None)
