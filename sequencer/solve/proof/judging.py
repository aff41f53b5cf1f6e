"""A small board on which forests are judged, from one end of a problem: by how far they lift its bound from nothing."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

from sequencer.solve.compiled import kernels
from sequencer.solve.compiled.layout import COUNT, OPENED
from sequencer.solve.proof.asking import Asking, found_room
from sequencer.solve.proof.ends import End
from sequencer.solve.proof.trees import Forest, Tree, dials_of
from sequencer.solve.proof.whole import put_whole

REOPENED = 10
"""States that may be opened for each one there is room for; they are opened more than once."""

BEHIND, START = 1.5, 0.2
"""A forest is given up where it has taken so many times the states that another one had when it got further, and this
part of the room besides.
"""


class Reach(NamedTuple):
    """How far a forest comes: the bound, counted from the root on, and the states it took, counted negative. The more,
    the better.
    """

    bound: int
    states: int


class Judge:
    """Where the forests of one end are judged. `work`: done in all, in states seen."""

    def __init__(self, end: End, limit: int, tick: Callable[[], None], most: int) -> None:
        """`limit`: only orders below it count; `most`: room for states there will ever be. Raises MemoryError."""
        self.work = 0
        self.asking = Asking(end.floor, limit, tick, lambda: None, most)
        self._joining = end.joining
        self._whole, self._guided = put_whole(self.asking.layout, self._joining)
        self._root = self.asking.layout.key(*end.floor.first().state)
        self._numbers: dict[tuple[int, ...], int] = {}

    def reach(self, forest: Forest, room: int, against: list[Reach] | None = None) -> list[Reach]:
        """How far a forest comes, bound by bound; it is given up where it falls far behind the way of another one."""
        asking, layout = self.asking, self.asking.layout
        layout.clear()
        kids = [self._put(tree) for tree in sorted(forest, key=lambda tree: len(dials_of(tree)))]
        layout.guide(self._guided, [kids])
        board, ints = layout.board, layout.board.ints
        root = found_room(kernels.entry(board, layout.at[self._whole], *self._root))
        way = [Reach(0, 0)]
        ahead = list(against or ())
        bound = 0  # in the kernels' unit
        while way[-1].bound < asking.limit:
            ahead = [other for other in ahead if other.bound > way[-1].bound]
            most = min(room, int(START * room - BEHIND * ahead[0].states)) if ahead else room
            left, effort = most - int(ints[COUNT]), REOPENED * room - int(ints[OPENED])
            if left <= 0 or effort <= 0:
                break
            try:
                got, _ = asking.call(kernels.ask, self._whole, root, bound + 1, effort=effort, room=left)
            except MemoryError:
                break
            if got <= bound:
                break
            bound = got
            way.append(Reach(min(bound * asking.unit, asking.limit), -int(ints[COUNT])))
        self.work += asking.work
        return way

    def _put(self, tree: Tree) -> int:
        """The number of a tree's pattern, guided as the tree says."""
        layout = self.asking.layout
        kids = [self._put(kid) for kid in tree] if isinstance(tree, tuple) else []
        dials = dials_of(tree)
        if dials not in self._numbers:
            parts = tuple(layout.patterns[kid] for kid in kids)
            self._numbers[dials] = layout.put(self._joining.pattern(dials, parts))
        if kids:
            layout.guide(self._numbers[dials], [kids])
        return self._numbers[dials]
