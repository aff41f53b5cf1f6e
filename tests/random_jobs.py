"""Small random jobs and shops as TOML tables, with every feature of the operation level mixed."""

from __future__ import annotations

import json
from random import Random


def random_shop(random: Random) -> dict:
    """Two stations with settings of every kind: stops, tolerance, tables, starts, keeps = false, one-way
    walks.
    """
    shop: dict = {"name": "Invented bench", "unit": "mm", "walk": random.choice([0, 1.0, 2.5])}
    if random.random() < 0.5:
        shop["walks"] = [{"from": "saw", "to": "mortiser", "minutes": random.choice([0, 0.5, 4])}]
    stations = []
    for name in ("saw", "mortiser"):
        settings: list[dict] = []
        number: dict = {"id": "tilt", "reset": random.choice([1.0, 2.5, 4.0])}
        if random.random() < 0.5:
            number["stops"] = [{"value": 0, "reset": 0.5}, {"value": 3, "reset": random.choice([0.25, 6.0])}]
        if random.random() < 0.4:
            number["tolerance"] = random.choice([1, 1.25])
        if random.random() < 0.5:
            number["start"] = random.randrange(5)
        if random.random() < 0.3:
            number["keeps"] = False
        settings.append(number)
        names = ["a", "b", "c"]
        table: dict = {
            "id": "bit",
            "values": names,
            # any numbers: half of these tables break the triangle inequality
            "minutes": [
                [0 if i == j else random.choice([0, 1, 2, 3, 9]) for j in range(3)] for i in range(3)
            ],
        }
        if random.random() < 0.5:
            table["first"] = [random.choice([0, 1, 5]) for _ in names]
        if random.random() < 0.4:
            table["start"] = random.choice(names)
        if random.random() < 0.3:
            table["keeps"] = False
        settings.append(table)
        stations.append({"id": name, "name": name, "setting": settings})
    return {"shop": shop, "station": stations}


def random_job(random: Random, most: int) -> dict:
    """Up to `most` operations with ranges, lists, precedence, mates and choices."""
    count = random.randint(1, most)
    operations: list[dict] = []
    for index in range(count):
        settings: dict = {}
        if random.random() < 0.7:
            low = random.randrange(5)
            settings["tilt"] = random.choice(
                [low, low, {"min": low, "max": low + random.randrange(1, 3)}, {"any": [low, (low + 2) % 5]}]
            )
        if random.random() < 0.6:
            settings["bit"] = random.choice(["a", "b", "c", {"any": random.sample(["a", "b", "c"], 2)}])
        op: dict = {
            "id": f"op{index}",
            "station": random.choice(["saw", "mortiser"]),
            "quantity": random.randint(1, 3),
            "minutes_each": random.choice([0, 0.5, 1.25]),
            "settings": settings,
        }
        after = [f"op{other}" for other in range(index) if random.random() < 0.25]
        if after:
            op["after"] = after
        operations.append(op)
    job: dict = {"job": {"name": "Random", "unit": "mm", "shop": "shop.toml"}, "operation": operations}
    names = [op["id"] for op in operations]
    if count >= 3 and random.random() < 0.5:
        some = random.sample(names, random.randint(2, min(5, count)))
        cut = random.randint(0, len(some))
        shared = [some[0]] if random.random() < 0.3 else []
        job["choice"] = [{"id": "way", "options": {"one": some[:cut] or shared, "two": some[cut:] + shared}}]
        two = job["choice"][0]["options"]["two"]
        job["choice"][0]["options"]["two"] = list(dict.fromkeys(two))
    if count >= 2 and random.random() < 0.4:
        job["mates"] = [
            {
                "operations": random.sample(names, 2),
                "hold": random.sample(
                    ["saw.tilt", "saw.bit", "mortiser.tilt", "mortiser.bit"], random.randint(1, 2)
                ),
            }
        ]
    if random.random() < 0.3:
        job["job"]["batch"] = 3
    return job


def with_stops(random: Random, shop: dict, job: dict) -> None:
    """Give every station a stop that is measured at its tilt, or now and then at its bit; some operations use it.

    Where they do they ask for one tilt, or leave it open.
    """
    base = {station["id"]: random.choice(["tilt", "tilt", "tilt", "bit"]) for station in shop["station"]}
    for station in shop["station"]:
        stop: dict = {"id": "rod", "measures": "number", "measured_at": base[station["id"]]}
        if random.random() < 0.3:
            names = ["near", "middle", "far"]
            stop |= {"measures": "name", "values": names}
            stop["minutes"] = [
                [0 if i == j else random.choice([1, 2, 5]) for j in range(3)] for i in range(3)
            ]
            if random.random() < 0.5:
                stop["first"] = [random.choice([0, 1, 4]) for _ in names]
        else:
            stop["reset"] = random.choice([1.0, 2.0])
            if random.random() < 0.3:
                stop["stops"] = [{"value": 2, "reset": random.choice([0.25, 3.0])}]
            if random.random() < 0.3:
                stop["tolerance"] = 1
        if random.random() < 0.5:
            stop["start"] = random.choice(["near", "far"]) if "values" in stop else random.randrange(4)
        if random.random() < 0.2:
            stop["keeps"] = False
        station["setting"].append(stop)
    named = {station["id"]: "values" in station["setting"][-1] for station in shop["station"]}
    for op in job["operation"]:
        level = op["settings"].get(base[op["station"]])
        if isinstance(level, dict) or random.random() < 0.2:
            continue
        low = random.randrange(3)
        numbers = [low, low, low, {"min": low, "max": low + random.randrange(1, 3)}, {"any": [low, low + 2]}]
        names = ["near", "middle", {"any": ["near", "far"]}]
        op["settings"] = {**op["settings"], "rod": random.choice(names if named[op["station"]] else numbers)}
    if job.get("mates") and random.random() < 0.3:
        job["mates"][0]["hold"] = [*job["mates"][0]["hold"], random.choice(["saw.rod", "mortiser.rod"])]


def as_toml(tables: dict) -> str:
    """TOML text of nested plain tables (top-level tables and arrays of tables, inline below)."""
    lines = []
    for name, table in tables.items():
        for entry in table if isinstance(table, list) else [table]:
            lines.append(f"[[{name}]]" if isinstance(table, list) else f"[{name}]")
            subtables = {key: value for key, value in entry.items() if name == "station" and key == "setting"}
            lines += [f"{key} = {_inline(value)}" for key, value in entry.items() if key not in subtables]
            for setting in subtables.get("setting", []):
                lines.append("[[station.setting]]")
                lines += [f"{key} = {_inline(value)}" for key, value in setting.items()]
    return "\n".join(lines) + "\n"


def _inline(value: object) -> str:
    if isinstance(value, dict):
        return "{" + ", ".join(f"{key} = {_inline(each)}" for key, each in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(_inline(each) for each in value) + "]"
    return json.dumps(value)
