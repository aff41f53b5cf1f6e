"""What goes beside an ascent: it looks for better plans, and for a better course to go by."""

from __future__ import annotations

from collections.abc import Callable
from functools import cached_property

from sequencer.solve.bounds.astar import Found
from sequencer.solve.plans.changes import CHANGE, ENOUGH
from sequencer.solve.plans.improve import Improver
from sequencer.solve.plans.quick import dived
from sequencer.solve.proof.asking import OPENINGS
from sequencer.solve.proof.climb import AT_ONCE, Climb
from sequencer.solve.proof.guided import MANY_LOTS, SEARCH, SEEN
from sequencer.solve.proof.loosening import Loosening
from sequencer.solve.proof.trees import Course
from sequencer.solve.proof.trials import Trials

WORK = SEARCH * (SEEN + 1 / OPENINGS)
"""Work of a round for each state that a trial merge of the ascent may open, so that both take about as long."""

PLANS, LATER = 0.25, 0.5
"""The part of it that goes into plans where trees are looked for, too: at first, and in rounds of so much effort that
trees have mostly been found.
"""

LATE = 128_000
"""From which effort of the ascent on that is so."""

LOOSENED = 0.5
"""The part of that which goes into plans loosened, once the first way down has come to an end."""

ROOM = 0.5
"""Room in a trial for each state that a trial merge of the ascent may open."""

LEAST = 16_000
"""Room in a trial of the scout at least: smaller ones mislead."""

MOST = 64_000
"""Room in a trial at most: what comes further there mostly does with more room, which would leave few trials."""


def trials_of(climb: Climb) -> Trials:
    """Trials that begin with the course of an ascent. Raises MemoryError."""
    return Trials(climb.ends, climb.limit, climb.tick, climb.course, MOST, climb.seed)


def room(effort: int) -> int:
    """Room in a trial beside a round of so much effort."""
    return min(MOST, max(1, int(ROOM * effort)))


class Scout:
    """Begins from as far as an ascent has come, which must have a plan. `best`, `limit` and `bound` as there.

    With very many lots it looks for plans only, and by changes only: a state takes long there, and trials that say
    little take longest.
    """

    def __init__(self, climb: Climb) -> None:
        """Raises MemoryError."""
        assert climb.best is not None
        floor = climb.floor
        self._floor, self._first = floor, climb.root.cost
        self.best: Found = climb.best
        self.limit, self.bound = climb.limit, climb.bound
        self._ends = climb.ends
        self._order = tuple(floor.lot_of[item] for item in (climb.first or climb.best).items)
        self._seed, self._ways, self._moves = climb.seed, 0, 0
        self._begin()
        self._tick = climb.tick
        self.planning = True  # and not looking for trees, which brings it to no end
        self._trials: Trials | None = None
        self._loosening: Loosening | None = None
        self._allowed = 0  # the work that loosening may have done
        if floor.count <= MANY_LOTS:
            self._trials = trials_of(climb)
            self._loosening = Loosening(floor, climb.tick, climb.seed)

    @property
    def closed(self) -> bool:
        """Whether no order costs less than the limit."""
        return self.bound >= self.limit

    @property
    def work(self) -> int:
        """Work done so far, measured as that of the ascent."""
        trials = self._trials.work if self._trials else 0
        loosening = self._loosening.work if self._loosening else 0
        return trials + loosening + CHANGE * (self._moves + self._improver.moves)

    @property
    def course(self) -> Course | None:
        """What to go by, if that is known."""
        return self._trials.take() if self._trials else None

    def hear(self, tick: Callable[[], None]) -> None:
        """Ask this from now on whether to go on."""
        self._tick = tick
        if self._trials:
            self._trials.hear(tick)
        if self._loosening:
            self._loosening.tick = tick

    def learn(self, climb: Climb) -> None:
        """The better of both plans, and the bound."""
        if climb.limit < self.limit and climb.best is not None:
            self.best, self.limit = climb.best, climb.limit
        self.bound = min(self.limit, max(self.bound, climb.bound))

    def round(self, effort: int) -> None:
        """About as much work as the ascent does in a round of so much effort."""
        work = int(WORK * effort)
        plans = int((PLANS if effort < LATE else LATER) * work) if self._trials else work
        loosened = int(LOOSENED * plans) if self._ways > 1 and self._loosening else 0
        self.improve(plans - loosened)
        self.loosen(loosened)
        if self._trials and not self.closed:
            self.planning = False
            try:
                self._trials.run(work - plans, max(LEAST, room(effort)), self.limit)
            finally:
                self.planning = True

    def _begin(self) -> None:
        """Begin anew with better plans, from the next plan to begin from, by another seed."""
        order = self._starts[self._ways % len(self._starts)] if self._ways else self._order
        self._ways += 1
        self._improver = Improver(self._floor.problem, order, (), self._seed + self._ways)

    @cached_property
    def _starts(self) -> list[tuple[int, ...]]:
        """Plans to begin from: the one the ascent began from, and those of dives from both ends; not with very many
        lots, where there is time for few ways down.
        """
        starts = [self._order]
        for end in (self._ends.front, self._ends.back) if self._floor.count <= MANY_LOTS else ():
            found = dived(end.floor.problem) if end else None
            if end and found:
                starts.append(found.order[::-1] if end.back else found.order)
        return list(dict.fromkeys(starts))

    def improve(self, work: int) -> None:
        """So much work for a better plan by changes."""
        until = self._moves + self._improver.moves + work // CHANGE
        while self._moves + self._improver.moves < until and not self.closed:
            if self._improver.moves >= ENOUGH:
                self._moves += self._improver.moves
                self._begin()
            improver = self._improver
            improver.run(AT_ONCE)
            if improver.cost - self._first < self.limit:
                items = tuple(self._floor.item_of[lot] for lot in improver.best)
                self._take(Found(improver.cost, items))
            self._tick()

    def loosen(self, work: int) -> None:
        """So much work for a better plan by loosening the best one; what one search takes too much is taken off later
        on.
        """
        course = self.course
        if self._loosening is None or course is None:
            return
        self._allowed += work
        while self._loosening.work < self._allowed and self._loosening.least is None and not self.closed:
            found = self._loosening.better(self.best, course)
            if found is not None and found.cost - self._first < self.limit:
                self._take(found)
            self._tick()

    def _take(self, found: Found) -> None:
        """A better plan."""
        self.best, self.limit = found, found.cost - self._first
