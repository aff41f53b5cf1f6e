"""Ctrl-C while the program begins, and while what is left of a plan is ordered; going on from a plan stopped so.

The key is pressed in the very moment in which a module is looked for, or news of the search come, so nothing hangs on
how fast the machine is.
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from random import Random
from typing import Any

import pytest

from sequencer.cli import _interruptible, main
from sequencer.files import read_plan
from sequencer.planfile import Plan
from tests.random_jobs import as_toml

SHOP = {
    "shop": {"name": "s", "unit": "mm", "walk": 1},
    "station": [
        {"id": "saw", "setting": [{"id": "tilt", "reset": 4}, {"id": "fence", "reset": 1}]},
        {"id": "mortiser", "setting": [{"id": "depth", "reset": 1}, {"id": "angle", "reset": 2}]},
    ],
}
PARTS = [f"board {n}" for n in range(1, 21)]
VALUES = {"saw": {"tilt": 5, "fence": 8}, "mortiser": {"depth": 6, "angle": 4}}
"""How many values each setting is wanted at."""
STEPS = 120


def pressed(monkeypatch: pytest.MonkeyPatch, times: int) -> None:
    """Ctrl-C, so many times in a row, with the first news that there is a plan."""

    @contextmanager
    def progress_line(_console: object) -> Iterator[Callable[[Any], None]]:
        still = times

        def show(news: Any) -> None:
            nonlocal still
            while news.best is not None and still:
                still -= 1
                signal.raise_signal(signal.SIGINT)

        yield show

    monkeypatch.setattr("sequencer.report.terminal.progress_line", progress_line)


@pytest.fixture
def begun(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Plan:
    """A job of six steps on each of twenty boards, and its plan, stopped by hand as soon as there is one."""
    random = Random(5)
    operations: list[dict[str, Any]] = []
    for number in range(STEPS):
        station = random.choice([*VALUES])
        settings = {name: random.randrange(values) for name, values in VALUES[station].items()}
        before = {
            number - len(PARTS),
            *random.sample(range(number), 1 if number > 3 and number % 3 == 0 else 0),
        }
        operations.append(
            {
                "id": f"o{number}",
                "station": station,
                "parts": [PARTS[number % len(PARTS)]],
                "quantity": 4,
                "minutes_each": 1,
                "settings": settings,
                "after": [f"o{each}" for each in sorted(before) if each >= 0],
            }
        )
    sizes = {"quantity": 4, "length": 300, "width": 50, "thickness": 20, "stock": "sized"}
    job = {
        "job": {"name": "long", "unit": "mm", "shop": "shop.toml"},
        "part": [{"id": part, **sizes} for part in PARTS],
        "operation": operations,
    }
    (tmp_path / "shop.toml").write_text(as_toml(SHOP), encoding="utf-8")
    (tmp_path / "job.toml").write_text(as_toml(job), encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    pressed(monkeypatch, 1)
    assert main(["plan", "job.toml", "--json", "plan.json", "--show", "summary"]) == 130
    return read_plan("plan.json")


def replanned(*told: str, limit: int = 60) -> int:
    """The exit code of going on."""
    return main(["replan", "job.toml", *told, "--time-limit", str(limit), "--show", "summary"])


def demand_all(found: Plan, operations: set[str]) -> None:
    """All of these are in the plan, each after what it must wait for."""
    place = {step.operation: number for number, step in enumerate(found.steps)}
    assert place.keys() == operations
    waits = [edge for edge in found.precedence if {edge.before, edge.after} <= place.keys()]
    assert waits
    assert all(place[edge.before] < place[edge.after] for edge in waits if edge.strength == "must")


def test_an_interrupted_rest_is_gone_on_with(
    begun: Plan, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Stopped by hand again and again, nothing is lost: what is made, what is left, what is made again. What is gone on
    with undisturbed is marked as stopped no more."""
    capsys.readouterr()
    before = [step.operation for step in begun.steps[:20]]
    part = next(op.parts[0] for op in begun.operations if op.id == before[-1])
    told = ("plan.json", "--done", "20", "--spoiled", f"{part}=2", "--json", "rest.json")
    assert replanned(*told) == 130
    assert "stopped by hand" in capsys.readouterr().out
    rest = read_plan("rest.json")
    assert (begun.interrupted, rest.interrupted, rest.status) == (True, True, "feasible")
    assert rest.bound_minutes < rest.cost_minutes
    again = {op.id for op in rest.operations if op.again}
    assert {op.again for op in rest.operations if op.id in again} == {
        op.id for op in begun.operations if op.id in before and op.parts == (part,)
    }
    assert [operation.id for operation in rest.done] == before
    demand_all(rest, {step.operation for step in begun.steps[20:]} | again)
    for done, left in ((30, STEPS - 50 + len(again)), (STEPS - 20 + len(again) - 5, 5)):
        pressed(monkeypatch, 0)
        made = {step.operation for step in rest.steps[:done]}
        assert replanned("rest.json", "--done", str(done), "--json", "last.json", limit=3) == 0
        last = read_plan("last.json")
        assert not last.interrupted
        assert last.steps_before == (20, done)
        assert len(last.steps) == left
        demand_all(last, {step.operation for step in rest.steps} - made)
    assert last.status == "optimal"
    assert "stopped by hand" not in capsys.readouterr().out


