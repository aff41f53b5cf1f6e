"""The search of the whole, guided by merged patterns.

Patterns are merged two by two, the pair first that gains in most sample states, or most at the root. The samples lie
along a plan at first; then they are states that the last search opened, where the guides it had fell short. Each
round merges anew and adds a partition of the dials to those that guide the whole, of which the best sum counts (as
with several additive sets of pattern databases; Holte, Felner, Newton, Meshulam and Furcy, 2006; from memory). A
pattern that came about in several ways is guided by up to three of them. What patterns have learnt is kept.

Where a scout has found trees of mergers to go by (`trials`), these guide the whole alone, and each pattern is guided
as they say: other partitions beside a good one cost more than they help. So it is from the first round on where trees
of a problem much like this one are known.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from sequencer.solve.bounds.astar import Found
from sequencer.solve.bounds.patterns import Pattern
from sequencer.solve.clock import ENDLESS
from sequencer.solve.compiled import FAR_32, kernels
from sequencer.solve.compiled.layout import (
    COUNT,
    ENTRIES,
    EXACT,
    GOAL,
    LEAST,
    MINDED,
    OPENED,
    PARENT,
    PATTERN,
    SHUT,
    WELL,
)
from sequencer.solve.price import price
from sequencer.solve.proof.asking import Asking, found_room
from sequencer.solve.proof.ends import End
from sequencer.solve.proof.trees import Forest, Tree, ordered
from sequencer.solve.proof.whole import put_whole

SEARCH = 20
"""How many times as many states as a trial merge the search of the whole may open."""

SEEN = 0.5
"""How many states it may see for the first time for each one it may open, where it goes by given trees."""

SAMPLES = 12
"""States along a plan in which a merger is tried."""

STATES = 16
"""States of a search in which mergers are tried."""

GAIN = 1
"""As much as a merger need gain in a sample to count there, where they are rated by the samples in which they gain."""

MANY_LOTS = 500
"""Lots beyond which merging goes on from round to round instead of beginning anew: the states that a search gets to
open are then all near the root.
"""

WAYS = 3
"""Partitions that guide a merged pattern, at most."""

GUIDED = 4
"""Partitions that guide the whole, at most; the latest."""


@dataclass(eq=False)
class Part:
    """A pattern on the board, what it costs in the states sampled, the root first, and the pairs it was merged from."""

    number: int
    pattern: Pattern
    costs: list[int]
    ways: list[tuple[int, int]]


@dataclass(eq=False)
class Trial:
    """Two parts tried as one: what is gained at the root, and in all samples; whether the effort was enough."""

    part: Part
    gain: int
    gains: int
    whole: bool

    @property
    def gainful(self) -> bool:
        """Whether it is known to be worth merging them."""
        return self.whole and bool(self.gain or self.gains)

    def rank(self, broad: bool) -> tuple[bool, int, int, int]:
        """The best to merge ranks highest: by what it gains at the root first, or (`broad`) in all samples."""
        first, second = (self.gains, self.gain) if broad else (self.gain, self.gains)
        return self.whole, first, second, -self.part.pattern.lots.bit_count()


class Guided:
    """The whole of a floor, its guides, and what they cost in the states sampled."""

    def __init__(
        self,
        asking: Asking,
        end: End,
        plan: Found | None,
        given: Forest | None = None,
    ) -> None:
        """`asking`: a board for the floor of this end; `plan`: an order, for samples; `given`: trees to go by, not
        merging.

        Mergers are rated by the samples in which they gain, however little it is, before what they gain at the root;
        not where lots are many: there the samples say too little.
        """
        self.asking, self.layout, self.floor = asking, asking.layout, asking.floor
        self._broad = self.floor.count <= MANY_LOTS
        self.wheels = wheels = end.wheels
        self.joining = end.joining
        self.number, self._guided = put_whole(self.layout, self.joining)
        self._partitions: list[tuple[int, ...]] = []
        self._root = self.floor.first().state
        self._samples = [self._entry(*self._root)]
        if given is None:
            self._sample(plan)
        self.parts: list[Part] = []
        for d in range(len(wheels)):
            pattern = self.joining.pattern((d,))
            self.parts.append(Part(self.layout.put(pattern), pattern, [], []))
            self._cost(self.parts[-1], ENDLESS)
        self._singles = tuple(self.parts)
        self._made: dict[tuple[int, ...], Part] = {}
        self._merged: list[tuple[Part, Part]] = []
        self.given = given  # trees to go by instead of merging
        self._gone_by: Forest | None = None
        self._trials: dict[tuple[Part, Part], Trial] = {}
        self._searched = False
        self.told: list[Pattern] = []
        self.most = 0

    def round(self, effort: int) -> tuple[int, ...] | None:
        """Merge, or go by the trees given, and search with so much effort. The items of the cheapest order, if that was
        found.
        """
        if self.given is not None:
            self._go_by(self.given, effort)
        else:
            self._merge_anew(effort)
        self._searched = True
        return None if self.asking.closed else self.search(SEARCH * effort)

    def _merge_anew(self, effort: int) -> None:
        """Merge, from the beginning where lots are not many."""
        if self._searched and self.floor.count <= MANY_LOTS:
            self.parts, self._trials, self._merged = list(self._singles), {}, []
            self._resample()
        self.merge(effort)

    @property
    def reached(self) -> int:
        """What no order costs less than as far as it has found out itself, counted from the root on."""
        return max(self.most, int(self.layout.board.info[self.root, LEAST]) * self.asking.unit)

    @property
    def root(self) -> int:
        """The root as an entry of the whole."""
        return self._samples[0]

    def _entry(self, rest: int, values: tuple[int, ...]) -> int:
        """A state as an entry of the whole."""
        at = self.layout.at[self.number]
        return found_room(kernels.entry(self.layout.board, at, *self.layout.key(rest, values)))

    def _sample(self, plan: Found | None) -> None:
        """States along a plan, for mergers to be tried in.

        They are not settled: lots that are free are left in them, and dials that were lost keep their values. So none
        of them is searched from; what a part makes of one (`kernels.view`) is settled.
        """
        if plan is None:
            return
        floor = self.floor
        order = tuple(floor.lot_of[item] for item in plan.items)
        priced = price(floor.problem, order)
        assert priced is not None
        rest = self._root[0]
        values = list(self._root[1])
        skip = max(1, len(order) // SAMPLES)
        for k, (item, lot) in enumerate(zip(plan.items, order, strict=True)):
            rest &= ~(1 << item)
            for d, value in priced.values[k].items():
                values[d] = value
            values[-1] = floor.problem.lots[lot].station
            if k % skip == skip // 2 and rest:
                self._samples.append(self._entry(rest, tuple(values)))

    def _resample(self) -> None:
        """States the last search has opened: there the guides it had fell short."""
        info = self.layout.board.info[: self.layout.board.ints[COUNT]]
        root = self.root
        if self._guided != self.number:
            dials = np.arange(len(self.wheels))
            root = found_room(kernels.view(self.layout.board, self.layout.at[self._guided], root, dials))
        mine = info[root, MINDED]
        opened = np.flatnonzero((info[:, PATTERN] == self._guided) & (info[:, SHUT] == mine))
        count = min(len(opened), STATES)
        chosen = opened[np.arange(1, count + 1) * len(opened) // (count + 1)]
        self._samples[1:] = map(int, chosen)
        for part in self.parts:
            self._cost(part, ENDLESS)

    @property
    def forest(self) -> Forest:
        """The trees by which the parts at hand were merged."""
        trees: dict[Part, Tree] = {part: d for d, part in enumerate(self._singles)}
        for one, other in self._merged:
            dials = tuple(sorted(one.pattern.dials + other.pattern.dials))
            trees[self._made[dials]] = trees[one], trees[other]
        return ordered(tuple(trees[part] for part in self.parts))

    def _go_by(self, forest: Forest, effort: int) -> None:
        """The parts that these trees make guide the whole, and no others."""
        if forest != self._gone_by:
            merged: list[tuple[Part, Part]] = []
            parts = [self._grown(tree, effort, merged) for tree in forest]
            self.parts, self._merged, self._partitions, self._gone_by = parts, merged, [], forest
            self.tell()

    def _grown(self, tree: Tree, effort: int, merged: list[tuple[Part, Part]]) -> Part:
        """The part that a tree makes, guided as the tree says only, and what it costs at the root as far as so many
        states are enough for that; the pairs are added to those `merged`.
        """
        if isinstance(tree, int):
            return self._singles[tree]
        one, other = (self._grown(kid, effort, merged) for kid in tree)
        merged.append((one, other))
        part = self._joint(one, other)
        part.ways = [(one.number, other.number)]
        self.layout.guide(part.number, part.ways)
        part.costs = [self._ask(part, self.root, FAR_32, effort)[0]]
        return part

    def merge(self, effort: int) -> None:
        """Merge parts as long as some pair gains that so many states are enough to try."""
        done: set[Trial] = set()
        while not self.asking.closed and len(self.parts) > 1:
            best: Trial | None = None
            pair = self.parts[0], self.parts[1]
            for one, other in combinations(self.parts, 2):
                trial = self._try(one, other, effort, done)
                if not trial or not trial.gainful:
                    continue
                if best is None or trial.rank(self._broad) > best.rank(self._broad):
                    best, pair = trial, (one, other)
            if best is None:
                break
            self._merge(pair, best.part)
        if self._broad:
            self._sound(effort)

    def _sound(self, effort: int) -> None:
        """What the parts at hand cost at the root, exactly where so many states are enough for that."""
        for part in self.parts:
            if len(part.pattern.dials) > 1 and not self.asking.closed:
                part.costs[0], _ = self._ask(part, self.root, FAR_32, effort)
        self.tell()

    def _merge(self, pair: tuple[Part, Part], part: Part) -> None:
        """One part in the place of two."""
        self.parts = [left for left in self.parts if left not in pair] + [part]
        self._trials = {known: trial for known, trial in self._trials.items() if not set(known) & set(pair)}
        self._merged.append(pair)
        self.tell()

    def _try(self, one: Part, other: Part, effort: int, done: set[Trial]) -> Trial | None:
        """The trial of a pair, made or taken further; None if the two have nothing to do with each other."""
        if not one.pattern.lots & other.pattern.lots:
            return None
        trial = self._trials.get((one, other))
        if trial is not None and (trial.whole or trial in done):
            return trial
        part = self._joint(one, other)
        apart = [a + b for a, b in zip(one.costs, other.costs, strict=True)]
        self._cost(part, effort, [cost + GAIN for cost in apart] if self._broad else None)
        gains = [both - cost for both, cost in zip(part.costs, apart, strict=False)]
        trial = Trial(part, gains[0], sum(gains), len(gains) == len(self._samples))
        done.add(trial)
        self._trials[one, other] = trial
        return trial

    def _joint(self, one: Part, other: Part) -> Part:
        """The two merged; where the same dials were merged before, from other parts, these guide it too."""
        dials = tuple(sorted(one.pattern.dials + other.pattern.dials))
        way = (one.number, other.number)
        part = self._made.get(dials)
        if part is None:
            pattern = self.joining.pattern(dials, (one.pattern, other.pattern))
            part = self._made[dials] = Part(self.layout.put(pattern, way), pattern, [], [way])
        elif way not in part.ways and len(part.ways) < WAYS:
            part.ways.append(way)
            self.layout.guide(part.number, part.ways)
        return part

    def _cost(self, part: Part, effort: int, enough: list[int] | None = None) -> None:
        """Ask a part in the samples, as far as the effort goes, for the exact cost or what is `enough` to know."""
        ints = self.layout.board.ints
        until = ints[OPENED] + effort
        part.costs = []
        for k, sample in enumerate(self._samples):
            need = FAR_32 if enough is None else enough[k]
            got, state = self._ask(part, sample, need, max(1, until - ints[OPENED]))
            if state != WELL and part.costs:
                break
            part.costs.append(got)
            if state != WELL:
                break

    def _ask(self, part: Part, sample: int, need: int, effort: int) -> tuple[int, int]:
        """What a part costs at least in a sample, and how the question ended."""
        dials = np.array(part.pattern.dials, np.int64)
        e = found_room(kernels.view(self.layout.board, self.layout.at[part.number], sample, dials))
        got, state = self.asking.call(kernels.ask, part.number, e, need, effort=effort)
        if sample == self.root:
            pattern = part.pattern
            key = pattern.project(*self._root)
            pattern.least[key] = max(pattern.least.get(key, 0), got * self.asking.unit)
        return got, state

    def tell(self) -> None:
        """The bound that the parts add up to at the root; the parts that add up to most are told as its reasons."""
        total = sum(part.costs[0] for part in self.parts)
        if not self.told or total * self.asking.unit > self.most:
            self.most = total * self.asking.unit
            self.told = [part.pattern for part in self.parts]
        self.asking.lift(total)

    def search(self, effort: int) -> tuple[int, ...] | None:
        """Best-first search of the whole: the items of the cheapest order, if it was found."""
        if not self._root[0]:
            return ()
        kids = tuple(part.number for part in sorted(self.parts, key=lambda part: len(part.pattern.dials)))
        if kids not in self._partitions:
            self._partitions = [kids, *self._partitions][:GUIDED]
            self.layout.guide(self._guided, self._partitions)
        start, room = self.root, self.asking.room
        got, _ = self.asking.call(
            kernels.ask,
            self.number,
            start,
            room,
            effort=effort,
            room=ENTRIES if self.given is None else int(SEEN * effort),
            lifts=True,
        )
        exact = self.layout.board.info[start, EXACT]
        self.asking.lift(min(got, room))
        return self._path() if exact and got < room else None

    def _path(self) -> tuple[int, ...]:
        """The way the kernel has left to the goal."""
        info = self.layout.board.info
        path = []
        e = int(self.layout.board.ints[GOAL])
        while e >= 0:
            path.append(e)
            e = int(info[e, PARENT])
        path.reverse()
        return tuple(self.layout.order(path))
