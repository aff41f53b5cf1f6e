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

from sequencer.solve.floor import Floor, State
from sequencer.solve.patterns import FAR, Pattern, Wheel

TRIAL = 400
"""States a trial merge may open before it is judged by what it knows; a merged pattern is given more later.
"""


def merge(
    floor: Floor,
    wheels: list[Wheel],
    root: State,
    tick: Callable[[], None],
    seconds: float,
    told: Callable[[int], None],
) -> list[Pattern]:
    """Patterns on a partition of the dials whose bounds at the root add up to much.

    `seconds` limits the trials; `told` hears of the sum whenever it grows.
    """
    until = monotonic() + seconds
    rest, values, _ = root
    patterns = [Pattern(floor, wheels, (d,), (), tick) for d in range(len(wheels))]
    patterns = [pattern for pattern in patterns if pattern.lots]
    cost = {id(p): p.bound(p.project(rest, values), FAR) for p in patterns}
    told(sum(cost.values()))
    trials: dict[tuple[int, int], tuple[int, Pattern]] = {}
    budget = TRIAL
    while len(patterns) > 2 and monotonic() < until:
        best: tuple[int, int, Pattern, Pattern, Pattern] | None = None
        for i, one in enumerate(patterns):
            for other in patterns[:i]:
                if monotonic() > until:
                    break
                pair = (id(one), id(other))
                if pair not in trials:
                    joint = Pattern(
                        floor, wheels, tuple(sorted(one.dials + other.dials)), (one, other), tick, budget
                    )
                    if not any(one.wheels[0].named & w.named for w in other.wheels) and not (
                        one.lots & other.lots
                    ):
                        continue
                    known = cost[id(one)] + cost[id(other)]
                    got = joint.bound(joint.project(rest, values), FAR)
                    trials[pair] = (max(0, got - known), joint)
                gain, joint = trials[pair]
                size = len(joint.dials)
                if gain and (best is None or (gain, -size) > best[:2]):
                    best = (gain, -size, joint, one, other)
        if best is None:
            break
        _, _, joint, one, other = best
        joint.budget = 20_000
        joint.tired.clear()
        patterns = [p for p in patterns if p is not one and p is not other] + [joint]
        cost[id(joint)] = cost[id(one)] + cost[id(other)] + best[0]
        told(sum(cost[id(p)] for p in patterns))
    return patterns
