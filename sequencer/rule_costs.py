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
    shared by all the rules. A rule whose removal saves nothing is listed with 0, not proven where the time was too
    short to tell. Once `stop` answers true those left go to `rules_not_tried`.
    """
    rules = sorted({edge.rule for edge in prepared.edges} - LAWS.keys())
    costs = []
    for rule in rules:
        other = _without(prepared, rule, time_limit / len(rules), seed, stop)
        if stop is not None and stop():
            break  # a search cut short says nothing
        saves = 0.0
        if other is not None:
            saves = (
                plan.cost_minutes + plan.preference_minutes - other.cost_minutes - other.preference_minutes
            )
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
