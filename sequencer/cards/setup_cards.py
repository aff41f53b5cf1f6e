"""What a setup card says: plain values computed from a plan alone, in the job's unit, ready to be set.

`cards(plan)` gives one `Card` for each setup. The terminal and the printed booklet both lay out these values
and compute nothing of their own. The step list is in `sequencer.cards.steplist`, costs and proof are in
`sequencer.cards.overview`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import count
from typing import Literal, NamedTuple

from sequencer.cards.marking import Marking
from sequencer.cards.planbook import Pieces, PlanBook, title
from sequencer.operations import Caution, Check, Operation, PencilLine, Slot, as_words
from sequencer.planfile import Plan, Reset, Setup
from sequencer.quantity import Unit, format_length

Change = Literal["set", "changed", "again", "stays", "idle"]
"""How a setting stands against this station's last card: "set" for the first time, "changed" to another
value, set "again" because it was lost when the work left the station; "stays" and is needed here, "idle" if
it stays and is not needed here."""

MOST_TICKS = 40
"""A card has room for this many tick boxes a step; beyond it a box stands for several pieces."""
CARRIED = "carried across while the mates lie together"
"""Said of pencil lines that mates have in common."""
_AT_THE_BENCH = ("sand", "dry-fit", "glue")
"""Kinds of work that no surface guides: the surfaces they name are those that are sanded or meet."""


@dataclass(frozen=True)
class SettingLine:
    """One setting of the card's station. `minutes` is what the reset costs, 0 if it stays."""

    setting: str
    name: str
    value: str
    change: Change
    was: str = ""
    """The value before, for "changed"."""
    since: int = 0
    """For "stays" and "idle": the setup that set it; 0 when it stood so from the start."""
    accepts: str = ""
    """What would do besides `value`, where the work leaves room: "21 mm to 28 mm", "rip or combination"."""
    how: tuple[str, ...] = ()
    """How it is set, for what has to be set."""
    minutes: float = 0.0

    @property
    def moves(self) -> bool:
        """Whether the helper has to touch it."""
        return self.change in ("set", "changed", "again")


@dataclass(frozen=True)
class Lines:
    """Pencil lines on a part: `distances` from `start`, cumulative, squared across `across`."""

    part: str
    start: str
    across: str
    distances: tuple[str, ...]
    what: str


@dataclass(frozen=True)
class Work:
    """One step on a card: what is done to which pieces, and how they lie. `step` counts in the whole plan."""

    step: int
    operation: str
    what: str
    pieces: tuple[Pieces, ...]
    count: int
    """The step's quantity: pieces, cuts or sets, as `pieces` tells."""
    cuts: int | None
    """How many cuts each piece takes; None for plunges, whose words count the slots in a piece."""
    ticks: int
    """Tick boxes to print; each stands for `per_tick` pieces or sets (the last perhaps for fewer)."""
    per_tick: int
    spare_ticks: int
    """How many of the tick boxes, the last ones, are for spares."""
    minutes: float
    besides: tuple[str, ...]
    """What to set that the shop file's station has no settings for: "slot length 34 mm"."""
    fence: str
    table: str
    way_round: str
    registers: tuple[str, ...]
    """The surfaces it registers on, where the notes do not say what lies on fence and table."""
    lines: tuple[Lines, ...]
    check: Check | None

    @property
    def each_box(self) -> str:
        """What a tick box stands for where that is more than one, and how many of all are spares; else empty."""
        if self.per_tick == 1:
            return ""
        told = f"each box {self.per_tick} {'sets' if self.pieces[0].sets else 'pieces'}"
        spares = sum(piece.spare for piece in self.pieces)
        return f"{told}; {spares} {'is a spare' if spares == 1 else 'are spares'}" if spares else told

    def same_lie(self, other: Work) -> bool:
        """Whether its pieces lie and are checked as the other step's, and neither has pencil lines."""
        lies = [
            (work.fence, work.table, work.way_round, work.besides, work.registers, work.check)
            for work in (self, other)
        ]
        told = any(lies[0][:5]) or self.check is not None
        return told and lies[0] == lies[1] and not self.lines and not other.lines


