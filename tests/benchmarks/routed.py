"""The routed family: parts travel through a shop that knows only a few setups of each station.

A shop that makes boxes and frames in batches sets its saw in a handful of ways, and its mortiser and router too;
what differs from part to part is which of them it meets, in what sequence. Most parts go from saw to mortiser to
router, the others to and fro. Eleven settings on three stations, two to five values each.
"""

from __future__ import annotations

from random import Random

from tests.benchmarks.draft import Cut, Draft, Setting

# station -> how often it is used, and its settings: name, half minutes for a reset, whether its values are names
STATIONS: dict[str, tuple[int, tuple[tuple[str, int, bool], ...]]] = {
    "saw": (5, (("tilt", 8, False), ("gauge", 6, True), ("fence", 3, False), ("height", 2, False))),
    "mortiser": (
        3,
        (("angle", 8, False), ("fence height", 4, False), ("depth", 2, False), ("end stop", 3, True)),
    ),
    "router": (2, (("bit", 6, True), ("fence", 4, False), ("height", 2, False))),
}
SETUPS = (2, 4)  # ways a station is set, fewest and most
NAMED = 0.75  # how often a cut asks for a setting of its setup
STRAIGHT = 0.6  # parts that go through the shop once
CHAINED = 0.7  # cuts that come after the one before; the others after any earlier one of the part


def draw_up(rng: Random, lots: int, forks: int) -> Draft:
    """Parts of two to six cuts, two to four parts a product.

    A fork is a stretch of a part that can be made in two ways of one to three cuts; the rest of the part comes after
    whichever is made.
    """
    values = [rng.randint(2, 5) for _, settings in STATIONS.values() for _ in settings]
    draft = Draft(
        tuple(STATIONS),
        tuple(
            Setting(station, name, reset, values.pop(), named)
            for station, (_, settings) in enumerate(STATIONS.values())
            for name, reset, named in settings
        ),
    )
    setups = [
        [
            {n: rng.randrange(draft.settings[n].values) for n in draft.settings_of(station)}
            for _ in range(rng.randint(*SETUPS))
        ]
        for station in range(len(STATIONS))
    ]
    product = 0
    while len(draft.cuts) < lots:
        for _ in range(rng.randint(2, 4)):
            due = len(draft.forks) < forks and len(draft.cuts) >= len(draft.forks) * lots // (forks + 1)
            _Part(rng, draft, product, setups, lots).travel(due)
        product += 1
    return draft


class _Part:
    """A part on its way through the shop."""

    def __init__(
        self, rng: Random, draft: Draft, product: int, setups: list[list[dict[int, int]]], lots: int
    ) -> None:
        self.rng, self.draft, self.product, self.setups, self.lots = rng, draft, product, setups, lots
        self.route = rng.choices(
            range(len(STATIONS)), [use for use, _ in STATIONS.values()], k=rng.randint(2, 6)
        )
        if rng.random() < STRAIGHT:
            self.route.sort()
        self.made: list[int] = []

    @property
    def room(self) -> int:
        """Cuts that may still be added to the job."""
        return self.lots - len(self.draft.cuts)

    def travel(self, fork: bool) -> None:
        """Add the part's cuts, with a stretch in two ways after the first if a fork is wanted and has room."""
        behind: tuple[int, ...] = ()  # the last cuts of either way, which the next comes after
        for k, station in enumerate(self.route):
            if not self.room:
                return
            if self.made and not behind and self.rng.random() >= CHAINED:
                behind = (self.rng.choice(self.made),)
            cut = self._cut(station, k, behind or tuple(self.made[-1:]))
            self.made.append(cut)
            behind = ()
            if fork and k == 0 and self.room >= 2:
                sizes = [self.rng.randint(1, min(3, self.room // 2)) for _ in range(2)]
                ways = [self._way(station, cut, size) for size in sizes]
                self.draft.forks.append(tuple(frozenset(way) for way in ways))
                behind = tuple(way[-1] for way in ways)

    def _way(self, station: int, first: int, size: int) -> list[int]:
        """Cuts one after the other from `first` on, at its station or the mortiser."""
        way = [first]
        for _ in range(size):
            way.append(self._cut(self.rng.choice((station, 1)), 0, (way[-1],)))
        return way[1:]

    def _cut(self, station: int, k: int, after: tuple[int, ...]) -> int:
        """A cut at one of the station's setups, asking for most of its settings."""
        setup = self.rng.choice(self.setups[station])
        values = {n: value for n, value in setup.items() if self.rng.random() < NAMED}
        return self.draft.add(Cut(self.product, k / len(self.route), station, values), after)
