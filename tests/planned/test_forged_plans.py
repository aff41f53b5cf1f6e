"""The independent checker by its words: one forgery for each thing it demands, everything else in it consistent.

Plan and forgeries are written by hand, step by step; sums follow from the steps wherever the forgery does not lie about
the sum itself. So a demand that is forgotten lets its forgery through.
"""

from __future__ import annotations

import re
from typing import Any

import pytest

from sequencer.operations import Edge
from sequencer.pipeline import Prepared, prepare
from sequencer.planfile import Habit, Plan, Reading, Reset, Setup, Step
from sequencer.planned.recount import RecountError, recount
from tests.bench.begun_job import loaded

SHOP = """
[shop]
name = "Invented bench"
unit = "mm"
walk = 1
[[station]]
id = "saw"
[[station.setting]]
id = "tilt"
start = 0
reset = 2
keeps = false
[[station.setting]]
id = "fence"
reset = 1
tolerance = 0.1
[[station.setting]]
id = "gauge"
start = 0
reset = 1
[[station.setting]]
id = "stop"
start = 300
reset = 1
measured_at = "gauge"
[[station]]
id = "bench"
"""
JOB = """
[job]
name = "j"
unit = "mm"
shop = "shop.toml"
[[operation]]
id = "bevel"
station = "saw"
minutes_each = 1
settings = { tilt = 10, fence = 100 }
[[operation]]
id = "ease"
station = "saw"
minutes_each = 1
settings = { tilt = { min = 10, max = 12 }, fence = 100 }
[[operation]]
id = "brush"
station = "saw"
minutes_each = 1
[[operation]]
id = "rip"
station = "saw"
minutes_each = 1
settings = { tilt = { min = 19, max = 21 }, fence = 103 }
[[operation]]
id = "mark"
station = "bench"
minutes_each = 1
[[operation]]
id = "wipe"
station = "bench"
minutes_each = 1
after = ["mark"]
[[mates]]
operations = ["bevel", "ease", "brush"]
hold = ["saw.tilt"]
"""
RATHER = Edge(
    before="rip", after="bevel", rule="invented", why="rather so", strength="prefer", price_minutes=0.5
)
"""A preference that the plan does not meet."""


def moved(setting: str, before: Reading | None, to: Reading, minutes: float) -> Reset:
    """A reset."""
    return Reset(setting=setting, from_=before, to=to, minutes=minutes)


def step(
    operation: str,
    *resets: Reset,
    station: str = "saw",
    walk: float = 0,
    setup: int = 1,
    **settings: Reading,
) -> Step:
    """A step of one minute's work."""
    return Step(
        operation=operation,
        station=station,
        setup=setup,
        quantity=1,
        walk_minutes=walk,
        work_minutes=1,
        settings=settings,
        resets=resets,
    )


def plan(*steps: Step, **claims: Any) -> Plan:
    """The plan of these steps, its sums theirs but for what it claims."""
    sums = {
        "reset_minutes": sum(reset.minutes for each in steps for reset in each.resets),
        "walk_minutes": sum(each.walk_minutes for each in steps),
        "work_minutes": 6,
        "preference_minutes": 0.5,  # rip comes after bevel in all of them
        "reset_count": sum(len(each.resets) for each in steps),
    } | claims
    cost = sums["reset_minutes"] + sums["walk_minutes"] + sums["work_minutes"]
    sums = {"cost_minutes": cost, "bound_minutes": cost, "status": "optimal"} | sums
    told = {"setups": CARDS, "habits": HABITS, "begins": BEGINS, "begins_at": BEGINS_AT}
    return Plan(
        job="j",
        shop="s",
        unit="mm",
        batch=1,
        engine="by hand",
        steps=steps,
        precedence=(),
        choices={},
        **told | sums,
    )


