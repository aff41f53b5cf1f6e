"""The operation: one piece of work on all its pieces at one station, with everything the later stages need
to know.

Whether written by hand in the job file or derived from parts and joints, this is the value that the
precedence graph, the order, the plan and the cards are made from. Lengths are mm, angles degrees, times
minutes.

The board's own frame: x along the length (along the grain), y across the width, z through the thickness,
origin at the corner where left end, reference edge and back meet. Surfaces of a fresh board: "left end" x =
0, "right end" x = length, "edge" (the reference edge) y = 0, "far edge" y = width, "back" z = 0, "face"
(the reference face) z = thickness. So with the face up and the reference edge towards you the left end is
on your left.
"""

from __future__ import annotations

import re
from collections.abc import Container, Iterable
from typing import Annotated, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field

from sequencer.quantity import QuantityError, as_written

Point = tuple[float, float, float]
"""A point or direction in the board's own frame, mm."""


def slug(*words: str) -> str:
    """Words as the id of a derived operation: small letters, digits and hyphens.

    >>> slug("plunge", "Large front", "left end")
    'plunge-large-front-left-end'
    """
    return "-".join(s for s in (re.sub(r"[^\w]+", "-", w.lower()).strip("-") for w in words) if s)


def plain_surface(name: str) -> str:
    """The one name a surface goes by here, of those that makers write.

    >>> plain_surface("reference edge"), plain_surface("left end")
    ('edge', 'left end')
    """
    return {"reference edge": "edge", "reference face": "face"}.get(name, name)


def as_words(name: str) -> str:
    """The id of a setting, a choice or a way as words.

    >>> as_words("fence_height")
    'fence height'
    """
    return name.replace("_", " ")


class Value(BaseModel):
    """Base of the plain values: frozen, and nothing in them that is not declared."""

    # defer_build: a checker is made when its value is first made, which keeps the commands quick to start.
    # What stands below a field is its description in the schemas.
    model_config = ConfigDict(frozen=True, extra="forbid", defer_build=True, use_attribute_docstrings=True)


def _seen(text: str) -> str:
    if not any(sign.isprintable() and not sign.isspace() for sign in text):
        raise QuantityError(f"must be text that can be seen, not {as_written(text)}")
    return text


Seen = Annotated[str, AfterValidator(_seen)]
"""A text to be read on a card, of which something can be seen."""
SeenOrNone = Annotated[str, AfterValidator(lambda text: _seen(text) if text else text)]
"""The same, or empty where nothing is said."""


class Between(Value):
    """Any value from `min` to `max` will do."""

    min: float
    max: float


class OneOf(Value):
    """Any of these values will do."""

    any: tuple[float | str, ...]


Wanted = float | str | Between | OneOf
"""What an operation asks of one setting: this value, a range, or one of a list."""


def the_one(wanted: Wanted | None) -> float | str | None:
    """The one value that is asked for; None where several will do, or nothing is asked.

    >>> the_one(45.0), the_one(Between(min=45, max=45)), the_one(OneOf(any=(0.0, 45.0)))
    (45.0, 45.0, None)
    """
    match wanted:
        case OneOf(any=values):
            return values[0] if len(set(values)) == 1 else None
        case Between(min=low, max=high):
            return low if low == high else None
        case _:
            return wanted


class PlaneCut(Value):
    """All wood beyond a plane is removed: rip, crosscut, bevel, mitre. `normal` (unit) points into the
    waste.
    """

    shape: Literal["plane"] = "plane"
    part: str
    surface: str
    """The name of the surface the cut makes."""
    point: Point
    normal: Point


class Slot(Value):
    """A mortise with rounded ends: `mouth` is the centre of its opening, `axis` (unit) points into the
    wood, `along` (unit) is the direction of its long side; `length` over all, `width` (the cutter's
    diameter), `depth` from the mouth."""

    shape: Literal["slot"] = "slot"
    part: str
    joint: str
    mouth: Point
    axis: Point
    along: Point
    length: float
    width: float
    depth: float


