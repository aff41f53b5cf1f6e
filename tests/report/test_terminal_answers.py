"""What the terminal prints for rules, joints and a job that is only checked."""

from __future__ import annotations

from io import StringIO
from pathlib import Path

import pytest
from rich.cells import cell_len

from sequencer.files import load_job
from sequencer.joinery import joint_report
from sequencer.pipeline import prepare
from sequencer.report.terminal import make_console, print_check, print_joints, print_rules
from sequencer.rulebook import load_rules

EXAMPLES = Path(__file__).parents[2] / "examples"


def squeezed(text: str) -> str:
    return " ".join(text.split())


@pytest.mark.parametrize("width", [80, 120])
def test_every_rule_is_told_with_its_source(width: int) -> None:
    """Each rule stands once with its id, sentence, reason and source, in lines that fit."""
    out = StringIO()
    rules = load_rules()
    print_rules(rules, make_console(out, width))
    text = squeezed(out.getvalue())
    for rule in rules:
        assert f" {rule.id} " in text
        assert squeezed(f"{rule.says} why {rule.why} source {rule.source}") in text
    assert all(cell_len(line) <= width for line in out.getvalue().splitlines())


@pytest.mark.parametrize("example", ["tea-boxes", "planter", "picture-frames"])
@pytest.mark.parametrize("width", [80, 120])
def test_joints_are_told_in_the_unit_of_the_job(example: str, width: int) -> None:
    """Every joint and way is told, the thinnest wall among it, in lines that fit and never as a load."""
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
