"""The engine of record: proves the cheapest order of a problem without choices by search over patterns of dials.

The way through: `relation` (what must come before what), `floor` (the exact rules as transitions), `beam` or
`greedy` (a first plan), `wheels` and `patterns` (lower bounds), `astar` (exact search); for what is larger `climb`,
which does the last two compiled. The best plan so far and the bound proven so far are in hand at every moment, so a
stop by hand or by the clock returns both.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import replace
from math import prod
from time import monotonic
from typing import TYPE_CHECKING

from sequencer.solve.bounds.astar import BestFirst, Found, Guide
from sequencer.solve.bounds.merging import merge, one_dial
from sequencer.solve.bounds.patterns import Pattern
from sequencer.solve.bounds.wheels import ease
from sequencer.solve.clock import ENDLESS, Arrived, Clock, Stopped
from sequencer.solve.plans.beam import beam, widths
from sequencer.solve.plans.greedy import quick_plan
from sequencer.solve.price import price
from sequencer.solve.problem import FAR, Impossible, Limits, Outcome, Problem, Progress, Reason
from sequencer.solve.proof.known import UNKNOWN, Known, NamedCourse, named, numbered
from sequencer.solve.proof.reasons import floors, reasons
from sequencer.solve.proof.scale import compiles
from sequencer.solve.proof.trees import Course
from sequencer.solve.refusal import UNREACHED
from sequencer.solve.relation import relation_of
from sequencer.solve.transitions.floor import Floor

if TYPE_CHECKING:
    from sequencer.solve.proof.climb import Climb

SMALL = 40
"""Lots up to which plain Python tries first: loading what is compiled takes a second."""

LOADING = 1.5
"""Seconds that must be left for loading what is compiled."""

LARGE = 150
"""Lots beyond which a first plan comes from quick rules."""

GRACE = 0.5
"""Seconds that a first plan may still take when there is no time left for quick rules."""

WIDE = 200
"""Ways to set the dials for one lot beyond which the same holds."""

QUICK = 700
"""States that the merging, and then the search, in plain Python may open where the kernels can take over: half as long
as loading these takes.
"""


def search(
    problem: Problem,
    limits: Limits,
    progress: Callable[[Progress], None],
    stop: Callable[[], bool],
) -> Outcome | Impossible:
    """The cheapest order, proven unless the limits or `stop` end the search earlier; or why there is none.

    Raises TimeoutError where no order was found, nor shown to be impossible; ValueError for a problem with choices:
    `options.branch_and_bound` takes them, and begins the same for each outline (`begin`).
    """
    run = begin(problem, limits, progress, stop)
    if isinstance(run, Impossible):
        return run
    with suppress(Stopped, MemoryError):
        run.prove()
    return run.outcome()


def begin(
    problem: Problem,
    limits: Limits,
    progress: Callable[[Progress], None],
    stop: Callable[[], bool],
    known: Known = UNKNOWN,
    sparing: bool = True,
) -> Run | Impossible:
    """The same search, not yet begun; `known`: what is known beforehand; `sparing`: what is small is tried in plain
    Python first, for what is compiled is slow to load.
    """
    relation = relation_of(problem)
    if isinstance(relation, Impossible):
        return relation
    return Run(Floor(problem, relation), Clock(limits.seconds, stop), progress, known, sparing, limits.seed)


class Run:
    """One search: the best plan and bound so far."""

    def __init__(
        self,
        floor: Floor,
        clock: Clock,
        progress: Callable[[Progress], None],
        known: Known = UNKNOWN,
        sparing: bool = True,
        seed: int = 0,
    ) -> None:
        self.floor = floor
        self.small = sparing and floor.count <= SMALL
        self.ceiling = FAR
        self.clock = clock
        self.seed = seed
        self.progress = progress
        self.best: Found | None = None
        if known.order:
            self.best = Found(known.cost, tuple(floor.item_of[lot] for lot in known.order))
        self.bound = 0
        self.exhausted = False
        self.last_news = -1.0
        self.wheels = [ease(floor, d) for d in range(len(floor.knobs))]
        self.patterns: list[Pattern] = []
        self.root = floor.first()
        self.climb: Climb | None = None
        self._rounds: Iterator[None] | None = None
        self._taken = 0
        self._told = 0  # what the patterns told of add up to
        self._known = known
        self._spent = 0  # work of an ascent given up
        self._tried = False  # whether quick rules have been asked for a plan

    @property
    def course(self) -> NamedCourse:
        """What it goes by; what was known beforehand if it has merged nothing."""
        course = self.climb.course if self.climb else Course(())
        merged = any(isinstance(tree, tuple) for tree in course.forest)
        return named(self.floor, course) if merged else self._known.course

    @property
    def work(self) -> int:
        """Work done so far in the ascent, in states seen."""
        climb = self.climb
        return self._spent + (climb.work if climb else 0)

    def news(self, bound: int) -> None:
        """Tell of a better bound or plan, a few times a second at most. Raises Stopped where no order costs less than
        the ceiling; a bound that is FAR shows that there is none at all.
        """
        self.bound = max(self.bound, bound)
        if self.bound >= FAR and self.best is None:
            self.exhausted = True
            raise Stopped
        seconds = self.clock.seconds
        if seconds - self.last_news > 0.3:
            self.last_news = seconds
            best = min(self.best.cost, self.climb.scouted if self.climb else FAR) if self.best else None
            self.progress(Progress(seconds, best, self.bound))
        if self.bound >= self.ceiling:
            raise Stopped

    def look(
        self, rounds: int, seconds: float, ceiling: int = FAR, moves: int | None = None
    ) -> Outcome | Impossible:
        """What so many rounds of the ascent bring to light, those of earlier looks counted: they are gone on with. What
        comes before the ascent has these seconds, and begins anew each time. `moves`: changes to the plan tried in
        the first round, if not as many as usual.

        The search also ends as soon as it is proven that no order costs less than the `ceiling`. Why is told only
        where it is asked for (`reasons`). Raises TimeoutError where no order is known by then.
        """
        self.ceiling = min(self.ceiling, ceiling)
        try:
            if self._rounds is None:
                end = self.clock.until
                self.clock.until = min(end, self.clock.begun + self.clock.seconds + seconds)
                try:
                    self._prepare()
                finally:
                    self.clock.until = end
                self._rounds = self._alone()
            if self.climb is not None and self._rounds is not None:
                self.climb.lower(self.ceiling - self.root.cost)
                if moves and not self._taken:
                    self.climb.moves = moves
                for _ in range(self._taken, rounds):
                    self._taken += 1
                    if next(self._rounds, self) is self:
                        break
                self._close()
        except Stopped:
            pass
        except MemoryError:  # later looks bring nothing more
            self._spent, self.climb, self._rounds = self.work, None, iter(())
        return self._outcome()

    def _alone(self) -> Iterator[None] | None:
        """The rounds of the ascent, if it has begun, with trees looked for between them."""
        if self.climb is None or self._rounds is None:
            return None
        from sequencer.solve.proof.ascents import alone  # numba takes half a second to load

        return alone(self.climb, self._rounds)

    def prove(self) -> None:
        """A plan, then the bounds, then the proof."""
        self._prepare()
        if self.climb is not None and self._rounds is not None:
            from sequencer.solve.proof.ascents import ascend  # numba takes half a second to load

            ascend(self.climb, self._rounds, self.clock.tick)
            self._note(self.climb)
            self._close()

    def _prepare(self) -> None:
        """All that comes before the ascent, and its beginning."""
        self._start()
        if self._closed():
            return
        compiled = compiles(self.floor) and ("numba" in sys.modules or self.clock.left > LOADING)
        if self.small or not compiled:
            self._search(QUICK if compiled else ENDLESS)
        if compiled and not self._closed() and not self.exhausted:
            self._climb()

    def _start(self) -> None:
        """A first bound and a first plan."""
        bare = [Pattern(self.floor, [w], (d,), (), self.clock.tick) for d, w in enumerate(self.wheels)]
        quick = Guide(bare)
        self.patterns = bare
        self.bound = max(self.bound, self.root.cost + quick.rest(self.root.state, 0))
        self.best = self.best or self._first(quick)
        self.news(self.bound)

    def _first(self, guide: Guide) -> Found | None:
        """A plan where none is known. Without a beam of one there may be no plan at all, so it is not stopped where it
        is soon over, and gets `GRACE` seconds at least where lots are many.
        """
        large = self.floor.count > LARGE or _widest(self.floor) > WIDE
        found = self._quick() if large else None
        if found is None:
            with suppress(Stopped):
                found = beam(self.floor, guide, 1, self._patient() if large else lambda: None, FAR, 0)
        if found is None and not large:  # mates in the way of so narrow a beam
            found = self._quick()
        return found

    def _patient(self) -> Callable[[], None]:
        """What raises Stopped once somebody asked to stop, or time is up, and `GRACE` seconds from now are over."""
        until = max(self.clock.until, monotonic() + GRACE)

        def tick() -> None:
            if self.clock.hand() or monotonic() > until:
                raise Stopped

        return tick

    def _quick(self) -> Found | None:
        """A plan by quick rules."""
        self._tried = True
        found = quick_plan(self.floor.problem, self.clock.hand, self.clock.over)
        if found is None:
            return None
        return Found(found.cost, tuple(self.floor.item_of[lot] for lot in found.order))

    def _climb(self) -> None:
        """The search on arrays, compiled; in plain Python until it is."""
        from sequencer.solve.proof.climb import Climb, ready  # numba takes half a second to load

        if not ready():
            best = self.best.cost if self.best else None
            self.progress(
                Progress(self.clock.seconds, best, self.bound, "getting ready, once on this machine")
            )
            self.clock.awaited = ready
            try:
                with suppress(Arrived):
                    self._search(ENDLESS)
            finally:  # the time may be up before, and a later look is not to end when they arrive
                self.clock.awaited = None
            if self._closed() or self.exhausted:
                return
        limit = min(self.ceiling, self.best.cost if self.best else FAR) - self.root.cost
        course = numbered(self.floor, self._known.course)
        self.climb = Climb(
            self.floor, self.wheels, self.clock.tick, self._heard, limit, self.best, course, seed=self.seed
        )
        self._rounds = self.climb.rounds()

    def _close(self) -> None:
        """Note whether the ascent has shown that there is no order."""
        closed = self.climb is not None and self.climb.closed
        self.exhausted = closed and self.best is None and self.ceiling == FAR

    def _heard(self, climb: Climb) -> None:
        """News of the ascent."""
        self._note(climb)
        self.news(self.root.cost + climb.bound)

    def _note(self, climb: Climb) -> None:
        """The best plan of the ascent, and why its bound holds."""
        if climb.best is not None and (self.best is None or climb.best.cost < self.best.cost):
            self.best = climb.best
        total, patterns = climb.sum, climb.patterns
        if patterns and total >= self._told:  # it may turn to the other end between the two
            self.patterns, self._told = patterns, total

    def _sum(self, bound: int) -> None:
        self.news(self.root.cost + bound)

    def _search(self, effort: int) -> None:
        """In plain Python: beams, merged patterns and best-first search over the exact rules; where there is time
        left then, wider beams. What may be opened is `effort`, if that is not ENDLESS.
        """
        clock, floor, root = self.clock, self.floor, self.root
        whole = clock.until - clock.begun
        singles = [one_dial(floor, wheel, d, root.state, clock.tick) for d, wheel in enumerate(self.wheels)]
        guide = Guide(singles)
        self.patterns = singles
        self.news(root.cost + guide.rest(root.state))
        if self._closed():
            return
        sizes = widths(floor.count)
        if floor.count > SMALL:
            with clock.until_share(0.3):
                for _ in range(2):  # a fixed number of beams, not a time: the same plan on every run
                    if self._improve(guide, next(sizes)):
                        return
        self.patterns = merge(
            floor, self.wheels, singles, root.state, clock.tick, 0.3 * whole, self._sum, effort
        )
        if self._closed():
            return
        guide_all = Guide(self.patterns)
        astar = BestFirst(floor, guide_all, clock.tick, self.best, self.news, self.bound, effort)
        try:
            with clock.until_share(0.6 if floor.count > LARGE else 1.0):
                astar.run()
                self.exhausted = astar.best is None and not astar.spent
        except MemoryError:
            astar.parents.clear()
        finally:
            self.best = astar.best
            self.bound = max(self.bound, astar.bound)
        while effort == ENDLESS and not self.exhausted and not self._improve(guide, next(sizes)):
            pass

    def _closed(self) -> bool:
        """Whether the best plan is proven, or that none costs less than the ceiling."""
        return self.bound >= self.ceiling or (self.best is not None and self.bound >= self.best.cost)

    def _improve(self, guide: Guide, width: int) -> bool:
        """One beam of this width; whether the best plan is then proven."""
        limit = FAR if self.best is None else self.best.cost
        found = beam(self.floor, guide, width, self.clock.tick, limit)
        if found is not None:
            self.best = found
            self.news(self.bound)
        return self._closed()

    def outcome(self) -> Outcome | Impossible:
        """What was found, and why no order costs less than the bound; where nothing was found in time, a quick plan.

        Raises TimeoutError where that finds none either.
        """
        found = self._outcome()
        if isinstance(found, Impossible):
            return found
        return replace(
            found, reasons=self.reasons(found.bound), floors=floors(self.root.state, self.patterns)
        )

    def reasons(self, bound: int) -> tuple[Reason, ...]:
        """Why no order costs less than this bound, which was proven."""
        return reasons(self.floor, self.root.state, self.patterns, self.root.cost, bound)

    def _outcome(self) -> Outcome | Impossible:
        """What was found."""
        if self.best is None:
            if self.exhausted:
                unreached = self.bound >= FAR or not self.floor.groups  # else mates are in the way
                return Impossible(UNREACHED if unreached else "no order lets all mates be made in one visit")
            self.best = None if self._tried else self._quick()
        if self.best is None:
            raise TimeoutError("no order was found in the time given")
        order = tuple(self.floor.lot_of[item] for item in self.best.items)
        priced = price(self.floor.problem, order)
        assert priced is not None
        return Outcome(
            order=order,
            options=(),
            cost=priced.cost,
            bound=min(self.bound, priced.cost),
            seconds=self.clock.seconds,
            engine="search",
            interrupted=self.clock.by_hand,
        )


def _widest(floor: Floor) -> int:
    """The most ways there are to set the dials for one lot."""
    return max((prod(len(reach) for _, _, reach in needs) for needs in floor.needs), default=1)
