"""From above and below towards the optimum, compiled: annealing for better plans (`improve`), merged patterns and
best-first search over the whole for better bounds (`guided`), from whichever end it is told to, or finds better where
lots are very many (`ends`).

All of it in rounds, each with `GROWTH` times the effort of the one before, or less beside a scout (`ascents`). Effort
is counted in states opened and changes tried, so the same problem is solved in the same way each time.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from sequencer.solve import compiled
from sequencer.solve.bounds.astar import Found
from sequencer.solve.bounds.patterns import Pattern
from sequencer.solve.bounds.wheels import Wheel
from sequencer.solve.compiled import improving, kernels
from sequencer.solve.plans.changes import CHANGE
from sequencer.solve.plans.improve import Improver
from sequencer.solve.problem import FAR
from sequencer.solve.proof.asking import Asking
from sequencer.solve.proof.ends import End, Ends
from sequencer.solve.proof.guided import MANY_LOTS, Guided
from sequencer.solve.proof.scale import dearest, unit
from sequencer.solve.proof.trees import Course
from sequencer.solve.proof.trials import Trials
from sequencer.solve.transitions.floor import Floor

TRIAL = 2_000
"""States a trial merge may open in the first round."""

GROWTH = 4
"""By how much the efforts grow from round to round."""

MOVES = 5_000
"""Changes to the plan tried in the first round."""

COMPARED = TRIAL, GROWTH * TRIAL
"""Efforts of the first rounds, and of those by which the ends are compared where lots are very many."""

VAIN = 2
"""By how much the changes tried grow where the last ones brought nothing."""

AT_ONCE = 500
"""Changes tried between two looks at the clock."""


KERNELS: tuple[Callable[..., object], ...] = (kernels.entry, kernels.view, kernels.ask, improving.anneal)
"""What is called compiled."""


def ready() -> bool:
    """Whether the kernels need no compiling any more; it has begun if they do."""
    return compiled.ready(KERNELS, "sequencer.solve.proof.warm")


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
        course: Course | None = None,
        *,
        seed: int = 0,
    ) -> None:
        """`limit`: only orders below it count; `best`: a plan to begin from; `course`: trees to go by, not merging, and
        the end to begin from; `seed` of all that is tried at random.
        """
        self.floor, self.tick, self.told = floor, tick, told
        self.ends = Ends(floor, wheels)
        self.seed = seed
        self.root = floor.first()
        self.best = self.first = best  # the one begun from stays known
        self.effort, self.moves = TRIAL, MOVES
        self._improver: Improver | None = None
        self.trials: Trials | None = None  # those it makes itself
        self.scouted = FAR  # what the best plan of a scout costs that goes beside it, for news only
        self._compared = course is not None  # it is told its end then
        limit = min(limit, dearest(floor) + unit(floor))
        self._begin(self._end(course), limit, course, best)

    def _end(self, course: Course | None) -> End:
        """Where to begin from."""
        other = self.ends.back if course and course.back else None
        return other or self.ends.front

    def _begin(
        self, end: End, limit: int, course: Course | None, best: Found | None, had: Asking | None = None
    ) -> None:
        """Begin from this end, on a board of its own; `best`: a plan, for samples; `had`: the board before, of which
        what is proven and how much was done hold on. Raises MemoryError, and all is as before then.
        """
        asking = Asking(end.floor, limit, self.tick, self._tell)
        if had is not None:
            asking.bound, asking.spent = had.bound, had.work
        guided = Guided(asking, end, best, course.forest if course else None)
        self.end, self.asking, self.guided = end, asking, guided
        guided.tell()

    @property
    def course(self) -> Course:
        """The trees it goes by, or by which its parts were merged, and the end it began from."""
        return Course(self.guided.forest, self.end.back)

    def go_by(self, course: Course | None) -> None:
        """Go by these trees from the next round on, if any are given. From the other end all begins anew but for what
        is proven; where there is no memory for that, it goes on as before.
        """
        if course is None:
            return
        end = self._end(course)
        if end is not self.end:
            try:
                self._begin(end, self.limit, course, None, self.asking)
            except MemoryError:
                return
        self.guided.given = course.forest

    @property
    def bound(self) -> int:
        """What no order costs less than."""
        return self.asking.bound

    @property
    def limit(self) -> int:
        """What the best order costs, or what only orders below count."""
        return self.asking.limit

    @property
    def closed(self) -> bool:
        """Whether no order costs less than the limit."""
        return self.asking.closed

    @property
    def work(self) -> int:
        """Work done so far, in states seen, trials of trees among it; changes tried count by the time they take."""
        tried = self.trials.work if self.trials else 0
        return self.asking.work + tried + CHANGE * (self._improver.moves if self._improver else 0)

    @property
    def sum(self) -> int:
        """What `patterns` add up to at the root; less than nothing where there are none."""
        return -1 if self.end.back else self.guided.most

    @property
    def patterns(self) -> list[Pattern]:
        """Patterns whose costs add up, what is known of them at the root noted in them; only of the front, for why the
        rest cannot be saved is told from there.
        """
        return [] if self.end.back else self.guided.told

    def rounds(self) -> Iterator[None]:
        """Rounds until closed, with a pause after each, for better plans and bounds; where memory is full before that,
        better plans only. Raises MemoryError where there is none to better.
        """
        try:
            while not self.closed:
                self.moves *= GROWTH if self.improve(self.moves) else VAIN
                self.lift()
                yield
        except MemoryError:
            if self.best is None:
                raise
            while not self.closed:
                self.improve(self.moves)
                yield

    def lift(self, growth: int = GROWTH) -> None:
        """A round for better bounds only; where lots are so many that no trials choose the end, with a look from the
        other one first, once. Raises MemoryError.
        """
        if self.floor.count > MANY_LOTS and self.effort > COMPARED[-1] and not self._compared:
            self._compared = True
            self._compare_ends()
        self._round(self.effort)
        self.effort *= growth

    def _round(self, effort: int) -> None:
        """Search with so much effort."""
        if self.closed:
            return
        items = self.guided.round(effort)
        if items is not None:
            order = self.end.order((*self.end.floor.first().made, *items))
            self._take(self.root.cost + self.bound, self.ends.front.items(order))

    def _compare_ends(self) -> None:
        """Merge and search from the other end with as much effort as so far, and go on from there if that comes
        further.
        """
        other = None if self.closed else self.ends.back
        if other is None:
            return
        had, reached = (self.end, self.asking, self.guided), self.guided.reached
        best = self.best and Found(self.best.cost, other.items(self.ends.front.order(self.best.items)))
        try:
            self._begin(other, self.limit, None, best, self.asking)
            for effort in COMPARED:
                self._round(effort)
        except MemoryError:
            reached = FAR
        if self.guided.reached <= reached and self.end is other:
            _, asking, _ = had
            asking.limit, asking.bound = self.limit, self.bound
            asking.spent += self.asking.work - asking.work
            self.end, self.asking, self.guided = had

    def hear(self, tick: Callable[[], None]) -> None:
        """Ask this from now on whether to go on, and tell nobody of news."""
        self.tick = self.asking.tick = tick
        self.told = lambda climb: None

    def learn(self, limit: int, best: Found) -> None:
        """A plan of another one, if it is better."""
        if limit < self.limit:
            self.best, self.asking.limit = best, limit
            self.asking.bound = min(self.limit, self.bound)

    def lower(self, limit: int) -> None:
        """Only orders below this limit count from now on, too."""
        self.asking.limit = min(self.limit, limit)

    def improve(self, moves: int) -> bool:
        """A better plan, perhaps: so many changes to the best one tried, beginning at the plan begun from. Whether
        there is one.
        """
        if self.best is None or self.closed:
            return False
        if self._improver is None:
            order = tuple(self.floor.lot_of[item] for item in self.best.items)
            self._improver = Improver(self.floor.problem, order, (), self.seed)
        improver = self._improver
        had, until = self.limit, improver.moves + moves
        while improver.moves < until and not self.closed:
            improver.run(AT_ONCE)
            if improver.cost - self.root.cost < self.limit:
                self._take(improver.cost, tuple(self.floor.item_of[lot] for lot in improver.best))
            self.tick()
        return self.limit < had

    def _take(self, cost: int, items: tuple[int, ...]) -> None:
        """A better plan."""
        self.asking.limit = cost - self.root.cost
        self.best = Found(cost, items)
        self.told(self)

    def _tell(self) -> None:
        self.told(self)
