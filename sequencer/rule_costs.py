"""What each rule costs to keep: the job is ordered again without it, and the two plans are compared."""

from __future__ import annotations

from collections.abc import Callable

from sequencer.pipeline import Prepared, order, prepare
from sequencer.planfile import Plan, RuleCost
from sequencer.rulebook import LAWS


def price_rules(
    prepared: Prepared, plan: Plan, time_limit: float, seed: int, stop: Callable[[], bool] | None = None
) -> Plan:
    """The plan with `rule_costs`: for each rule that made an edge, the minutes saved if it did not exist.

    The laws are not up for sale: what the surfaces dictate, and what the job itself asks for. `time_limit`
    (seconds) is shared by all the rules. A rule whose removal saves nothing is listed with 0.
    """
    rules = sorted({edge.rule for edge in prepared.edges} - LAWS.keys())
    costs = []
    for rule in rules:
        if stop is not None and stop():
            break
        other = order(prepare(prepared.job, (rule,)), time_limit / len(rules), seed, stop=stop)
        saves = plan.cost_minutes + plan.preference_minutes - other.cost_minutes - other.preference_minutes
        costs.append(
            RuleCost(
                rule=rule,
                saves_minutes=max(0.0, round(saves, 9)),
                proven=plan.status == other.status == "optimal",
            )
        )
    return plan.model_copy(update={"rule_costs": tuple(costs)})
