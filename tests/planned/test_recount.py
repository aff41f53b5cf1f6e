"""The independent checker refuses every plan that was tampered with."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from random import Random

import pytest

from sequencer import load_job
from sequencer.pipeline import Prepared, order, prepare
from sequencer.planfile import Plan
from sequencer.planned.recount import RecountError, recount
from tests.random_jobs import as_toml, random_job, random_shop

Tamper = Callable[[dict], None]


def planned(folder: Path, seed: int) -> tuple[Prepared, Plan]:
    """A random job with at least two resets, and its plan."""
    random = Random(seed)
    while True:
        shop, job = random_shop(random), random_job(random, most=8)
        job.pop("mates", None)
        (folder / "shop.toml").write_text(as_toml(shop), encoding="utf-8")
        (folder / "job.toml").write_text(as_toml(job), encoding="utf-8")
        prepared = prepare(load_job(folder / "job.toml"))
        plan = order(prepared, 10)
        if plan.reset_count >= 2 and len(plan.steps) >= 3 and plan.reset_minutes > 0:
            return prepared, plan


def first_reset(plan: dict) -> dict:
    """The first reset of a plan."""
    return next(reset for step in plan["steps"] for reset in step["resets"])


def drop_step(plan: dict) -> None:
    """Leave an operation out."""
    plan["steps"] = plan["steps"][:-1]


def repeat_step(plan: dict) -> None:
    """Make an operation twice."""
    plan["steps"] = (*plan["steps"], plan["steps"][-1])


def cheaper_reset(plan: dict) -> None:
    """Book a reset at less than it costs."""
    first_reset(plan)["minutes"] -= 0.25


def forgotten_reset(plan: dict) -> None:
    """Leave a reset out of the list."""
    step = next(step for step in plan["steps"] if step["resets"])
    step["resets"] = ()


def cheaper_plan(plan: dict) -> None:
    """Claim a lower cost."""
    plan["cost_minutes"] -= 1


def higher_bound(plan: dict) -> None:
    """Claim a bound above the cost."""
    plan["bound_minutes"] += 1


def unproven(plan: dict) -> None:
    """Call a plan optimal whose bound lies below its cost."""
    plan["bound_minutes"] -= 1


def reversed_order(plan: dict) -> None:
    """Turn the order round."""
    plan["steps"] = tuple(reversed(plan["steps"]))


TAMPERS: list[Tamper] = [
    drop_step,
    repeat_step,
    cheaper_reset,
    forgotten_reset,
    cheaper_plan,
    higher_bound,
    unproven,
    reversed_order,
]


@pytest.mark.parametrize("tamper", TAMPERS, ids=lambda tamper: tamper.__name__)
@pytest.mark.parametrize("seed", range(3))
def test_a_tampered_plan_is_refused(tamper: Tamper, seed: int, tmp_path: Path) -> None:
    """The recount passes the plan as it is and refuses it once tampered with."""
    prepared, plan = planned(tmp_path, seed)
    recount(plan, prepared.worklist, prepared.edges, prepared.job.shop)
    data = plan.model_dump(by_alias=True)
    tamper(data)
    with pytest.raises(RecountError):
        recount(Plan.model_validate(data), prepared.worklist, prepared.edges, prepared.job.shop)


@pytest.mark.parametrize("seed", range(5))
def test_a_plan_survives_its_file(seed: int, tmp_path: Path) -> None:
    """A plan read back from its JSON text is the same plan."""
    _, plan = planned(tmp_path, seed)
    assert Plan.model_validate_json(plan.model_dump_json()) == plan.model_copy(
        update={"planning_seconds": 0.0}
    )
