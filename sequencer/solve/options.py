"""Choices decided by branch and bound: which way each thing is made, and in what order, proven together.

A node allows some options of each choice. Its bound is the exact cost of its outline (`outline`): the problem
without choices in which stand-ins keep the place of what is still open. The engine for problems without
choices solves it in rounds, stopped as soon as it cannot beat the best plan: one round at each look, gone on
with at the next, so that the effort goes where the bound is least and does not depend on the clock. Where the
order found pleases some option of every open choice at no extra cost, the node is settled: choices that do
not matter are never enumerated. Otherwise that order, completed by the options it suits best, is a plan, and
the node is split at the choice that adds most to its cost, one option against the others. Nodes of least
bound come first (best-first branch and bound; Land and Doig, 1960), so the least bound of those left is at
every moment a bound of the whole.

Good orders come first: those of outlines, improved for a moment, are what the engine has to beat; the best plan is
improved, options and all (`improve`), whenever there is a new one, and where the search is a long one its order alone,
too (`reordering`).

Two nodes are looked at at a time, those of least bound, and beside them the best plan is improved a portion at a time,
more where a look is a long one; each in a thread of its own. What ends first is taken in, and the next task begins from
the best plan of that time. What ends first is told by the work done (`Relay`), so neither threads nor the number of
cores change the course of the search.

An outline differs little from that of the node it comes from, so its engine goes by the trees of mergers that guided
that one at last.

A bound is the work of the cheapest options allowed and the *rest*, what moves, walks and wishes cost at least. The
rest proven for a node holds for all that is left of it, so an option that costs too much work besides falls away
without being looked at.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import partial
from heapq import heappop, heappush
from threading import Event
from time import monotonic
from typing import TYPE_CHECKING, Protocol

from sequencer.solve.abreast import Relay
from sequencer.solve.completion import Completion, Plan
from sequencer.solve.known import UNCHARTED, UNKNOWN, Known, NamedCourse
from sequencer.solve.outline import Allowed, Outline, outline
from sequencer.solve.patterns import FAR
from sequencer.solve.problem import Impossible, Limits, Outcome, Problem, Progress, Reason
from sequencer.solve.reduce import Undo, reduce
from sequencer.solve.relation import bits

if TYPE_CHECKING:
    from sequencer.solve.improve import Improver
    from sequencer.solve.reordering import Reordering


class Looking(Protocol):
    """An engine at work on one problem, as far as it has got."""

    @property
    def course(self) -> NamedCourse:
        """What it goes by."""

    @property
    def work(self) -> int:
        """Work done so far, in states seen."""

    def look(self, rounds: int, seconds: float, ceiling: int, moves: int) -> Outcome | Impossible:
        """What so many rounds bring, all looks counted, or so many seconds where there are no rounds; it also ends once
        no order costs less than the ceiling. `moves`: what the first round spends on better orders.
        """

    def reasons(self, bound: int) -> tuple[Reason, ...]:
        """Why no order costs less than this bound, which it has proven."""


Beginning = Callable[
    [Problem, Limits, Callable[[Progress], None], Callable[[], bool], Known, bool], Looking | Impossible
]
"""An engine that begins with a problem, and what is known of it, and waits to be told how far to look; the last says
whether it should spare what is slow to load.
"""

SLICE = 0.04
"""The part of the time a node gets at first for what is done before the engine's rounds (in plain Python: all there
is); four times as much each time it is looked at again.
"""

LEAST_SLICE = 0.3
"""Seconds a node gets at least for that."""

LOOKS = 3
"""How often a node is looked at in vain, a round each time, before it is split without its outline being proven: the
root once more (what it proves holds for all), and any once less where an order of the outline is cheaper than the best
plan, so that no proof can close it.
"""

KEPT = 6
"""Outlines half solved that are kept, those of least bound; others begin anew if they are looked at again. Each takes
memory.
"""

LARGE = 1
"""Those of them kept that were looked at more often than nodes that are split: each round takes four times the memory
of the one before, and beginning anew only a third of the next round.
"""

FEW = 24
"""Lots up to which plans come from the outlines alone, and one node is looked at at a time: all is done in plain
Python, where threads only wait for each other, as long as that is enough for each outline.
"""

ABREAST = 2
"""Nodes looked at at a time beyond that, whatever the number of cores; the plan is improved beside them."""

PREPARED, CHANGED = 12_000, 2
"""Work, in states seen, that takes as long as what comes before an engine's rounds, and as one move of a plan (`climb`
counts it so, too).
"""

ENOUGH = 60_000
"""Moves a plan is improved by before it is left alone, until it is begun with anew."""

SKETCH = 5_000
"""Moves the first order of an outline is improved by."""

MOVES = 1_000
"""Moves the engine improves an outline's order by in the first round, for it has been sketched."""

