"""The job: what is to be made, as parts and joints, as operations written by hand, or both.

Lengths in mm, angles in degrees, times in minutes, whatever the file was written in.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import replace
from typing import Annotated, Any, NamedTuple

from pydantic import BeforeValidator, Field, GetJsonSchemaHandler, field_validator, model_validator
from pydantic_core import CoreSchema

from sequencer.diagnostics import Fault, InputError, no_such, quoted, shortened
from sequencer.model.fields import (
    Complaint,
    Count,
    FileName,
    Name,
    Names,
    PartName,
    PartNames,
    SeenText,
    Text,
    refuse,
)
from sequencer.model.parts import Joint, Part
from sequencer.model.rule import Book
from sequencer.model.shop import Shop
from sequencer.operations import (
    PUT_TOGETHER,
    Check,
    Choice,
    MatesGroup,
    Notes,
    Operation,
    PencilLine,
    StruckOut,
    Value,
    Wanted,
    Worklist,
    plain_surface,
    slug,
)
from sequencer.quantity import Length, Minutes, QuantityError, Unit, as_written


def part_and_surface(name: str) -> tuple[str | None, str]:
    """The part that a surface is written with (None: those of its operation) and the surface's plain name.

    >>> part_and_surface("front/reference edge"), part_and_surface("face")
    (('front', 'edge'), (None, 'face'))
    """
    part, slash, surface = name.rpartition("/")
    surface = surface.strip()
    return part.strip() if slash else None, plain_surface(surface)


class JobTable(Value):
    """`[job]`."""

    name: Text = ""
    unit: Unit | None = None
    shop: FileName
    batch: Count = 1
    parts: FileName | None = None
    """A CSV cut list with more parts, beside the `[[part]]` tables."""


class LinesTable(PencilLine):
    """Pencil lines as the file writes them."""

    part: Text
    start: SeenText
    across: SeenText
    what: SeenText
    at: Annotated[tuple[Length, ...], Field(min_length=1)]


class CheckTable(Check):
    """A check as the file writes it."""

    tolerance: SeenText


def _noted(value: Any) -> Any:
    return {"what": value} if isinstance(value, str) else value


class _TextToo:
    """Says in the JSON schema that a text alone will do as well."""

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        return {"anyOf": [{"type": "string"}, handler(schema)]}


class NotesTable(Notes):
    """Notes as the file writes them; a text alone says what is done."""

    lines: tuple[LinesTable, ...] = ()
    check: CheckTable | None = None


class OperationTable(Value):
    """`[[operation]]` before the shop is asked what its settings mean."""

    id: Name
    station: Name
    part: PartName | None = None
    parts: PartNames = ()
    kind: Text = ""
    quantity: Count = 1
    minutes_each: Minutes = 0.0
    settings: dict[str, Any] = Field(default={})
    after: Names = ()
    registers_on: Names = ()
    makes: Names = ()
    destroys: Names = ()
    joint: Text = ""
    surface: Text = ""
    notes: Annotated[NotesTable, BeforeValidator(_noted), _TextToo()] = NotesTable()

    def labels(self) -> tuple[str, ...]:
        """The parts worked on."""
        return tuple(dict.fromkeys((*([self.part] if self.part else []), *self.parts)))

    def operation(self, settings: dict[str, Wanted], batch: int, parts: Mapping[str, Part]) -> Operation:
        """The operation on all pieces of the batch, and on spares where it takes all there are of the job's `parts`, by
        their ids.
        """
        surface, *others = self._surfaces((self.surface,)) if self.surface else ("",)
        return Operation(
            id=self.id,
            station=self.station,
            kind=self.kind,
            parts=self.labels(),
            quantity=self.quantity * batch + self.spares(parts),
            minutes_each=self.minutes_each,
            settings=settings,
            after=self.after,
            registers_on=self._surfaces(self.registers_on),
            makes=self._surfaces(self.makes),
            destroys=self._surfaces(self.destroys),
            joint=self.joint,
            surface=surface,
            other_surfaces=tuple(others),
            notes=Notes.model_validate(self.notes.model_dump()),
        )

    def spares(self, parts: Mapping[str, Part]) -> int:
        """How many more it takes with the spares: where it works on all pieces of its parts, once each or several
        times, as its quantity tells, and does not put them together.
        """
        on = [parts[label] for label in self.labels() if label in parts]
        whole = sum(part.quantity for part in on)
        if not on or len(on) < len(self.labels()) or self.quantity % whole or self.kind in PUT_TOGETHER:
            return 0
        return self.quantity // whole * sum(part.spare for part in on)

    def _surfaces(self, names: Iterable[str]) -> tuple[str, ...]:
        """Surfaces as "part/surface", those of each part for an operation on several."""
        found = []
        for name in names:
            part, surface = part_and_surface(name)
            parts = (self.labels() or ("",)) if part is None else (part,)
            found += [f"{each}/{surface}" for each in parts]
        return tuple(dict.fromkeys(found))


class MatesTable(Value):
    """`[[mates]]`."""

    operations: Annotated[Names, Field(min_length=1)]
    hold: Annotated[Names, Field(min_length=1)]
    why: Text = ""

    @model_validator(mode="after")
    def _several(self) -> MatesTable:
        if len(self.operations) < 2:
            message = f"must be two different operations or more, not only {as_written(self.operations[0])}"
            refuse(
                [Complaint(("operations",), message, "the operations between which nothing in hold is moved")]
            )
        return self


class ChoiceTable(Value):
    """`[[choice]]`."""

    id: Name
    options: Annotated[dict[str, Names], Field(min_length=1)]

    @field_validator("options")
    @classmethod
    def _named(cls, options: dict[str, Names]) -> dict[str, Names]:
        for name in options:
            if not name.strip():
                raise QuantityError(
                    f"must have a name for each, not {as_written(name)}", "text that can be seen"
                )
        return options


class Reference(NamedTuple):
    """A place that names an operation not written by hand: it may still be derived from parts and joints."""

    operation: str
    key: str
    fault: Fault
    """Where it stands."""
    may_fall_away: bool
    """Whether it is ignored where the operation is of a way that is struck out."""


Stands = Callable[[str, str, str], tuple[str, int | None]]
"""Where a table ("part", "joint" ... of an id, or "job"), or a key in it ("slips.depths"), stands: file and line."""


class Job(Value):
    """A job as a whole, with its shop.

    `parts` count the pieces of one of the batch; `operations`, those written by hand, count the whole batch, spares
    included.
    """

    name: str = ""
    unit: Unit = "mm"
    batch: Count = 1
    path: str = ""
    files: tuple[str, ...] = ()
    """All files the job was read from: its own, the shop's with its rule books, the cut list."""
    shop: Shop
    parts: tuple[Part, ...] = ()
    joints: tuple[Joint, ...] = ()
    operations: tuple[Operation, ...] = ()
    mates: tuple[MatesGroup, ...] = ()
    choices: tuple[Choice, ...] = ()
    struck_out: tuple[StruckOut, ...] = ()
    """Options written by hand that ask for what a setting cannot reach."""
    remarks: tuple[str, ...] = ()
    """What its maker should know of what was read."""
    books: tuple[Book, ...] | None = Field(default=None, exclude=True)
    """The rule books that go with it, the package's first; None where they have not been read yet."""
    references: tuple[Reference, ...] = Field(default=(), exclude=True)
    """Operations named in the job that nobody wrote by hand; see `check_references`."""
    stands: Stands | None = Field(default=None, exclude=True)
    """Asked only when something is wrong."""

    def fault(self, kind: str, id: str, message: str, accepted: str = "", key: str = "") -> Fault:
        """What is wrong with a table of the job (or a row of its cut list), and where it stands."""
        file, line = self.stands(kind, id, key) if self.stands else (self.path, None)
        return Fault(message, file, f'{kind} "{shortened(id)}"' + (f", {key}" if key else ""), line, accepted)

    def check_references(self, derived: Worklist) -> None:
        """Check what the job names against the operations derived from its parts and joints.

        Raises InputError where neither the job nor the derivation has an operation that is named (one of a way that
        was struck out may be named, as what falls away is ignored, but be no part of an option), where one id would
        stand for two operations or two choices, and where an operation would stand in two choices.
        """
        faults = [*self._unknown(derived), *self._taken(derived), *self._alike(derived)]
        if faults:
            raise InputError(sorted(faults, key=lambda fault: (fault.file != self.path, fault.line or 0)))

    def _unknown(self, derived: Worklist) -> Iterator[Fault]:
        """Named operations that are neither written nor derived."""
        ids = [operation.id for operation in derived.operations]
        known = (*(operation.id for operation in self.operations), *ids)
        gone = tuple(f"{slug(each.joint, each.way)}-" for each in derived.struck_out)
        for reference in self.references:
            if reference.operation in ids or (
                reference.may_fall_away and reference.operation.startswith(gone)
            ):
                continue
            message = no_such(reference.key, "operation", reference.operation, known)
            yield replace(reference.fault, message=message, accepted=quoted(known))

    def _taken(self, derived: Worklist) -> Iterator[Fault]:
        """Ids of operations and choices written by hand that are derived as well, and operations in two choices."""
        ids = {operation.id for operation in derived.operations}
        for operation in self.operations:
            if operation.id in ids:
                message = "an operation of this id is derived from the parts and joints already"
                yield self.fault("operation", operation.id, message, "an id of its own")
        home = {op: choice.id for choice in derived.choices for op in choice.operations}
        joints = {choice.id for choice in derived.choices}
        for choice in self.choices:
            if choice.id in joints:
                message = "a choice of this id is derived from the joint of that id already"
                yield self.fault("choice", choice.id, message, "an id of its own")
            for option, ops in choice.options.items():
                for op in ops:
                    if op in home:
                        message = f'operation "{op}" stands in choice "{home[op]}" already, which is derived'
                        accepted = "each operation in one choice only"
                        yield self.fault("choice", choice.id, message, accepted, f"options.{option}")

    def _alike(self, derived: Worklist) -> Iterator[Fault]:
        """Joints and parts whose ids make one id of two derived operations."""
        first: dict[str, Operation] = {}
        told = set()
        for operation in derived.operations:
            other = first.setdefault(operation.id, operation)
            if other is operation:
                continue
            kind = "joint" if other.joint != operation.joint else "part"
            pair = [op.joint if kind == "joint" else ", ".join(op.parts) for op in (other, operation)]
            if (kind, *pair) not in told:
                told.add((kind, *pair))
                message = f'with {kind} "{pair[0]}" it makes two operations of one id, "{operation.id}"'
                yield self.fault(
                    kind,
                    pair[1],
                    message,
                    "ids that differ in letters or digits, not in signs or capitals only",
                )
