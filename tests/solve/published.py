"""Published problems with known answers, read from a folder where there is one: they are others' data, whose licence
is not known, and not part of the project.

The folder is named by the environment variable SEQUENCER_PUBLISHED, else it is `shared/benchmarks` beside the clone.
It holds `sop/NAME.sop` for each instance of `OPTIMA`, as published, and `process_planning/ma2000_17ops.json`, the
tables of the paper (see `read_part`).

Sequential ordering: G. Reinelt, TSPLIB, ORSA J. Computing 3(4):376-384, 1991; optima as in N. Ascheuer,
M. Juenger, G. Reinelt, A branch & cut algorithm for the asymmetric TSP with precedence constraints, Comput.
Optim. Appl., 2000.

Process planning: G. H. Ma, Y. F. Zhang, A. Y. C. Nee, A simulated annealing-based optimization algorithm for
process planning, Int. J. Production Research 38(12):2671-2687, 2000; its total proved by Luo, Shen, Li, Sun,
European J. Operational Research 308(3):1160-1175, 2023.
"""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from sequencer.solve.problem import Dial, Lot, Need, Problem

VARIABLE = "SEQUENCER_PUBLISHED"


def published_folder(environment: Mapping[str, str]) -> tuple[Path, bool]:
    """Where the instances are to be read, and whether to: a folder that is named must be there, another may be
    missing."""
    named = environment.get(VARIABLE)
    if named:
        return Path(named), True
    beside = Path(__file__).resolve().parents[3] / "shared" / "benchmarks"
    return beside, beside.is_dir()


FOLDER, THERE = published_folder(os.environ)
ABSENT = f"the published instances are not here: {VARIABLE} names no folder, see tests/solve/published.py"

OPTIMA = {
    "ESC07": 2125,
    "ESC11": 2075,
    "ESC12": 1675,
    "ESC25": 1681,
    "ESC47": 1288,
    "br17.10": 55,
    "br17.12": 55,
    "ft53.4": 14425,
    "ry48p.4": 31446,
    "rbg109a": 1038,
}
"""The published optimum of each sequential ordering instance."""

PART_OPTIMUM = 833
"""The published total of the process-planning part; the first setup is free."""


def read_matrix(name: str) -> list[list[int]]:
    """The cost matrix of a sequential ordering instance; -1 in row i, column j: j comes before i."""
    text = (FOLDER / "sop" / f"{name}.sop").read_text(encoding="ascii")
    numbers = [int(word) for word in text.split("EDGE_WEIGHT_SECTION")[1].split("EOF")[0].split()]
    size = numbers[0]
    return [numbers[1 + size * row : 1 + size * (row + 1)] for row in range(size)]


def sop_problem(name: str) -> Problem:
    """One dial whose values are the nodes, with the matrix as its change-over table."""
    matrix = read_matrix(name)
    nodes = range(len(matrix))
    never = max(map(max, matrix))
    cost = [[never if paid < 0 else paid for paid in row] for row in matrix]
    move = tuple(tuple(0 if a == b else cost[a][b] for b in nodes) for a in nodes)
    return Problem(
        lots=tuple(Lot(f"node {n}", 0, {0: Need(1 << n, 1 << n)}) for n in nodes),
        dials=(Dial("node", 0, move, (0,) * len(matrix)),),
        walk=((0,),),
        precedence=tuple((b, a) for a in nodes for b in nodes if a != b and matrix[a][b] < 0),
    )


def read_part() -> dict[str, Any]:
    """The process-planning part as published.

    Its file is a table: `operations` by name, each with its `machines`, `tools` and approach directions (`tads`) to
    choose from and what it comes `after`; `exclusive_alternatives`, of each group one is made; what each use
    costs (`machine_usage_cost`, `tool_usage_cost`) and each change (`machine_change`, `tool_change`, `setup_change`);
    and `a_plan_of_that_value`, operation, machine, tool and direction of each step.
    """
    text = (FOLDER / "process_planning" / "ma2000_17ops.json").read_text(encoding="utf-8")
    return json.loads(text)  # type: ignore[no-any-return]


