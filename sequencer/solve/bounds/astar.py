"""Exact best-first search over the floor, guided by patterns.

A* (`patterns`) with the sum of the patterns' bounds as its estimate. States enter the queue with what their parent
already knew and are evaluated only when they come to the front; each pattern is asked only for what would push the
state back (lazy and partial evaluation, as in lazy A*). The least f in the queue is at every moment a proven lower
bound of the whole.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from heapq import heappop, heappush

from sequencer.solve.bounds.patterns import Pattern
from sequencer.solve.clock import ENDLESS
from sequencer.solve.problem import FAR
from sequencer.solve.transitions.floor import Floor, State, Step

MOST_STATES = 800_000
"""States it may see at most, for they take memory."""


@dataclass
class Found:
    """A complete order of items found, and its cost."""

    cost: int
    items: tuple[int, ...]


class Guide:
    """The sum of patterns on disjoint dials, as an estimate of the rest cost of a state."""

    def __init__(self, patterns: list[Pattern]) -> None:
        self.patterns = patterns

    def rest(self, state: State, ask: int = FAR) -> int:
        """The bounds of all patterns in full, or with an `ask` of 0 those known without search."""
        rest, values = state
        return sum(pattern.bound(pattern.project(rest, values), ask) for pattern in self.patterns)

    @property
    def opened(self) -> int:
        """States all patterns have opened so far."""
        return sum(pattern.opened for pattern in self.patterns)

    def estimate(self, state: State, ask: int) -> int:
        """A lower bound of the rest cost in this state; no pattern works longer than until the sum reaches
        `ask`.
        """
        rest, values = state
        keys = [pattern.project(rest, values) for pattern in self.patterns]
        known = [pattern.known(key) for pattern, key in zip(self.patterns, keys, strict=True)]
        total = sum(known)
        for pattern, key, had in zip(self.patterns, keys, known, strict=True):
            if total >= ask:
                break
            total += pattern.bound(key, ask - total + had) - had
        return total


@dataclass
class BestFirst:
    """The search: `bound` is proven at any time; `run` ends when `best` is proven or nothing is left."""

    floor: Floor
    guide: Guide
    tick: Callable[[], None]
    best: Found | None
    news: Callable[[int], None]
    bound: int = 0
    effort: int = ENDLESS
    spent: bool = False
    expanded: int = 0
    parents: dict[State, tuple[State | None, tuple[int, ...]]] = field(default_factory=dict)

    def run(self) -> None:
        """Search until the best plan is proven (`bound` equals its cost), no plan can exist (`best` stays
        None), or it and its patterns have opened `effort` states. Raises MemoryError beyond MOST_STATES.
        """
        root: Step = self.floor.first()
        limit = self.guide.opened + self.effort
        depth: dict[State, int] = {root.state: root.cost}
        closed: dict[State, int] = {}
        self.parents[root.state] = (None, root.made)
        self.bound = max(self.bound, root.cost)
        heap: list[tuple[int, int, int, State, bool]] = [(self.bound, -root.cost, 0, root.state, False)]
        count = 0
        while heap:
            f, minus, _, state, checked = heap[0]
            g = -minus
            if g > depth[state] or closed.get(state, FAR) <= g:
                heappop(heap)
                continue
            if f > self.bound:
                self.bound = f
                self.news(f)
            if self.best is not None and f >= self.best.cost:
                return
            self.tick()
            if self.guide.opened + self.expanded > limit:
                self.spent = True
                return
            if not state[0]:
                self.best = Found(g, self._items(state))
                return
            if not checked:
                value = self.guide.estimate(
                    state, f - g + 1
                )  # may stop the work: the state is still in the queue
                heappop(heap)
                if g + value > f:
                    if value < FAR and (self.best is None or g + value < self.best.cost):
                        count += 1
                        heappush(heap, (g + value, minus, count, state, True))
                    continue
            else:
                heappop(heap)
            closed[state] = g
            self.expanded += 1
            for step in self.floor.steps(state):
                deeper = g + step.cost
                if deeper < depth.get(step.state, FAR) and (self.best is None or deeper < self.best.cost):
                    depth[step.state] = deeper
                    self.parents[step.state] = (state, step.made)
                    count += 1
                    heappush(heap, (max(f, deeper), -deeper, count, step.state, False))
            if len(depth) > MOST_STATES:
                raise MemoryError
        if self.best is not None:
            self.bound = self.best.cost

    def _items(self, state: State) -> tuple[int, ...]:
        """The items made on the way to a state."""
        chain = []
        at: State | None = state
        while at is not None:
            at, made = self.parents[at]
            chain.append(made)
        return tuple(item for made in reversed(chain) for item in made)
