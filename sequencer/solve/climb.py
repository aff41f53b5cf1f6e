"""From both sides towards the optimum, compiled: merged patterns for better bounds, annealing for better plans, and
best-first search over the whole.

Patterns are merged two by two, the pair first that gains most: at the root, and in states along the plan begun from,
for a pair that gains nothing at the root may be what holds the search together further on (and the search must tell
apart above all what good plans avoid). Then the whole is searched, guided by what is left of the patterns. All of
it in rounds, each with several times the effort of the one before; later rounds merge anew, judging now by the
plan begun from and now by the best one. Effort is counted in states opened and changes tried, so the same problem
is solved in the same way each time.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import combinations
from threading import Thread

import numpy as np

from sequencer.solve import compiled
from sequencer.solve.astar import Found
from sequencer.solve.compiled import improving, kernels
from sequencer.solve.compiled.layout import (
    EXACT,
    FULL,
    GOAL,
    LIMIT,
    NEWS,
    OPENED,
    PARENT,
    STATE,
    STOP,
    WELL,
    Layout,
)
from sequencer.solve.compiled.layout import FAR as FAR_AWAY
from sequencer.solve.floor import Floor
from sequencer.solve.improve import Improver
from sequencer.solve.patterns import FAR, Pattern, Wheel
from sequencer.solve.price import price
from sequencer.solve.rules import Rules
from sequencer.solve.scale import dearest, unit

Kernel = Callable[..., int]
"""What a kernel is to its caller: board, pattern and more whole numbers to a whole number."""

TRIAL = 2_000
"""States a trial merge may open in the first round."""

SEARCH = 10
"""How many times as many the search of the whole may open."""

GROWTH = 4
"""By how much the efforts grow from round to round."""

SAMPLES = 12
"""States along a plan in which a merger is tried."""

MOVES = 5_000
"""Changes to the plan tried in the first round."""

AT_ONCE = 500
"""Changes tried between two looks at the clock."""

AGAIN = 3
"""Rounds after which each begins merging again: a pattern merged early for a small gain may keep better ones from being
tried. What the patterns know is kept.
"""

DIRECT = 1_200_000
"""States opened times lots up to which nobody minds waiting."""


def ready() -> bool:
    """Whether the kernels need no compiling any more; it has begun if they do."""
    needed: list[Callable[..., object]] = [kernels.entry, kernels.view, kernels.ask, improving.anneal]
    return compiled.ready(needed, "sequencer.solve.compiled.warm")


@dataclass(eq=False)
class Part:
    """A pattern on the board, and what it costs in the states sampled, the root first."""

    number: int
    pattern: Pattern
    costs: list[int]


@dataclass(eq=False)
class Trial:
    """Two parts tried as one: what is gained at the root, and in all samples; whether the effort was enough."""

    part: Part
    gain: int
    gains: int
    whole: bool

    @property
    def rank(self) -> tuple[bool, int, int, int]:
        """The best to merge ranks highest."""
        return self.whole, self.gain, self.gains, -self.part.pattern.lots.bit_count()


class Climb:
    """The ascent: `best` and `bound` hold at any time (costs count from the root on)."""

    def __init__(
        self,
        floor: Floor,
        wheels: list[Wheel],
        tick: Callable[[], None],
        told: Callable[[Climb], None],
        limit: int = FAR,
        best: Found | None = None,
    ) -> None:
        """`limit`: only orders below it count; `best`: a plan to begin from."""
        self.floor, self.wheels, self.tick, self.told = floor, wheels, tick, told
        self.unit = unit(floor)
        self.layout = Layout(floor, self.unit)
        self.root = floor.first()
        self.limit = min(limit, dearest(floor) + self.unit)
        self.bound = 0
        self.best = best
        self.moves = MOVES
        self._improver: Improver | None = None
        self.parts: list[Part] = []
        self._trials: dict[tuple[Part, Part], Trial] = {}
        self._rules = Rules(floor)
        self._made: dict[tuple[int, int], Part] = {}
        self._whole: dict[tuple[Part, ...], int] = {}
        self._samples = [self._start(self._top(()))]
        for d, wheel in enumerate(wheels):
            self.parts.append(self._part(Pattern(floor, [wheel], (d,), (), tick), (), FAR))
        self._singles = tuple(self.parts)
        self._lift(self._sum())

    @property
    def closed(self) -> bool:
        """Whether no order costs less than the limit."""
        return self.bound >= self.limit

    @property
    def patterns(self) -> list[Pattern]:
        """The patterns whose costs add up, what is known of them at the root noted in them."""
        return [part.pattern for part in self.parts]

    def run(self) -> None:
        """Rounds until closed."""
        for _ in self.rounds():
            pass

    def rounds(self) -> Iterator[None]:
        """Rounds until closed, with a pause after each; where memory is full before that, better plans only. Raises
        MemoryError where there is none to better.
        """
        effort, moves, turn, first = TRIAL, self.moves, 0, self.best
        try:
            self._sample(first)
            while not self.closed:
                self.improve(moves)
                if turn >= AGAIN:
                    self.parts, self._trials = list(self._singles), {}
                    self._sample(first if turn % 2 else self.best)
                self.merge(effort)
                if not self.closed:
                    self.search(SEARCH * effort)
                effort *= GROWTH
                moves *= GROWTH
                turn += 1
                yield
        except MemoryError:
            if self.best is None:
                raise
            while not self.closed:
                self.improve(moves)
                yield

    def lower(self, limit: int) -> None:
        """Only orders below this limit count from now on, too."""
        self.limit = min(self.limit, limit)

    def improve(self, moves: int) -> None:
        """A better plan, perhaps: so many changes to the best one tried, beginning at the plan begun from."""
        if self.best is None or self.closed:
            return
        if self._improver is None:
            order = tuple(self.floor.lot_of[item] for item in self.best.items)
            self._improver = Improver(self.floor.problem, order, ())
        improver = self._improver
        until = improver.moves + moves
        while improver.moves < until:
            improver.run(AT_ONCE)
            cost = improver.cost - self.root.cost
            if cost < self.limit:
                items = tuple(self.floor.item_of[lot] for lot in improver.best)
                self.limit = cost
                self.best = Found(improver.cost, items)
                self.told(self)
                if self.closed:
                    return
            self.tick()

    def _sample(self, plan: Found | None) -> None:
        """States along a plan, for mergers to be tried in from now on."""
        if plan is None:
            return
        del self._samples[1:]
        order = tuple(self.floor.lot_of[item] for item in plan.items)
        priced = price(self.floor.problem, order)
        assert priced is not None
        top = self.layout.at[self._top(())]
        rest = self.root.state[0]
        values = list(self.root.state[1])
        skip = max(1, len(order) // SAMPLES)
        for k, (item, lot) in enumerate(zip(plan.items, order, strict=True)):
            rest &= ~(1 << item)
            for d, value in priced.values[k].items():
                values[d] = value
            values[-1] = self.floor.problem.lots[lot].station
            if k % skip == skip // 2 and rest:
                entry = kernels.entry(self.layout.board, top, *self.layout.key(rest, tuple(values)))
                self._samples.append(_found_room(entry))
        for part in self.parts:
            self._cost(part, FAR)

    def merge(self, effort: int) -> None:
        """Merge parts as long as some pair gains that so many states are enough to try."""
        done: set[Trial] = set()
        while not self.closed and len(self.parts) > 1:
            best: Trial | None = None
            pair = self.parts[0], self.parts[1]
            for one, other in combinations(self.parts, 2):
                trial = self._try(one, other, effort, done)
                if (
                    trial
                    and trial.whole
                    and (trial.gain or trial.gains)
                    and (best is None or trial.rank > best.rank)
                ):
                    best, pair = trial, (one, other)
            if best is None:
                return
            self.parts = [part for part in self.parts if part not in pair] + [best.part]
            self._trials = {
                known: trial for known, trial in self._trials.items() if not set(known) & set(pair)
            }
            self._lift(self._sum())

    def _try(self, one: Part, other: Part, effort: int, done: set[Trial]) -> Trial | None:
        """The trial of a pair, made or taken further; None if the two have nothing to do with each other."""
        if not one.pattern.lots & other.pattern.lots:
            return None
        trial = self._trials.get((one, other))
        if trial is None:
            dials = tuple(sorted(one.pattern.dials + other.pattern.dials))
            wheels = [self.wheels[d] for d in dials]
            kids = (one.number, other.number)
            if kids in self._made:
                part = self._made[kids]
                self._cost(part, effort)
            else:
                pattern = Pattern(self.floor, wheels, dials, (one.pattern, other.pattern), self.tick)
                part = self._made[kids] = self._part(pattern, kids, effort)
        elif trial.whole or trial in done:
            return trial
        else:
            part = trial.part
            self._cost(part, effort)
        gains = [both - a - b for both, a, b in zip(part.costs, one.costs, other.costs, strict=False)]
        trial = Trial(part, gains[0], sum(gains), len(gains) == len(self._samples))
        done.add(trial)
        self._trials[one, other] = trial
        return trial

    def _part(self, pattern: Pattern, kids: tuple[int, ...], effort: int) -> Part:
        """A pattern put on the board and asked in all samples."""
        part = Part(self.layout.put(pattern, kids), pattern, [])
        self._cost(part, effort)
        return part

    def _cost(self, part: Part, effort: int) -> None:
        """Ask a part in the samples, as far as the effort goes."""
        ints = self.layout.board.ints
        until = ints[OPENED] + effort
        dials = np.array(part.pattern.dials, np.int64)
        part.costs = []
        for sample in self._samples:
            e = _found_room(kernels.view(self.layout.board, self.layout.at[part.number], sample, dials))
            got, state = self._call(
                kernels.ask, part.number, e, FAR_AWAY, effort=max(1, until - ints[OPENED])
            )
            if state != WELL and part.costs:
                break
            part.costs.append(got)
            if len(part.costs) == 1:
                pattern = part.pattern
                pattern.least[pattern.project(*self.root.state)] = got * self.unit
            if state != WELL:
                break

    def search(self, effort: int) -> None:
        """Best-first search of the whole, guided by the parts."""
        if not self.root.state[0]:
            return  # nothing is left to order
        top = self._top(tuple(sorted(self.parts, key=lambda part: len(part.pattern.dials))))
        start = self._start(top)
        got, _ = self._call(kernels.ask, top, start, self._room(), effort=effort, told=True)
        exact = self.layout.board.info[start, EXACT]
        if exact and got < self._room():
            self._found(got)
        self._lift(min(got, self._room()))

    def _call(
        self, kernel: Kernel, number: int, *arguments: int, effort: int, told: bool = False
    ) -> tuple[int, int]:
        """What a kernel answers, and its state afterwards. A long one runs beside, so that the clock is heard."""
        board, at = self.layout.board, self.layout.at[number]
        ints = board.ints
        ints[LIMIT], ints[STATE], ints[STOP] = min(ints[OPENED] + effort, FAR), WELL, 0
        if int(effort) * self.floor.count <= DIRECT:
            got = kernel(board, at, *arguments)
            self.tick()
            return got, int(ints[STATE])
        answer: list[int] = []
        ints[NEWS] = 0
        beside = Thread(target=lambda: answer.append(kernel(board, at, *arguments)), daemon=True)
        try:
            beside.start()
            beside.join(0.03)
            while beside.is_alive():
                self.tick()
                if told:
                    self._lift(int(min(ints[NEWS], self._room())))
                beside.join(0.03)
        finally:
            ints[STOP] = 1
            beside.join()
        if ints[STATE] == FULL:
            raise MemoryError
        return answer[0], int(ints[STATE])

    def _top(self, parts: tuple[Part, ...]) -> int:
        """The whole, guided by these parts."""
        if parts not in self._whole:
            self._rules.parts = tuple(part.pattern for part in parts)
            kids = tuple(part.number for part in parts)
            self._whole[parts] = self.layout.put(self._rules, kids, ruled=True, rough=self._rules.rough)
        return self._whole[parts]

    def _start(self, top: int) -> int:
        """The root as an entry of the whole."""
        rest, values = self.root.state
        return _found_room(
            kernels.entry(self.layout.board, self.layout.at[top], *self.layout.key(rest, values))
        )

    def _room(self) -> int:
        """The limit in the kernels' unit."""
        return -(-self.limit // self.unit)

    def _sum(self) -> int:
        return sum(part.costs[0] for part in self.parts)

    def _lift(self, bound: int) -> None:
        """A bound, in the kernels' unit."""
        bound = min(bound * self.unit, self.limit)
        if bound > self.bound:
            self.bound = bound
            self.told(self)

    def _found(self, cost: int) -> None:
        """A plan below the limit: the kernel has left the way to it."""
        info = self.layout.board.info
        path = []
        e = int(self.layout.board.ints[GOAL])
        while e >= 0:
            path.append(e)
            e = int(info[e, PARENT])
        path.reverse()
        self.limit = cost * self.unit
        items = (*self.root.made, *self.layout.order(path))
        self.best = Found(self.root.cost + self.limit, items)
        self.told(self)


def _found_room(entry: int) -> int:
    """The entry, if there was room for it. Raises MemoryError."""
    if entry < 0:
        raise MemoryError
    return int(entry)
