"""What each rule costs to keep: the job is ordered again without it, and the two plans are compared."""

from __future__ import annotations

from collections.abc import Callable

from sequencer.diagnostics import NoOrderError
from sequencer.pipeline import Prepared, order, prepare
from sequencer.planfile import Plan, RuleCost
from sequencer.rulebook import LAWS


def price_rules(
    prepared: Prepared, plan: Plan, time_limit: float, seed: int, stop: Callable[[], bool] | None = None
) -> Plan:
    """The plan with `rule_costs`: for each rule that made an edge, the minutes saved if it did not exist.

    The laws are not up for sale: what the surfaces dictate, and what the job itself asks for. `time_limit` (seconds) is
    shared by all the rules. A rule whose removal saves nothing is listed with 0. What is not proven, for
    want of time, is the least that would be saved. Once `stop` answers true those left go to `rules_not_tried`.
    """
    rules = sorted({edge.rule for edge in prepared.edges} - LAWS.keys())
    costs = []
    # what it takes at least with all rules: what the plan takes, if that is proven
    least = plan.bound_minutes + plan.preference_minutes
    for rule in rules:
        if stop is not None and stop():
            break
        other = _without(prepared, rule, time_limit / len(rules), seed, stop)
        if stop is not None and stop():
            break  # a search cut short says nothing
        saves = 0.0 if other is None else least - other.cost_minutes - other.preference_minutes
        proven = other is not None and plan.status == other.status == "optimal"
        costs.append(RuleCost(rule=rule, saves_minutes=max(0.0, round(saves, 9)), proven=proven))
    return plan.model_copy(update={"rule_costs": tuple(costs), "rules_not_tried": tuple(rules[len(costs) :])})


def _without(
    prepared: Prepared, rule: str, seconds: float, seed: int, stop: Callable[[], bool] | None
) -> Plan | None:
    """The plan without this rule; None where none was found in time."""
    try:
        return order(prepare(prepared.job, (rule,)), seconds, seed, stop=stop)
    except (NoOrderError, KeyboardInterrupt):  # with the rule there is one
        return None
