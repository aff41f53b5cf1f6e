"""What is known of a problem before it is searched: an order, and trees of mergers that served one much like it.

Dials of the trees are told by station and label: problems made from the same one (outlines of its choices) number their
dials differently, because those that do not matter are dropped (`reduce`). Nothing depends on a name being the only one
of its kind: a forest only says which patterns to merge, and any partition of the dials bounds.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple, TypeAlias

from sequencer.solve.proof.trees import Course, Tree, dials_of, ordered
from sequencer.solve.transitions.floor import Floor


@dataclass(frozen=True)
class Name:
    """Station and label of a dial."""

    station: int
    label: str


WALKING = Name(-1, "")
"""Walking, the last dial of every floor."""

NamedTree: TypeAlias = "Name | tuple[NamedTree, NamedTree]"
"""A tree with names for dials."""

NamedForest: TypeAlias = tuple[NamedTree, ...]


class NamedCourse(NamedTuple):
    """A course with names for dials; without trees where none are known."""

    forest: NamedForest = ()
    back: bool = False


UNCHARTED = NamedCourse()


@dataclass(frozen=True)
class Known:
    """A legal order of the lots and what it costs, work included; what to go by. Either may be missing."""

    order: tuple[int, ...] = ()
    cost: int = 0
    course: NamedCourse = UNCHARTED


UNKNOWN = Known()


def named(floor: Floor, course: Course) -> NamedCourse:
    """A course of the floor, by names."""
    return NamedCourse(tuple(_named(floor, tree) for tree in course.forest), course.back)


def numbered(floor: Floor, course: NamedCourse) -> Course | None:
    """A course of the floor like one of another: dials that are not here are left out, those not named stand alone.
    None if there are no trees.
    """
    if not course.forest:
        return None
    known: dict[Name, list[int]] = {}
    for d in range(floor.walking, -1, -1):
        known.setdefault(_name(floor, d), []).append(d)
    trees = tuple(found for tree in course.forest if (found := _numbered(known, tree)) is not None)
    placed = {d for tree in trees for d in dials_of(tree)}
    alone = (d for d in range(floor.walking + 1) if d not in placed)
    return Course(ordered((*trees, *alone)), course.back)


def _name(floor: Floor, d: int) -> Name:
    if d == floor.walking:
        return WALKING
    dial = floor.problem.dials[d]
    return Name(dial.station, dial.label)


def _named(floor: Floor, tree: Tree) -> NamedTree:
    if isinstance(tree, int):
        return _name(floor, tree)
    one, other = tree
    return _named(floor, one), _named(floor, other)


def _numbered(known: dict[Name, list[int]], tree: NamedTree) -> Tree | None:
    """The tree of dials; those taken are known no more."""
    if isinstance(tree, Name):
        dials = known.get(tree)
        return dials.pop() if dials else None
    one, other = (_numbered(known, kid) for kid in tree)
    if one is None or other is None:
        return other if one is None else one
    return one, other
