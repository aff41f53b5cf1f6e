"""The part as it looks at a step: isometric, hidden edges dashed, the fence surface hatched, the cut drawn boldly.

Wood that the step takes off stands in long-dash-double-dot lines. The reference face carries a ring with a dot and a
tail that points to the reference edge; the reference edge carries two bars.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from sequencer.cards.planbook import cutter_unit
from sequencer.operations import Cut, Operation, PlaneCut, Slot, Trench
from sequencer.planfile import PartRecord, Plan
from sequencer.report.drawing.figure import (
    Figure,
    Item,
    Path,
    PenName,
    Spot,
    extent,
    framed,
    hatching,
)
from sequencer.report.drawing.history import PartState, part_state
from sequencer.report.drawing.nearness import DUST, POINT, WOOD
from sequencer.report.drawing.part_sizes import sizes
from sequencer.report.drawing.projection import Wish, best_view
from sequencer.report.drawing.scene import Mouth, Scene
from sequencer.report.drawing.shortening import shorten
from sequencer.report.drawing.solid import Convex, Segment, Solid, cavity, outward, segments
from sequencer.report.drawing.vectors import Array

_TALLEST = 1.0  # largest scale: full size
_DOT, _JOINED = (
    1e-4,
    1e-3,
)  # pieces of a line: shorter ones are left out, ends nearer than this are joined, mm on paper
_SHORT = 0.5  # a side of a face shorter than this is no matter for its hatching, mm on paper
_AWAY = 0.25  # of the length: marks this far from all else need be no farther


def part_scenes(plan: Plan, *operations: Operation) -> tuple[Scene, ...]:
    """What there is to draw of the operations: one scene for all parts that look alike, cuts and pencil lines too.

    A part whose sizes or cuts the plan does not carry has none.
    """
    records = {part.id: part for part in plan.parts}
    alike: dict[object, list[tuple[Operation, PartRecord]]] = {}
    for operation in operations:
        for name in dict.fromkeys(cut.part for cut in operation.cuts):
            part = records.get(name)
            if part is not None and min(part.length, part.width, part.thickness) > 0:
                alike.setdefault(_likeness(plan, operation, part), []).append((operation, part))
    scenes = [_scene(plan, pairs[0][0], [part for _, part in pairs]) for pairs in alike.values()]
    return tuple(scene for scene in scenes if scene.state.after.faces)


def part_figures(plan: Plan, operation: Operation, width: float, height: float) -> tuple[Figure, ...]:
    """The figures of an operation's parts, each no larger than `width` by `height` mm; their titles name the parts."""
    return tuple(scene_figure(scene, width, height) for scene in part_scenes(plan, operation))


def _likeness(plan: Plan, operation: Operation, part: PartRecord) -> object:
    """Equal for parts that one drawing will do for. Their length counts only where the step cuts them to it: a rip, a
    groove from end to end or mortises as far from their end look the same on a longer board."""
    state = part_state(plan, operation, part)
    lines = [(line.start, line.across, line.at) for line in operation.notes.lines if line.part == part.id]
    ends = any(isinstance(cut, PlaneCut) and abs(cut.normal[0]) > DUST for cut in state.new)
    return (
        part.length if ends else 0.0,
        part.width,
        part.thickness,
        tuple(_from_nearer_end(cut, part) for cut in state.old),
        tuple(_from_nearer_end(cut, part) for cut in state.new),
        tuple(lines),
        operation.notes.fence,
        operation.notes.table,
    )


def _from_nearer_end(cut: Cut, part: PartRecord) -> object:
    """The cut without its names, its places along the length measured from the end they are nearer to."""

    def place(x: float) -> tuple[bool, float]:
        right = x > part.length / 2
        return right, round(part.length - x if right else x, 6)

    bare = cut.model_copy(update={"part": "", "joint": ""})
    if isinstance(cut, Trench):
        return tuple((place(point[0]), point[1:]) for point in (cut.low, cut.high))
    field, point = ("mouth", cut.mouth) if isinstance(cut, Slot) else ("point", cut.point)
    along = not isinstance(cut, Slot) and abs(cut.normal[0]) < DUST  # a plane along the board: no place on it
    return bare.model_copy(update={field: ()}), None if along else place(point[0]), point[1:]


