"""What a rule costs to keep, on a case worked out by hand."""

from __future__ import annotations

from io import StringIO
from pathlib import Path

import pytest

from sequencer import load_job, rule_costs
from sequencer.cards.overview import overview
from sequencer.diagnostics import Fault, NoOrderError
from sequencer.pipeline import Prepared, order, prepare
from sequencer.planfile import Plan, RuleCost
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


BENCH = """
[shop]
[rules]
books = ["own.toml"]
[[station]]
id = "saw"
[[station.setting]]
id = "pin"
measures = "number"
start = 1
reset = 3
"""
OWN = """
[book]
title = "own"
[kinds]
alpha = "a"
beta = "b"
gamma = "c"
"""
RULE = """
[[rule]]
id = "{0}-before-{1}"
says = "{0} first."
why = "y"
source = "z"
strength = "{2}"
{3}
same = "job"
before = {{ kind = "{0}" }}
after = {{ kind = "{1}" }}
"""


def by_rules(folder: Path, *rules: tuple[str, str, str, float], pins: str) -> tuple[Prepared, Plan]:
    """Work of the kinds alpha, beta and gamma at one machine, each wanting its place of the pin, which stands at 1 and
    takes 3 minutes to move; and its plan."""
    book = OWN + "".join(
        RULE.format(before, after, strength, f"price = {price}" if price else "")
        for before, after, strength, price in rules
    )
    text = '[job]\nname = "j"\nshop = "shop.toml"\n'
    for kind, pin in zip(("alpha", "beta", "gamma"), pins, strict=False):
        text += (
            f'[[operation]]\nid = "{kind}"\nkind = "{kind}"\nstation = "saw"\nsettings = {{ pin = {pin} }}\n'
        )
    for name, content in (("own.toml", book), ("shop.toml", BENCH), ("job.toml", text)):
        (folder / name).write_text(content, encoding="utf-8")
    prepared = prepare(load_job(folder / "job.toml"))
    return prepared, order(prepared, 10)


def test_the_price_of_a_preference_is_no_time(tmp_path: Path) -> None:
    """Alpha at 2, beta at 1: beta first takes 3 minutes, alpha first 6. At a price of 1 the preference for alpha is not
    kept, and nothing is saved without it; at 4 it is kept, and costs 3 minutes."""
    for price, kept, saves in ((1, False, 0.0), (4, True, 3.0)):
        prepared, plan = by_rules(tmp_path, ("alpha", "beta", "prefer", price), pins="21")
        assert (plan.cost_minutes, plan.preference_minutes) == ((6.0, 0.0) if kept else (3.0, price))
        (cost,) = price_rules(prepared, plan, 10, 0).rule_costs
        assert (cost.saves_minutes, cost.proven, cost.preference_minutes) == (saves, True, 0.0)


def test_of_an_unproven_plan_no_price_is_told_as_time(tmp_path: Path) -> None:
    """Of a plan that takes at least 3 weighed minutes, a preference at 1 among them, 2 are time: of these the plan
    without it saves none."""
    prepared, plan = by_rules(tmp_path, ("alpha", "beta", "prefer", 1), pins="21")
    poor = plan.model_copy(update={"status": "feasible", "cost_minutes": 9.0, "bound_minutes": 2.5})
    (cost,) = price_rules(prepared, poor, 10, 0).rule_costs
    assert (cost.saves_minutes, cost.proven) == (0.0, False)


def test_other_preferences_are_weighed_in_and_that_is_told(tmp_path: Path) -> None:
    """Beta must come first, gamma is at 1 like beta. Alpha is preferred before gamma at 1 minute, which with beta at 1
    is not worth 3: not met with the rule nor without. With alpha at 1, too, all is at 1: without the rule nothing is
    saved in time, but alpha before beta, preferred at 2, is then met."""
    prepared, plan = by_rules(
        tmp_path, ("beta", "alpha", "must", 0), ("alpha", "gamma", "prefer", 1), pins="211"
    )
    assert {
        cost.rule: (cost.saves_minutes, cost.preference_minutes)
        for cost in price_rules(prepared, plan, 10, 0).rule_costs
    } == {
        "beta-before-alpha": (0.0, 0.0),
        "alpha-before-gamma": (0.0, 0.0),
    }
    prepared, plan = by_rules(
        tmp_path, ("beta", "alpha", "must", 0), ("alpha", "beta", "prefer", 2), pins="111"
    )
    assert (plan.cost_minutes, plan.preference_minutes) == (0.0, 0.0)  # overruled, so not weighed
    priced = price_rules(prepared, plan, 10, 0)
    assert [(cost.rule, cost.saves_minutes, cost.preference_minutes) for cost in priced.rule_costs] == [
        ("beta-before-alpha", 2.0, 2.0)
    ]
    assert (
        "2 min would be saved without beta-before-alpha: 0 min of time, 2 min of the prices of other preferences"
        in " ".join(summary(priced).split())
    )


@pytest.mark.parametrize(
    ("saves", "wishes", "words"),
    [
        (0.5, 3, "3 min of the prices of other preferences, for 2.5 min more of time"),
        (0.5, -3, "3.5 min of time, for 3 min more of the prices of other preferences"),
        (4, 3, "1 min of time, 3 min of the prices of other preferences"),
    ],
)
def test_what_is_paid_for_a_saving_is_no_saving(
    saves: float, wishes: float, words: str, tmp_path: Path
) -> None:
    """A saving of half a minute that meets preferences at 3 minutes takes 2.5 minutes more; and the other way round."""
    _, plan = by_rules(tmp_path, ("alpha", "beta", "prefer", 1), pins="21")
    cost = RuleCost(rule="own", saves_minutes=saves, proven=True, preference_minutes=wishes)
    told = " ".join(summary(plan.model_copy(update={"rule_costs": (cost,)})).split())
    assert f"min would be saved without own: {words} " in f"{told} "


def summary(plan: Plan) -> str:
    """The summary as printed."""
    text = StringIO()
    print_summary(plan, make_console(text))
    return text.getvalue()
