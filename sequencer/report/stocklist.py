"""What has to be at hand before the first cut: boards, slips, setting blocks and test pieces, read from a plan.

Sizes in mm. Spares of parts are those the job names, which the cards count too. What a plan does not carry (rough
sizes, spare slips) is filled in by common practice, no source for the figures: the maker may take other allowances.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from sequencer.cards.planbook import PlanBook
from sequencer.listing import numbered
from sequencer.model.parts import Allowance
from sequencer.planfile import PartRecord, Plan, Setup
from sequencer.quantity import Unit, format_size

SPARE_IN = 10
"""One spare for every so many pieces, and at least one: a single spoiled piece is common, two are rare."""


@dataclass(frozen=True)
class CutRow:
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
            size_text(finished, unit),
            size_text(self.rough, unit),
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

    def texts(self, unit: Unit, marked: Unit) -> list[str]:
        """The row in words: joint, size (the thickness as cutters are `marked`), pieces, spares."""
        return [
            self.joint,
            f"{format_size(self.thickness, marked)} × {size_text((self.width, self.length), unit)}"
            if marked != unit
            else size_text((self.thickness, self.width, self.length), unit),
            str(self.count),
            str(self.spares),
        ]


def spares(count: int) -> int:
    """How many spare pieces to make beside `count`."""
    return -(-count // SPARE_IN) if count else 0


def cut_list(plan: Plan) -> tuple[CutRow, ...]:
    """Every part whose sizes the plan carries, but for those of which pieces are there when the plan begins."""
    named = {
        part for operation in plan.done for part in operation.parts
    }  # in files that do not say what is begun
    return tuple(
        CutRow(part, part.rough or Allowance().rough(part, plan.unit), part.spare)
        for part in plan.parts
        if min(part.length, part.width, part.thickness) > 0 and not part.begun and part.id not in named
    )


def unspared(plan: Plan) -> tuple[str, ...]:
    """The parts of which the job makes no spare; not pieces made again, which are no parts of the job."""
    return tuple(row.part.id for row in cut_list(plan) if not row.spares and not row.part.again)


def slips(plan: Plan) -> tuple[SlipRow, ...]:
    """The slips that fill the plan's mortises, by joint and size; none where the plan does not say what meets what."""
    found: Counter[tuple[str, float, float, float]] = Counter()
    for meeting in plan.meetings:
        slip = meeting.slip
        if meeting.slips:
            found[meeting.joint, slip.thickness, slip.width, slip.length] += meeting.slips
    return tuple(
        SlipRow(joint, thick, wide, long, count, spares(count))
        for (joint, thick, wide, long), count in found.items()
    )


def preparations(plan: Plan) -> tuple[tuple[str, str], ...]:
    """Setting blocks and scrap for tests: what, and the cards it is made on and needed for."""
    book = PlanBook(plan)
    rows: list[tuple[str, str]] = []
    for setup in plan.setups:
        for operation in setup.operations:
            if book.operation(operation).kind in ("block", "setting-block", "test"):
                what = book.what(operation)
                angle = re.search(r"[\d.]+°", what)
                users = [
                    other.number
                    for other in plan.setups
                    if angle and any("block" in how and angle[0] in how for how in _how(book, other))
                ]
                needed = f", for {numbered('card', users)}" if users else ""
                rows.append((what, f"made on card {setup.number}{needed}"))
    scrap: dict[float, list[int]] = {}
    for setup in plan.setups:
        made = [
            book.operation(operation) for operation in setup.operations if _tested(book, setup, operation)
        ]
        parts = dict.fromkeys(part for operation in made for part in operation.parts)
        for thick in sorted({book.parts[part].thickness for part in parts if part in book.parts}):
            scrap.setdefault(thick, []).append(setup.number)
    rows += [
        (f"scrap {format_size(thick, plan.unit)} thick, for the tests", numbered("card", numbers))
        for thick, numbers in sorted(scrap.items())
    ]
    return tuple(rows)


def _tested(book: PlanBook, setup: Setup, operation: str) -> bool:
    """Whether the setup's card asks for a test in scrap before the operation is made."""
    return any(re.search(r"\b(scrap|test)", how.lower()) for how in _told(book, setup, operation))


def _how(book: PlanBook, setup: Setup) -> list[str]:
    """How the settings that are moved for a setup are set."""
    return [how for operation in setup.operations for how in _told(book, setup, operation)]


def _told(book: PlanBook, setup: Setup, operation: str) -> list[str]:
    """What an operation tells of how the settings that are moved for its setup are set."""
    how = book.operation(operation).notes.how_to_set
    return [how[reset.setting] for reset in setup.resets if reset.setting in how]


def size_text(sizes: Iterable[float], unit: Unit) -> str:
    """Sizes with their unit once.

    >>> size_text((508.0, 57.15, 19.05), "in")
    '20 × 2 1/4 × 3/4 in'
    """
    return " × ".join(format_size(size, unit, with_unit=False) for size in sizes) + f" {unit}"
