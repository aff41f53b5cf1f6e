"""Tasks run side by side, each in a thread of its own: kernels let the others run while they compute.

The caller's thread waits and hears clock, hand and news meanwhile, so what is the caller's own need not be safe among
threads, and an interrupt from the keyboard is delivered where it can be heard.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import FIRST_EXCEPTION, ThreadPoolExecutor, wait
from threading import Event
from typing import TypeVar

_Result = TypeVar("_Result")

PAUSE = 0.03
"""Seconds between two ticks."""


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
