"""What the changes along the row of a dial cost, as terms of the objective."""

from __future__ import annotations

from typing import Any

from sequencer.solve.cpsat.frame import Frame, Terms
from sequencer.solve.cpsat.rows import Row


def price_of_row(frame: Frame, d: int, row: Row) -> Terms:
    """The cost of each change along a row: of the value reached, or of the pair."""
    model, dial = frame.model, frame.dials[d]
    terms: Terms = []
    if not row.values:
        return terms
    if dial.start is None:
        terms += [dial.first[v] * b for v, b in enumerate(row.values[0])]
    alike = [
        {p for u in range(dial.values) if u != v and (p := dial.move[u][v]) is not None}
        for v in range(dial.values)
    ]
    for k in range(1, len(row.values)):
        frame.tick()
        before, now = row.values[k - 1], row.values[k]
        for u in range(dial.values):
            for v in range(dial.values):
                if u == v or dial.move[u][v] is None:
                    model.add_at_most_one([before[u], now[v]])
        if all(len(prices) <= 1 for prices in alike):
            terms += [min(alike[v], default=0) * now[v] for v in range(dial.values)]
            continue
        pairs = {
            (u, v): model.new_bool_var(f"d{d}.{k}: {u} to {v}")
            for u in range(dial.values)
            for v in range(dial.values)
            if u != v and dial.move[u][v] is not None
        }
        for v in range(dial.values):
            model.add(sum(b for (_, to), b in pairs.items() if to == v) == now[v])
            model.add(sum(b for (come, _), b in pairs.items() if come == v) <= before[v])
        terms += [(dial.move[u][v] or 0) * b for (u, v), b in pairs.items()]
    return terms


def price_of_forgetful(frame: Frame, d: int, row: Row, walks: Row) -> Terms:
    """The same for a dial lost by leaving its station: each run lies in one visit, the first of a visit
    is new. So there are at least as many runs as visits with lots that name the dial.
    """
    model, dial = frame.model, frame.dials[d]
    visits = range(len(walks.values))
    visit = [model.new_int_var(0, len(visits), f"d{d}.{k}.visit") for k in range(len(row.values))]
    used = [model.new_bool_var(f"d{d} used in visit {j}") for j in visits]
    for lot, inside in row.inside.items():
        frame.tick()
        mine = sum(j * here for j, here in enumerate(walks.inside[lot]))
        for k, here in enumerate(inside):
            model.add(visit[k] == mine).only_enforce_if(here)
        for j in visits:
            model.add_implication(walks.inside[lot][j], used[j])
    model.add(sum(row.filled) >= sum(used))
    if dial.start is not None and row.values:  # the start lasts through the first visit, and until then
        first = [model.new_bool_var(f"d{d} visited first in {j}") for j in visits]
        for j, stations in enumerate(walks.values):
            here = stations[dial.station]
            model.add(sum(first) >= here)
            model.add_implication(first[j], here)
            model.add(visit[0] == j).only_enforce_if(first[j])
            model.add(visit[0] <= j).only_enforce_if(here)
    terms: Terms = []
    if row.values and dial.start is None:
        terms += [dial.first[v] * b for v, b in enumerate(row.values[0])]
    for k in range(1, len(row.values)):
        frame.tick()
        before, now = row.values[k - 1], row.values[k]
        same = model.new_bool_var(f"d{d}.{k}.same visit")
        model.add(visit[k] == visit[k - 1]).only_enforce_if(same)
        model.add(visit[k] > visit[k - 1]).only_enforce_if(~same)
        above = []
        for v in range(dial.values):
            moves = [dial.move[u][v] if u != v else None for u in range(dial.values)]
            least = min([dial.first[v], *(p for p in moves if p is not None)])
            terms.append(least * now[v])
            above.append((v, dial.first[v] - least, [~same]))
            for u, p in enumerate(moves):
                if p is None:
                    model.add_bool_or([~before[u], ~now[v], ~same])
                else:
                    above.append((v, p - least, [before[u], same]))
        dearest = max(extra for _, extra, _ in above)
        if dearest:
            paid = model.new_int_var(0, dearest, f"d{d}.{k}.above the least")
            terms.append(paid)
            for v, extra, when in above:
                if extra:
                    model.add(paid >= extra).only_enforce_if([now[v], *when])
    return terms


def is_tour(frame: Frame, d: int, exact: bool, slots: int) -> bool:
    """Whether a dial is better told as a tour: a table, one value to each lot, hardly two lots alike."""
    dial = frame.dials[d]
    naming = [(needs[d].stay, frame.always(n)) for n, needs in enumerate(frame.needs) if d in needs]
    moves = [p for u, row in enumerate(dial.move) for v, p in enumerate(row) if u != v]
    return (
        all(stay.bit_count() == 1 and always for stay, always in naming)
        and not exact
        and dial.keeps
        and d < frame.walking
        and None not in moves
        and len(set(moves)) > 1
        and 4 * slots > 3 * len(naming) > 6
    )


def price_of_tour(frame: Frame, d: int) -> Terms:
    """A dial as a tour of the lots that name it: an arc for each pair that may follow each other."""
    model, dial = frame.model, frame.dials[d]
    mine = {lot: needs[d].stay.bit_length() - 1 for lot, needs in enumerate(frame.needs) if d in needs}
    before = set(frame.always_before)
    exactly = len(mine) == frame.count
    arcs: list[tuple[int, int, Any]] = []
    terms: Terms = []
    for i, u in mine.items():
        begin = model.new_bool_var(f"d{d}: begin with {i}")
        end = model.new_bool_var(f"d{d}: end with {i}")
        arcs += [(frame.count, i, begin), (i, frame.count, end)]
        first = dial.first[u] if dial.start is None else dial.move[dial.start][u] if u != dial.start else 0
        terms.append((first or 0) * begin)
        for j, v in mine.items():
            frame.tick()
            if i == j or (j, i) in before or any((i, c) in before and (c, j) in before for c in mine):
                continue
            arc = model.new_bool_var(f"d{d}: {i} to {j}")
            arcs.append((i, j, arc))
            terms.append((dial.move[u][v] or 0) * arc if u != v else 0)
            if exactly:
                model.add(frame.position[j] == frame.position[i] + 1).only_enforce_if(arc)
            else:
                model.add(frame.position[j] > frame.position[i]).only_enforce_if(arc)
    model.add_circuit(arcs)
    return terms
