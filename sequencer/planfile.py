"""The plan: what the order came to, complete enough to recount, to check and to print from this value alone.

`Plan.model_dump_json()` is the published "plan/1" file. Lengths are in the job's unit (`unit`), angles in
degrees, times in minutes; only `operations`, `done`, `parts`, `meetings` with their slips (the geometry for the cards)
and `glue_room` are in mm.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

from sequencer.operations import Edge, MatesGroup, Meeting, Operation, StruckOut
from sequencer.quantity import Measure

Reading = float | str
"""A value a setting stands at."""
Pieces = Annotated[int, Field(ge=1)]
"""A number of pieces."""
Amount = Annotated[float, Field(ge=0)]
"""Minutes, or a size in mm."""


class _Record(BaseModel):
    # defer_build: a checker is made when its value is first made, which keeps the commands quick to start.
    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True, defer_build=True)


class Reset(_Record):
    """A setting of the step's station moved just before the step; `from` is null when no value stood
    before.
    """

    setting: str
    from_: Reading | None = Field(alias="from")
    to: Reading
    minutes: Amount


class Step(_Record):
    """One operation in its place. `settings` gives every value the operation fixed."""

    operation: str
    station: str
    setup: int
    """Number of the setup (card) the step belongs to, from 1."""
    quantity: Pieces
    walk_minutes: Amount
    work_minutes: Amount
    settings: dict[str, Reading]
    resets: tuple[Reset, ...]


class Setup(_Record):
    """A run of steps at one station without a reset between them: one card.

    `settings` are the settings of the station that work has named so far and that still stand, `resets` what is
    moved for this setup.
    """

    number: int
    station: str
    walk_minutes: Amount
    settings: dict[str, Reading]
    resets: tuple[Reset, ...]
    operations: tuple[str, ...]


class Habit(_Record):
    """What the usual habit would cost: as listed, part by part, machine by machine."""

    name: str
    cost_minutes: Amount
    reset_count: Annotated[int, Field(ge=0)]


class BoundReason(_Record):
    """Why a part of the cost cannot be saved."""

    settings: tuple[str, ...]
    minutes: Amount
    why: str


class RuleCost(_Record):
    """What the plan would save if the rule did not exist; `proven` when that is exact."""

    rule: str
    saves_minutes: float
    proven: bool


class PartRecord(_Record):
    """A part as sized, mm, for the whole batch: `quantity` pieces, `spare` of them beyond what is needed.

    `rough` is the size it is cut from, with the shop's allowances; the size itself where it is bought as sized.
    `again`: these are pieces of that part, made again; they go with the others through the operations `passes` names.
    `descent`: the parts whose pieces they replace, the one spoiled last first, `again` last. `begun`: pieces of it are
    there already when the plan begins.
    """

    id: str
    quantity: Pieces
    spare: Annotated[int, Field(ge=0)] = 0
    rough: tuple[Amount, Amount, Amount] | None = None
    length: Amount
    width: Amount
    thickness: Amount
    species: str = ""
    stock: str = ""
    again: str = ""
    passes: tuple[str, ...] = ()
    descent: tuple[str, ...] = ()
    begun: bool = False

    @property
    def named(self) -> tuple[str, ...]:
        """The parts that operations on these pieces may name, their own first."""
        return (self.id, *(self.descent or ((self.again,) if self.again else ())))

    def goes_through(self, operation: Operation) -> bool:
        """Whether pieces of this part go through an operation, be it under their own name or with the others."""
        return self.id in operation.parts or operation.id in self.passes


class StationRecord(_Record):
    """A station's name and settings in the shop's order, for the cards; `measures` maps a setting to
    "length", "angle", "number" or "name"."""

    id: str
    name: str
    measures: dict[str, Measure]
    names: dict[str, str] = {}
    """What people call a setting, where the shop says so."""
    marked: dict[str, Literal["mm", "in"]] = {}
    """For a length of which there are but some values (a cutter): the unit they are marked in, where it is not the
    job's."""


class Plan(_Record):
    """The order with its proof.

    `cost_minutes` = `reset_minutes` + `walk_minutes` + `work_minutes`; `preference_minutes` (the price of
    preferences not met) is weighed on top. `bound_minutes` is what no order can cost less than, less
    `preference_minutes`; `status` is "optimal" only when it equals `cost_minutes`.
    """

    schema_: Literal["plan/1"] = Field(default="plan/1", alias="schema")
    job: str
    shop: str
    unit: Literal["mm", "in"]
    batch: Pieces
    glue_room: Amount = 1.0
    """mm left for glue at each end of a slip, as the shop says."""
    status: Literal["optimal", "feasible"]
    interrupted: bool = False
    cost_minutes: Amount
    bound_minutes: float
    reset_minutes: Amount
    walk_minutes: Amount
    work_minutes: Amount
    preference_minutes: Amount
    reset_count: Annotated[int, Field(ge=0)]
    planning_seconds: float = Field(default=0.0, exclude=True)
    """Left out of the file, so that the same job gives the same file."""
    engine: str
    steps: tuple[Step, ...]
    setups: tuple[Setup, ...]
    precedence: tuple[Edge, ...]
    choices: dict[str, str]
    mates: tuple[MatesGroup, ...] = ()
    struck_out: tuple[StruckOut, ...] = ()
    remarks: tuple[str, ...] = ()
    habits: tuple[Habit, ...] = ()
    reasons: tuple[BoundReason, ...] = ()
    rule_costs: tuple[RuleCost, ...] = ()
    rules_not_tried: tuple[str, ...] = ()
    """Rules whose price was asked for, but the pricing was stopped by hand before."""
    stations: tuple[StationRecord, ...] = ()
    parts: tuple[PartRecord, ...] = ()
    operations: tuple[Operation, ...] = ()
    meetings: tuple[Meeting, ...] = ()
    """Which mortise meets which. A plan without them gets no sections and no list of slips: they are not guessed."""
    done: tuple[Operation, ...] = ()
    """What was made before the plan begins, in that order: of a plan that goes on from another. What mates held is told
    as it stood; `precedence` and `mates` speak of these operations, too."""
    begins: dict[str, Reading] | None = None
    """Where settings ("station.setting") stand when the plan begins, where anybody knows; null: nothing is said."""
    going_on: Annotated[int, Field(ge=0)] = 0
    """How many of the remarks, the first, tell how this plan goes on from another."""
    steps_before: tuple[Annotated[int, Field(ge=0)], ...] = ()
    """How many steps were made of the first plan, and of each one that went on from it before this one."""

    def model_dump_json(self, **options: object) -> str:
        """The "plan/1" JSON text, with the published key names."""
        return super().model_dump_json(**{"by_alias": True, "indent": 2} | options)  # type: ignore[arg-type]
