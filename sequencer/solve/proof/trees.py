"""Trees of mergers: which dials are merged to patterns, and by which patterns on some of the dials each is guided.
A course says from which end of the problem they are gone by, too.
"""

from __future__ import annotations

from collections.abc import Iterator
from random import Random
from typing import NamedTuple, TypeAlias

from sequencer.solve.transitions.floor import Floor

Tree: TypeAlias = "int | tuple[Tree, Tree]"
"""A dial, or two trees merged."""

Forest: TypeAlias = tuple[Tree, ...]
"""Trees on a partition of the dials. Those that come from here are `ordered`."""


class Course(NamedTuple):
    """What an ascent goes by: trees, and whether orders are built from their last lot back (`ends`)."""

    forest: Forest
    back: bool = False


JOINED, APART = 0.05, 0.05
"""How often a change joins two trees, and how often it takes one apart; else a subtree is moved."""

TWICE = 0.3
"""How often a change is made on top of another one."""


def changed(forest: Forest, chance: Random) -> Forest:
    """Another forest, a little different, as a rule: prune and regraft (known from searches for phylogenetic trees;
    from memory).
    """
    forest = _changed(forest, chance)
    return ordered(_changed(forest, chance) if chance.random() < TWICE else forest)


def ordered(forest: Forest) -> Forest:
    """The same trees written in one way only, so that none is tried twice; what has fewer dials first, for so it is
    asked first, too, which takes fewer states.
    """
    return tuple(sorted(map(_ordered, forest), key=_size))


def by_station(floor: Floor) -> Forest:
    """The dials of each station merged one by one."""
    trees: dict[int, Tree] = {}
    for d in range(floor.walking):
        station = floor.knobs[d].station
        trees[station] = (trees[station], d) if station in trees else d
    return ordered((*trees.values(), floor.walking))


def dials_of(tree: Tree) -> tuple[int, ...]:
    """The dials of a tree, sorted."""
    return tuple(sorted(sub for sub in _subtrees(tree) if isinstance(sub, int)))


def _ordered(tree: Tree) -> Tree:
    if isinstance(tree, int):
        return tree
    one, other = sorted(map(_ordered, tree), key=_size)
    return one, other


def _size(tree: Tree) -> tuple[int, tuple[int, ...]]:
    dials = dials_of(tree)
    return len(dials), dials


def _changed(forest: Forest, chance: Random) -> Forest:
    draw = chance.random()
    if draw < JOINED and len(forest) > 1:
        one, other = chance.sample(forest, 2)
        return (*(tree for tree in forest if tree not in (one, other)), (one, other))
    merged = [tree for tree in forest if isinstance(tree, tuple)]
    if draw < JOINED + APART and merged:
        apart = chance.choice(merged)
        return (*(tree for tree in forest if tree != apart), *apart)
    moved = chance.choice(list(_subtrees(chance.choice(forest))))
    left = [kept for tree in forest if (kept := _without(tree, moved)) is not None]
    if not left:
        return forest
    chosen = chance.randrange(len(left))
    place = chance.choice(list(_subtrees(left[chosen])))
    left[chosen] = _grafted(left[chosen], place, moved)
    return tuple(left)


def _subtrees(tree: Tree) -> Iterator[Tree]:
    """The tree and all within it."""
    yield tree
    if isinstance(tree, tuple):
        for kid in tree:
            yield from _subtrees(kid)


def _without(tree: Tree, taken: Tree) -> Tree | None:
    """What is left when a subtree is taken out."""
    if tree == taken:
        return None
    if isinstance(tree, int):
        return tree
    one, other = (_without(kid, taken) for kid in tree)
    if one is None or other is None:
        return other if one is None else one
    return one, other


def _grafted(tree: Tree, place: Tree, added: Tree) -> Tree:
    """The tree with another one merged to it at this place."""
    if tree == place:
        return tree, added
    if isinstance(tree, int):
        return tree
    one, other = tree
    return _grafted(one, place, added), _grafted(other, place, added)
