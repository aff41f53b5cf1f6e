"""Courses tried one after the other: trees of mergers to go by, and the end of the problem to begin from.

Which patterns guide the whole, which ones guide these in turn, and from which end the order is built, decides more than
anything else how much work a proof is. It shows early: what lifts the bound further with few states does so with a
hundred times as many. So a course is judged by searching the whole by it, from nothing, with room for few states: by
the bound it has come to when there is no room left, then by how soon it was there (`judging`). A course a little
different from the best one takes its place if it comes no less far (hill climbing, ties taken, but not to turn to the
other end). When there is more room, the best ones are judged anew.
"""

from __future__ import annotations

from collections.abc import Callable
from random import Random

from sequencer.solve.proof.ends import Ends
from sequencer.solve.proof.judging import Judge, Reach
from sequencer.solve.proof.trees import Course, by_station, changed

BEST = 5
"""Courses that are judged anew when there is more room."""

TURNED = 0.05
"""How often the change is to go by the same trees from the other end."""

VAIN = 200
"""Changes in a row that lead to no new course before no more are looked for."""


class Trials:
    """The best course known for a problem."""

    def __init__(
        self, ends: Ends, limit: int, tick: Callable[[], None], first: Course, most: int, seed: int
    ) -> None:
        """`limit`: only orders below it count; `first`: the course to begin with; `most`: room for states there will
        ever be. Raises MemoryError.
        """
        self._ends, self._limit, self._tick, self._most = ends, limit, tick, most
        self._judges: dict[bool, Judge] = {}
        self._judge(first.back)
        self._chance = Random(seed)
        self._room = 0
        begun = [Course(by_station(ends.front.floor)), first, self._turned(first)]
        self._best = [course for course in begun if course]  # once they are judged the best one is last
        self._way: list[Reach] = []  # of the best one
        self._seen: set[Course] = set()
        self._taken: tuple[Course, int] | None = None

    @property
    def work(self) -> int:
        """Work done so far, in states seen."""
        return sum(judge.work for judge in self._judges.values())

    def hear(self, tick: Callable[[], None]) -> None:
        """Ask this from now on whether to go on."""
        self._tick = tick
        for judge in self._judges.values():
            judge.asking.tick = tick

    def run(self, work: int, room: int, limit: int) -> None:
        """Try other courses until so much work is done, each with room for so many states; only orders below the limit
        count.
        """
        self._limit = limit
        for judge in self._judges.values():
            judge.asking.limit = limit
        until = self.work + work
        if room != self._room or not self._way:
            self._more(room)
        vain = 0
        while self.work < until and vain < VAIN and self._way[-1].bound < limit:
            course = self._changed(self._best[-1])
            vain = vain + 1 if course in self._seen else 0
            if not vain:
                self._try(course)

    def take(self) -> Course | None:
        """The course to go by: the one taken last, unless another one lifts the bound further; None before any is
        judged.
        """
        if self._way and (self._taken is None or self._way[-1].bound > self._taken[1]):
            self._taken = self._best[-1], self._way[-1].bound
        return self._taken[0] if self._taken else None

    def reach(self, course: Course, room: int, against: list[Reach] | None = None) -> list[Reach]:
        """How far a course comes, bound by bound; it is given up where it falls far behind the way of another one."""
        return self._judge(course.back).reach(course.forest, room, against)

    def _judge(self, back: bool) -> Judge:
        """Where courses from one end are judged."""
        if back not in self._judges:
            end = self._ends.back if back else self._ends.front
            assert end is not None
            self._judges[back] = Judge(end, self._limit, self._tick, self._most)
        return self._judges[back]

    def _changed(self, course: Course) -> Course:
        """Another course, a little different, as a rule."""
        if self._chance.random() < TURNED:
            return self._turned(course) or course
        return Course(changed(course.forest, self._chance), course.back)

    def _turned(self, course: Course) -> Course | None:
        """The same trees from the other end, if there is one, and memory for it."""
        if self._ends.back is None:
            return None
        try:
            self._judge(not course.back)
        except MemoryError:
            return None
        return Course(course.forest, not course.back)

    def _more(self, room: int) -> None:
        """Judge the best ones and the one taken anew, with so much room."""
        self._room = room
        best, self._best, self._way, self._seen = self._best, [], [], set()
        try:
            for course in best:
                self._try(course)
        except MemoryError:  # to be judged another time
            self._best, self._way = best, []
            raise
        if self._taken is not None:
            course, _ = self._taken
            self._taken = course, self.reach(course, room)[-1].bound

    def _try(self, course: Course) -> None:
        """Judge a course; it is the best one if it comes no less far, or from the other end lifts the bound further: to
        turn costs all that was learnt.
        """
        self._seen.add(course)
        way = self.reach(course, self._room, self._way)
        if self._way:
            best, turned = self._way[-1], course.back != self._best[-1].back
            if way[-1].bound <= best.bound if turned else way[-1] < best:
                return
        self._way = way
        self._best = [*self._best, course][-BEST:]
