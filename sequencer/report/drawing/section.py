"""A section through a joint: both boards as they will be glued, mortises, slip, glue room and the walls that are left.

Cut square to the slip's width, through the middle of the mortise. The two boards are hatched opposite ways and the
slip closer, after the habits of ISO 128-3; only the neighbourhood of the joint is drawn.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from sequencer.operations import Operation, Slot
from sequencer.planfile import Plan
from sequencer.quantity import Unit, format_length
from sequencer.report.drawing.figure import (
    TEXT,
    Figure,
    Item,
    Path,
    Spot,
    Words,
    extent,
    framed,
    hatching,
    text_width,
)
from sequencer.report.drawing.joint import Half, Pair, halves
from sequencer.report.drawing.solid import Array, Convex

Flat = NDArray[np.float64]
"""Points (n, 2): across the slip, and along it out of the first board, origin where the two mouths meet, mm."""

_NOTES = 45.0  # room for a note under a section, mm


def section_figures(
    plan: Plan, operation: Operation, width: float, height: float, angled_only: bool = False
) -> tuple[Figure, ...]:
    """A section for each joint the operation plunges, where the plan knows both its halves; with `angled_only` for
    mitred and bevelled joints alone."""
    joints = {cut.joint for cut in operation.cuts if isinstance(cut, Slot) and cut.joint}
    pairs = [pair for pair in halves(plan) if pair.joint in joints] if joints else []
    drawn = [pair for pair in pairs if is_angled(pair) or not angled_only]
    return tuple(section_figure(pair, plan.unit, width, height) for pair in drawn)


def section_figure(pair: Pair, unit: Unit, width: float, height: float) -> Figure:
    """The section no larger than `width` by `height` mm, at the largest scale up to 2:1 that fits."""
    scale = 2.0
    for _ in range(14):
        items = _draw(pair, unit, scale)
        left, bottom, right, top = extent(items)
        if right - left <= width - 1.2 and top - bottom <= height - 1.2:
            break
        scale *= 0.88
    names = " and ".join(dict.fromkeys((pair.first.part.id, pair.second.part.id)))
    return framed(
        items, f"section through {pair.joint}", f"section through the joint of {names}, with its slip"
    )


def outline(half: Half, flip: bool = False) -> Flat:
    """The board's outline in the plane of the section, in order; `flip` mirrors it across the slip."""
    slot = half.slot
    axis, along = np.array(slot.axis), np.array(slot.along)
    across = np.cross(axis, along) * (-1.0 if flip else 1.0)
    loop = _slice(half.state.after, half.mouth, along)
    return np.stack([(loop - half.mouth) @ across, -(loop - half.mouth) @ axis], axis=1)


def _slice(body: Convex, point: Array, normal: Array) -> Array:
    """The convex polygon where a plane cuts a body."""
    found: list[Array] = []
    for ridge in body.ridges:
        a, b = float((ridge.start - point) @ normal), float((ridge.end - point) @ normal)
        if a * b < 0 or (abs(a) < 1e-9) != (abs(b) < 1e-9):
            found.append(ridge.start + (ridge.end - ridge.start) * a / (a - b))
    if len(found) < 3:
        return np.zeros((0, 3))
    cloud = np.array(found)
    middle = cloud.mean(axis=0)
    u = cloud[0] - middle
    v = np.cross(normal, u)
    order = np.argsort(np.arctan2((cloud - middle) @ v, (cloud - middle) @ u))
    return np.asarray(cloud[order])


def _mate(pair: Pair, first: Flat) -> Flat:
    """The second board's outline turned to meet the first: of its two mirror images the one that meets it flush."""
    best, least = np.zeros((0, 2)), math.inf
    for flip in (False, True):
        loop = outline(pair.second, flip) * np.array([1.0, -1.0])
        if not len(loop):
            continue
        sides = [
            np.array([points[:, 0].min(), points[:, 0].max()])
            for points in (_facing(first, 1), _facing(loop, -1))
        ]
        miss = float(np.abs(sides[0] - sides[1]).sum())
        if miss < least - 1e-9:
            best, least = loop, miss
    return best


