"""Beside which end of a board the sizes of each row of pencil lines stand, so that none is read for another row's.

Rows whose values stand clear of each other share a scale. A row whose values would touch those of a scale has one of
its own: at the other end where no row lies nearer to that, else farther out. Where there is to be no more, a row has
none, and the list of pencil lines tells its sizes.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from sequencer.report.drawing.dimension import TOUCHING

_SAME = 0.01  # mm on paper: values nearer than this are one


@dataclass(frozen=True)
class Value:
    """A size beside the board: how far up the paper it stands (mm), measured from the far edge or the reference edge,
    and what is written."""

    up: float
    far: bool
    label: str

    def clear_of(self, other: Value) -> bool:
        """Whether the two can stand in one scale; a value given twice is one."""
        apart = abs(self.up - other.up)
        return apart >= TOUCHING or (apart < _SAME and (self.far, self.label) == (other.far, other.label))


@dataclass(frozen=True)
class Row:
    """Values of one row of lines, and how far it lies from the left and from the right end."""

    values: frozenset[Value]
    left: float
    right: float

    @property
    def home(self) -> str:
        """The end that it lies nearer to."""
        return "right" if self.right < self.left else "left"

    def off(self, side: str) -> float:
        """How far it lies from an end."""
        return self.left if side == "left" else self.right


@dataclass
class Scale:
    """The sizes of one row or more beside an end."""

    side: str
    values: set[Value] = field(default_factory=set)

    def has_room(self, row: Row) -> bool:
        """Whether no value of the row would touch one that is here."""
        return all(a.clear_of(b) for a in row.values for b in self.values)


def scales(rows: Iterable[Row], most: int) -> list[Scale]:
    """The scales of the rows, so many at most; those at one end from the board outwards."""
    found: list[Scale] = []
    waiting = sorted(rows, key=lambda row: (row.off(row.home), row.home, sorted(v.up for v in row.values)))
    for row in waiting:
        if any(row.values <= scale.values for scale in found):
            continue  # sizes stand once
        shared = next((s for s in found if s.side == row.home and s.has_room(row)), None)
        if shared is None:
            if len(found) == most:
                continue
            shared = Scale(_end(row, waiting, {scale.side for scale in found}))
            found.append(shared)
        shared.values |= row.values
    return found


def _end(row: Row, rows: Sequence[Row], taken: set[str]) -> str:
    """Where a new scale stands: at a free end that no other row lies nearer to, else outside one that is there."""
    sides = (row.home, "right" if row.home == "left" else "left")
    free = [
        side
        for side in sides
        if side not in taken
        and all(row.off(side) <= other.off(side) for other in rows if other.values != row.values)
    ]
    return next(iter([*free, *(side for side in sides if side in taken)]), row.home)
