"""What the terminal prints for rules, joints and a job that is only checked."""

from __future__ import annotations

import re
import shutil
from dataclasses import replace
from io import StringIO
from pathlib import Path

import pytest
from rich.cells import cell_len

from sequencer.files import load_job
from sequencer.joinery import derive, joint_report
from sequencer.operations import Choice, MatesGroup, Operation, Worklist
from sequencer.pipeline import prepare
from sequencer.precedence.rulebook import in_force, load_books
from sequencer.quantity import format_angle
from sequencer.report.terminal import make_console, print_check, print_joints, print_rules

EXAMPLES = Path(__file__).parents[2] / "examples"


def squeezed(text: str) -> str:
    return " ".join(text.split())


@pytest.mark.parametrize("width", [80, 120])
def test_every_rule_is_told_with_its_source(width: int) -> None:
    """Each rule stands once with its id, sentence, reason and source, in lines that fit."""
    out = StringIO()
    rules = in_force(load_books())
    print_rules(rules, make_console(out, width))
    text = squeezed(out.getvalue())
    for rule in rules:
        assert f" {rule.id} " in text
        assert squeezed(f"{rule.says} why {rule.why} source {rule.source}") in text
    assert all(cell_len(line) <= width for line in out.getvalue().splitlines())


@pytest.mark.parametrize("example", ["tea-boxes", "planter", "picture-frames"])
@pytest.mark.parametrize("width", [80, 120])
def test_joints_are_told_in_the_unit_of_the_job(example: str, width: int) -> None:
    """Every joint and way is told, the thinnest wall among it, in lines that fit and never as a load; one empty line
    and no more is between what stands apart, a joint without angles (the lid of the boxes) included."""
    job = load_job(EXAMPLES / example / "job.toml")
    reports = joint_report(job)
    out = StringIO()
    print_joints(reports, make_console(out, width), job.unit)
    text = squeezed(out.getvalue())
    for report in reports:
        assert report.joint in text
        for way in report.ways:
            assert way.verdict in text
    assert (" in to the " in text or " in (0." in text) == (job.unit == "in")
    assert "none of them is a load or a design value" in text
    assert "\n\n\n" not in out.getvalue()
    assert all(cell_len(line) <= width for line in out.getvalue().splitlines())


def test_slips_are_as_thick_as_the_cutters_are_marked() -> None:
    """In a job in inches a shop with metric cutters is told 6 mm for a slip, not the nearest 64th."""
    job = load_job(EXAMPLES / "picture-frames" / "job.toml")
    out = StringIO()
    print_joints(joint_report(job), make_console(out, 120), job.unit, marked=job.shop.unit)
    assert "1 a corner, 6 mm × 1 17/64 in (1.260) × 63/64 in" in squeezed(out.getvalue())


def test_a_checked_job_tells_its_operations_and_demands() -> None:
    """A check counts operations by station and edges by rule, and says that nothing is wrong."""
    prepared = prepare(load_job(EXAMPLES / "planter" / "job.toml"))
    out = StringIO()
    print_check(prepared, make_console(out, 80))
    text = squeezed(out.getvalue())
    assert "nothing wrong was found" in text
    assert f"operations {len(prepared.worklist.operations)} " in text
    musts = sum(edge.strength == "must" for edge in prepared.edges)
    assert f"{musts} demands and {len(prepared.edges) - musts} preferences" in text


def test_mates_are_told_with_the_way_they_belong_to() -> None:
    """The boxes' corners can be made in two ways: bevels are sawn alike in both, which is told once; slots in square
    ends are those of one way, and the setting block stands among the mates of the other.
    """
    out = StringIO()
    print_check(prepare(load_job(EXAMPLES / "tea-boxes" / "job.toml")), make_console(out, 200))
    told = [each.split(" mates ")[0] for each in squeezed(out.getvalue()).split(" mates ")[1:]]
    assert len(set(told)) == len(told)
    bevels = [each for each in told if "bevel the right end and left end of large front" in each]
    assert [each.partition("bevel the")[0] for each in bevels] == ["", "with large corner bevel first: "]
    assert ["setting block" in each for each in bevels] == [False, True]
    slots = [each for each in told if "in the back of small front" in each]
    assert [each.partition("plunge")[0] for each in slots] == ["with small corner square first: "]
    assert [each.partition("plunge")[0] for each in told if "lid rail" in each] == [""]


