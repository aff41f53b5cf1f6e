"""Better plans of a problem with choices, looked for a portion at a time beside the looks at its outlines.

The best plan is annealed, options and all (`improve`), whenever there is a new one and after 1, 2, 4, 8 ... looks; in
a long search its order alone is loosened now and then, too, its options as they are (`reordering`). Portions are told
in changes tried and states seen, so the same is found on any machine.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from sequencer.solve.choices.completion import Completed
from sequencer.solve.plans.changes import CHANGE, ENOUGH
from sequencer.solve.problem import Problem
from sequencer.solve.proof.known import NamedCourse

if TYPE_CHECKING:
    from sequencer.solve.choices.reordering import Reordering
    from sequencer.solve.plans.improve import Improver

PORTION, LONGER = 16_000, 4
"""Changes at a time beside the first look at a node; so many times as many beside each further one, which takes so
much longer.
"""

LONG, LATER = 12, 1.5
"""Looks after which the best plan is reordered for the first time, and by how much they grow until the next time."""

REORDERED = 600
"""States for each lot after which no further search begins in that."""


class Bettering:
    """One portion after the other; each is begun and taken in by the caller's thread and may run in another one."""

    def __init__(self, problem: Problem, ended: Callable[[], bool], seed: int = 0) -> None:
        """`ended`: whether to go on no further, asked from any thread; `seed`: from which those of its portions are
        counted.
        """
        self.plan: Completed | None = None  # the best of the portion at work, or of the last one
        self._problem, self._ended = problem, ended
        self._looks = 0
        self._due = False
        self._source: Completed | None = None  # what better plans are looked for from, or were the last time
        self._improver: Improver | None = None
        self._seed = seed
        self._begun = 0  # how often annealing began anew
        self._reordering: Reordering | None = None  # if that is the portion at work
        self._reordered = LONG  # looks from which on that is due
        self._tried = 0  # changes in the portion at work, where it is annealed
        self._portion = 0  # how many there are to be, or states where it is reordered; 0: there is none

    @property
    def work(self) -> int:
        """The work done in this portion, in states seen."""
        return self._reordering.work if self._reordering else CHANGE * self._tried

    def looked(self) -> None:
        """One more look at an outline has left something open."""
        self._looks += 1
        self._due = self._due or not self._looks & (self._looks - 1)

    def wanted(self, best: Completed) -> bool:
        """Whether a better plan than this one is to be looked for now."""
        return not self._portion and (self._to_anneal(best) or self._looks >= self._reordered)

    def begin(self, best: Completed, further: int, course: NamedCourse) -> None:
        """Begin a portion from the best plan; or go on with annealing, where that is not yet enough and no better plan
        came from elsewhere. `further`: how many looks came before those it runs beside; `course`: trees that serve
        outlines.
        """
        if not self._to_anneal(best):
            from sequencer.solve.choices.reordering import Reordering  # compiled code is slow to load

            self._reordered = int(LATER * self._looks) + 1
            self._portion = REORDERED * len(self._problem.lots)
            self._reordering = Reordering(self._problem, best, course, self._seed + self._looks)
            return
        from sequencer.solve.plans.improve import begun  # compiled code is slow to load

        self._tried = 0
        self._portion = PORTION * LONGER**further
        improver = self._improver
        if improver is None or improver.moves >= ENOUGH or best[0] < improver.cost:
            self._improver = begun(self._problem, best[1], best[2], self._seed + self._begun)
            self._source, self._due = best, False
            self._begun += 1

    def run(self) -> None:
        """The portion begun."""
        from sequencer.solve.plans.improve import SLICE  # compiled code is slow to load

        improver = self._improver
        if self._reordering:
            self._reordering.run(self._portion, self._ended)
            self.plan = self._reordering.plan
        elif improver is not None:
            until = min(ENOUGH, improver.moves + self._portion)
            while improver.moves < until and not self._ended():
                improver.run(SLICE)
                self._tried += SLICE
                self.plan = improver.cost, improver.best, improver.options

    def take(self, best: Completed | None) -> Completed | None:
        """The better of the plan found and the best one; the portion is done. What was reordered may be annealed
        again.
        """
        if self.plan is not None and (best is None or self.plan[0] < best[0]):
            best = self.plan
            if not self._reordering:
                self._source = best
        self._portion, self._reordering = 0, None
        return best

    def _to_anneal(self, best: Completed) -> bool:
        """Whether the best plan is to be annealed: where it is a new one, or too little was done for the last one, or
        that is due.
        """
        left = self._improver is not None and self._improver.moves < ENOUGH
        return self._due or left or self._source != best
