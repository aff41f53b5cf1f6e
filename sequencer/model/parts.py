"""The maker's level of the files: the tables `[[part]]` and `[[joint]]` of a job, `[joinery]` of a shop.

Lengths are mm, angles degrees, times minutes once read. What a table says is checked here by itself; what
needs geometry (does the slip fit, does the ring close) is checked where the operations are derived.
"""

from __future__ import annotations

from typing import Annotated, Literal, Protocol

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Discriminator,
    Field,
    Tag,
    model_validator,
)

from sequencer.model.fields import Count, Name, PartName, Switch, Text, whole
from sequencer.quantity import (
    Angle,
    Length,
    Minutes,
    PositiveLength,
    QuantityError,
    Size,
    Unit,
    ZeroOrMoreLength,
    as_written,
    on_tape,
)

Face = Literal["face", "back"]
Edge = Literal["edge", "far edge"]
End = Literal["left end", "right end"]
Surface = Literal["face", "back", "edge", "far edge", "left end", "right end"]
Stock = Literal["rough", "planed", "sheet", "sized"]

MOST_SLIPS = 200
"""Slips in one corner or end; nobody plunges more."""
MOST_AROUND = 100
"""Sides of a ring, boards of a panel; nobody puts more together at once."""
MOST_SPARES = 1000
"""Spare pieces of a part."""


def _no_repeats(surfaces: tuple[str, ...]) -> tuple[str, ...]:
    for surface in surfaces:
        if surfaces.count(surface) > 1:
            raise ValueError(f'must name each surface once, not "{surface}" twice')
    return surfaces


def _once_each(parts: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(parts))


def _enclosing(sides: int) -> int:
    if sides < 3:
        raise QuantityError(f"must be 3 or more: {enclose_nothing(sides)}", "3 sides or more")
    return sides


def enclose_nothing(sides: int) -> str:
    """That so few sides make no ring, as a sentence.

    >>> enclose_nothing(1), enclose_nothing(2)
    ('1 side does not enclose anything', '2 sides do not enclose anything')
    """
    return f"{sides} {'side does' if sides == 1 else 'sides do'} not enclose anything"


Sides = Annotated[int, Field(strict=True, le=MOST_AROUND), BeforeValidator(whole), AfterValidator(_enclosing)]
"""Sides of a ring."""
Surfaces = (Field(min_length=1), AfterValidator(_no_repeats))
"""Surfaces that are joined: at least one, each once."""
OneOrSeveral = Annotated[
    Annotated[Angle, Tag("one")] | Annotated[tuple[Angle, ...], Field(min_length=1), Tag("several")],
    Discriminator(lambda value: "several" if isinstance(value, (list, tuple)) else "one"),
]
"""An angle, or a list of them: told apart first, so that a list is never called no angle."""
Parts = Annotated[tuple[PartName, ...], Field(min_length=1), AfterValidator(_once_each)]
"""Parts that are worked alike; one given twice counts once."""


class Table(BaseModel):
    """Base of the tables: frozen, and no key in them that is not declared."""

    # defer_build: a checker is made when its value is first made, which keeps the commands quick to start.
    model_config = ConfigDict(frozen=True, extra="forbid", defer_build=True)


class Part(Table):
    """`[[part]]`: a rectangular board, its grain along `length`, as it is before its ends or edges are cut.

    The face is the side that shows (the outside of a box), the edge the reference edge (its bottom).
    """

    id: PartName
    quantity: Count = 1
    """Pieces of this part in one of the batch."""
    spare: Annotated[int, Field(strict=True, ge=0, le=MOST_SPARES), BeforeValidator(whole)] = 0
    """Spare pieces for the whole batch, made along with the others."""
    length: Size
    width: Size
    thickness: Size
    species: Text = ""
    stock: Stock = "rough"
    """"rough" is milled, ripped and crosscut; "planed" (flat, one edge straight) is ripped and crosscut,
    "sheet" ripped along both edges and crosscut; "sized" comes as it is."""


class Slips(Table):
    """`slips = {...}` of a joint: what the maker wants of its loose tenons; the rest is worked out."""

    count: Annotated[int, Field(strict=True, ge=1, le=MOST_SLIPS), BeforeValidator(whole)] | None = None
    """Slips in one corner or end."""
    thickness: Size | None = None
    width: Size | None = None
    length: Size | None = None
    depths: tuple[Size, Size] | None = None
    """Plunge depth in the first and in the second half of the joint."""
    at: Annotated[tuple[ZeroOrMoreLength, ...], Field(min_length=1)] | None = None
    """Centres of the slots from the reference edge (or end), along the cut where an end is not square to the edge (of a
    bevel along its sharp edge, at the face)."""
    height: PositiveLength | None = None
    """Distance from the surface on the fence to the centre of the slots, along the surface plunged into."""
    slack: Literal["first", "second", "none"] = "second"
    """The half whose slots are longer than the slip is wide."""


