"""Orders grown lot by lot, for a narrow beam (`greedy`): every lot that changes nothing is made at once, and what is
left to decide is which lot comes next where something must be paid.

Choices are settled as late as possible: making a lot takes the options that name it, and making one whose
predecessor stands open gives up the options that name the predecessor.

What can be looked at for one lot at a time is looked at for all at once: which lots a standing dial leaves
free, and which have no predecessor left, are bit masks that follow the order as it grows. Of ready lots with
the same needs one is tried, if the others are then free; and only the partial orders that stay in the beam
have their free lots made.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from sequencer.solve.plans.openings import Openings
from sequencer.solve.plans.standing import Standings
from sequencer.solve.problem import Need, Problem
from sequencer.solve.relation import Direct, bits, mask_of, reached


@dataclass(frozen=True, slots=True)
class Partial:
    """A partial order.

    `cost` so far; `done` and `near`: the lots made, and those left of whose predecessors none that is always
    made is left (masks); where the work is, how the dials stand, the options still open; `ahead`: what each
    dial still costs at least, `idle`: the work of the lots always made that are left.
    """

    cost: int
    done: int
    near: int
    station: int | None
    standing: tuple[int, ...]
    options: tuple[int, ...]
    ahead: tuple[int, ...]
    idle: int
    parent: Partial | None
    lots: tuple[int, ...]

    def order(self) -> tuple[int, ...]:
        """All lots made so far."""
        chain: list[tuple[int, ...]] = []
        node: Partial | None = self
        while node is not None:
            chain.append(node.lots)
            node = node.parent
        return tuple(lot for lots in reversed(chain) for lot in lots)


@dataclass(frozen=True, slots=True)
class Decision:
    """A decision: the lot made next after `node`, and what it leads to before any lot is made for free.

    `stuck`: it opens a group of mates between which a lot would have to come that cannot, or leaves one that can be
    opened no more.
    """

    stuck: bool
    rank: int
    cost: int
    node: Partial
    lot: int
    standing: tuple[int, ...]
    options: tuple[int, ...]
    ahead: tuple[int, ...]


class Growing:
    """The problem, prepared for growing orders."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        count = len(problem.lots)
        self.standings = [Standings(dial) for dial in problem.dials]
        direct = Direct(problem)
        self.before, self.following = direct.before, direct.after
        self.choice_of: dict[int, int] = {}  # lot -> its choice
        self.naming: dict[int, int] = {}  # lot -> mask of the options that name it
        for c, choice in enumerate(problem.choices):
            for o, option in enumerate(choice):
                for lot in option:
                    self.choice_of[lot] = c
                    self.naming[lot] = self.naming.get(lot, 0) | 1 << o
        self.always = (1 << count) - 1 & ~mask_of(list(self.choice_of))
        self.options = [[mask_of(option) for option in choice] for choice in problem.choices]
        self.groups = [(mask_of(group.lots), group.held) for group in problem.mates]
        self.wishes: dict[int, list[tuple[int, int]]] = {}  # lot -> (lot better made later, price)
        for wish in problem.wishes:
            self.wishes.setdefault(wish.before, []).append((wish.after, wish.price))
        tied = {lot for wish in problem.wishes for lot in (wish.before, wish.after)}
        tied |= {lot for group in problem.mates for lot in group.lots}
        self.openings = Openings(problem, self.standings)
        self.simple = (1 << count) - 1 & ~mask_of(tied)
        """Lots that belong to no mates and no wish."""
        self.at = [0] * len(problem.walk)
        kinds: dict[tuple[object, ...], int] = {}
        self.kind: list[int] = []  # lots with the same needs are of one kind
        self.uses: list[dict[Need, int]] = [{} for _ in problem.dials]  # per dial: need -> the lots
        for n, made in enumerate(problem.lots):
            self.at[made.station] |= 1 << n
            key = (made.station, *sorted((d, need.reach, need.stay) for d, need in made.needs.items()))
            self.kind.append(kinds.setdefault(key, len(kinds)))
            for d, need in made.needs.items():
                self.uses[d][need] = self.uses[d].get(need, 0) | 1 << n
        self.dials_at = [
            [d for d, dial in enumerate(problem.dials) if dial.station == s] for s in range(len(problem.walk))
        ]
        self.work = [lot.work for lot in problem.lots]
        self.paid = mask_of([lot for lot in self.choice_of if self.work[lot]])
        self.known_possible: dict[tuple[int, ...], int] = {}
        self.known_certain: dict[tuple[int, ...], int] = {}
        self.known_free: list[dict[int, int]] = [{} for _ in problem.dials]
        self.insisted = [self._insisted(d) for d in range(len(problem.dials))]
        self.known_sides: dict[tuple[int, int], list[int]] = {}
        self.known_common: dict[tuple[int, int], int] = {}
        self.behind = [reached(self.before, members) for members, _ in self.groups]
        """For each group of mates, the lots that must come before one of them."""
        self.grouped = 0
        self.groups_of: dict[int, list[int]] = {}
        for g, (members, _) in enumerate(self.groups):
            self.grouped |= members
            for lot in bits(members):
                self.groups_of.setdefault(lot, []).append(g)

    def _insisted(self, d: int) -> list[tuple[int, int, int]]:
        """For each value of a dial: the lots made only at that value, the value, the cheapest move to it."""
        dial = self.problem.dials[d]
        rows = []
        for v in range(dial.values):
            lots = 0
            for need, users in self.uses[d].items():
                if need.stay == 1 << v:
                    lots |= users
            paid = [cost for u, row in enumerate(dial.move) if u != v and (cost := row[v]) is not None]
            if lots:
                rows.append((lots, 1 << v, min([dial.first[v], *paid])))
        return rows

    def root(self) -> Partial:
        """Nothing made yet."""
        options = tuple((1 << len(choice)) - 1 for choice in self.problem.choices)
        near = mask_of([n for n in range(len(self.work)) if not self.before[n] & self.always])
        standing = tuple(s.start for s in self.standings)
        ahead = tuple(self._ahead(d, self._certain(options), number) for d, number in enumerate(standing))
        idle = sum(self.work[n] for n in bits(self.always))
        return Partial(0, 0, near, None, standing, options, ahead, idle, None, ())

    def complete(self, node: Partial) -> bool:
        """Whether every lot is made that must be, under some option of every choice."""
        return not self.always & ~node.done and all(
            any(open_ >> o & 1 and not lots & ~node.done for o, lots in enumerate(choice))
            for open_, choice in zip(node.options, self.options, strict=True)
        )

    def taken(self, node: Partial) -> tuple[int, ...]:
        """The option each choice has taken, once complete."""
        return tuple(
            next(o for o, lots in enumerate(choice) if open_ >> o & 1 and not lots & ~node.done)
            for open_, choice in zip(node.options, self.options, strict=True)
        )

    def decisions(self, node: Partial) -> Iterator[Decision]:
        """The lots that can come next, each in every way it can."""
        certain = self._certain(node.options)
        open_ = [g for g, (lots, _) in enumerate(self.groups) if lots & node.done and lots & ~node.done]
        known: set[int] = set()  # kinds of which one lot is tried for all
        possible = self._possible(node.options)
        for lot in bits(node.near & possible):
            alike = (self.simple & certain) >> lot & 1 and not self.before[lot] & ~node.done & possible
            if alike and self.kind[lot] in known:
                continue
            for decision in self._make(node, lot, certain, open_):
                if alike and all(
                    self._free(d, decision.standing[d]) >> lot & 1 for d in self.problem.lots[lot].needs
                ):
                    known.add(self.kind[lot])
                yield decision

    def _certain(self, options: tuple[int, ...]) -> int:
        """The lots made under every combination of the open options."""
        certain = self.known_certain.get(options)
        if certain is None:
            certain = self.always
            for key in enumerate(options):
                common = self.known_common.get(key)
                if common is None:
                    common = -1
                    for o in bits(key[1]):
                        common &= self.options[key[0]][o]
                    self.known_common[key] = common
                certain |= common
            self.known_certain[options] = certain
        return certain

    def _possible(self, options: tuple[int, ...]) -> int:
        """The lots made under some combination of the open options."""
        possible = self.known_possible.get(options)
        if possible is None:
            possible = self.always
            for open_, choice in zip(options, self.options, strict=True):
                for o in bits(open_):
                    possible |= choice[o]
            self.known_possible[options] = possible
        return possible

    def _without(self, options: tuple[int, ...], lots: int) -> tuple[int, ...] | None:
        """The options left when none of these lots is made; None if one of them must be."""
        if lots & self.always:
            return None
        left = list(options)
        for lot in bits(lots):
            left[self.choice_of[lot]] &= ~self.naming[lot]
        return tuple(left) if all(left) else None

    def _make(self, node: Partial, lot: int, certain: int, open_: list[int]) -> Iterator[Decision]:
        """The ways to make this lot next: with open groups of mates kept open, and with them given up."""
        options: tuple[int, ...] | None = node.options
        if lot in self.choice_of:
            left = list(node.options)
            left[self.choice_of[lot]] &= self.naming[lot]
            if not left[self.choice_of[lot]]:
                return
            options = tuple(left)
        missing = self.before[lot] & ~node.done
        if missing and (missing & certain or (options := self._without(options or (), missing)) is None):
            return
        assert options is not None
        for settled, held in self._holding(node, lot, options, open_):
            decision = self._step(node, lot, settled, held, open_)
            if decision is not None:
                yield decision

    def _holding(
        self, node: Partial, lot: int, options: tuple[int, ...], open_: list[int]
    ) -> list[tuple[tuple[int, ...], frozenset[int]]]:
        """The open options and the dials held at this lot; a group that may be over is taken both ways."""
        ways: list[tuple[tuple[int, ...], frozenset[int]]] = [(options, frozenset())]
        for g in open_:
            members, dials = self.groups[g]
            rest = members & ~node.done & ~(1 << lot)
            now = []
            for left, held in ways:
                over = left if not rest else self._without(left, rest)
                now.append((left, held | dials))
                if not members >> lot & 1 and over is not None:
                    now.append((over, held))
            ways = now
        return ways

    def _step(
        self,
        node: Partial,
        lot: int,
        options: tuple[int, ...],
        held: frozenset[int],
        open_: list[int],
    ) -> Decision | None:
        """This lot made next, if the dials allow it."""
        made = self.problem.lots[lot]
        standing, ahead = list(node.standing), list(node.ahead)
        cost = node.cost + made.work
        certain = self._certain(options)
        rest = certain & ~node.done & ~(1 << lot)
        if node.station is not None and node.station != made.station:
            cost += self.problem.walk[node.station][made.station]
            for d in self.dials_at[node.station]:
                if not self.problem.dials[d].keeps:
                    if d in held:
                        return None
                    standing[d] = self.standings[d].nothing
                    ahead[d] = self._ahead(d, rest, standing[d])
        for d, need in made.needs.items():
            after = self.standings[d].step(standing[d], need, d in held)
            if after is None:
                return None
            if standing[d] != after[0]:
                standing[d] = after[0]
                ahead[d] = self._ahead(d, rest, after[0])
            cost += after[1]
        if options != node.options:
            ahead = [self._ahead(d, rest, number) for d, number in enumerate(standing)]
        for later, paid in self.wishes.get(lot, ()):
            if node.done >> later & 1:
                cost += paid
        rank = cost + sum(ahead) + node.idle
        if self.always >> lot & 1:
            rank -= made.work
        for other in bits(rest & self.paid):
            rank += self.work[other]
        stuck = bool(self.groups) and self._stuck(open_, lot, rest, standing, made.station)
        if self.openings and not stuck:
            done = node.done | 1 << lot
            stuck = self.openings.lost(done, self._possible(options) & ~done, rest, standing)
        return Decision(stuck, rank, cost, node, lot, tuple(standing), options, tuple(ahead))

    def _stuck(self, open_: list[int], lot: int, rest: int, standing: list[int], station: int) -> bool:
        """Whether mates begun can perhaps not be finished after this lot, as far as is easily seen.

        The open groups, with one that this lot opens, are taken as finished one after another: each must find
        its lots left, and those that must come before them, content with what is still held. A group is not
        opened while a lot of yet another group must come before one of its own.
        """
        groups = [g for g in open_ if self.groups[g][0] & rest]
        for g in self.groups_of.get(lot, ()):
            members = self.groups[g][0]
            if g not in open_ and members & rest:
                if self.behind[g] & rest & self.grouped & ~members:
                    return True
                groups.append(g)
        left = {g: (self.behind[g] | self.groups[g][0]) & rest for g in groups}
        out = self._kept_out(left, standing, station)
        while left:
            bad = 0
            for g in left:
                bad |= out[g]
            fine = [g for g, lots in left.items() if not lots & bad]
            if not fine:
                return True
            for g in fine:
                del left[g]
        return False

    def _kept_out(self, left: dict[int, int], standing: list[int], station: int) -> dict[int, int]:
        """For each open group, the lots that cannot be made before it is finished.

        Of the values a held dial may stand at, the one is taken that keeps out the fewest lots left.
        """
        lots = 0
        for mine in left.values():
            lots |= mine
        against: dict[int, int] = {}
        out: dict[int, int] = {}
        for g in left:
            out[g] = 0
            for d in self.groups[g][1]:
                if d not in against:
                    sides = self._sides(d, standing[d])
                    against[d] = min(sides, key=lambda side: (side & lots).bit_count())
                out[g] |= against[d]
                dial = self.problem.dials[d]
                if not dial.keeps and station == dial.station:
                    out[g] |= ~self.at[station]
        return out

    def _sides(self, d: int, standing: int) -> list[int]:
        """For each value the dial may stand at, the lots that need another; all that name it if there is none."""
        sides = self.known_sides.get((d, standing))
        if sides is None:
            values = list(bits(self.standings[d].holds(standing)))
            sides = [
                mask_of(
                    [n for need, users in self.uses[d].items() if not need.stay >> v & 1 for n in bits(users)]
                )
                for v in values or [self.problem.dials[d].values]
            ]
            self.known_sides[d, standing] = sides
        return sides

    def _ahead(self, d: int, rest: int, standing: int) -> int:
        """What the dial certainly still costs, roughly: one move to each value insisted on."""
        accepts = self.standings[d].accepted(standing)
        cost = 0
        for lots, value, paid in self.insisted[d]:
            if rest & lots and not accepts & value:
                cost += paid
        return cost

    def _free(self, d: int, standing: int) -> int:
        """The lots that do not name the dial, or neither move it nor care whether it may be moved."""
        free = self.known_free[d].get(standing)
        if free is None:
            free = -1
            for need, users in self.uses[d].items():
                for held in (False, True):  # True: moving early may pay, for a mate
                    if self.standings[d].step(standing, need, held) != (standing, 0):
                        free &= ~users
            self.known_free[d][standing] = free
        return free

    def after(self, decision: Decision) -> Partial:
        """The partial order after a decision, with every lot made that costs only work and settles nothing."""
        node, lot = decision.node, decision.lot
        station = self.problem.lots[lot].station
        done, near, made = node.done, node.near, [lot]
        cost, idle = decision.cost, node.idle
        possible, certain = self._possible(decision.options), self._certain(decision.options)
        free = self.simple & certain & self.at[station]
        for d in self.dials_at[station]:
            free &= self._free(d, decision.standing[d])
        new = 1 << lot
        while new:
            done |= new
            near &= ~new
            for each in bits(new):
                if self.always >> each & 1:
                    idle -= self.work[each]
                for other in bits(self.following[each] & ~done & ~near):
                    if not self.before[other] & self.always & ~done:
                        near |= 1 << other
            new = 0
            for each in bits(near & free):
                if self.before[each] & ~done & possible:
                    continue
                most = done | new | 1 << each
                early = self.openings.preparing >> each & 1 and self.openings.lost(
                    most, possible & ~most, certain & ~most, decision.standing
                )
                if not early:
                    new |= 1 << each
                    made.append(each)
                    cost += self.work[each]
        return Partial(
            cost,
            done,
            near,
            station,
            decision.standing,
            decision.options,
            decision.ahead,
            idle,
            node,
            tuple(made),
        )