def _scene(plan: Plan, operation: Operation, parts: Sequence[PartRecord]) -> Scene:
    state = part_state(plan, operation, parts[0])
    view = best_view(_wishes(state, operation))
    cut_out = shorten(state, operation)
    solids = cut_out.solids(Solid(state.after, state.cutters, state.fresh))
    return Scene(
        state,
        operation,
        view,
        cut_out,
        plan.unit,
        cutter_unit(plan),
        tuple(dict.fromkeys(part.id for part in parts)),
        segments(solids, view.viewer) if state.after.faces else (),
        tuple(_mouths_of(state)),
    )


def _mouths_of(state: PartState) -> Iterator[Mouth]:
    for cutter, fresh in zip(state.cutters, state.fresh, strict=True):
        for face in cavity(cutter, state.after).faces:
            if face.name.startswith("body/"):
                yield Mouth(face.name.removeprefix("body/"), face.points, fresh)


def scene_figure(scene: Scene, width: float, height: float) -> Figure:
    """The scene on paper, no larger than `width` by `height` mm."""
    bare = [Path(scene.outline(face.points)) for face in scene.state.before.faces]
    scale = min(_TALLEST, 0.95 * _fit(bare, width, height))
    for _ in range(12):  # sizes and words do not shrink with the wood: try again until all fits
        scene = replace(scene, view=replace(scene.view, scale=scale))
        items = _draw(scene, width - 1.2)
        fit = _fit(items, width - 1.2, height - 1.2)
        if fit >= 1.0:
            break
        scale *= min(0.97, max(0.6, fit))
    return framed(items, ", ".join(scene.names), _alt(scene))


def _fit(items: Sequence[Item], width: float, height: float) -> float:
    left, bottom, right, top = extent(items)
    return min(width / max(right - left, POINT), height / max(top - bottom, POINT))


def _wishes(state: PartState, operation: Operation) -> list[Wish]:
    """What the view should show, heaviest first: mortise mouths, what lies on table and fence, the cut, the marks."""
    wishes: list[Wish] = []
    slots = [cut for cut in state.new if isinstance(cut, Slot)]
    for slot in slots:
        wishes.append(Wish(-np.array(slot.axis), 12.0 / len(slots)))
    for cut in state.new:
        if isinstance(cut, PlaneCut):
            wishes.append(Wish(np.array(cut.normal), 2.0))
        if isinstance(cut, Trench):
            wishes += [Wish(normal, 8.0) for normal in _open_sides(cut, state.before)]
    for name in named(operation.notes.fence, state):
        wishes.append(Wish(_normal(state, name), 5.0))
    if not slots:
        wishes += [
            Wish(-_normal(state, name), 9.0, upright=True) for name in named(operation.notes.table, state)[:1]
        ]
    for name, weight in (("face", 1.0), ("edge", 1.0)):
        if state.after.face(name):
            wishes.append(Wish(_normal(state, name), weight))
    wishes.append(Wish(np.array([0.0, 0.0, 1.0]), 0.5, upright=True))
    return wishes


def _open_sides(trench: Trench, body: Convex) -> list[Array]:
    """Outward normals of the surfaces across the thickness or width that a groove is open to."""
    sides = []
    for axis in (1, 2):
        for sign, out in (
            (-1.0, trench.low[axis] <= body.low[axis] + WOOD),
            (1.0, trench.high[axis] >= body.high[axis] - WOOD),
        ):
            if out:
                normal = np.zeros(3)
                normal[axis] = sign
                sides.append(normal)
    return sides if len(sides) < 4 else []


