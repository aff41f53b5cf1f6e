"""The mergers a partition of the dials was made by, told so that another problem much like this one can follow them.

Dials are told by station and label: problems made from the same one (outlines of its choices) number their dials
differently, because those that do not matter are dropped (`reduce`). Nothing depends on a name being the only one of
its kind: mergers only say which patterns to try, and any partition of the dials bounds.
"""

from __future__ import annotations

from collections.abc import Iterable

from sequencer.solve.floor import Floor

Name = tuple[int, str]
"""Station and label of a dial."""

Steps = tuple[tuple[frozenset[Name], frozenset[Name]], ...]
"""Pairs of sets of dials that were merged, in this order."""

WALKING: Name = (-1, "")
"""Walking, the last dial of every floor."""


def names(floor: Floor, dials: Iterable[int]) -> frozenset[Name]:
    """What these dials of the floor are called."""
    known = floor.problem.dials
    return frozenset((known[d].station, known[d].label) if d != floor.walking else WALKING for d in dials)
