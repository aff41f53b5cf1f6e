"""The row of one dial: its slots in the order of time, each empty or holding one value, and the lots in them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from sequencer.solve.cpsat.frame import Frame


@dataclass(frozen=True)
class Row:
    """The variables of one dial.

    Per slot: `values` (one Boolean for each value), `border` (the position it begins at), `filled`, `opens`
    (the lots that may be the first in it, where that matters); `inside`: per lot, one Boolean for each slot.
    """

    values: list[list[Any]]
    border: list[Any]
    filled: list[Any]
    inside: dict[int, list[Any]]
    opens: list[list[tuple[int, Any]]]


def row_of(frame: Frame, d: int, slots: int, exact: bool) -> Row:
    """The slots of one dial, and the lots in them. `exact`: it matters which lot a run begins with."""
    model, dial = frame.model, frame.dials[d]
    values = [[model.new_bool_var(f"d{d}.{k}={v}") for v in range(dial.values)] for k in range(slots)]
    border = [model.new_int_var(-1, frame.count, f"d{d}.{k}.from") for k in range(slots)]
    filled = [sum(row) for row in values]
    for k in range(slots):
        model.add(filled[k] <= 1)
        if k:
            model.add(filled[k] <= filled[k - 1])
            model.add(border[k - 1] <= border[k])
        if dial.values == 0:
            continue
        empty = model.new_bool_var(f"d{d}.{k}.empty")
        model.add(filled[k] + empty == 1)
        model.add(border[k] == frame.count).only_enforce_if(empty)
    if dial.start is not None and slots:
        model.add(values[0][dial.start] == 1)
        model.add(border[0] == -1)
    row = Row(values, border, filled, {}, [[] for _ in range(slots)])
    _put_in_lots(frame, d, row, exact)
    return row


def _put_in_lots(frame: Frame, d: int, row: Row, exact: bool) -> None:
    """Each lot that names the dial into one slot, each filled slot with a lot in it."""
    model, dial = frame.model, frame.dials[d]
    slots = len(row.values)
    given = dial.start is not None
    for lot, needs in enumerate(frame.needs):
        if d not in needs:
            continue
        frame.tick()
        need = needs[d]
        row.inside[lot] = [model.new_bool_var(f"lot{lot} in d{d}.{k}") for k in range(slots)]
        model.add(sum(row.inside[lot]) == frame.made[lot])
        for k, here in enumerate(row.inside[lot]):
            model.add(sum(row.values[k][v] for v in range(dial.values) if need.stay >> v & 1) >= here)
            model.add(row.border[k] <= frame.position[lot]).only_enforce_if(here)
            if k + 1 < slots:
                model.add(frame.position[lot] < row.border[k + 1]).only_enforce_if(here)
            if exact and not (given and k == 0):
                first = model.new_bool_var(f"lot{lot} opens d{d}.{k}")
                model.add_implication(first, here)
                model.add(sum(row.values[k][v] for v in range(dial.values) if need.reach >> v & 1) >= first)
                model.add(row.border[k] == frame.position[lot]).only_enforce_if(first)
                row.opens[k].append((lot, first))
    for k in range(1 if given else 0, slots):
        if exact:
            model.add(sum(b for _, b in row.opens[k]) == row.filled[k])
        else:
            model.add(sum(here[k] for here in row.inside.values()) >= row.filled[k])


def exact_dials(frame: Frame) -> list[bool]:
    """For each dial, whether it matters which lot each of its runs begins with.

    So it is where a lot may stay at values it may not be moved to, and where mates hold the dial; for
    walking where they hold a dial that is lost by leaving.
    """
    dials = range(len(frame.dials))
    exact = [any(n[d].reach != n[d].stay for n in frame.needs if d in n) for d in dials]
    for group in frame.problem.mates:
        for d in group.held:
            exact[d] = True
            if not frame.dials[d].keeps:
                exact[-1] = True
    return exact


def keep_apart(frame: Frame, exact: list[bool]) -> None:
    """Lots may share a position, being free to stand in any order there, unless that order matters."""
    delicate = {lot for lot, needs in enumerate(frame.needs) if any(exact[d] for d in needs)}
    delicate |= {lot for group in frame.problem.mates for lot in group.lots}
    if len(delicate) > 1:
        frame.model.add_all_different([frame.position[lot] for lot in sorted(delicate)])