@dataclass(frozen=True)
class CardCaution:
    """A caution with its citation; `steps` are the step numbers it is for, empty when for all on the card."""

    says: str
    source: str
    steps: tuple[int, ...] = ()


@dataclass(frozen=True)
class Hold:
    """Settings not to be moved until setup `until` is done, because `operations` still to come must match."""

    station: str
    settings: tuple[tuple[str, str], ...]
    """Name and value of each."""
    until: int
    operations: tuple[str, ...]
    why: str


@dataclass(frozen=True)
class Leave:
    """A setting worth leaving where it stands: setup `until` uses it again as it is."""

    name: str
    value: str
    until: int


@dataclass(frozen=True)
class Next:
    """What comes after the card: setup `number` at `station`, beginning with `what`."""

    number: int
    station: str
    same_station: bool
    what: str
    walk_minutes: float


@dataclass(frozen=True)
class Card:
    """One setup; the minutes are what its resets, its work and the walk to it take."""

    number: int
    of: int
    job: str
    """The job; of a plan that goes on from another with after how many steps."""
    station: str
    """The station's name for people."""
    settings: tuple[SettingLine, ...]
    work: tuple[Work, ...]
    cautions: tuple[CardCaution, ...]
    holds: tuple[Hold, ...]
    leaves: tuple[Leave, ...]
    next: Next | None
    reset_minutes: float
    work_minutes: float
    walk_minutes: float

    @property
    def count(self) -> int:
        """Pieces to be worked, counted once for each step."""
        return sum(work.count for work in self.work)


def cards(plan: Plan) -> tuple[Card, ...]:
    """The setup cards of a plan, in order."""
    book = PlanBook(plan)
    marked = Marking(book)
    return tuple(_card(book, marked, setup) for setup in plan.setups)


def setting_lines(book: PlanBook, setup: Setup) -> tuple[SettingLine, ...]:
    """The settings of the setup's station that have a known value, in the shop's order."""
    resets = {reset.setting: reset for reset in setup.resets}
    return tuple(_setting(book, setup, name, resets.get(name)) for name in book.settings_in_order(setup))


def _card(book: PlanBook, marked: Marking, setup: Setup) -> Card:
    return Card(
        number=setup.number,
        of=len(book.plan.setups),
        job=title(book.plan),
        station=book.station_name(setup.station),
        settings=setting_lines(book, setup),
        work=tuple(_work(book, marked, operation) for operation in setup.operations),
        cautions=_cautions(book, setup),
        holds=_holds(book, setup),
        leaves=_leaves(book, setup),
        next=_next(book, setup),
        reset_minutes=sum(reset.minutes for reset in setup.resets),
        work_minutes=sum(book.step[operation].work_minutes for operation in setup.operations),
        walk_minutes=setup.walk_minutes,
    )


def _setting(book: PlanBook, setup: Setup, name: str, reset: Reset | None) -> SettingLine:
    before = [other for other in book.at_station(setup.station) if other.number < setup.number]
    change: Change
    if reset is None:
        needed = any(name in book.step[operation].settings for operation in setup.operations)
        change = "stays" if needed else "idle"
    elif reset.from_ is not None:
        change = "changed"
    else:
        change = "again" if any(name in other.settings for other in before) else "set"
    set_by = [other.number for other in before if any(moved.setting == name for moved in other.resets)]
    told = [book.operation(operation).notes.how_to_set.get(name, "") for operation in setup.operations]
    value = book.reading(setup.station, name, setup.settings[name])
    was = book.reading(setup.station, name, reset.from_) if reset else ""
    if base := book.base(setup.station, name):
        value, was, how = _measured(book, setup, name, base, (value, was), change)
        told += [] if any(told) else [how]
    return SettingLine(
        setting=name,
        name=book.setting_name(setup.station, name),
        value=value,
        change=change,
        was=was,
        since=0 if reset else max(set_by, default=0),
        accepts=book.accepts(setup, name),
        how=tuple(dict.fromkeys(text for text in told if text)) if reset else (),
        minutes=reset.minutes if reset else 0.0,
    )


