"""A good plan soon, better plans later: beam search over the floor.

Layers are single decisions: each state of a layer is followed by every way to make one more lot, with all
that is then free; the most promising states are kept. Promise is the cost so far plus, for each dial alone,
the exact rest cost of its pattern, which is small and soon remembered. Wider beams take longer and usually
find better plans; the best plan so far cuts off whatever cannot beat it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from heapq import nsmallest

from sequencer.solve.bounds.astar import Found, Guide
from sequencer.solve.problem import FAR
from sequencer.solve.transitions.floor import Floor, State


def beam(
    floor: Floor,
    guide: Guide,
    width: int,
    tick: Callable[[], None],
    limit: int = FAR,
    ask: int = FAR,
) -> Found | None:
    """The best plan of a beam of this width that costs less than `limit`, or None.

    With an `ask` of 0 no pattern searches: a dive by what is known already, looking only at the cheapest
    steps. Raises whatever `tick` raises when it is time to stop.
    """
    root = floor.first()
    trail: list[tuple[int, tuple[int, ...]]] = [(-1, root.made)]
    front: list[tuple[int, int, State]] = [(root.cost, 0, root.state)]  # cost, place in the trail, state
    best: tuple[int, int] | None = None
    reached: dict[State, int] = {}
    while front:
        grown: dict[State, tuple[int, int, tuple[int, ...]]] = {}
        for cost, place, state in front:
            if not state[0]:
                if cost < limit:
                    limit, best = cost, (cost, place)
                continue
            for step in floor.steps(state):
                after = cost + step.cost
                old = grown.get(step.state)
                if after < limit and after < reached.get(step.state, FAR) and (old is None or after < old[0]):
                    grown[step.state] = (after, place, step.made)
        ranked = []
        entries = list(grown.items())
        if not ask:
            entries = nsmallest(8 * width, entries, key=lambda entry: entry[1][0])
        for number, (state, (cost, place, made)) in enumerate(entries):
            tick()
            rank = cost + guide.rest(state, ask)
            if rank < limit:
                ranked.append((rank, -cost, number, state, place, made))
        ranked.sort()
        front = []
        for _, minus, _, state, place, made in ranked[:width]:
            reached[state] = -minus
            trail.append((place, made))
            front.append((-minus, len(trail) - 1, state))
    if best is None:
        return None
    cost, place = best
    chain = []
    while place >= 0:
        place, made = trail[place]
        chain.append(made)
    return Found(cost, tuple(item for made in reversed(chain) for item in made))


def widths(lots: int) -> Iterator[int]:
    """Beam widths to try in turn."""
    width = 1 if lots > 300 else 3
    while True:
        yield width
        width *= 4
