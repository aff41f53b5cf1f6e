"""Shop jobs of any size for the benchmarks, the same for the same seed: invented, shaped like the trade.

A family draws up the cuts; features are then switched on one by one, each from a stream of chance of its own, so that
the same seed is the same work with and without them. Costs are half minutes.
"""

from __future__ import annotations

from itertools import accumulate
from random import Random

import networkx as nx

from sequencer.solve.problem import Dial, Lot, Mates, Need, Problem, Wish
from tests.benchmarks import dense, routed
from tests.benchmarks.draft import Draft, Setting

FAMILIES = {"routed": routed.draw_up, "dense": dense.draw_up}

FEATURES = ("ranges", "any", "stops", "tables", "starts", "forgets", "mates", "choices", "wishes")
"""What can be switched on:

ranges: a third of the settings of the cuts accept two or three values side by side; any: a sixth accept one or two
further values wherever they lie; stops: three in ten values are reached for a third of the price; tables: settings
whose values are names have a from-to table, which may break the triangle inequality; starts: every setting stands
somewhere; forgets: one more setting at the mortiser that is lost by leaving; mates: pairs at the mortiser in one visit;
choices: for every ten lots a stretch of work that can be made in two ways; wishes: for every ten lots a preference.
"""

WALK = 2  # one minute

CLAMP = 2  # for clamping the work at the mortiser anew


def shop_job(
    family: str, lots: int, seed: int, features: frozenset[str] = frozenset(), choices: int | None = None
) -> Problem:
    """A job of exactly `lots` lots (with choices: those of all ways counted).

    `choices` is how many, where it is not one for every ten lots.
    """

    def chance(of: str) -> Random:
        return Random(f"{family} {lots} {seed} {of}")

    forks = (lots // 10 if choices is None else choices) if "choices" in features else 0
    draft = FAMILIES[family](chance(f"cuts, {forks} choices"), lots, forks)
    if "forgets" in features:
        _add_clamping(chance("forgets"), draft)
    stations = range(len(draft.stations))
    dials = tuple(_dial(chance(f"{n}"), draft, setting, features) for n, setting in enumerate(draft.settings))
    needs = _needs(chance("accepted"), draft, features)
    work = chance("work")
    optional = {cut for fork in draft.forks for way in fork for cut in way}
    return Problem(
        lots=tuple(
            Lot(f"lot {n}", cut.station, needs[n], work.randint(1, 6) if n in optional else 0)
            for n, cut in enumerate(draft.cuts)
        ),
        dials=dials,
        walk=tuple(tuple(0 if a == b else WALK for b in stations) for a in stations),
        precedence=tuple(sorted(set(draft.pairs))),
        choices=tuple(draft.forks),
        mates=_mates(chance("mates"), draft, optional) if "mates" in features else (),
        wishes=_wishes(chance("wishes"), draft) if "wishes" in features else (),
    )


def _dial(rng: Random, draft: Draft, setting: Setting, features: frozenset[str]) -> Dial:
    values = range(setting.values)
    price = [setting.reset for _ in values]
    if "stops" in features and not setting.named:
        price = [max(1, setting.reset // 3) if rng.random() < 0.3 else setting.reset for _ in values]
    first = price
    move = [[0 if a == b else price[b] for b in values] for a in values]
    if "tables" in features and setting.named:
        first = [0 for _ in values]
        move = [
            [0 if a == b else rng.randint(setting.reset // 3, 2 * setting.reset) for b in values]
            for a in values
        ]
    return Dial(
        label=f"{draft.stations[setting.station]} {setting.name}",
        station=setting.station,
        move=tuple(map(tuple, move)),
        first=tuple(first),
        start=rng.randrange(setting.values) if "starts" in features else None,
        keeps=setting.name != "clamping",
    )


def _needs(rng: Random, draft: Draft, features: frozenset[str]) -> list[dict[int, Need]]:
    """What each cut accepts of each setting it asks for."""
    needs: list[dict[int, Need]] = []
    for cut in draft.cuts:
        needs.append({})
        for n, value in sorted(cut.values.items()):
            setting = draft.settings[n]
            draw, reach, others = rng.random(), rng.randint(2, 3), rng.choices(range(setting.values), k=2)
            mask = 1 << value
            if draw < 1 / 3:
                if "ranges" in features and not setting.named:
                    for other in range(value, min(setting.values, value + reach)):
                        mask |= 1 << other
            elif draw < 1 / 2 and "any" in features:
                for other in others:
                    mask |= 1 << other
            needs[-1][n] = Need(mask, mask)
    return needs


def _add_clamping(rng: Random, draft: Draft) -> None:
    """A setting of the mortiser that most of its cuts ask for and that does not survive leaving."""
    station = draft.stations.index("mortiser")
    draft.settings = (*draft.settings, Setting(station, "clamping", CLAMP, 3, named=True))
    for cut in draft.cuts:
        if cut.station == station and rng.random() < 0.7:
            cut.values[len(draft.settings) - 1] = rng.randrange(3)


def _mates(rng: Random, draft: Draft, optional: set[int]) -> tuple[Mates, ...]:
    """Pairs at the mortiser, one for every twenty lots, that can all be made one right after the other."""
    cuts = draft.cuts
    holding = {n for n, setting in enumerate(draft.settings) if setting.name in ("angle", "fence height")}
    ground = nx.DiGraph(draft.pairs)
    ground.add_nodes_from(range(len(cuts)))
    groups: list[Mates] = []
    used = set(optional)
    tries = 0
    while len(groups) < max(1, len(cuts) // 20) and tries < 50 * len(cuts):
        tries += 1
        a, b = rng.sample(range(len(cuts)), 2)
        held = {n for n in holding if n in cuts[a].values and cuts[a].values[n] == cuts[b].values.get(n)}
        if not held or {a, b} & used:
            continue
        joined = nx.contracted_nodes(ground, a, b, self_loops=False)
        if nx.is_directed_acyclic_graph(joined):
            ground = joined
            used |= {a, b}
            groups.append(Mates(frozenset((a, b)), frozenset(held)))
    return tuple(groups)


def _wishes(rng: Random, draft: Draft) -> tuple[Wish, ...]:
    """One preference for every ten lots, between cuts of one product, worth half a minute to two minutes."""
    products = [cut.product for cut in draft.cuts]
    ends = list(accumulate(products.count(p) for p in range(products[-1] + 1)))
    wishes = []
    for _ in range(len(products) // 10):
        end = rng.choice(ends)
        begin = max((e for e in ends if e < end), default=0)
        if end - begin > 1:
            before, after = rng.sample(range(begin, end), 2)
            wishes.append(Wish(before, after, rng.randint(1, 4)))
    return tuple(wishes)
