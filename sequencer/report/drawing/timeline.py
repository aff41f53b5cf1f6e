"""The plan as a bar of time: a lane for each station, a block for each card, its resets black before its work."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import count

from sequencer.cards.planbook import PlanBook
from sequencer.quantity import format_minutes
from sequencer.report.drawing.figure import Figure, Item, Path, Words, framed, text_width

_LANE = 7.0  # from one lane to the next, mm
_BAR = 4.4


def timeline_figure(book: PlanBook, width: float) -> Figure:
    """The picture, `width` mm wide; minutes run to the right."""
    stations = list(dict.fromkeys(setup.station for setup in book.plan.setups))
    names = {station: _short(book.station_name(station)) for station in stations}
    left = 2 + max((text_width(name, 2.5) for name in names.values()), default=0.0)
    total = book.plan.cost_minutes or 1.0
    scale = (width - left - 4.0) / total
    items: list[Item] = []
    for lane, station in enumerate(stations):
        y = -lane * _LANE
        items += [
            Words((0.0, y + 1.3), names[station], "left"),
            Path(((left, y), (left + total * scale, y)), "narrow"),
        ]
    at, before = 0.0, None
    for setup in book.plan.setups:
        lane = stations.index(setup.station)
        y = -lane * _LANE
        x = left + at * scale
        walk = setup.walk_minutes * scale
        if before is not None and before != lane:
            items.append(Path(((x, -before * _LANE), (x + walk, y)), "hidden"))
        reset = sum(r.minutes for r in setup.resets) * scale
        work = sum(book.step[o].work_minutes for o in setup.operations) * scale
        x += walk
        if reset:
            items.append(_block(x, y, reset, "black"))
        if work:
            items.append(_block(x + reset, y, work, "none"))
        label = str(setup.number)
        if work >= text_width(label, 2.5) + 0.8:
            items.append(Words((x + reset + work / 2, y + 1.3), label))
        at += setup.walk_minutes + (reset + work) / scale
        before = lane
    foot = -len(stations) * _LANE + _LANE - 2.0
    step = next(s for s in _steps() if s * scale >= max(12.0, text_width(str(int(total)), 2.2) + 2.0))
    for tick in range(int(total // step) + 1):
        x = left + tick * step * scale
        items += [
            Path(((x, foot), (x, foot - 1.2)), "narrow"),
            Words((x, foot - 4.0), str(tick * step), size=2.2),
        ]
    return framed(
        items, "timeline", f"{format_minutes(book.plan.cost_minutes)} in all, a block for each card"
    )


def _steps() -> Iterator[int]:
    """Minutes from one tick to the next: round parts of an hour and a day, then days, doubled as often as need be."""
    yield from (1, 2, 5, 10, 20, 30, 60, 120, 240, 480)
    yield from (1440 * 2**power for power in count())


def _block(x: float, y: float, wide: float, fill: str) -> Path:
    corners = ((x, y), (x + wide, y), (x + wide, y + _BAR), (x, y + _BAR))
    return Path(corners, "narrow", closed=True, fill=fill)  # type: ignore[arg-type]


def _short(name: str) -> str:
    return name if len(name) <= 22 else name[:21] + "…"
