"""The plan's cost against every linear extension of small random jobs.

Outside reference: `networkx.all_topological_sorts` enumerates the orders; `counter.py` prices each from the
TOML tables alone.
"""

from __future__ import annotations

from pathlib import Path
from random import Random

import pytest

from sequencer import NoOrderError, load_job, plan
from tests.counter import cost_of, least_cost
from tests.random_jobs import as_toml, random_job, random_shop, with_stops


@pytest.mark.parametrize("seed", range(120))
def test_cost_is_the_least_of_every_order(seed: int, tmp_path: Path) -> None:
    """The plan costs what the cheapest of all orders costs, is proven, and recounts to its claim."""
    random = Random(seed)
    costs_the_least(random_shop(random), random_job(random, most=8 if seed % 4 == 0 else 6), tmp_path)


@pytest.mark.parametrize("seed", range(120))
def test_stops_on_a_gauge_cost_the_least_of_every_order(seed: int, tmp_path: Path) -> None:
    """Likewise where settings are good only at the reading of another one at which they were set."""
    random = Random(7000 + seed)
    shop, job = random_shop(random), random_job(random, most=7 if seed % 4 == 0 else 6)
    with_stops(random, shop, job)
    costs_the_least(shop, job, tmp_path)


def costs_the_least(shop: dict, job: dict, tmp_path: Path) -> None:
    """Plan a job and hold it to every order."""
    (tmp_path / "shop.toml").write_text(as_toml(shop), encoding="utf-8")
    (tmp_path / "job.toml").write_text(as_toml(job), encoding="utf-8")
    least = least_cost(shop, job)
    loaded = load_job(tmp_path / "job.toml")
    if least is None:
        with pytest.raises(NoOrderError):
            plan(loaded, time_limit=20)
        return
    found = plan(loaded, time_limit=20)
    assert found.status == "optimal"
    assert found.cost_minutes == pytest.approx(least, abs=1e-6)
    assert cost_of(shop, job, tuple(step.operation for step in found.steps)) == pytest.approx(least, abs=1e-6)
