"""Questions to the kernels, put so that the clock is heard while they are answered."""

from __future__ import annotations

from collections.abc import Callable
from threading import Thread

from sequencer.solve.clock import ENDLESS
from sequencer.solve.compiled.layout import (
    COUNT,
    ENTRIES,
    FULL,
    LIMIT,
    NEWS,
    OPENED,
    ROOM,
    STATE,
    STOP,
    WELL,
    Layout,
)
from sequencer.solve.proof.scale import unit
from sequencer.solve.transitions.floor import Floor

Kernel = Callable[..., int]
"""What a kernel is to its caller: board, pattern and more whole numbers to a whole number."""

OPENINGS = 10
"""Opening so many states takes about as long as seeing one for the first time."""

DIRECT = 4_000_000
"""States opened times lots up to which nobody minds waiting."""


class Asking:
    """The board of one floor, and the two numbers that end a search: what no order costs less than (`bound`, told
    whenever it grows) and what only orders below count (`limit`); both counted from the root on.
    """

    def __init__(
        self,
        floor: Floor,
        limit: int,
        tick: Callable[[], None],
        told: Callable[[], None],
        entries: int = ENTRIES,
    ) -> None:
        """`entries`: states there is room for, at most."""
        self.floor, self.limit, self.tick, self.told = floor, limit, tick, told
        self.unit = unit(floor)
        self.layout = Layout(floor, self.unit, entries)
        self.bound = self.spent = 0

    @property
    def closed(self) -> bool:
        """Whether no order costs less than the limit."""
        return self.bound >= self.limit

    @property
    def room(self) -> int:
        """The limit in the kernels' unit."""
        return -(-self.limit // self.unit)

    @property
    def work(self) -> int:
        """Work done so far, in states seen, what was `spent` before among it; those opened count by the time they
        take.
        """
        ints = self.layout.board.ints
        return self.spent + int(ints[COUNT] + ints[OPENED] // OPENINGS)

    def lift(self, bound: int) -> None:
        """A bound, in the kernels' unit."""
        bound = min(bound * self.unit, self.limit)
        if bound > self.bound:
            self.bound = bound
            self.told()

    def call(
        self,
        kernel: Kernel,
        number: int,
        *arguments: int,
        effort: int,
        room: int = ENTRIES,
        lifts: bool = False,
    ) -> tuple[int, int]:
        """What a kernel answers, and its state afterwards. `effort` is how many states may be opened, `room` how many
        may be seen for the first time. A long one runs beside, so that the clock is heard; `lifts`:
        its news are bounds. Raises MemoryError.
        """
        board, at = self.layout.board, self.layout.at[number]
        ints = board.ints
        if effort >= ENDLESS:  # most of these are short: a thread would take longer than the answer
            got, state = self.call(kernel, number, *arguments, effort=DIRECT // self.floor.count)
            if state == WELL:
                return got, state
        ints[LIMIT], ints[STATE], ints[STOP] = min(ints[OPENED] + effort, 2 * ENDLESS), WELL, 0
        ints[ROOM] = ints[COUNT] + room
        if int(effort) * self.floor.count <= DIRECT:
            got = kernel(board, at, *arguments)
            if ints[STATE] == FULL:
                raise MemoryError
            self.tick()
            return got, int(ints[STATE])
        answer: list[int] = []
        ints[NEWS] = 0
        beside = Thread(target=lambda: answer.append(kernel(board, at, *arguments)), daemon=True)
        try:
            beside.start()
            beside.join(0.03)
            while beside.is_alive():
                self.tick()
                if lifts:
                    self.lift(int(min(ints[NEWS], self.room)))
                beside.join(0.03)
        finally:
            ints[STOP] = 1
            beside.join()
        if ints[STATE] == FULL:
            raise MemoryError
        return answer[0], int(ints[STATE])


def found_room(entry: int) -> int:
    """The entry, if there was room for it. Raises MemoryError."""
    if entry < 0:
        raise MemoryError
    return int(entry)
