"""What binds lots to each other: precedence, mates, wishes."""

from __future__ import annotations

from typing import Any

from sequencer.solve.cpsat.frame import Frame, Terms
from sequencer.solve.cpsat.rows import Row


def precede(frame: Frame, rows: list[Row]) -> None:
    """Each lot after its predecessors; what follows for the rows is said too, as it speeds up the proof."""
    model, position = frame.model, frame.position
    for a, b in frame.problem.precedence:
        model.add(position[a] < position[b]).only_enforce_if(frame.both_made(a, b))
    for a, b in frame.always_before:
        frame.tick()
        for d in frame.needs[a].keys() & frame.needs[b].keys():
            if a not in rows[d].inside:
                continue
            apart = frame.needs[a][d].stay & frame.needs[b][d].stay == 0
            first, second = rows[d].inside[a], rows[d].inside[b]
            for k in range(len(first)):
                model.add(sum(second[: k + 1]) <= sum(first[: k + 1 - apart]))


def mate(frame: Frame, rows: list[Row]) -> None:
    """No held dial is moved, or lost, after the first and up to the last of its mates."""
    model = frame.model
    for g, group in enumerate(frame.problem.mates):
        frame.tick()
        first = model.new_int_var(0, frame.count, f"mates{g}.first")
        last = model.new_int_var(0, frame.count, f"mates{g}.last")
        for lot in sorted(group.lots):
            when = [] if frame.always(lot) else [frame.made[lot]]
            model.add(first <= frame.position[lot]).only_enforce_if(when)
            model.add(last >= frame.position[lot]).only_enforce_if(when)
        for d in sorted(group.held):
            for border in rows[d].border:
                _outside(frame, border, first, last, [])
            if not frame.dials[d].keeps:
                walks = rows[-1]
                for j in range(1, len(walks.border)):
                    leaving = walks.values[j - 1][frame.dials[d].station]
                    _outside(frame, walks.border[j], first, last, [leaving])


def _outside(frame: Frame, border: Any, first: Any, last: Any, when: list[Any]) -> None:
    early = frame.model.new_bool_var("")
    frame.model.add(border <= first).only_enforce_if([early, *when])
    frame.model.add(border > last).only_enforce_if([~early, *when])


def wish(frame: Frame) -> Terms:
    """A preference is kept or paid for."""
    terms: Terms = []
    for n, one in enumerate(frame.problem.wishes):
        unmet = frame.model.new_bool_var(f"wish{n}")
        kept = frame.position[one.before] < frame.position[one.after]
        frame.model.add(kept).only_enforce_if([*frame.both_made(one.before, one.after), ~unmet])
        terms.append(one.price * unmet)
    return terms