def test_a_file_of_an_interrupted_plan_is_printed_undisturbed(begun: Plan) -> None:
    """That its search was stopped once is no reason to say so of the printing."""
    assert begun.interrupted
    assert main(["cards", "plan.json", "-o", "cards.pdf"]) == 0
    assert main(["show", "plan.json", "--show", "summary"]) == 0


def test_pressed_three_times_nothing_is_written(
    begun: Plan, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """Who will not wait for the plan found so far gets none, and no half of a file; Ctrl-C does as usual then."""
    assert begun.interrupted
    files = sorted(tmp_path.iterdir())
    usual = signal.getsignal(signal.SIGINT)
    pressed(monkeypatch, 3)
    capsys.readouterr()
    assert replanned("plan.json", "--done", "20", "--json", "rest.json") == 130
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err == "interrupted again, before the best plan so far was handed over in full\n"
    assert sorted(tmp_path.iterdir()) == files
    assert signal.getsignal(signal.SIGINT) is usual


PRESSED_AT = """
import signal, sys
signal.signal(signal.SIGINT, signal.default_int_handler)  # whatever the one who starts us does with it
class Press:
    def find_spec(self, name, path=None, target=None):
        if name == {name!r}:
            signal.raise_signal(signal.SIGINT)
sys.meta_path.insert(0, Press())
"""
"""Of the program that is started: Ctrl-C as the module of that name is looked for."""


@pytest.mark.parametrize(
    "way", [["-m", "sequencer"], ["-c", "from sequencer.__main__ import main; exit(main())"]]
)
@pytest.mark.parametrize(
    "name",
    [
        "sequencer.cli",
        "argparse",
        "sequencer.diagnostics",
        "pydantic",
        "pydantic_core._pydantic_core",
        "numpy",
        "rich",
    ],
)
def test_pressed_while_modules_are_loaded(tmp_path: Path, name: str, way: list[str]) -> None:
    """One sentence and the exit code, no traceback, whatever is being loaded: our own modules or a library."""
    root = Path(__file__).parents[1]
    (tmp_path / "sitecustomize.py").write_text(PRESSED_AT.format(name=name), encoding="utf-8")
    done = subprocess.run(
        [sys.executable, *way, "check", str(root / "examples/mitred-box/job.toml")],
        env={**os.environ, "PYTHONPATH": f"{tmp_path}{os.pathsep}{root}"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert (done.returncode, done.stdout, done.stderr) == (130, "", "interrupted before all was done\n")


@pytest.mark.parametrize("where", ["read", "_ready_output"])
def test_pressed_before_a_command_has_begun(
    where: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """While the arguments are read it is told as in a command: with words where nobody said why."""
    monkeypatch.setattr(f"sequencer.cli.{where}", lambda *_: signal.raise_signal(signal.SIGINT))
    assert main(["rules"]) == 130
    assert capsys.readouterr().err == "interrupted before all was done\n"


def test_what_a_process_ignores_is_left_ignored() -> None:
    """Started in the background by a shell, the program does not hear Ctrl-C at all, then as before."""
    code = (
        "import signal; signal.signal(signal.SIGINT, signal.SIG_IGN); import sequencer.__main__ as it, sequencer.cli\n"
        "sequencer.cli.main = lambda: signal.raise_signal(signal.SIGINT) or 7\n"
        "exit(it.main() + (signal.getsignal(signal.SIGINT) is signal.SIG_IGN))"
    )
    env = {**os.environ, "PYTHONPATH": str(Path(__file__).parents[1])}
    assert subprocess.run([sys.executable, "-c", code], env=env, check=False).returncode == 8


def test_a_command_started_to_ignore_ctrl_c_ignores_it_while_it_plans() -> None:
    """As a shell starts what runs in the background: the key is meant for what runs in front."""
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        with _interruptible() as pressed:
            os.kill(os.getpid(), signal.SIGINT)
            assert not pressed()
            assert signal.getsignal(signal.SIGINT) is signal.SIG_IGN
    finally:
        signal.signal(signal.SIGINT, before)
