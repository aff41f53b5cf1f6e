"""Whether the cuts of a plan file are cuts of its parts: what no saw or cutter can do, no card can draw; and no more
pieces are cut than there are.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import combinations
from math import isclose, sqrt

from sequencer.agreement.lists import Contradiction
from sequencer.diagnostics import quoted
from sequencer.operations import Cut, PlaneCut, Point, Slot, Trench
from sequencer.planfile import PartRecord, Plan

UNIT = 1e-6
"""What rounding may take from a direction of length 1."""
LEAST_WOOD = 1e-3
"""mm: what is thinner than twice this is no wood left."""

HalfSpace = tuple[Point, float]
"""The wood is where normal . x <= offset."""


def not_cut(plan: Plan) -> Iterator[Contradiction]:
    """Cuts that are none: without direction, size or surface, beside their part, or through all of it. Without the
    shape of a part only what is wrong with its cuts in themselves is told."""
    parts = {part.id: part for part in plan.parts}
    sound = True
    for index, part in enumerate(plan.parts):
        if min(_size(part)) <= 0:
            sound = False
            yield Contradiction(f"parts.{index}", "a part has a size", "length, width and thickness above 0")
    for name, operations in (("done", plan.done), ("operations", plan.operations)):
        for index, operation in enumerate(operations):
            for number, cut in enumerate(operation.cuts):
                for key, message, accepted in _in_itself(cut, parts):
                    sound = False
                    yield Contradiction(f"{name}.{index}.cuts.{number}.{key}", message, accepted)
    if sound:
        yield from _through(plan)
    yield from _pieces(plan)


def _in_itself(cut: Cut, parts: dict[str, PartRecord]) -> Iterator[tuple[str, str, str]]:
    """What is wrong with a cut: key, message, accepted."""
    part = parts.get(cut.part)
    if parts and part is None:
        yield "part", f'the plan has no part "{cut.part}"', quoted(parts)
    if not isinstance(cut, Slot) and not cut.surface.strip():
        yield "surface", "must not be empty", 'the name of the surface it makes, or works on, such as "edge"'
    directions = {PlaneCut: ("normal",), Slot: ("axis", "along"), Trench: ()}[type(cut)]
    for key in directions:
        if not isclose(sqrt(_dot(getattr(cut, key), getattr(cut, key))), 1, abs_tol=UNIT):
            yield key, "must be of length 1", "a unit vector, such as [0.0, 1.0, 0.0]"
    if isinstance(cut, Slot):
        if abs(_dot(cut.axis, cut.along)) > UNIT:
            yield "along", "must be square to axis", "a direction square to it"
        if not 0 < cut.width <= cut.length:
            yield "width", "must be more than 0 and no more than length", f"at most {cut.length:g}"
        if cut.depth <= 0:
            yield "depth", "must be more than 0", "mm, more than 0"
        if part is not None and not _near(cut.mouth, part):
            yield "mouth", f"lies nowhere near {cut.part}", "a place on its surface"
    if isinstance(cut, Trench):
        if any(low >= high for low, high in zip(cut.low, cut.high, strict=True)):
            yield "low", "must be below high along each axis", "less than high, three times"
        elif part is not None and not (_near(cut.low, part) and _near(cut.high, part)):
            yield (
                "low",
                f"the trench reaches far beyond {cut.part}",
                "a box about the wood that it takes away",
            )
        elif part is not None and any(
            low >= size or high <= 0 for low, high, size in zip(cut.low, cut.high, _size(part), strict=True)
        ):
            yield "low", f"the trench takes nothing away from {cut.part}", "a box that the part reaches into"


def _pieces(plan: Plan) -> Iterator[Contradiction]:
    """Parts of which an operation cuts more pieces than there are, or saws and grooves fewer: an operation counts each
    piece once, or once for each cut on it. Slots may be plunged into some pieces only."""
    operations = (*plan.done, *plan.operations)
    for index, part in enumerate(plan.parts):
        for operation in operations:
            if operation.parts != (part.id,) or not operation.cuts:
                continue
            least, most = -(-operation.quantity // len(operation.cuts)), operation.quantity
            some_only = any(isinstance(cut, Slot) for cut in operation.cuts)
            if part.quantity < least or (part.quantity > most and not some_only):
                message = f'the cuts of "{operation.id}" are on another number of pieces'
                accepted = (
                    f"at least {least}"
                    if some_only
                    else f"{least}"
                    if least == most
                    else f"{least} to {most}"
                )
                yield Contradiction(f"parts.{index}.quantity", message, accepted)
                break


def _through(plan: Plan) -> Iterator[Contradiction]:
    """Plane cuts after which nothing is left of a part."""
    order = {operation.id: ("operations", n, operation) for n, operation in enumerate(plan.operations)}
    made = [("done", n, operation) for n, operation in enumerate(plan.done)]
    made += [order[step.operation] for step in plan.steps]
    for part in plan.parts:
        planes = [
            (f"{name}.{index}.cuts.{number}", _half_space(cut))
            for name, index, operation in made
            for number, cut in enumerate(operation.cuts)
            if isinstance(cut, PlaneCut)
            and cut.part in (part.named if operation.id in part.passes else (part.id,))
        ]
        box = _box(part)
        if _has_wood(box + [plane for _, plane in planes]):
            continue
        for count, (where, _) in enumerate(planes, 1):
            if not _has_wood(box + [plane for _, plane in planes[:count]]):
                yield Contradiction(where, f"the cut leaves nothing of {part.id}", "a plane that leaves wood")
                break


def _has_wood(bounds: Iterable[HalfSpace]) -> bool:
    """Whether half-spaces have a body in common: whether the middle of its corners lies inside all of them."""
    planes = _each_once(bounds)
    corners = []
    for three in combinations(planes, 3):
        corner = _meet(*three)
        if corner and all(_dot(normal, corner) <= offset + UNIT for normal, offset in planes):
            corners.append(corner)
    if len(corners) < 4:
        return False
    x, y, z = (sum(values) / len(corners) for values in zip(*corners, strict=True))
    return all(_dot(normal, (x, y, z)) < offset - LEAST_WOOD for normal, offset in planes)


def _each_once(bounds: Iterable[HalfSpace]) -> list[HalfSpace]:
    """Of planes that face the same way the one that takes most."""
    planes: list[HalfSpace] = []
    for normal, offset in bounds:
        like = [n for n, (other, _) in enumerate(planes) if _dot(normal, other) > 1 - 1e-12]
        if like:
            planes[like[0]] = planes[like[0]][0], min(planes[like[0]][1], offset)
        else:
            planes.append((normal, offset))
    return planes


def _meet(first: HalfSpace, second: HalfSpace, third: HalfSpace) -> Point | None:
    """The point of three planes, None where they have no single one (Cramer's rule)."""
    a, b, c = first[0], second[0], third[0]
    across = _cross(b, c)
    whole = _dot(a, across)
    if abs(whole) < 1e-9:
        return None
    terms = (first[1], across), (second[1], _cross(c, a)), (third[1], _cross(a, b))
    x, y, z = (sum(offset * vector[k] for offset, vector in terms) / whole for k in range(3))
    return x, y, z


def _half_space(cut: PlaneCut) -> HalfSpace:
    return cut.normal, _dot(cut.normal, cut.point)


def _box(part: PartRecord) -> list[HalfSpace]:
    axes: tuple[Point, ...] = (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)
    far = [(axis, size) for axis, size in zip(axes, _size(part), strict=True)]
    return [*far, *(((-x, -y, -z), 0.0) for x, y, z in axes)]


def _size(part: PartRecord) -> tuple[float, float, float]:
    return part.length, part.width, part.thickness


def _near(point: Point, part: PartRecord) -> bool:
    """Whether a point lies no further from the part than the part is long."""
    room = max(_size(part))
    return all(-room <= at <= size + room for at, size in zip(point, _size(part), strict=True))


def _dot(a: Point, b: Point) -> float:
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def _cross(a: Point, b: Point) -> Point:
    return a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]
