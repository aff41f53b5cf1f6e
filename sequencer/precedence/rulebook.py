"""Rule books: the trade's knowledge as TOML that a maker can read, switch off and add to without Python.

A rule says that an operation fitting one pattern comes before an operation fitting another, on the same part,
surface or joint. The books of the package are found by themselves; a shop adds books of its own. Prices are
minutes.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import ExitStack
from importlib.resources import as_file, files
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Annotated, Literal

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field

from sequencer.diagnostics import Fault, InputError, nearest, shortened
from sequencer.files.source import Source, is_there
from sequencer.model.fields import Place, SeenText
from sequencer.model.job import Job
from sequencer.model.shop import Rules
from sequencer.operations import Operation, PlaneCut, Trench, plain_surface
from sequencer.quantity import MINUTES_ACCEPTED, MOST_MINUTES, QuantityError, as_written

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

NEARLY = 0.8
"""How like a known kind another must be to be taken for a slip of the pen ("dril", "gluee"), not for another word."""

GRAIN_OF_KIND = {"rip": "along", "crosscut": "across"}
"""Where an operation brings no geometry: these two run along or across the grain by definition."""


def _one_or_many(value: object) -> object:
    if isinstance(value, str):
        return (value,)
    if not isinstance(value, (list, tuple)):
        raise QuantityError(f"must be a name or a list of names, not {as_written(value)}")
    if not value:  # would say no more than a key left out, and that fits everything
        raise QuantityError(
            "must have at least 1 entry", "a name or a list of names; left out, every operation fits"
        )
    return tuple(value)


Names = Annotated[tuple[Annotated[str, Field(min_length=1)], ...], BeforeValidator(_one_or_many)]
"""One name or a list of names, in which `*` stands for anything."""
Surfaces = Annotated[Names, AfterValidator(lambda names: tuple(map(plain_surface, names)))]


class _Table(BaseModel):
    """A table of a rule book: frozen, strict, nothing in it that is not declared."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, populate_by_name=True)


class Pattern(_Table):
    """Which operations a rule speaks of: an operation fits when every key given holds for it.

    An operation whose kind is not stated fits no pattern with `kind` or `except`.
    """

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
            (not self.kind or (bool(kind) and _like(kind, self.kind)))
            and (not self.except_ or (bool(kind) and not _like(kind, self.except_)))
            and (not self.grain or grain(operation) == self.grain)
            and (not self.station or _like(operation.station, self.station))
            and (not self.part or any(_like(part, self.part) for part in operation.parts))
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

    id: str
    says: SeenText
    why: SeenText
    source: SeenText
    strength: Literal["must", "prefer"]
    price: float | None = Field(default=None, allow_inf_nan=False)
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


class _Head(_Table):
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


def load_rules(off: Iterable[str] = (), books: Iterable[Path | str] = (), file: str = "") -> tuple[Rule, ...]:
    """The rules in force: those of the package's books and of `books`, less those switched `off`.

    Raises InputError with every fault found: books that cannot be read or are wrong, ids used twice, ids in
    `off` that no book has (`file` is the shop file that `off` stands in).
    """
    off, books = tuple(dict.fromkeys(off)), tuple(books)
    read, faults = _read_books(books)
    known = _all_told(read, books)
    faults += [fault for name in off for fault in _wrong_off(name, read, known, file, None)]
    if faults:
        raise InputError(faults)
    return tuple(rule for each in read for rule in each.book().rules if rule.id not in off)


def wrong_rules(rules: Rules, file: str, line: Callable[[Place], int | None]) -> list[Fault]:
    """What `load_rules` would raise for the `[rules]` of a shop file, each fault with its line; missing books aside."""
    there = tuple(book for book in rules.books if is_there(Path(book)))
    read, faults = _read_books(there, whole=there == rules.books)
    all_told = _all_told(read, rules.books)
    switched = [
        fault
        for index, name in enumerate(rules.off)
        for fault in _wrong_off(name, read, all_told, file, line(("rules", "off", index)))
    ]
    return switched + faults


def _all_told(read: Sequence[_Read], books: Sequence[Path | str]) -> bool:
    """Whether all of the shop's books, and those of the package, could be read, and tell the ids of all their rules."""
    return len(read) == len(books) + len(_own_books()) and all(each.source.tells_all("rule") for each in read)