PORTION, LONGER = 16_000, 4
"""Moves at a time beside the first look at a node; so many times as many beside each further one, which takes so much
longer.
"""

LONG, LATER = 12, 1.5
"""Looks after which the best plan is reordered for the first time, and by how much they grow until the next time."""

REORDERED = 600
"""States for each lot after which no further search begins in that."""

MOST = 0.35
"""The most of the time left that the root gets for what is done before the engine's rounds, so that large problems get
better plans too.
"""


@dataclass(eq=False)
class Study:
    """An outline half solved: made smaller, the way back, the engine at work and the bound it has told."""

    seen: Outline
    undo: Undo
    engine: Looking = field(init=False)
    bound: int = 0

    def hear(self, news: Progress) -> None:
        """Note what the engine tells."""
        bound = news.bound if news.best is None else min(news.bound, news.best)
        self.bound = max(self.bound, bound + self.seen.least)


@dataclass(order=True)
class Node:
    """Options still allowed, and what an order costs besides its work at least. `looked` counts how often it was
    solved without being settled; `blind`: the last time no order was seen at all; `course`: what
    the engine went by in the node it comes from, or the last time.
    """

    bound: int
    open: int
    number: int
    allowed: Allowed
    rest: int
    looked: int = 0
    blind: bool = False
    study: Study | None = field(default=None, compare=False)
    course: NamedCourse = field(default=UNCHARTED, compare=False)

    def working(self) -> Callable[[], int]:
        """What says how much work is done from now on, in states seen."""
        had = self.study
        before = had.engine.work if had else 0

        def done() -> int:
            study = self.study
            if study is None:
                return 0
            return study.engine.work - before + (0 if had else PREPARED)

        return done


def branch_and_bound(
    problem: Problem,
    limits: Limits,
    progress: Callable[[Progress], None],
    stop: Callable[[], bool],
    engine: Beginning,
) -> Outcome | Impossible:
    """The cheapest order under any options, proven unless the limits or `stop` end it earlier.

    `engine` is asked only about problems without choices.
    """
    return _Branching(problem, limits, progress, stop, engine).run()