def named(text: str, state: PartState) -> list[str]:
    """The surfaces of the part that a note names, in the order of the note."""
    names = sorted({face.name for face in (*state.before.faces, *state.after.faces)}, key=len, reverse=True)
    found: dict[int, str] = {}
    rest = re.sub(
        r"\([^)]*\)", lambda aside: "#" * len(aside[0]), text
    )  # what stands in brackets only explains
    for name in names:
        for clause in (f"reference {name}", name):
            at = rest.find(clause)
            if at >= 0:
                found[at] = name
                rest = rest.replace(clause, "#" * len(clause))
    return [found[at] for at in sorted(found)]


def _normal(state: PartState, name: str) -> Array:
    face = state.before.face(name) or state.after.face(name)
    if face is not None:
        return face.normal
    normal = outward(name)
    return normal if normal is not None else np.zeros(3)


def _draw(scene: Scene, room: float) -> tuple[Item, ...]:
    made = {cut.surface for cut in scene.state.new if isinstance(cut, PlaneCut)}
    lines: dict[PenName, list[tuple[Spot, Spot]]] = {}
    for segment in scene.edges:
        pen = _pen(segment, made, scene.state.fresh)
        lines.setdefault(pen, []).append((scene.view.spot(segment.start), scene.view.spot(segment.end)))
    items: list[Item] = []
    items += _fence_hatch(scene)
    items += _waste(scene)
    for pen in ("hidden", "cut hidden", "narrow", "wide", "cut"):
        items += [Path(chain, pen) for chain in _chains(lines.get(pen, []))]
    items += _mouths(scene)
    items += _marks(scene)
    return (*items, *sizes(scene, items, room))


def _pen(segment: Segment, made: set[str], fresh: Sequence[bool]) -> PenName:
    """The pen of an edge: bold for what the step makes; lines of a groove or mortise stand too close to be bold."""
    if any(name.startswith("break") for name in segment.faces):
        return "narrow" if segment.seen else "hidden"
    new = segment.cutter >= 0 and fresh[segment.cutter]
    mouth = any(name.startswith("body/") for name in segment.faces)
    if segment.cutter < 0 and made.intersection(segment.faces):
        return "cut" if segment.seen else "cut hidden"
    if new and mouth and not segment.seen:
        return "cut hidden"
    return "wide" if segment.seen else "hidden"


def _chains(pieces: Sequence[tuple[Spot, Spot]]) -> list[tuple[Spot, ...]]:
    """Pieces joined end to end, so that dashes run on around a rounded outline."""
    chains: list[list[Spot]] = []
    for start, end in pieces:
        if math.dist(start, end) < _DOT:
            continue
        for chain in chains:
            if math.dist(chain[-1], start) < _JOINED:
                chain.append(end)
            elif math.dist(chain[-1], end) < _JOINED:
                chain.append(start)
            elif math.dist(chain[0], end) < _JOINED:
                chain.insert(0, start)
            elif math.dist(chain[0], start) < _JOINED:
                chain.insert(0, end)
            else:
                continue
            break
        else:
            chains.append([start, end])
    return [tuple(chain) for chain in chains]


def _fence_hatch(scene: Scene) -> list[Item]:
    """The surfaces on the fence, hatched around the mouths in them; dashed where they are turned away from the viewer,
    as of two opposite ones (first this end, then that) one must be."""
    items: list[Item] = []
    for name in named(scene.operation.notes.fence, scene.state):
        face = scene.state.after.face(name)
        if face is None:
            continue
        loops = [scene.outline(face.points)]
        loops += [scene.outline(mouth.points) for mouth in scene.mouths if mouth.surface == name]
        seen = scene.view.sees(face.normal)
        angle = _hatch_angle(loops[0])
        items += hatching(loops, angle) if seen else hatching(loops, angle, 2.2, "hidden")
    return items


