"""The precedence graph: which operation comes before which, by what rule, and why an order may not exist.

Edges come from three places: what the job asks for (`after`), the law of surfaces (what registers on a
surface comes after it is made and before it is removed, as in a compiler's def-use chains), and the rule
books. Two operations that are never both made, being ways of the same choice, have no edge between them.

networkx is imported only where a circle has to be named: an order that exists does not need it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from graphlib import CycleError, TopologicalSorter
from itertools import pairwise

from sequencer.diagnostics import Fault, NoOrderError
from sequencer.model.rule import AFTER, KEPT, MADE, Rule
from sequencer.operations import Edge, Operation, Worklist
from sequencer.quantity import counted

COMBINATIONS_TRIED = 2000
"""Combinations of options tried for one that has an order, before that is left to the engines."""


def precedence(worklist: Worklist, rules: Iterable[Rule]) -> tuple[Edge, ...]:
    """All edges of the operations, each with its rule and reason; several where a pair has several reasons.

    Preferences that other edges settle either way (see `overruled`) are left out: there is nothing to weigh.
    `after` may name operations that are not in the list (any more).
    """
    rules = tuple(rules)
    ways = _Ways(worklist)
    musts = _ordered(worklist, ways.drop_never_both(_musts(worklist, rules)))
    settled = _Settled(musts, ways)
    wishes = [wish for wish in ways.drop_never_both(_wishes(worklist, rules)) if not settled.says(wish)]
    return _ordered(worklist, [*musts, *wishes])


def overruled(worklist: Worklist, rules: Iterable[Rule]) -> tuple[str, ...]:
    """For each preference that must-edges contradict, a sentence: not weighed, since it can never be met."""
    rules = tuple(rules)
    ways = _Ways(worklist)
    settled = _Settled(_ordered(worklist, ways.drop_never_both(_musts(worklist, rules))), ways)
    never: dict[str, list[Edge]] = defaultdict(list)
    for wish in ways.drop_never_both(_wishes(worklist, rules)):
        if settled.reversed(wish):
            never[wish.rule].append(wish)
    return tuple(
        f'the preference "{rule}" is not weighed for {_count(wishes)}: other reasons put '
        f'"{wishes[0].after}" before "{wishes[0].before}"' + ("" if len(wishes) == 1 else ", for one")
        for rule, wishes in never.items()
    )


def options_without_order(
    worklist: Worklist,
    edges: Iterable[Edge],
    file: str = "",
    before: Mapping[tuple[str, str], str] = {},
) -> dict[tuple[str, str], str]:
    """The options (choice, option) that no order can make, each with the circle that bars it.

    A choice that is left with one option makes that option's operations certain, which may bar others in
    turn. Raises NoOrderError, naming the shortest circle and what would break it, when operations that are
    made in any case stand in a circle, when a choice has no option left, or when no combination of options
    has an order; `file` is the job file, to be named then, and so are the options that were barred `before`.
    """
    circles = _Circles(worklist, edges, file)
    left = {choice.id: dict(choice.options) for choice in worklist.choices}
    optional = {op for choice in worklist.choices for op in choice.operations}
    always = {op.id for op in worklist.operations} - optional
    barred: dict[tuple[str, str], str] = {}
    while True:
        certain = always.union(*(set.intersection(*map(set, options.values())) for options in left.values()))
        if circle := circles.shortest(certain):
            raise NoOrderError([circles.fault(circle, barring({**before, **barred}))])
        found = {
            (choice, name): circle
            for choice, options in left.items()
            for name, ops in options.items()
            if (circle := circles.shortest(certain.union(ops)))
        }
        for (choice, name), circle in found.items():
            barred[choice, name] = circles.sentence(circle)
            del left[choice][name]
        if empty := [choice for choice, options in left.items() if not options]:
            raise NoOrderError(
                circles.fault(circle, f'choice "{choice}", option "{name}"')
                for (choice, name), circle in found.items()
                if choice in empty
            )
        if not found:
            break
    _demand_combination(circles, certain, left)
    return barred


def _musts(worklist: Worklist, rules: Sequence[Rule]) -> Iterator[Edge]:
    """Every must-edge, before it is asked whether both operations are ever made together."""
    ids = {operation.id for operation in worklist.operations}
    for operation in worklist.operations:
        for before in operation.after:
            if before in ids:
                yield Edge(before=before, after=operation.id, rule=AFTER, why="asked for in the job")
    yield from _surface_law(worklist.operations)
    yield from _from_rules(worklist, [rule for rule in rules if rule.strength == "must"])


def _wishes(worklist: Worklist, rules: Sequence[Rule]) -> Iterator[Edge]:
    yield from _from_rules(worklist, [rule for rule in rules if rule.strength == "prefer"])


def _from_rules(worklist: Worklist, rules: Sequence[Rule]) -> Iterator[Edge]:
    for rule in rules:
        for before, after in rule.pairs(worklist.operations):
            yield Edge(
                before=before.id,
                after=after.id,
                rule=rule.id,
                why=rule.sentence,
                strength=rule.strength,
                price_minutes=rule.price_minutes,
            )


def _surface_law(operations: Sequence[Operation]) -> Iterator[Edge]:
    """What makes a surface comes before what registers on it, and that before what removes it.

    Several operations may make a surface (the ways of a choice): all come first. One that removes a surface
    and makes it anew counts as its maker: afterwards the surface is there. No operation waits for itself.
    """
    makers: dict[str, list[Operation]] = defaultdict(list)
    removers: dict[str, list[Operation]] = defaultdict(list)
    for operation in operations:
        for surface in operation.makes:
            makers[surface].append(operation)
        for surface in operation.destroys:
            if surface not in operation.makes:
                removers[surface].append(operation)
    for user in operations:
        for surface in user.registers_on:
            for maker in makers[surface]:
                if maker.id != user.id:
                    makes = f"{_name(maker, user)} makes {_spoken(surface)}"
                    why = f"{makes}, which {_name(user, maker)} registers on"
                    yield Edge(before=maker.id, after=user.id, rule=MADE, why=why)
            for remover in removers[surface]:
                if remover.id != user.id:
                    uses = f"{_name(user, remover)} registers on {_spoken(surface)}"
                    why = f"{uses}, which {_name(remover, user)} removes"
                    yield Edge(before=user.id, after=remover.id, rule=KEPT, why=why)


def _name(operation: Operation, other: Operation) -> str:
    """An operation in a sentence with another: "the plunge", or by its id where the kinds do not tell them
    apart."""
    return f"the {operation.kind}" if operation.kind and operation.kind != other.kind else f'"{operation.id}"'


def _spoken(surface: str) -> str:
    """ "front/left end" as "the left end of front"."""
    part, _, name = surface.rpartition("/")
    return f"the {name} of {part}" if part else f"the {name}"


class _Ways:
    """Which operations are made together: two of different options of one choice never are."""

    def __init__(self, worklist: Worklist) -> None:
        self.options: dict[str, tuple[str, frozenset[str]]] = {}
        """For an optional operation its choice and the options that make it."""
        for choice in worklist.choices:
            for name, ops in choice.options.items():
                for op in ops:
                    _, names = self.options.get(op, (choice.id, frozenset()))
                    self.options[op] = choice.id, names | {name}
        self.all = {choice.id: frozenset(choice.options) for choice in worklist.choices}

    def never_both(self, a: str, b: str) -> bool:
        """Whether no combination of options makes both."""
        choice, options = self.options.get(a, ("", frozenset()))
        other, others = self.options.get(b, ("", frozenset()))
        return choice != "" and choice == other and not options & others

    def drop_never_both(self, edges: Iterable[Edge]) -> Iterator[Edge]:
        """The edges whose operations some combination makes together."""
        return (edge for edge in edges if not self.never_both(edge.before, edge.after))

    def made_with(self, op: str, *others: str) -> bool:
        """Whether `op` is made whenever the others all are (as far as a look at its own choice tells)."""
        if op not in self.options:
            return True
        choice, options = self.options[op]
        return self.possible(choice, *others) <= options

    def possible(self, choice: str, *others: str) -> frozenset[str]:
        """The options of a choice that can be taken where the others are all made."""
        possible = self.all[choice]
        for other in others:
            if other in self.options and self.options[other][0] == choice:
                possible &= self.options[other][1]
        return possible


class _Settled:
    """What the must-edges say, directly or through operations that are then made too, about a pair."""

    def __init__(self, musts: Iterable[Edge], ways: _Ways) -> None:
        self.ways = ways
        self.next: dict[str, set[str]] = defaultdict(set)
        for edge in musts:
            self.next[edge.before].add(edge.after)
        self.reach: dict[tuple[object, object], set[str]] = {}

    def says(self, wish: Edge) -> bool:
        """Whether the order of the pair is settled, in favour of the preference or against it."""
        return self._leads(wish.before, wish.after) or self._leads(wish.after, wish.before)

    def reversed(self, wish: Edge) -> bool:
        """Whether the pair must stand the other way round."""
        return self._leads(wish.after, wish.before)

    def _leads(self, start: str, goal: str) -> bool:
        """Whether a chain of must-edges leads from `start` to `goal` wherever both are made, be it by another way for
        each option of a choice."""
        key = start, self.ways.options.get(goal)
        if key not in self.reach:
            self.reach[key] = self._reached(start, goal)
        return goal in self.reach[key]

    def _reached(self, start: str, goal: str) -> set[str]:
        """All that comes after `start` wherever it is made together with it and with `goal`."""
        reached = self._onward([start], set(), lambda op: self.ways.made_with(op, start, goal))
        while True:
            found: set[str] = set()
            for choice, ops in self._open(reached, start, goal).items():
                ways = []
                for option in self.ways.possible(choice, start, goal):
                    taken = [op for op in ops if option in self.ways.options[op][1]]
                    if not taken:  # this option leads nowhere else, and so the choice does not
                        break

                    def made(op: str, choice: str = choice, option: str = option) -> bool:
                        own, options = self.ways.options.get(op, ("", frozenset()))
                        return option in options if own == choice else self.ways.made_with(op, start, goal)

                    ways.append(self._onward(taken, reached, made))
                else:
                    found |= set.intersection(*ways)
            if not found:
                return reached
            reached |= (
                found  # with all that what is made of it leads to: each way has been followed on by that
            )

    def _open(self, reached: set[str], start: str, goal: str) -> dict[str, list[str]]:
        """Of what is reached, for each choice the operations that it depends on."""
        still: dict[str, list[str]] = defaultdict(list)
        for op in reached:
            if not self.ways.made_with(op, start, goal):
                still[self.ways.options[op][0]].append(op)
        return still

    def _onward(self, front: list[str], known: set[str], made: Callable[[str], bool]) -> set[str]:
        """What must-edges lead to from `front` by way of what is made, without what is known already."""
        reached: set[str] = set()
        while front:
            for op in self.next[front.pop()] - reached - known:
                reached.add(op)
                if made(op):
                    front.append(op)
        return reached


class _Circles:
    """Looks for circles among operations that are made together, and words them."""

    def __init__(self, worklist: Worklist, edges: Iterable[Edge], file: str) -> None:
        self.file = file
        self.reasons = _by_pair(edges)
        self.place = {operation.id: index for index, operation in enumerate(worklist.operations)}

    def shortest(self, made: Iterable[str]) -> list[str]:
        """The shortest circle among these operations, [a, b, ..., a], from the one listed first; [] where
        there is none."""
        made = set(made)
        pairs = [pair for pair in self.reasons if made.issuperset(pair)]
        sorter = TopologicalSorter[str]()
        for before, after in pairs:
            sorter.add(after, before)
        try:
            sorter.prepare()
        except CycleError:
            return self._shortest(pairs)
        return []

    def _shortest(self, pairs: Sequence[tuple[str, str]]) -> list[str]:
        import networkx as nx  # type: ignore[import-untyped]

        graph = nx.DiGraph(pairs)
        found = []
        for component in nx.strongly_connected_components(graph):
            inside = graph.subgraph(component)
            for start in sorted(component, key=self.place.__getitem__):
                paths = nx.single_source_shortest_path(inside, start)
                backs = [paths[op] for op in inside.predecessors(start)]
                if backs:
                    path = min(backs, key=lambda path: (len(path), [self.place[op] for op in path]))
                    found.append([*path, start])
        return min(found, key=lambda circle: (len(circle), [self.place[op] for op in circle]))

    def sentence(self, circle: Sequence[str]) -> str:
        """The circle as a chain of sentences."""
        links = [
            f'"{before}" must come before "{after}" because {self._because(before, after)}'
            for before, after in pairwise(circle)
        ]
        return "; ".join([*links, f'and so "{circle[0]}" before itself'])

    def fault(self, circle: Sequence[str], where: str = "") -> Fault:
        """The circle as a fault, with what would break it."""
        breaks = [text for before, after in pairwise(circle) if (text := self._break(before, after))]
        unbreakable = (
            "other surfaces to register on, or other work; no rule that can be switched off has a part in it"
        )
        accepted = f"any one of these would break the circle: {'; '.join(breaks)}" if breaks else unbreakable
        return Fault(f"no order is possible: {self.sentence(circle)}", self.file, where, accepted=accepted)

    def _because(self, before: str, after: str) -> str:
        """The reasons of one link, those that nothing can switch off first."""
        reasons = sorted(self.reasons[before, after], key=lambda edge: edge.rule not in (MADE, KEPT))
        texts = [
            "the job asks for it (`after`)" if edge.rule == AFTER else f"{edge.why} [{edge.rule}]"
            for edge in reasons
        ]
        return ", and ".join(dict.fromkeys(texts))

    def _break(self, before: str, after: str) -> str:
        """What would take the link away, or "" where only other work would."""
        rules = dict.fromkeys(edge.rule for edge in self.reasons[before, after])
        if rules.keys() & {MADE, KEPT}:
            return ""
        return " and ".join(
            f'"{before}" taken out of `after` of "{after}"'
            if rule == AFTER
            else f'rule "{rule}" switched off'
            for rule in rules
        )


def _demand_combination(
    circles: _Circles, certain: set[str], left: Mapping[str, Mapping[str, Sequence[str]]]
) -> None:
    """Look for a combination of options that has an order; raise NoOrderError where all of them were tried
    in vain."""
    choices = [(choice, options) for choice, options in left.items() if len(options) > 1]
    tries = 0
    first: tuple[list[str], str] | None = None

    def found(made: set[str], index: int, taken: tuple[str, ...]) -> bool:
        nonlocal tries, first
        if index == len(choices) or tries > COMBINATIONS_TRIED:
            return True
        choice, options = choices[index]
        for name, ops in options.items():
            tries += 1
            together = (*taken, f'option "{name}" of choice "{choice}"')
            if circle := circles.shortest(made.union(ops)):
                first = first or (circle, " with ".join(together))
            elif found(made.union(ops), index + 1, together):
                return True
        return False

    if not found(certain, 0, ()) and first:
        raise NoOrderError([circles.fault(first[0], f"every combination of options; {first[1]}, for one")])


def _by_pair(edges: Iterable[Edge]) -> dict[tuple[str, str], list[Edge]]:
    """The must-edges by pair."""
    pairs: dict[tuple[str, str], list[Edge]] = defaultdict(list)
    for edge in edges:
        if edge.strength == "must":
            pairs[edge.before, edge.after].append(edge)
    return dict(pairs)


def _ordered(worklist: Worklist, edges: Iterable[Edge]) -> tuple[Edge, ...]:
    """The edges without repetition, sorted by where their operations stand in the list."""
    place = {operation.id: index for index, operation in enumerate(worklist.operations)}
    return tuple(sorted(dict.fromkeys(edges), key=lambda edge: (place[edge.before], place[edge.after])))


def _count(wishes: Sequence[Edge]) -> str:
    return f"{counted(len(wishes), 'pair')} of operations"


def barring(barred: Mapping[tuple[str, str], str]) -> str:
    """Where options had been barred before what is left was found to have no order: which."""
    names = [f'option "{name}" of choice "{choice}"' for choice, name in barred]
    return f"without {', '.join(names)} (barred: {'; '.join(barred.values())})" if names else ""
