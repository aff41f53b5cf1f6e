"""One outline of a problem with choices at work: made smaller, with a good order to beat, and its engine, which is
looked at in rounds and goes on at each look where the last one stopped.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Protocol

from sequencer.solve.choices.outline import Allowed, Outline, outline
from sequencer.solve.clock import Clock
from sequencer.solve.problem import FAR, Impossible, Limits, Outcome, Problem, Progress, Reason
from sequencer.solve.proof.known import UNKNOWN, Known, NamedCourse
from sequencer.solve.reduction.reduce import Undo, reduce

SKETCH = 5_000
"""Changes by which the first order of an outline is improved."""

MOVES = 1_000
"""Changes by which the engine improves an outline's order in the first round, for it has been sketched."""


class Looking(Protocol):
    """An engine at work on one problem, as far as it has got."""

    @property
    def course(self) -> NamedCourse:
        """What it goes by."""

    @property
    def work(self) -> int:
        """Work done so far, in states seen."""

    def look(self, rounds: int, seconds: float, ceiling: int, moves: int) -> Outcome | Impossible:
        """What so many rounds bring, all looks counted, or so many seconds where there are no rounds; it also ends once
        no order costs less than the ceiling. `moves`: what the first round spends on better orders. Raises
        TimeoutError where no order is known by then, nor shown to be impossible.
        """

    def reasons(self, bound: int) -> tuple[Reason, ...]:
        """Why no order costs less than this bound, which it has proven."""


Beginning = Callable[
    [Problem, Limits, Callable[[Progress], None], Callable[[], bool], Known, bool], Looking | Impossible
]
"""An engine that begins with a problem, and what is known of it, and waits to be told how far to look; the last says
whether it should spare what is slow to load.
"""


@dataclass(eq=False)
class Study:
    """An outline half solved: made smaller, the way back, the engine at work and the bound it has told."""

    seen: Outline
    undo: Undo
    engine: Looking = field(init=False)
    bound: int = 0

    def look(self, rounds: int, seconds: float, ceiling: int | None) -> Outcome | Impossible | None:
        """What one more look shows, of the outline itself; None if it found no order in time. Only orders of the whole
        below the ceiling count, if there is one.
        """
        below = FAR if ceiling is None else ceiling - self.seen.least
        try:
            found = self.engine.look(rounds, seconds, below, MOVES)
        except TimeoutError:
            return None
        if isinstance(found, Impossible):
            return Impossible(found.why)
        return replace(found, order=self.undo(found.order, ())[0])

    def hear(self, news: Progress) -> None:
        """Note what the engine tells."""
        bound = news.bound if news.best is None else min(news.bound, news.best)
        self.bound = max(self.bound, bound + self.seen.least)


def study_of(
    problem: Problem,
    allowed: Allowed,
    course: NamedCourse,
    engine: Beginning,
    limits: Limits,
    clock: Clock,
    small: bool,
) -> Study | Impossible:
    """The outline that shows these options, not yet looked at.

    `course`: trees that served one much like it; `limits`: of the whole, of which the `clock` tells what time is left;
    `small`: all is to be done in plain Python, without a sketch. The seed of the limits is that of the sketch, too.
    """
    seen = outline(problem, allowed)
    if isinstance(seen, Impossible):
        return seen
    smaller, undo = reduce(seen.problem)
    study = Study(seen, undo)
    left = replace(limits, seconds=max(0.01, clock.left))
    known = UNKNOWN if small or clock.over() else _sketch(smaller, limits.seed, clock.over)
    found = engine(smaller, left, study.hear, clock.stop, replace(known, course=course), small)
    if isinstance(found, Impossible):
        return Impossible(found.why)
    study.engine = found
    return study


def _sketch(outlined: Problem, seed: int, ended: Callable[[], bool]) -> Known:
    """A good order of an outline, for the engine to beat."""
    from sequencer.solve.plans.improve import improve  # compiled code is slow to load
    from sequencer.solve.plans.quick import dived

    quick = dived(outlined, ended)
    if quick is None:
        return UNKNOWN
    order, _, cost = improve(outlined, quick.order, (), SKETCH, seed, ended)
    return Known(order, cost)
