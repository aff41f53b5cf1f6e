"""Rule books: the trade's knowledge as TOML that a maker can read, switch off and add to without Python.

The books of the package are found by themselves; a shop adds books of its own. They are read once for a job and go with
it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import ExitStack
from importlib.resources import as_file, files
from importlib.resources.abc import Traversable
from pathlib import Path

from sequencer.diagnostics import Fault, InputError, nearest, shortened
from sequencer.files.source import Source, is_there
from sequencer.model.fields import Place, SeenText
from sequencer.model.job import Job
from sequencer.model.rule import LAWS, PRICE_ACCEPTED, Book, BookHead, Pattern, Rule, RuleTable, like
from sequencer.model.shop import Rules


def in_force(books: Iterable[Book], off: Iterable[str] = (), file: str = "") -> tuple[Rule, ...]:
    """The rules of these books less those switched `off`.

    Raises InputError for ids in `off` that no book has (`file` is the shop file that `off` stands in).
    """
    rules, off = [rule for book in books for rule in book.rules], tuple(dict.fromkeys(off))
    known = {rule.id for rule in rules}
    if faults := [fault for name in off for fault in _wrong_off(name, known, True, file, None)]:
        raise InputError(faults)
    return tuple(rule for rule in rules if rule.id not in off)


def books_of(job: Job) -> tuple[Book, ...]:
    """The rule books of a job: those read with it, or else those that its shop names, read now."""
    return load_books(job.shop.rules.books) if job.books is None else job.books


def read_books(
    rules: Rules, file: str, line: Callable[[Place], int | None]
) -> tuple[tuple[Book, ...], list[Fault]]:
    """The books that go with the `[rules]` of a shop file, and all that is wrong with these and with them, each fault
    with its line; missing books aside. Where anything is wrong there are none.
    """
    twice = [index for index, book in enumerate(rules.books) if _is_own(Path(book))]
    there = tuple(book for n, book in enumerate(rules.books) if n not in twice and is_there(Path(book)))
    read, faults = _read_books(there, whole=len(there) + len(twice) == len(rules.books))
    known = {id for each in read for id in each.ids}
    all_told = _all_told(read, [book for n, book in enumerate(rules.books) if n not in twice])
    named = [
        Fault(
            f'"{shortened(Path(rules.books[index]).name)}" is a rule book of the program, which is in force anyway',
            file,
            "[rules]",
            line(("rules", "books", index)),
            "books of the shop's own",
        )
        for index in twice
    ]
    switched = [
        fault
        for index, name in enumerate(rules.off)
        for fault in _wrong_off(name, known, all_told, file, line(("rules", "off", index)))
    ]
    return () if faults else tuple(each.book() for each in read), named + switched + faults


def _all_told(read: Sequence[_Read], books: Sequence[Path | str]) -> bool:
    """Whether all of the shop's books, and those of the package, could be read, and tell the ids of all their rules."""
    return len(read) == len(books) + len(_own_books()) and all(each.source.tells_all("rule") for each in read)


def _wrong_off(name: str, known: set[str], all_told: bool, file: str, line: int | None) -> Iterator[Fault]:
    """What is wrong with an id that is switched off, as far as the books tell; `known` are the ids of their rules."""
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


def _is_own(path: Path) -> bool:
    """Whether a file is one of the package's books."""
    try:
        return any(isinstance(own, Path) and own.resolve() == path.resolve() for own in _own_books())
    except (OSError, RuntimeError, ValueError):
        return False


class _Read:
    """One book as read, with the faults of its tables in `source`."""

    def __init__(self, source: Source) -> None:
        self.source = source
        source.only(("book", "kinds", "rule"))
        if "book" not in source.data:
            source.say((), "the table [book] is missing", "[book] with title and about")
        head = source.table("book")
        self.head: BookHead | None = None
        if isinstance(source.data.get("book"), dict):
            self.head = source.read(("book",), head, BookHead, "mm")
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
    if rule.id in LAWS:
        yield "id", f'"{rule.id}" is the name of a law every job obeys', "another id"
    elif rule.id in home:
        yield "id", f'the id "{shortened(rule.id)}" is used already in {home[rule.id]}', "an id of its own"
    if rule.strength == "prefer" and (rule.price is None or rule.price <= 0):
        yield "price", "a preference needs a price above 0", PRICE_ACCEPTED
    if rule.strength == "must" and rule.price is not None:
        yield "price", "a must has no price", 'no price, or strength = "prefer"'
    if rule.before == rule.after:
        yield "after", "both patterns are the same, so nothing is ordered", "two patterns that differ"
    for key, pattern in (("before", rule.before), ("after", rule.after)):
        if pattern == Pattern():
            keys = [field.alias or name for name, field in Pattern.model_fields.items()]
            yield key, "an empty pattern would fit every operation", f"at least one of {', '.join(keys)}"
        if pattern.except_ and all(like(kind, pattern.except_) for kind in pattern.kind or ("*",)):
            yield key, "nothing fits this pattern: except takes away all it names", "a kind that is left"
        for kind in (*pattern.kind, *pattern.except_):
            if kinds is not None and not any(like(known, (kind,)) for known in kinds):
                known = sorted(kinds)
                accepted = f"{', '.join(known)}, or a kind explained in [kinds] of a book"
                yield key, f'no book explains the kind "{shortened(kind)}"{nearest(kind, known)}', accepted
