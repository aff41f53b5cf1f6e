"""The pencil lines of a plan, and which boards are marked together: mates whose rows of slots lie alike.

Told once for the cards, the marking-out sheet and its table, so that these agree.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import cached_property

from sequencer.cards.planbook import PlanBook
from sequencer.operations import BATTEN, Operation, PencilLine, Slot

Row = tuple[str, tuple[float, ...]]
"""A row of slots as it is marked: the surface it is measured from, and the distances from it, mm."""


class Marking:
    """The pencil lines of a plan's parts, and which of these lie side by side for them."""

    def __init__(self, book: PlanBook) -> None:
        self.book = book

    @cached_property
    def lines(self) -> dict[PencilLine, tuple[Operation, ...]]:
        """Every pencil line once, in the order of the steps, with the operations it is for: one beside each end of a
        board stands twice in the notes of the step."""
        found: dict[PencilLine, dict[str, Operation]] = {}
        for op in self._steps:
            for line in op.notes.lines:
                found.setdefault(line, {})[op.id] = op
        return {line: tuple(ops.values()) for line, ops in found.items()}

    @cached_property
    def parts(self) -> tuple[str, ...]:
        """The parts with pencil lines, in the order of the steps."""
        return tuple(dict.fromkeys(line.part for line in self.lines))

    @cached_property
    def groups(self) -> tuple[tuple[str, ...], ...]:
        """The marked parts in groups that share joints, each part once."""
        groups: list[list[str]] = []
        for name in self.parts:
            if any(name in group for group in groups):
                continue
            group = [name]
            for member in group:  # grows as mates of mates are found
                group += [other for other in self.mates(member) if other in self.parts and other not in group]
            groups.append(group)
        return tuple(tuple(group) for group in groups)

    def mates(self, name: str) -> tuple[str, ...]:
        """The parts that share a joint's mortises with this one."""
        cuts = [cut for op in self.book.plan.operations for cut in op.cuts]
        joints = {cut.joint for cut in cuts if isinstance(cut, Slot) and cut.part == name} - {""}
        found = (
            cut.part for cut in cuts if isinstance(cut, Slot) and cut.joint in joints and cut.part != name
        )
        return tuple(dict.fromkeys(found))

    def alike(self, group: tuple[str, ...]) -> list[list[str]]:
        """A group parted into those whose rows of slots agree: they are laid side by side and marked together. One may
        have rows that another has not (`same_rows` tells)."""
        found: list[list[str]] = []
        for name in group:
            rows = self._rows.get(name, frozenset())
            for others in found:
                told = [self._rows.get(other, frozenset()) for other in others]
                if all(rows <= each or each <= rows for each in told):
                    others.append(name)
                    break
            else:
                found.append([name])
        return found

    def same_rows(self, names: Iterable[str]) -> bool:
        """Whether these parts have the same rows of slots, none more than another."""
        return len({self._rows.get(name, frozenset()) for name in names}) <= 1

    def carried(self, operation: Operation) -> bool:
        """Whether the lines of the operation's slots are carried across from mates, or from pieces of the same part
        that they meet; where they are not, each part is marked from its own list. Where no mate has such a row they
        are carried from boards that are marked together with these (the aprons of a table).
        """
        return any(self._carried(operation, part) for part in operation.parts)

    def carried_on(self, part: str) -> bool:
        """Whether any of a part's lines are carried across, if only from one of its pieces to another."""
        return any(
            self._carried(op, part) for line, ops in self.lines.items() if line.part == part for op in ops
        )

    def _carried(self, operation: Operation, part: str) -> bool:
        rows = _rows_of(operation, part)
        group = next((group for group in self.groups if part in group), ())
        together = next((names for names in self.alike(group) if part in names), [])
        met = {other for mate in self._met(operation) for other in mate.parts if rows & _rows_of(mate, other)}
        if met:
            return not met.isdisjoint(together)
        return any(rows & self._rows.get(other, frozenset()) for other in together if other != part)

    def _met(self, operation: Operation) -> list[Operation]:
        """The operations that plunge the mortises which those of this one meet."""
        pairs = [(meeting.first.operation, meeting.second.operation) for meeting in self.book.plan.meetings]
        ids = [b if a == operation.id else a for a, b in pairs if operation.id in (a, b)]
        return [self.book.operations[id] for id in ids if id in self.book.operations]

    @cached_property
    def _rows(self) -> dict[str, frozenset[Row]]:
        """The rows of slots each part is marked for."""
        found: dict[str, frozenset[Row]] = {}
        for op in self._steps:
            for part in dict.fromkeys(line.part for line in op.notes.lines):
                found[part] = found.get(part, frozenset()) | _rows_of(op, part)
        return found

    @cached_property
    def _steps(self) -> tuple[Operation, ...]:
        return tuple(self.book.operation(step.operation) for step in self.book.plan.steps)


def _rows_of(operation: Operation, part: str) -> frozenset[Row]:
    """The rows of slots that an operation's pencil lines on a part are for; none where it plunges none. A batten's line
    is none of them: only one of two mates may need it."""
    if not any(isinstance(cut, Slot) for cut in operation.cuts):
        return frozenset()
    return frozenset(
        (line.start, tuple(sorted(round(at, 3) for at in line.at)))
        for line in operation.notes.lines
        if line.part == part and not line.what.startswith(BATTEN)
    )
