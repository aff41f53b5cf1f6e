"""Where a mortise can go: walls, depths and places of slots in bevelled and square faces.

Lengths in mm, angles in degrees. Two kinds of corner are covered in closed form, seen in the section square
to the joint line: a slot plunged square into a bevelled face, and the mitre whose slots are plunged while
both ends are still square. Slots as solids, and their distance to anything else, are in
`sequencer.geometry.slots`. Formulae: plane trigonometry, checked in the tests against a general polygon
library and an independent solid modeller.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, inf, radians, sin, tan

from sequencer.geometry.refusal import FigureError, number, require_between


def _length(what: str, value: float) -> None:
    require_between(what, value, 0, inf, "mm")


def _tilt(value: float) -> None:
    require_between("bevel tilt", value, 0, 90, "degrees from square", low_open=False)


@dataclass(frozen=True)
class BevelFace:
    """The face a bevel of `tilt` degrees from square leaves on a board of `thickness`, in section.

    Places on it are measured from the sharp corner, where it meets the outside face at the angle 90 - tilt.
    """

    thickness: float
    tilt: float

    def __post_init__(self) -> None:
        _length("thickness", self.thickness)
        _tilt(self.tilt)

    @property
    def length(self) -> float:
        """Length of the face from the sharp corner to the heel, mm: thickness / cos tilt.

        >>> round(BevelFace(18, 45).length, 4)
        25.4558
        """
        return self.thickness / cos(radians(self.tilt))

    def outside_wall(self, width: float, centre: float, depth: float) -> float:
        """Wood left between a slot and the outside face, mm; negative when the slot shows through by that
        much.

        The slot is `width` thick, its middle `centre` from the sharp corner, plunged `depth` square to the
        face: (centre - width / 2) sin phi - depth cos phi with phi = 90 - tilt. Holds for compound bevels
        too.

        >>> round(BevelFace(18, 45).outside_wall(6, 18 / 2**0.5, 8), 4)
        1.2218
        """
        _length("slot width", width)
        near = centre - width / 2
        return near * cos(radians(self.tilt)) - depth * sin(radians(self.tilt))

    def heel_wall(self, width: float, centre: float) -> float:
        """Wood left at the mouth between a slot and the inside face, mm; it grows with depth."""
        _length("slot width", width)
        return (self.length - centre - width / 2) * cos(radians(self.tilt))

    def break_through(self, width: float, centre: float) -> float:
        """Depth at which a slot comes out of the outside face, mm; infinite on a square end.

        >>> round(BevelFace(18, 45).break_through(6, 15.7826), 4)
        12.7826
        """
        return self.deepest(width, centre, 0.0)

    def deepest(self, width: float, centre: float, wall: float) -> float:
        """Greatest depth that leaves `wall` to the outside face, mm; negative when not even the mouth does.

        >>> round(BevelFace(18, 45).deepest(6, 18 / 2**0.5, 3), 4)
        5.4853
        """
        _length("slot width", width)
        at_mouth = (centre - width / 2) * cos(radians(self.tilt)) - wall
        if self.tilt < 1e-9:
            return inf if at_mouth >= 0 else -inf
        return at_mouth / sin(radians(self.tilt))

    def nearest_centre(self, width: float, depth: float, wall: float) -> float:
        """The place nearest to the sharp corner where a slot of that depth leaves `wall` outside, mm."""
        _length("slot width", width)
        return width / 2 + (wall + depth * sin(radians(self.tilt))) / cos(radians(self.tilt))

    def farthest_centre(self, width: float, wall: float) -> float:
        """The place farthest from the sharp corner where a slot leaves `wall` at the heel, mm."""
        _length("slot width", width)
        return self.length - width / 2 - wall / cos(radians(self.tilt))

    def place(self, width: float, depth: float, wall: float, heel_wall: float | None = None) -> float:
        """The middle of the slot, mm from the sharp corner: centred if the outside wall allows, else just far
        enough in.

        Shifting toward the inside is what keeps a deep slot from showing. Raises FigureError, with the depth
        that would do, when `wall` outside and `heel_wall` (the same unless given) cannot both be had.
        """
        heel = wall if heel_wall is None else heel_wall
        low, high = self.nearest_centre(width, depth, wall), self.farthest_centre(width, heel)
        if low > high + 1e-9:
            best = self.outside_wall(width, high, depth)
            works = self.deepest(width, high, wall)
            raise FigureError(
                f"wall to the outside face would be {number(round(best, 2))} mm, wanted {number(wall)} mm",
                f"a depth of {number(int(works * 10) / 10)} mm or less"
                if works >= 0.1
                else f"a slot narrower than {number(width)} mm, or thicker stock",
            )
        return min(max(self.length / 2, low), high)


@dataclass(frozen=True)
class SquareFirst:
    """A mitred corner whose two slots are plunged while both ends are still square, in section.

    The outer corner is the origin. The end board runs along y with its outside face on x = 0; the face board
    leaves at the inside angle `corner` from it; both are `thickness` thick. The slip lies parallel to y with
    its middle on x = `centre`, `width` thick. The end board is plunged `end_depth` deep from its square end,
    which stands at y = 0; the face board `face_depth` deep from its inside face along the slip, so square to
    that face at a 90 degree corner and (corner - 90) degrees off square at others. Both boards are then
    bevelled through the outer corner.
    """

    thickness: float
    corner: float
    width: float
    centre: float
    end_depth: float
    face_depth: float

    def __post_init__(self) -> None:
        for what in ("thickness", "width", "end_depth", "face_depth"):
            _length(what.replace("_", " "), getattr(self, what))
        require_between("corner", self.corner, 0, 180, "degrees inside")
        require_between("slot centre", self.centre, 0, self.thickness, "mm from the outside face")

    @property
    def tilt(self) -> float:
        """Tilt of the bevel that both boards get afterwards, degrees from square."""
        return 90.0 - self.corner / 2

    @property
    def plunge_off_square(self) -> float:
        """How far the plunge into the face board is off square to its face, degrees (0 at a 90 degree
        corner).
        """
        return self.corner - 90.0

    def _mitre(self, x: float) -> float:
        return x / tan(radians(self.corner / 2))

    def _inside_face(self, x: float) -> float:
        return (self.thickness + x * cos(radians(self.corner))) / sin(radians(self.corner))

    @property
    def bottom(self) -> float:
        """y of the slot's bottom in the face board, mm."""
        return self._inside_face(self.centre) - self.face_depth

    @property
    def outside_wall(self) -> float:
        """Wood left between the face board's slot and its outside face, mm; negative when it shows.

        >>> SquareFirst(18, 90, 6, 9, 15, 15).outside_wall
        3.0
        """
        c = radians(self.corner)
        wall = self.bottom * sin(c) - self.centre * cos(c) - self.width / 2 * abs(cos(c))
        return round(wall, 12) + 0.0

    @property
    def end_walls(self) -> tuple[float, float]:
        """Wood left beside the end board's slot, to its outside and its inside face, mm."""
        return self.centre - self.width / 2, self.thickness - self.centre - self.width / 2

    @property
    def glued_in_end(self) -> float:
        """Mean length of the cheeks left in the end board after the bevel, mm; negative when the slot is sawn
        away.
        """
        return self.end_depth - self._mitre(self.centre)

    @property
    def glued_in_face(self) -> float:
        """Mean length of the cheeks left in the face board after the bevel, mm; negative when the slot is
        sawn away.

        >>> corner = SquareFirst(18, 90, 6, 9, 15, 15)
        >>> round(corner.glued_in_face, 9), round(corner.glued_in_end, 9)
        (6.0, 6.0)
        """
        return self._mitre(self.centre) - self.bottom

    @property
    def slip_length(self) -> float:
        """Length of the room for the slip, from bottom to bottom, mm."""
        return self.end_depth - self.bottom

    @property
    def mouth_from_end(self) -> float:
        """Middle of the slot's mouth on the face board's inside face, from that board's square end, mm.

        The face board's square end, too, stands at the outer corner, square to its own faces.
        """
        c = radians(self.corner)
        return self.centre * sin(c) + self._inside_face(self.centre) * cos(c)

    @property
    def end_waste(self) -> float:
        """Mean depth of the end board's slot that goes with the offcut, mm."""
        return self._mitre(self.centre)

    @property
    def face_waste(self) -> float:
        """Mean depth of the face board's slot that goes with the offcut, mm."""
        return self._inside_face(self.centre) - self._mitre(self.centre)


