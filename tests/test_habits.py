"""The usual habits: each a legal order, none cheaper than the proven plan."""

from __future__ import annotations

from pathlib import Path
from random import Random

import pytest

from sequencer import NoOrderError, load_job
from sequencer.encode import encode
from sequencer.habits import habits
from sequencer.pipeline import order, prepare
from sequencer.solve.price import is_order
from tests.random_jobs import as_toml, random_job, random_shop


@pytest.mark.parametrize("seed", range(20))
def test_habits_are_orders_and_never_cheaper(seed: int, tmp_path: Path) -> None:
    """Every habit keeps precedence, and with no mates to mind none beats a proven plan."""
    random = Random(1000 + seed)
    shop, job = random_shop(random), random_job(random, most=10)
    job.pop("mates", None)
    (tmp_path / "shop.toml").write_text(as_toml(shop), encoding="utf-8")
    (tmp_path / "job.toml").write_text(as_toml(job), encoding="utf-8")
    prepared = prepare(load_job(tmp_path / "job.toml"))
    encoded = encode(prepared.worklist, prepared.edges, prepared.job.shop)
    try:
        plan = order(prepared, 20)
    except NoOrderError:
        pytest.skip("no order exists")
    options = tuple(names.index(plan.choices[name]) for name, names in encoded.choices)
    parts = ["" for _ in encoded.operations]
    found = habits(encoded.problem, options, parts)
    assert [name for name, _, _ in found] == ["as listed", "part by part", "machine by machine"]
    for _, listed, priced in found:
        assert is_order(encoded.problem, listed, options)
        # the options are those of the best plan, so an order of them cannot cost less
        assert encoded.minutes(priced.cost) >= plan.cost_minutes - 1e-9