BEVEL = step("bevel", moved("tilt", 0, 10, 2), moved("fence", None, 100, 1), tilt=10, fence=100)
EASE = step("ease", tilt=10, fence=100)
BRUSH = step("brush")
RIP = step("rip", moved("tilt", 10, 19, 2), moved("fence", 100, 103, 1), setup=2, tilt=19, fence=103)
MARK = step("mark", station="bench", walk=1, setup=3)
WIPE = step("wipe", station="bench", setup=3)
SAWN = (BEVEL, EASE, BRUSH, RIP)
DONE = (MARK, WIPE)
BEVELS = Setup(
    number=1,
    station="saw",
    walk_minutes=0,
    settings={"tilt": 10, "fence": 100},
    resets=BEVEL.resets,
    operations=("bevel", "ease", "brush"),
)
RIPS = Setup(
    number=2,
    station="saw",
    walk_minutes=0,
    settings={"tilt": 19, "fence": 103},
    resets=RIP.resets,
    operations=("rip",),
)
ENDS = Setup(number=3, station="bench", walk_minutes=1, settings={}, resets=(), operations=("mark", "wipe"))
CARDS = (BEVELS, RIPS, ENDS)
HABITS = tuple(
    Habit(name=name, cost_minutes=13, reset_count=4)
    for name in ("as listed", "part by part", "machine by machine")
)
"""Without parts, and listed machine by machine, each is the order of the plan."""
BEGINS = {"saw.tilt": 0, "saw.gauge": 0, "saw.stop": 300}
BEGINS_AT = {"saw.stop": 0}


def bevelled_at(fence: float) -> tuple[Step, ...]:
    """The steps with the fence at this reading for bevel and ease."""
    return (
        step("bevel", moved("tilt", 0, 10, 2), moved("fence", None, fence, 1), tilt=10, fence=fence),
        step("ease", tilt=10, fence=fence),
        BRUSH,
        step("rip", moved("tilt", 10, 19, 2), moved("fence", fence, 103, 1), tilt=19, fence=103),
        *DONE,
    )


def ripped(*resets: Reset, **settings: Reading) -> tuple[Step, ...]:
    """The steps with another rip."""
    return (BEVEL, EASE, BRUSH, step("rip", *resets, **settings), *DONE)


def with_card(which: int, /, **update: Any) -> Plan:
    """The plan with one of its cards changed."""
    cards = [card.model_copy(update=update if card.number == which else {}) for card in CARDS]
    return plan(*SAWN, *DONE, setups=tuple(cards))


def with_habit(**update: Any) -> Plan:
    """The plan with what it tells of the second habit changed."""
    return plan(*SAWN, *DONE, habits=(HABITS[0], HABITS[1].model_copy(update=update), HABITS[2]))


