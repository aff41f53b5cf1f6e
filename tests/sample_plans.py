"""Plans made by hand from the contract's values, for tests of what is printed. Shop and jobs are invented.

`tea_boxes("mm")` and `tea_boxes("in")`: mitred boxes, square first, with grooves, a splayed part mortised in
its bevel, a part with an awkward name and one with a very long name, mates, preferences, choices, ways struck
out, habits. `two_shelves()`: four steps without parts or notes, as hand-written operations give. `many(n)`: n
rips in n setups. Order and resets are plausible and add up; nothing here is claimed to be the best order.
"""

from __future__ import annotations

from math import cos, radians, sin, sqrt

from sequencer.operations import (
    Between,
    Caution,
    Check,
    Cut,
    Edge,
    MatesGroup,
    Meeting,
    Mortises,
    Notes,
    OneOf,
    Operation,
    PencilLine,
    PlaneCut,
    Slip,
    Slot,
    StruckOut,
    Trench,
    Wanted,
)
from sequencer.planfile import (
    BoundReason,
    Habit,
    PartRecord,
    Plan,
    Reading,
    Reset,
    RuleCost,
    Setup,
    StationRecord,
    Step,
)
from sequencer.quantity import MM, Unit, format_length, in_unit

AWKWARD = "[/x] <b>&"
LONG = "outer left-hand divider with the curly grain kept for the lid of the presentation box"

STATIONS = (
    StationRecord(
        id="saw",
        name="table saw",
        measures={
            "blade": "name",
            "tilt": "angle",
            "gauge": "angle",
            "fence": "length",
            "stop": "length",
            "height": "length",
        },
    ),
    StationRecord(
        id="mortiser",
        name="plunge mortiser",
        measures={
            "cutter": "length",
            "slot": "length",
            "fence_angle": "angle",
            "fence_height": "length",
            "depth": "length",
        },
    ),
    StationRecord(
        id="router", name="router table", measures={"bit": "name", "fence": "length", "height": "length"}
    ),
    StationRecord(id="bench", name="bench", measures={"clamping": "name"}),
)
MEASURES = {(station.id, name): kind for station in STATIONS for name, kind in station.measures.items()}
MINUTES = {
    "blade": 5.0,
    "tilt": 4.0,
    "gauge": 2.0,
    "fence": 1.5,
    "stop": 1.0,
    "height": 0.5,
    "cutter": 3.0,
    "slot": 0.5,
    "fence_angle": 6.0,
    "fence_height": 2.0,
    "depth": 1.0,
    "bit": 4.0,
    "clamping": 1.0,
}
KEEPS_NOT = {("bench", "clamping")}
WALK = 1.0

GUARD = Caution(
    says="Guard and riving knife in place; hands clear of the blade; push stick for the end of the cut.",
    source="29 CFR 1910.213(c), (s)(9)",
)
CLAMP = Caution(
    says="Clamp the work before the plunge; never start a hand-held cutter on end grain without a fence.",
    source="OSHA Woodworking eTool, hand-held routers",
)
COMB = Caution(
    says="Use featherboards where the guard has to come off; put it back at once.",
    source="29 CFR 1910.213(a)(15)",
)
OFFCUT = Caution(
    says="Leave the offcut of the bevel free to fall away: never trapped under the tilted blade.",
    source="common practice, no source; the saw's manual comes first",
)
DUST = Caution(
    says="Extraction on; wood dust is carcinogenic to humans (group 1).", source="IARC Monographs vol. 100C"
)