class _Joint(Table):
    id: Name
    assembly: Text = ""
    """What is glued up together; left out, all that hangs together by joints."""


class _Slipped(_Joint):
    slips: Slips = Slips()


class CaseMitre(_Slipped):
    """Boards on edge round a case, their ends bevelled: `parts` in their order round the case."""

    kind: Literal["case-mitre"]
    parts: Annotated[tuple[PartName, ...], Field(min_length=1)]
    corner: Angle = 90.0
    """Inside angle between two boards, in plan."""
    ways: Annotated[tuple[Literal["square-first", "bevel-first"], ...], Field(min_length=1)] = (
        "square-first",
        "bevel-first",
    )
    closed: Switch = True
    """False for an open run of boards: the first part's left end and the last one's right end stay square."""


class Splayed(_Slipped):
    """A ring of boards leaning out or in; `parts` in their order round the ring, anticlockwise from above.

    A list shorter than `sides` is repeated round the ring.
    """

    kind: Literal["splayed"]
    parts: Annotated[tuple[PartName, ...], Field(min_length=1)]
    sides: Sides | None = None
    """Sides of the ring; left out, as many as `parts` (or `corners`) lists."""
    slope: OneOrSeveral
    """Slope of the boards from horizontal (90 stands upright): one for all, or one for each of `parts`."""
    corners: Annotated[tuple[Angle, ...], Field(min_length=3)] | None = None
    """Inside angles in plan, between each part and the next; left out, all alike."""
    lean: Literal["out", "in"] = "out"
    """"out": wider at the top, the far edge is the long one; "in": wider at the bottom."""
    level_edges: Switch = False
    """Rip both edges, last, so that they lie level; the width is then that of the blank."""


class FrameMitre(_Slipped):
    """A flat frame with mitred ends, the slips in its plane; `parts` in their order round the frame."""

    kind: Literal["frame-mitre"]
    parts: Annotated[tuple[PartName, ...], Field(min_length=1)]
    corner: Angle = 90.0


class Stave(_Slipped):
    """Staves round a column, straight, their edges bevelled; `parts` in their order round the column."""

    kind: Literal["stave"]
    parts: Annotated[tuple[PartName, ...], Field(min_length=1)]
    sides: Sides | None = None
    """Sides of the column; left out, the quantity of its parts."""


class EndToEdge(_Slipped):
    """The ends of the first part meet an edge of the second, faces flush: rail and stile of a frame."""

    kind: Literal["end-to-edge"]
    parts: tuple[PartName, PartName]
    at: Annotated[tuple[ZeroOrMoreLength, ...], Field(min_length=1)] | None = None
    """From the second part's left end to the near side of the first; left out, one flush with each end."""
    ends: Annotated[tuple[End, ...], *Surfaces] = ("left end", "right end")
    """The ends of the first part that are joined."""
    edges: Annotated[tuple[Edge, ...], *Surfaces] = ("edge",)
    """The edges of the second part that are met."""


class EndToFace(_Slipped):
    """The ends of the first part meet a face of the second: a divider or shelf."""

    kind: Literal["end-to-face"]
    parts: tuple[PartName, PartName]
    at: Annotated[tuple[ZeroOrMoreLength, ...], Field(min_length=1)]
    """From the second part's left end to the near side of the first."""
    on: Annotated[tuple[Face, ...], *Surfaces] = ("back",)
    """The faces of the second part that are met."""
    ends: Annotated[tuple[End, ...], *Surfaces] = ("left end", "right end")
    """The ends of the first part that are joined."""


class EdgeToEdge(_Slipped):
    """Boards side by side, the far edge of each against the edge of the next: a panel."""

    kind: Literal["edge-to-edge"]
    parts: Annotated[tuple[PartName, ...], Field(min_length=1)]
    boards: Annotated[int, Field(strict=True, ge=2, le=MOST_AROUND), BeforeValidator(whole)] | None = None
    """Boards in one panel; left out, as many as `parts` lists, or the quantity of its only part."""