TO_19, TO_103 = RIP.resets
FORGED: dict[str, tuple[Plan, str]] = {
    "a step left out": (plan(*SAWN, MARK), "not each operation exactly once"),
    "a step made twice": (plan(*SAWN, *DONE, WIPE), "not each operation exactly once"),
    "a must-edge broken": (
        plan(*SAWN, step("wipe", station="bench", walk=1), step("mark", station="bench")),
        "mark must precede wipe",
    ),
    "at another station": (
        plan(*SAWN, step("mark"), step("wipe", station="bench", walk=1)),
        "step 5 (mark): wrong station",
    ),
    "a walk forgotten": (
        plan(*SAWN, step("mark", station="bench"), WIPE),
        "step 5 (mark): walk: the plan says 0.0, recounted 1.0",
    ),
    "a walk too many": (
        plan(*SAWN, MARK, step("wipe", station="bench", walk=1)),
        "step 6 (wipe): walk: the plan says 1.0, recounted 0.0",
    ),
    "more pieces": (
        plan(*SAWN, MARK, WIPE.model_copy(update={"quantity": 2})),
        "step 6 (wipe): 2 pieces, wanted 1",
    ),
    "less work at a step": (
        plan(*SAWN, MARK, WIPE.model_copy(update={"work_minutes": 0.5})),
        "step 6 (wipe): work: the plan says 0.5, recounted 1.0",
    ),
    "another step between mates": (
        plan(
            BEVEL,
            RIP,
            step("ease", moved("tilt", 19, 10, 2), moved("fence", 103, 100, 1), tilt=10, fence=100),
            BRUSH,
            *DONE,
        ),
        "step 2 (rip): saw.tilt is moved between mates: bevel, ease and brush",
    ),
    "a move before the last of mates": (
        plan(
            BEVEL,
            BRUSH,
            step("ease", moved("tilt", 10, 12, 2), tilt=12, fence=100),
            step("rip", moved("tilt", 12, 19, 2), TO_103, tilt=19, fence=103),
            *DONE,
        ),
        "step 3 (ease): saw.tilt is moved between mates: bevel, brush and ease",
    ),
    "a setting left alone between mates, and lost": (
        plan(
            BEVEL,
            EASE,
            MARK,
            step("brush", walk=1),
            step("rip", moved("tilt", None, 19, 2), TO_103, tilt=19, fence=103),
            step("wipe", station="bench", walk=1),
        ),
        "step 3 (mark): saw.tilt is lost between mates: bevel, ease and brush",
    ),
    "a reset that nothing asks for": (
        plan(step("brush", moved("fence", None, 50, 1)), BEVEL, EASE, RIP, *DONE),
        "step 1 (brush): fence reset without need",
    ),
    "a reset to where it is": (
        plan(BEVEL, step("ease", moved("fence", 100, 100, 0), tilt=10, fence=100), BRUSH, RIP, *DONE),
        "step 2 (ease): fence reset to where it is",
    ),
    "within tolerance, but not on the mark": (
        plan(*bevelled_at(100.05)),
        "step 1 (bevel): reset beside the mark",
    ),
    "below the value": (plan(*bevelled_at(90)), "step 1 (bevel): reset beside the mark"),
    "above the value": (plan(*bevelled_at(110)), "step 1 (bevel): reset beside the mark"),
    "below the range": (
        plan(*ripped(moved("tilt", 10, 15, 2), TO_103, tilt=15, fence=103)),
        "step 4 (rip): reset beside the mark",
    ),
    "above the range": (
        plan(*ripped(moved("tilt", 10, 25, 2), TO_103, tilt=25, fence=103)),
        "step 4 (rip): reset beside the mark",
    ),
    "a reset forgotten": (
        plan(*ripped(TO_19, tilt=19, fence=100)),
        "step 4 (rip): fence stands at 100.0, wanted 103",
    ),
    "a reset from elsewhere": (
        plan(*ripped(moved("tilt", 0, 19, 2), TO_103, tilt=19, fence=103)),
        "step 4 (rip): tilt moved from 0.0, stood at 10.0",
    ),
    "a reset from nowhere": (
        plan(*ripped(moved("tilt", None, 19, 2), TO_103, tilt=19, fence=103)),
        "step 4 (rip): tilt moved from None, stood at 10.0",
    ),
    "a reset too cheap": (
        plan(*ripped(moved("tilt", 10, 19, 1.5), TO_103, tilt=19, fence=103)),
        "step 4 (rip): minutes for tilt: the plan says 1.5, recounted 2.0",
    ),
    "a setting not named": (plan(*ripped(TO_19, TO_103, tilt=19)), "step 4 (rip): settings named differ"),
    "another reading shown": (
        plan(*ripped(TO_19, TO_103, tilt=19, fence=104)),
        "step 4 (rip): fence shown as 104.0, stands at 103.0",
    ),
    "a preference met in words": (
        plan(*SAWN, *DONE, preference_minutes=0),
        "the price of preferences: the plan says 0.0, recounted 0.5",
    ),
    "resets summed up short": (
        plan(*SAWN, *DONE, reset_minutes=5),
        "reset minutes: the plan says 5.0, recounted 6.0",
    ),
    "walks summed up short": (
        plan(*SAWN, *DONE, walk_minutes=0),
        "walk minutes: the plan says 0.0, recounted 1.0",
    ),
    "work summed up short": (
        plan(*SAWN, *DONE, work_minutes=5),
        "work minutes: the plan says 5.0, recounted 6.0",
    ),
    "a total too low": (
        plan(*SAWN, *DONE, cost_minutes=12, bound_minutes=12),
        "cost: the plan says 12.0, recounted 13.0",
    ),
    "resets miscounted": (plan(*SAWN, *DONE, reset_count=3), "reset count"),
    "a bound above the cost": (plan(*SAWN, *DONE, bound_minutes=14), "bound above the cost"),
    "proven by a bound below the cost": (
        plan(*SAWN, *DONE, bound_minutes=12),
        "status does not match the bound",
    ),
    "proven, and not called so": (
        plan(*SAWN, *DONE, status="feasible"),
        "status does not match the bound",
    ),
    "a card left out": (plan(*SAWN, *DONE, setups=CARDS[:2]), "2 setups, counted 3"),
    "no cards at all": (plan(*SAWN, *DONE, setups=()), "0 setups, counted 3"),
    "two cards made one": (
        plan(
            *SAWN,
            *DONE,
            setups=(BEVELS.model_copy(update={"operations": ("bevel", "ease", "brush", "rip")}), ENDS),
        ),
        "2 setups, counted 3",
    ),
    "a card at another station": (with_card(3, station="saw"), "setup 3: wrong station"),
    "a card of another number": (with_card(2, number=3), "setup 2: numbered otherwise"),
    "a step on another card": (
        plan(*SAWN, MARK, WIPE.model_copy(update={"setup": 2})),
        "setup 3: numbered otherwise",
    ),
    "a step missing on its card": (
        with_card(1, operations=("bevel", "ease")),
        "setup 1: not its steps in their order",
    ),
    "steps turned round on a card": (
        with_card(3, operations=("wipe", "mark")),
        "setup 3: not its steps in their order",
    ),
    "a reset missing on a card": (with_card(2, resets=(TO_19,)), "setup 2: not the resets of its first step"),
    "a reset to elsewhere on a card": (
        with_card(2, resets=(TO_19, moved("fence", 100, 104, 1))),
        "setup 2: not the resets of its first step",
    ),
    "a walk missing on a card": (
        with_card(3, walk_minutes=0.0),
        "setup 3: walk: the plan says 0.0, recounted 1.0",
    ),
    "another reading on a card": (
        with_card(1, settings={"tilt": 10, "fence": 101}),
        "setup 1: fence shown as 101.0, stands at 100.0",
    ),
    "a reading within tolerance on a card, but not the one set": (
        with_card(1, settings={"tilt": 10, "fence": 100.05}),
        "setup 1: fence shown as 100.05, stands at 100.0",
    ),
    "a setting missing on a card": (with_card(2, settings={"fence": 103}), "setup 2: tilt is missing"),
    "a setting on a card that no work has named": (
        with_card(2, settings={"tilt": 19, "fence": 103, "gauge": 0}),
        "setup 2: gauge is not known to stand anywhere",
    ),
    "a habit made dearer": (
        with_habit(cost_minutes=14.0),
        'habit "part by part": the plan says 14.0, recounted 13.0',
    ),
    "a habit made cheaper": (
        with_habit(cost_minutes=12.0),
        'habit "part by part": the plan says 12.0, recounted 13.0',
    ),
    "a habit with other resets": (with_habit(reset_count=5), 'habit "part by part": 5 resets, recounted 4'),
    "a habit nobody has": (
        with_habit(name="by hand"),
        "habits as listed, by hand and machine by machine: not each of these once",
    ),
    "a habit told twice": (
        with_habit(name="as listed"),
        "habits as listed, as listed and machine by machine: not each of these once",
    ),
    "a start where it does not stand": (
        plan(*SAWN, *DONE, begins=BEGINS | {"saw.stop": 310}),
        "begins: saw.stop at 310.0, stands at 300.0",
    ),
    "a start that nobody knows": (
        plan(*SAWN, *DONE, begins=BEGINS | {"saw.fence": 100}),
        "begins: nobody knows where saw.fence stands",
    ),
    "a start kept back": (
        plan(*SAWN, *DONE, begins={"saw.tilt": 0, "saw.gauge": 0}),
        "begins: saw.stop is missing",
    ),
    "a start measured elsewhere": (
        plan(*SAWN, *DONE, begins_at={"saw.stop": 45}),
        "begins_at: saw.stop at 45.0, stands at 0.0",
    ),
    "a start measured nobody knows where": (
        plan(*SAWN, *DONE, begins_at={}),
        "begins_at: saw.stop is missing",
    ),
    "a start measured that is measured nowhere": (
        plan(*SAWN, *DONE, begins_at=BEGINS_AT | {"saw.tilt": 0}),
        "begins_at: nobody knows where saw.tilt stands",
    ),
}


