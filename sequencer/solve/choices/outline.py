"""A problem with choices seen in outline: the same without choices, no order of it dearer than the best of the
whole.

While a choice is open, stand-ins take the place of its lots (see `standins`). Take any order of the problem,
put in the place of each optional lot the stand-ins whose row has it, and leave the dials where they are until
the next lot that names them: that is an order of the outline and costs no more, because

* a stand-in names no dial that the lot does not name and accepts all that the lot accepts;
* what no stand-in shows can only make the rest dearer, where it is left out, in ways for which dials and walking are
  *eased* first (see `hidden`);
* a move put off to the next lot that names the dial might come between mates that hold it, unless the first
  of them names it: dials of which moves may be hidden are held only by mates that all name them. Mates and wishes of
  open choices are left out;
* a stand-in waits for what all lots of its row wait for, and is waited for by what waits for all of them. Of
  two stand-ins of one choice the first comes first if, option by option, its lot comes first or is the same lot
  (then both are made beside it, in this order); of two choices, if that holds for every pair of their options.

The work is that of the options of least work. Decided choices are exact.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from sequencer.solve.choices.hidden import Hidden, common
from sequencer.solve.choices.standins import Row, rows
from sequencer.solve.problem import Impossible, Lot, Mates, Need, Problem
from sequencer.solve.relation import Relation, bits, mask_of, relation_of
from sequencer.solve.transitions.knobs import Needs

Allowed = tuple[int, ...]
"""For each choice the options (a mask) still allowed."""


@dataclass(frozen=True)
class Outline:
    """`problem` has no choices; its lot n stands for lot `lots[n]` of the original, or for the row `lots[n]` of
    lots. An order of the original under the options allowed costs at least `least` more than one of it.
    """

    problem: Problem
    lots: tuple[int | Row, ...]
    least: int


def restricted(problem: Problem, allowed: Allowed) -> tuple[Problem, tuple[int, ...]]:
    """The problem with the options allowed only, and the number each of its lots had.

    Choices of one option are choices no longer. Options keep their order, and so do choices.
    """
    kept = [
        [option for o, option in enumerate(choice) if mask >> o & 1]
        for choice, mask in zip(problem.choices, allowed, strict=True)
    ]
    alive = set(range(len(problem.lots)))
    for choice, left in zip(problem.choices, kept, strict=True):
        alive -= frozenset().union(*choice) - frozenset().union(*left)
    lots = tuple(sorted(alive))
    part = problem.part(lots)
    choices = (
        tuple(option for o, option in enumerate(choice) if mask >> o & 1)
        for choice, mask in zip(part.choices, allowed, strict=True)
    )
    return replace(part, choices=tuple(options for options in choices if len(options) > 1)), lots


def outline(problem: Problem, allowed: Allowed) -> Outline | Impossible:
    """The problem under the options allowed, without choices: exact if one option of each is allowed.

    Impossible (in lots of the original) if lots that must be made run in a circle.
    """
    part, lots = restricted(problem, allowed)
    relation = relation_of(part)
    if isinstance(relation, Impossible):
        return Impossible(relation.why, tuple(lots[lot] for lot in relation.lots))
    viable = iter(relation.options)
    left = tuple(mask if mask & (mask - 1) == 0 else _nth(mask, next(viable)) for mask in allowed)
    if left != allowed:
        return outline(problem, left)
    if not part.choices:
        return Outline(part, lots, 0)
    found = _Outlining(part, relation).result()
    return replace(
        found,
        lots=tuple(
            lots[lot] if isinstance(lot, int) else tuple(lots[member] for member in lot) for lot in found.lots
        ),
    )


def _nth(mask: int, kept: tuple[tuple[int, int], ...]) -> int:
    """Of the options in the mask those whose number among them is kept."""
    options = list(bits(mask))
    return sum(1 << options[n] for n, _ in kept)


class _Outlining:
    """The outline of a problem all of whose choices are open."""

    def __init__(self, problem: Problem, relation: Relation) -> None:
        self.problem = problem
        self.after = relation.after
        self.sure = list(bits(relation.always))
        needs: list[Needs] = [
            [(d, need.stay, ()) for d, need in sorted(lot.needs.items())] for lot in problem.lots
        ]
        weight = [max(map(_dearest, dial.move), default=0) + 1 for dial in problem.dials]
        self.rows: list[Row] = []
        self.least = 0
        for choice in relation.options:
            masks = [mask for _, mask in choice]
            self.least += min(sum(problem.lots[lot].work for lot in bits(mask)) for mask in masks)
            found = rows(masks, needs, weight.__getitem__)
            self.rows += [row for row in found if len({problem.lots[lot].station for lot in row}) == 1]
        optional = [n for n in range(len(problem.lots)) if not relation.always >> n & 1]
        self.hidden = Hidden(problem, optional, self.rows)

    def result(self) -> Outline:
        problem = self.problem
        number = {lot: n for n, lot in enumerate(self.sure)}
        mates = []
        for group in problem.mates:
            members = frozenset(number[lot] for lot in group.lots if lot in number)
            held = frozenset(
                d
                for d in group.held
                if not self.hidden.moves(d)
                or all(d in problem.lots[lot].needs for lot in group.lots if lot in number)
            )
            if len(members) > 1 and held:
                mates.append(Mates(members, held))
        return Outline(
            Problem(
                lots=(
                    *(self.hidden.lot(problem.lots[lot]) for lot in self.sure),
                    *(self._stand_in(row) for row in self.rows),
                ),
                dials=tuple(map(self.hidden.dial, range(len(problem.dials)))),
                walk=self.hidden.walk,
                precedence=self._precedence(),
                mates=tuple(mates),
                wishes=tuple(
                    replace(wish, before=number[wish.before], after=number[wish.after])
                    for wish in problem.wishes
                    if wish.before in number and wish.after in number
                ),
            ),
            (*self.sure, *self.rows),
            self.least,
        )

    def _stand_in(self, row: Row) -> Lot:
        members = [self.problem.lots[lot] for lot in dict.fromkeys(row)]
        needs = {}
        for d in sorted(common(self.problem, row)):
            reach = stay = 0
            for lot in members:
                reach |= lot.needs[d].reach
                stay |= lot.needs[d].stay
            wanted = [lot.needs[d] for lot in members]
            either = any(need.either or need != wanted[0] for need in wanted)
            needs[d] = self.hidden.need(d, Need(reach, stay, either))
        label = " or ".join(lot.label for lot in members)
        words = dict.fromkeys(word for lot in members for word in lot.in_words)
        return Lot(label, members[0].station, needs, words=tuple(words))

    def _precedence(self) -> tuple[tuple[int, int], ...]:
        """Pairs of the outline's lots, without those said by way of a third."""
        members: list[Row] = [*((lot,) for lot in self.sure), *self.rows]
        count = len(members)
        choice = [-1 - n for n in range(len(self.sure))]
        owner = {
            lot: c for c, options in enumerate(self.problem.choices) for lot in frozenset().union(*options)
        }
        choice += [owner[row[0]] for row in self.rows]
        follow = [0] * count
        lead = [0] * count
        number = {lot: n for n, lot in enumerate(self.sure)}
        sure = mask_of(self.sure)
        behind = [(j, choice[j], mask_of(row)) for j, row in enumerate(members) if j >= len(self.sure)]
        for i, mine in enumerate(members):
            common = -1
            for lot in mine:
                common &= self.after[lot]
            later = [number[b] for b in bits(common & sure)]
            for j, owned, row in behind:
                if owned != choice[i]:
                    first = not row & ~common
                else:
                    first = mine != members[j] and all(
                        a == b or self.after[a] >> b & 1 for a, b in zip(mine, members[j], strict=True)
                    )
                if first:
                    later.append(j)
            for j in later:
                follow[i] |= 1 << j
                lead[j] |= 1 << i
        return tuple((i, j) for i in range(count) for j in bits(follow[i]) if not follow[i] & lead[j])


def _dearest(row: Sequence[int | None]) -> int:
    return max((cost for cost in row if cost is not None), default=0)
