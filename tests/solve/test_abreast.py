"""Tasks side by side: their results in order, the caller's clock heard, nothing lost and nothing hanging."""

from __future__ import annotations

from collections.abc import Callable
from threading import Barrier, Event, current_thread
from time import monotonic, sleep

import pytest

from sequencer.solve.abreast import Relay, side_by_side

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


class Worker:
    """A task that works step by step; each step waits for `seconds`."""

    def __init__(self, name: str, steps: int, seconds: float = 0.0) -> None:
        self.name, self.steps, self.seconds = name, steps, seconds
        self.done = 0

    def run(self) -> str:
        for _ in range(self.steps):
            sleep(self.seconds)
            self.done += 1
        return self.name

    def work(self) -> int:
        return self.done


@pytest.mark.parametrize("slow", range(3))
def test_tasks_are_taken_in_by_their_work(slow: int) -> None:
    """Whichever of three is slow: the least work comes first, then what is left of the others, one begun later counted
    from then on; of equal ones the one begun first.
    """
    seconds = [0.01 if n == slow else 0.0 for n in range(3)]
    with Relay[str](3, silent, Event()) as relay:
        for worker in (
            Worker("five", 5, seconds[0]),
            Worker("two", 2, seconds[1]),
            Worker("six", 6, seconds[2]),
        ):
            relay.begin(worker.run, worker.work)
        assert relay.first() == "two"
        later = Worker("three more", 3, seconds[1])
        relay.begin(later.run, later.work)
        assert relay.running == 3
        assert [relay.first() for _ in range(3)] == ["five", "three more", "six"]
        assert relay.running == 0


def test_what_has_ended_is_not_kept_waiting_without_need() -> None:
    """A task that is known to work longer is not waited for."""
    go_on = Event()

    class Longer(Worker):
        def run(self) -> str:
            self.done = 3
            assert go_on.wait(LONG)
            return self.name

    with Relay[str](2, silent, Event()) as relay:
        longer, short = Longer("longer", 0), Worker("short", 2)
        relay.begin(longer.run, longer.work)
        relay.begin(short.run, short.work)
        assert relay.first() == "short"
        go_on.set()
        assert relay.first() == "longer"


@pytest.mark.parametrize("ticking", [False, True])
def test_what_a_task_of_a_relay_raises_halts_the_others(ticking: bool) -> None:
    """So does what the tick raises; all have ended when it arrives."""
    halt, ended = Event(), []

    def waiting() -> None:
        ended.append(halt.wait(LONG))

    def failing() -> None:
        if ticking:
            waiting()
        raise ZeroDivisionError

    def tick() -> None:
        if ticking:
            raise KeyboardInterrupt

    def both() -> None:
        with Relay[None](2, tick, halt) as relay:
            relay.begin(waiting, lambda: 0)
            relay.begin(failing, lambda: 0)
            relay.first()

    with pytest.raises(KeyboardInterrupt if ticking else ZeroDivisionError):
        both()
    assert ended
    assert all(ended)


def test_what_is_left_of_a_relay_is_halted() -> None:
    """Tasks not taken in are told to end, and have ended when it is left."""
    halt, ended = Event(), []
    with Relay[None](1, silent, halt) as relay:
        relay.begin(lambda: ended.append(halt.wait(LONG)), lambda: 0)
    assert ended == [True]
