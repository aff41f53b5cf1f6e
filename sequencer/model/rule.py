"""A rule book as read: patterns, and the rules that say which operation fitting one comes before which fitting another.

The two stand in a relation to each other: they are on the same part, surface or joint. Prices are minutes.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from typing import Annotated, ClassVar, Literal

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field

from sequencer.model.fields import Name, SeenText, read_name
from sequencer.operations import Operation, PlaneCut, Trench, plain_surface, slug
from sequencer.quantity import LONGEST_TOLD, MOST_MINUTES, QuantityError, as_written, parse_minutes

AFTER, MADE, KEPT = "after", "surface-made", "surface-kept"

LAWS: dict[str, tuple[str, str]] = {
    AFTER: ("An operation comes after those its `after` names.", "the job asks for it"),
    MADE: (
        "A surface is made before anything registers on it.",
        "nothing can be guided by what is not there yet",
    ),
    KEPT: (
        "Whatever registers on a surface comes before it is removed.",
        "nothing can be guided by what is gone",
    ),
}
"""The laws every job obeys, with their reasons. Their ids stand on edges as rules' do; they cannot be
switched off."""

GRAIN_OF_KIND = {"rip": "along", "crosscut": "across"}
"""Where an operation brings no geometry: these two run along or across the grain by definition."""


NAMES_ACCEPTED = "a name or a list of names; left out, every operation fits"
PRICE_ACCEPTED = f"a number of minutes above 0, at most {MOST_MINUTES:.0f}"
ID = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")
ID_ACCEPTED = "small letters, digits and single hyphens"


def _one_or_many(value: object) -> object:
    if isinstance(value, str):
        if not value.strip():
            raise QuantityError(f"must be a name or a list of names, not {as_written(value)}", NAMES_ACCEPTED)
        return (read_name(value),)
    if not isinstance(value, (list, tuple)):
        raise QuantityError(f"must be a name or a list of names, not {as_written(value)}", NAMES_ACCEPTED)
    if not value:  # would say no more than a key left out, and that fits everything
        raise QuantityError("must have at least 1 entry", NAMES_ACCEPTED)
    return tuple(value)


def _id(value: object) -> str:
    if not isinstance(value, str):
        raise QuantityError(f"must be text, not {as_written(value)}", ID_ACCEPTED)
    if not ID.fullmatch(value):
        alike = slug(value)
        short = len(alike) <= LONGEST_TOLD and ID.fullmatch(alike)
        accepted = f"{ID_ACCEPTED}: {as_written(alike)}" if short else ID_ACCEPTED
        raise QuantityError(f"{as_written(value)} is not an id", accepted)
    return read_name(value)


def _price(value: object) -> object:
    if value is None or (isinstance(value, (int, float)) and not isinstance(value, bool) and value < 0):
        return value  # whether there may be a price, and one below 0, the strength decides
    try:
        return parse_minutes(value)  # type: ignore[arg-type]
    except QuantityError as error:
        raise QuantityError(str(error), PRICE_ACCEPTED) from None


Names = Annotated[tuple[Name, ...], BeforeValidator(_one_or_many)]
"""One name or a list of names, in which `*` stands for anything."""
Surfaces = Annotated[Names, AfterValidator(lambda names: tuple(map(plain_surface, names)))]


class _Table(BaseModel):
    """A table of a rule book: frozen, strict, nothing in it that is not declared."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, populate_by_name=True)


class Pattern(_Table):
    """Which operations a rule speaks of: an operation fits when every key given holds for it.

    An operation whose kind is not stated fits no pattern with `kind` or `except`.
    """

    EXAMPLE: ClassVar[str] = '{ kind = "rip" }'
    """What the file may say, as it is told where something else stands."""

    kind: Names = ()
    except_: Names = Field(default=(), alias="except")
    """Every kind but these."""
    grain: Literal["along", "across"] | None = None
    """The way the cut runs, taken from its geometry; without one (work by hand) from its kind, where that is a rip or a
    crosscut."""
    station: Names = ()
    part: Names = ()
    surface: Surfaces = ()
    """The surface worked on; like the next three by name, without its part."""
    registers_on: Surfaces = ()
    makes: Surfaces = ()
    destroys: Surfaces = ()

    def fits(self, operation: Operation) -> bool:
        """Whether the operation is one the pattern speaks of."""
        kind = operation.kind
        return (
            (not self.kind or (bool(kind) and like(kind, self.kind)))
            and (not self.except_ or (bool(kind) and not like(kind, self.except_)))
            and (not self.grain or grain(operation) == self.grain)
            and (not self.station or like(operation.station, self.station))
            and (not self.part or any(like(part, self.part) for part in operation.parts))
            and all(_named(surfaces, names) for surfaces, names in self._surfaces(operation) if names)
        )

    def surfaces(self, operation: Operation) -> tuple[str, ...]:
        """The surfaces ("part/surface") by which the operation fits, else the one it works on."""
        fitting = [
            s for surfaces, names in self._surfaces(operation) if names for s in _named(surfaces, names)
        ]
        return tuple(dict.fromkeys(fitting)) or _worked(operation)

    def _surfaces(self, operation: Operation) -> tuple[tuple[tuple[str, ...], Names], ...]:
        return (
            (_worked(operation), self.surface),
            (operation.registers_on, self.registers_on),
            (operation.makes, self.makes),
            (operation.destroys, self.destroys),
        )