def _wrong_off(
    name: str, read: Iterable[_Read], all_told: bool, file: str, line: int | None
) -> Iterator[Fault]:
    """What is wrong with an id that is switched off, as far as the books tell."""
    known = {id for each in read for id in each.ids}
    if name in LAWS:
        message = f'"{name}" is the law itself and cannot be switched off: {LAWS[name][0]}'
        yield Fault(message, file, "[rules], off", line, "ids of rules from the rule books")
    elif name not in known and all_told:
        message = f'there is no rule "{shortened(name)}"{nearest(name, known)}'
        yield Fault(message, file, "[rules], off", line, ", ".join(sorted(known)))


def load_books(books: Iterable[Path | str] = ()) -> tuple[Book, ...]:
    """The package's books, then `books`, checked together. Raises InputError with every fault found."""
    read, faults = _read_books(books)
    if faults:
        raise InputError(faults)
    return tuple(each.book() for each in read)


def _read_books(books: Iterable[Path | str], whole: bool = True) -> tuple[list[_Read], list[Fault]]:
    """The package's books and then `books`, as far as they can be read, and what is wrong with them. Where these are
    not the `whole` of the shop's, another one may explain any kind.
    """
    faults: list[Fault] = []
    read: list[_Read] = []
    books = tuple(books)
    with ExitStack() as stack:
        own = [stack.enter_context(as_file(book)) for book in _own_books()]
        for path in (*own, *map(Path, books)):
            try:
                read.append(_Read(Source(path, "the rule book")))
            except InputError as error:
                faults += error.faults
    sound = [each for each in read if each.kinds is not None and not each.source.misspelt]
    told = whole and len(sound) == len(books) + len(own)
    kinds = {kind for each in read for kind in each.kinds or ()}
    home: dict[str, str] = {}
    explained: dict[str, str] = {}
    for each in read:
        for kind in each.kinds or ():
            if kind in explained:
                message = f'the kind "{shortened(kind)}" is explained already in {explained[kind]}'
                each.source.say(("kinds", kind), message, "kinds that no other book explains")
            explained.setdefault(kind, str(each.source.path))
        for number, rule in each.rules:
            for key, message, accepted in _wrong(rule, kinds if told else None, home):
                each.source.say(("rule", number, key), message, accepted)
            home.setdefault(rule.id, str(each.source.path))
        faults += sorted(each.source.faults, key=lambda fault: fault.line or 0)
    return read, faults


def misspelt_kinds(operations: Iterable[Operation], books: Iterable[Path | str] = ()) -> tuple[str, ...]:
    """A sentence for each kind that no book explains but that is nearly one of those explained.

    A kind that is like no other is the shop's own word, and nothing is said of it.
    """
    of_kind: dict[str, list[str]] = defaultdict(list)
    for operation in operations:
        if operation.kind:
            of_kind[operation.kind].append(f'"{operation.id}"')
    if not of_kind:
        return ()
    known = {kind for book in load_books(books) for kind in book.kinds}
    return tuple(
        f'no rule book explains the kind "{kind}"{hint} of {", ".join(ids)}: no rule for a kind binds it'
        for kind, ids in of_kind.items()
        if kind not in known and (hint := nearest(kind, known, NEARLY))
    )


def misspelt_rules(rules: Iterable[Rule], job: Job) -> tuple[str, ...]:
    """A sentence for each station that a rule names and the shop does not have, and for each part that is nearly one of
    the job's, where the rule is for no other one that there is.

    A book may serve several shops, and serves many jobs: so neither is a fault, and of a part like no other nothing is
    said. Nor is anything of names with `*`.
    """
    stations = {station.id: station.name for station in job.shop.stations}
    parts = {part.id for part in job.parts} | {part for each in job.operations for part in each.parts}
    said: list[str] = []
    for rule in rules:
        for key, pattern in (("before", rule.before), ("after", rule.after)):
            place = f'rule "{shortened(rule.id)}" of {shortened(rule.book)}, {key}'
            for name in _of_none(pattern.station, stations):
                named = [id for id, called in stations.items() if called == name]
                hint = nearest(named[0] if named else name, stations)
                said.append(
                    f'{place}: the shop has no station "{shortened(name)}"{hint}, so the rule binds nothing'
                )
            for name in _of_none(pattern.part, parts):
                if hint := nearest(name, parts, NEARLY):
                    said.append(
                        f'{place}: the job has no part "{shortened(name)}"{hint}, so the rule binds nothing'
                    )
    return tuple(said)


def _of_none(names: Names, known: Iterable[str]) -> Names:
    """The names, where none of them is one of those known, less those in which `*` stands for anything."""
    return (
        () if any(_like(each, names) for each in known) else tuple(name for name in names if "*" not in name)
    )