def _facing(loop: Flat, sign: int) -> Flat:
    """The corners of the side that the slip crosses: those at the joint's level, or the whole outline."""
    near = loop[np.abs(loop[:, 1]) < 0.05]
    return near if len(near) >= 2 else loop


def wall(loop: Flat, half: Half) -> tuple[float, Spot, Spot]:
    """The least wood between the mortise and a surface it does not open on: its size, mm, and its two ends."""
    width = half.slot.width / 2
    corners = [np.array([sign * width, level]) for sign in (-1, 1) for level in (-half.depth,)]
    best = (math.inf, (0.0, 0.0), (0.0, 0.0))
    for a, b in zip(loop, np.roll(loop, -1, axis=0), strict=True):
        span = b - a
        size = float(np.linalg.norm(span))
        if size < 1e-6 or _from_origin(a, span, size) < 0.05:  # the side the mortise opens on
            continue
        for corner in corners:
            share = min(1.0, max(0.0, float((corner - a) @ span) / size**2))
            foot = a + share * span
            gap = float(np.linalg.norm(corner - foot))
            if gap < best[0]:
                best = (gap, (float(corner[0]), float(corner[1])), (float(foot[0]), float(foot[1])))
    return best


def _from_origin(start: Flat, span: Flat, size: float) -> float:
    """How far the origin is from the line through `start` along `span`, mm."""
    return abs(float(start[0] * span[1] - start[1] * span[0])) / size


def is_angled(pair: Pair) -> bool:
    """Whether a board of the joint has a face that is not square."""
    faces = [*pair.first.state.after.faces, *pair.second.state.after.faces]
    return any(float(np.abs(face.normal).max()) < 1 - 1e-9 for face in faces)


def _clip_window(loop: Flat, reach: float) -> Flat:
    """The outline within `reach` mm of the joint, a square window."""
    for axis in (0, 1):
        for sign in (-1.0, 1.0):
            kept: list[Flat] = []
            for a, b in zip(loop, np.roll(loop, -1, axis=0), strict=True):
                ha, hb = sign * a[axis] - reach, sign * b[axis] - reach
                if ha <= 0:
                    kept.append(a)
                if ha * hb < 0:
                    kept.append(a + (b - a) * ha / (ha - hb))
            loop = np.array(kept) if kept else np.zeros((0, 2))
            if not len(loop):
                return loop
    return loop


def _draw(pair: Pair, unit: Unit, scale: float) -> tuple[Item, ...]:
    first = outline(pair.first)
    second = _mate(pair, first) if len(first) else first
    if not len(first) or not len(second):
        return ()
    reach = 1.35 * max(
        pair.first.part.thickness, pair.second.part.thickness, pair.first.depth + 3, pair.second.depth + 3
    )
    turn = _turn(first)

    def spot(point: Flat | Spot) -> Spot:
        x, y = float(point[0]) * scale, float(point[1]) * scale
        return x * turn[0] - y * turn[1], x * turn[1] + y * turn[0]

    items: list[Item] = []
    slip_half = pair.first.slot.width / 2
    cavity = (slip_half * scale, -pair.first.depth * scale, pair.second.depth * scale)
    for loop, half, sign, angle in ((first, pair.first, -1.0, 45.0), (second, pair.second, 1.0, 135.0)):
        shown = _clip_window(loop, reach)
        if len(shown) < 3:
            continue
        corners = [spot(p) for p in shown]
        hole = [
            (-slip_half, 0.0),
            (slip_half, 0.0),
            (slip_half, sign * half.depth),
            (-slip_half, sign * half.depth),
        ]
        items += _outside(hatching([corners], angle, 1.6), cavity, turn)
        for a, b, c, d in zip(
            shown, np.roll(shown, -1, axis=0), corners, [*corners[1:], corners[0]], strict=True
        ):
            cut_off = any(abs(abs(a[k]) - reach) < 1e-6 and abs(a[k] - b[k]) < 1e-6 for k in (0, 1))
            items.append(Path((c, d), "narrow" if cut_off else "wide"))
        sides = [hole[1], hole[2], hole[3], hole[0]]
        items.append(Path(tuple(spot(p) for p in sides), "wide"))
    ends = (-(pair.first.depth - pair.glue_room), pair.second.depth - pair.glue_room)
    slip = [
        spot((x, y))
        for x, y in ((-slip_half, ends[0]), (slip_half, ends[0]), (slip_half, ends[1]), (-slip_half, ends[1]))
    ]
    items += hatching([slip], 90.0 if abs(turn[0]) > 0.9 else 0.0, 0.7)
    items.append(Path(tuple(slip), "wide", closed=True))
    for loop, half, sign in ((first, pair.first, 1.0), (second, pair.second, -1.0)):
        size, corner, foot = wall(loop * np.array([1.0, sign]), half)
        if math.isfinite(size) and size > 0.05:
            a, b = spot((corner[0], sign * corner[1])), spot((foot[0], sign * foot[1]))
            items.append(Path((a, b), "cut"))
    left, bottom, _, _ = extent(items)
    notes = [
        f"{format_length(half.depth, unit)} deep, wall {_wall_text(loop, half, sign, unit)}"
        for loop, half, sign in ((first, pair.first, 1.0), (second, pair.second, -1.0))
    ]
    named = [_named(half.part.id, note) for half, note in zip((pair.first, pair.second), notes, strict=True)]
    lines = [line for half_lines in dict.fromkeys(named) for line in half_lines]
    lines.append(
        f"slip {format_length(pair.first.slot.width, unit)} thick, {format_length(pair.slip_length, unit)} long"
    )
    lines.append(f"glue room {format_length(pair.glue_room, unit)} at each end")
    for number, line in enumerate(lines):
        items.append(Words((left, bottom - (number + 1) * 1.45 * TEXT), line, "left"))
    return tuple(items)


