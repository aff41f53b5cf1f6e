"""The order as a constraint model (OR-Tools CP-SAT), carrying every feature of the problem.

A model of *runs*: each dial, and walking as one more, has a row of slots in the order of time; a slot is
empty or holds one value, and neighbours differ. Each lot picks one slot of every dial it names, and a
position in the order; slot borders are positions too, which ties the rows together. The order inside a run
costs nothing, so nothing is said about it. The rows are no longer than the plan in hand allows: what the
other rows cost at least is taken off.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from time import monotonic
from typing import Any

from sequencer.solve.greedy import quick_plan
from sequencer.solve.price import price
from sequencer.solve.problem import Dial, Impossible, Limits, Need, Outcome, Problem, Progress
from sequencer.solve.refusal import explain

POLL_SECONDS = 0.05


def cpsat(
    problem: Problem,
    limits: Limits,
    progress: Callable[[Progress], None],
    stop: Callable[[], bool],
    start: Outcome | None = None,
) -> Outcome | Impossible:
    """The cheapest order CP-SAT finds within the limits, or why there is none.

    The better of `start`, a plan in hand, and a quick plan warms the model up; the bound of `start` is kept.
    Raises TimeoutError if the time is over before any order was found.
    """
    begun = monotonic()
    best = quick_plan(problem, lambda: stop() or monotonic() - begun > limits.seconds / 2)
    if start is not None and (best is None or start.cost <= best.cost):
        best = start
    floor = start.bound if start else 0
    if best is not None:
        progress(Progress(monotonic() - begun, best.cost, floor, "a quick plan"))
    model = Runs(problem, best)
    left = max(0.05, limits.seconds - (monotonic() - begun))
    status, found, bound, by_hand = _run(
        model, Limits(left, limits.seed, limits.workers), progress, stop, begun
    )
    if status == "INFEASIBLE" and best is None:
        return explain(problem, lambda part: feasible(part, limits.seed))
    for order, options in found:
        priced = price(problem, order)
        assert priced is not None
        if best is None or priced.cost < best.cost:
            best = Outcome(order, options, priced.cost, 0)
    if best is None:
        raise TimeoutError(f"no order was found in {limits.seconds:g} seconds")
    # with the plan in hand as a limit, "infeasible" would mean that nothing cheaper exists
    bound = best.cost if status in ("OPTIMAL", "INFEASIBLE") else max(0, min(bound, best.cost))
    return Outcome(
        order=best.order,
        options=best.options,
        cost=best.cost,
        bound=max(bound, floor),
        seconds=monotonic() - begun,
        engine="constraint model",
        interrupted=by_hand,
    )


def feasible(problem: Problem, seed: int = 0, seconds: float = 5.0) -> bool:
    """Whether any order exists (taken to be so if it cannot be told in time)."""
    model = Runs(problem, None)
    model.model.clear_objective()  # type: ignore[no-untyped-call]
    status, *_ = _run(model, Limits(seconds, seed), lambda _: None, lambda: False, monotonic())
    return status != "INFEASIBLE"


def _run(
    model: Runs,
    limits: Limits,
    progress: Callable[[Progress], None],
    stop: Callable[[], bool],
    begun: float,
) -> tuple[str, list[tuple[tuple[int, ...], tuple[int, ...]]], int, bool]:
    """Status, the last order found, the bound, and whether it was stopped by hand.

    The solver runs in a thread of its own, so that this one hears of a signal and can ask `stop`.
    """
    from ortools.sat.python import cp_model

    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = limits.seconds
    solver.parameters.random_seed = limits.seed
    solver.parameters.num_workers = limits.workers
    news: list[tuple[int | None, int]] = []

    class Listener(cp_model.CpSolverSolutionCallback):
        def on_solution_callback(self) -> None:
            news.append((round(self.objective_value), max(0, round(self.best_objective_bound))))

    listener = Listener()
    outcome: list[Any] = []
    thread = threading.Thread(
        target=lambda: outcome.append(solver.solve(model.model, listener)),
        daemon=True,
        name="constraint model",
    )
    thread.start()
    by_hand = False
    late = False
    until = monotonic() + limits.seconds + 0.3
    while thread.is_alive():
        thread.join(POLL_SECONDS)
        while news:
            best, bound = news.pop(0)
            progress(Progress(monotonic() - begun, best, bound))
        if not by_hand and stop():
            by_hand = True
        late = late or monotonic() > until  # presolve can overrun its limit
        if (by_hand or late) and thread.is_alive():
            solver.stop_search()
    status = solver.status_name(outcome[0])
    found = []
    if status in ("OPTIMAL", "FEASIBLE"):
        found.append(model.order(solver))
    bound = -(-round(solver.best_objective_bound * 1000) // 1000) if status != "INFEASIBLE" else 0
    return status, found, bound, by_hand


class Runs:
    """The model of one problem. With a plan in hand, nothing dearer is looked for."""

    def __init__(self, problem: Problem, plan: Outcome | None) -> None:
        from ortools.sat.python import cp_model

        self.problem = problem
        self.model = cp_model.CpModel()
        self.count = len(problem.lots)
        self.costs: list[Any] = []
        last = max(0, self.count - 1)
        self.position = [self.model.new_int_var(0, last, f"pos{n}") for n in range(self.count)]
        self.made: list[Any] = [1] * self.count
        self.taken: list[list[Any]] = []
        self._choose()
        self.dials = (*problem.dials, _walking(problem))
        self.needs = [
            {**lot.needs, len(problem.dials): Need(1 << lot.station, 1 << lot.station)}
            for lot in problem.lots
        ]
        exact = self._exact()
        caps = self._caps(plan)
        self.always_before = self._always_before()
        self.tour = [self._is_tour(d, exact[d], caps[d]) for d in range(len(self.dials))]
        self.rows = [self._row(d, exact[d], 0 if self.tour[d] else caps[d]) for d in range(len(self.dials))]
        self._keep_apart(exact)
        for d, dial in enumerate(problem.dials):
            if self.tour[d]:
                self._pay_tour(d)
            elif dial.keeps:
                self._pay(d)
            else:
                self._pay_forgetful(d)
        self._pay(len(problem.dials))
        self._precede()
        self._mate()
        self._wish()
        work = sum(lot.work * made for lot, made in zip(problem.lots, self.made, strict=True))
        total = sum(self.costs) + work
        if plan is not None:
            self.model.add(total <= plan.cost)
            self._hint(plan)
        self.model.minimize(total)

    def order(self, solver: Any) -> tuple[tuple[int, ...], tuple[int, ...]]:
        """The order and the options taken in the solver's solution."""
        made = [n for n in range(self.count) if solver.value(self.made[n])]
        order = tuple(sorted(made, key=lambda n: (solver.value(self.position[n]), n)))
        return order, tuple(next(o for o, b in enumerate(row) if solver.value(b)) for row in self.taken)

    def _choose(self) -> None:
        """One option of each choice; a lot is made if that names it."""
        for c, choice in enumerate(self.problem.choices):
            row = [self.model.new_bool_var(f"choice{c}.{o}") for o in range(len(choice))]
            self.model.add_exactly_one(row)
            self.taken.append(row)
            for lot in sorted(frozenset().union(*choice)):
                self.made[lot] = self.model.new_bool_var(f"made{lot}")
                self.model.add(self.made[lot] == sum(b for b, o in zip(row, choice, strict=True) if lot in o))

    def _exact(self) -> list[bool]:
        """For each dial, whether it matters which lot each of its runs begins with.

        So it is where a lot may stay at values it may not be moved to, and where mates hold the dial; for
        walking where they hold a dial that is lost by leaving.
        """
        dials = range(len(self.dials))
        exact = [any(n[d].reach != n[d].stay for n in self.needs if d in n) for d in dials]
        for group in self.problem.mates:
            for d in group.held:
                exact[d] = True
                if not self.dials[d].keeps:
                    exact[-1] = True
        return exact

    def _caps(self, plan: Outcome | None) -> list[int]:
        """For each dial, how many values it can hold in turn in a plan no dearer than the one in hand."""
        naming = [sum(d in needs for needs in self.needs) for d in range(len(self.dials))]
        if plan is None:
            return [n + (dial.start is not None) for n, dial in zip(naming, self.dials, strict=True)]
        least = [self._least(d) for d in range(len(self.dials))]
        always = [lot.work for n, lot in enumerate(self.problem.lots) if isinstance(self.made[n], int)]
        spare = plan.cost - sum(least) - sum(always)
        caps = []
        for d, dial in enumerate(self.dials):
            moves = [p for u, row in enumerate(dial.move) for v, p in enumerate(row) if u != v]
            prices = [p for p in moves if p is not None]
            if not dial.keeps:
                prices += dial.first
            cheapest = min(prices, default=0)
            slots = naming[d] if cheapest == 0 else min(naming[d], (spare + least[d]) // cheapest + 1)
            caps.append(slots + (dial.start is not None))
        return caps

    def _least(self, d: int) -> int:
        """What one dial costs at least: a move to each value that some lot always made insists on."""
        dial = self.dials[d]
        insisted = {
            needs[d].stay.bit_length() - 1
            for needs, made in zip(self.needs, self.made, strict=True)
            if isinstance(made, int) and d in needs and needs[d].stay.bit_count() == 1
        }
        entries = [
            (
                min(
                    [
                        dial.first[v],
                        *(p for u in range(dial.values) if u != v and (p := dial.move[u][v]) is not None),
                    ]
                )
            )
            for v in insisted
            if v != dial.start
        ]
        return sum(entries)

    def _row(self, d: int, exact: bool, slots: int) -> _Row:
        """The slots of one dial, and the lots in them."""
        model, dial = self.model, self.dials[d]
        given = dial.start is not None
        values = [[model.new_bool_var(f"d{d}.{k}={v}") for v in range(dial.values)] for k in range(slots)]
        border = [model.new_int_var(-1, self.count, f"d{d}.{k}.from") for k in range(slots)]
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
            model.add(border[k] == self.count).only_enforce_if(empty)
        if dial.start is not None and slots:
            model.add(values[0][dial.start] == 1)
            model.add(border[0] == -1)
        inside: dict[int, list[Any]] = {}
        opens: list[list[tuple[int, Any]]] = [[] for _ in range(slots)]
        for lot, needs in enumerate(self.needs):
            if d not in needs or self.tour[d]:
                continue
            need = needs[d]
            inside[lot] = [model.new_bool_var(f"lot{lot} in d{d}.{k}") for k in range(slots)]
            model.add(sum(inside[lot]) == self.made[lot])
            for k, here in enumerate(inside[lot]):
                model.add(sum(values[k][v] for v in range(dial.values) if need.stay >> v & 1) >= here)
                model.add(border[k] <= self.position[lot]).only_enforce_if(here)
                if k + 1 < slots:
                    model.add(self.position[lot] < border[k + 1]).only_enforce_if(here)
                if exact and not (given and k == 0):
                    first = model.new_bool_var(f"lot{lot} opens d{d}.{k}")
                    model.add_implication(first, here)
                    model.add(sum(values[k][v] for v in range(dial.values) if need.reach >> v & 1) >= first)
                    model.add(border[k] == self.position[lot]).only_enforce_if(first)
                    opens[k].append((lot, first))
        for k in range(1 if given else 0, slots):
            if exact:
                model.add(sum(b for _, b in opens[k]) == filled[k])
            else:
                model.add(sum(here[k] for here in inside.values()) >= filled[k])
        return _Row(values, border, filled, inside, opens)

    def _keep_apart(self, exact: list[bool]) -> None:
        """Lots may share a position, being free to stand in any order there, unless that order matters."""
        delicate = {lot for lot, needs in enumerate(self.needs) if any(exact[d] for d in needs)}
        delicate |= {lot for group in self.problem.mates for lot in group.lots}
        if len(delicate) > 1:
            self.model.add_all_different([self.position[lot] for lot in sorted(delicate)])

    def _pay(self, d: int) -> None:
        """The cost of each change along a row: of the value reached, or of the pair."""
        model, dial, row = self.model, self.dials[d], self.rows[d]
        if not row.values:
            return
        if dial.start is None:
            self.costs += [dial.first[v] * b for v, b in enumerate(row.values[0])]
        alike = [
            {p for u in range(dial.values) if u != v and (p := dial.move[u][v]) is not None}
            for v in range(dial.values)
        ]
        for k in range(1, len(row.values)):
            before, now = row.values[k - 1], row.values[k]
            for u in range(dial.values):
                for v in range(dial.values):
                    if u == v or dial.move[u][v] is None:
                        model.add_at_most_one([before[u], now[v]])
            if all(len(prices) <= 1 for prices in alike):
                self.costs += [min(alike[v], default=0) * now[v] for v in range(dial.values)]
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
            self.costs += [(dial.move[u][v] or 0) * b for (u, v), b in pairs.items()]

    def _is_tour(self, d: int, exact: bool, slots: int) -> bool:
        """Whether a dial is better told as a tour: a table, one value to each lot, hardly two lots alike."""
        dial = self.dials[d]
        naming = [(needs[d].stay, self.made[n]) for n, needs in enumerate(self.needs) if d in needs]
        fixed = all(stay.bit_count() == 1 and isinstance(made, int) for stay, made in naming)
        moves = [p for u, row in enumerate(dial.move) for v, p in enumerate(row) if u != v]
        return (
            fixed
            and not exact
            and dial.keeps
            and d < len(self.problem.dials)
            and None not in moves
            and len(set(moves)) > 1
            and 4 * slots > 3 * len(naming) > 6
        )

    def _pay_tour(self, d: int) -> None:
        """A dial as a tour of the lots that name it: an arc for each pair that may follow each other."""
        model, dial = self.model, self.dials[d]
        mine = {lot: needs[d].stay.bit_length() - 1 for lot, needs in enumerate(self.needs) if d in needs}
        before = set(self.always_before)
        exactly = len(mine) == self.count
        arcs: list[tuple[int, int, Any]] = []
        for i, u in mine.items():
            begin = model.new_bool_var(f"d{d}: begin with {i}")
            end = model.new_bool_var(f"d{d}: end with {i}")
            arcs += [(self.count, i, begin), (i, self.count, end)]
            first = (
                dial.first[u] if dial.start is None else dial.move[dial.start][u] if u != dial.start else 0
            )
            self.costs.append((first or 0) * begin)
            for j, v in mine.items():
                if i == j or (j, i) in before or any((i, c) in before and (c, j) in before for c in mine):
                    continue
                arc = model.new_bool_var(f"d{d}: {i} to {j}")
                arcs.append((i, j, arc))
                self.costs.append((dial.move[u][v] or 0) * arc if u != v else 0)
                if exactly:
                    model.add(self.position[j] == self.position[i] + 1).only_enforce_if(arc)
                else:
                    model.add(self.position[j] > self.position[i]).only_enforce_if(arc)
        model.add_circuit(arcs)

    def _pay_forgetful(self, d: int) -> None:
        """The same for a dial lost by leaving its station: each run lies in one visit, the first of a visit
        is new.
        """
        model, dial, row, walks = self.model, self.dials[d], self.rows[d], self.rows[-1]
        visits = len(walks.values)
        visit = [model.new_int_var(0, visits, f"d{d}.{k}.visit") for k in range(len(row.values))]
        for lot, inside in row.inside.items():
            mine = sum(j * here for j, here in enumerate(walks.inside[lot]))
            for k, here in enumerate(inside):
                model.add(visit[k] == mine).only_enforce_if(here)
        if dial.start is not None and row.values:  # the start lasts through the first visit
            for j, stations in enumerate(walks.values):
                model.add(visit[0] <= j).only_enforce_if(stations[dial.station])
        if row.values and dial.start is None:
            self.costs += [dial.first[v] * b for v, b in enumerate(row.values[0])]
        for k in range(1, len(row.values)):
            before, now = row.values[k - 1], row.values[k]
            same = model.new_bool_var(f"d{d}.{k}.same visit")
            model.add(visit[k] == visit[k - 1]).only_enforce_if(same)
            model.add(visit[k] > visit[k - 1]).only_enforce_if(~same)
            most = max([*dial.first, *(p or 0 for r in dial.move for p in r)])
            paid = model.new_int_var(0, most, f"d{d}.{k}.cost")
            for v in range(dial.values):
                model.add(paid >= dial.first[v]).only_enforce_if([now[v], ~same])
                for u in range(dial.values):
                    if u == v or dial.move[u][v] is None:
                        model.add_bool_or([~before[u], ~now[v], ~same])
                    else:
                        model.add(paid >= dial.move[u][v]).only_enforce_if([before[u], now[v], same])
            self.costs.append(paid)

    def _precede(self) -> None:
        """Each lot after its predecessors; what follows for the rows is said too, as it speeds up the
        proof.
        """
        for a, b in self.problem.precedence:
            both = [x for x in (self.made[a], self.made[b]) if not isinstance(x, int)]
            self.model.add(self.position[a] < self.position[b]).only_enforce_if(both)
        for a, b in self.always_before:
            for d in self.needs[a].keys() & self.needs[b].keys():
                if self.tour[d]:
                    continue
                apart = self.needs[a][d].stay & self.needs[b][d].stay == 0
                first, second = self.rows[d].inside[a], self.rows[d].inside[b]
                for k in range(len(first)):
                    self.model.add(sum(second[: k + 1]) <= sum(first[: k + 1 - apart]))

    def _always_before(self) -> list[tuple[int, int]]:
        """The pairs (before, after) that follow from the precedence between lots always made."""
        after: list[set[int]] = [set() for _ in range(self.count)]
        for a, b in self.problem.precedence:
            if isinstance(self.made[a], int) and isinstance(self.made[b], int):
                after[a].add(b)
        pairs = []
        for a in range(self.count):
            seen: set[int] = set()
            todo = list(after[a])
            while todo:
                b = todo.pop()
                if b not in seen:
                    seen.add(b)
                    todo += after[b]
            pairs += [(a, b) for b in sorted(seen)]
        return pairs

    def _mate(self) -> None:
        """No held dial is moved, or lost, after the first and up to the last of its mates."""
        model = self.model
        for g, group in enumerate(self.problem.mates):
            first = model.new_int_var(0, self.count, f"mates{g}.first")
            last = model.new_int_var(0, self.count, f"mates{g}.last")
            for lot in sorted(group.lots):
                when = [] if isinstance(self.made[lot], int) else [self.made[lot]]
                model.add(first <= self.position[lot]).only_enforce_if(when)
                model.add(last >= self.position[lot]).only_enforce_if(when)
            for d in sorted(group.held):
                for border in self.rows[d].border:
                    self._outside(border, first, last, [])
                if not self.dials[d].keeps:
                    walks = self.rows[-1]
                    for j in range(1, len(walks.border)):
                        self._outside(
                            walks.border[j], first, last, [walks.values[j - 1][self.dials[d].station]]
                        )

    def _outside(self, border: Any, first: Any, last: Any, when: list[Any]) -> None:
        early = self.model.new_bool_var("")
        self.model.add(border <= first).only_enforce_if([early, *when])
        self.model.add(border > last).only_enforce_if([~early, *when])

    def _wish(self) -> None:
        """A preference is kept or paid for."""
        for n, wish in enumerate(self.problem.wishes):
            unmet = self.model.new_bool_var(f"wish{n}")
            both = [x for x in (self.made[wish.before], self.made[wish.after]) if not isinstance(x, int)]
            kept = self.position[wish.before] < self.position[wish.after]
            self.model.add(kept).only_enforce_if([*both, ~unmet])
            self.costs.append(wish.price * unmet)

    def _hint(self, plan: Outcome) -> None:
        """Start from the plan in hand."""
        priced = price(self.problem, plan.order)
        assert priced is not None
        model = self.model
        left_out = [n for n in range(self.count) if n not in set(plan.order)]
        for k, lot in enumerate((*plan.order, *left_out)):
            model.add_hint(self.position[lot], k)
        for taken, option in zip(self.taken, plan.options, strict=True):
            for o, b in enumerate(taken):
                model.add_hint(b, o == option)
        stations = [self.problem.lots[lot].station for lot in plan.order]
        for d, row in enumerate(self.rows):
            slot = -1 if self.dials[d].start is None else 0
            for k, lot in enumerate(plan.order):
                walking = d == len(self.problem.dials)
                if walking and (k == 0 or stations[k] != stations[k - 1]):
                    slot, value = slot + 1, stations[k]
                elif not walking and (move := next((m for m in priced.moves[k] if m.dial == d), None)):
                    slot, value = slot + 1, move.to
                else:
                    value = None
                if value is not None and slot < len(row.values):
                    model.add_hint(row.border[slot], k)
                    for v, b in enumerate(row.values[slot]):
                        model.add_hint(b, v == value)
                for s, here in enumerate(row.inside.get(lot, ())):
                    model.add_hint(here, s == slot)


class _Row:
    """The variables of one dial: per slot its value and the position it begins at, per lot the slot it is
    in.
    """

    def __init__(
        self,
        values: list[list[Any]],
        border: list[Any],
        filled: list[Any],
        inside: dict[int, list[Any]],
        opens: list[list[tuple[int, Any]]],
    ) -> None:
        self.values = values
        self.border = border
        self.filled = filled
        self.inside = inside
        self.opens = opens


def _walking(problem: Problem) -> Dial:
    """Walking as a dial: its values are the stations, the first one is free."""
    stations = range(len(problem.walk))
    return Dial(
        "walking",
        -1,
        tuple(tuple(problem.walk[a][b] for b in stations) for a in stations),
        (0,) * len(stations),
    )
