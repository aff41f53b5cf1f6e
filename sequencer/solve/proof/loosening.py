"""Better plans by keeping part of one and solving all else anew, exactly (large neighbourhood search; Shaw, 1998; from
memory).

What changes of a turn or two do not better any more often betters a lot where much is changed at once. So the order of
some lots is kept as the plan has it, of those that name some dial or are made at some station, and all else is free.
The kept order is told as precedence; then lots are covered by others, patterns have few states, and the search is soon
through: it finds the cheapest such order, or that there is none cheaper than the plan, where its effort is enough. It
goes by trees that serve the problem itself. How much is kept follows from that: less where the last search has shown
that there is none, more where its effort was not enough.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from itertools import accumulate, groupby, pairwise
from random import Random

from sequencer.solve.bounds.astar import Found
from sequencer.solve.bounds.wheels import ease
from sequencer.solve.price import is_order, price
from sequencer.solve.problem import Impossible
from sequencer.solve.proof.asking import Asking
from sequencer.solve.proof.ends import Ends
from sequencer.solve.proof.guided import SEARCH, SEEN, Guided
from sequencer.solve.proof.known import named, numbered
from sequencer.solve.proof.scale import compiles
from sequencer.solve.proof.trees import Course
from sequencer.solve.reduction.reduce import Order, reduce
from sequencer.solve.relation import relation_of
from sequencer.solve.transitions.floor import Floor

EFFORTS = 2_000, 4_000
"""Of the rounds of one search (`guided`)."""

ROOM = int(1.5 * SEEN * SEARCH * sum(EFFORTS))
"""States there is room for in one search."""

LAYING = 60
"""What laying a problem out takes, in states seen for each lot."""

KEPT = 2.0
"""Of how many dials and stations the order is kept at first."""

LESS, MORE = 0.1, 0.2
"""How many less are kept after a search that found nothing to its end, and how many more after one cut short."""


class Loosening:
    """Searches for better plans of one floor; `tick` is asked whether to go on, and may raise."""

    def __init__(self, floor: Floor, tick: Callable[[], None], seed: int) -> None:
        self.tick = tick
        self._floor = floor
        self._chance = Random(seed)
        self._spent = 0
        self._asking: Asking | None = None
        lots = floor.problem.lots
        naming = [{n for n, lot in enumerate(lots) if d in lot.needs} for d in range(floor.walking)]
        made = [{n for n, lot in enumerate(lots) if lot.station == s} for s in range(len(floor.problem.walk))]
        self._sets = [found for found in (*naming, *made) if len(found) > 1]
        self.kept = min(KEPT, float(len(self._sets)))
        self.least = None if lots else 0  # what no order costs less than, once that is known

    @property
    def work(self) -> int:
        """Work done so far, in states seen."""
        spent, asking = self._spent, self._asking  # in this order, once: another thread may set them
        return spent + (asking.work if asking else 0)

    def better(self, plan: Found, course: Course) -> Found | None:
        """A plan cheaper than this one, if one more search finds any; `course`: what to go by. How much is kept the
        next time follows from how it ended.
        """
        floor = self._floor
        self._spent += LAYING * floor.count
        self.tick()
        pairs = self.pairs(tuple(floor.lot_of[item] for item in plan.items))
        tied = replace(floor.problem, precedence=(*floor.problem.precedence, *pairs))
        problem, undo = reduce(tied)
        relation = relation_of(problem)
        assert not isinstance(relation, Impossible), "the plan itself is such an order"
        smaller = Floor(problem, relation)
        found, closed = None, False
        if compiles(smaller):
            found, closed = self._search(smaller, plan.cost, numbered(smaller, named(floor, course)))
        if found is not None:
            order, _ = undo(found, ())
            priced = price(floor.problem, order)
            if priced is None or priced.cost >= plan.cost or not is_order(floor.problem, order, ()):
                return None  # nothing is taken on trust
            return Found(priced.cost, tuple(floor.item_of[lot] for lot in order))
        if closed and not pairs:
            self.least = plan.cost
        self.kept += -LESS if closed else MORE
        self.kept = min(max(0.0, self.kept), float(len(self._sets)))
        return None

    def pairs(self, order: Order) -> set[tuple[int, int]]:
        """What is kept of a plan, drawn by lot: pairs (before, after) from one turn to the next one with such lots."""
        whole = int(self.kept)
        turns = self._turns(order)
        pairs: set[tuple[int, int]] = set()
        for k, lots in enumerate(self._chance.sample(self._sets, min(len(self._sets), whole + 1))):
            runs = [
                list(run)
                for _, run in groupby((lot for lot in order if lot in lots), key=lambda lot: turns[lot])
            ]
            if k == whole:  # a stretch of the last one
                length = round((self.kept - whole) * len(runs))
                begin = self._chance.randint(0, len(runs) - length)
                runs = runs[begin : begin + length]
            pairs.update((a, b) for one, other in pairwise(runs) for a in one for b in other)
        return pairs

    def _turns(self, order: Order) -> dict[int, int]:
        """Which turn of a plan each lot is made in: one begins where something is moved, or a walk costs something."""
        priced = price(self._floor.problem, order)
        assert priced is not None, "a plan is legal"
        begun = (bool(moves) or walk > 0 for moves, walk in zip(priced.moves, priced.walks, strict=True))
        return dict(zip(order, accumulate(begun), strict=True))

    def _search(self, floor: Floor, cost: int, course: Course | None) -> tuple[Order | None, bool]:
        """The cheapest order of a floor, if one below this cost was found; whether the search came to an end."""
        ends = Ends(floor, [ease(floor, d) for d in range(len(floor.knobs))])
        end = (ends.back if course and course.back else None) or ends.front
        try:
            limit = cost - floor.first().cost
            self._asking = asking = Asking(end.floor, limit, self.tick, lambda: None, ROOM)
            guided = Guided(asking, end, None, course.forest if course else None)
            guided.tell()
            for effort in EFFORTS:
                items = None if asking.closed else guided.round(effort)
                if items is not None:
                    return end.order((*end.floor.first().made, *items)), True
            return None, asking.closed
        except MemoryError:
            return None, False
        finally:
            self._asking, self._spent = None, self.work  # in this order: never told too much
