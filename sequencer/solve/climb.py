"""From both sides towards the optimum: beams for better plans, merged patterns for better bounds.

For problems that are patterns through and through (every dial plain; no mates, wishes or open choices), so
that a sweep over all dials is the search itself. Patterns are merged two by two, the pair first whose joint
cost gains most; each is swept once below the limit that still matters (the best plan's cost less what all
other patterns cost at least), and its exact rest costs guide the sweeps of what it is merged into. The last of
them is the whole: swept below rising limits (breadth-first iterative deepening; Zhou and Hansen, 2006), it
raises the bound step by step until it meets the best plan.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from itertools import combinations

from sequencer.solve.astar import Found
from sequencer.solve.atlas import Atlas, Leaf, Part, Sum
from sequencer.solve.floor import Floor
from sequencer.solve.patterns import FAR, Key, Pattern, Wheel
from sequencer.solve.relation import bits
from sequencer.solve.sweep import Field, Swept, sweep

ALONE = 400
"""States a merged pattern may open when it is asked about one state alone."""

TRIAL = 2_000
"""States a trial merge may sweep."""

WIDTH = 100
"""States of a layer the first beams keep."""

FIRST = 4_000
"""States the first sweeps of the whole may take; more each time merging has come to an end."""

MOST = 6_000_000
"""States of one sweep beyond which memory would run out."""

GROWTH = 4
"""By how much a sweep must have been smaller than allowed for the next step to be longer."""

TURNS = 1_500
"""Layers and the like that merging, and sweeps of the whole, may take the first time."""


class Enough(Exception):  # noqa: N818 - an order to stop, not an error
    """Raised inside merging or a sweep when it has had its turns."""


def climbs(floor: Floor) -> bool:
    """Whether the problem is a pattern through and through."""
    return (
        floor.free == (1 << floor.count) - 1
        and not floor.groups
        and not any(floor.wish_before)
        and all(len(choice) == 1 for choice in floor.options)
    )


class Climb:
    """The ascent: `best` and `bound` hold at any time (costs count from the root on)."""

    def __init__(
        self,
        floor: Floor,
        wheels: list[Wheel],
        patterns: list[Pattern],
        tick: Callable[[], None],
        told: Callable[[Climb], None],
    ) -> None:
        self.floor, self.wheels, self.tick, self.told = floor, wheels, tick, told
        self._turns = FAR
        self.root = floor.first()
        self.field = self._field(tuple(range(len(wheels))))
        self.start = self._key(self.field)
        self.best: Found | None = None
        self.limit = FAR
        self.cost: dict[Part, int] = {}
        self._leaves: dict[Pattern, Leaf] = {}
        self.parts: list[Part] = [self._leaf(pattern) for pattern in patterns]
        self._light = Sum(self.field.pattern.dials, self.parts)  # what a beam can afford to ask
        self.bound = self.sum
        self._trials: dict[tuple[Part, Part], Trial] = {}

    @property
    def sum(self) -> int:
        """What the patterns cost together at least."""
        return sum(self.cost[part] for part in self.parts)

    @property
    def patterns(self) -> list[Pattern]:
        """The patterns whose costs make the sum."""
        return [part.field.pattern for part in self.parts]

    @property
    def closed(self) -> bool:
        """Whether the best plan is proven."""
        return self.bound >= self.limit

    def adopt(self, patterns: list[Pattern], most: int) -> None:
        """Take these patterns instead, each that was merged with a table of at most so many states."""
        self.parts = [part for pattern in patterns for part in self._adopted(pattern, most)]
        self._raise(self.sum)

    def _adopted(self, pattern: Pattern, most: int) -> list[Part]:
        if len(pattern.dials) == 1:
            return [self._leaf(pattern)]
        parts = [part for under in pattern.parts for part in self._adopted(under, most)]
        if len(parts) > 2:
            return parts
        trial = Trial(self, *parts)
        trial.atlas.most = most
        self.cost[trial.atlas] = max(self.cost[trial.atlas], pattern.known(pattern.project(*self._rest())))
        return [trial.atlas]

    def _leaf(self, pattern: Pattern) -> Leaf:
        if pattern not in self._leaves:
            leaf = self._leaves[pattern] = Leaf(pattern, self._tick)
            self.cost[leaf] = pattern.bound(pattern.project(*self._rest()), FAR)
        return self._leaves[pattern]

    def run(self, patterns: list[Pattern]) -> None:
        """From these patterns on: merging, sweeps of the whole and beams by turns, each time at more length,
        until proven or stopped.
        """
        turns, most, width = TURNS, FIRST, WIDTH
        self.beam(width)
        self.adopt(patterns, most)
        while not self.closed:
            with self._for(turns):
                self.whole(most)
            with self._for(turns):
                while not self.closed and self.merge(most):
                    pass
            turns, most, width = turns * 2, min(MOST, most * 2), width * 2
            self.beam(width)

    @contextmanager
    def _for(self, turns: int) -> Iterator[None]:
        """Leave the work inside when it has taken so many turns: counted, not timed, so that the same job is
        searched in the same way.
        """
        self._turns = turns
        with suppress(Enough):
            yield
        self._turns = FAR

    def _tick(self) -> None:
        self.tick()
        self._turns -= 1
        if self._turns < 0:
            raise Enough

    def beam(self, width: int, by_moves: bool = False) -> None:
        """A better plan, perhaps."""
        if not self.closed:
            swept = sweep(
                self.field, self.start, self.limit, self._light, self._tick, width, by_moves=by_moves
            )
            self._found(swept)
            if swept.whole:
                self._raise(self.limit)

    def whole(self, most: int) -> None:
        """Sweeps of the whole below rising limits, as far as `most` states each allow."""
        step = 1
        while not self.closed:
            limit = min(self.limit, self.bound + step)
            swept = sweep(self.field, self.start, limit, self._estimate(), self._tick, most=most)
            if not swept.whole:
                return
            if swept.cost is not None:
                self._found(swept)
                self._raise(swept.cost)
            else:
                self._raise(swept.bound)
            if swept.opened * 2 * GROWTH < most:
                step *= 2

    def merge(self, most: int) -> bool:
        """Merge the two patterns that gain most; whether there were any with tables of at most so many states."""
        too_large: set[Trial] = set()
        while True:
            best: Trial | None = None
            for one, other in combinations(self.parts, 2):
                if not one.field.pattern.lots & other.field.pattern.lots:
                    continue
                if (one, other) not in self._trials:
                    self._trials[one, other] = Trial(self, one, other)
                    self._trials[one, other].climb(self._slack(), TRIAL)
                trial = self._trials[one, other]
                if trial.gain > 0 and trial not in too_large and (best is None or trial.rank > best.rank):
                    best = trial
            if best is None:
                return False
            if best.climb(self._slack(), most):
                break
            if best.gain >= self._slack():
                self._raise(self.limit)
                return False
            too_large.add(best)
        kept = [part for part in self.parts if part not in (best.one, best.other)]
        self.parts = [best.atlas, *kept]
        self._trials = {pair: trial for pair, trial in self._trials.items() if set(pair) <= set(kept)}
        self._raise(self.sum)
        return True

    def _slack(self) -> int:
        """How much more than all patterns' costs an order may cost that would still be better."""
        return self.limit - self.sum

    def _estimate(self) -> Sum:
        return Sum(self.field.pattern.dials, self.parts)

    def _raise(self, bound: int) -> None:
        if min(bound, self.limit) > self.bound:
            self.bound = min(bound, self.limit)
            self.told(self)

    def _found(self, swept: Swept) -> None:
        """A plan from a sweep."""
        if swept.cost is not None and swept.cost < self.limit:
            items = self._replay(swept.ways)
            if items is not None:
                self.limit = swept.cost
                self.best = Found(self.root.cost + swept.cost, items, self.root.state[2])
                self.told(self)

    def _field(self, dials: tuple[int, ...], parts: tuple[Part, ...] = ()) -> Field:
        wheels = [self.wheels[d] for d in dials]
        under = tuple(part.field.pattern for part in parts)
        return Field(Pattern(self.floor, wheels, dials, under, self._tick, ALONE))

    def _rest(self) -> tuple[int, tuple[int, ...]]:
        return self.floor.left(self.root.state), self.root.state[1]

    def _key(self, field: Field) -> Key:
        return field.pattern.project(*self._rest())

    def _replay(self, ways: tuple[int, ...]) -> tuple[int, ...] | None:
        """The lots in order when the dials are moved in these ways; None if not all get made."""
        rest, values = self.root.state[0], list(self.root.state[1])
        items = list(self.root.made)
        for way in ways:
            here = values[self.floor.walking]
            for d, to in enumerate(self.field.targets[way].tolist()):
                if to >= 0 and not self.field.stays[d, way, values[d]]:
                    values[d] = to
            for d, station in self.field.pattern.forgetful:
                if here == station != values[self.floor.walking]:
                    values[d] = self.field.nothing[d]
            ready = rest
            for d, wheel in enumerate(self.wheels):
                ready &= wheel.accept[values[d]]
            for item in bits(ready):
                if not self.floor.before[item] & rest:
                    rest ^= 1 << item
                    items.append(item)
        return tuple(items) if not rest else None


