"""The readings of a setting that can matter to some operations: at every other one a plan costs no less.

Wherever a value within ranges is free to choose, it can be lowered until it meets the low end of a range, a value
asked for, a stop, or one of these less the tolerance: the set of operations it serves does not shrink on
the way, and its price does not rise, unless a stop costs more than a free value. Nor does it come within tolerance of
another value the setting may stand at, from which it could no longer be moved, unless two of all these places are
within twice the tolerance of each other. In both cases readings just above such low ends are tried, too (`_pushed`).
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from itertools import pairwise
from math import isfinite

from sequencer.model.shop import SLACK, Setting
from sequencer.operations import Between, OneOf, Wanted
from sequencer.planfile import Reading

_MOST = 1200
"""Readings tried at most for a setting because others push them, but four for each place."""

_APART = 1e-6
"""Readings nearer than this are one mark."""


def candidates(setting: Setting, wanted: Sequence[Wanted]) -> list[Reading]:
    """The readings to try for what operations want of a setting, in no order, some of them perhaps twice. Not all are
    within what some operation wants.
    """
    if setting.values:
        return list(setting.values)
    points: list[Reading] = []
    for want in wanted:
        match want:
            case OneOf():
                points.extend(want.any)
            case Between():
                points.append(want.min)
            case _:
                points.append(want)
    points.extend(stop.value for stop in setting.stops)
    if setting.tolerance > 0:
        points.extend([point - setting.tolerance for point in points if not isinstance(point, str)])
    points.extend(_pushed(setting, wanted))
    return points


def _places(setting: Setting, wanted: Sequence[Wanted]) -> list[float]:
    """The ends of ranges, values asked for, stops and start of a setting, each once, in order."""
    places: list[Reading | None] = [setting.start, *(stop.value for stop in setting.stops)]
    for want in wanted:
        match want:
            case OneOf():
                places.extend(want.any)
            case Between():
                places.extend((want.min, want.max))
            case _:
                places.append(want)
    return sorted({place for place in places if isinstance(place, (int, float)) and isfinite(place)})


def _crowded(setting: Setting, places: Sequence[float]) -> list[float]:
    """Those of the places that have another one within twice the tolerance."""
    near = [
        (low, high) for low, high in pairwise(places) if SLACK < high - low <= 2 * setting.tolerance + SLACK
    ]
    return sorted({place for pair in near for place in pair})


def _halfway(setting: Setting) -> list[float]:
    """Where one stop gives way to the next: a reading within tolerance of both counts as at the nearer."""
    stops = sorted(stop.value for stop in setting.stops if not isinstance(stop.value, str))
    return [(low + high) / 2 for low, high in pairwise(stops) if high - low <= 2 * setting.tolerance + SLACK]


def _pushed(setting: Setting, wanted: Sequence[Wanted]) -> list[float]:
    """Readings just above low ends, for settings that must leave one reading for another one near it.

    Take an order and the moves made in it, as few as are cheapest, and for each two that follow each other which is the
    higher. What is asked of the readings then is a low end and a high end for each, and that one of two stands more
    than the tolerance above the other; where that can be met, the lowest readings meet it. Each of these is the low
    end of something (a range, a value, less the tolerance where the setting only stays there; where a stop's reset
    begins to count or ceases to), or lies just above such a place and some tolerances more: pushed by the one before or
    after it, which may be pushed itself. Two moves that follow each other never lie both where nothing begins or
    ends for four tolerances: one reading there, clear of the one before and the one after, would do for both.
    So a push ends in such room.

    Nothing is pushed where no two places are within twice the tolerance of each other and no stop is dearer than a free
    reading. `_MOST` bounds what is tried where everything lies close together.
    """
    tolerance = setting.tolerance
    ranges = sum(isinstance(want, Between) for want in wanted)
    halfway = _halfway(setting)
    places = _places(setting, wanted)
    if halfway or any(stop.reset > setting.reset for stop in setting.stops):
        pushing: Sequence[float] = places
    else:
        pushing = _crowded(setting, places)
    if not ranges or not pushing:
        return []
    ends = sorted({*halfway, *(place + k * tolerance for place in places for k in (-1, 0, 1))})
    marks = set(halfway)
    for place in pushing:
        mark = place - tolerance
        for step in range(max(4, _MOST // len(pushing))):
            marks.add(mark)
            if tolerance <= SLACK or step > ranges + 1 or _roomy(ends, mark, tolerance):
                break
            mark += tolerance
    return [*halfway, *_above(sorted(marks), ends, tolerance)]


def _roomy(ends: Sequence[float], mark: float, tolerance: float) -> bool:
    """Whether from the mark to a tolerance above it nothing begins or ends, nor for four tolerances around."""
    above = bisect_right(ends, mark + _APART)
    if above == len(ends):
        return True
    clear = ends[above] >= mark + tolerance - _APART
    return clear and above > 0 and ends[above] - ends[above - 1] > 4 * tolerance + _APART


def _above(marks: Sequence[float], ends: Iterable[float], tolerance: float) -> list[float]:
    """A reading just above each mark, before anything else begins or ends; of two marks a tolerance apart the one above
    the higher mark more, so that there is a move between them.
    """
    rungs: list[int] = []
    for mark in marks:
        at = bisect_left(marks, mark - tolerance - _APART)
        below = at < len(rungs) and marks[at] <= mark - tolerance + _APART
        rungs.append(rungs[at] + 1 if below else 1)
    steps = (high - low for low, high in pairwise(sorted({*marks, *ends})) if high - low > _APART)
    rung = min(steps, default=1.0) / (max(rungs) + 1)
    return [mark + rung * count for mark, count in zip(marks, rungs, strict=True)]