def tea_boxes(unit: Unit = "mm") -> Plan:
    """Four tea boxes with mitred corners, in mm or in inches: 23 steps."""
    thick, wide, long, short, wall, slip = (
        (18.0, 100.0, 320.0, 200.0, 3.0, 6.0) if unit == "mm" else (19.05, 101.6, 317.5, 203.2, 3.175, 6.35)
    )
    deep = thick - wall
    middle = thick / 2
    slots = (0.3 * wide, 0.7 * wide)
    slot, slack = 5 * slip, 5.5 * slip
    parts = (
        _part("front", 8, long, wide, thick),
        _part("side", 8, short, wide, thick),
        _part("bottom", 4, long - 1.25 * thick, short - 1.25 * thick, thick / 3),
        _part(LONG, 4, short, wide, thick),
        _part(AWKWARD, 12, short, wide, thick),
    )

    def size(mm: float) -> str:
        return format_length(mm, unit)

    def note(what: str, fence: str, table: str, way: str, *cautions: Caution, **more: object) -> Notes:
        return Notes(what=what, fence=fence, table=table, way_round=way, cautions=cautions, **more)  # type: ignore[arg-type]

    def lines(part: str, what: str) -> tuple[PencilLine, ...]:
        return (PencilLine(part=part, start="edge", across="face", at=slots, what=what),)

    def square_check(what: str) -> Check:
        return Check(
            measure=f"{what} against a try square, both ends",
            expect="no light",
            tolerance="0.1 mm over the width",
        )

    rip = {
        "blade": OneOf(any=("rip", "combination")),
        "tilt": 0.0,
        "height": Between(min=thick + 3, max=thick + 10),
    }
    cross = {
        "blade": "combination",
        "tilt": 0.0,
        "gauge": 0.0,
        "height": Between(min=thick + 3, max=thick + 10),
    }
    saw = {"blade": "combination", "tilt": 0.0, "height": thick + 6}
    mortise = {"cutter": slip, "fence_angle": 90.0, "fence_height": middle, "depth": deep}
    groove = {"bit": "straight-6", "fence": 4.0, "height": thick / 3}
    bevel = {**cross, "tilt": 45.0, "height": Between(min=1.5 * thick, max=1.5 * thick + 8)}
    tilt = 22.5

    rows: list[tuple[Operation, dict[str, Reading]]] = []

    def row(
        name: str,
        station: str,
        kind: str,
        parts: tuple[str, ...],
        count: int,
        settings: dict[str, Wanted],
        notes: Notes,
        standing: dict[str, Reading] | None = None,
        **more: object,
    ) -> None:
        plain = {key: want for key, want in settings.items() if isinstance(want, float | str)}
        operation = Operation(
            id=name,
            station=station,
            kind=kind,
            parts=parts,
            quantity=count,
            settings=settings,
            notes=notes,
            minutes_each=0.5,
            **more,  # type: ignore[arg-type]
        )
        rows.append((operation, {key: (standing or {}).get(key, plain.get(key, 0.0)) for key in settings}))

    for part, count in (("front", 8), ("side", 8), (LONG, 4)):
        row(
            f"rip-{part}",
            "saw",
            "rip",
            (part,),
            count,
            {**rip, "fence": wide},
            note(
                f"rip {part} to width",
                "edge",
                "back",
                "reference face up, reference edge to the fence",
                GUARD,
                check=Check(measure="width at both ends", expect=size(wide), tolerance="0.1 mm"),
                how_to_set={
                    "fence": "scale; prove with the first piece",
                    "tilt": "stop at 0°",
                    "blade": "a combination blade serves the crosscuts too",
                },
            ),
            saw | {"fence": wide},
            makes=(f"{part}/far edge",),
            registers_on=(f"{part}/edge",),
            cuts=_cuts(PlaneCut(part=part, surface="far edge", point=(0, wide, 0), normal=(0, 1, 0))),
        )
    row(
        "rip-bottom",
        "saw",
        "rip",
        ("bottom",),
        4,
        {**rip, "fence": parts[2].width},
        note(
            "rip bottom to width",
            "edge",
            "back",
            "better face up",
            GUARD,
            check=Check(measure="width at both ends", expect=size(parts[2].width), tolerance="0.2 mm"),
        ),
        saw | {"fence": parts[2].width},
    )
    for part, count, length in (
        ("front", 8, long),
        ("side", 8, short),
        (LONG, 4, short),
        (AWKWARD, 12, short),
    ):
        row(
            f"crosscut-{part}",
            "saw",
            "crosscut",
            (part,),
            count,
            {**cross, "stop": length},
            note(
                f"crosscut {part} to length",
                "edge",
                "back",
                "reference edge to the gauge, left end to the stop",
                GUARD,
                check=square_check("the sawn end"),
                how_to_set={
                    "stop": "stop block on the gauge's fence, clear of the blade",
                    "gauge": "stop at 0°",
                },
            ),
            saw | {"gauge": 0.0, "stop": length},
            makes=(f"{part}/right end",),
            cuts=_cuts(PlaneCut(part=part, surface="right end", point=(length, 0, 0), normal=(1, 0, 0))),
        )
    row(
        "cut-block-1",
        "saw",
        "block",
        (),
        1,
        {"blade": "combination", "tilt": tilt, "height": Between(min=30, max=45)},
        note(
            "saw setting block no. 1 while the saw is set to this tilt",
            "",
            "",
            "any straight offcut, 60 mm wide",
            OFFCUT,
            how_to_set={"tilt": "no stop: digital gauge on the blade, zeroed on the table"},
        ),
        saw | {"tilt": tilt, "height": 32.0},
    )
    lean = radians(tilt)
    row(
        f"bevel-{AWKWARD}",
        "saw",
        "bevel",
        (AWKWARD,),
        12,
        {
            "blade": "combination",
            "tilt": tilt,
            "gauge": 0.0,
            "stop": short,
            "height": Between(min=25, max=35),
        },
        note(
            f"bevel both ends of {AWKWARD}",
            "edge",
            "face",
            "outside up, left end first, then end for end",
            GUARD,
            OFFCUT,
            check=Check(
                measure="the bevel with setting block no. 1", expect="22.5°, no light", tolerance="0.05°"
            ),
        ),
        saw | {"tilt": tilt, "height": 32.0, "gauge": 0.0, "stop": short},
        destroys=(f"{AWKWARD}/left end", f"{AWKWARD}/right end"),
        cuts=_cuts(
            PlaneCut(part=AWKWARD, surface="left bevel", point=(0, 0, 0), normal=(-cos(lean), 0, sin(lean))),
            PlaneCut(
                part=AWKWARD, surface="right bevel", point=(short, 0, 0), normal=(cos(lean), 0, sin(lean))
            ),
        ),
    )
    row(
        "mark",
        "bench",
        "mark",
        ("front", "side"),
        16,
        {"clamping": "vice"},
        note("number the mates and carry the lines across", "", "", "mates side by side, inside faces up"),
    )
    row(
        "plunge-face-front",
        "mortiser",
        "plunge",
        ("front",),
        8,
        {**mortise, "slot": slot},
        note(
            "plunge front near both ends, into the face",
            "left end, then right end",
            "face",
            "face up, end against the fence; base on the face",
            CLAMP,
            DUST,
            lines=lines("front", "centres of the mortises, left end L1 L2, right end R1 R2"),
            check=Check(
                measure="plunge depth, and wall left at the bottom",
                expect=f"{size(deep)} deep, wall {size(wall)}",
                tolerance="0.3 mm",
            ),
            how_to_set={
                "fence_height": "scale reads true at 90°",
                "fence_angle": "stop at 90°",
                "depth": "depth stop; first plunge in scrap of the same thickness",
                "cutter": f"{size(slip)} cutter",
                "slot": "tight: this half has no slack",
            },
        ),
        cuts=tuple(
            Slot(
                part="front",
                joint="corner",
                mouth=(x, y, thick),
                axis=(0, 0, -1),
                along=(0, 1, 0),
                length=slot,
                width=slip,
                depth=deep,
            )
            for x in (middle, long - middle)
            for y in slots
        ),
        registers_on=("front/left end", "front/right end", "front/face"),
        surface="front/face",
        joint="corner",
    )
    row(
        "plunge-end-side",
        "mortiser",
        "plunge",
        ("side",),
        8,
        {**mortise, "slot": slack},
        note(
            "plunge side in both ends",
            "face",
            "left end, then right end",
            "upright in the vice, face to the fence; base on the end",
            CLAMP,
            DUST,
            lines=lines("side", "centres of the mortises, carried across from front"),
            check=Check(
                measure="a slip in the first mortise",
                expect="slides home by hand, moves a little sideways",
                tolerance="1.5 mm each way",
            ),
            how_to_set={"slot": "one step longer: this half has the slack"},
        ),
        cuts=tuple(
            Slot(
                part="side",
                joint="corner",
                mouth=(x, y, middle),
                axis=(a, 0, 0),
                along=(0, 1, 0),
                length=slack,
                width=slip,
                depth=deep,
            )
            for x, a in ((0, 1), (short, -1))
            for y in slots
        ),
        registers_on=("side/face", "side/left end"),
        surface="side/left end",
        joint="corner",
    )
    row(
        f"plunge-bevel-{AWKWARD}",
        "mortiser",
        "plunge",
        (AWKWARD,),
        12,
        {**mortise, "slot": slack, "fence_angle": 67.5, "fence_height": 11.3, "depth": 9.6},
        note(
            f"plunge {AWKWARD} square into both bevels",
            "back",
            "left bevel, then right bevel",
            "outside to the fence; base on the bevel",
            CLAMP,
            DUST,
            lines=lines(AWKWARD, "centres of the mortises"),
            check=Check(
                measure="wall to the outside, first plunge in scrap",
                expect=f"{size(5.1)} or more",
                tolerance="0.3 mm",
            ),
            how_to_set={
                "fence_angle": "no stop: setting block no. 1 between base and fence, no light",
                "fence_height": f"scale at {size(9.8)}: true only at 90°, corrected for the pivot",
                "depth": "first test plunge 1 mm shallow, toward the inside",
            },
        ),
    )
    for part, count, length in (("front", 8, long), ("side", 8, short)):
        row(
            f"groove-{part}",
            "router",
            "groove",
            (part,),
            count,
            groove,
            note(
                f"groove {part} for the bottom",
                "edge",
                "face",
                "reference edge to the fence, face down, right to left",
                COMB,
                check=Check(
                    measure="groove with an offcut of the bottom",
                    expect="slides in by hand",
                    tolerance="0.2 mm",
                ),
                how_to_set={"bit": "straight 6", "height": "test cut in scrap"},
            ),
            cuts=_cuts(
                Trench(part=part, surface="groove", low=(0, 4, thick * 2 / 3), high=(length, 10, thick))
            ),
        )
    row(
        "rebate-bottom",
        "router",
        "rebate",
        ("bottom",),
        4,
        {"bit": "straight-6", "fence": 2.0, "height": Between(min=2, max=8)},
        note("rebate the bottom all round", "each edge in turn", "face", "end grain first", COMB),
        {"bit": "straight-6", "fence": 2.0, "height": thick / 3},
    )
    for part, count, length in (("front", 8, long), ("side", 8, short)):
        row(
            f"bevel-{part}",
            "saw",
            "bevel",
            (part,),
            count,
            {**bevel, "stop": length},
            note(
                f"mitre both ends of {part} at 45°",
                "edge",
                "back",
                "face up, left end first, then end for end",
                GUARD,
                OFFCUT,
                check=Check(
                    measure="two pieces held to a try square", expect="90°, no light", tolerance="0.05°"
                ),
                how_to_set={
                    "tilt": "stop at 45°; prove on scrap",
                    "stop": "outer corner just touched by the blade",
                },
            ),
            saw | {"tilt": 45.0, "gauge": 0.0, "stop": length, "height": 1.5 * thick + 4},
            destroys=(f"{part}/left end", f"{part}/right end"),
            cuts=_cuts(
                PlaneCut(part=part, surface="left mitre", point=(0, 0, 0), normal=(-sqrt(0.5), 0, sqrt(0.5))),
                PlaneCut(
                    part=part, surface="right mitre", point=(length, 0, 0), normal=(sqrt(0.5), 0, sqrt(0.5))
                ),
            ),
        )
    row(
        "sand-inside",
        "bench",
        "sand",
        ("front", "side"),
        16,
        {},
        note("sand the inside faces", "", "", "leave the mitres sharp", DUST),
    )
    row(
        "dry-fit",
        "bench",
        "dry-fit",
        ("front", "side", "bottom"),
        20,
        {"clamping": "band clamp"},
        note(
            "dry fit each box with its slips and bottom",
            "",
            "",
            "mates by number",
            check=Check(measure="diagonals", expect="equal", tolerance="0.5 mm"),
        ),
    )
    row(
        "glue-up",
        "bench",
        "glue",
        ("front", "side", "bottom"),
        20,
        {"clamping": "band clamp"},
        note(
            "glue up",
            "",
            "",
            "bottom dry in its groove; glue on the cheeks of the slips",
            check=Check(measure="diagonals, before the glue takes", expect="equal", tolerance="0.5 mm"),
        ),
    )

    edges = (
        *(
            _edge(
                f"rip-{part}",
                f"crosscut-{part}",
                "width-before-length",
                f"{part} is easier to hold to the gauge once it is ripped",
                strength="prefer",
                price_minutes=0.5,
            )
            for part in ("front", "side", LONG)
        ),
        _edge(
            "crosscut-front",
            "plunge-face-front",
            "surface.made",
            "the plunge registers on front's left end, which the crosscut makes",
        ),
        _edge(
            "crosscut-side",
            "plunge-end-side",
            "surface.made",
            "the plunge sits on side's left end, which the crosscut makes",
        ),
        _edge(
            "plunge-face-front",
            "bevel-front",
            "surface.destroyed",
            "the plunge registers on front's left end, which the mitre removes",
        ),
        _edge(
            "plunge-end-side",
            "bevel-side",
            "surface.destroyed",
            "the plunge sits on side's left end, which the mitre removes",
        ),
        _edge(
            f"crosscut-{AWKWARD}",
            f"bevel-{AWKWARD}",
            "surface.made",
            f"the bevel is measured from {AWKWARD}'s right end",
        ),
        _edge(
            "cut-block-1",
            f"plunge-bevel-{AWKWARD}",
            "setting-block",
            "the block is sawn while the saw stands at that tilt",
        ),
        _edge(f"bevel-{AWKWARD}", f"plunge-bevel-{AWKWARD}", "surface.made", "the plunge sits on the bevel"),
        _edge(
            "groove-front",
            "sand-inside",
            "sand-after-machining",
            "sanding rounds the faces that guide the cuts",
        ),
        _edge(
            "bevel-front",
            "sand-inside",
            "sand-after-machining",
            "sanding rounds the faces that guide the cuts",
        ),
        _edge(
            "bevel-side",
            "sand-inside",
            "sand-after-machining",
            "sanding rounds the faces that guide the cuts",
        ),
        _edge("sand-inside", "dry-fit", "sand-before-glue", "inside faces cannot be reached in a closed box"),
        _edge("rebate-bottom", "dry-fit", "asked", "asked for in the job"),
        _edge(
            "dry-fit",
            "glue-up",
            "dry-fit-before-glue",
            "a joint that does not close shows while it can still be mended",
        ),
        _edge(
            "groove-side",
            "rip-bottom",
            "fit-to-groove",
            "the bottom is cut to the groove it goes into",
            strength="prefer",
            price_minutes=1.5,
            kept=False,
        ),
    )
    return _plan(
        job="Four tea boxes",
        unit=unit,
        rows=rows,
        batch=4,
        bound=1.5,
        precedence=edges,
        preference_minutes=1.5,
        mates=(
            MatesGroup(
                operations=("plunge-face-front", "plunge-end-side"),
                hold=("mortiser.fence_height", "mortiser.fence_angle"),
                why="both halves of the corner must meet",
            ),
        ),
        # Each front's left end meets the right end of a side, its right end the left end of another.
        meetings=tuple(
            Meeting(
                joint="corner",
                times=8,
                slip=Slip(thickness=slip, width=slot, length=2 * (deep - middle) - 2.0),
                first=Mortises(operation="plunge-face-front", cuts=front),
                second=Mortises(operation="plunge-end-side", cuts=side),
            )
            for front, side in (((0, 1), (2, 3)), ((2, 3), (0, 1)))
        ),
        choices={"corner": "square_first"},
        struck_out=(
            StruckOut(
                joint="corner",
                way="bevel_first",
                why=f"the wall beyond the mortise would be {size(1.2)}, the shop allows {size(3)} or more",
            ),
        ),
        remarks=(
            "bevels of 22.5° and 45° are kept apart: they are two settings of the tilt",
            "figures for joints compare one with another; none is a strength to design by",
        ),
        parts=parts,
        rule_costs=(
            RuleCost(rule="sand-before-glue", saves_minutes=0.0, proven=True),
            RuleCost(rule="setting-block", saves_minutes=4.0, proven=True),
            RuleCost(rule="surface.destroyed", saves_minutes=9.0, proven=False),
        ),
        reasons=(
            BoundReason(
                settings=("saw.tilt",), minutes=8.0, why="0°, 22.5° and 45° are each needed: two moves"
            ),
            BoundReason(
                settings=("saw.stop", "saw.fence"),
                minutes=6.0,
                why="five pairs of values are needed one after another",
            ),
            BoundReason(
                settings=("mortiser.fence_angle", "mortiser.fence_height"),
                minutes=16.0,
                why="two angles are needed",
            ),
            BoundReason(
                settings=("walking",), minutes=4.0, why="the saw is needed before and after the mortiser"
            ),
        ),
    )


