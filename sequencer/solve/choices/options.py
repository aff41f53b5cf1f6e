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

Good orders come first: those of outlines, improved for a moment, are what the engine has to beat (`study`).

Two nodes are looked at at a time, those of least bound, and beside them better plans are looked for from the best one
(`bettering`), more where a look is a long one; each in a thread of its own. What ends first is taken in, and the next
task begins from the best plan of that time. What ends first is told by the work done (`Relay`), so neither threads nor
the number of cores change the course of the search.

An outline differs little from that of the node it comes from, so its engine goes by the trees of mergers that guided
that one at last.

A bound is the work of the cheapest options allowed and the *rest*, what moves, walks and wishes cost at least. The
rest proven for a node holds for all that is left of it, so an option that costs too much work besides falls away
without being looked at.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from heapq import heappop, heappush
from threading import Event

from sequencer.solve.abreast import Relay
from sequencer.solve.choices.bettering import Bettering
from sequencer.solve.choices.completion import Completed, Completion
from sequencer.solve.choices.outline import Allowed
from sequencer.solve.choices.study import Beginning, Study, study_of
from sequencer.solve.clock import Clock
from sequencer.solve.problem import FAR, Impossible, Limits, Outcome, Problem, Progress, Reason
from sequencer.solve.proof.known import UNCHARTED, NamedCourse
from sequencer.solve.relation import bits

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

KEPT_LONG = 1
"""Of the outlines kept, how many may have been looked at more often than nodes that are split: each round takes four
times the memory of the one before, and beginning anew only a third of the next round.
"""

FEW = 24
"""Lots up to which plans come from the outlines alone, and one node is looked at at a time: all is done in plain
Python, where threads only wait for each other, as long as that is enough for each outline.
"""

ABREAST = 2
"""Nodes looked at at a time beyond that, whatever the number of cores; the plan is improved beside them."""

PREPARED = 12_000
"""Work, in states seen, that takes as long as what comes before an engine's rounds."""

MOST = 0.35
"""The most of the time left that the root gets for what is done before the engine's rounds, so that large problems get
better plans too.
"""


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

    `engine` is asked only about problems without choices. Raises TimeoutError where no order was found, nor shown to be
    impossible.
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
        self.stopped = False
        self.ask = stop
        self.halt = Event()  # what is done side by side hears this only, for `stop` is for one thread
        self.clock = Clock(limits.seconds, self.halt.is_set)
        self.best: Completed | None = None
        self.impossible: Impossible | None = None
        self.reasons: tuple[Reason, ...] = ()
        self.nodes: list[Node] = []
        self.hand: list[Node] = []
        self.told: tuple[int | None, int] | None = None
        self.bettering = Bettering(problem, self.clock.over, limits.seed)
        self.course = UNCHARTED  # what the last outline taken in was guided by
        self.works = [
            [sum(problem.lots[lot].work for lot in option) for option in choice] for choice in problem.choices
        ]
        optional = frozenset().union(*(option for choice in problem.choices for option in choice))
        self.always = sum(lot.work for n, lot in enumerate(problem.lots) if n not in optional)
        self.count = -1
        self.work = self.always + sum(map(min, self.works))  # in any case; better told by the root's outline

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
        if self.hand and not self.small and self.best is not None and self.bettering.wanted(self.best):
            further = max(min(node.looked, LOOKS) for node in self.hand)
            self.bettering.begin(self.best, further, self.course)
            relay.begin(self._better, lambda: self.bettering.work)

    def _settled(self) -> bool:
        """Whether no node is left that a better plan could come from."""
        return not self.nodes and all(self.best and node.bound >= self.best[0] for node in self.hand)

    def _start(self) -> None:
        """A quick plan, so that there is one at any time."""
        from sequencer.solve.plans.greedy import quick_plan

        quick = quick_plan(self.problem, self.ask, self.clock.over)
        if quick is not None:
            self.best = (quick.cost, quick.order, quick.options)

    def _over(self) -> bool:
        """Whether to go on no further; asks `stop`."""
        if not self.stopped and self.ask():
            self.stopped = True
            self.halt.set()
        return self.clock.over()

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
        for studied, most in ((kept, KEPT), ([node for node in kept if node.looked > LOOKS + 1], KEPT_LONG)):
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
            self.bettering.looked()
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

    def _better(self) -> Callable[[], None]:
        """A portion of the search for better plans; what is then to be done."""
        self.bettering.run()
        return self._take_better

    def _take_better(self) -> None:
        """Take the better plan, if it is one."""
        self.best = self.bettering.take(self.best)

    def _solve(self, node: Node, ceiling: int | None) -> Outcome | Impossible | None:
        """What one more look at a node's outline shows; None if it found no order in time. Only plans below the ceiling
        count, if there is one.
        """
        whole = node.allowed == self.root
        if node.study is None:
            study = study_of(
                self.problem, node.allowed, node.course, self.engine, self.limits, self.clock, self.small
            )
            if isinstance(study, Impossible):  # of a part of the options that may not be the only reason
                return study if whole else Impossible(study.why)
            node.study = study
        left = self.clock.left
        share = max(LEAST_SLICE, SLICE * self.limits.seconds) * 4 ** min(node.looked, 9)
        if whole:
            share = min(share, max(LEAST_SLICE, MOST * left))
        return node.study.look(node.looked + 1, max(0.01, min(left, share)), ceiling)

    def _tell(self) -> None:
        """News, where there are any."""
        plans = [plan[0] for plan in (self.best, self.bettering.plan) if plan]
        news = min(plans, default=None), self._bound()
        if news != self.told:
            self.told = news
            self.progress(Progress(self.clock.seconds, *news, "choices"))

    def _outcome(self) -> Outcome | Impossible:
        if self.best is None:
            if self.impossible is not None and not self.nodes:
                return self.impossible
            raise TimeoutError("no order was found in the time given")
        cost, order, options = self.best
        bound = min(cost, self._bound())
        return Outcome(
            order=order,
            options=options,
            cost=cost,
            bound=bound,
            seconds=self.clock.seconds,
            engine="search, choices by branch and bound",
            interrupted=self.stopped,
            reasons=self._reasons(bound),
        )

    def _reasons(self, bound: int) -> tuple[Reason, ...]:
        """The root's, and what only looking into the choices has shown."""
        more = bound - self.work - sum(reason.cost for reason in self.reasons)
        if more <= 0:
            return self.reasons
        return (*self.reasons, Reason((), more, "no other way of taking the choices is cheaper"))