class LegToApron(_Slipped):
    """The ends of aprons meet the two inner surfaces of square legs: `parts` are the aprons and `leg`."""

    kind: Literal["leg-to-apron"]
    parts: Annotated[tuple[PartName, ...], Field(min_length=1, max_length=2)]
    """The apron all round, or the two aprons that meet in each leg."""
    leg: PartName
    setback: ZeroOrMoreLength = 0.0
    """How far the apron's face stands back from the leg's outside."""
    drop: ZeroOrMoreLength = 0.0
    """From the top of the leg (its left end) to the top of the apron (its reference edge)."""


def _along_the_grain(surface: object) -> object:
    if surface in ("left end", "right end"):
        raise QuantityError(
            f"must be a surface that a groove runs along, not {as_written(surface)}: grooves run along the grain",
            f'"edge", "far edge", "face" or "back"; across the grain a rebate, beside = {as_written(surface)}, or a '
            "housing, at a place from the left end",
        )
    return surface


AlongTheGrain = BeforeValidator(_along_the_grain)
LongSurface = Literal["edge", "far edge", "face", "back"]
"""A surface with the grain along it."""


class Groove(_Joint):
    """A groove along the grain, along an edge."""

    kind: Literal["groove"]
    parts: Parts
    on: Annotated[LongSurface, AlongTheGrain] = "back"
    beside: Annotated[LongSurface | None, AlongTheGrain] = None
    """The surface it is measured from: left out, the edge in a face, the face in an edge."""
    from_: Annotated[ZeroOrMoreLength, Field(alias="from")]
    """From that surface to the near side of the groove."""
    width: Size
    depth: Size
    holds: Text = ""
    """The part that sits in it (a bottom or a panel)."""


class Rebate(_Joint):
    """A step along one side of a face."""

    kind: Literal["rebate"]
    parts: Parts
    on: Face = "back"
    beside: Literal["edge", "far edge", "left end", "right end"] = "edge"
    """The side it runs along."""
    width: Size
    """Across the face."""
    depth: Size
    """Into the face."""
    holds: Text = ""


class Housing(_Joint):
    """A trench across the grain of a face, for the end of a shelf or divider."""

    kind: Literal["housing"]
    parts: Parts
    on: Face = "back"
    at: Annotated[tuple[ZeroOrMoreLength, ...], Field(min_length=1)]
    """From the left end to the near side of each housing."""
    width: Size
    depth: Size
    holds: Text = ""


Joint = Annotated[
    CaseMitre
    | Splayed
    | FrameMitre
    | Stave
    | EndToEdge
    | EndToFace
    | EdgeToEdge
    | LegToApron
    | Groove
    | Rebate
    | Housing,
    Field(discriminator="kind"),
]
"""`[[joint]]`, told apart by `kind`."""


class SlipSize(Table):
    """A slip the shop has ready: `[[joinery.slips]]`."""

    thickness: Size
    width: Size
    length: Size

    @model_validator(mode="after")
    def _wider_than_thick(self) -> SlipSize:
        if self.width <= self.thickness:
            raise QuantityError(
                "must not have its width at or below its thickness", "a width greater than the thickness"
            )
        return self


class Pivot(Table):
    """Where the mortiser's fence pivots, measured with the fence at 90: `[joinery.pivot]`."""

    behind: Length = 0.0
    """From the fence's surface to the pivot, away from the work."""
    ahead: Length = 0.0
    """From the base's surface to the pivot, toward the work."""


class Sized(Protocol):
    """What a rough piece is sized by: a part of a job, or the record of one in a plan."""

    @property
    def length(self) -> float: ...  # mm, like the others
    @property
    def width(self) -> float: ...
    @property
    def thickness(self) -> float: ...
    @property
    def stock(self) -> str: ...


class Allowance(Table):
    """What is added to a part's size for its rough piece: `[joinery.allowance]`."""

    length: ZeroOrMoreLength = 25.0
    width: ZeroOrMoreLength = 6.0
    thickness: ZeroOrMoreLength = 4.0

    def rough(self, part: Sized, unit: Unit) -> tuple[float, float, float]:
        """Length, width and thickness (mm) a part is cut from: what is added, rounded up to what a tape shows at a
        glance, whole mm or eighths of an inch. A size nothing is added to stays as it is.

        >>> part = Part(id="rail", length=508.0, width=57.15, thickness=19.05)
        >>> [size / 25.4 for size in Allowance().rough(part, "in")]
        [21.0, 2.5, 1.0]
        """
        milled = 0.0 if part.stock in ("planed", "sheet") else self.thickness
        added = (0.0, 0.0, 0.0) if part.stock == "sized" else (self.length, self.width, milled)
        size = (part.length, part.width, part.thickness)
        length, width, thick = (
            on_tape(finished + extra, unit) if extra else finished
            for finished, extra in zip(size, added, strict=True)
        )
        return length, width, thick


