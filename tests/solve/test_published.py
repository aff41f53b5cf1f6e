"""Published problems are solved to their published answers; sources in `published`."""

from __future__ import annotations

from pathlib import Path

import pytest

from sequencer import load_job, plan
from sequencer.solve import Limits, Outcome, solve
from sequencer.solve.cpsat import cpsat
from sequencer.solve.price import is_order, price
from tests.solve.published import (
    ABSENT,
    OPTIMA,
    PART_OPTIMUM,
    THERE,
    part_files,
    part_first_setup,
    part_problem,
    published_folder,
    read_part,
    sop_files,
    sop_problem,
)

published = pytest.mark.skipif(not THERE, reason=ABSENT)


def test_the_folder_can_be_named(tmp_path: Path) -> None:
    """The environment says where the instances are, even if there is nothing: what was asked for is not skipped."""
    assert published_folder({"SEQUENCER_PUBLISHED": str(tmp_path)}) == (tmp_path, True)
    assert published_folder({"SEQUENCER_PUBLISHED": str(tmp_path / "none")}) == (tmp_path / "none", True)
    beside, there = published_folder({"SEQUENCER_PUBLISHED": ""})
    assert (beside.parts[-2:], there) == (("shared", "benchmarks"), beside.is_dir())


@published
@pytest.mark.parametrize("name", sorted(OPTIMA))
def test_sequential_ordering_instances_reach_their_published_optimum(name: str) -> None:
    """The order costs what the literature says is least, and is proven."""
    found = solve(sop_problem(name), Limits(seconds=120))  # seconds suffice; kernels may have to be compiled
    assert isinstance(found, Outcome)
    assert (found.cost, found.bound) == (OPTIMA[name], OPTIMA[name])
    assert is_order(sop_problem(name), found.order, found.options)


@published
@pytest.mark.parametrize("name", ["ESC07", "ESC11", "ESC12", "ESC25"])
def test_the_constraint_model_reaches_the_published_optimum(name: str) -> None:
    """The constraint model alone proves these."""
    found = cpsat(sop_problem(name), Limits(seconds=60), lambda _: None, lambda: False)
    assert isinstance(found, Outcome)
    assert (found.cost, found.bound) == (OPTIMA[name], OPTIMA[name])


@published
def test_the_published_plan_of_the_part_costs_its_published_total() -> None:
    """The plan printed with the part is an order of our problem and is priced at 833 and the first setup."""
    problem = part_problem()
    number = {lot.label: n for n, lot in enumerate(problem.lots)}
    order = tuple(
        number[f"{op} {machine} {tool}"] for op, machine, tool, _ in read_part()["a_plan_of_that_value"]
    )
    options = tuple(
        next(o for o, option in enumerate(choice) if option <= set(order)) for choice in problem.choices
    )
    assert is_order(problem, order, options)
    priced = price(problem, order)
    assert priced is not None
    assert priced.cost == PART_OPTIMUM + part_first_setup()


@published
def test_the_process_planning_part_reaches_its_published_total() -> None:
    """With the alternatives free, the plan costs 833 and the first setup, and no plan costs less."""
    found = solve(part_problem(), Limits(seconds=120))
    assert isinstance(found, Outcome)
    assert (found.cost, found.bound) == (PART_OPTIMUM + part_first_setup(),) * 2


@published
@pytest.mark.parametrize("name", ["ESC07", "ESC11", "ESC12", "br17.12"])
def test_the_instances_written_as_jobs_reach_their_published_optimum(name: str, tmp_path: Path) -> None:
    """Written to job and shop files and planned through the public door, the minutes are the optimum."""
    planned = plan(load_job(sop_files(name, tmp_path)), time_limit=60)
    assert planned.status == "optimal"
    assert planned.cost_minutes == OPTIMA[name]


@published
def test_the_part_written_as_a_job_reaches_its_published_total(tmp_path: Path) -> None:
    """Written to job and shop files, the part's plan costs 833 and the first setup."""
    planned = plan(load_job(part_files(tmp_path)), time_limit=120)
    assert planned.status == "optimal"
    assert planned.cost_minutes == PART_OPTIMUM + part_first_setup()