def _hatch_angle(spots: Sequence[Spot]) -> float:
    """A slope that runs along none of the face's sides."""
    slopes = []
    for a, b in zip(spots, [*spots[1:], spots[0]], strict=True):
        if math.dist(a, b) > _SHORT:
            slopes.append(math.degrees(math.atan2(b[1] - a[1], b[0] - a[0])) % 180)

    def clear(angle: float) -> float:
        return min(min(abs(angle - s), 180 - abs(angle - s)) for s in slopes) if slopes else 90.0

    return max((60.0, 120.0, 0.0, 45.0, 135.0), key=lambda angle: round(clear(angle)))


def _waste(scene: Scene) -> list[Item]:
    """The wood the step takes off: the edges that would be seen."""
    pieces: list[tuple[Spot, Spot]] = []
    made = {cut.surface for cut in scene.state.new if isinstance(cut, PlaneCut)}
    for body in scene.state.waste:
        for ridge in body.ridges:
            faces = (ridge.first, ridge.second)
            if made.intersection(face.name for face in faces):
                continue
            if any(scene.view.sees(face.normal) for face in faces):
                pieces.append((scene.spot(ridge.start), scene.spot(ridge.end)))
    return [Path(chain, "waste") for chain in _chains(pieces)]


def _mouths(scene: Scene) -> list[Item]:
    """The mouths of new mortises and grooves, black where they are seen: this is where the cutter goes in."""
    items: list[Item] = []
    for mouth in scene.mouths:
        face = scene.state.after.face(mouth.surface)
        if mouth.fresh and face is not None and scene.view.sees(face.normal):
            items.append(Path(scene.outline(mouth.points), None, closed=True, fill="black"))
    return items


def _marks(scene: Scene) -> list[Item]:
    """The marks on reference face and edge, where they are seen, away from mortises and grooves."""
    state = scene.state
    at = _quiet_place(state)
    width, high = state.after.high[1], state.after.high[2]
    radius = min(0.16 * state.part.width, 1.7 / scene.view.scale)
    items: list[Item] = []
    face, edge = state.after.face("face"), state.after.face("edge")
    middle = min(width * 0.5, width - radius * 1.5)
    if face is not None and scene.view.sees(face.normal):
        turns = np.linspace(0, 2 * np.pi, 33)
        for size, fill in ((radius, "none"), (radius * 0.35, "black")):
            ring = [(at + size * math.cos(t), middle + size * math.sin(t), high) for t in turns]
            items.append(Path(tuple(scene.spot(np.array(p)) for p in ring[:-1]), "narrow", True, fill))  # type: ignore[arg-type]
        tail = [(at, middle - radius, high), (at, state.after.low[1], high)]
        items.append(Path(tuple(scene.spot(np.array(p)) for p in tail), "narrow"))
    if edge is not None and scene.view.sees(edge.normal):
        gap = min(0.6 / scene.view.scale, 0.12 * state.part.width)
        for side in (-gap, gap):
            bar = [(at + side, 0.0, state.after.low[2]), (at + side, 0.0, high)]
            items.append(Path(tuple(scene.spot(np.array(p)) for p in bar), "wide"))
    return items


def _quiet_place(state: PartState) -> float:
    """Where along the board its marks stand: as far as may be from mortises, ends and the break."""
    low, high = float(state.after.low[0]), float(state.after.high[0])
    busy = [low, high]
    for cut in (*state.old, *state.new):
        if isinstance(cut, Slot):
            half = abs(cut.along[0]) * cut.length / 2 + abs(cut.axis[0]) * cut.depth
            busy += [cut.mouth[0] - half, cut.mouth[0], cut.mouth[0] + half]
    spots = np.linspace(low, high, 24)[3:-3]
    return float(max(spots, key=lambda x: min(min(abs(x - b) for b in busy), _AWAY * (high - low))))


def _alt(scene: Scene) -> str:
    notes = scene.operation.notes
    parts = [f"{scene.state.part.id} at the step: {scene.operation.in_words}"]
    if notes.fence:
        parts.append(f"hatched, on the fence: {notes.fence}")
    return "; ".join(parts)
