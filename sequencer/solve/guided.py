"""The search of the whole, guided by merged patterns.

Patterns are merged two by two, the pair first that gains in most sample states, or most at the root. The samples lie
along a plan at first; then they are states that the last search opened, where the guides it had fell short. Each
round merges anew and adds a partition of the dials to those that guide the whole, of which the best sum counts (as
with several additive sets of pattern databases; Holte, Felner, Newton, Meshulam and Furcy, 2006; from memory). A
pattern that came about in several ways is guided by up to three of them. What patterns have learnt is kept.

Where the mergers of a problem much like this one are known, the first round follows them before it tries others: all
pairs of single dials need not be tried.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from sequencer.solve.asking import Asking, found_room
from sequencer.solve.astar import Found
from sequencer.solve.compiled import kernels
from sequencer.solve.compiled.layout import COUNT, EXACT, GOAL, MINDED, OPENED, PARENT, PATTERN, SHUT, WELL
from sequencer.solve.compiled.layout import FAR as FAR_AWAY
from sequencer.solve.floor import Floor
from sequencer.solve.heeded import part as part_of
from sequencer.solve.mergers import Name, Steps, names
from sequencer.solve.patterns import FAR, Pattern, Wheel, ease
from sequencer.solve.price import price
from sequencer.solve.rules import Rules

SEARCH = 20
"""How many times as many states as a trial merge the search of the whole may open."""

SAMPLES = 12
"""States along a plan in which a merger is tried."""

FOLLOWING = 6
"""The same where mergers are known to begin with: few others are left to judge."""

STATES = 16
"""States of a search in which mergers are tried."""

GAIN = 1
"""As much as a merger need gain in a sample to count there, where they are rated by the samples in which they gain."""

MANY = 500
"""Lots beyond which merging goes on from round to round instead of beginning anew: the states that a search gets to
open are then all near the root.
"""

WAYS = 3
"""Partitions that guide a merged pattern, at most."""

GUIDED = 4
"""Partitions that guide the whole, at most; the latest."""


def losing(floor: Floor, walking: Wheel) -> dict[int, Wheel]:
    """The dials that lose their value by leaving, as they are in patterns with walking: only where keeping the values
    of a station's dials never costs more than the walks away and back do, so that a lot at another station can still
    be left out or made early (`passing`). Lots at a station where such a dial starts at a value cannot be left out, for
    the first visit there can help (`Pattern.leading`).
    """
    found = {d: ease(floor, d, losing=True) for d in floor.forgetful}
    stations = range(walking.values)
    for s in stations:
        mine = [d for d in found if found[d].station == s]
        kept = 0
        for d in mine:
            *rows, start, _ = found[d].cost
            kept += max([0, *(cost - first for row in rows for cost, first in zip(row, start, strict=True))])
        if any(kept > walking.cost[s][t] + walking.cost[t][s] for t in stations if t != s):
            for d in mine:
                del found[d]
    return found


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
        wheels: list[Wheel],
        plan: Found | None,
        steps: Steps = (),
        broad: bool = False,
    ) -> None:
        """`plan`: an order, for samples; `steps`: mergers to begin with; `broad`: mergers are rated by the samples in
        which they gain, however little it is, before what they gain at the root (not where lots are many: there the
        samples say too little).
        """
        self.asking, self.layout, self.floor = asking, asking.layout, asking.floor
        self._broad = broad and self.floor.count <= MANY
        self.wheels = wheels
        self._losing = losing(self.floor, wheels[-1])
        rules = Rules(self.floor)
        self.number = self.layout.put(rules, rough=rules.rough)
        self._partitions: list[tuple[int, ...]] = []
        self._root = self.floor.first().state
        self._samples = [self._entry(*self._root)]
        self._sample(plan, FOLLOWING if steps else SAMPLES)
        self.parts: list[Part] = []
        for d, wheel in enumerate(wheels):
            pattern = Pattern(self.floor, [wheel], (d,), (), asking.tick)
            self.parts.append(Part(self.layout.put(pattern), pattern, [], []))
            self._cost(self.parts[-1], FAR)
        self._singles = tuple(self.parts)
        self._made: dict[tuple[int, ...], Part] = {}
        self._first = steps
        self._names = names(self.floor, range(len(wheels)))
        self._merged: list[tuple[Part, Part]] = []
        self._trials: dict[tuple[Part, Part], Trial] = {}
        self._searched = False
        self.told: list[Pattern] = []
        self.most = 0

    @property
    def steps(self) -> Steps:
        """The mergers that the parts at hand were made by."""
        return tuple(
            (names(self.floor, one.pattern.dials), names(self.floor, other.pattern.dials))
            for one, other in self._merged
        )

    def round(self, effort: int) -> tuple[int, ...] | None:
        """Merge and search with so much effort. The items of the cheapest order, if that was found."""
        if not self._searched:
            self.follow(effort)
        elif self.floor.count <= MANY:
            self.parts, self._trials, self._merged = list(self._singles), {}, []
            self._resample()
        self.merge(effort)
        self._searched = True
        return None if self.asking.closed else self.search(SEARCH * effort)

    @property
    def root(self) -> int:
        """The root as an entry of the whole."""
        return self._samples[0]

    def _entry(self, rest: int, values: tuple[int, ...]) -> int:
        """A state as an entry of the whole."""
        at = self.layout.at[self.number]
        return found_room(kernels.entry(self.layout.board, at, *self.layout.key(rest, values)))

    def _sample(self, plan: Found | None, samples: int) -> None:
        """So many states along a plan, for mergers to be tried in."""
        if plan is None:
            return
        floor = self.floor
        order = tuple(floor.lot_of[item] for item in plan.items)
        priced = price(floor.problem, order)
        assert priced is not None
        rest = self._root[0]
        values = list(self._root[1])
        skip = max(1, len(order) // samples)
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
        mine = info[self.root, MINDED]
        opened = np.flatnonzero((info[:, PATTERN] == self.number) & (info[:, SHUT] == mine))
        count = min(len(opened), STATES)
        chosen = opened[np.arange(1, count + 1) * len(opened) // (count + 1)]
        self._samples[1:] = map(int, chosen)
        for part in self.parts:
            self._cost(part, FAR)

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
                part.costs[0], _ = self._ask(part, self.root, FAR_AWAY, effort)
        self.tell()

    def _merge(self, pair: tuple[Part, Part], part: Part) -> None:
        """One part in the place of two."""
        self.parts = [left for left in self.parts if left not in pair] + [part]
        self._trials = {known: trial for known, trial in self._trials.items() if not set(known) & set(pair)}
        self._merged.append(pair)
        self.tell()

    def follow(self, effort: int) -> None:
        """The mergers to begin with, as far as there are such parts here and they gain."""
        done: set[Trial] = set()
        for one, other in self._first:
            if self.asking.closed:
                return
            left, right = self._part(one & self._names), self._part(other & self._names)
            if left is None or right is None or left is right:  # the same: dials called alike
                continue
            trial = self._try(left, right, effort, done)
            if trial and trial.gainful:
                self._merge((left, right), trial.part)

    def _part(self, dials: frozenset[Name]) -> Part | None:
        """The part of exactly these dials."""
        return next((part for part in self.parts if names(self.floor, part.pattern.dials) == dials), None)

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
            pattern = self._pattern(dials, (one.pattern, other.pattern))
            part = self._made[dials] = Part(self.layout.put(pattern, way), pattern, [], [way])
        elif way not in part.ways and len(part.ways) < WAYS:
            part.ways.append(way)
            self.layout.guide(part.number, part.ways)
        return part

    def _pattern(self, dials: tuple[int, ...], parts: tuple[Pattern, ...]) -> Pattern:
        """The pattern on these dials, merged from two others."""
        floor = self.floor
        walking = floor.knobs[floor.walking]
        wheels = []
        leading = 0
        for d in dials:
            wheels.append(self.wheels[d])
            if floor.walking in dials and d in self._losing:
                wheels[-1] = self._losing[d]
                if floor.knobs[d].start < floor.knobs[d].values:
                    leading |= walking.accept[floor.knobs[d].station]
        heeded = part_of(floor, dials)
        return Pattern(floor, wheels, dials, parts, self.asking.tick, heeded=heeded, leading=leading)

    def _cost(self, part: Part, effort: int, enough: list[int] | None = None) -> None:
        """Ask a part in the samples, as far as the effort goes, for the exact cost or what is `enough` to know."""
        ints = self.layout.board.ints
        until = ints[OPENED] + effort
        part.costs = []
        for k, sample in enumerate(self._samples):
            need = FAR_AWAY if enough is None else enough[k]
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
            pattern.least[pattern.project(*self._root)] = got * self.asking.unit
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
            self.layout.guide(self.number, self._partitions)
        start, room = self.root, self.asking.room
        got, _ = self.asking.call(kernels.ask, self.number, start, room, effort=effort, lifts=True)
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