class Trench(Value):
    """A groove, rebate or housing: the wood inside a box with sides along the board's axes is removed."""

    shape: Literal["trench"] = "trench"
    part: str
    surface: str
    low: Point
    high: Point


Cut = Annotated[PlaneCut | Slot | Trench, Field(discriminator="shape")]


BATTEN = "side of the batten"
"""How the words of a batten's line begin: it guides the tool, and is no place of slots."""


class PencilLine(Value):
    """Lines to mark on `part`: distances `at` (mm) from the surface `start`, squared across `across`."""

    part: str
    start: Seen
    across: Seen
    at: tuple[float, ...]
    what: SeenOrNone


class Check(Value):
    """The check after the first piece: what to measure, what to expect, how far off it may be (empty where what is
    to be expected says so).
    """

    measure: Seen
    expect: Seen
    tolerance: SeenOrNone


class Caution(Value):
    """A caution for the very operation, with its citation."""

    says: Seen
    source: Seen


class Notes(Value):
    """What the card says about the operation besides its settings, in the job's unit."""

    what: SeenOrNone = ""
    fence: SeenOrNone = ""
    """The surface that lies against the fence (or gauge)."""
    table: SeenOrNone = ""
    """The surface that lies on the table, or that the tool's base sits on."""
    way_round: SeenOrNone = ""
    """Which way round the piece lies."""
    lines: tuple[PencilLine, ...] = ()
    check: Check | None = None
    how_to_set: dict[str, Seen] = {}
    """For a setting: how it is set (stop, scale corrected, setting block)."""
    cautions: tuple[Caution, ...] = ()


class Operation(Value):
    """One operation on all its pieces.

    `registers_on`, `makes` and `destroys` are surfaces written "part/surface" (for an operation without a
    part: "/surface"). `settings` maps a setting of the station to what is wanted of it; a setting not named
    is left as it stands. `quantity` counts the pieces of the whole batch.
    """

    id: str
    station: str
    kind: str = ""
    """What is done, in the rule books' words: mill, rip, crosscut, plunge, bevel, groove, sand, dry-fit,
    glue ...
    """
    parts: tuple[str, ...] = ()
    quantity: int = Field(default=1, ge=1)
    minutes_each: float = Field(default=0.0, ge=0)
    settings: dict[str, Wanted] = {}
    after: tuple[str, ...] = ()
    registers_on: tuple[str, ...] = ()
    makes: tuple[str, ...] = ()
    destroys: tuple[str, ...] = ()
    joint: str = ""
    surface: str = ""
    """The surface worked on, as "part/surface"; empty where it does not matter."""
    other_surfaces: tuple[str, ...] = ()
    """The same of its further parts, where it works on several."""
    cuts: tuple[Cut, ...] = ()
    notes: Notes = Notes()
    what_alone: dict[str, Seen] = {}
    """Of work on several parts whose words the program made: for each of them what is done to that part alone."""
    set_too: dict[str, Seen] = {}
    """What settings that the shop file's station has not are set to, and how: on the card, no part of the order."""
    again: str = ""
    """Of what is made again for pieces that replace spoiled ones: the operation of the first plan that it repeats."""
    of_sets: int = Field(default=0, ge=0)
    """Of a dry fit that was made and is opened again for some of its sets: how many sets there are in all."""
    awaited_by: tuple[str, ...] = ()
    """Of such a fit: the parts made again whose pieces it is opened for, which were never fitted."""
    joints: tuple[str, ...] = ()
    """Of a dry fit or a glue-up: the joints it puts together, where that is told."""

    @property
    def work_minutes(self) -> float:
        """Minutes for all pieces, the same in any order."""
        return self.quantity * self.minutes_each

    @property
    def in_words(self) -> str:
        """What is done; the name of the operation, or of the one it repeats, where no words say so."""
        return self.notes.what or self.again or self.id

    @property
    def in_short(self) -> str:
        """The same without the manner, which follows a colon where the program has worked out what is cut; what was
        written by hand is left as it is.
        """
        return self.in_words.partition(": ")[0] if self.cuts else self.in_words


