"""What a rule costs to keep, on a case worked out by hand."""

from __future__ import annotations

from pathlib import Path

from sequencer import load_job
from sequencer.pipeline import order, prepare
from sequencer.rule_costs import price_rules

SHOP = """
[shop]
name = "Invented bench"

[[station]]
id = "saw"
[[station.setting]]
id = "tilt"
start = 45
reset = 4.0
stops = [{ value = 0, reset = 1.0 }, { value = 45, reset = 1.5 }]
"""

JOB = """
[job]
name = "A rule in the way"
shop = "shop.toml"

[[operation]]
id = "glue"
kind = "glue"
part = "box"
station = "saw"
settings = { tilt = 45 }

[[operation]]
id = "fit"
kind = "dry-fit"
part = "box"
station = "saw"
settings = { tilt = 0 }
"""


def test_a_rule_is_priced_by_planning_without_it(tmp_path: Path) -> None:
    """Kept, "dry fit before glue" needs 45 -> 0 -> 45 (1 + 1.5); without it 45 -> 0 will do: it costs 1.5."""
    (tmp_path / "shop.toml").write_text(SHOP, encoding="utf-8")
    (tmp_path / "job.toml").write_text(JOB, encoding="utf-8")
    prepared = prepare(load_job(tmp_path / "job.toml"))
    plan = order(prepared, 10)
    assert plan.reset_minutes == 2.5
    priced = price_rules(prepared, plan, 10, 0)
    assert {cost.rule: (cost.saves_minutes, cost.proven) for cost in priced.rule_costs} == {
        "dry-fit-before-glue": (1.5, True)
    }
