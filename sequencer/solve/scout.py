"""What goes beside an ascent: it looks for better plans, and for a better course to go by."""

from __future__ import annotations

from collections.abc import Callable

from sequencer.solve.asking import OPENINGS
from sequencer.solve.astar import Found
from sequencer.solve.climb import AT_ONCE, CHANGE, Climb
from sequencer.solve.guided import MANY, SEARCH, SEEN
from sequencer.solve.improve import Improver
from sequencer.solve.trees import Course
from sequencer.solve.trials import Trials

WORK = SEARCH * (SEEN + 1 / OPENINGS)
"""Work of a round for each state that a trial merge of the ascent may open, so that both take about as long."""

PLANS = 0.25
"""The part of it that goes into plans where trees are looked for, too."""

ENOUGH = 60_000
"""Changes of a plan tried before it is begun anew with: another way down is worth more then than more of the same."""

ROOM = 0.5
"""Room in a trial for each state that a trial merge of the ascent may open."""

LEAST = 16_000
"""Room in a trial of the scout at least: smaller ones mislead."""

MOST = 200_000
"""Room in a trial at most."""


def trials_of(climb: Climb) -> Trials:
    """Trials that begin with the course of an ascent. Raises MemoryError."""
    return Trials(climb.ends, climb.limit, climb.tick, climb.course, MOST, climb.seed)


def room(effort: int) -> int:
    """Room in a trial beside a round of so much effort."""
    return min(MOST, max(1, int(ROOM * effort)))


class Scout:
    """Begins from as far as an ascent has come, which must have a plan. `best`, `limit` and `bound` as there.

    With very many lots it looks for plans only: a state takes long there, and trials that say little take longest.
    """

    def __init__(self, climb: Climb) -> None:
        """Raises MemoryError."""
        assert climb.best is not None
        floor = climb.floor
        self._floor, self._first = floor, climb.root.cost
        self.best: Found = climb.best
        self.limit, self.bound = climb.limit, climb.bound
        self._order = tuple(floor.lot_of[item] for item in (climb.first or climb.best).items)
        self._seed, self._moves = climb.seed, 0
        self._begin()
        self._tick = climb.tick
        self.planning = True  # and not looking for trees, which brings it to no end
        self._trials: Trials | None = None
        if floor.count <= MANY:
            self._trials = trials_of(climb)

    @property
    def closed(self) -> bool:
        """Whether no order costs less than the limit."""
        return self.bound >= self.limit

    @property
    def work(self) -> int:
        """Work done so far, measured as that of the ascent."""
        trials = self._trials.work if self._trials else 0
        return trials + CHANGE * (self._moves + self._improver.moves)

    @property
    def course(self) -> Course | None:
        """What to go by, if that is known."""
        return self._trials.take() if self._trials else None

    def hear(self, tick: Callable[[], None]) -> None:
        """Ask this from now on whether to go on."""
        self._tick = tick
        if self._trials:
            self._trials.hear(tick)

    def learn(self, climb: Climb) -> None:
        """The better of both plans, and the bound."""
        if climb.limit < self.limit and climb.best is not None:
            self.best, self.limit = climb.best, climb.limit
        self.bound = min(self.limit, max(self.bound, climb.bound))

    def round(self, effort: int) -> None:
        """About as much work as the ascent does in a round of so much effort."""
        work = int(WORK * effort)
        plans = int(PLANS * work) if self._trials else work
        self.improve(plans)
        if self._trials and not self.closed:
            self.planning = False
            try:
                self._trials.run(work - plans, max(LEAST, room(effort)), self.limit)
            finally:
                self.planning = True

    def _begin(self) -> None:
        """Begin anew with better plans, from the plan the ascent began from, by another seed."""
        self._seed += 1
        self._improver = Improver(self._floor.problem, self._order, (), self._seed)

    def improve(self, work: int) -> None:
        """So much work for a better plan."""
        until = self._moves + self._improver.moves + work // CHANGE
        while self._moves + self._improver.moves < until and not self.closed:
            if self._improver.moves >= ENOUGH:
                self._moves += self._improver.moves
                self._begin()
            improver = self._improver
            improver.run(AT_ONCE)
            if improver.cost - self._first < self.limit:
                self.limit = improver.cost - self._first
                self.best = Found(improver.cost, tuple(self._floor.item_of[lot] for lot in improver.best))
            self._tick()