class BladeOver(Table):
    """How far the blade stands above the stock: `[joinery.blade_over]`."""

    min: ZeroOrMoreLength = 3.0
    max: ZeroOrMoreLength = 8.0

    @model_validator(mode="after")
    def _in_order(self) -> BladeOver:
        if self.min > self.max:
            raise QuantityError(
                "must not have its min above its max", "a max above the min; left out, they are 3 mm and 8 mm"
            )
        return self


class WorkMinutes(Table):
    """Minutes of work for one piece of each kind of operation: `[joinery.minutes]`."""

    mill: Minutes = 2.0
    rip: Minutes = 0.5
    crosscut: Minutes = 0.5
    plunge: Minutes = 0.3
    """One slot."""
    bevel: Minutes = 0.5
    mitre: Minutes = 0.5
    groove: Minutes = 0.5
    rebate: Minutes = 0.5
    housing: Minutes = 0.5
    block: Minutes = 2.0
    sand: Minutes = 1.5
    dry_fit: Minutes = 3.0
    glue: Minutes = 8.0


class Joinery(Table):
    """`[joinery]` of the shop file: what the shop has, the limits it keeps. All is the shop's choice."""

    cutters: Annotated[tuple[Size, ...], Field(min_length=1)] = (
        5.0,
        6.0,
        7.0,
        8.0,
        9.0,
        10.0,
        12.0,
    )
    """Widths of slot the mortiser's cutters make."""
    slips: tuple[SlipSize, ...] = ()
    """Slips the shop has; left out, it makes them to any of the widths and lengths below."""
    slip_widths: Annotated[tuple[Size, ...], Field(min_length=1)] = (15.0, 18.0, 22.0, 26.0, 32.0)
    slip_lengths: Annotated[tuple[Size, ...], Field(min_length=1)] = (
        8.0,
        10.0,
        12.0,
        16.0,
        20.0,
        25.0,
        32.0,
        36.0,
        45.0,
        56.0,
    )
    slip_share: Annotated[float, Field(strict=True, gt=0, lt=1)] = 1 / 3
    """The slip's share of the thickness of the stock."""
    slip_proportion: Annotated[float, Field(strict=True, gt=0, allow_inf_nan=False)] = 7.0
    """A slip is at most so many times as long as it is thick."""
    slip_every: PositiveLength = 75.0
    """One slip for so much of the joint's length."""
    max_depth: PositiveLength = 30.0
    """How deep the mortiser plunges."""
    max_fence_height: PositiveLength = 60.0
    """How far the mortiser's fence reaches."""
    batten_offset: PositiveLength = 10.0
    """From the side of the mortiser's base to the centre of the slot, for plunges along a clamped batten."""
    glue_room: ZeroOrMoreLength = 1.0
    """Room for glue at the bottom of a mortise."""
    slack: ZeroOrMoreLength = 2.0
    """How much longer than the slip is wide the slots in the slack half are."""
    least_wall: ZeroOrMoreLength = 3.0
    """Least wood between a mortise and any surface, another mortise, or a groove, rebate or housing."""
    least_embedment: PositiveLength = 4.0
    """Least length of slip in each half."""
    end_distance: ZeroOrMoreLength = 10.0
    """Least distance from a slot's end to the end of the joint."""
    spacing: ZeroOrMoreLength = 10.0
    """Least distance between two slots in one joint."""
    shortest_piece: ZeroOrMoreLength = 150.0
    """Shortest piece held safely at the saw and the mortiser."""
    narrowest_piece: ZeroOrMoreLength = 25.0
    """Narrowest piece ripped safely."""
    near_stop: Annotated[float, Field(strict=True, ge=0, allow_inf_nan=False)] = 0.5
    """Degrees: an angle this near a positive stop gets a caution."""
    cross_grain_weight: Annotated[float, Field(strict=True, ge=0, le=1)] = 1 / 3
    """What glue counts between fibres crossing at right angles (Forest Products Laboratory, Report 1522)."""
    count_rounded_sides: Switch = False
    """Whether the rounded sides of a slip count as glued."""
    pivot: Pivot = Pivot()
    allowance: Allowance = Allowance()
    blade_over: BladeOver = BladeOver()
    minutes: WorkMinutes = WorkMinutes()
