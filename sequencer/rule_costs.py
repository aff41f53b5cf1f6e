"""What each rule costs to keep: the job is ordered again without it, and the two plans are compared."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from sequencer.diagnostics import NoOrderError
from sequencer.model.rule import LAWS
from sequencer.operations import Edge
from sequencer.pipeline import Prepared, order, prepare
from sequencer.planfile import Plan, RuleCost
from sequencer.quantity import MINUTE_PLACES


def price_rules(
    prepared: Prepared, plan: Plan, time_limit: float, seed: int, stop: Callable[[], bool] | None = None
) -> Plan:
    """The plan with `rule_costs`: for each rule that made an edge, the minutes saved if it did not exist.

    The laws are not up for sale: what the surfaces dictate, and what the job itself asks for. `time_limit` (seconds) is
    shared by all the rules. A rule whose removal saves nothing is listed with 0. What is not proven, for
    want of time, is the least that would be saved. Once `stop` answers true those left go to `rules_not_tried`.
    """
    rules = sorted({edge.rule for edge in prepared.edges} - LAWS.keys())
    costs: list[RuleCost] = []
    for rule in rules:
        if stop is not None and stop():
            break
        found = _without(prepared, rule, time_limit / len(rules), seed, stop)
        if stop is not None and stop():
            break  # a search cut short says nothing
        costs.append(_cost(rule, prepared, plan, *found) if found else _unknown(rule))
    return plan.model_copy(update={"rule_costs": tuple(costs), "rules_not_tried": tuple(rules[len(costs) :])})


def _cost(rule: str, prepared: Prepared, plan: Plan, other: Plan, edges: tuple[Edge, ...]) -> RuleCost:
    """What a rule costs to keep, by the plan `other` of the job without it, whose edges are `edges`.

    The price of a preference is no time: with the rule its own is gone. So the plan is weighed as the other one is, by
    the preferences that are left (and those that the rule had overruled).
    """
    wishes: float | None
    if plan.status == "optimal":
        wishes = round(_unmet(edges, plan) - other.preference_minutes, MINUTE_PLACES)
        saves = plan.cost_minutes - other.cost_minutes + wishes
    else:  # the least that any plan takes with all rules, be all that the rule prefers unmet in it
        wishes = None if any(edge.strength == "prefer" for edge in edges) else 0.0
        least = plan.bound_minutes + plan.preference_minutes
        own = _unmet(edge for edge in prepared.edges if edge.rule == rule)
        saves = least - own - other.cost_minutes - other.preference_minutes
    return RuleCost(
        rule=rule,
        saves_minutes=max(0.0, round(saves, MINUTE_PLACES)),
        proven=plan.status == other.status == "optimal",
        preference_minutes=wishes,
    )


def _unknown(rule: str) -> RuleCost:
    return RuleCost(rule=rule, saves_minutes=0.0, proven=False)


def _unmet(edges: Iterable[Edge], plan: Plan | None = None) -> float:
    """The price of the preferences among the edges, each told twice counted once: of those that a plan does not keep,
    or of all."""
    place = {step.operation: index for index, step in enumerate(plan.steps)} if plan else {}
    return sum(
        edge.price_minutes
        for edge in {(e.before, e.after, e.price_minutes, e.rule): e for e in edges}.values()
        if edge.strength == "prefer"
        and (plan is None or place.get(edge.before, -1) > place.get(edge.after, len(place)))
    )


def _without(
    prepared: Prepared, rule: str, seconds: float, seed: int, stop: Callable[[], bool] | None
) -> tuple[Plan, tuple[Edge, ...]] | None:
    """The plan without this rule, and its edges; None where none was found in time."""
    try:
        other = prepare(prepared.job, (rule,))
        return order(other, seconds, seed, stop=stop), other.edges
    except (NoOrderError, KeyboardInterrupt):  # with the rule there is one
        return None
