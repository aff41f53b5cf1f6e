"""A section through a joint: both boards as they will be glued, mortises, slip, glue room and the walls that are left.

Cut square to the slip's width, through the middle of a mortise; only the neighbourhood of the joint is drawn. The two
boards are hatched opposite ways and the slip closer, after the habits of ISO 128-3; the mortise the step plunges is
drawn extra wide, the least wall of either board dimensioned after those of ISO 129-1.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace

import numpy as np

from sequencer.operations import Operation
from sequencer.planfile import Plan
from sequencer.quantity import Unit, format_length
from sequencer.report.drawing.dimension import arrow
from sequencer.report.drawing.figure import (
    TEXT,
    Arc,
    Figure,
    Item,
    Path,
    PenName,
    Spot,
    Words,
    extent,
    framed,
    hatching,
)
from sequencer.report.drawing.flat import Flat, Piece, sides, without
from sequencer.report.drawing.joint import Half, Pair, Wall, pairs_at
from sequencer.report.drawing.part_sizes import in_lines

MOST = 3
"""Sections a card has room for beside the drawing of the part."""
_LARGEST, _SMALLEST = 2.0, 0.1  # scales
_BAND = 0.7  # hatching stays this clear of a dimension line, mm on paper
_ROOMY = 4.6  # a dimension this long has room for its arrows
_OUT = 1.4  # from the wood to the value of a wall


def section_figures(
    plan: Plan,
    operations: Operation | Sequence[Operation],
    width: float,
    height: float,
    angled_only: bool = False,
) -> tuple[Figure, ...]:
    """A section for each kind of meeting that the operations plunge, at most `MOST`, where the plan knows the mates;
    with `angled_only` for mitred and bevelled joints alone."""
    works = [operations] if isinstance(operations, Operation) else operations
    pairs = [pair for pair in pairs_at(plan, works) if is_angled(pair) or not angled_only]
    return tuple(section_figure(pair, plan.unit, width, height) for pair in pairs[:MOST])


def section_figure(pair: Pair, unit: Unit, width: float, height: float) -> Figure:
    """The section no larger than `width` by `height` mm, at the largest scale up to 2:1 that fits."""
    room = np.array([width - 1.2, height - 1.2])

    def drawn(scale: float) -> tuple[tuple[Item, ...], Flat]:
        items = _draw(pair, unit, scale, float(room[0]))
        left, bottom, right, top = extent(items)
        return items, np.array([right - left, top - bottom])

    items, size = drawn(_LARGEST)
    if (size > room).any():
        # the boards grow with the scale, values and notes do not
        grows = np.maximum((size - drawn(_LARGEST / 2)[1]) / (_LARGEST / 2), 1e-6)
        scale = max(_SMALLEST, _LARGEST - float(((size - room) / grows).max()))
        items, size = drawn(scale)
        while (size > room).any() and scale > _SMALLEST:
            scale *= 0.95
            items, size = drawn(scale)
    mates = " or ".join(dict.fromkeys(part for part, _ in pair.mates))
    title = f"section: {pair.first.part.id} with {mates}"
    if mates == pair.first.part.id:
        title = f"section: {pair.first.surface} with {pair.second.surface}"
    places = " or ".join(f"{surface} of {part}".strip() for part, surface in pair.mates)
    alt = f"section through the joint of {pair.first.part.id}, {pair.first.surface}, with {places}, with its slip"
    return framed(items, title, alt)


def is_angled(pair: Pair) -> bool:
    """Whether a board of the joint has a face that is not square."""
    return pair.first.angled or pair.second.angled


def _draw(pair: Pair, unit: Unit, scale: float, room: float) -> tuple[Item, ...]:
    turned = _turn(pair)

    def on_paper(loop: Flat) -> Flat:
        return np.asarray(loop @ turned.T * scale)

    boards = [on_paper(half.shown) for half in (pair.first, pair.second)]
    walls = [_wall_items(half.wall, on_paper, boards, unit) for half in (pair.first, pair.second)]
    bands = [band for _, band in walls]
    items: list[Item] = []
    items += _board(pair.first, on_paper, 45.0, "cut", bands)
    items += _board(pair.second, on_paper, 135.0, "wide", bands)
    items += _slip(pair, on_paper)
    labels: list[Item] = []
    for drawn, _ in walls:
        labels += _clear(drawn, labels)
    items += labels
    left, bottom, _, _ = extent(items)
    foot = bottom - 0.5
    for line in (part for note in _notes(pair, unit) for part in in_lines(note, room)):
        foot -= 1.4 * TEXT
        items.append(Words((left, foot), line, "left"))
    return tuple(items)


def _turn(pair: Pair) -> Flat:
    """The rotation (2, 2) by which the first board lies level, by its longest side, or stands upright where the joint
    would else be taller than wide."""
    spans = [b - a for a, b in sides(pair.first.board)]
    longest = max(spans, key=lambda span: float(np.linalg.norm(span)))
    c, s = longest / np.linalg.norm(longest)
    if c < -1e-9 or (abs(c) <= 1e-9 and s < 0):
        c, s = -c, -s
    level = np.array([[c, s], [-s, c]])
    wide, tall = np.ptp(np.vstack([pair.first.shown, pair.second.shown]) @ level.T, axis=0)
    return level if tall <= wide * 1.01 else np.array([[0.0, -1.0], [1.0, 0.0]]) @ level


def _board(
    half: Half, on_paper: Callable[[Flat], Flat], angle: float, pen: PenName, bands: Iterable[Flat]
) -> list[Item]:
    """The board's outline and hatching, and its mortises and grooves; `pen` draws the mortise of the joint."""
    shown = on_paper(half.shown)
    hollows = [on_paper(loop) for loop in (half.hollow, *half.others)]
    lines: list[Piece] = [
        (np.array(line.points[0]), np.array(line.points[1]))
        for line in hatching([[_spot(p) for p in shown]], angle, 1.6)
    ]
    for loop in (*hollows, *bands):
        lines = without(lines, loop)
    items: list[Item] = [_path(piece, "narrow") for piece in lines]
    outside = on_paper(half.board)
    for side in sides(shown):
        pieces = [side]
        for loop in hollows:
            pieces = without(pieces, loop, 1e-6)
        items += [_path(piece, "wide" if _on(piece, outside) else "narrow") for piece in pieces]
    for number, loop in enumerate(hollows):
        pieces = [side for side in sides(loop) if not _on(side, outside)]
        for other in (
            *hollows[:number],
            *hollows[number + 1 :],
        ):  # where two run into each other no wood is between
            pieces = without(pieces, other, -1e-6)
        items += [_path(piece, "wide" if number else pen) for piece in pieces]
    return items


