"""An ascent and its scout side by side, on two cores; or an ascent alone, which looks for trees itself.

Which trees of mergers an ascent goes by, and from which end of the problem, decides how long a proof takes. So where it
has not come to an end in its first round, a scout goes beside it, which looks for better courses and plans while the
ascent goes by what it has. After each round both have the better plan, the scout has the bound, and the ascent goes by
the course of the scout.

The outcome does not depend on which thread is quicker: within a round neither hears of the other, and where one comes
to an end, the other is stopped when it has done more work in that round, or cannot end in it any more (trees end
nothing). Of two that came to an end the one counts that had done less.

Where the other core has another ascent (two outlines of choices are solved at a time), each looks for trees by itself,
between its rounds.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial
from threading import Event

from sequencer.solve.abreast import side_by_side
from sequencer.solve.clock import Stopped
from sequencer.solve.plans.changes import CHANGE
from sequencer.solve.proof.climb import AT_ONCE, GROWTH, Climb
from sequencer.solve.proof.guided import MANY_LOTS
from sequencer.solve.proof.scout import WORK, Scout, room, trials_of
from sequencer.solve.proof.trials import Trials

ALONE = 1
"""Rounds before the scout begins: easy problems end here, or in the next."""

THOROUGH = 150
"""Changes to the plan for each lot, at least, where one round is not enough: a good plan should come soon."""

GENTLER = 2
"""By how much the effort grows from round to round beside it, less than alone: other trees are taken sooner then. Not
where lots are very many, for no trees are looked for there.
"""

TRIED = 0.5
"""The work that goes into trees before a round of an ascent alone, for that of the round."""


def alone(climb: Climb, rounds: Iterator[None]) -> Iterator[None]:
    """The rounds of an ascent, with better trees to go by looked for between them where lots are not very many."""
    trials: Trials | None = None
    for count, _ in enumerate(rounds):
        yield
        if climb.closed or climb.floor.count > MANY_LOTS:
            continue
        try:
            if not count:
                climb.trials = trials = trials_of(climb)
            if trials is not None:
                trials.run(int(TRIED * WORK * climb.effort), room(climb.effort), climb.limit)
                climb.go_by(trials.take())
        except MemoryError:
            trials = None


def ascend(climb: Climb, rounds: Iterator[None], tick: Callable[[], None]) -> None:
    """The rounds of an ascent until it is closed, from some round on with a scout beside it. `tick` may raise to stop
    both; the ascent has what both have found then.
    """
    told = climb.told
    for _ in zip(range(ALONE), rounds, strict=False):
        climb.moves = max(climb.moves, THOROUGH * climb.floor.count)
    scout = None if climb.closed or climb.best is None else _scout(climb)
    if scout is None:  # without a plan there is no limit to share either
        for _ in rounds:
            pass
        return

    def hear() -> None:
        tick()
        climb.scouted = scout.best.cost
        told(climb)

    growth = GENTLER if climb.floor.count <= MANY_LOTS else GROWTH
    while not climb.closed:
        halt = Event()
        one = _Half(climb, partial(climb.lift, growth), halt)
        other = _Half(scout, partial(scout.round, climb.effort), halt)
        one.other, other.other = other, one
        try:
            side_by_side([one.run, other.run], hear, halt)
        finally:
            if one.ended is not None and other.ended is not None and other.ended < one.ended:
                climb.best = scout.best
            _share(climb, scout, told)
        if not (climb.closed or one.full):
            climb.hear(hear)
            climb.go_by(scout.course)
        while one.full and not climb.closed:  # better plans only
            scout.hear(hear)
            try:
                scout.improve(CHANGE * AT_ONCE)
            finally:
                _share(climb, scout, told)


def _share(climb: Climb, scout: Scout, told: Callable[[Climb], None]) -> None:
    """Let both have the better plan, and the scout the bound."""
    climb.learn(scout.limit, scout.best)
    scout.learn(climb)
    told(climb)


def _scout(climb: Climb) -> Scout | None:
    """A scout, if there is memory for it."""
    try:
        return Scout(climb)
    except MemoryError:
        return None


class _Half:
    """One of the two in a round; it stops where the `other` one has ended with less work done, or cannot be outrun any
    more. `ended`: the work after which this one did; `full`: memory is.
    """

    other: _Half

    def __init__(self, goer: Climb | Scout, task: Callable[[], None], halt: Event) -> None:
        self.goer, self.full = goer, False
        self.ended: int | None = None
        self._task, self._halt = task, halt
        self._begun = goer.work
        self._most: int | None = None
        goer.hear(self._tick)

    def run(self) -> None:
        """The round."""
        try:
            self._task()
        except Stopped:
            return
        except MemoryError:
            self.full = True
        if self.goer.closed:
            self.ended = self.goer.work - self._begun
            self.other.stop_beyond(self.ended)

    def stop_beyond(self, work: int) -> None:
        """Go on only as long as no more work is done, and it may come to an end."""
        self._most = work

    def _tick(self) -> None:
        if self._halt.is_set():
            raise Stopped
        if self._most is not None and not (self._may_close() and self.goer.work - self._begun <= self._most):
            raise Stopped

    def _may_close(self) -> bool:
        """Whether it may come to an end in what is left of the round."""
        return isinstance(self.goer, Climb) or self.goer.planning
