"""The plan: what the order came to, complete enough to recount, to check and to print from this value alone.

`Plan.model_dump_json()` is the published "plan/1" file. Lengths are in the job's unit (`unit`), angles in
degrees, times in minutes; only `operations`, `done`, `parts`, `meetings` with their slips (the geometry for the cards)
and `glue_room` are in mm.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field
from pydantic.json_schema import SkipJsonSchema

from sequencer.operations import Edge, MatesGroup, Meeting, Operation, StruckOut
from sequencer.quantity import Measure

Reading = float | str
"""A value a setting stands at."""
PieceCount = Annotated[int, Field(ge=1)]
"""A number of pieces."""
Amount = Annotated[float, Field(ge=0)]
"""Minutes, or a size in mm."""
GOES_ON = "goes on from "
"""How the first remark of a plan begins that goes on from another."""


class _Record(BaseModel):
    # defer_build: a checker is made when its value is first made, which keeps the commands quick to start.
    # What stands below a field is its description in the schema.
    model_config = ConfigDict(
        frozen=True, extra="forbid", populate_by_name=True, defer_build=True, use_attribute_docstrings=True
    )


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
    quantity: PieceCount
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
    """What the plan would save if the rule did not exist; `proven` when that is exact, else it is at least so much."""

    rule: str
    saves_minutes: float
    """The price of a preference that is the rule itself is none of it."""
    proven: bool
    preference_minutes: float | None = 0.0
    """How much of it is no time, but the price of other preferences that would be met (less than 0: that would be met
    no more); null where that is not known."""


class PartRecord(_Record):
    """A part as sized, mm, for the whole batch: `quantity` pieces, `spare` of them beyond what is needed.

    `rough` is the size it is cut from, with the shop's allowances; the size itself where it is bought as sized.
    `again`: these are pieces of that part, made again; they go with the others through the operations `passes` names.
    `descent`: the parts whose pieces they replace, the one spoiled last first, `again` last. `begun`: pieces of it are
    there already when the plan begins.
    """

    id: str
    quantity: PieceCount
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
    measured_at: dict[str, str] = {}
    """For a setting that is good only at the reading of another one at which it was set (a stop on a gauge): that other
    one."""
    tolerances: dict[str, Amount] | None = None
    """For a setting with one: how far two readings may be apart that are one setting, lengths in the job's unit; null:
    nothing is said of any."""


class Plan(_Record):
    """The order with its proof.

    `cost_minutes` = `reset_minutes` + `walk_minutes` + `work_minutes`; `preference_minutes` (the price of
    preferences not met) is weighed on top. `bound_minutes` is what no order can cost less than, less
    `preference_minutes`; `status` is "optimal" only when it equals `cost_minutes`.
    """

    schema_: Literal["plan/1"] = Field(default="plan/1", alias="schema")
    job: str
    """The name of the job."""
    shop: str
    """The name of the shop."""
    unit: Literal["mm", "in"]
    """Of the readings of settings, in steps, setups and `begins`."""
    batch: PieceCount
    """How many of the whole thing are made."""
    glue_room: Amount = 1.0
    """mm left for glue at each end of a slip, as the shop says."""
    status: Literal["optimal", "feasible"]
    """Whether it is proven that no order costs less."""
    interrupted: bool = False
    """Whether the search was ended by hand before the plan was proven."""
    cost_minutes: Amount
    """All that the plan takes: resets, walks and work."""
    bound_minutes: float
    """What no order can cost less than, less `preference_minutes`, so that it compares with `cost_minutes`."""
    reset_minutes: Amount
    """The sum of the minutes of all resets."""
    walk_minutes: Amount
    """The sum of all walks from station to station."""
    work_minutes: Amount
    """The sum of the work of all steps, the same in any order."""
    preference_minutes: Amount
    """The sum of the prices of preferences not met; no time that passes."""
    reset_count: Annotated[int, Field(ge=0)]
    """How many resets there are."""
    planning_seconds: SkipJsonSchema[float] = Field(default=0.0, exclude=True)
    """Left out of the file, so that the same job gives the same file; and so of its schema."""
    engine: str
    """What found the order."""
    steps: tuple[Step, ...]
    """All operations in their order."""
    setups: tuple[Setup, ...]
    """The cards: runs of steps without a reset between them."""
    precedence: tuple[Edge, ...]
    """Which operation comes before which, and why."""
    choices: dict[str, str]
    """For each choice the option that is made."""
    options: dict[str, dict[str, tuple[str, ...]]] = {}
    """For each choice the operations of each of its options; empty: nothing is said of them."""
    mates: tuple[MatesGroup, ...] = ()
    """What is made without a move of the settings held, by the operations that are made, now or before; where one alone
    is left of a group, it counts for the pieces of it that are made again. Files may name those of other options, too,
    which bind nothing."""
    struck_out: tuple[StruckOut, ...] = ()
    """Ways of making that the shop's limits do not allow."""
    remarks: tuple[str, ...] = ()
    """What the maker should know besides."""
    habits: tuple[Habit, ...] = ()
    """What the usual habits would cost."""
    reasons: tuple[BoundReason, ...] = ()
    """Why parts of the cost cannot be saved."""
    rule_costs: tuple[RuleCost, ...] = ()
    """What rules cost to keep, where that was asked for."""
    rules_not_tried: tuple[str, ...] = ()
    """Rules whose price was asked for, but the pricing was stopped by hand before."""
    stations: tuple[StationRecord, ...] = ()
    """The shop's stations with their settings; empty: nothing is said of them."""
    parts: tuple[PartRecord, ...] = ()
    """The cut list."""
    operations: tuple[Operation, ...] = ()
    """What each step is: its surfaces, settings asked for, cuts (mm, in the board's own frame) and notes."""
    meetings: tuple[Meeting, ...] = ()
    """Which mortise meets which. A plan without them gets no sections and no list of slips: they are not guessed."""
    done: tuple[Operation, ...] = ()
    """What was made before the plan begins, in that order: of a plan that goes on from another. What mates held is told
    as it stood; `precedence` and `mates` speak of these operations, too."""
    begins: dict[str, Reading] | None = None
    """Where settings ("station.setting") stand when the plan begins, where anybody knows; null: nothing is said."""
    begins_at: dict[str, Reading] | None = None
    """Of those of `begins` that are measured at another setting: the reading of that one they were set at, where it is
    known; null: nothing is said."""
    going_on: Annotated[int, Field(ge=0)] = 0
    """How many of the remarks, the first, tell how this plan goes on from another."""
    steps_before: tuple[Annotated[int, Field(ge=0)], ...] = ()
    """How many steps were made of the first plan, and of each one that went on from it before this one."""

    @property
    def told_going_on(self) -> bool:
        """Whether the first remark is that it goes on from another plan."""
        return self.remarks[:1] != () and self.remarks[0].startswith(GOES_ON)

    @property
    def made_before(self) -> tuple[int, ...]:
        """How many steps were made of each plan before; of a file that does not say, of all of them together."""
        begun = bool(self.done or self.going_on or self.told_going_on)
        return self.steps_before or ((len(self.done),) if begun else ())

    def model_dump_json(self, **options: object) -> str:
        """The "plan/1" JSON text, with the published key names."""
        return super().model_dump_json(**{"by_alias": True, "indent": 2} | options)  # type: ignore[arg-type]
