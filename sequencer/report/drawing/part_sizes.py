"""The sizes on a part's figure: how long the piece is after the cut, where mortises stand, how large grooves are."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from math import asin, atan2, degrees

import numpy as np

from sequencer.operations import PencilLine, PlaneCut, Slot, Trench
from sequencer.quantity import format_angle, format_size
from sequencer.report.drawing.dimension import linear, pointer, running
from sequencer.report.drawing.figure import TEXT, Item, Path, Spot, Words, extent, text_width
from sequencer.report.drawing.nearness import DUST, MOSTLY, POINT, WOOD
from sequencer.report.drawing.scene import Scene
from sequencer.report.drawing.solid import outward
from sequencer.report.drawing.vectors import Array
from sequencer.report.line_ends import unbroken

_OFF = 4.5  # from the outline to the first dimension line, mm on paper
_NEXT = 9.0  # to the next one on the same side
_BETTER = 1e-9  # a place worth no more than this above another is no better: rounding
_ANGLE = 0.005  # degrees: what is less is told as square, for angles are told to a hundredth
_INDENT = 1.6  # of a note, for each one above whose leader passes it, mm


def sizes(scene: Scene, drawn: Sequence[Item], room: float) -> tuple[Item, ...]:
    """All dimensions and notes, around what is drawn; no line of a note is wider than `room` mm."""
    items: list[Item] = []
    used: dict[tuple[int, int], int] = {}
    for axis in _cut_axes(scene):
        items += _overall(scene, axis, used)
    plunges = any(isinstance(cut, Slot) for cut in scene.state.new)
    told = [line for line in scene.operation.notes.lines if plunges and line.part == scene.state.part.id]
    for line in {(line.start, line.at): line for line in told}.values():  # the same places at both ends: once
        items += _pencil(scene, line, used)
    left, _, _, top = extent([*drawn, *items])
    foot = top + 2.0
    under = foot - 0.35 * TEXT  # where no note stands
    notes = sorted(
        _notes(scene), key=lambda note: -note[1][0]
    )  # the leaders of higher ones go down at their left
    for above, (text, tip) in zip(reversed(range(len(notes))), notes, strict=True):
        edge = left + above * _INDENT
        lines = in_lines(text, room - above * _INDENT)
        lowest, *others = reversed([Words((edge, foot), line, "left") for line in lines])
        if foot - 0.35 * TEXT > under:
            below = (edge + 0.4 * _INDENT, under)
            items.append(Path(((below[0], foot - 0.35 * TEXT), below), "narrow"))
        else:
            below = (min(max(tip[0], edge + 1.0), edge + 0.8 * lowest.width), under)
        items += [lowest, *pointer(tip, below)]
        for words in others:
            foot += 1.25 * TEXT
            items.append(replace(words, at=(edge, foot)))
        foot += 1.4 * TEXT
    return tuple(items)


def in_lines(text: str, room: float) -> list[str]:
    """The text in lines no wider than `room` mm, broken between words, but not between a number and what it counts; a
    word wider than `room` at its hyphens, and what is wider still at any letter."""

    def fits(run: str) -> bool:
        return text_width(run, TEXT) <= room

    lines: list[str] = []
    for word in unbroken(text, fits):
        if lines and fits(f"{lines[-1]} {word}"):
            lines[-1] += f" {word}"
            continue
        lines.append("")
        for piece in hyphenated(word):
            for part in [piece] if fits(piece) else piece:
                if not lines[-1] or fits(lines[-1] + part):
                    lines[-1] += part
                else:
                    lines.append(part)
    return lines


def hyphenated(word: str) -> list[str]:
    """The word in the pieces that its hyphens end.

    >>> hyphenated("left-hand side")
    ['left-', 'hand side']
    """
    return re.split(r"(?<=[^\W\d]-)(?=\w)", word)


def slant_text(normal: Sequence[float], across: bool | None = None) -> str:
    """How far a cut is from square: through the thickness (bevel) and across the face (mitre); empty if square.

    Of a plane with unit normal n, the bevel is asin |n_z| and the mitre the angle of n in the face: from the length for
    a cut `across` the board, from the width for one along it; left out, from the nearer of the two.
    """
    x, y, z = (abs(float(part)) for part in np.asarray(normal) / np.linalg.norm(normal))
    if z > 1 - DUST:
        return ""  # a cut along the face
    across = x >= y if across is None else across
    bevel, mitre = degrees(asin(min(z, 1.0))), degrees(atan2(y, x) if across else atan2(x, y))
    told = [(bevel, "bevel"), (mitre, "mitre")]
    return ", ".join(f"{format_angle(angle)} {name}" for angle, name in told if angle > _ANGLE)


def _slant_tip(scene: Scene, cut: PlaneCut) -> Spot | None:
    """The middle of the fresh surface on paper."""
    normal = np.array(cut.normal, dtype=float)
    for face in scene.state.after.faces:
        if np.abs((face.points - np.array(cut.point)) @ normal).max() < WOOD:
            return scene.spot(face.points.mean(axis=0))
    return None


def _cut_axes(scene: Scene) -> list[int]:
    """The board's axes along which the step's plane cuts bring it to size: not where the other side is still uncut,
    for how much wood is there nobody knows."""
    cuts = [cut for cut in scene.state.new if isinstance(cut, PlaneCut)]
    return [axis for axis in dict.fromkeys(map(_cut_axis, cuts)) if axis not in scene.state.uncut]


def _cut_axis(cut: PlaneCut) -> int:
    """The axis of the board that a plane cut shortens: a bevel past 45 degrees at an end still shortens the length."""
    x, y, z = (abs(part) for part in cut.normal)
    if z > 1 - DUST:
        return 2
    return 0 if cut.surface.split()[0] in ("left", "right") or x > y + DUST else 1


def _overall(scene: Scene, axis: int, used: dict[tuple[int, int], int]) -> tuple[Item, ...]:
    body, face = scene.state.after, scene.state.after.face("face")
    start, end, away, level = _beside(scene, axis, used)
    if face is not None and axis != 2:
        low, high = face.points[:, axis].min(), face.points[:, axis].max()
        if (
            high - low < body.high[axis] - body.low[axis] - WOOD
        ):  # slanting alike at both sides: measured on the face
            start[axis], end[axis] = low, high
            start[2] = end[2] = face.points[:, 2].max()
    label = format_size(float(end[axis] - start[axis]), scene.unit)
    return linear(scene.spot(start), scene.spot(end), away, _OFF + level * _NEXT, label)


def _pencil(scene: Scene, line: PencilLine, used: dict[tuple[int, int], int]) -> tuple[Item, ...]:
    normal = outward(line.start.removeprefix("reference "))
    if normal is None:
        return ()
    axis = int(np.argmax(np.abs(normal)))
    size = (scene.state.part.length, scene.state.part.width, scene.state.part.thickness)[axis]
    start, _, away, level = _beside(scene, axis, used)
    from_high = normal[axis] > 0

    def point(at: float) -> Array:
        spot = start.copy()
        spot[axis] = size - at if from_high else at
        return spot

    distances = sorted(line.at)
    labels = [format_size(at, scene.unit, with_unit=scene.unit == "in") for at in distances]
    spots = [scene.spot(point(at)) for at in distances]
    return running(scene.spot(point(0.0)), spots, away, _OFF + level * _NEXT, labels)


def _beside(scene: Scene, axis: int, used: dict[tuple[int, int], int]) -> tuple[Array, Array, Spot, int]:
    """Where a size along `axis` stands: the two ends of the board's side it belongs to, the direction away from the
    board, and how many sizes stand there already."""
    low, high = scene.state.after.low, scene.state.after.high
    outline = np.array([scene.spot(p) for p in scene.state.after.corners])
    others = [a for a in range(3) if a != axis]
    best: tuple[float, Array, Array, Spot, tuple[int, int]] | None = None
    for side in others:
        for sign in (-1, 1):
            out = np.zeros(3)
            out[side] = sign
            away = scene.view.direction(out)
            for level in (low, high):
                start = low.copy()
                start[side] = (high if sign > 0 else low)[side]
                rest = next(a for a in others if a != side)
                start[rest] = level[rest]
                end = start.copy()
                end[axis] = high[axis]
                a, b = np.array(scene.spot(start)), np.array(scene.spot(end))
                along = (b - a) / max(float(np.linalg.norm(b - a)), POINT)
                normal = np.array([-along[1], along[0]])
                normal = normal if normal @ np.array(away) > 0 else -normal
                beyond = float(((outline - a) @ normal).max())
                # Clear of the board, below it rather than above, square to the line rather than slanting.
                worth = 5.0 * (beyond < 0.3) - normal[1] + float(normal @ np.array(away))
                if best is None or worth > best[0] + _BETTER:
                    best = (worth, start, end, away, (side, sign))
    assert best is not None
    _, start, end, away, key = best
    level_now = used.get(key, 0)
    used[key] = level_now + 2  # running sizes stand across their line and need room for the next
    return start, end, away, level_now


def _notes(scene: Scene) -> list[tuple[str, Spot]]:
    """What a leader says of slanting cuts, new mortises and grooves, and the point it leads to."""
    unit = scene.unit
    notes: list[tuple[str, Spot]] = []
    said: set[str] = set()
    for cut in scene.state.new:
        if isinstance(cut, Slot):
            same = scene.cutter_unit == unit
            width = format_size(cut.width, scene.cutter_unit, with_unit=not same)
            text = f"{width} × {format_size(cut.length, unit)}, {format_size(cut.depth, unit)} deep"
            if text not in said and scene.view.sees(-np.array(cut.axis)):
                said.add(text)
                notes.append((text, scene.spot(np.array(cut.mouth))))
        elif isinstance(cut, PlaneCut):
            text, tip = slant_text(cut.normal, _cut_axis(cut) == 0), _slant_tip(scene, cut)
            if text and tip and text not in said:
                said.add(text)
                notes.append((f"{text}, from square", tip))
        elif isinstance(cut, Trench):
            text = _trench_text(scene, cut)
            if text not in said:
                said.add(text)
                notes.append((text, scene.spot(_trench_middle(scene, cut))))
    return notes[:3]


def _trench_text(scene: Scene, cut: Trench) -> str:
    low, high = np.array(cut.low), np.array(cut.high)
    body = scene.state.before
    open_axes = [a for a in range(3) if low[a] <= body.low[a] + WOOD or high[a] >= body.high[a] - WOOD]
    deep = next((a for a in (2, 1) if a in open_axes), 2)
    runs = int(np.argmax(high - low))
    across = next(a for a in range(3) if a not in (deep, runs))
    wide, depth = float(high[across] - low[across]), float(high[deep] - low[deep])
    text = f"{format_size(wide, scene.unit)} wide, {format_size(depth, scene.unit)} deep"
    name, from_high = _guide(scene.operation.notes.fence, across)
    start = float(body.high[across] - high[across] if from_high else low[across] - body.low[across])
    return text + (f", {format_size(start, scene.unit)} from the {name}" if start > WOOD else "")


def _guide(fence: str, axis: int) -> tuple[str, bool]:
    """The surface a cut's place along `axis` is measured from, and whether it is the upper one: what lies on the fence,
    else the reference end, edge or face."""
    for name in ("left end", "right end", "far edge", "edge", "face", "back"):
        normal = outward(name)
        if re.search(rf"\b{name}\b", fence) and normal is not None and abs(normal[axis]) > MOSTLY:
            return name, bool(normal[axis] > 0)
    return (("left end", False), ("edge", False), ("face", True))[axis]


def _trench_middle(scene: Scene, cut: Trench) -> Array:
    """A point on the mouth of a groove, a third along it."""
    low, high = np.maximum(cut.low, scene.state.after.low), np.minimum(cut.high, scene.state.after.high)
    share = np.array([1 / 3, 0.5, 0.5])
    point = low + share * (high - low)
    for axis in (2, 1):
        if high[axis] >= scene.state.after.high[axis] - WOOD:
            point[axis] = high[axis]
            break
        if low[axis] <= scene.state.after.low[axis] + WOOD:
            point[axis] = low[axis]
            break
    return np.asarray(point)
