"""Spoiled pieces made again: the operations they had behind them, as operations on a part of their own."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from itertools import count
from math import ceil
from typing import NamedTuple

from sequencer.diagnostics import Fault, InputError
from sequencer.operations import Meeting, Operation, slug
from sequencer.planfile import PartRecord, Plan


class Again(NamedTuple):
    """A done operation (`of`) made again for the spoiled pieces of a part."""

    of: str
    operation: Operation
    part: str


def records_again(plan: Plan, left: Iterable[Operation], spoiled: Mapping[str, int]) -> dict[str, PartRecord]:
    """For each spoiled part the part that its new pieces are ("rail (remade)", "rail (remade 2)" ...): they go with the
    others through what is left.
    """
    left = tuple(left)
    records = {part.id: part for part in plan.parts}
    made: dict[str, PartRecord] = {}
    for part, pieces in spoiled.items():
        of = records[part].again or part
        taken = {*records, *(record.id for record in made.values())}
        name, number = f"{of} (remade)", 2
        while name in taken:
            name, number = f"{of} (remade {number})", number + 1
        made[part] = records[part].model_copy(
            update={
                "id": name,
                "quantity": pieces,
                "spare": 0,
                "again": of,
                "passes": tuple(each.id for each in left if records[part].goes_through(each)),
                "descent": records[part].named,
                "begun": False,
            }
        )
    return made


def made_again(plan: Plan, done: Iterable[Operation], remade: Mapping[str, PartRecord]) -> Iterator[Again]:
    """The done operations that the spoiled pieces (`remade`, by the part they were of) must go through again, but for
    dry fits (`open_again`).

    Of an operation on some pieces of a part only, as many are counted as may need it. Raises InputError where the
    pieces are glued up.
    """
    records = {part.id: part for part in plan.parts}
    taken = {operation.id for operation in (*plan.done, *plan.operations)}
    taken |= {id for ways in plan.options.values() for ids in ways.values() for id in ids}
    for operation in done:
        spoiled = [part for part in remade if records[part].goes_through(operation)]
        if spoiled and operation.kind == "glue":
            message = (
                f'{spoiled[0]} is glued up ("{operation.id}" is done): one piece of it cannot be made again'
            )
            raise InputError([Fault(message, where="--spoiled", accepted="parts that are not glued up yet")])
        if operation.kind == "dry-fit":
            continue
        known = [records[part].quantity for part in operation.parts if part in records]
        whole = sum(known) or operation.quantity
        for part in spoiled:
            share = operation.quantity * remade[part].quantity / whole
            most = min(operation.quantity, remade[part].quantity)
            quantity = most if operation.quantity < whole else ceil(share)
            named = next((name for name in records[part].named if name in operation.parts), part)
            again = _on_another(operation, named, remade[part].id, quantity, records)
            again = again.model_copy(update={"id": _untaken(again.id, taken)})
            taken.add(again.id)
            yield Again(operation.id, again, part)


def open_again(
    plan: Plan, done: Iterable[Operation], left: Iterable[Operation], remade: Mapping[str, PartRecord]
) -> dict[str, Operation]:
    """The dry fits that are to be made for the new pieces: done ones once more, for as many sets as there are new
    pieces, each of which may belong to a set of its own; those still left for as many more, but for what replaces a
    piece that awaits them, whose set is counted already. Never for more sets than there are.
    """
    records, left = {part.id: part for part in plan.parts}, tuple(left)
    fits: dict[str, Operation] = {}
    for begun, operations in ((0, done), (1, left)):
        for operation in operations:
            spoiled = [part for part in remade if records[part].goes_through(operation)]
            if operation.kind != "dry-fit" or not spoiled:
                continue
            first = _all_sets(operation, left)
            pieces = sum(records[part].quantity for part in operation.parts if part in records)
            each = max(1, first // max(1, pieces))  # where it counts what is done to each piece, twice, say
            awaited = operation.awaited_by if begun else ()
            fitted = [part for part in spoiled if part not in awaited]
            sets = begun * operation.quantity + each * sum(remade[part].quantity for part in fitted)
            told = not begun or first > operation.quantity
            opened = operation.of_sets or (first if told else 0)
            fits[operation.id] = operation.model_copy(
                update={
                    "quantity": min(sets, first),
                    "after": (),
                    "of_sets": opened,
                    "awaited_by": (*awaited, *(remade[part].id for part in spoiled)) if opened else (),
                }
            )
    return fits


def _all_sets(operation: Operation, left: Iterable[Operation]) -> int:
    """How many sets a dry fit is made of in the whole job; a file that does not say has its glue-ups."""
    glued = [each.quantity for each in left if each.kind == "glue" and each.parts == operation.parts]
    return operation.of_sets or max(operation.quantity, *glued, 0)


def sections_again(plan: Plan, again: Iterable[Again]) -> Iterator[Meeting]:
    """For mortises plunged again the meetings they are drawn in; their slips are counted with the others."""
    for copy in again:
        for meeting in plan.meetings:
            for half in ("first", "second"):
                mortises = getattr(meeting, half)
                if mortises.operation == copy.of and len(copy.operation.parts) == 1:
                    named = mortises.model_copy(update={"operation": copy.operation.id})
                    yield meeting.model_copy(update={half: named, "times": 0, "fitted": 0})


def _on_another(operation: Operation, part: str, name: str, quantity: int, parts: Iterable[str]) -> Operation:
    """An operation as it is made on another part, `name`, of the shape of `part`."""

    def surfaces(named: Iterable[str]) -> tuple[str, ...]:
        return tuple(f"{name}/{s.rpartition('/')[2]}" for s in named if s.rpartition("/")[0] == part)

    lines = tuple(
        line.model_copy(update={"part": name}) for line in operation.notes.lines if line.part == part
    )
    return operation.model_copy(
        update={
            "id": _id(operation, name),
            "parts": (name,),
            "quantity": quantity,
            "after": (),
            "registers_on": surfaces(operation.registers_on),
            "makes": surfaces(operation.makes),
            "destroys": surfaces(operation.destroys),
            "surface": next(iter(surfaces((operation.surface, *operation.other_surfaces))), ""),
            "other_surfaces": (),
            "cuts": tuple(
                cut.model_copy(update={"part": name}) for cut in operation.cuts if cut.part == part
            ),
            "notes": operation.notes.model_copy(
                update={"lines": lines, "what": _words_on(operation, part, name, parts)}
            ),
            "what_alone": {},
            "again": operation.again or operation.id,
        }
    )


def _words_on(operation: Operation, part: str, name: str, parts: Iterable[str]) -> str:
    """What an operation is on another part, `name`, like `part`: of its others nothing is said. Words written by hand
    for several parts stay as they are, with the one that is meant after them.
    """
    what = operation.notes.what
    if len(operation.parts) == 1 or part in operation.what_alone:
        return _said_of(operation.what_alone.get(part, what), part, name, parts)
    return f"{what.rstrip(' .:;')}: {name} only" if what else ""


def _said_of(text: str, part: str, name: str, parts: Iterable[str]) -> str:
    """Words about a part as words about another; of parts whose names hold one another the longest is meant.

    A part may be named like a surface: where the words have it second ("rip back to width") or after "of" ("groove in
    the back of back"), as those of derived operations do, it is the part there, and nowhere else.
    """
    names = "|".join(re.escape(each) for each in sorted({part, *parts}, key=len, reverse=True))
    found = [match for match in re.finditer(rf"(?<!\w)(?:{names})(?!\w)", text) if match[0] == part]
    meant = [
        match
        for match in found
        if text[: match.start()].endswith(" of ") or len(text[: match.start()].split()) == 1
    ]
    for match in reversed(meant or found):
        text = text[: match.start()] + name + text[match.end() :]
    return text


def _id(operation: Operation, name: str) -> str:
    """The id of an operation made again for "part (remade)"; with the part in it where it is on several."""
    part, _, again = name.rpartition(" (")
    return f"{operation.id}-{slug(again) if len(operation.parts) == 1 else slug(part, again)}"


def _untaken(id: str, taken: set[str]) -> str:
    """The id, numbered where it is another operation's already."""
    return next(found for n in count(1) for found in [id if n == 1 else f"{id}-{n}"] if found not in taken)