def _own_books() -> list[Traversable]:
    """The package's books, by name: beside the modules when installed, in a clone in `rules/` above the
    package."""
    package = files("sequencer")
    home: Traversable = package / "rules"
    if not home.is_dir() and isinstance(package, Path) and (package.parent / "pyproject.toml").is_file():
        home = package.parent / "rules"
    books = [entry for entry in home.iterdir() if entry.name.endswith(".toml")] if home.is_dir() else []
    if not books:
        raise InputError("the rule books are missing from this installation; install the package again")
    return sorted(books, key=lambda entry: entry.name)


class _Read:
    """One book as read, with the faults of its tables in `source`."""

    def __init__(self, source: Source) -> None:
        self.source = source
        source.only(("book", "kinds", "rule"))
        if "book" not in source.data:
            source.say((), "the table [book] is missing", "[book] with title and about")
        head = source.table("book")
        self.head: _Head | None = None
        if isinstance(source.data.get("book"), dict):
            self.head = source.read(("book",), head, _Head, "mm")
        self.kinds: dict[str, str] | None = source.read(
            ("kinds",), source.table("kinds"), dict[str, SeenText], "mm"
        )
        """None where they are wrong."""
        self.rules: list[tuple[int, RuleTable]] = []
        self.ids: set[str] = set()
        """The ids of all its rules, sound or not."""
        for number, raw in source.tables("rule"):
            if isinstance(raw.get("id"), str):
                self.ids.add(raw["id"])
            rule: RuleTable | None = source.read(("rule", number), raw, RuleTable, "mm")
            if rule is not None:
                self.rules.append((number, rule))

    def book(self) -> Book:
        """The book, when nothing was wrong with it."""
        assert self.head is not None
        assert self.kinds is not None
        rules = tuple(Rule(**dict(rule), book=self.head.title) for _, rule in self.rules)
        return Book(title=self.head.title, about=self.head.about, kinds=self.kinds, rules=rules)


def _wrong(
    rule: RuleTable, kinds: Iterable[str] | None, home: dict[str, str]
) -> Iterator[tuple[str, str, str]]:
    """What is wrong with a rule that is well formed: key, message, what would pass. `kinds` are all that the books
    explain, None where that is not known."""
    if not re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", rule.id):
        yield "id", f'"{rule.id}" is not an id', "small letters, digits and single hyphens"
    if rule.id in LAWS:
        yield "id", f'"{rule.id}" is the name of a law every job obeys', "another id"
    elif rule.id in home:
        yield "id", f'the id "{rule.id}" is used already in {home[rule.id]}', "an id of its own"
    if rule.strength == "prefer" and (rule.price is None or rule.price <= 0):
        yield "price", "a preference needs a price above 0", "minutes, above 0"
    if rule.price is not None and rule.price > MOST_MINUTES:
        yield (
            "price",
            f"must be fewer minutes than a lifetime, not {as_written(rule.price)}",
            MINUTES_ACCEPTED,
        )
    if rule.strength == "must" and rule.price is not None:
        yield "price", "a must has no price", 'no price, or strength = "prefer"'
    if rule.before == rule.after:
        yield "after", "both patterns are the same, so nothing is ordered", "two patterns that differ"
    for key, pattern in (("before", rule.before), ("after", rule.after)):
        if pattern == Pattern():
            keys = [field.alias or name for name, field in Pattern.model_fields.items()]
            yield key, "an empty pattern would fit every operation", f"at least one of {', '.join(keys)}"
        if pattern.except_ and all(_like(kind, pattern.except_) for kind in pattern.kind or ("*",)):
            yield key, "nothing fits this pattern: except takes away all it names", "a kind that is left"
        for kind in (*pattern.kind, *pattern.except_):
            if kinds is not None and not any(_like(known, (kind,)) for known in kinds):
                known = sorted(kinds)
                accepted = f"{', '.join(known)}, or a kind explained in [kinds] of a book"
                yield key, f'no book explains the kind "{kind}"{nearest(kind, known)}', accepted


def _like(name: str, names: Names) -> bool:
    """Whether it is one of the names, in which `*` stands for anything and every other sign for itself."""
    return name in names or any(
        re.fullmatch(".*".join(map(re.escape, each.split("*"))), name) for each in names if "*" in each
    )


def _named(surfaces: Iterable[str], names: Names) -> list[str]:
    """Those of the surfaces ("part/surface") whose name is one of these."""
    return [surface for surface in surfaces if _like(surface.partition("/")[2], names)]