def _named(name: str, note: str) -> tuple[str, ...]:
    """The note after the name, on the same line where there is room."""
    whole = f"{name}: {note}"
    return (whole,) if text_width(whole, TEXT) <= _NOTES else (f"{_short(name, _NOTES)}:", note)


def _short(name: str, room: float) -> str:
    """The name cut to `room` mm."""
    while len(name) > 3 and text_width(name, TEXT) > room:
        name = name[:-2].rstrip() + "…"
    return name


def _outside(lines: tuple[Path, ...], cavity: tuple[float, float, float], turn: Spot) -> list[Path]:
    """Hatching lines with what runs through the cavity (half width, bottom, top, on paper) taken out."""
    half, low, high = cavity
    kept: list[Path] = []
    for line in lines:
        ends = [np.array([x * turn[0] + y * turn[1], -x * turn[1] + y * turn[0]]) for x, y in line.points]
        span = ends[1] - ends[0]
        enter, leave = 0.0, 1.0
        for axis, bounds in ((0, (-half, half)), (1, (low, high))):
            if abs(span[axis]) < 1e-9:
                if not bounds[0] < ends[0][axis] < bounds[1]:
                    enter, leave = 1.0, 0.0
                continue
            times = sorted((bound - ends[0][axis]) / span[axis] for bound in bounds)
            enter, leave = max(enter, float(times[0])), min(leave, float(times[1]))
        if leave <= enter:
            kept.append(line)
            continue
        (ax, ay), (bx, by) = line.points
        for start, end in ((0.0, enter), (leave, 1.0)):
            if end - start > 1e-3:
                points = tuple((ax + (bx - ax) * t, ay + (by - ay) * t) for t in (start, end))
                kept.append(Path(points, line.pen))
    return kept


def _wall_text(loop: Flat, half: Half, sign: float, unit: Unit) -> str:
    return format_length(wall(loop * np.array([1.0, sign]), half)[0], unit)


def _turn(loop: Flat) -> Spot:
    """How the section is turned, as cosine and sine, so that the first board lies level: by its longest side."""
    spans = np.roll(loop, -1, axis=0) - loop
    longest = spans[int(np.argmax(np.linalg.norm(spans, axis=1)))]
    longest = longest / np.linalg.norm(longest)
    if longest[0] < -1e-9 or (abs(longest[0]) <= 1e-9 and longest[1] < 0):
        longest = -longest
    return float(longest[0]), float(-longest[1])