def _slip(pair: Pair, on_paper: Callable[[Flat], Flat]) -> list[Item]:
    wide, room = pair.slip.thickness / 2, pair.glue_room
    low, high = room - pair.first.depth, pair.second.depth - room
    slip = on_paper(np.array([(-wide, low), (wide, low), (wide, high), (-wide, high)]))
    spots = tuple(_spot(p) for p in slip)
    axis = slip[2] - slip[1]
    across = math.degrees(math.atan2(axis[1], axis[0])) + 90.0
    return [*hatching([spots], across, 0.7), Path(spots, "wide", closed=True)]


def _wall_items(
    wall: Wall | None, on_paper: Callable[[Flat], Flat], boards: Sequence[Flat], unit: Unit
) -> tuple[list[Item], Flat]:
    """The dimension of a wall, its value beyond the wood, and the band that hatching keeps clear of."""
    if wall is None or wall.size < 0.05:
        return [], np.zeros((0, 2))
    corner, foot = (on_paper(point[None, :])[0] for point in (wall.corner, wall.foot))
    size = float(np.linalg.norm(foot - corner))
    out = (foot - corner) / size
    reach = max([0.0, *(_leaves(board, foot, out) for board in boards)])
    end = foot + out * (reach + _OUT)
    items: list[Item] = [_path((corner, end), "narrow")]
    if size > _ROOMY:
        items += [arrow(_spot(foot), _spot(out)), arrow(_spot(corner), _spot(-out))]
    else:
        items += [Arc(_spot(point), 0.45, pen="narrow", fill="black") for point in (corner, foot)]
    label = format_length(wall.size, unit)
    tip = end + out * 0.5
    if abs(out[0]) > 0.5:
        anchor = "left" if out[0] > 0 else "right"
        items.append(Words((float(tip[0]), float(tip[1]) - 0.27 * TEXT), label, anchor))  # type: ignore[arg-type]
    else:
        drop = 0.2 * TEXT if out[1] > 0 else -0.8 * TEXT
        items.append(Words((float(tip[0]), float(tip[1]) + drop), label))
    side = np.array([-out[1], out[0]]) * _BAND
    return items, np.array([corner + side, corner - side, end - side, end + side])


