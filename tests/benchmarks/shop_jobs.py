"""Shop jobs of any size for the benchmarks, the same for the same seed: invented, shaped like the trade.

Three stations with the settings and round prices of a small shop (half minutes); products of a few parts,
each part with its own sequence of cuts that share the product's dimensions. Features are switched on one by
one.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from random import Random

import networkx as nx

from sequencer.solve.problem import Dial, Lot, Mates, Need, Problem, Wish

FEATURES = ("ranges", "stops", "tables", "starts", "forgets", "mates", "choices", "wishes")

WALK = 2  # one minute, in half minutes

# station -> its settings: name, half minutes for a reset, how many values in use, whether they are names
STATIONS: dict[str, tuple[tuple[str, int, int, bool], ...]] = {
    "saw": (
        ("tilt", 8, 4, False),
        ("fence", 3, 9, False),
        ("gauge", 6, 4, False),
        ("height", 2, 5, False),
        ("blade", 10, 3, True),
    ),
    "mortiser": (
        ("cutter", 6, 3, True),
        ("angle", 8, 3, False),
        ("fence height", 3, 7, False),
        ("depth", 2, 5, False),
    ),
    "router": (("bit", 6, 4, True), ("fence", 4, 5, False), ("height", 2, 4, False)),
}
USES = {"saw": 0.5, "mortiser": 0.3, "router": 0.2}


@dataclass(frozen=True)
class _Cut:
    """A lot before it is numbered: product, how far along its part it comes (0 to 1), the values it needs."""

    product: int
    stage: float
    station: int
    values: dict[int, int]


def shop_job(lots: int, seed: int, features: frozenset[str] = frozenset()) -> Problem:
    """A job of exactly `lots` lots (with choices: those of all options counted)."""
    rng = Random(f"{lots} {seed} {sorted(features)}")
    dials = _dials(rng, features)
    cuts: list[_Cut] = []
    pairs: list[tuple[int, int]] = []
    product = 0
    while len(cuts) < lots:
        palette = [rng.sample(range(d.values), min(d.values, rng.randint(1, 3))) for d in dials]
        for _ in range(rng.randint(2, 4)):
            _add_part(rng, dials, product, palette, cuts, pairs)
        product += 1
    del cuts[lots:]
    pairs = [pair for pair in pairs if max(pair) < lots]
    for _ in range(lots // 4):  # parts of one product wait for each other
        a, b = rng.sample(range(lots), 2)
        if cuts[a].product == cuts[b].product and cuts[a].stage < cuts[b].stage:
            pairs.append((a, b))
    stations = range(len(STATIONS))
    problem = Problem(
        lots=tuple(_lot(rng, n, cut, dials, features) for n, cut in enumerate(cuts)),
        dials=dials,
        walk=tuple(tuple(0 if a == b else WALK for b in stations) for a in stations),
        precedence=tuple(sorted(set(pairs))),
    )
    if "choices" in features:
        problem = replace(problem, choices=_choices(rng, problem, cuts))
    if "mates" in features:
        problem = replace(problem, mates=_mates(rng, problem, cuts))
    if "wishes" in features:
        problem = replace(problem, wishes=_wishes(rng, cuts))
    return problem


def _dials(rng: Random, features: frozenset[str]) -> tuple[Dial, ...]:
    dials = []
    for station, settings in enumerate(STATIONS.values()):
        for name, reset, count, named in settings:
            values = range(count)
            price = [reset] * count
            if "stops" in features and not named:
                price = [max(1, reset // 3) if rng.random() < 0.3 else reset for _ in values]
            move = [[0 if a == b else price[b] for b in values] for a in values]
            first = price
            if "tables" in features and named:
                move = [[0 if a == b else rng.randint(reset // 2, 2 * reset) for b in values] for a in values]
                first = [0] * count
            dials.append(
                Dial(
                    label=f"{list(STATIONS)[station]} {name}",
                    station=station,
                    move=tuple(map(tuple, move)),
                    first=tuple(first),
                    start=0 if "starts" in features else None,
                )
            )
    if "forgets" in features:
        move = ((0, 2, 2), (2, 0, 2), (2, 2, 0))
        dials.append(Dial("mortiser clamping", 1, move, (2, 2, 2), keeps=False))
    return tuple(dials)


def _add_part(
    rng: Random,
    dials: tuple[Dial, ...],
    product: int,
    palette: list[list[int]],
    cuts: list[_Cut],
    pairs: list[tuple[int, int]],
) -> None:
    """The cuts of one part, each after the one before it or after an earlier one."""
    mine: list[int] = []
    count = rng.randint(3, 8)
    for k in range(count):
        station = rng.choices(range(len(STATIONS)), list(USES.values()))[0]
        values = {
            d: rng.choice(palette[d])
            for d, dial in enumerate(dials)
            if dial.station == station and rng.random() < 0.7
        }
        if mine:
            pairs.append((mine[-1] if rng.random() < 0.6 else rng.choice(mine), len(cuts)))
        mine.append(len(cuts))
        cuts.append(_Cut(product, k / count, station, values))


def _lot(rng: Random, number: int, cut: _Cut, dials: tuple[Dial, ...], features: frozenset[str]) -> Lot:
    needs = {}
    for d, value in cut.values.items():
        mask = 1 << value
        if "ranges" in features and rng.random() < 1 / 3:
            for other in range(value, min(dials[d].values, value + rng.randint(2, 3))):
                mask |= 1 << other
        needs[d] = Need(mask, mask)
    return Lot(f"lot {number}", cut.station, needs)


def _choices(rng: Random, problem: Problem, cuts: list[_Cut]) -> tuple[tuple[frozenset[int], ...], ...]:
    """One choice for every ten lots, between two ways of two or three cuts each, taken from one product."""
    free = list(range(len(cuts)))
    rng.shuffle(free)
    choices = []
    while len(choices) < len(cuts) // 10 and free:
        lot = free.pop()
        near = [other for other in free if cuts[other].product == cuts[lot].product][: rng.randint(3, 5)]
        if len(near) >= 3:
            free = [other for other in free if other not in near]
            half = len(near) // 2
            choices.append((frozenset([lot, *near[:half]]), frozenset(near[half:])))
    return tuple(choices)


def _mates(rng: Random, problem: Problem, cuts: list[_Cut]) -> tuple[Mates, ...]:
    """Pairs at the mortiser, one for every twenty lots, that can all be made one right after the other."""
    optional = {lot for choice in problem.choices for option in choice for lot in option}
    ground = nx.DiGraph(problem.precedence)
    ground.add_nodes_from(range(len(cuts)))
    groups: list[Mates] = []
    used: set[int] = set()
    tries = 0
    while len(groups) < max(1, len(cuts) // 20) and tries < 50 * len(cuts):
        tries += 1
        a, b = rng.sample(range(len(cuts)), 2)
        held = {
            d
            for d in (6, 7)
            if cuts[a].values.get(d) is not None and cuts[a].values[d] == cuts[b].values.get(d)
        }
        if not held or {a, b} & (used | optional):
            continue
        joined = nx.contracted_nodes(ground, a, b, self_loops=False)
        if nx.is_directed_acyclic_graph(joined):
            ground = joined
            used |= {a, b}
            groups.append(Mates(frozenset((a, b)), frozenset(held)))
    return tuple(groups)


def _wishes(rng: Random, cuts: list[_Cut]) -> tuple[Wish, ...]:
    """One preference for every ten lots, between cuts of one product, worth half a minute to two minutes."""
    wishes = []
    for _ in range(len(cuts)):
        a, b = rng.sample(range(len(cuts)), 2)
        if cuts[a].product == cuts[b].product and len(wishes) < len(cuts) // 10:
            wishes.append(Wish(a, b, rng.randint(1, 4)))
    return tuple(wishes)