class _Branching:
    """One search: the best plan so far and the nodes left."""

    def __init__(
        self,
        problem: Problem,
        limits: Limits,
        progress: Callable[[Progress], None],
        stop: Callable[[], bool],
        engine: Beginning,
    ) -> None:
        self.problem, self.limits, self.progress = problem, limits, progress
        self.engine = engine
        self.small = len(problem.lots) <= FEW  # until an outline needs what is compiled
        self.root = tuple((1 << len(choice)) - 1 for choice in problem.choices)
        self.begun = monotonic()
        self.stopped = False
        self.ask = stop
        self.halt = Event()  # what is done side by side hears this only, for `stop` is for one thread
        self.best: Plan | None = None
        self.better: Plan | None = None  # found meanwhile, not yet taken for the best
        self.impossible: Impossible | None = None
        self.reasons: tuple[Reason, ...] = ()
        self.nodes: list[Node] = []
        self.hand: list[Node] = []
        self.told: tuple[int | None, int] | None = None
        self.looks = self.rounds = 0
        self.source: Plan | None = None  # what better plans are looked for from, or were the last time
        self.improver: Improver | None = None
        self.reordering: Reordering | None = None  # if that is the portion at work
        self.reordered = LONG  # looks from which on that is due
        self.course = UNCHARTED  # what the last outline taken in was guided by
        self.moved = 0  # moves of the portion at work, where it is annealed
        self.portion = 0  # how many it is to have, or states where it is reordered; none while there is none
        self.due = False
        self.works = [
            [sum(problem.lots[lot].work for lot in option) for option in choice] for choice in problem.choices
        ]
        optional = frozenset().union(*(option for choice in problem.choices for option in choice))
        self.always = sum(lot.work for n, lot in enumerate(problem.lots) if n not in optional)
        self.count = -1
        self.work = 0

    def run(self) -> Outcome | Impossible:
        """Split and settle nodes until none can beat the best plan."""
        self._start()
        self._push(self.root, 0)
        self._tell()
        with Relay[Callable[[], None]](ABREAST + 1, self._hear, self.halt) as relay:
            while not self._over():
                self._begin(relay, 1 if self.small else ABREAST)
                if self._settled():
                    break
                relay.first()()
            else:
                while relay.running:  # what was found until then
                    relay.first()()
        return self._outcome()

    def _begin(self, relay: Relay[Callable[[], None]], most: int) -> None:
        """Let so many nodes be looked at, those of least bound, and the best plan be improved, if it can be."""
        while self.nodes and len(self.hand) < most:
            node = heappop(self.nodes)
            if self.best is not None and node.bound >= self.best[0]:
                self.nodes.clear()  # no other is less
            else:
                self.hand.append(node)
                # a ceiling met before any order is seen would hide whether there is one
                ceiling = None if self.best is None or node.blind else self.best[0]
                relay.begin(partial(self._look, node, ceiling), node.working())
        if self.hand and self._improvable():
            self._begin_improving()
            relay.begin(self._improve, self._moved)

    def _settled(self) -> bool:
        """Whether no node is left that a better plan could come from."""
        return not self.nodes and all(self.best and node.bound >= self.best[0] for node in self.hand)

    def _start(self) -> None:
        """A quick plan, so that there is one at any time."""
        from sequencer.solve.greedy import quick_plan

        quick = quick_plan(self.problem)
        if quick is not None:
            self.best = (quick.cost, quick.order, quick.options)

    @property
    def seconds(self) -> float:
        """Since the search began."""
        return monotonic() - self.begun

    def _over(self) -> bool:
        """Whether to go on no further; asks `stop`."""
        if not self.stopped and self.ask():
            self.stopped = True
            self.halt.set()
        return self._ended()

    def _ended(self) -> bool:
        """The same for what is done side by side."""
        return self.halt.is_set() or self.seconds >= self.limits.seconds

    def _hear(self) -> None:
        """What there is to hear and to tell while others work."""
        self._over()
        self._tell()

    def _push(
        self,
        allowed: Allowed,
        rest: int,
        before: Node | None = None,
        blind: bool = False,
        course: NamedCourse = UNCHARTED,
    ) -> None:
        """A node to be looked at; `before`: the same when it was last looked at."""
        wider, allowed = allowed, self._left(allowed, rest)
        bound = rest + self._work(allowed)
        if self.best is not None and bound >= self.best[0]:
            return
        self.count += 1
        undecided = sum(mask & (mask - 1) != 0 for mask in allowed)
        looked = before.looked + 1 if before else 0
        study = before.study if before and allowed == wider and not blind else None
        heappush(self.nodes, Node(bound, undecided, self.count, allowed, rest, looked, blind, study, course))
        kept = [node for node in self.nodes if node.study]
        for studied, most in ((kept, KEPT), ([node for node in kept if node.looked > LOOKS + 1], LARGE)):
            if len(studied) > most:
                max(studied).study = None

    def _work(self, allowed: Allowed) -> int:
        """The work of the options allowed that are least work."""
        return self.always + sum(
            min(works[o] for o in bits(mask)) for works, mask in zip(self.works, allowed, strict=True)
        )

    def _left(self, allowed: Allowed, rest: int) -> Allowed:
        """The options whose work leaves room for a better plan, those of least work among them anyhow."""
        if self.best is None:
            return allowed
        room = self.best[0] - rest - self._work(allowed)
        left = []
        for works, mask in zip(self.works, allowed, strict=True):
            least = min(works[o] for o in bits(mask))
            left.append(sum(1 << o for o in bits(mask) if works[o] == least or works[o] - least < room))
        return tuple(left)

    def _bound(self) -> int:
        """What no order costs less than: the least bound of the nodes left and of those in hand."""
        hand = [max(node.bound, node.study.bound if node.study else 0) for node in self.hand]
        bound = min(hand, default=FAR)
        bound = min(bound, self.nodes[0].bound if self.nodes else FAR)
        return bound if self.best is None else min(bound, self.best[0])

    def _look(self, node: Node, ceiling: int | None) -> Callable[[], None]:
        """Solve a node's outline; what is then to be done with what was found."""
        return partial(self._take, node, self._solve(node, ceiling))

    def _take(self, node: Node, found: Outcome | Impossible | None) -> None:
        """What was found for a node: settle it, split it, or put it back to be given more time."""
        self.hand.remove(node)
        self.small = self.small and not (node.study and node.study.engine.work)
        if isinstance(found, Impossible):
            self.impossible = self.impossible or found
            return
        if found is None or node.study is None:
            self._push(node.allowed, node.rest, node, blind=True, course=node.course)
            return
        seen = node.study.seen
        work = seen.least + sum(lot.work for lot in seen.problem.lots)
        rest = max(node.rest, found.bound + seen.least - work)
        bound = rest + work
        if node.allowed == self.root:
            self.reasons, self.work = node.study.engine.reasons(found.bound), work
        completion = Completion(self.problem, node.allowed, seen, found.order)
        if self.best is None or found.cost + seen.least < self.best[0]:
            plan = completion.plan(self._over)
            if plan is not None and (self.best is None or plan[0] < self.best[0]):
                self.best = plan
        if self.best is None or bound < self.best[0]:
            self.looks += 1
            self.due = self.due or not self.looks & (self.looks - 1)
            closes = self.best is not None and found.cost + seen.least >= self.best[0]
            self._split(node, found.proven, closes, rest, completion)
        self._tell()

    def _split(self, node: Node, proven: bool, closes: bool, rest: int, completion: Completion) -> None:
        """The nodes left of one that was looked at; `proven`: whether its outline is; `closes`: whether a proof would
        leave none.
        """
        self.course = course = node.study.engine.course if node.study else node.course
        patient = node.looked + 1 < LOOKS - (not closes) + (node.allowed == self.root)
        branch = completion.branch() if (proven or not patient) and not self._over() else None
        if branch is not None:
            choice, option = branch
            one = 1 << option
            for mask in (one, node.allowed[choice] & ~one):
                self._push((*node.allowed[:choice], mask, *node.allowed[choice + 1 :]), rest, course=course)
        elif not proven or self._over():
            self._push(node.allowed, rest, node, course=course)

    def _annealable(self) -> bool:
        """Whether the best plan is to be improved, options and all: where it is a new one, or too little was done for
        the last one, and after 1, 2, 4, 8 ... looks.
        """
        left = self.improver is not None and self.improver.moves < ENOUGH
        return self.due or left or self.source != self.best

    def _improvable(self) -> bool:
        """Whether a better plan is to be looked for."""
        wanted = self._annealable() or self.looks >= self.reordered
        return wanted and self.best is not None and not self.small and not self.portion

    def _begin_improving(self) -> None:
        """Begin to look for better plans, from the best one; or go on, by another portion, where that is not yet enough
        and none that is better came from elsewhere.
        """
        assert self.best is not None
        if not self._annealable():
            from sequencer.solve.reordering import Reordering  # compiled code is slow to load

            self.reordered = int(LATER * self.looks) + 1
            self.portion = REORDERED * len(self.problem.lots)
            self.reordering = Reordering(self.problem, self.best, self.course, self.looks)
            return
        from sequencer.solve.improve import begun  # compiled code is slow to load

        self.moved = 0
        self.portion = PORTION * LONGER ** max((min(node.looked, LOOKS) for node in self.hand), default=0)
        improver = self.improver
        if improver is None or improver.moves >= ENOUGH or self.best[0] < improver.cost:
            self.improver = begun(self.problem, self.best[1], self.best[2], self.rounds)
            self.source, self.due = self.best, False
            self.rounds += 1

    def _moved(self) -> int:
        """The work done in this portion, in states seen."""
        return self.reordering.work if self.reordering else CHANGED * self.moved

    def _improve(self) -> Callable[[], None]:
        """A portion of the search for better plans; what is then to be done."""
        from sequencer.solve.improve import SLICE  # compiled code is slow to load

        improver = self.improver
        if self.reordering:
            self.reordering.run(self.portion, self._ended)
            self.better = self.reordering.plan
        elif improver is not None:
            until = min(ENOUGH, improver.moves + self.portion)
            while improver.moves < until and not self._ended():
                improver.run(SLICE)
                self.moved += SLICE
                self.better = improver.cost, improver.best, improver.options
        return self._take_better

    def _take_better(self) -> None:
        """Take the better plan, if it is one; the portion is done. What was reordered may be annealed again."""
        self.portion = 0
        if self.better is not None and (self.best is None or self.better[0] < self.best[0]):
            self.best = self.better
            if not self.reordering:
                self.source = self.best
        self.reordering = None

    def _solve(self, node: Node, ceiling: int | None) -> Outcome | Impossible | None:
        """What one more look at a node's outline shows; None if it found no order in time. Only plans below the ceiling
        count, if there is one.
        """
        if node.study is None:
            study = self._studied(node)
            if isinstance(study, Impossible):
                return study
            node.study = study
        study = node.study
        below = FAR if ceiling is None else ceiling - study.seen.least
        left = self.limits.seconds - self.seconds
        share = max(LEAST_SLICE, SLICE * self.limits.seconds) * 4 ** min(node.looked, 9)
        if node.allowed == self.root:
            share = min(share, max(LEAST_SLICE, MOST * left))
        found = study.engine.look(node.looked + 1, max(0.01, min(left, share)), below, MOVES)
        if isinstance(found, Impossible):
            return None if "in the time given" in found.why else Impossible(found.why)
        return replace(found, order=study.undo(found.order, ())[0])

    def _studied(self, node: Node) -> Study | Impossible:
        """A node's outline, not yet looked at."""
        seen = outline(self.problem, node.allowed)
        if isinstance(seen, Impossible):
            named = node.allowed == self.root  # else it may not be the only reason
            return seen if named else Impossible(seen.why)
        smaller, undo = reduce(seen.problem)
        study = Study(seen, undo)
        left = replace(self.limits, seconds=max(0.01, self.limits.seconds - self.seconds))
        known = replace(self._sketch(smaller), course=node.course)
        engine = self.engine(smaller, left, study.hear, self.halt.is_set, known, self.small)
        if isinstance(engine, Impossible):
            return Impossible(engine.why)
        study.engine = engine
        return study

    def _sketch(self, outlined: Problem) -> Known:
        """A good order of an outline, for the engine to beat."""
        if self.small or self._ended():
            return UNKNOWN
        from sequencer.solve.improve import improve  # compiled code is slow to load
        from sequencer.solve.quick import dived

        quick = dived(outlined, self._ended)
        if quick is None:
            return UNKNOWN
        order, _, cost = improve(outlined, quick.order, (), SKETCH, 0, self._ended, patient=False)
        return Known(order, cost)

    def _tell(self) -> None:
        """News, where there are any."""
        plans = [plan[0] for plan in (self.best, self.better) if plan]
        news = min(plans, default=None), self._bound()
        if news != self.told:
            self.told = news
            self.progress(Progress(self.seconds, *news, "choices"))

    def _outcome(self) -> Outcome | Impossible:
        if self.best is None:
            found = self.impossible or Impossible("no order was found")
            return Impossible("no order was found in the time given") if self.nodes else found
        cost, order, options = self.best
        bound = min(cost, self._bound())
        return Outcome(
            order=order,
            options=options,
            cost=cost,
            bound=bound,
            seconds=self.seconds,
            engine="search, choices by branch and bound",
            interrupted=self.stopped,
            reasons=self._reasons(bound),
        )

    def _reasons(self, bound: int) -> tuple[Reason, ...]:
        """The root's, and what only looking into the choices has shown."""
        more = bound - self.work - sum(reason.cost for reason in self.reasons)
        if not self.reasons or more <= 0:
            return self.reasons
        return (*self.reasons, Reason((), more, "no other way of taking the choices is cheaper"))