def _measured(
    book: PlanBook, setup: Setup, name: str, base: str, said: tuple[str, str], change: Change
) -> tuple[str, str, str]:
    """Value, value before and how it is set, of a setting that is good only as another one, `base`, stood then: told
    with where that stood, unless it stands there now.
    """
    value, was = said
    at = book.level(setup.station, name, setup.number)
    if change in ("stays", "idle"):
        asked = (book.step[operation].settings for operation in setup.operations)
        here = any(name in settings and base in settings for settings in asked)
        now = book.at(setup.station, base, setup.settings.get(base))
        return (f"{value} at {at}" if at and now and at != now and not here else value), was, ""
    before = book.level(setup.station, name, setup.number - 1)
    if was and before != at:
        was = f"{was} at {before}" if before else f"{was}, {book.setting_name(setup.station, base)} not told"
    so_far = (other for other in book.at_station(setup.station) if other.number <= setup.number)
    swung = any(reset.setting == base for other in so_far for reset in other.resets)
    return value, was, f"measured with {at}" if at and (swung or (was and before != at)) else ""


def _work(book: PlanBook, marked: Marking, operation: str) -> Work:
    step, record = book.step[operation], book.operation(operation)
    notes, unit = record.notes, book.plan.unit
    pieces = book.pieces(operation)
    boxes = step.quantity // max(piece.each for piece in pieces)
    per_tick = _per_tick(boxes)
    told = bool(notes.fence or notes.table) or record.kind in _AT_THE_BENCH
    return Work(
        step=book.number[operation],
        operation=operation,
        what=book.what(operation),
        pieces=pieces,
        count=step.quantity,
        cuts=book.cuts_each(operation),
        ticks=-(-boxes // per_tick),
        per_tick=per_tick,
        spare_ticks=sum(piece.spare for piece in pieces) if per_tick == 1 else 0,
        minutes=step.work_minutes,
        besides=tuple(f"{as_words(name)} {told}" for name, told in record.set_too.items()),
        fence=notes.fence,
        table=notes.table,
        way_round=_way_round(record, book.on_some(operation), marked.carried(record)),
        registers=() if told else tuple(dict.fromkeys(s.rpartition("/")[2] for s in record.registers_on)),
        lines=lines_told(notes.lines, unit),
        check=notes.check,
    )


def _way_round(operation: Operation, some: bool, carried: bool) -> str:
    """How the pieces lie, whether their lines are carried across from mates, and which of boards in a row are plunged,
    of which the outer ones have no mate at one side.
    """
    told = [operation.notes.way_round.replace(f", {CARRIED}", "")]  # earlier plan files say so themselves
    if carried:
        lines = told[0].startswith("pencil lines")
        told = [f"{told[0]}, {CARRIED}"] if lines else [*told, f"pencil lines {CARRIED}"]
    # which pieces a step written by hand is on, its own notes say, but not which of those made again
    if some and any(isinstance(cut, Slot) for cut in operation.cuts):
        told.append("lay each set out as it is put together: only what meets a mate is cut")
    elif some and operation.again:
        told.append("only on those that replace pieces that had it")
    return "; ".join(filter(None, told))


def lines_told(lines: Iterable[PencilLine], unit: Unit) -> tuple[Lines, ...]:
    """Pencil lines as cards and sheets tell them; those alike but for the surface they are squared across stand
    together."""
    across: dict[tuple[str, str, tuple[str, ...], str], list[str]] = {}
    for line in lines:
        distances = tuple(format_length(at, unit, decimals=True) for at in sorted(line.at))
        across.setdefault((line.part, line.start, distances, line.what), []).append(line.across)
    return tuple(
        Lines(part, start, " and ".join(dict.fromkeys(surfaces)), distances, what)
        for (part, start, distances, what), surfaces in across.items()
    )


def _per_tick(pieces: int) -> int:
    """Pieces for each tick box: the least of 1, 2, 5, 10 ... that needs no more than `MOST_TICKS`."""
    steps: Iterator[int] = (lead * 10**power for power in count() for lead in (1, 2, 5))
    return next(step for step in steps if pieces <= step * MOST_TICKS)


def _cautions(book: PlanBook, setup: Setup) -> tuple[CardCaution, ...]:
    """Every caution of the setup's operations once, with the steps it is for when these are not all."""
    steps: dict[Caution, list[int]] = {}
    for operation in setup.operations:
        for caution in book.operation(operation).notes.cautions:
            steps.setdefault(caution, []).append(book.number[operation])
    return tuple(
        CardCaution(caution.says, caution.source, () if len(of) == len(setup.operations) else tuple(of))
        for caution, of in steps.items()
    )


def _holds(book: PlanBook, setup: Setup) -> tuple[Hold, ...]:
    """What mates begun but not finished with this setup hold: the same settings for the same reason once, until the
    last of all that must match is made; what is held until then with others for another reason, with these."""
    waiting: dict[tuple[str, tuple[str, ...], str], set[str]] = {}
    for mates in book.plan.mates:
        at = {name: book.setup_of[name] for name in mates.operations if name in book.setup_of}
        if not at or not min(at.values()) <= setup.number < max(at.values()):
            continue
        held: dict[str, list[str]] = {}
        for station, _, setting in (name.partition(".") for name in mates.hold):
            held.setdefault(station, []).append(setting)
        for station, settings in held.items():
            names = waiting.setdefault((station, tuple(settings), mates.why), set())
            names.update(name for name in at if at[name] > setup.number)
    told: dict[tuple[str, int], list[_Waiting]] = {}
    for (station, together, why), names in waiting.items():
        until = max(book.setup_of[name] for name in names)
        told.setdefault((station, until), []).append(_Waiting(together, (why,), names))
    return tuple(
        Hold(
            station=book.station_name(station),
            settings=tuple(_held(book, setup, station, setting) for setting in each.settings),
            until=until,
            operations=tuple(dict.fromkeys(map(book.what, sorted(each.names, key=book.number.__getitem__)))),
            why="; ".join(filter(None, dict.fromkeys(each.whys))),
        )
        for (station, until), all_of_it in told.items()
        for each in _joined(all_of_it)
    )


class _Waiting(NamedTuple):
    """Settings of one station held until one setup: why, and for which operations still to come."""

    settings: tuple[str, ...]
    whys: tuple[str, ...]
    names: set[str]


def _joined(held: Iterable[_Waiting]) -> list[_Waiting]:
    """The widest of these, each with the reasons and the operations of those whose settings are among its own."""
    found: list[_Waiting] = []
    for each in sorted(held, key=lambda one: -len(one.settings)):
        for place, wider in enumerate(found):
            if set(each.settings) <= set(wider.settings):
                found[place] = _Waiting(wider.settings, wider.whys + each.whys, wider.names | each.names)
                break
        else:
            found.append(each)
    return found


def _held(book: PlanBook, setup: Setup, station: str, setting: str) -> tuple[str, str]:
    """A setting's name, and its value as it stands at the setup."""
    standing = [other.settings for other in book.at_station(station) if other.number <= setup.number]
    value = standing[-1].get(setting) if standing else None
    return book.setting_name(station, setting), book.reading(station, setting, value) or "as it stands"


def _leaves(book: PlanBook, setup: Setup) -> tuple[Leave, ...]:
    """Settings needed here and needed again, unmoved, by a later setup of this station."""
    found: list[Leave] = []
    later = [other for other in book.at_station(setup.station) if other.number > setup.number]
    for line in setting_lines(book, setup):
        for other in later if line.change != "idle" else ():
            if any(moved.setting == line.setting for moved in other.resets):
                break
            if any(line.setting in book.step[operation].settings for operation in other.operations):
                found.append(Leave(line.name, line.value, other.number))
                break
    return tuple(found)


def _next(book: PlanBook, setup: Setup) -> Next | None:
    for other in book.plan.setups:
        if other.number == setup.number + 1:
            return Next(
                number=other.number,
                station=book.station_name(other.station),
                same_station=other.station == setup.station,
                what=book.what(other.operations[0]),
                walk_minutes=other.walk_minutes,
            )
    return None
