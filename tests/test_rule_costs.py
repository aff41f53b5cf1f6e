"""What a rule costs to keep, on a case worked out by hand."""

from __future__ import annotations

from io import StringIO
from pathlib import Path

import pytest

from sequencer import load_job, rule_costs
from sequencer.diagnostics import Fault, NoOrderError
from sequencer.overview import overview
from sequencer.pipeline import Prepared, order, prepare
from sequencer.planfile import Plan
from sequencer.report.terminal import make_console, print_summary
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


def priced_job(folder: Path) -> tuple[Prepared, Plan]:
    """The job above, prepared and ordered."""
    (folder / "shop.toml").write_text(SHOP, encoding="utf-8")
    (folder / "job.toml").write_text(JOB, encoding="utf-8")
    prepared = prepare(load_job(folder / "job.toml"))
    return prepared, order(prepared, 10)


def test_what_was_not_found_out_is_not_called_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A search that ran out of time, with a plan no better or with none, says nothing of what a rule costs."""
    prepared, plan = priced_job(tmp_path)

    def poor(*_: object, **__: object) -> Plan:
        return plan.model_copy(update={"status": "feasible"})

    def none(*_: object, **__: object) -> Plan:
        raise NoOrderError([Fault("no order was found within 1 seconds")])

    for search in (poor, none):
        monkeypatch.setattr(rule_costs, "order", search)
        priced = price_rules(prepared, plan, 10, 0)
        assert [(cost.saves_minutes, cost.proven) for cost in priced.rule_costs] == [(0.0, False)]
        assert (overview(priced).rules_free, overview(priced).rules_unknown) == (0, ("dry-fit-before-glue",))
        said = summary(priced)
        assert "nothing" not in said.partition("What the rules cost")[2]
        assert "not known" in said


def test_a_plan_that_may_be_too_dear_lays_nothing_to_a_rule(tmp_path: Path) -> None:
    """Kept, the rule costs 1.5 of 2.5; of a plan at 9.5 with a bound of 2 no more is certain than 1."""
    prepared, plan = priced_job(tmp_path)
    poor = plan.model_copy(update={"status": "feasible", "cost_minutes": 9.5, "bound_minutes": 2.0})
    (cost,) = price_rules(prepared, poor, 10, 0).rule_costs
    assert (cost.saves_minutes, cost.proven) == (1.0, False)
    assert "1 min would be saved without dry-fit-before-glue, or more (not proven)" in " ".join(
        summary(price_rules(prepared, poor, 10, 0)).split()
    )


def test_pricing_stopped_by_hand_is_told(tmp_path: Path) -> None:
    """The plan is whole, so it is not marked as cut short, but the rules left are named as not tried."""
    prepared, plan = priced_job(tmp_path)
    priced = price_rules(prepared, plan, 10, 0, lambda: True)
    assert (priced.rule_costs, priced.rules_not_tried) == ((), ("dry-fit-before-glue",))
    assert not priced.interrupted
    assert "not tried" in summary(priced)


def summary(plan: Plan) -> str:
    """The summary as printed."""
    text = StringIO()
    print_summary(plan, make_console(text))
    return text.getvalue()
