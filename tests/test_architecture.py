"""Imports point one way, and each heavy library has one home."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from collections.abc import Iterator
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
PACKAGE = ROOT / "sequencer"

LAYERS = (
    ("diagnostics",),
    ("quantity",),
    ("listing",),
    ("operations",),
    ("planfile", "model"),
    ("agreement",),
    ("files",),
    ("geometry",),
    ("joinery",),
    ("precedence",),
    ("solve",),
    ("encoding",),
    ("planned",),
    ("options_left",),
    ("pipeline",),
    ("bench",),
    ("rule_costs", "corner"),
    ("cards",),
    ("report",),
    ("arguments",),
    ("cli",),
    ("__init__", "__main__"),
)
"""Every module or folder of the package; each may import what stands in a line above its own, and within itself."""

LEVEL = {name: level for level, names in enumerate(LAYERS) for name in names}

FOLDERS = {
    "joinery": ("basis", "slots", "trenches", "meetings", "work", "ways", "whole"),
    "solve": (
        *("reduction", "transitions", "bounds", "compiled", "plans"),
        *("proof", "choices", "one_dial", "cpsat"),
    ),
}
"""Folders within these; each may import what stands before it."""

HOMES = {
    "ortools": ("solve/cpsat/",),
    "networkx": ("precedence/graph.py",),
    "rich": ("report/",),
    "typst": ("report/",),
}
"""Libraries with a home: no other file imports them."""

ONLY = {"solve": {"numba", "numpy"}, "geometry": {"numpy"}}
"""Folders that may import only these libraries besides the standard library."""

FILES = sorted(path.relative_to(PACKAGE).as_posix() for path in PACKAGE.rglob("*.py"))

MODULES = {
    ".".join(("sequencer", *Path(file).with_suffix("").parts)).removesuffix(".__init__"): file
    for file in FILES
}
"""The file of every module, by its dotted name."""


def imports(file: str, types_too: bool = True) -> Iterator[str]:
    """The dotted names of all modules a file imports, at any depth; type-only ones if `types_too`."""
    tree = ast.parse((PACKAGE / file).read_text(encoding="utf-8"))
    for node in () if types_too else list(ast.walk(tree)):
        if isinstance(node, ast.If) and isinstance(node.test, ast.Name) and node.test.id == "TYPE_CHECKING":
            node.body = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{file} imports by a relative name"
            module = node.module or ""
            for name in (f"{module}.{alias.name}" for alias in node.names):
                yield name if module == "sequencer" or name in MODULES else module


def home(file: str) -> str:
    """The module or folder of the package that a file belongs to."""
    return file.split("/")[0].removesuffix(".py")


@pytest.mark.parametrize("file", FILES)
def test_every_module_has_its_place(file: str) -> None:
    """Every module stands in LAYERS, so that its imports are judged."""
    assert home(file) in LEVEL, f"give {file} its place in LAYERS"


@pytest.mark.parametrize("file", FILES)
def test_imports_point_one_way(file: str) -> None:
    """When it runs, a module imports only modules of the layers above its own, or of its own folder."""
    for name in imports(file, types_too=False):
        package, _, rest = name.partition(".")
        if package == "sequencer" and rest:
            other = rest.split(".")[0]
            # `from sequencer import plan` names a function: the package's own face, for `cli` and users only.
            other = other if other in LEVEL else "__init__"
            own = other == home(file) or (other == "__init__" and file in ("cli.py", "__main__.py"))
            assert own or LEVEL[other] < LEVEL[home(file)], f"{file} imports {name}"


@pytest.mark.parametrize("outer", FOLDERS)
def test_folders_can_be_read_one_after_the_other(outer: str) -> None:
    """When it runs, no module of a folder imports one of a later folder within the same."""
    inside = [Path(file).parts[1] for file in FILES if home(file) == outer and len(Path(file).parts) > 2]
    assert set(inside) == set(FOLDERS[outer])
    for file in (file for file in FILES if home(file) == outer and len(Path(file).parts) > 2):
        later = FOLDERS[outer][FOLDERS[outer].index(Path(file).parts[1]) + 1 :]
        for module in imports(file, types_too=False):
            used = Path(MODULES.get(module, "")).parts
            assert used[:1] != (outer,) or used[1] not in later, f"{file} imports {module}"


def test_no_module_leads_back_to_itself() -> None:
    """Inside a folder, too, and by imports for types only, modules can be read one after the other."""
    graph = {
        module: {name for name in imports(file) if name in MODULES} - {module}
        for module, file in MODULES.items()
    }
    try:
        TopologicalSorter(graph).prepare()
    except CycleError as error:
        pytest.fail(" imports ".join(reversed(error.args[1])))


@pytest.mark.parametrize("file", FILES)
def test_libraries_have_one_home(file: str) -> None:
    """Each heavy library is imported only where it is at home."""
    for name in imports(file):
        for place in (HOMES.get(name.split(".")[0]),):
            assert place is None or file.startswith(place), f"{file} imports {name}"


@pytest.mark.parametrize("file", [file for file in FILES if home(file) in ONLY])
def test_solve_and_geometry_stand_alone(file: str) -> None:
    """The engines know nothing of wood or files, the geometry nothing but operations and faults."""
    allowed = ONLY[home(file)] | ({"ortools"} if file.startswith("solve/cpsat/") else set())
    inside = {"solve": set(), "geometry": {"operations", "diagnostics"}}[home(file)] | {home(file)}
    for name in imports(file):
        package, _, rest = name.partition(".")
        if package == "sequencer":
            assert rest.split(".")[0] in inside, f"{file} imports {name}"
        else:
            assert package in sys.stdlib_module_names | allowed, f"{file} imports {name}"


@pytest.mark.parametrize("file", [file for file in FILES if home(file) == "report"])
def test_presentation_never_solves(file: str) -> None:
    """Nothing that prints or draws knows the engines, or what feeds them."""
    for name in imports(file):
        assert not name.startswith(
            ("sequencer.solve", "sequencer.encoding.encode", "sequencer.precedence.graph")
        ), f"{file}: {name}"


def read_in_order() -> str:
    """What DEVELOPERS says of the order in which the engines' modules are read."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    return text.split("`solve/` is read in this order")[1].split("An engine is a callable")[0]