def _worked(operation: Operation) -> tuple[str, ...]:
    """The surfaces an operation works on."""
    return (operation.surface, *operation.other_surfaces) if operation.surface else ()


class RuleTable(_Table):
    """A `[[rule]]` as it stands in a book."""

    id: Annotated[str, BeforeValidator(_id)]
    says: SeenText
    why: SeenText
    source: SeenText
    strength: Literal["must", "prefer"]
    price: Annotated[float | None, BeforeValidator(_price)] = None
    same: Literal["part", "surface", "joint", "assembly", "job"]
    before: Pattern
    after: Pattern


class Rule(RuleTable):
    """A rule in force. `book` is the title of the book it stands in."""

    book: str

    @property
    def price_minutes(self) -> float:
        """What a preference is worth in minutes for each pair of operations; 0 for a must."""
        return self.price or 0.0

    @property
    def sentence(self) -> str:
        """What the rule says and why, as part of a sentence."""
        says = self.says.rstrip(". ")
        return f"{says[:1].lower()}{says[1:]} ({self.why.rstrip('. ')})"

    def pairs(self, operations: Sequence[Operation]) -> Iterator[tuple[Operation, Operation]]:
        """The pairs (before, after) the rule speaks of, each once, in the order of `operations`.

        Where two operations fit both patterns either way round, the rule says nothing about them.
        """
        befores = [op for op in operations if self.before.fits(op)]
        afters = [op for op in operations if self.after.fits(op)]
        sharing: dict[str, list[Operation]] = defaultdict(list)
        for op in afters:
            for key in self._shared(op, self.after):
                sharing[key].append(op)
        both = {op.id for op in befores} & {op.id for op in afters}
        for first in befores:
            seen = {first.id}
            for then in (op for key in self._shared(first, self.before) for op in sharing[key]):
                if then.id not in seen and not {first.id, then.id} <= both and self._together(first, then):
                    seen.add(then.id)
                    yield first, then

    def _shared(self, operation: Operation, pattern: Pattern) -> tuple[str, ...]:
        """What another operation must have one of, to be looked at together with this one."""
        if self.same == "job":
            return ("",)
        if self.same == "surface":
            return pattern.surfaces(operation)
        parts = tuple(f"part {part}" for part in operation.parts)
        return (*parts, f"joint {operation.joint}") if self.same == "joint" and operation.joint else parts

    def _together(self, first: Operation, then: Operation) -> bool:
        """Whether two operations that share something are meant together."""
        if self.same in ("part", "assembly") and set(then.makes) & set(first.registers_on):
            return False  # it cannot come first: a case has the panel in it that is glued up here
        if self.same == "assembly":
            a, b = set(first.parts), set(then.parts)
            return a <= b or b <= a
        if self.same == "joint" and first.joint and then.joint:
            return first.joint == then.joint
        # What names no joint (marking a part out, gluing a case up) counts for all joints of its parts.
        return True


class BookHead(_Table):
    """`[book]`."""

    title: SeenText
    about: str = ""


class Book(_Table):
    """A rule book that has been read: the kinds of operation it explains, and its rules."""

    title: str
    about: str
    kinds: dict[str, str]
    rules: tuple[Rule, ...]


def grain(operation: Operation) -> str:
    """Which way the operation's cuts run, "along" or "across" the grain; "" where they differ or none is
    known."""
    ways = set()
    for cut in operation.cuts:
        if isinstance(cut, PlaneCut):
            ways.add("along" if abs(cut.normal[0]) < 1e-9 else "across")
        elif isinstance(cut, Trench):
            spans = [high - low for low, high in zip(cut.low, cut.high, strict=True)]
            ways.add("along" if spans[0] >= max(spans) else "across")
    if not operation.cuts:
        return GRAIN_OF_KIND.get(operation.kind, "")
    return ways.pop() if len(ways) == 1 else ""


def like(name: str, names: Names) -> bool:
    """Whether it is one of the names, in which `*` stands for anything and every other sign for itself."""
    return name in names or any(
        re.fullmatch(".*".join(map(re.escape, each.split("*"))), name) for each in names if "*" in each
    )


def _named(surfaces: Iterable[str], names: Names) -> list[str]:
    """Those of the surfaces ("part/surface") whose name is one of these."""
    return [surface for surface in surfaces if like(surface.partition("/")[2], names)]
