"""What has to be at hand before the first cut: boards, slips, setting blocks and test pieces, read from a plan.

Sizes in mm. What a plan does not carry (rough sizes, spares) is filled in by common practice, no source for the
figures: the maker may take other allowances.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from sequencer.operations import Slot
from sequencer.planbook import PlanBook
from sequencer.planfile import PartRecord, Plan
from sequencer.quantity import Unit, format_length

SPARE_IN = 10
"""One spare for every so many pieces, and at least one: a single spoiled piece is common, two are rare."""


@dataclass(frozen=True)
class Allowance:
    """Wood left on a part until it is cut to size, mm."""

    length: float = 25.0
    width: float = 6.0
    thickness: float = 3.0


@dataclass(frozen=True)
class CutListRow:
    """A part: finished and rough size, pieces needed and spares."""

    part: PartRecord
    rough: tuple[float, float, float]
    spares: int

    @property
    def pieces(self) -> int:
        """Pieces needed, spares aside."""
        return self.part.quantity - self.part.spare

    def texts(self, unit: Unit) -> list[str]:
        """The row in words: part, finished, rough, pieces, spares, stock."""
        finished = (self.part.length, self.part.width, self.part.thickness)
        stock = ", ".join(text for text in (self.part.species, self.part.stock) if text)
        return [
            self.part.id,
            _size(finished, unit),
            _size(self.rough, unit),
            str(self.pieces),
            str(self.spares),
            stock,
        ]


@dataclass(frozen=True)
class SlipRow:
    """Slips of one size: thickness and width fit the mortises, `length` leaves glue room at both ends, mm."""

    joint: str
    thickness: float
    width: float
    length: float
    count: int
    spares: int

    def texts(self, unit: Unit) -> list[str]:
        """The row in words: joint, size, pieces, spares."""
        return [
            self.joint,
            _size((self.length, self.width, self.thickness), unit),
            str(self.count),
            str(self.spares),
        ]


def spares(count: int) -> int:
    """How many spare pieces to make beside `count`."""
    return -(-count // SPARE_IN) if count else 0


def cut_list(plan: Plan, allowance: Allowance | None = None) -> tuple[CutListRow, ...]:
    """Every part whose sizes the plan carries. A part kept as sheet stock gets no allowance on its thickness."""
    extra = allowance or Allowance()
    rows = []
    for part in plan.parts:
        if min(part.length, part.width, part.thickness) <= 0:
            continue
        rough = part.rough or (
            part.length + extra.length,
            part.width + extra.width,
            part.thickness + (0.0 if part.stock == "sheet" else extra.thickness),
        )
        rows.append(CutListRow(part, rough, part.spare or spares(part.quantity)))
    return tuple(rows)


def slips(plan: Plan) -> tuple[SlipRow, ...]:
    """The slips that fill the plan's mortises, by joint and size; none where the plan does not say what meets what."""
    found: Counter[tuple[str, float, float, float]] = Counter()
    for meeting in plan.meetings:
        slip = meeting.slip
        found[meeting.joint, slip.thickness, slip.width, slip.length] += meeting.slips
    return tuple(
        SlipRow(joint, thick, wide, long, count, spares(count))
        for (joint, thick, wide, long), count in found.items()
    )


def preparations(plan: Plan) -> tuple[tuple[str, str], ...]:
    """Setting blocks, test pieces and the like: what, and where it is needed."""
    book = PlanBook(plan)
    rows: list[tuple[str, str]] = []
    for setup in plan.setups:
        for operation in setup.operations:
            if book.operation(operation).kind in ("block", "setting-block", "test"):
                rows.append((book.what(operation), f"made on card {setup.number}"))
        for reset in setup.resets:
            for operation in setup.operations:
                how = book.operation(operation).notes.how_to_set.get(reset.setting, "")
                if any(word in how.lower() for word in ("block", "scrap", "test")):
                    row = (how, f"card {setup.number}, {reset.setting.replace('_', ' ')}")
                    if row not in rows:
                        rows.append(row)
    thick = sorted({cut.part for op in plan.operations for cut in op.cuts if isinstance(cut, Slot)})
    sizes = sorted({book.parts[name].thickness for name in thick if name in book.parts})
    for size in sizes:
        rows.append((f"scrap {format_length(size, plan.unit)} thick for test plunges", "mortiser"))
    return tuple(rows)


def _size(sizes: tuple[float, ...], unit: Unit) -> str:
    return " × ".join(format_length(size, unit) for size in sizes)
