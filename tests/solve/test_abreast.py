"""Tasks side by side: their results in order, the caller's clock heard, nothing lost and nothing hanging."""

from __future__ import annotations

from collections.abc import Callable
from threading import Barrier, Event, current_thread
from time import monotonic

import pytest

from sequencer.solve.abreast import side_by_side

LONG = 20.0
"""Seconds that a task waits at most for what should come at once."""


def silent() -> None:
    """A clock that says nothing."""


def test_results_come_in_the_order_of_the_tasks() -> None:
    """The first task waits for the last one, so they ran at the same time; still its result comes first."""
    last = Event()

    def first() -> str:
        assert last.wait(LONG)
        return "first"

    def second() -> str:
        last.set()
        return "second"

    assert side_by_side([first, second], silent, Event()) == ["first", "second"]
    assert side_by_side([lambda: 1], silent, Event()) == [1]
    none: list[Callable[[], int]] = []
    assert side_by_side(none, silent, Event()) == []


def test_ticks_are_heard_in_the_callers_thread() -> None:
    """While a task works, `tick` is called again and again, by the thread that waits."""
    heard, thrice = [], Event()

    def tick() -> None:
        heard.append(current_thread())
        if len(heard) == 3:
            thrice.set()

    assert side_by_side([lambda: thrice.wait(LONG)], tick, Event()) == [True]
    assert set(heard) == {current_thread()}


@pytest.mark.parametrize("raised", [TimeoutError, KeyboardInterrupt])
def test_what_a_tick_raises_halts_the_tasks_and_is_passed_on(raised: type[BaseException]) -> None:
    """The tasks are told to end, have ended when it is raised again, and did not wait long."""
    halt = Event()
    ended = []

    def task() -> None:
        ended.append(halt.wait(LONG))

    def tick() -> None:
        raise raised

    begun = monotonic()
    with pytest.raises(raised):
        side_by_side([task, task], tick, halt)
    assert ended == [True, True]
    assert monotonic() - begun < LONG / 2


@pytest.mark.parametrize("raised", [MemoryError, KeyError, SystemExit])
@pytest.mark.parametrize("place", [0, 1])
def test_what_a_task_raises_halts_the_others_and_is_passed_on(
    raised: type[BaseException], place: int
) -> None:
    """Whichever task fails, the other is told to end and the failure reaches the caller."""
    halt = Event()
    ended = []

    def failing() -> None:
        raise raised

    def other() -> None:
        ended.append(halt.wait(LONG))

    tasks = [other, other]
    tasks[place] = failing
    with pytest.raises(raised):
        side_by_side(tasks, silent, halt)
    assert ended == [True]


def test_of_two_failures_the_first_task_s_is_raised() -> None:
    """Not the one that happened first, for that would depend on the threads."""
    second = Event()

    def first() -> None:
        assert second.wait(LONG)
        raise KeyError

    def last() -> None:
        second.set()
        raise ValueError

    with pytest.raises(KeyError):
        side_by_side([first, last], silent, Event())


def test_many_tasks_run_at_once() -> None:
    """Each of four waits for the other three."""
    meet = Barrier(4)
    assert sorted(side_by_side([lambda: meet.wait(LONG)] * 4, silent, Event())) == [0, 1, 2, 3]
