"""A second, deliberately simple counter of what an order costs, working on the parsed TOML files alone.

It shares no code with the program: it tries every value on a fine grid instead of reasoning about which
values matter, and every order and every combination of options instead of searching.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator

import networkx as nx

Table = dict


def least_cost(shop: Table, job: Table) -> float | None:
    """The least cost in minutes over every linear extension and every combination of options; None if there
    is none.
    """
    costs = [cost for order in every_order(job) if (cost := cost_of(shop, job, order)) is not None]
    return min(costs, default=None)


def every_order(job: Table) -> Iterator[tuple[str, ...]]:
    """Every order of the operations made, under every combination of options."""
    choices = job.get("choice", [])
    names = [op["id"] for op in job["operation"]]
    optional = {op for choice in choices for ops in choice["options"].values() for op in ops}
    seen = set()
    for taken in itertools.product(*(choice["options"].values() for choice in choices)):
        chosen = {op for ops in taken for op in ops}
        made = tuple(name for name in names if name not in optional or name in chosen)
        if made in seen:
            continue
        seen.add(made)
        graph = nx.DiGraph()
        graph.add_nodes_from(made)
        graph.add_edges_from(
            (before, op["id"])
            for op in job["operation"]
            for before in op.get("after", [])
            if before in made and op["id"] in made
        )
        if nx.is_directed_acyclic_graph(graph):
            for order in nx.all_topological_sorts(graph):
                yield tuple(order)


def cost_of(shop: Table, job: Table, order: tuple[str, ...]) -> float | None:
    """What this order costs, each setting handled as cheaply as it can be; None where mates forbid the
    order.
    """
    operations = {op["id"]: op for op in job["operation"]}
    made = [operations[name] for name in order]
    cost = sum(op.get("quantity", 1) * op.get("minutes_each", 0) for op in made) * job["job"].get("batch", 1)
    for one, two in itertools.pairwise(made):
        if one["station"] != two["station"]:
            exceptions = {
                (walk["from"], walk["to"]): walk["minutes"] for walk in shop["shop"].get("walks", [])
            }
            cost += exceptions.get((one["station"], two["station"]), shop["shop"].get("walk", 0))
    for station in shop["station"]:
        for setting in station.get("setting", []):
            base = next((s for s in station["setting"] if s["id"] == setting.get("measured_at")), None)
            moved = _setting_cost(station["id"], setting, base, job, made)
            if moved is None:
                return None
            cost += moved
    return cost


def _setting_cost(
    station: str, setting: Table, base: Table | None, job: Table, made: list[Table]
) -> float | None:
    """The cheapest way of moving one setting along the order: every value tried at every step.

    A setting that is measured at another one, `base`, stands at a value together with what was asked of that one when
    it was set: elsewhere it is another value, reached as if none stood.
    """
    held = f"{station}.{setting['id']}"
    start_at = setting.get("start_at", base.get("start")) if base else None
    states: dict = {(setting.get("start"), start_at): 0.0}
    there = False
    for index, op in enumerate(made):
        frozen = any(
            held in group["hold"]
            and any(other["id"] in group["operations"] for other in made[:index])
            and any(other["id"] in group["operations"] for other in made[index:])
            for group in job.get("mates", [])
        )
        if there and op["station"] != station and not setting.get("keeps", True):
            if frozen:
                return None
            states = {(None, None): min(states.values())}
        there = op["station"] == station
        if not there or setting["id"] not in op.get("settings", {}):
            continue
        wanted = op["settings"][setting["id"]]
        level = op["settings"].get(base["id"]) if base else None
        after: dict = {}
        for (value, at), cost in states.items():
            read = value is not None and (level is None or (at is not None and _same(base, at, level)))
            if read and serves(setting, wanted, value):
                after[value, at] = min(cost, after.get((value, at), cost))
            level_with = at is None if level is None else read
            for new in [] if frozen else _offers(setting, wanted):
                if value is not None and (level_with or level is None) and _same(setting, value, new):
                    continue  # within tolerance nothing moves
                paid = cost + _move(setting, value if level_with else None, new)
                after[new, level] = min(paid, after.get((new, level), paid))
        if not after:
            return None
        states = after
    return min(states.values())


def _same(setting: Table, one: object, two: object) -> bool:
    if isinstance(one, str) or isinstance(two, str):
        return one == two
    return abs(one - two) <= setting.get("tolerance", 0) + 1e-9


def serves(setting: Table, wanted: object, value: object) -> bool:
    """Whether a setting at this value is what is wanted, within tolerance."""
    if isinstance(wanted, dict) and "any" in wanted:
        return any(serves(setting, each, value) for each in wanted["any"])
    if isinstance(wanted, dict):
        slack = setting.get("tolerance", 0) + 1e-9
        return wanted["min"] - slack <= value <= wanted["max"] + slack
    return _same(setting, value, wanted)


def _offers(setting: Table, wanted: object) -> list:
    """All values the setting may be moved to: for a range, a grid of quarters (the random jobs use whole
    numbers).
    """
    if isinstance(wanted, dict) and "any" in wanted:
        return list(wanted["any"])
    if isinstance(wanted, dict):
        steps = round((wanted["max"] - wanted["min"]) * 4)
        return [wanted["min"] + step / 4 for step in range(steps + 1)]
    return [wanted]


def _move(setting: Table, old: object, new: object) -> float:
    if "minutes" in setting:
        column = setting["values"].index(new)
        if old is None:
            return setting.get("first", [0] * len(setting["values"]))[column]
        return setting["minutes"][setting["values"].index(old)][column]
    near = [stop for stop in setting.get("stops", []) if _same(setting, stop["value"], new)]
    if near:
        return min(near, key=lambda stop: abs(stop["value"] - new) if not isinstance(new, str) else 0)[
            "reset"
        ]
    return setting.get("reset", 0)
