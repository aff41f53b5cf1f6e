"""The job that tests of plans gone on with begin: rails and stiles, sawn and put together, in a shop of two stations.

Small enough that orders, counts and costs are worked out by hand.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from sequencer import load_job
from sequencer.model.job import Job
from sequencer.planfile import Plan
from tests.random_jobs import as_toml

LENGTHS = {"rail": 300, "stile": 400}
SHOP = """
[shop]
name = "s"
unit = "mm"
walk = 1
[[station]]
id = "saw"
[[station.setting]]
id = "tilt"
reset = 4
start = 0
[[station.setting]]
id = "fence"
reset = 1
[[station]]
id = "bench"
"""
OPERATIONS = """
[[operation]]
id = "rip-rail"
kind = "rip"
station = "saw"
part = "rail"
quantity = 4
minutes_each = 1
settings = { fence = 50, tilt = 0 }
[[operation]]
id = "groove-rail"
kind = "groove"
station = "saw"
part = "rail"
quantity = 8
minutes_each = 1
settings = { fence = 8, tilt = 0 }
after = ["rip-rail"]
notes = { what = "groove both edges of rail" }
[[operation]]
id = "rip-stile"
kind = "rip"
station = "saw"
part = "stile"
quantity = 2
minutes_each = 1
settings = { fence = 50, tilt = 0 }
[[operation]]
id = "bevel-rail"
kind = "bevel"
station = "saw"
part = "rail"
quantity = 4
minutes_each = 1
settings = { fence = 8, tilt = 30 }
after = ["groove-rail"]
[[operation]]
id = "fit"
kind = "dry-fit"
station = "bench"
parts = ["rail", "stile"]
quantity = 2
minutes_each = 3
after = ["bevel-rail", "rip-stile"]
[[operation]]
id = "glue"
kind = "glue"
station = "bench"
parts = ["rail", "stile"]
quantity = 2
minutes_each = 5
after = ["fit"]
"""


def parts(**pieces: int) -> list[dict[str, Any]]:
    """Tables of rails and stiles, so many pieces of each."""
    return [
        {
            "id": name,
            "quantity": quantity,
            "length": LENGTHS[name],
            "width": 50,
            "thickness": 20,
            "stock": "sized",
        }
        for name, quantity in pieces.items()
    ]


def head(**pieces: int) -> str:
    """A job file up to its operations."""
    return as_toml({"job": {"name": "j", "unit": "mm", "shop": "shop.toml"}, "part": parts(**pieces)})


JOB = head(rail=4, stile=2) + OPERATIONS
"""Rails and stiles ripped, rails grooved and bevelled, all fitted and glued."""


def loaded(folder: Path, job: str = JOB, shop: str = SHOP) -> Job:
    """The job of these two files, written into the folder."""
    (folder / "shop.toml").write_text(shop, encoding="utf-8")
    (folder / "job.toml").write_text(job, encoding="utf-8")
    return load_job(folder / "job.toml")


def chain(folder: Path, *operations: dict[str, Any], shop: str = SHOP) -> Job:
    """A job of operations, each after the one before unless it says otherwise, on four pieces of one part or two."""
    tables: list[dict[str, Any]] = []
    for each in operations:
        before = [tables[-1]["id"]] if tables else []
        tables.append({"station": "bench", "parts": ["rail"], "quantity": 4, "after": before} | each)
    text = head(rail=4, stile=4) + as_toml({"operation": tables})
    return loaded(folder, text, shop)


def order(found: Plan) -> list[str]:
    """The operations in order."""
    return [step.operation for step in found.steps]
