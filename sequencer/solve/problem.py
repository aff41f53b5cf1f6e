"""The problem the engines see: lots, dials, precedence, choices and costs. No wood, no files, no names but
labels.

A *lot* is one operation on all its pieces. A *dial* is one setting of one station; it holds one of a
finite set of values, or none (never set, or lost). Making a lot may move dials first:

* a lot that names a dial in `needs` can be made while the dial stands at any value in `stay`; otherwise
  the dial must first be moved to a value in `reach` (a subset of `stay`). It may also be moved to a
  value in `reach` although it stands in `stay` (useful where a table breaks the triangle inequality, and before
  mates that hold the dial and need another value);
* a move costs `move[from][to]`, or `first[to]` when the dial holds no value; `move[a][b] is None` where the
  two are one setting within tolerance: no such move exists, the dial stays where it was;
* a lot that does not name a dial leaves it alone; a lot names only dials of its own station;
* a dial with `keeps = False` holds no value any more as soon as a lot is made at another station than the
  dial's own, having been at its own before (its `start` survives until the first departure);
* going from a lot at station s to the next lot at station t != s costs `walk[s][t]`; the first is free.

Value sets are bit masks: bit v is value v of that dial. All costs are whole numbers of one unit of time.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

FAR = 1 << 60
"""A cost no order can have: what can be reached by none, or a move that does not exist, costs so much where it is
counted (tables of the kernels have their own: `compiled.FAR_64`, `compiled.FAR_32`).
"""


@dataclass(frozen=True)
class Need:
    """The values of one dial at which a lot can be made (`stay`), and those it may be moved to for it
    (`reach`).

    `either`: other values than these would do as well (those that never help are not among them), or the lot stands
    for several that do not want the same of the dial; what is told of the lot must not name one of the values as if it
    were the only one.
    """

    reach: int
    stay: int
    either: bool = field(default=False, compare=False)


@dataclass(frozen=True)
class Dial:
    """One setting of one station. `move` is values x values, `first` one cost per value.

    `names`: what each value is called, for people ("45°", "18 mm"); empty where values have no names. `words`: what the
    setting is called, where that is more than its label.
    """

    label: str
    station: int
    move: tuple[tuple[int | None, ...], ...]
    first: tuple[int, ...]
    start: int | None = None
    keeps: bool = True
    names: tuple[str, ...] = ()
    words: str = ""

    @property
    def in_words(self) -> str:
        """What the setting is called; its label where no words say so."""
        return self.words or self.label

    @property
    def values(self) -> int:
        """How many values the dial can hold."""
        return len(self.first)


@dataclass(frozen=True)
class Lot:
    """One operation on all its pieces: where it is made, what it needs of which dials, what the work itself
    costs. `words` say what is done, where that is more than its label; several of what stands for one of several.
    """

    label: str
    station: int
    needs: Mapping[int, Need]
    work: int = 0
    words: tuple[str, ...] = ()

    @property
    def in_words(self) -> tuple[str, ...]:
        """What is done; its label where no words say so."""
        return self.words or (self.label,)


@dataclass(frozen=True)
class Mates:
    """Lots between the first and last of which (among those made) none of `held` may be moved or lost.

    The dials may be moved just before the first of them; from then on to the last, that lot's own moves
    included, any move of a held dial is forbidden, and so is leaving the station of a held dial with `keeps
    = False`.
    """

    lots: frozenset[int]
    held: frozenset[int]


@dataclass(frozen=True)
class Wish:
    """A preference: `price` is paid when both lots, two different ones, are made and `before` does not come before
    `after`.
    """

    before: int
    after: int
    price: int


@dataclass(frozen=True)
class Problem:
    """All an engine needs to know.

    `precedence` holds pairs (before, after); a pair counts only where both lots are made, and nothing is
    carried through a lot that is not made. `choices`: for each choice its options, each a set of lots;
    exactly one option is taken; a lot named in a choice is made if the option taken names it, every other
    lot is always made. A lot may stand in several options of one choice, never in two choices.
    """

    lots: tuple[Lot, ...]
    dials: tuple[Dial, ...]
    walk: tuple[tuple[int, ...], ...]
    precedence: tuple[tuple[int, int], ...] = ()
    mates: tuple[Mates, ...] = ()
    choices: tuple[tuple[frozenset[int], ...], ...] = ()
    wishes: tuple[Wish, ...] = ()

    def made(self, options: tuple[int, ...]) -> frozenset[int]:
        """The lots made when choice c takes option `options[c]`."""
        optional = frozenset().union(*(option for choice in self.choices for option in choice))
        taken = frozenset().union(*(choice[o] for choice, o in zip(self.choices, options, strict=True)))
        return (frozenset(range(len(self.lots))) - optional) | taken

    def part(self, lots: Iterable[int]) -> Problem:
        """The problem with these lots only, renumbered in this order.

        Every choice keeps all its options, each without the lots left out; mates none of which are left are gone.
        """
        kept = tuple(lots)
        number = {lot: n for n, lot in enumerate(kept)}

        def left(of: frozenset[int]) -> frozenset[int]:
            return frozenset(number[lot] for lot in of if lot in number)

        return replace(
            self,
            lots=tuple(self.lots[lot] for lot in kept),
            precedence=tuple(
                (number[a], number[b]) for a, b in self.precedence if a in number and b in number
            ),
            mates=tuple(replace(group, lots=left(group.lots)) for group in self.mates if left(group.lots)),
            choices=tuple(tuple(map(left, choice)) for choice in self.choices),
            wishes=tuple(
                replace(wish, before=number[wish.before], after=number[wish.after])
                for wish in self.wishes
                if wish.before in number and wish.after in number
            ),
        )


@dataclass(frozen=True)
class Limits:
    """How long and how to search: seconds of wall time (less than half a second counts as half a second), seed, and
    workers of the constraint model (one repeats its plan exactly).
    """

    seconds: float = 60.0
    seed: int = 0
    workers: int = 1


@dataclass(frozen=True)
class Progress:
    """A line of news from a running engine, in cost units; `best` is None while no plan is known."""

    seconds: float
    best: int | None
    bound: int
    note: str = ""


@dataclass(frozen=True)
class Reason:
    """Part of the bound: the dials named (labels; "walking" too) cannot cost less than `cost` together (with the
    wishes gone against, where it says so), in words `why`.
    """

    dials: tuple[str, ...]
    cost: int
    why: str


@dataclass(frozen=True)
class Outcome:
    """What an engine found.

    `order` lists the lots made, `options` the option taken by each choice, `cost` what `price` says of them
    (work and wishes included), `bound` what no order can cost less than. `interrupted` when it was stopped
    by hand. `floors`: pairs (dials, cost), each proving that in every order of the problem the moves of these
    dials together cost at least so much; walking is dial `len(dials)`. They may overlap.
    """

    order: tuple[int, ...]
    options: tuple[int, ...]
    cost: int
    bound: int
    seconds: float = 0.0
    engine: str = ""
    interrupted: bool = False
    reasons: tuple[Reason, ...] = field(default=())
    floors: tuple[tuple[tuple[int, ...], int], ...] = ()

    @property
    def proven(self) -> bool:
        """Whether the cost is proven least."""
        return self.bound >= self.cost


@dataclass(frozen=True)
class Impossible:
    """It is shown that no order exists. `why` says it in words of labels; `lots` is a small set of lots that stand in
    each other's way, whatever else is made, empty where none is known.
    """

    why: str
    lots: tuple[int, ...] = ()
