"""A bound for a dial with a large change-over table of which every lot wants a value of its own.

There the dial walks a path that visits each value once: the sequential ordering problem (Escudero, 1988).
Dropping the order leaves an assignment of each value to the one after it; the dual prices of that assignment
(Kuhn, 1955) give every later state a bound in one addition. Moves that the precedence rules out are left out
of the assignment.
"""

from __future__ import annotations

from sequencer.solve.bounds.patterns import Pattern
from sequencer.solve.bounds.wheels import Wheel
from sequencer.solve.problem import FAR
from sequencer.solve.relation import bits
from sequencer.solve.transitions.floor import Floor


class TablePattern(Pattern):
    """One dial, bounded by dual prices instead of a search.

    For prices u (leaving) and v (reaching) with u[a] + v[b] <= cost(a, b) on every move that can be made, the
    rest of the path costs at least the sum of u over the values still to be left and of v over those still to
    be reached.
    """

    def __init__(self, floor: Floor, wheel: Wheel, d: int) -> None:
        super().__init__(floor, [wheel], (d,), (), lambda: None, 0)
        self.lots = wheel.named
        self.value_of = {item: need.bit_length() - 1 for item, need in wheel.stay.items()}
        self.leaving: dict[int, int] = {}
        self.reaching: dict[int, int] = {}
        self._prices(floor, d)
        self._sums: dict[int, int] = {0: 0}

    @staticmethod
    def fits(wheel: Wheel) -> bool:
        """Whether every lot that names the dial wants one value of its own."""
        stays = list(wheel.stay.values())
        return (
            wheel.price is None
            and wheel.keeps
            and all(stay and stay & (stay - 1) == 0 for stay in stays)
            and len(set(stays)) == len(stays)
        )

    def project(self, rest: int, values: tuple[int, ...]) -> tuple[int, tuple[int, ...]]:
        """The lots left, and the true value of the dial."""
        return rest & self.lots, (values[self.dials[0]],)

    def known(self, key: tuple[int, tuple[int, ...]]) -> int:
        """The bound."""
        return self.bound(key, 0)

    def bound(self, key: tuple[int, tuple[int, ...]], ask: int) -> int:
        """The bound, whatever is asked for."""
        rest, (value,) = key
        if not rest:
            return 0
        total = self._sums.get(rest)
        if total is None:
            total = 0
            for item in bits(rest):
                v = self.value_of[item]
                total += self.leaving[v] + self.reaching[v]
            self._sums[rest] = total
        fresh = value not in self.leaving or (value == self.start and bool(rest & self.start_item))
        return max(0, total + self.ending + (self.beginning if fresh else self.leaving[value]))

    def _prices(self, floor: Floor, d: int) -> None:
        """Dual prices of the assignment of what is left (the first standing, then each value) to what is
        reached.
        """
        knob = floor.knobs[d]
        item_at = {v: item for item, v in self.value_of.items()}
        targets = list(item_at)
        begin = [0 if b == knob.start else knob.cost[knob.start][b] for b in targets]
        matrix = [[FAR if cost is None else cost for cost in begin] + [FAR]]
        for a in targets:
            row = []
            for b in targets:
                possible = a != b and _follows(floor, item_at[a], item_at[b], self.lots)
                cost = knob.cost[a][b] if possible else None
                row.append(FAR if cost is None else cost)
            matrix.append([*row, FAR if floor.after[item_at[a]] & self.lots else 0])
        rows, columns = assign(matrix)
        self.beginning, self.ending = rows[0], columns[-1]
        for v, leave, reach in zip(targets, rows[1:], columns, strict=False):
            self.leaving[v], self.reaching[v] = leave, reach
        self.start = knob.start
        self.start_item = 1 << item_at[knob.start] if knob.start in item_at else 0


def _follows(floor: Floor, a: int, b: int, lots: int) -> bool:
    """Whether b can come right after a among these lots."""
    return not floor.after[b] >> a & 1 and not floor.after[a] & floor.before[b] & lots


def assign(matrix: list[list[int]]) -> tuple[list[int], list[int]]:
    """Dual prices of the cheapest assignment of rows to columns: shortest augmenting paths, in the manner of Jonker and
    Volgenant (1987), without what they do beforehand.
    """
    size = len(matrix)
    u, v = [0] * (size + 1), [0] * (size + 1)
    match = [0] * (size + 1)  # column -> row, both from 1
    for row in range(1, size + 1):
        match[0] = row
        column = 0
        least = [FAR * 4] * (size + 1)
        came = [0] * (size + 1)
        used = [False] * (size + 1)
        while True:
            used[column] = True
            i = match[column]
            delta, ahead = FAR * 8, 0
            costs = matrix[i - 1]
            for j in range(1, size + 1):
                if not used[j]:
                    slack = costs[j - 1] - u[i] - v[j]
                    if slack < least[j]:
                        least[j], came[j] = slack, column
                    if least[j] < delta:
                        delta, ahead = least[j], j
            for j in range(size + 1):
                if used[j]:
                    u[match[j]] += delta
                    v[j] -= delta
                else:
                    least[j] -= delta
            column = ahead
            if not match[column]:
                break
        while column:
            match[column] = match[came[column]]
            column = came[column]
    return u[1:], v[1:]
