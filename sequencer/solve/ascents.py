"""Two ascents of one problem side by side, on two cores.

Which mergers come about decides how long a proof takes, and it cannot be told beforehand which are the right ones. So
where an ascent has not come to an end in its first rounds, another one goes beside it, which rates mergers otherwise
and tries other changes to the plan (an algorithm portfolio; Huberman, Lukose and Hogg, 1997; from memory). After
each round both have the better plan and the better bound.

Of the largest problems one looks for bounds and the other one for plans.

The outcome does not depend on which thread is quicker: within a round neither hears of the other, and of two that come
to an end in the same round the one counts that had done less work then, in states opened and changes tried. The other
is stopped when it has done more.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from threading import Event

from sequencer.solve.abreast import side_by_side
from sequencer.solve.climb import Climb
from sequencer.solve.clock import Stopped

ALONE = 2
"""Rounds before the second ascent begins: easy problems end here."""

MANY = 500
"""Lots beyond which memory is left to one ascent, for bounds only; the other one only betters the plan."""


def ascend(first: Climb, rounds: Iterator[None], tick: Callable[[], None]) -> Climb:
    """The rounds of an ascent until it is closed, from some round on with another one beside it; the one that closed it
    is returned. `tick` may raise to stop both; both have told their news then.
    """
    told = first.told
    for _ in zip(range(ALONE), rounds, strict=False):
        pass
    second = None if first.closed or first.best is None else _another(first)
    if second is None:  # without a plan there is no limit to share either
        for _ in rounds:
            pass
        return first
    if first.floor.count <= MANY:
        one, other = _Half(first, rounds), _Half(second, second.rounds())
    else:
        one, other = _Half(first, first.rounds(plans=False)), _Half(second, second.rounds(bounds=False))
    one.other, other.other = other, one

    def tell() -> None:
        told(first)
        told(second)

    def hear() -> None:
        tick()
        tell()

    while True:
        halt = Event()
        one.begin(halt)
        other.begin(halt)
        try:
            side_by_side([one.round, other.round], hear, halt)
        except Stopped:
            tell()
            raise
        closed = [climb for climb in (first, second) if climb.closed]
        if closed:
            winner = min(closed, key=lambda climb: climb.work)  # the first of equals
            first.learn(winner)
            told(winner)
            return winner
        first.learn(second)
        second.learn(first)
        told(first)
        if first.closed:  # by the bound of one and the plan of the other
            return first


def _another(first: Climb) -> Climb | None:
    """A second ascent, if there is memory for it."""
    try:
        return first.another()
    except MemoryError:
        return None


class _Half:
    """One of two ascents: goes a round at a time, and stops where the `other` one has ended with less work done."""

    other: _Half

    def __init__(self, climb: Climb, rounds: Iterator[None]) -> None:
        self.climb = climb
        self._rounds = rounds

    def begin(self, halt: Event) -> None:
        """Before a round; `halt` stops it at once."""
        self._halt = halt
        self._most: int | None = None
        self.climb.hear(self._tick)

    def round(self) -> None:
        """One round."""
        try:
            next(self._rounds, None)
        except Stopped:
            return
        if self.climb.closed:
            self.other.stop_beyond(self.climb.work)

    def stop_beyond(self, work: int) -> None:
        """Go on only as long as no more work is done."""
        self._most = work

    def _tick(self) -> None:
        if self._halt.is_set() or (self._most is not None and self.climb.work > self._most):
            raise Stopped
