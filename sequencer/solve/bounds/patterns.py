"""Lower bounds from parts of the problem: exact costs of a few dials, added up.

A *pattern* keeps a set of dials, the lots that name one of them, the precedence between those lots, and the
cost of moving those dials; all else is free. Any order of the whole, with the other lots left out, is an
order of the pattern that costs no more than the whole spends on these dials. So the exact cost of a pattern
never exceeds that, and patterns on disjoint dials add up (additive pattern databases; Felner, Korf and Hanan,
2004). Within a pattern every dial is eased (`Wheel`) until lots that move nothing can be made at once; easing
only makes moves cheaper or possible, so it keeps the bound.

A `Pattern` is two things: what a board of the compiled search is laid out from (dials, lots, what is heeded of mates,
wishes and stops), and the plain search below, which heeds dials and precedence only.

The exact cost of a pattern in a state comes from A* (Hart, Nilsson and Raphael, 1968) guided by the patterns it was
merged from, evaluated lazily and only as far as asked: a search stops as soon as it knows that the answer reaches
what was asked for. What a search learns is kept: every state it closed at depth g costs at least f - g (adaptive
A*; Koenig and Likhachev, 2006), those on the path found exactly that.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import cached_property
from heapq import heappop, heappush

from sequencer.solve.bounds.heeded import NOTHING_HEEDED, Heeded
from sequencer.solve.bounds.wheels import Wheel
from sequencer.solve.problem import FAR
from sequencer.solve.relation import bits, bits_of
from sequencer.solve.transitions.floor import Floor

Key = tuple[int, tuple[int, ...]]
"""Lots of the pattern still to be made (mask) and the values of its dials."""


def _smallest(values: tuple[int, ...], targets: dict[tuple[int, ...], int]) -> dict[tuple[int, ...], int]:
    """The targets that do not do all that another one does and more.

    The lots of the smaller change can be made on the way to the larger one: each dial is paid for itself, so the
    larger change is reached from there at the same cost in sum.
    """
    changes = [
        (frozenset((i, to) for i, (v, to) in enumerate(zip(values, target, strict=True)) if v != to), target)
        for target in targets
    ]
    changes.sort(key=lambda change: len(change[0]))
    kept: list[tuple[frozenset[tuple[int, int]], tuple[int, ...]]] = []
    for change, target in changes:
        if not any(smaller < change for smaller, _ in kept):
            kept.append((change, target))
    return {target: targets[target] for _, target in kept}


class Pattern:
    """A set of dials whose joint cost is found exactly; `parts` are patterns on a partition of them, if it
    was merged. Of `heeded`, which compiled searches heed, the lots are kept; the searches here leave it aside. So are
    those of `leading`, which may help others by the first visit to their station.
    """

    def __init__(
        self,
        floor: Floor,
        wheels: list[Wheel],
        dials: tuple[int, ...],
        parts: tuple[Pattern, ...],
        tick: Callable[[], None],
        budget: int = 20_000,
        heeded: Heeded = NOTHING_HEEDED,
        leading: int = 0,
    ) -> None:
        self.floor = floor
        self.heeded = heeded
        self.each = heeded.lots | leading
        self.dials = dials
        self.parts = parts
        self.tick = tick
        self.budget = budget
        self.wheels = wheels
        named = 0
        for wheel in self.wheels:
            named |= wheel.named
        self.before = floor.before
        self.after = floor.after
        self.named = named
        self.ahead = [floor.after[item] | 1 << item for item in range(floor.count)]
        walking = floor.walking
        self.walk_at = dials.index(walking) if walking in dials else -1
        self.forgetful = [
            (i, wheel.station) for i, wheel in enumerate(self.wheels) if not wheel.keeps and self.walk_at >= 0
        ]
        self.classes: list[tuple[tuple[int, int, tuple[int, ...]], ...]] = []
        self.class_of: dict[int, int] = {}
        known: dict[tuple[tuple[int, int, tuple[int, ...]], ...], int] = {}
        for item in bits(self.named):
            needs = tuple(
                (i, wheel.stay[item], bits_of(wheel.stay[item]))
                for i, wheel in enumerate(self.wheels)
                if item in wheel.stay
            )
            if needs not in known:
                known[needs] = len(self.classes)
                self.classes.append(needs)
            self.class_of[item] = known[needs]
        self.where = {d: i for i, d in enumerate(dials)}
        self.part_at = [tuple(self.where[d] for d in part.dials) for part in parts]
        self.least: dict[Key, int] = {}
        self.exact: dict[Key, int] = {}
        self.tired: set[Key] = set()
        self.expanded = 0
        self._settled: dict[Key, Key] = {}

    @cached_property
    def lots(self) -> int:
        """The lots that matter. A lot is absorbed by another one that is at least as demanding on every
        dial here, when whatever must precede or follow it must also precede or follow the other: it is then
        made beside it, for nothing. What is heeded concerns single lots, so those are all kept, and leading ones.
        """
        kept = self.named
        for a in bits(kept & ~self.each):
            others = kept & ~(1 << a) & self.rows[self.class_of[a]]
            early, late = self.before[a] & kept, self.after[a] & kept
            while early and others:  # the nearest lots before it stand for all that are
                x = early.bit_length() - 1
                others &= self.after[x] | 1 << x
                early &= ~(self.before[x] | 1 << x)
            while late and others:
                low = late & -late
                x = low.bit_length() - 1
                others &= self.before[x] | low
                late &= ~(self.after[x] | low)
            if others:
                kept &= ~(1 << a)
        return kept

    @cached_property
    def rows(self) -> list[int]:
        """For each kind of lot those at least as demanding as one of it."""
        return [self.demanding(needs) for needs in self.classes]

    def demanding(self, needs: Iterable[tuple[int, int, tuple[int, ...]]]) -> int:
        """The lots at least as demanding on every dial here as one with these needs."""
        lots = self.named
        for i, stay, _ in needs:
            wheel = self.wheels[i]
            fitting = 0
            for v in bits(stay):
                fitting |= wheel.serves[v]
            for v in range(wheel.values):
                if not stay >> v & 1:
                    fitting &= ~wheel.serves[v]
            lots &= fitting
        return lots

    def with_like(self) -> int:
        """The lots that may come to be struck out of states: another one is at least as demanding, and what stays until
        they are made does not keep them apart from it.
        """
        lots, rows = 0, self.rows
        for item, kind in self.class_of.items():
            if rows[kind] & ~(1 << item):
                lots |= 1 << item
        lots &= ~self.each
        stay = self.named & ~lots
        for item in reversed(list(bits(self.named))):  # what must follow it has been looked at
            others = rows[self.class_of[item]] & ~(1 << item)
            late = self.after[item] & stay
            while others and late:
                x = late.bit_length() - 1
                others &= self.before[x] | 1 << x
                late ^= 1 << x
            if not others:
                stay |= 1 << item
        return self.named & ~stay

    def settle(self, rest: int, values: tuple[int, ...]) -> Key:
        """The state once everything is made that moves no dial, in its shortest writing."""
        given = (rest, values)
        known = self._settled.get(given)
        if known is not None:
            return known
        ready = rest
        for wheel, v in zip(self.wheels, values, strict=True):
            ready &= wheel.accept[v]
        before = self.before
        while ready:
            low = ready & -ready
            if not before[low.bit_length() - 1] & rest:
                rest ^= low
            ready ^= low
        after = list(values)
        for i, wheel in enumerate(self.wheels):
            if i != self.walk_at:
                v = values[i]
                if not rest & wheel.named or (
                    v < wheel.values and wheel.price is not None and not rest & wheel.serves[v]
                ):
                    after[i] = wheel.values + 1
        key = (rest, tuple(after))
        if len(self._settled) > 60_000:
            self._settled.clear()
        self._settled[given] = key
        return key

    def steps(self, key: Key) -> list[tuple[int, Key]]:
        """The costs of, and states after, one more move that lets a lot be made."""
        rest, values = key
        ahead, class_of = self.ahead, self.class_of
        left = rest
        seen: set[int] = set()
        targets: dict[tuple[int, ...], int] = {}
        while left:
            low = left & -left
            item = low.bit_length() - 1
            left &= ~ahead[item]
            kind = class_of[item]
            if kind not in seen:
                seen.add(kind)
                self._targets(self.classes[kind], rest, values, targets)
        if len(targets) > 2 and len(values) > 1:
            targets = _smallest(values, targets)
        return [(cost, self.settle(rest, to)) for to, cost in targets.items()]

    def _targets(
        self,
        needs: tuple[tuple[int, int, tuple[int, ...]], ...],
        rest: int,
        values: tuple[int, ...],
        targets: dict[tuple[int, ...], int],
    ) -> None:
        """Add the ways to move the dials for lots with these needs."""
        ways: list[tuple[int, list[int]]] = [(0, list(values))]
        for i, stay, reach in needs:
            wheel = self.wheels[i]
            v = values[i]
            if v < wheel.values and stay >> v & 1:
                continue
            row = wheel.cost[v]
            if len(reach) > 1 and wheel.price is not None:
                reach = self._worthwhile(wheel, row, reach, rest)
            grown = []
            for cost, way in ways:
                for to in reach:
                    other = way[:]
                    other[i] = to
                    if i == self.walk_at:
                        for j, station in self.forgetful:
                            if station == v:
                                other[j] = self.wheels[j].values
                    grown.append((cost + row[to], other))
            ways = grown
        for cost, way in ways:
            to_values = tuple(way)
            if cost < targets.get(to_values, FAR):
                targets[to_values] = cost

    def _worthwhile(
        self, wheel: Wheel, row: tuple[int, ...], reach: tuple[int, ...], rest: int
    ) -> tuple[int, ...]:
        kept: list[int] = []
        for to in sorted(reach, key=lambda to: (row[to], -(wheel.serves[to] & rest).bit_count(), to)):
            serves = wheel.serves[to] & rest
            if not any(serves & ~wheel.serves[u] == 0 for u in kept):
                kept.append(to)
        return tuple(kept)

    def project(self, rest: int, values: tuple[int, ...]) -> Key:
        """The pattern's state for the lots left and the values of all dials of the floor."""
        return self.settle(rest & self.lots, tuple(values[d] for d in self.dials))

    def known(self, key: Key) -> int:
        """The best bound known without searching."""
        if not key[0]:
            return 0
        value = self.exact.get(key)
        return self.least.get(key, 0) if value is None else value

    def bound(self, key: Key, ask: int) -> int:
        """A lower bound of the rest cost: the exact cost, or some value of at least `ask`, or (when tired)
        what is known.
        """
        if not key[0]:
            return 0
        value = self.exact.get(key)
        if value is not None:
            return value
        value = self.least.get(key)
        if value is None:
            value = self._simple(key)
            self.least[key] = value
        if value >= ask or key in self.tired:
            return value
        return self._search(key, ask)

    @property
    def opened(self) -> int:
        """States it and the patterns it was merged from have opened so far."""
        return self.expanded + sum(part.opened for part in self.parts)

    def _simple(self, key: Key) -> int:
        """Without search: each value that some remaining lot insists on costs at least its cheapest entry."""
        rest, values = key
        total = 0
        single = len(self.wheels) == 1
        for i, wheel in enumerate(self.wheels):
            v = values[i]
            row = wheel.cost[v]
            entered = [to for to, lots in enumerate(wheel.only) if rest & lots and (single or to != v)]
            if wheel.price is not None and v != wheel.values:
                total += sum(wheel.price[to] for to in entered)
                continue
            sources = [a for a in range(wheel.values) if rest & wheel.serves[a]]
            for to in entered:
                ways = [wheel.cost[a][to] for a in sources if a != to]
                total += min([*ways, row[to]] if to != v else ways, default=0)
        return total

    def estimate(self, key: Key, ask: int) -> int:
        """A bound from the parts, each asked only for what would lift the sum to `ask`."""
        value = self.least.get(key)
        if value is None:
            value = self._simple(key)
        if value >= ask or not self.parts:
            return value
        rest, values = key
        keys = [
            part.settle(rest & part.lots, tuple(values[i] for i in at))
            for part, at in zip(self.parts, self.part_at, strict=True)
        ]
        known = [part.known(sub) for part, sub in zip(self.parts, keys, strict=True)]
        total = sum(known)
        for part, sub, had in zip(self.parts, keys, known, strict=True):
            if total >= ask:
                break
            total += part.bound(sub, ask - total + had) - had
        return max(total, value)

    def _search(self, start: Key, ask: int) -> int:
        """A* from `start` until the answer is found or known to be at least `ask`, or the budget is spent."""
        depth = {start: 0}
        parent: dict[Key, Key] = {}
        closed: dict[Key, int] = {}
        floor_f = self.least.get(start, 0)
        heap: list[tuple[int, int, int, Key, bool]] = [(floor_f, 0, 0, start, False)]
        count = expanded = 0
        reached = FAR
        while heap:
            f, minus, _, key, checked = heappop(heap)
            g = -minus
            if g > depth[key] or closed.get(key, FAR) <= g:
                continue
            if f >= ask:
                reached = f
                break
            if not key[0]:
                self._keep_path(key, parent, depth, g)
                reached = g
                break
            if not checked:
                value = self.exact.get(key)
                if value is None:
                    value = self.estimate(key, f - g + 1)
                    if value > self.least.get(key, -1):
                        self.least[key] = value
                if g + value > f:
                    count += 1
                    heappush(heap, (g + value, minus, count, key, True))
                    continue
            expanded += 1
            if not expanded & 31:
                self.tick()
                if expanded > self.budget:
                    self.tired.add(start)
                    reached = f
                    break
            closed[key] = g
            for cost, child in self._children(key):
                deeper = g + cost
                if deeper < depth.get(child, FAR):
                    depth[child] = deeper
                    parent[child] = key
                    count += 1
                    heappush(heap, (max(f, deeper + self.known(child)), -deeper, count, child, False))
        self.expanded += expanded
        if reached < FAR:
            least = self.least
            for key, g in closed.items():
                if reached - g > least.get(key, 0):
                    least[key] = reached - g
        if reached > self.least.get(start, 0):
            self.least[start] = reached
        if reached == FAR:
            self.exact[start] = FAR
        return self.exact.get(start, reached)

    def _children(self, key: Key) -> list[tuple[int, Key]]:
        """The steps worth taking.

        On a single dial whose moves cost by the value reached, a value that must be visited and that one
        visit would finish is visited now: any order pays that visit once, and moving it here makes no other
        visit dearer.
        """
        wheel = self.wheels[0]
        if len(self.wheels) > 1 or wheel.price is None or (key[1][0] == wheel.values and not wheel.level):
            return self.steps(key)
        steps = self.steps(key)
        rest = key[0]
        for cost, (left, values) in steps:
            done = rest & ~left
            for v in {values[0]} if values[0] < wheel.values else range(wheel.values):
                if done & wheel.only[v] and not left & wheel.serves[v]:
                    return [(cost, (left, values))]
        return steps

    def _keep_path(self, goal: Key, parent: dict[Key, Key], depth: dict[Key, int], total: int) -> None:
        """Every state on the path found costs exactly what the path still costs there."""
        key = goal
        while key in parent:
            key = parent[key]
            self.exact[key] = total - depth[key]