def part_problem() -> Problem:
    """Machines are stations, tool and direction dials lost by leaving, each machine and tool an alternative.

    Our model has the first tool and direction paid for, the published total has not: see `part_first_setup`.
    """
    part = read_part()
    machines, tools = list(part["machine_usage_cost"]), list(part["tool_usage_cost"])
    directions = sorted({d for op in part["operations"].values() for d in op["tads"]})
    dials = []
    for m in range(len(machines)):
        dials += [_lost(m, "tool", len(tools), part["tool_change"])]
        dials += [_lost(m, "direction", len(directions), part["setup_change"])]
    lots: list[Lot] = []
    ways: dict[str, list[int]] = {}
    for name, op in part["operations"].items():
        for machine in op["machines"]:
            for tool in op["tools"]:
                m = machines.index(machine)
                mask = sum(1 << directions.index(d) for d in op["tads"])
                at = 1 << tools.index(tool)
                work = part["machine_usage_cost"][machine] + part["tool_usage_cost"][tool]
                ways.setdefault(name, []).append(len(lots))
                needs = {2 * m: Need(at, at), 2 * m + 1: Need(mask, mask)}
                lots.append(Lot(f"{name} {machine} {tool}", m, needs, work))
    groups = [*part["exclusive_alternatives"]]
    groups += [[name] for name in ways if not any(name in group for group in groups)]
    change = part["machine_change"]
    return Problem(
        lots=tuple(lots),
        dials=tuple(dials),
        walk=tuple(
            tuple(0 if a == b else change for b in range(len(machines))) for a in range(len(machines))
        ),
        precedence=tuple(
            (a, b)
            for name, op in part["operations"].items()
            for earlier in op["after"]
            for a in ways[earlier]
            for b in ways[name]
        ),
        choices=tuple(tuple(frozenset([lot]) for name in group for lot in ways[name]) for group in groups),
    )


def part_first_setup() -> int:
    """What our model has paid for the first tool and direction."""
    part = read_part()
    return int(part["tool_change"] + part["setup_change"])


def _lost(station: int, name: str, values: int, price: int) -> Dial:
    move = tuple(tuple(0 if a == b else price for b in range(values)) for a in range(values))
    return Dial(f"m{station + 1} {name}", station, move, (price,) * values, keeps=False)


def sop_files(name: str, folder: Path) -> Path:
    """The instance written as shop and job files; returns the job's path."""
    matrix = read_matrix(name)
    never = max(map(max, matrix))
    rows = ",\n  ".join(
        str([0 if a == b else never if paid < 0 else paid for b, paid in enumerate(row)])
        for a, row in enumerate(matrix)
    )
    names = [f"n{n}" for n in range(len(matrix))]
    shop = ["[shop]", 'name = "published"', 'unit = "mm"', "walk = 0", "[[station]]", 'id = "machine"']
    shop += ['name = "machine"', "[[station.setting]]", 'id = "node"', f"values = {json.dumps(names)}"]
    shop += [f"minutes = [\n  {rows}]"]
    job = ["[job]", f'name = "{name}"', 'unit = "mm"', 'shop = "shop.toml"']
    for n, row in enumerate(matrix):
        after = [names[b] for b, paid in enumerate(row) if paid < 0 and b != n]
        job += [
            "[[operation]]",
            f'id = "{names[n]}"',
            'station = "machine"',
            f'settings = {{ node = "{names[n]}" }}',
        ]
        job += [f"after = {json.dumps(after)}"]
    return _write(folder, shop, job)


def part_files(folder: Path) -> Path:
    """The process-planning part written as shop and job files; returns the job's path."""
    part, problem = read_part(), part_problem()
    tools = list(part["tool_usage_cost"])
    directions = sorted({d for op in part["operations"].values() for d in op["tads"]})
    shop = ["[shop]", 'name = "published"', 'unit = "mm"', f"walk = {part['machine_change']}"]
    for machine in part["machine_usage_cost"]:
        shop += ["[[station]]", f'id = "{machine}"', f'name = "{machine}"']
        for setting, values, price in (
            ("tool", tools, part["tool_change"]),
            ("direction", directions, part["setup_change"]),
        ):
            shop += ["[[station.setting]]", f'id = "{setting}"', f"values = {json.dumps(values)}"]
            shop += ["keeps = false", f"reset = {price}"]
    ids = [lot.label.replace(" ", "-") for lot in problem.lots]
    job = ["[job]", 'name = "part"', 'unit = "mm"', 'shop = "shop.toml"']
    for n, lot in enumerate(problem.lots):
        name, machine, tool = lot.label.split()
        after = [ids[a] for a, b in problem.precedence if b == n]
        wanted = json.dumps(part["operations"][name]["tads"])
        job += ["[[operation]]", f'id = "{ids[n]}"', f'station = "{machine}"', f"minutes_each = {lot.work}"]
        job += [
            f'settings = {{ tool = "{tool}", direction = {{ any = {wanted} }} }}',
            f"after = {json.dumps(after)}",
        ]
    for c, choice in enumerate(problem.choices):
        options = ", ".join(
            f"way{o} = {json.dumps([ids[x] for x in option])}" for o, option in enumerate(choice)
        )
        job += ["[[choice]]", f'id = "choice{c}"', f"options = {{ {options} }}"]
    return _write(folder, shop, job)


def _write(folder: Path, shop: list[str], job: list[str]) -> Path:
    (folder / "shop.toml").write_text("\n".join(shop) + "\n", encoding="utf-8")
    (folder / "job.toml").write_text("\n".join(job) + "\n", encoding="utf-8")
    return folder / "job.toml"