def _leaves(loop: Flat, start: Flat, out: Flat) -> float:
    """How far along a ray the outline is left for good; 0 if it is not met."""
    inside = without([(start + out * 1e-3, start + out * 1e3)], loop)
    return max((1e3 - float(np.linalg.norm(b - a)) for a, b in inside[-1:]), default=0.0)


def _clear(drawn: list[Item], others: Sequence[Item]) -> list[Item]:
    """The dimension with its value moved aside, level, where it would stand on another's."""
    found: list[Item] = []
    taken = [item for item in others if isinstance(item, Words)]
    for item in drawn:
        if isinstance(item, Words):
            for _ in range(12):
                hit = next((other for other in taken if _overlap(item, other)), None)
                if hit is None:
                    break
                item = replace(item, at=(item.at[0], hit.at[1] - 1.1 * TEXT))
        found.append(item)
    return found


def _overlap(one: Words, other: Words) -> bool:
    a, b = np.array(one.corners()), np.array(other.corners())
    return bool((a.min(axis=0) < b.max(axis=0)).all() and (b.min(axis=0) < a.max(axis=0)).all())


def _notes(pair: Pair, unit: Unit) -> list[str]:
    """Depths, slip and glue room in words."""
    halves = (pair.first, pair.second)
    names = [half.part.id for half in halves]
    if names[0] == names[1]:
        names = [half.surface for half in halves]
    depths = [_depth(half, unit) for half in halves]
    told = [f"{name}: {', '.join(depth)}" for name, depth in zip(names, depths, strict=True)]
    if depths[0] == depths[1]:
        told = [f"both mortises {depths[0][0]}", *depths[0][1:]]
    sizes = [format_length(size, unit, with_unit=False) for size in (pair.slip.thickness, pair.slip.width)]
    slip = " × ".join([*sizes, format_length(pair.slip.length, unit)])
    return [*told, f"slip {slip}", f"glue room {format_length(pair.glue_room, unit)} at each end"]


def _depth(half: Half, unit: Unit) -> list[str]:
    """How deep the mortise is plunged, and what is left of it where a bevel takes some."""
    deep = f"{format_length(half.slot.depth, unit)} deep"
    bevelled = f"{format_length(half.depth, unit)} once bevelled"
    return [deep] if half.slot.depth - half.depth < 0.05 else [deep, bevelled]


def _on(piece: Piece, outline: Flat) -> bool:
    """Whether a piece lies along a side of the outline."""
    for a, b in sides(outline):
        span = b - a
        size = float(np.linalg.norm(span))
        if size > 1e-9 and all(
            abs(float(span[0] * (p - a)[1] - span[1] * (p - a)[0])) / size < 1e-4 for p in piece
        ):
            return True
    return False


def _path(piece: Piece, pen: PenName) -> Path:
    return Path((_spot(piece[0]), _spot(piece[1])), pen)


def _spot(point: Flat) -> Spot:
    return float(point[0]), float(point[1])
