"""Tasks run side by side, each in a thread of its own: kernels let the others run while they compute.

Some go on until all are done (`side_by_side`); of others the first that ends makes room for another one (`Relay`).

The caller's thread waits and hears clock, hand and news meanwhile, so what is the caller's own need not be safe among
threads, and an interrupt from the keyboard is delivered where it can be heard.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import FIRST_COMPLETED, FIRST_EXCEPTION, Future, ThreadPoolExecutor, wait
from dataclasses import dataclass
from threading import Event
from types import TracebackType
from typing import Generic, TypeVar

_Result = TypeVar("_Result")

PAUSE = 0.03
"""Seconds between two ticks."""

GLANCE = 0.003
"""Seconds between two looks at how far a task has got that may end before one that has ended."""


def side_by_side(
    tasks: Sequence[Callable[[], _Result]], tick: Callable[[], None], halt: Event
) -> list[_Result]:
    """What each task returns, in the order of the tasks, when all are done; `tick` is called meanwhile.

    Where a task raises anything, or `tick` does, `halt` is set, which tells the tasks to come to an end soon; when
    all have, it is raised again: the caller's own first, then the first in the order of the tasks.
    """
    with ThreadPoolExecutor(max(1, len(tasks))) as pool:
        try:
            running = [pool.submit(task) for task in tasks]
            left = set(running)
            while left:
                done, left = wait(left, PAUSE, FIRST_EXCEPTION)
                if any(task.exception() for task in done):
                    halt.set()
                if left:
                    tick()
        except BaseException:
            halt.set()
            raise
    return [task.result() for task in running]


@dataclass(eq=False)
class _Running(Generic[_Result]):
    """A task begun at this place of the clock, when so much work was done."""

    future: Future[_Result]
    work: Callable[[], int]
    begun: int

    @property
    def reached(self) -> int:
        """How far the clock would have got with the work done so far."""
        return self.begun + self.work()


class Relay(Generic[_Result]):
    """Tasks side by side, taken in one by one in an order that does not depend on which thread is quicker.

    It is as if a clock went on with the work done: each task takes as long as it works. The one that ends first by this
    clock is the next to be taken in, and then another one may begin. What has ended is kept waiting until it is certain
    that no other one ends before it.
    """

    def __init__(self, most: int, tick: Callable[[], None], halt: Event) -> None:
        """At most so many tasks at a time; `tick` and `halt` as in `side_by_side`."""
        self._pool = ThreadPoolExecutor(most)
        self._tick, self._halt = tick, halt
        self._running: list[_Running[_Result]] = []
        self._clock = 0

    def __enter__(self) -> Relay[_Result]:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, what: BaseException | None, at: TracebackType | None
    ) -> None:
        """Halt what still runs, and wait until it has ended."""
        self._halt.set()
        self._pool.shutdown()

    @property
    def running(self) -> int:
        """How many tasks are not yet taken in."""
        return len(self._running)

    def begin(self, task: Callable[[], _Result], work: Callable[[], int]) -> None:
        """Begin a task; `work` says at any time how much it has done so far, which never becomes less."""
        self._running.append(_Running(self._pool.submit(task), work, self._clock))

    def first(self) -> _Result:
        """What the task returns that ends first, when that is certain; there must be one. What any of them raises, or
        `tick` does, halts the others and is raised.
        """
        assert self._running
        try:
            while True:
                ended = [task for task in self._running if task.future.done()]
                for task in ended:
                    task.future.result()
                first = min(ended, key=lambda task: task.reached, default=None)
                going = [task for task in self._running if task not in ended]
                if first is not None and all(task.reached > first.reached for task in going):
                    self._running.remove(first)
                    self._clock = first.reached
                    return first.future.result()
                wait([task.future for task in going], PAUSE if first is None else GLANCE, FIRST_COMPLETED)
                self._tick()
        except BaseException:
            self._halt.set()
            raise
