"""Small random problems in which every feature may meet every other, the same for the same seed."""

from __future__ import annotations

from random import Random

from sequencer.solve.problem import Dial, Lot, Mates, Need, Problem, Wish

FEATURES = (
    "ranges",
    "slack",  # stay is more than reach
    "tolerance",  # values that are one setting: no move between them
    "stops",  # the cost of a move depends on the value reached
    "tables",  # any from-to table, often breaking the triangle inequality
    "first",
    "start",
    "forgets",  # keeps = False
    "one-way",  # walks that cost more one way than the other
    "mates",
    "choices",
    "wishes",
    "work",
)


def random_problem(
    seed: int, lots: int = 6, *, without: frozenset[str] = frozenset(), density: float | None = None
) -> Problem:
    """A problem of at most `lots` lots; about half of the features appear in it, never those in `without`."""
    rng = Random(seed)
    on = {name for name in FEATURES if rng.random() < 0.5} - without
    count = rng.randint(min(2, lots), lots)
    stations = rng.randint(1, 3)
    dials = tuple(
        _dial(rng, f"d{d}", rng.randrange(stations), on)
        for d in range(rng.randint(1, 2 if stations == 1 else 4))
    )
    made = tuple(_lot(rng, f"lot {n}", rng.randrange(stations), dials, on) for n in range(count))
    thick = rng.choice((0.1, 0.25, 0.5)) if density is None else density
    shuffled = rng.sample(range(count), count)
    precedence = tuple(
        (shuffled[i], shuffled[j]) for i in range(count) for j in range(i + 1, count) if rng.random() < thick
    )
    if rng.random() < 0.03 and count > 1:  # now and then a circle
        precedence += ((shuffled[-1], shuffled[0]),)
    return Problem(
        lots=made,
        dials=dials,
        walk=_walk(rng, stations, on),
        precedence=precedence,
        mates=_mates(rng, made, dials) if "mates" in on else (),
        choices=_choices(rng, count) if "choices" in on else (),
        wishes=_wishes(rng, count) if "wishes" in on else (),
    )


def _dial(rng: Random, label: str, station: int, on: set[str]) -> Dial:
    """A dial of two to four values: one price, a price for each value reached, or a table."""
    values = range(rng.randint(2, 4))
    price = [rng.randint(1, 9)] * len(values)
    if "stops" in on and rng.random() < 0.6:
        price = [rng.randint(0, 9) for _ in values]
    move: list[list[int | None]] = [[0 if a == b else price[b] for b in values] for a in values]
    if "tables" in on and rng.random() < 0.6:
        move = [[0 if a == b else rng.randint(0, 20) for b in values] for a in values]
    if "tolerance" in on and rng.random() < 0.6:
        for a in values[:-1]:
            if rng.random() < 0.5:
                move[a][a + 1] = move[a + 1][a] = None
    first = [rng.randint(0, 9) for _ in values] if "first" in on else [0 for _ in values]
    if "first" not in on and rng.random() < 0.7:
        first = price
    return Dial(
        label=label,
        station=station,
        move=tuple(map(tuple, move)),
        first=tuple(first),
        start=rng.choice(values) if "start" in on and rng.random() < 0.6 else None,
        keeps="forgets" not in on or rng.random() < 0.5,
    )


def _lot(rng: Random, label: str, station: int, dials: tuple[Dial, ...], on: set[str]) -> Lot:
    """A lot that names each dial of its station three times in four."""
    needs = {}
    for d, dial in enumerate(dials):
        if dial.station == station and rng.random() < 0.75:
            reach = 1 << rng.randrange(dial.values)
            if "ranges" in on and rng.random() < 0.4:
                reach |= rng.randrange(1 << dial.values)
            stay = reach
            for a in range(dial.values):
                near = any(dial.move[a][b] is None for b in range(dial.values) if reach >> b & 1)
                if near and rng.random() < 0.9:  # within tolerance of a value wanted
                    stay |= 1 << a
            if "slack" in on and rng.random() < 0.4:
                stay |= rng.randrange(1 << dial.values)
            needs[d] = Need(reach, stay)
    return Lot(label, station, needs, work=rng.randint(0, 15) if "work" in on else 0)


def _walk(rng: Random, stations: int, on: set[str]) -> tuple[tuple[int, ...], ...]:
    """Walking costs: one for all ways, or one for each way and direction."""
    one = rng.randint(0, 8)
    return tuple(
        tuple(0 if a == b else rng.randint(0, 12) if "one-way" in on else one for b in range(stations))
        for a in range(stations)
    )


def _mates(rng: Random, lots: tuple[Lot, ...], dials: tuple[Dial, ...]) -> tuple[Mates, ...]:
    """One or two groups of two or three lots, holding one or two dials, mostly dials that a member names."""
    groups = []
    for _ in range(rng.randint(1, 2)):
        members = rng.sample(range(len(lots)), min(len(lots), rng.randint(2, 3)))
        named = sorted({d for lot in members for d in lots[lot].needs})
        pool = named if named and rng.random() < 0.8 else list(range(len(dials)))
        held = rng.sample(pool, min(len(pool), rng.randint(1, 2)))
        groups.append(Mates(frozenset(members), frozenset(held)))
    return tuple(groups)


def _choices(rng: Random, count: int) -> tuple[tuple[frozenset[int], ...], ...]:
    """One or two choices over disjoint lots: options share lots, leave all out, or are alike."""
    free = rng.sample(range(count), count)
    choices = []
    for _ in range(rng.randint(1, 2)):
        mine = [free.pop() for _ in range(min(len(free), rng.randint(1, 4)))]
        if mine:
            options = [frozenset(lot for lot in mine if rng.random() < 0.5) for _ in range(rng.randint(2, 3))]
            choices.append(tuple(options))
    return tuple(choices)


def _wishes(rng: Random, count: int) -> tuple[Wish, ...]:
    """A few preferences, free ones too."""
    pairs = [rng.sample(range(count), 2) for _ in range(rng.randint(1, 4))] if count > 1 else []
    return tuple(Wish(before, after, rng.randint(0, 9)) for before, after in pairs)