@pytest.fixture(scope="module")
def prepared(tmp_path_factory: pytest.TempPathFactory) -> Prepared:
    """Worklist, edges and shop of the job above."""
    return prepare(loaded(tmp_path_factory.mktemp("forged"), JOB, SHOP))


def check(found: Plan, prepared: Prepared) -> None:
    """Recount a plan of the job, with the preference."""
    recount(found, prepared.worklist, (*prepared.edges, RATHER), prepared.job.shop)


def test_the_plan_by_hand_holds(prepared: Prepared) -> None:
    """Resets 2 + 1 + 2 + 1, one walk and six minutes of work: 13, and half a minute for the preference."""
    found = plan(*SAWN, *DONE)
    assert (found.cost_minutes, found.preference_minutes) == (13, 0.5)
    check(found, prepared)


def test_what_a_plan_says_nothing_of_is_no_forgery(prepared: Prepared) -> None:
    """Files of earlier versions tell neither starts nor habits."""
    check(plan(*SAWN, *DONE, habits=(), begins=None, begins_at=None), prepared)


def test_a_card_tells_what_was_lost_no_more(prepared: Prepared) -> None:
    """Back at the saw the fence stands as the work left it, the tilt, which a visit loses, is told no more: wiping and
    brushing are a visit each, by walks of one minute.
    """
    listed = {op.id: op for op in prepared.worklist.operations}
    few = prepared.worklist.model_copy(
        update={"operations": tuple(listed[id] for id in ("bevel", "wipe", "brush")), "mates": ()}
    )
    steps = (
        BEVEL,
        step("wipe", station="bench", walk=1, setup=2),
        step("brush", walk=1, setup=3),
    )
    cards = (
        BEVELS.model_copy(update={"operations": ("bevel",)}),
        ENDS.model_copy(update={"number": 2, "operations": ("wipe",)}),
        Setup(
            number=3, station="saw", walk_minutes=1, settings={"fence": 100}, resets=(), operations=("brush",)
        ),
    )
    sums = {"work_minutes": 3, "preference_minutes": 0, "habits": ()}
    recount(plan(*steps, setups=cards, **sums), few, prepared.edges, prepared.job.shop)
    forged = (*cards[:2], cards[2].model_copy(update={"settings": {"fence": 100, "tilt": 10}}))
    with pytest.raises(RecountError, match=r"^setup 3: tilt is not known to stand anywhere"):
        recount(plan(*steps, setups=forged, **sums), few, prepared.edges, prepared.job.shop)


@pytest.mark.parametrize(("found", "words"), FORGED.values(), ids=FORGED)
def test_a_forgery_is_refused_for_what_is_wrong_with_it(found: Plan, words: str, prepared: Prepared) -> None:
    """The message says at which step, and what does not hold."""
    with pytest.raises(RecountError, match=f"^{re.escape(words)}"):
        check(found, prepared)