def two_shelves() -> Plan:
    """Hand-written operations: no parts, no notes, no stations recorded; proven."""
    rows = [
        (_bare("rip", "saw", 6, fence=240.0, tilt=0.0), {"fence": 240.0, "tilt": 0.0}),
        (_bare("crosscut", "saw", 6, tilt=0.0), {"tilt": 0.0}),
        (_bare("house", "router", 12, height=8.0, bit="straight-18"), {"height": 8.0, "bit": "straight-18"}),
        (_bare("trim", "saw", 6, fence=238.0, tilt=0.0), {"fence": 238.0, "tilt": 0.0}),
    ]
    edges = (_edge("rip", "crosscut", "after", "asked for in the job"),)
    return _plan(job="Two shelves", unit="mm", rows=rows, batch=1, bound=0.0, precedence=edges, stations=())


def many(steps: int) -> Plan:
    """As many rips as asked, each at another fence: as many setups."""
    rows = [(_bare(f"rip-{n}", "saw", n, fence=50.0 + n), {"fence": 50.0 + n}) for n in range(1, steps + 1)]
    return _plan(job="Many rips", unit="mm", rows=rows, batch=1, bound=0.0)


def _bare(name: str, station: str, count: int, **settings: Reading) -> Operation:
    return Operation(id=name, station=station, quantity=count, minutes_each=0.25, settings=dict(settings))