@pytest.mark.parametrize("file", [file for file in FILES if home(file) == "solve" and "__" not in file])
def test_developers_are_told_when_to_read_it(file: str) -> None:
    """Every module of the engines has its place there, beside its folder."""
    folder = Path(file).parent.name
    part = next(part for part in read_in_order().split("\n* ") if f"`{folder}/`" in part.partition(":")[0])
    assert f"`{Path(file).stem}`" in part or f"`{Path(file).name}`" in part


def test_developers_are_told_to_read_first_what_is_used() -> None:
    """In that order nothing comes before what it uses, so that it can be read from the beginning."""
    order = read_in_order()
    own = [file for file in FILES if home(file) == "solve" and f"`{Path(file).name}`" in order]
    place = {file: order.index(f"`{Path(file).name}`") for file in own}
    for file in own:
        for module in imports(file, types_too=False):
            assert place.get(MODULES.get(module, ""), -1) < place[file], f"{file} is told before {module}"


def test_command_line_starts_light() -> None:
    """Importing the command line imports none of the heavy libraries."""
    heavy = ["ortools", "networkx", "numba", "rich", "typst", "numpy", "pydantic"]
    script = f"import sequencer.cli, sys; print([name for name in {heavy} if name in sys.modules])"
    command = [sys.executable, "-c", script]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


@pytest.mark.parametrize("file", [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted(PACKAGE.rglob("*.py"))])
def test_modules_are_told_by_the_names_they_have(file: Path) -> None:
    """Files in backquotes, and what is told by a dotted name from `sequencer` on, are there."""
    text = file.read_text(encoding="utf-8")
    for name in re.findall(r"`([\w/]+\.py)`", text):
        assert any(f"/{each}".endswith(f"/{name}") for each in FILES) or (ROOT / name).exists(), name
    for name in re.findall(r"`(sequencer(?:\.\w+)+)`", text):
        module, _, inside = name.rpartition(".")
        folder = any(each.startswith(f"{name}.") for each in MODULES)
        there = module in MODULES and re.search(
            rf"\b{inside}\b", (PACKAGE / MODULES[module]).read_text("utf-8")
        )
        assert name in MODULES or folder or there, name


KEPT = {
    "main(argv)",  # else those the program was called with
    "_ordered(more)",  # passed where it is called by another name
    "begin(known)",
    "begin(sparing)",  # the same
    "make_console(width)",  # and at widths of their own
}
"""Parameters with defaults that no call in the program seems to pass."""


def optional() -> Iterator[tuple[str, str, int | None]]:
    """Of every function of the package, its face aside: each parameter with a default, and how many stand before it."""
    for file in (file for file in FILES if file != "__init__.py"):
        tree = ast.parse((PACKAGE / file).read_text(encoding="utf-8"))
        for owner in ast.walk(tree):
            for node in getattr(owner, "body", ()) if isinstance(owner, (ast.Module, ast.ClassDef)) else ():
                if isinstance(node, ast.FunctionDef):
                    name = getattr(owner, "name", "") if node.name == "__init__" else node.name
                    places = [*node.args.posonlyargs, *node.args.args]
                    bound = (
                        isinstance(owner, ast.ClassDef) and places[:1] and places[0].arg in ("self", "cls")
                    )
                    first = len(places) - len(node.args.defaults)
                    for place, each in list(enumerate(places))[first:]:
                        yield name, each.arg, place - bool(bound)
                    for each, default in zip(node.args.kwonlyargs, node.args.kw_defaults, strict=True):
                        if default is not None:
                            yield name, each.arg, None


def test_what_may_be_left_out_is_passed_somewhere() -> None:
    """A parameter with a default that no call in the program passes is none: functions are told apart by name alone."""
    passed: dict[str, set[str | int]] = {}
    for file in FILES:
        tree = ast.parse((PACKAGE / file).read_text(encoding="utf-8"))
        own = {
            alias.asname: alias.name
            for node in ast.walk(tree)
            if isinstance(node, ast.ImportFrom)
            for alias in node.names
        }
        for call in (node for node in ast.walk(tree) if isinstance(node, ast.Call)):
            called, given = call.func, call.args
            if isinstance(called, ast.Name) and called.id == "partial":
                called, *given = given
            name = getattr(called, "id", getattr(called, "attr", ""))
            every = any(isinstance(each, ast.Starred) for each in given) or any(
                keyword.arg is None for keyword in call.keywords
            )
            passed.setdefault(own.get(name, name), set()).update(
                (keyword.arg or "*" for keyword in call.keywords), range(len(given)), ("*",) if every else ()
            )
    unused = {
        f"{name}({parameter})"
        for name, parameter, place in optional()
        if not {parameter, place, "*"} & passed.get(name, set())
    }
    assert unused == KEPT