def equal_depth_centre(
    thickness: float, corner: float = 90.0, *, glued_in_end: float = 0.0, glued_in_face: float = 0.0
) -> float:
    """Place of the slip, mm from the end board's outside face, at which both plunges are equally deep.

    For glued lengths that differ the slip moves off the middle: centre = (thickness + (face - end) sin
    corner) / (2 + cos corner), from equating the two depths of `SquareFirst`.

    >>> equal_depth_centre(18)
    9.0
    """
    _length("thickness", thickness)
    require_between("corner", corner, 0, 180, "degrees inside")
    c = radians(corner)
    return round((thickness + (glued_in_face - glued_in_end) * sin(c)) / (2.0 + cos(c)), 12)


def square_first(
    thickness: float,
    width: float,
    glued: float,
    *,
    corner: float = 90.0,
    glued_in_face: float | None = None,
    centre: float | None = None,
    wall: float = 0.0,
) -> SquareFirst:
    """The square-first corner that glues `glued` in the end board (and in the face board unless given apart).

    The slip goes where both plunges are equally deep unless `centre` says otherwise. Raises FigureError when
    less than `wall` is left anywhere, with the glued length that would do.

    >>> square_first(18, 6, 6).end_depth
    15.0
    """
    in_face = glued if glued_in_face is None else glued_in_face
    _length("glued length", glued)
    _length("glued length in the face board", in_face)
    if centre is None:
        centre = equal_depth_centre(thickness, corner, glued_in_end=glued, glued_in_face=in_face)
    probe = SquareFirst(thickness, corner, width, centre, 1.0, 1.0)
    made = SquareFirst(
        thickness,
        corner,
        width,
        centre,
        round(glued + probe.end_waste, 12),
        round(in_face + probe.face_waste, 12),
    )
    if made.outside_wall < wall - 1e-9:
        works = in_face - (wall - made.outside_wall) / sin(radians(corner))
        raise FigureError(
            f"wall to the outside face would be {number(round(made.outside_wall, 2))} mm, "
            f"wanted {number(wall)} mm",
            f"a glued length of {number(int(works * 10) / 10)} mm or less in the face board"
            if works >= 0.1
            else f"a slip thinner than {number(width)} mm, or thicker stock",
        )
    for side, left in zip(("outside", "inside"), made.end_walls, strict=True):
        if left < wall - 1e-9:
            raise FigureError(
                f"wall to the end board's {side} face would be {number(round(left, 2))} mm, "
                f"wanted {number(wall)} mm",
                f"a slip of {number(width - 2 * (wall - left))} mm or thinner"
                if width > 2 * (wall - left)
                else "thicker stock",
            )
    return made
