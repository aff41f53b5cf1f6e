"""Two ascents of one problem side by side, on two cores.

Which mergers come about decides how long a proof takes, and it cannot be told beforehand which are the right ones. So
where an ascent has not come to an end in its first rounds, another one goes beside it, which rates mergers otherwise
and tries other changes to the plan (an algorithm portfolio; Huberman, Lukose and Hogg, 1997; from memory). After
each round both have the better plan and the better bound.

Of the largest problems one looks for bounds and the other one for plans.

The outcome does not depend on which thread is quicker: within a round neither hears of the other, and of two that come
to an end in the same round the one counts that had opened fewer states then. The other is stopped when it has
opened as many.
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


def ascend(first: Climb, rounds: Iterator[None], tick: Callable[[], None]) -> None:
    """The rounds of an ascent until it is closed, from some round on with another one beside it."""
    told = first.told
    for _ in zip(range(ALONE), rounds, strict=False):
        pass
    if first.closed:
        return
    if first.best is None:
        for _ in rounds:
            pass
        return
    second = first.another()
    if first.floor.count <= MANY:
        pair = [_Half(first, rounds), _Half(second, second.rounds())]
    else:
        pair = [_Half(first, first.rounds(plans=False)), _Half(second, second.rounds(bounds=False))]

    def hear() -> None:
        tick()
        for half in pair:
            told(half.climb)

    while not first.closed:
        halt = Event()
        for half, other in (pair, pair[::-1]):
            half.begin(halt, other)
        side_by_side([half.round for half in pair], hear, halt)
        ended = [half for half in pair if half.climb.closed]
        winner = min(ended, key=lambda half: half.climb.opened, default=pair[0]).climb
        for half in pair:
            half.climb.learn(second if half.climb is first else first)
        told(winner)


class _Half:
    """One of two ascents: goes a round at a time, and stops where the other one has ended with fewer states opened."""

    def __init__(self, climb: Climb, rounds: Iterator[None]) -> None:
        self.climb = climb
        self._rounds = rounds
        self._most: int | None = None
        self._halt = Event()

    def begin(self, halt: Event, other: _Half) -> None:
        """Before a round; `halt` stops it at once."""
        self._halt, self._other = halt, other
        self.climb.hear(self._tick)

    def round(self) -> None:
        """One round."""
        try:
            next(self._rounds, None)
        except Stopped:
            return
        if self.climb.closed:
            self._other.stop_at(self.climb.opened)

    def stop_at(self, opened: int) -> None:
        """Go on only until so many states are opened."""
        self._most = opened

    def _tick(self) -> None:
        if self._halt.is_set() or (self._most is not None and self.climb.opened >= self._most):
            raise Stopped
