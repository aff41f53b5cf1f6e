"""Names in rules and operations that are nearly names that there are: no faults, for a book serves many jobs."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

from sequencer.diagnostics import nearest, shortened
from sequencer.model.job import Job
from sequencer.model.rule import Book, Names, Rule, like
from sequencer.operations import Operation

NEARLY = 0.8
"""How like a known kind another must be to be taken for a slip of the pen ("dril", "gluee"), not for another word."""


def misspelt_kinds(operations: Iterable[Operation], books: Iterable[Book]) -> tuple[str, ...]:
    """A sentence for each kind that no book explains but that is nearly one of those explained.

    A kind that is like no other is the shop's own word, and nothing is said of it.
    """
    of_kind: dict[str, list[str]] = defaultdict(list)
    for operation in operations:
        if operation.kind:
            of_kind[operation.kind].append(f'"{shortened(operation.id)}"')
    known = {kind for book in books for kind in book.kinds}
    return tuple(
        f'no rule book explains the kind "{shortened(kind)}"{hint} of {", ".join(ids)}: no rule for a kind binds it'
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
        () if any(like(each, names) for each in known) else tuple(name for name in names if "*" not in name)
    )
