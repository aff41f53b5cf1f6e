"""Which dials to look at together: patterns merged from the bottom up.

Dials bind each other where the same lots name them in different combinations. So patterns start as single
dials; the two whose joint exact cost exceeds the sum of theirs most become one, guided in its own searches by
the two it came from; again and again until no pair gains anything or the time for it is spent (hierarchical
additive patterns; the idea of choosing patterns by what they add is from Haslum, Botea, Helmert, Bonet and
Koenig, 2007).
"""

from __future__ import annotations

from collections.abc import Callable
from time import monotonic

from sequencer.solve.bounds.patterns import Pattern
from sequencer.solve.bounds.tables import TablePattern
from sequencer.solve.bounds.wheels import Wheel, narrow
from sequencer.solve.clock import ENDLESS
from sequencer.solve.problem import FAR
from sequencer.solve.relation import bits
from sequencer.solve.transitions.floor import Floor, State

TRIAL = 400
"""States a trial merge may open before it is judged by what it knows."""

WORK = 20_000
"""States a merged pattern may open for one question."""

PAIRED_VALUES = 12
"""Values of a dial up to which they are paired up; more would take longer than it helps."""


def merge(
    floor: Floor,
    wheels: list[Wheel],
    singles: list[Pattern],
    root: State,
    tick: Callable[[], None],
    seconds: float,
    told: Callable[[int], None],
    effort: int = ENDLESS,
) -> list[Pattern]:
    """Patterns on a partition of the dials, from single ones, whose bounds at the root add up to much.

    `seconds` limits the trials, and so does `effort`, the states all of them together may open. `told` hears of
    the sum whenever it grows.
    """
    until = monotonic() + seconds
    rest, values = root
    patterns = list(singles)
    cost = {p: p.bound(p.project(rest, values), FAR) for p in patterns}
    told(sum(cost.values()))

    def joint(one: Pattern, other: Pattern) -> Pattern | None:
        if not one.lots & other.lots or isinstance(one, TablePattern) or isinstance(other, TablePattern):
            return None
        dials = tuple(sorted(one.dials + other.dials))
        return Pattern(floor, [wheels[d] for d in dials], dials, (one, other), tick, TRIAL)

    def grown() -> None:
        told(sum(p.known(p.project(rest, values)) for p in patterns))

    _pair_up(patterns, joint, root, until, grown, effort)
    return patterns


def one_dial(floor: Floor, wheel: Wheel, d: int, root: State, tick: Callable[[], None]) -> Pattern:
    """The pattern of one dial, guided by patterns of few of its values, merged in the same way."""
    if len(wheel.stay) > 1 and TablePattern.fits(wheel):
        return TablePattern(floor, wheel, d)
    groups: dict[Pattern, int] = {}
    used = 0
    for stay in wheel.stay.values():
        used |= stay
    if wheel.price is not None and used.bit_count() <= PAIRED_VALUES:
        for v in bits(used):
            pattern = Pattern(floor, [narrow(wheel, 1 << v)], (d,), (), tick)
            if pattern.lots:
                groups[pattern] = 1 << v

    def joint(one: Pattern, other: Pattern) -> Pattern | None:
        group = groups[one] | groups[other]
        pattern = Pattern(floor, [narrow(wheel, group)], (d,), (one, other), tick, TRIAL)
        groups[pattern] = group
        return pattern

    parts = list(groups)
    _pair_up(parts, joint, root, FAR, lambda: None)
    if len(parts) == 1 and groups[parts[0]] == used:
        return parts[0]
    return Pattern(floor, [wheel], (d,), tuple(parts), tick)


def _pair_up(
    patterns: list[Pattern],
    joint: Callable[[Pattern, Pattern], Pattern | None],
    root: State,
    until: float,
    grown: Callable[[], None],
    effort: int = ENDLESS,
) -> None:
    """Replace, again and again, the two patterns whose joint bound gains most by their merger."""
    rest, values = root
    trials: dict[tuple[Pattern, Pattern], tuple[int, Pattern | None]] = {}
    while len(patterns) > 1:
        best: tuple[int, int, Pattern, Pattern, Pattern] | None = None
        for i, one in enumerate(patterns):
            for other in patterns[:i]:
                if (one, other) not in trials:
                    if monotonic() > until or effort < 0:
                        return
                    pattern = joint(one, other)
                    gain = 0
                    if pattern is not None:
                        before = pattern.opened
                        got = pattern.bound(pattern.project(rest, values), FAR)
                        effort -= pattern.opened - before
                        gain = got - sum(p.known(p.project(rest, values)) for p in (one, other))
                    trials[one, other] = (gain, pattern)
                gain, pattern = trials[one, other]
                if pattern is not None and gain > 0:
                    size = -pattern.lots.bit_count()
                    if best is None or (gain, size) > best[:2]:
                        best = (gain, size, pattern, one, other)
        if best is None:
            return
        _, _, pattern, one, other = best
        pattern.budget = WORK
        pattern.tired.clear()
        patterns[:] = [p for p in patterns if p is not one and p is not other] + [pattern]
        trials = {pair: trial for pair, trial in trials.items() if one not in pair and other not in pair}
        grown()
