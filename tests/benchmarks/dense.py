"""The dense family: every setting has many values, and every product its own few of each.

Distinct combinations of settings are nearly as many as cuts, so that hardly two cuts share a setup. Harder than
a shop's work mostly is, and meant to be.
"""

from __future__ import annotations

from random import Random

from tests.benchmarks.draft import Cut, Draft, Setting

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


def draw_up(rng: Random, lots: int, forks: int) -> Draft:
    """Products of a few parts; each part's cuts come after the one before or an earlier one of the part.

    A fork is one of two ways of two or three cuts each, taken from anywhere in one product.
    """
    draft = Draft(
        tuple(STATIONS),
        tuple(
            Setting(station, name, reset, values, named)
            for station, settings in enumerate(STATIONS.values())
            for name, reset, values, named in settings
        ),
    )
    product = 0
    while len(draft.cuts) < lots:
        palette = [rng.sample(range(s.values), min(s.values, rng.randint(1, 3))) for s in draft.settings]
        for _ in range(rng.randint(2, 4)):
            _add_part(rng, draft, product, palette)
        product += 1
    del draft.cuts[lots:]
    draft.pairs = [pair for pair in draft.pairs if max(pair) < lots]
    for _ in range(lots // 4):  # parts of one product wait for each other
        a, b = rng.sample(range(lots), 2)
        if draft.cuts[a].product == draft.cuts[b].product and draft.cuts[a].stage < draft.cuts[b].stage:
            draft.pairs.append((a, b))
    _add_forks(rng, draft, forks)
    return draft


def _add_part(rng: Random, draft: Draft, product: int, palette: list[list[int]]) -> None:
    mine: list[int] = []
    count = rng.randint(3, 8)
    for k in range(count):
        station = rng.choices(range(len(STATIONS)), list(USES.values()))[0]
        values = {n: rng.choice(palette[n]) for n in draft.settings_of(station) if rng.random() < 0.7}
        after = (mine[-1] if rng.random() < 0.6 else rng.choice(mine),) if mine else ()
        mine.append(draft.add(Cut(product, k / count, station, values), after))


def _add_forks(rng: Random, draft: Draft, forks: int) -> None:
    free = list(range(len(draft.cuts)))
    rng.shuffle(free)
    while len(draft.forks) < forks and free:
        cut = free.pop()
        product = draft.cuts[cut].product
        near = [other for other in free if draft.cuts[other].product == product][: rng.randint(3, 5)]
        if len(near) >= 3:
            free = [other for other in free if other not in near]
            half = len(near) // 2
            draft.forks.append((frozenset([cut, *near[:half]]), frozenset(near[half:])))