class Trial:
    """Two patterns tried as one: how much more they cost together."""

    def __init__(self, climb: Climb, one: Part, other: Part) -> None:
        self.one, self.other, self.costs = one, other, climb.cost
        field = climb._field(tuple(sorted(one.dials + other.dials)), (one, other))
        self.start = climb._key(field)
        self.atlas = Atlas(field, Sum(field.pattern.dials, (one, other)), climb._tick, TRIAL)
        self.base = climb.cost[one] + climb.cost[other]
        climb.cost[self.atlas] = self.base
        self.exact = False

    @property
    def gain(self) -> int:
        """What is known to be gained."""
        return self.costs[self.atlas] - self.base

    @property
    def rank(self) -> tuple[int, bool, int]:
        """The best to merge ranks highest."""
        return self.gain, self.exact, -self.atlas.field.pattern.lots.bit_count()

    def climb(self, slack: int, most: int) -> bool:
        """Find the joint cost, as far as `slack` above the sum and opening at most so many states at once;
        whether it was found.
        """
        self.atlas.most = max(most, self.atlas.most)
        step = 1
        while not self.exact and self.gain < slack:
            known = self.costs[self.atlas]
            told = self.atlas.ask(self.start, min(known + step, self.base + slack))
            if told is None:
                break
            cost, self.exact = told
            self.costs[self.atlas] = max(known, cost)
            step *= 2
        self.atlas.field.pattern.least[self.start] = self.costs[self.atlas]
        return self.exact