PUT_TOGETHER = ("dry-fit", "glue")
"""Kinds of work that put pieces together: its quantity counts what is put together, and spares are left out."""


class MatesGroup(Value):
    """Operations made without a move of the held settings (each "station.setting") between the first and
    the last.
    """

    operations: tuple[str, ...]
    hold: tuple[str, ...]
    why: str = ""


def only_made(groups: Iterable[MatesGroup], made: Container[str]) -> tuple[MatesGroup, ...]:
    """The groups with those of their operations that are made; groups of none are left out."""
    kept = (
        group.model_copy(update={"operations": tuple(each for each in group.operations if each in made)})
        for group in groups
    )
    return tuple(group for group in kept if group.operations)


class Choice(Value):
    """Ways of making the same thing; exactly one option's operations are made."""

    id: str
    options: dict[str, tuple[str, ...]]

    @property
    def operations(self) -> frozenset[str]:
        """The operations of all its options."""
        return frozenset(op for ops in self.options.values() for op in ops)


class StruckOut(Value):
    """A way of making a joint that the limits do not allow, with the figures."""

    joint: str
    way: str
    why: str


class WayRemark(Value):
    """A remark that matters only where choice `choice` takes option `option`."""

    choice: str
    option: str
    says: str


class Slip(Value):
    """A loose tenon's size, mm: `length` reaches into both mortises."""

    thickness: float = Field(gt=0)
    width: float = Field(gt=0)
    length: float = Field(gt=0)


class Mortises(Value):
    """The mortises of one piece at one meeting: those of the operation's `cuts` with these numbers, from 0."""

    operation: str
    cuts: tuple[int, ...]


class Meeting(Value):
    """Two pieces that are glued together, `times` times in the batch: which mortise meets which.

    The k-th mortise of `first` and the k-th of `second` hold one slip. Put together their mouths (where the finished
    wood ends on the mortise's axis) coincide, their axes are opposed, and `along` of both is one direction; where
    `turned`, the other way. So the two mortises tell how the pieces lie.
    """

    joint: str
    times: int
    slip: Slip
    first: Mortises
    second: Mortises
    turned: bool = False
    fitted: int = Field(default=0, ge=0)
    """How many of these times the slips are there when the plan begins, since the joint was put together before."""

    @property
    def slips(self) -> int:
        """Slips still to be had for the whole batch, spares aside."""
        return (self.times - self.fitted) * len(self.first.cuts)


class Worklist(Value):
    """All operations of a job with what binds them together: the input of the precedence graph and of the
    order.
    """

    operations: tuple[Operation, ...]
    mates: tuple[MatesGroup, ...] = ()
    choices: tuple[Choice, ...] = ()
    struck_out: tuple[StruckOut, ...] = ()
    remarks: tuple[str, ...] = ()
    """What the maker should know besides: a caution near a stop, two bevels kept apart ..."""
    way_remarks: tuple[WayRemark, ...] = ()
    meetings: tuple[Meeting, ...] = ()
    """Which mortise meets which; those of all ways."""

    @property
    def certain(self) -> frozenset[str]:
        """The operations that are made whatever options are taken."""
        optional = {op for choice in self.choices for op in choice.operations}
        shared = (set.intersection(*map(set, choice.options.values())) for choice in self.choices)
        return frozenset(op.id for op in self.operations if op.id not in optional).union(*shared)


class Edge(Value):
    """`before` comes before `after`, by `rule`; `why` is a sentence. `kept` is false only for a preference
    not met.
    """

    before: str
    after: str
    rule: str
    why: str
    strength: Literal["must", "prefer"] = "must"
    price_minutes: float = Field(default=0.0, ge=0)
    kept: bool = True
