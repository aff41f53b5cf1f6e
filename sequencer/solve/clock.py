"""How long an engine may go on, and whether somebody asked it to stop."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from time import monotonic

ENDLESS = 1 << 59
"""Effort, in states, that only ends with the answer."""


class Stopped(Exception):  # noqa: N818 - an order to stop, not an error
    """Raised inside the search when time is up or somebody asked to stop."""


class Arrived(Exception):  # noqa: N818 - good news, not an error
    """Raised inside work that only fills the time until something arrives, when it has."""


class Clock:
    """Asks now and then whether to go on."""

    def __init__(self, seconds: float, stop: Callable[[], bool]) -> None:
        self.begun = monotonic()
        self.until = self.begun + seconds
        self.stop = stop
        self.by_hand = False
        self.awaited: Callable[[], bool] | None = None
        self._next = self.begun

    @property
    def seconds(self) -> float:
        """Since the search began."""
        return monotonic() - self.begun

    @property
    def left(self) -> float:
        """Seconds to go."""
        return self.until - monotonic()

    def over(self) -> bool:
        """Whether time is up or somebody asked to stop; may be asked from any thread if `stop` may."""
        return self.stop() or self.left <= 0

    @contextmanager
    def until_share(self, share: float) -> Iterator[None]:
        """Stop the work inside, without stopping the search, when this share of the time is spent."""
        end = self.until
        self.until = self.begun + share * (end - self.begun)
        try:
            yield
        except Stopped:
            if self.by_hand or monotonic() >= end:
                raise
        finally:
            self.until = end

    def hand(self) -> bool:
        """Whether somebody asked to stop."""
        self.by_hand = self.by_hand or self.stop()
        return self.by_hand

    def tick(self) -> None:
        """Go on, or raise Stopped, or Arrived."""
        now = monotonic()
        if now >= self._next:
            self._next = now + 0.03
            if self.stop():
                self.by_hand = True
                raise Stopped
            if now >= self.until:
                raise Stopped
            if self.awaited is not None and self.awaited():
                raise Arrived
