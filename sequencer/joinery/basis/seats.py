"""Where the mortiser sits: the frame in which the two halves of a joint are one.

A *seat* is one place on one part where a row of slots is plunged. Its frame lies in the surface plunged into:
`along` runs along the row, `across` away from the fence (both unit), `axis` into the wood. A point of the row is
`origin + s * along + c * across`; s and c are the same numbers in both halves of a joint, so the halves match by
construction, and the frames say how the parts come together (see `sequencer.joinery.ways.mating`). Lengths in mm.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import acos, degrees, hypot, inf

from sequencer.geometry.board import Board
from sequencer.joinery.basis.nearness import COSINE_HAIR
from sequencer.model.parts import Part
from sequencer.operations import PlaneCut, Point, Slot, Trench

OPPOSITE = {
    "left end": "right end",
    "right end": "left end",
    "edge": "far edge",
    "far edge": "edge",
    "face": "back",
    "back": "face",
}

X: Point = (1.0, 0.0, 0.0)
Y: Point = (0.0, 1.0, 0.0)
Z: Point = (0.0, 0.0, 1.0)


def dot(a: Point, b: Point) -> float:
    """Scalar product."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def add(a: Point, b: Point, times: float = 1.0) -> Point:
    """a + times * b."""
    return (a[0] + times * b[0], a[1] + times * b[1], a[2] + times * b[2])


def cross(a: Point, b: Point) -> Point:
    """Vector product."""
    return (a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0])


def unit(a: Point) -> Point:
    """The direction of `a`."""
    size = hypot(*a)
    return (a[0] / size, a[1] / size, a[2] / size)


def neg(v: Point) -> Point:
    """The other way."""
    return (-v[0], -v[1], -v[2])


def outward(surface: str) -> Point:
    """Normal out of the wood of a fresh board's surface."""
    return {
        "left end": (-1.0, 0.0, 0.0),
        "right end": (1.0, 0.0, 0.0),
        "edge": (0.0, -1.0, 0.0),
        "far edge": (0.0, 1.0, 0.0),
        "back": (0.0, 0.0, -1.0),
        "face": (0.0, 0.0, 1.0),
    }[surface]


@dataclass(frozen=True)
class Side:
    """One plane that bounds a part after all its cuts: the wood is where normal . x <= offset."""

    name: str
    normal: Point
    offset: float


@dataclass(frozen=True)
class Body:
    """A part's wood after all sawn ends and edges: a box cut by planes."""

    part: Part
    sides: tuple[Side, ...]
    grooves: tuple[Trench, ...] = ()
    """Trenches along the grain; rows of slots across it keep out of those they would come too near (`row_grooves`)."""

    @classmethod
    def of(cls, part: Part, cuts: Iterable[PlaneCut], grooves: tuple[Trench, ...] = ()) -> Body:
        """The body a part has after these cuts. Raises FigureError where they leave nothing."""
        board = Board.fresh(part.length, part.width, part.thickness).after(cuts)
        return cls(
            part,
            tuple(
                Side(p.name, (float(p.normal[0]), float(p.normal[1]), float(p.normal[2])), float(p.offset))
                for p in board.planes
            ),
            grooves,
        )

    def side(self, name: str) -> Side | None:
        """The bounding plane of this name, None where it is cut away."""
        return next((side for side in self.sides if side.name == name), None)