@pytest.mark.parametrize(
    ("mates", "told"),
    [
        (("plane", "turn"), "with knobs turned: plane; turn: "),
        (("turn", "turn fine"), "with knobs turned: turn; turn fine: "),
        (("oil", "wax"), "with knobs turned or carved: oil; wax: "),
        (("plane", "rip", "turn"), "plane; rip; turn: "),
        (("turn", "carve"), "turn; carve: "),
    ],
)
def test_mates_made_whatever_is_chosen_have_no_way(mates: tuple[str, ...], told: str) -> None:
    """One operation that is always made needs a way's for a mate, two do not; mates of some ways tell these."""
    options = {"turned": ("turn", "turn fine", "oil", "wax"), "carved": ("carve", "oil", "wax"), "bought": ()}
    names = ("plane", "rip", *dict.fromkeys(name for made in options.values() for name in made))
    prepared = prepare(load_job(EXAMPLES / "mitred-box" / "job.toml"))
    worklist = Worklist(
        operations=tuple(Operation(id=name, station="saw") for name in names),
        mates=(MatesGroup(operations=mates, hold=("saw.tilt",)),),
        choices=(Choice(id="knobs", options=options),),
    )
    out = StringIO()
    print_check(replace(prepared, worklist=worklist), make_console(out, 200))
    assert f" mates {told}without moving" in squeezed(out.getvalue())


def test_one_operation_left_of_mates_is_not_told() -> None:
    """Its mates were in an option that is struck out."""
    prepared = prepare(load_job(EXAMPLES / "mitred-box" / "job.toml"))
    worklist = Worklist(
        operations=(Operation(id="plane", station="saw"),),
        mates=(MatesGroup(operations=("plane",), hold=("saw.tilt",)),),
    )
    out = StringIO()
    print_check(replace(prepared, worklist=worklist), make_console(out, 200))
    assert "without moving" not in out.getvalue()


@pytest.mark.parametrize(
    ("name", "change", "full"),
    [
        ("planter", ("", ""), "far edge"),  # it leans out: wider at its upper edges
        ("planter", ("slope = 80", 'slope = 80\nlean = "in"'), "edge"),
        ("trough", ("", ""), "far edge"),
        ("picture-frames", ("", ""), "edge"),  # the outside of a frame, which is longer than its inside
        ("mitred-box", ("", ""), ""),
        ("umbrella-stand", ("", ""), ""),
    ],
)
def test_joints_tell_angles_as_the_cards_do(
    tmp_path: Path, name: str, change: tuple[str, str], full: str
) -> None:
    """The same figures, and to which side of square the gauge stands: which edge stays as long as the board."""
    shutil.copytree(EXAMPLES / name, tmp_path / name)
    shutil.copy(EXAMPLES / "shop.toml", tmp_path)
    path = tmp_path / name / "job.toml"
    path.write_text(path.read_text(encoding="utf-8").replace(*change), encoding="utf-8")
    job = load_job(path)
    out = StringIO()
    print_joints(joint_report(job), make_console(out, 120), job.unit)
    text = squeezed(out.getvalue())
    operations = derive(job).operations
    cut = [  # edges ripped level are of no joint
        op
        for op in operations
        if op.kind in ("bevel", "mitre") and not any(cut.surface.startswith("level") for cut in op.cuts)
    ]
    for op in cut:
        gauge, tilt = op.settings.get("gauge", 0), op.settings["tilt"]
        assert isinstance(gauge, (int, float))
        assert isinstance(tilt, (int, float))
        assert f"gauge {format_angle(gauge)}, tilt {format_angle(tilt)}, fence" in text
    fences = {op.settings["fence_angle"] for op in operations if op.kind == "plunge"} - {90.0}
    assert all(f"fence angle {format_angle(float(str(fence)))} for" in text for fence in fences)
    words = f"the {full} keeps its full"
    assert (f"({words} length)" in text) == bool(full)
    assert text.count("keeps its full") == text.count(words)
    compound = [op for op in cut if op.settings["tilt"] and op.settings.get("gauge")]
    assert all(words in op.notes.way_round for op in compound)


@pytest.mark.parametrize(
    ("example", "sign", "square"), [("planter", "mm²", 1.0), ("picture-frames", "in²", 645.16)]
)
def test_glue_areas_are_told_in_the_unit_of_the_job(example: str, sign: str, square: float) -> None:
    """Square inches (645.16 mm² each, by definition of the inch) for a job in inches."""
    job = load_job(EXAMPLES / example / "job.toml")
    reports = joint_report(job)
    out = StringIO()
    print_joints(reports, make_console(out, 120), job.unit)
    text = squeezed(out.getvalue())
    told = [
        float(area) * square
        for area in re.findall(rf"([\d.]+) {sign} (?:long grain|oblique|end grain)", text)
    ]
    glued = [
        area
        for report in reports
        for way in report.ways
        for glue in dict.fromkeys(way.glue)
        for area in (glue.long_grain, glue.oblique, glue.end_grain)
        if area >= 0.5
    ]
    assert told == pytest.approx(glued, abs=square * 0.01 if square > 1 else 0.51)
    assert "mm2" not in text
