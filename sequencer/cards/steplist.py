"""What the step list says: the steps grouped in setups, each with the reasons why it stands where it does."""

from __future__ import annotations

from dataclasses import dataclass

from sequencer.cards.planbook import Pieces, PlanBook
from sequencer.cards.setup_cards import SettingLine, setting_lines
from sequencer.operations import Edge
from sequencer.planfile import Plan, Setup


@dataclass(frozen=True)
class Why:
    """One reason for a step's place: after step `step`, by `rule`; `why` is a sentence."""

    step: int
    operation: str
    rule: str
    why: str
    preferred: bool = False
    """Whether the rule is only a preference."""


@dataclass(frozen=True)
class StepLine:
    """One step. `follows`: why it is not earlier, nearest step first."""

    number: int
    operation: str
    what: str
    pieces: tuple[Pieces, ...]
    count: int
    """Pieces or sets."""
    cuts: int | None
    """How many cuts each piece takes; None for plunges, whose words count the slots in a piece."""
    minutes: float
    follows: tuple[Why, ...]


@dataclass(frozen=True)
class StepGroup:
    """The steps of one setup. `settings` are those that have to be set for it."""

    number: int
    station: str
    walk_minutes: float
    reset_minutes: float
    settings: tuple[SettingLine, ...]
    steps: tuple[StepLine, ...]


def step_list(plan: Plan) -> tuple[StepGroup, ...]:
    """The steps grouped in setups, in order."""
    book = PlanBook(plan)
    return tuple(_group(book, setup) for setup in plan.setups)


def _group(book: PlanBook, setup: Setup) -> StepGroup:
    return StepGroup(
        number=setup.number,
        station=book.station_name(setup.station),
        walk_minutes=setup.walk_minutes,
        reset_minutes=sum(reset.minutes for reset in setup.resets),
        settings=tuple(line for line in setting_lines(book, setup) if line.moves),
        steps=tuple(_step(book, operation) for operation in setup.operations),
    )


def _step(book: PlanBook, operation: str) -> StepLine:
    edges = [
        edge for edge in book.plan.precedence if edge.kept and {edge.before, edge.after} <= book.number.keys()
    ]
    follows = [_why(book, edge, edge.before) for edge in edges if edge.after == operation]
    pieces = book.pieces(operation)
    return StepLine(
        number=book.number[operation],
        operation=operation,
        what=book.what(operation),
        pieces=pieces,
        count=book.step[operation].quantity // max(piece.each for piece in pieces),
        cuts=book.cuts_each(operation),
        minutes=book.step[operation].work_minutes,
        follows=tuple(sorted(follows, key=lambda why: (-why.step, why.preferred))),
    )


def _why(book: PlanBook, edge: Edge, other: str) -> Why:
    return Why(book.number[other], other, edge.rule, edge.why, edge.strength == "prefer")
