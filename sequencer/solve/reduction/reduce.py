"""The same problem, smaller: what cannot matter is taken out before an engine sees it, and put back after.

`reduce` gives a problem with the same least cost and a function that turns any order of it into an order of
the original that costs exactly the same. Each step is exact whatever features meet, and says why in its
docstring; values, needs and dials are dropped in `trimming`, lots in `absorbing`.

Components that share nothing are not told apart: walking couples all stations that lots are made at, so it
would apply only where every walk between two groups of stations is free.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from sequencer.solve.problem import Impossible, Mates, Problem, Wish
from sequencer.solve.reduction.absorbing import Beside, absorb
from sequencer.solve.reduction.making import Making
from sequencer.solve.reduction.trimming import trimmed
from sequencer.solve.relation import Relation, bits, in_order, mask_of, relation_of

Order = tuple[int, ...]
Undo = Callable[[Order, Order], tuple[Order, Order]]
"""From an order and options of the reduced problem to those of the original."""


def reduce(problem: Problem) -> tuple[Problem, Undo]:
    """A smaller problem of the same least cost, and the way back; the problem itself where `relation_of` already
    shows that it has no order.

    Undoing keeps the cost: of an order of the reduced problem `price` says the same as of what it is undone
    to (the price of wishes that cannot be met, whatever the order, is counted among the work).
    """
    undoing: list[Undo] = []
    smaller = problem
    while not isinstance(relation := relation_of(smaller), Impossible):
        if settled := _without_options(smaller, relation):
            smaller, undo = settled
            undoing.append(undo)
            continue
        if told := told_by_mates(smaller, relation):
            smaller = replace(smaller, precedence=tuple(sorted({*smaller.precedence, *told})))
            continue
        smaller = _without_wishes(_without_groups(smaller), relation)
        while log := (found := absorb(smaller := trimmed(smaller), relation)).log:
            undoing.append(_putting_back(smaller, found.kept, log))
            smaller, relation = found.problem, found.relation
        if not _alike_options(smaller):
            return _without_pairs(smaller), _chained(undoing)
    return problem, lambda order, options: (order, options)


def _alike_options(problem: Problem) -> bool:
    """Whether two options of one choice make the same lots, now that some are gone."""
    return any(len(set(choice)) < len(choice) for choice in problem.choices)


def _chained(undoing: list[Undo]) -> Undo:
    """All steps undone, the last first."""

    def undo(order: Order, options: Order) -> tuple[Order, Order]:
        for each in reversed(undoing):
            order, options = each(order, options)
        return order, options

    return undo


def _putting_back(problem: Problem, kept: tuple[int, ...], log: tuple[Beside, ...]) -> Undo:
    """The way back from `absorb`."""

    def undo(order: Order, options: Order) -> tuple[Order, Order]:
        made = problem.made(options)
        whole = [kept[lot] for lot in order]
        for beside in reversed(log):
            if beside.lot in made:
                beside.put_back(whole)
        return tuple(whole), options

    return undo


def _without_options(problem: Problem, relation: Relation) -> tuple[Problem, Undo] | None:
    """Drop options that run in a circle by themselves, and those that make the same lots as another one.

    A choice left with one option is none: its lots are always made, those of the options dropped never.
    None if there is nothing to drop.
    """
    left: list[dict[int, int]] = []  # per choice: the lots (a mask) of each option kept -> its number
    for choice in relation.options:
        distinct: dict[int, int] = {}
        for o, option in choice:
            distinct.setdefault(option, o)
        left.append(distinct)
    if all(1 < len(kept) == len(choice) for kept, choice in zip(left, problem.choices, strict=True)):
        return None
    named = mask_of([lot for choice in problem.choices for option in choice for lot in option])
    alive = relation.always | ~named
    for kept in left:
        for mask in kept:
            alive |= mask
    lots = [lot for lot in range(len(problem.lots)) if alive >> lot & 1]
    number = {lot: n for n, lot in enumerate(lots)}
    smaller = replace(
        problem.part(lots),
        choices=tuple(
            tuple(frozenset(number[lot] for lot in bits(option)) for option in kept)
            for kept in left
            if len(kept) > 1
        ),
    )

    def undo(order: Order, options: Order) -> tuple[Order, Order]:
        taken = iter(options)
        whole = tuple(list(kept.values())[next(taken) if len(kept) > 1 else 0] for kept in left)
        return tuple(lots[lot] for lot in order), whole

    return smaller, undo


def told_by_mates(problem: Problem, relation: Relation) -> set[tuple[int, int]]:
    """Precedence that follows from mates.

    Between the first and the last of a group of mates a held dial stands still. A lot that accepts no value
    there that all lots made of the group accept can so not come between them, nor, where all of them are
    made at the station of a held dial that is lost by leaving, a lot of another station. Such a lot comes
    before all of them if before one, and after all if after one.
    """
    making = Making(problem)
    found: set[tuple[int, int]] = set()
    for group in problem.mates:
        members = mask_of(group.lots)
        for x in range(len(problem.lots)):
            first, last = members & relation.after[x], members & relation.before[x]
            open_ = members & ~(first | last | 1 << x)
            if members >> x & 1 or not open_ or not first | last:
                continue
            sure = making.along(x)
            for other in bits(open_):
                if not making.together(x, other):
                    continue
                made = members & (sure | making.along(other))
                if not made & (first | last) or not _barred(problem, group, x, list(bits(made | 1 << other))):
                    continue
                found.add((x, other) if made & first else (other, x))
    return found


def _barred(problem: Problem, group: Mates, x: int, made: list[int]) -> bool:
    """Whether lot x cannot come between the lots made of this group, whichever are made besides."""
    lot = problem.lots[x]
    at = {problem.lots[member].station for member in group.lots}
    for d in group.held:
        dial = problem.dials[d]
        if not dial.keeps and at == {dial.station} != {lot.station}:
            return True
        if d in lot.needs:
            accepted = lot.needs[d].stay
            for member in made:
                if d in problem.lots[member].needs:
                    accepted &= problem.lots[member].needs[d].stay
            if not accepted:
                return True
    return False


def _without_groups(problem: Problem) -> Problem:
    """Drop mates that bind nothing: groups of one lot, or of the held dials that nobody names.

    A dial that no lot names is never moved; it is only lost by leaving, if it does not keep its value.
    """
    named = {d for lot in problem.lots for d in lot.needs}
    groups = (
        Mates(group.lots, frozenset(d for d in group.held if d in named or not problem.dials[d].keeps))
        for group in problem.mates
    )
    return replace(problem, mates=tuple(g for g in groups if len(g.lots) > 1 and g.held))


def _without_wishes(problem: Problem, relation: Relation) -> Problem:
    """Settle the wishes whose outcome no order changes, and weigh those that contradict each other.

    One that precedence fulfils falls away. One that precedence denies is paid whenever both lots are made:
    it becomes work of one of them that is not made without the other. Of two that contradict each other the
    smaller price is paid in any order in which both are made; the same is done with it.
    """
    making = Making(problem)
    prices: dict[tuple[int, int], int] = {}
    work = [lot.work for lot in problem.lots]
    for wish in problem.wishes:
        pair = (wish.before, wish.after)
        if wish.price and wish.before != wish.after and making.together(*pair):
            prices[pair] = prices.get(pair, 0) + wish.price
    for a, b in list(prices):
        if relation.after[a] >> b & 1:
            prices[a, b] = 0
            continue
        against = prices.get((b, a), 0)
        due = prices[a, b] if relation.after[b] >> a & 1 else min(prices[a, b], against)
        payer = a if making.along(a) >> b & 1 else b if making.along(b) >> a & 1 else None
        if payer is not None and due:
            work[payer] += due
            prices[a, b] -= due
            prices[b, a] = max(0, against - due)
    return replace(
        problem,
        lots=tuple(replace(lot, work=done) for lot, done in zip(problem.lots, work, strict=True)),
        wishes=tuple(Wish(a, b, price) for (a, b), price in prices.items() if price),
    )


def _without_pairs(problem: Problem) -> Problem:
    """Drop precedence that says nothing: between lots never made together, or said by way of other lots.

    A pair is said by way of lots that are always made, each directly before the next. Lots that are always
    made run in no circle (`relation_of` has said so), so what a dropped pair leans on is never itself lost.
    """
    making = Making(problem)
    succ = [0] * len(problem.lots)
    for a, b in problem.precedence:
        if making.together(a, b):
            succ[a] |= 1 << b
    order = in_order(succ, making.always)
    assert order is not None
    reached: dict[int, int] = {}  # always made lot -> all lots reached by way of such
    for a in reversed(order):
        reached[a] = 0
        for b in bits(succ[a]):
            reached[a] |= 1 << b | reached.get(b, 0)
    pairs = []
    for a, following in enumerate(succ):
        indirect = 0
        for b in bits(following & making.always):
            indirect |= reached[b]
        pairs += [(a, b) for b in bits(following & ~indirect)]
    return replace(problem, precedence=tuple(pairs))
