"""Forests tried one after the other, each judged by how far it comes on a small board.

Which patterns guide the whole, and which ones guide these in turn, decides more than anything else how much work a
proof is. It shows early: what lifts the bound further with few states does so with a hundred times as many. So a forest
is judged by searching the whole with it, from nothing, with room for few states: by the bound it has come to when there
is no room left, then by how soon it was there. A forest a little different from the best one takes its place if it
comes no less far (hill climbing, ties taken). When there is more room, the best ones are judged anew.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from random import Random
from typing import NamedTuple

from sequencer.solve.asking import Asking, found_room
from sequencer.solve.compiled import kernels
from sequencer.solve.compiled.layout import COUNT, OPENED
from sequencer.solve.joining import Joining
from sequencer.solve.patterns import Wheel
from sequencer.solve.rules import put_whole
from sequencer.solve.trees import Forest, Tree, by_station, changed, dials_of

REOPENED = 10
"""States that may be opened in a trial for each one there is room for; they are opened more than once."""

BEST = 5
"""Forests that are judged anew when there is more room."""

BEHIND, START = 1.5, 0.2
"""A trial is given up where it has taken so many times the states that the best one had when it got further, and this
part of the room besides.
"""

VAIN = 200
"""Changes in a row that lead to no new forest before no more are looked for."""


class Reach(NamedTuple):
    """How far a forest comes: the bound in the kernels' unit, and the states it took, counted negative. The more, the
    better.
    """

    bound: int
    states: int


class Trials:
    """The best forest known for a floor."""

    def __init__(
        self, asking: Asking, wheels: list[Wheel], forests: Iterable[Forest], most: int, seed: int
    ) -> None:
        """`asking`: the board forests are looked for; `forests` to begin with; `most`: room for states there will ever
        be. Raises MemoryError.
        """
        floor = asking.floor
        self.work = 0
        self._asking = Asking(floor, asking.limit, asking.tick, lambda: None, most)
        self._joining = Joining(floor, wheels, asking.tick)
        self._whole, self._guided = put_whole(self._asking.layout, self._joining)
        self._root = self._asking.layout.key(*floor.first().state)
        self._numbers: dict[tuple[int, ...], int] = {}
        self._chance = Random(seed)
        self._room = 0
        self._best = [by_station(floor), *forests]  # the best one last
        self._way: list[Reach] = []  # of the best one
        self._seen: set[Forest] = set()
        self._taken: tuple[Forest, int] | None = None

    def hear(self, tick: Callable[[], None]) -> None:
        """Ask this from now on whether to go on."""
        self._asking.tick = tick

    def run(self, work: int, room: int, limit: int) -> None:
        """Try other forests until so much work is done, each with room for so many states; only orders below the limit
        count.
        """
        self._asking.limit = limit
        until = self.work + work
        if room != self._room or not self._way:
            self._more(room)
        vain = 0
        while self.work < until and vain < VAIN and self._way[-1].bound < self._asking.room:
            forest = changed(self._best[-1], self._chance)
            vain = vain + 1 if forest in self._seen else 0
            if not vain:
                self._try(forest)

    def take(self) -> Forest | None:
        """The forest to go by: the one taken last, unless another one lifts the bound further; None before any is
        judged.
        """
        if self._way and (self._taken is None or self._way[-1].bound > self._taken[1]):
            self._taken = self._best[-1], self._way[-1].bound
        return self._taken[0] if self._taken else None

    def reach(self, forest: Forest, room: int, against: list[Reach] | None = None) -> list[Reach]:
        """How far a forest comes, bound by bound; it is given up where it falls far behind the way of another one."""
        layout = self._asking.layout
        layout.clear()
        kids = [self._put(tree) for tree in sorted(forest, key=lambda tree: len(dials_of(tree)))]
        layout.guide(self._guided, [kids])
        board, ints = layout.board, layout.board.ints
        root = found_room(kernels.entry(board, layout.at[self._whole], *self._root))
        way = [Reach(0, 0)]
        ahead = list(against or ())
        while way[-1].bound < self._asking.room:
            bound = way[-1].bound
            ahead = [other for other in ahead if other.bound > bound]
            most = min(room, int(START * room - BEHIND * ahead[0].states)) if ahead else room
            left, effort = most - int(ints[COUNT]), REOPENED * room - int(ints[OPENED])
            if left <= 0 or effort <= 0:
                break
            try:
                got, _ = self._asking.call(
                    kernels.ask, self._whole, root, bound + 1, effort=effort, room=left
                )
            except MemoryError:
                break
            if got <= bound:
                break
            way.append(Reach(got, -int(ints[COUNT])))
        self.work += self._asking.work
        return way

    def _more(self, room: int) -> None:
        """Judge the best ones and the one taken anew, with so much room."""
        self._room = room
        best, self._best, self._way, self._seen = self._best, [], [], set()
        try:
            for forest in best:
                self._try(forest)
        except MemoryError:  # to be judged another time
            self._best, self._way = best, []
            raise
        if self._taken is not None:
            forest, _ = self._taken
            self._taken = forest, self.reach(forest, room)[-1].bound

    def _try(self, forest: Forest) -> None:
        """Judge a forest; it is the best one if it comes no less far."""
        self._seen.add(forest)
        way = self.reach(forest, self._room, self._way)
        if not self._way or way[-1] >= self._way[-1]:
            self._way = way
            self._best = [*self._best, forest][-BEST:]

    def _put(self, tree: Tree) -> int:
        """The number of a tree's pattern, guided as the tree says."""
        layout = self._asking.layout
        kids = [self._put(kid) for kid in tree] if isinstance(tree, tuple) else []
        dials = dials_of(tree)
        if dials not in self._numbers:
            parts = tuple(layout.patterns[kid] for kid in kids)
            self._numbers[dials] = layout.put(self._joining.pattern(dials, parts))
        if kids:
            layout.guide(self._numbers[dials], [kids])
        return self._numbers[dials]