def _cuts(*cuts: Cut) -> tuple[Cut, ...]:
    return cuts


def _part(name: str, count: int, length: float, width: float, thickness: float) -> PartRecord:
    return PartRecord(
        id=name, quantity=count, length=length, width=width, thickness=thickness, species="cherry"
    )


def _edge(before: str, after: str, rule: str, why: str, **more: object) -> Edge:
    return Edge(before=before, after=after, rule=rule, why=why, **more)  # type: ignore[arg-type]


def _plan(
    job: str,
    unit: Unit,
    rows: list[tuple[Operation, dict[str, Reading]]],
    batch: int,
    bound: float,
    **more: object,
) -> Plan:
    """The plan that makes these operations in this order, with the values (mm) the settings stand at.

    `bound` is how many minutes below the cost the proven bound is.
    """

    def told(station: str, name: str, value: Reading) -> Reading:
        length = MEASURES.get((station, name)) == "length" and not isinstance(value, str)
        return in_unit(float(value), unit) if length and unit == "in" else value

    assert unit in MM
    stands: dict[str, dict[str, Reading]] = {"saw": {"tilt": 0.0}}
    lost: set[tuple[str, str]] = set()
    steps: list[Step] = []
    setups: list[Setup] = []
    for operation, wanted in rows:
        station = operation.station
        if setups and setups[-1].station != station:
            for name in [
                name for name in stands[setups[-1].station] if (setups[-1].station, name) in KEEPS_NOT
            ]:
                lost.add((setups[-1].station, name))
                del stands[setups[-1].station][name]
        known = stands.setdefault(station, {})
        values = {name: told(station, name, value) for name, value in wanted.items()}
        resets = tuple(
            Reset(setting=name, from_=known.get(name), to=value, minutes=MINUTES[name])
            for name, value in values.items()
            if known.get(name) != value
        )
        known.update(values)
        arrives = bool(steps) and steps[-1].station != station
        if not setups or arrives or resets:
            setups.append(
                Setup(
                    number=len(setups) + 1,
                    station=station,
                    walk_minutes=WALK if arrives else 0.0,
                    settings=dict(known),
                    resets=resets,
                    operations=(),
                )
            )
        last = setups[-1]
        setups[-1] = last.model_copy(
            update={"operations": (*last.operations, operation.id), "settings": dict(known)}
        )
        steps.append(
            Step(
                operation=operation.id,
                station=station,
                setup=last.number,
                quantity=operation.quantity,
                walk_minutes=WALK if arrives else 0.0,
                work_minutes=operation.work_minutes,
                settings=values,
                resets=resets,
            )
        )
    moved = [reset.minutes for step in steps for reset in step.resets]
    walked = sum(step.walk_minutes for step in steps)
    worked = sum(step.work_minutes for step in steps)
    cost = sum(moved) + walked + worked
    filled: dict[str, object] = {
        "precedence": (),
        "choices": {},
        "preference_minutes": 0.0,
        "stations": STATIONS,
        "habits": (
            Habit(name="as listed", cost_minutes=cost + 41.5, reset_count=len(moved) + 19),
            Habit(name="part by part", cost_minutes=cost + 63.0, reset_count=len(moved) + 31),
            Habit(name="machine by machine", cost_minutes=cost + 12.0, reset_count=len(moved) + 6),
        ),
    } | more
    return Plan(
        job=job,
        shop="Bench by the river",
        unit=unit,
        batch=batch,
        status="feasible" if bound else "optimal",
        cost_minutes=cost,
        bound_minutes=cost - bound,
        reset_minutes=sum(moved),
        walk_minutes=walked,
        work_minutes=worked,
        reset_count=len(moved),
        planning_seconds=1.25,
        engine="sample",
        steps=tuple(steps),
        setups=tuple(setups),
        operations=tuple(operation for operation, _ in rows),
        **filled,  # type: ignore[arg-type]
    )