@dataclass(frozen=True)
class Seat:
    """One place where a row of slots is plunged into one part."""

    body: Body
    base: str
    """The surface the tool's base sits on: the one plunged into."""
    fence: str
    """The surface on the fence; "" where a clamped batten guides the base instead (`batten_from`)."""
    origin: Point
    along: Point
    across: Point
    axis: Point
    start: str
    """The surface the pencil lines are measured from; `line_shift` is its distance to s = 0."""
    line_shift: float = 0.0
    shift: float = 0.0
    """Distance from the line where fence and base meet to c = 0, along the base surface; where c runs towards the fence
    (`turned`), to the mating part."""
    waste: tuple[float, float] = (0.0, 0.0)
    """Depth sawn away later at the middle of the slot: first + second * c."""
    opens: tuple[str, ...] = ()
    """Surfaces besides the base that a slot may open on: the bevel that comes later."""
    deepest: float = inf
    """Depth beyond which the slot meets another one."""
    deepest_why: str = ""
    other_at: float = inf
    """Depth at which a like row from the other inner side of a leg lies with its c = 0; its own c is nearer."""
    at: float = 0.0
    """Where the mating part meets this one, as the joint's `at` says; tells rows on one edge apart."""
    turned: float = 0.0
    """Where c runs towards the fence: thickness of the mating part, which c is on its side at the fence."""
    batten_from: str = ""
    """The end that a clamped batten's line is measured from, where one guides the base instead of the fence."""

    @property
    def part(self) -> Part:
        """The part plunged into."""
        return self.body.part

    @property
    def place_from(self) -> str:
        """The surface that `from_fence` is measured from."""
        return self.fence or self.batten_from

    @property
    def angle(self) -> float:
        """Inside angle between base and fence surface, degrees: what the mortiser's fence is set to."""
        if not self.fence:
            return 90.0
        out = self._fence_normal()
        return 180.0 - degrees(acos(max(-1.0, min(1.0, -dot(self.axis, out)))))

    def _fence_normal(self) -> Point:
        side = self.body.side(self.fence)
        return side.normal if side is not None else outward(self.fence)

    def from_fence(self, c: float) -> float:
        """Distance from the line where fence and base meet (without a fence, from the end the batten's line is measured
        from) to the slots at c, along the base surface."""
        return self.shift + (self.turned - c if self.turned else c)

    @property
    def towards_left(self) -> bool:
        """Whether c runs towards the part's left end."""
        return self.across[0] < -0.5

    def wasted(self, c: float) -> float:
        """Depth that goes with the offcut, at the middle of a slot at c."""
        return self.waste[0] + self.waste[1] * c

    def mouth(self, s: float, c: float) -> Point:
        """The middle of a slot's mouth."""
        return add(add(self.origin, self.along, s), self.across, c)

    def slot(self, joint: str, s: float, c: float, length: float, width: float, depth: float) -> Slot:
        """The slot plunged at (s, c)."""
        return Slot(
            part=self.part.id,
            joint=joint,
            mouth=_clean(self.mouth(s, c)),
            axis=_clean(self.axis),
            along=_clean(self.along),
            length=length,
            width=width,
            depth=depth,
        )

    def walls(
        self, s: float, c: float, length: float, width: float, depth: float
    ) -> list[tuple[Side, float, float]]:
        """For every surface the slot does not open on: the side, the wall left to it, and how fast the wall
        shrinks as the slot deepens (mm per mm)."""
        middle = self.mouth(s, c)
        found = []
        for side in self.body.sides:
            if side.name == self.base or side.name in self.opens:
                continue
            n = side.normal
            run, over = dot(n, self.along), dot(n, self.across)
            reach = dot(n, middle) + abs(run) * (length - width) / 2 + hypot(run, over) * width / 2
            fall = max(0.0, dot(n, self.axis))
            found.append((side, side.offset - reach - depth * fall, fall))
        return found

    def span(self, c: float) -> tuple[float, float]:
        """From where to where the row can run along the wood, in s: the line of the middles of its mouths, as far as
        it lies in the surface plunged into. Where that line misses it, the second is less than the first.
        """
        low, high = -inf, inf
        start = self.mouth(0.0, c)
        for side in self.body.sides:
            if side.name == self.base or side.name in self.opens:
                continue
            # any surface the row runs towards ends it, however flat it meets it: a level edge, a steep mitre
            rate, room = dot(side.normal, self.along), side.offset - dot(side.normal, start)
            if rate > COSINE_HAIR:
                high = min(high, room / rate)
            elif rate < -COSINE_HAIR:
                low = max(low, room / rate)
        return low, high


@dataclass(frozen=True)
class Pair:
    """The two seats that make one corner or meeting; `middle` is the c a slot takes by preference, `least`
    and `most` the c it can have between fence surface and opposite surface."""

    first: Seat
    second: Seat
    middle: float
    least: float
    most: float


def rail_seat(body: Body, end: str, fence: str = "face") -> Seat:
    """The seat on a square end, its row along the width."""
    left, part = end == "left end", body.part
    from_face = fence == "face"
    return Seat(
        body=body,
        base=end,
        fence=fence,
        origin=(0.0 if left else part.length, 0.0, part.thickness if from_face else 0.0),
        along=Y,
        across=neg(Z) if from_face else Z,
        axis=X if left else neg(X),
        start="edge",
    )


def _clean(point: Point) -> Point:
    """Without the dust of floating point, so that equal cuts are equal values."""
    x, y, z = (round(v, 9) + 0.0 for v in point)
    return (x, y, z)
