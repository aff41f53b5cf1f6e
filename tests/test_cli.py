"""The command as a user runs it: exit codes, what stands on standard output, what is written."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from sequencer.cli import main
from tests.sample_plans import tea_boxes

SHOP = """
[shop]
name = "Invented bench"
unit = "mm"
walk = 1.0

[[station]]
id = "saw"
name = "table saw"
[[station.setting]]
id = "tilt"
start = 0
reset = 4.0
stops = [{ value = 0, reset = 1.0 }, { value = 45, reset = 1.5 }]
limits = { min = 0, max = 47 }

[[station]]
id = "bench"
name = "bench"
"""

JOB = """
[job]
name = "Two boards"
unit = "mm"
shop = "shop.toml"

[[operation]]
id = "square"
station = "saw"
settings = { tilt = 0 }
minutes_each = 1

[[operation]]
id = "bevel"
station = "saw"
settings = { tilt = 45 }
after = ["square"]

[[operation]]
id = "glue"
station = "bench"
after = ["bevel"]
"""


def run(*arguments: str, folder: Path, **environment: str) -> subprocess.CompletedProcess[str]:
    """The command run in `folder`, its output captured."""
    root = str(Path(__file__).parent.parent)
    return subprocess.run(
        [sys.executable, "-m", "sequencer", *arguments],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": root, "COLUMNS": "80", **environment},
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=120,
        check=False,
    )


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with a small job and its shop."""
    (tmp_path / "shop.toml").write_text(SHOP, encoding="utf-8")
    (tmp_path / "job.toml").write_text(JOB, encoding="utf-8")
    return tmp_path


def test_plan_prints_and_succeeds(folder: Path) -> None:
    """A sound job ends in exit code 0 with its plan printed within 80 columns."""
    done = run("plan", "job.toml", folder=folder)
    assert done.returncode == 0, done.stderr
    assert "Two boards" in done.stdout
    assert max(map(len, done.stdout.splitlines())) <= 80


def test_json_on_standard_output_stands_alone(folder: Path) -> None:
    """With `--json -` standard output is the plan alone; its figures are those worked out by hand."""
    done = run("plan", "job.toml", "--json", "-", folder=folder)
    plan = json.loads(done.stdout)
    assert plan["schema"] == "plan/1"
    assert plan["status"] == "optimal"
    assert [step["operation"] for step in plan["steps"]] == ["square", "bevel", "glue"]
    # tilt starts at 0: only the move to the stop at 45 pays, 1.5; one walk, 1; one minute of work
    assert (plan["reset_minutes"], plan["walk_minutes"], plan["work_minutes"]) == (1.5, 1.0, 1.0)
    assert plan["cost_minutes"] == plan["bound_minutes"] == 3.5
    assert plan["steps"][1]["resets"] == [{"setting": "tilt", "from": 0, "to": 45, "minutes": 1.5}]


def test_json_file_is_written_and_shown(folder: Path) -> None:
    """The file that `--json` writes prints the same plan through `show`, without the job."""
    assert run("plan", "job.toml", "--json", "plan.json", "--show", "summary", folder=folder).returncode == 0
    (folder / "job.toml").unlink()
    shown = run("show", "plan.json", folder=folder)
    assert shown.returncode == 0, shown.stderr
    assert "Two boards" in shown.stdout


def test_same_job_same_file(folder: Path) -> None:
    """Planned twice, a job gives the same bytes."""
    texts = [run("plan", "job.toml", "--json", "-", folder=folder).stdout for _ in range(2)]
    assert texts[0] == texts[1]


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (["plan", "missing.toml"], 2, "missing.toml"),
        (["plan", "job.toml", "--time-limit", "0"], 2, "--time-limit"),
        (["plan", "job.toml", "--time-limit", "nan"], 2, "--time-limit"),
        (["plan"], 2, "JOB"),
        (["angles", "--sides", "2", "--slope", "90"], 2, "2 sides"),
        (["angles", "--sides", "6", "--slope", "0"], 2, "slope"),
        (["angles", "--sides", "6", "--slope", "91"], 2, "slope"),
        (["angles", "--corner", "180"], 2, "corner"),
        (["angles", "--sides", "6", "--corner", "90"], 2, "--corner"),
        (["angles"], 2, "--sides"),
        (["angles", "--corner", "90", "--spring", "95"], 2, "a spring angle of 95° is not possible"),
        (["angles", "--corner", "90", "--json", ""], 2, "argument --json: must name what to write"),
        (["cards", "job.toml", "-o", "x.pdf", "--csv", " "], 2, "argument --csv: must name what to write"),
        (["show", "job.toml"], 2, "job.toml"),
        (["plan", "job.toml", "--json", "nowhere/plan.json"], 2, "nowhere"),
        (["plan", "job.toml", "--json", "."], 2, "this is a folder"),
        (["plan", "job.toml", "--json", "shop.toml"], 2, "shop.toml: this file is read"),
        (["joints", "job.toml", "--json", "job.toml"], 2, "job.toml: this file is read"),
        (["cards", "job.toml", "-o", "nowhere.pdf", "--csv", "job.toml/sub"], 2, "job.toml is a file"),
        (["cards", "job.toml", "-o", "nowhere.pdf", "--html", "nowhere.pdf"], 2, "written twice"),
    ],
)
def test_wrong_usage(arguments: list[str], code: int, words: str, folder: Path) -> None:
    """What cannot be read or asked for ends in exit code 2 and a message that names it; no traceback."""
    done = run(*arguments, folder=folder)
    assert done.returncode == code
    assert words in done.stderr
    assert "Traceback" not in done.stderr
    assert sorted(os.listdir(folder)) == ["job.toml", "shop.toml"]
    assert (folder / "job.toml").read_text() == JOB


@pytest.mark.parametrize(
    ("arguments", "left", "told"),
    [
        (["check", "job.toml", "--seed", "3"], "--seed 3", "usage: sequencer check [-h] JOB\n"),
        (["cards", "job.toml", "-o", "x.pdf", "--show", "cards"], "--show cards", "[--paper {a4,letter}]"),
        (["rules", "job.toml", "shop.toml"], "shop.toml", "usage: sequencer rules [-h] [JOB]\n"),
    ],
)
def test_what_a_command_does_not_take(arguments: list[str], left: str, told: str, folder: Path) -> None:
    """What is left over is told with what this very command takes."""
    done = run(*arguments, folder=folder)
    assert done.returncode == 2
    assert done.stderr.endswith(f"sequencer {arguments[0]}: error: unrecognized arguments: {left}\n")
    assert told in done.stderr


def test_a_cycle_ends_in_exit_code_3(folder: Path) -> None:
    """A job whose operations wait for each other is told so, operation by operation, with nothing written."""
    cyclic = JOB.replace('id = "square"', 'id = "square"\nafter = ["glue"]')
    (folder / "job.toml").write_text(cyclic, encoding="utf-8")
    done = run("plan", "job.toml", "--json", "plan.json", folder=folder)
    assert done.returncode == 3
    for name in ("square", "bevel", "glue"):
        assert name in done.stderr
    assert not (folder / "plan.json").exists()


def test_the_mates_that_cannot_be_kept_are_named(folder: Path) -> None:
    """Not those that need another operation before them to set the fence, which is there: without the others the job is
    planned.
    """
    (folder / "shop.toml").write_text(
        """
[shop]
name = "s"
unit = "mm"
[[station]]
id = "saw"
setting = [
    { id = "fence", reset = 1, limits = { min = 0, max = 600 } },
    { id = "height", reset = 1, limits = { min = 0, max = 80 } },
]
""",
        encoding="utf-8",
    )
    wants = [
        ("rip sides", "settings = { fence = 100 }"),
        ("mark", ""),
        ("rip ends", 'settings = { fence = 100 }\nafter = ["mark"]'),
        ("rebate one", "settings = { height = 10 }"),
        ("groove", 'settings = { height = 20 }\nafter = ["rebate one"]'),
        ("rebate two", 'settings = { height = 10 }\nafter = ["groove"]'),
    ]
    job = '[job]\nname = "j"\nshop = "shop.toml"\n'
    job += "".join(f'[[operation]]\nid = "{name}"\nstation = "saw"\n{more}\n' for name, more in wants)
    kept = '[[mates]]\noperations = ["mark", "rip ends"]\nhold = ["saw.fence"]\n'
    apart = '[[mates]]\noperations = ["rebate one", "rebate two"]\nhold = ["saw.height"]\n'
    (folder / "job.toml").write_text(job + kept, encoding="utf-8")
    assert run("plan", "job.toml", folder=folder).returncode == 0
    (folder / "job.toml").write_text(job + kept + apart, encoding="utf-8")
    done = run("plan", "job.toml", folder=folder)
    assert done.returncode == 3
    assert " ".join(done.stderr.split()) == (
        "job.toml: operations rebate one, groove, rebate two: rebate one and rebate two are mates that hold "
        "saw.height, but no order with groove to be made as well makes them in one visit"
    )


def test_a_plan_is_gone_on_with(folder: Path) -> None:
    """`replan` writes what is left as a plan, `cards` prints it from the file; PLAN.json is not written over."""
    assert run("plan", "job.toml", "--json", "plan.json", folder=folder).returncode == 0
    first = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    asked = ("replan", "job.toml", "plan.json", "--done", "1")
    refused = run(*asked, "--json", "plan.json", folder=folder)
    assert refused.returncode == 2
    assert "must not be written over" in refused.stderr
    assert run(*asked, "--json", "rest.json", folder=folder).returncode == 0
    rest = json.loads((folder / "rest.json").read_text(encoding="utf-8"))
    assert [op["id"] for op in rest["done"]] == [first["steps"][0]["operation"]]
    assert len(rest["steps"]) == len(first["steps"]) - 1
    done = run("cards", "rest.json", "-o", "rest.pdf", folder=folder)
    assert done.returncode == 0, done.stderr
    assert (folder / "rest.pdf").read_bytes().startswith(b"%PDF")


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        (("--done", "99"), "the plan has no step 99"),
        (("--done", "1", "--moved", "saw.titl"), "saw.titl"),
        (("--done", "1", "--skipped", "1", "--skipped", "1"), "step 1 is told twice"),
        (("--done", "1", "--spoiled", "nothing"), 'no part "nothing"'),
    ],
)
def test_what_cannot_be_gone_on_with(folder: Path, asked: tuple[str, ...], says: str) -> None:
    """Exit code 2, and the reason."""
    assert run("plan", "job.toml", "--json", "plan.json", folder=folder).returncode == 0
    done = run("replan", "job.toml", "plan.json", *asked, folder=folder)
    assert done.returncode == 2
    assert says in done.stderr


def test_angles_as_json(folder: Path) -> None:
    """A dodecahedron's cup: gauge 18, tilt 31.7175 (exact polyhedron, computed)."""
    done = run("angles", "--sides", "5", "--slope", "63.43494882292201", "--json", "-", folder=folder)
    found = json.loads(done.stdout)
    assert found["gauge"] == pytest.approx(18.0, abs=1e-9)
    assert found["tilt"] == pytest.approx(31.7174744114610, abs=1e-9)


def test_angles_of_sides_that_slope_differently(folder: Path) -> None:
    """Each side has a gauge and a rip bevel of its own: edges level on a board that leans 30 degrees take 30."""
    asked = ("angles", "--corner", "120", "--slope", "75", "--other-slope", "60")
    found = json.loads(run(*asked, "--json", "-", folder=folder).stdout)
    assert (found["rip_bevel"], found["other_rip_bevel"]) == (pytest.approx(15.0), pytest.approx(30.0))
    printed = run(*asked, folder=folder).stdout
    assert re.search(r"rip bevel, side 1 +15°", printed)
    assert re.search(r"rip bevel, side 2 +30°", printed)


def test_help_is_quick(folder: Path) -> None:
    """The help loads none of the heavy packages."""
    root = str(Path(__file__).parent.parent)
    code = (
        "import sys; sys.argv = ['sequencer', '--help']\n"
        "from sequencer.cli import main\n"
        "try: main()\n"
        "except SystemExit: pass\n"
        "heavy = {'ortools', 'pydantic', 'networkx', 'numba', 'numpy', 'rich', 'typst'} & set(sys.modules)\n"
        "assert not heavy, heavy\n"
    )
    environment = {**os.environ, "PYTHONPATH": root}
    done = subprocess.run([sys.executable, "-c", code], env=environment, capture_output=True, check=False)
    assert done.returncode == 0, done.stderr


def test_interrupted_plan_is_the_best_so_far(tmp_path: Path) -> None:
    """Ctrl-C ends a long search with exit code 130, the plan written and marked as interrupted."""
    from random import Random

    random = Random(3)
    settings = "".join(
        f'[[station.setting]]\nid = "dial{k}"\nreset = {random.choice([1, 2, 3])}\n' for k in range(6)
    )
    shop = '[shop]\nname = "s"\nunit = "mm"\nwalk = 1\n' + "".join(
        f'[[station]]\nid = "st{s}"\nname = "st{s}"\n{settings}' for s in range(3)
    )
    job = '[job]\nname = "long"\nunit = "mm"\nshop = "shop.toml"\n'
    for k in range(1000):
        values = ", ".join(f"dial{d} = {random.randrange(9)}" for d in random.sample(range(6), 3))
        after = [f'"o{j}"' for j in range(max(0, k - 30), k) if random.random() < 0.06]
        job += f'[[operation]]\nid = "o{k}"\nstation = "st{random.randrange(3)}"\nsettings = {{ {values} }}\n'
        job += f"after = [{', '.join(after)}]\n"
    (tmp_path / "shop.toml").write_text(shop, encoding="utf-8")
    (tmp_path / "job.toml").write_text(job, encoding="utf-8")
    root = str(Path(__file__).parent.parent)
    for seconds in (8, 30, 100):  # on a busy machine the program may not have begun to search after the first
        process = subprocess.Popen(
            [
                sys.executable,
                "-m",
                "sequencer",
                "plan",
                "job.toml",
                "--json",
                "plan.json",
                "--show",
                "summary",
            ],
            cwd=tmp_path,
            env={**os.environ, "PYTHONPATH": root},
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
        )
        time.sleep(seconds)
        process.send_signal(signal.SIGINT)
        _, errors = process.communicate(timeout=120)
        assert process.returncode == 130, errors
        if (tmp_path / "plan.json").exists():
            break
    plan = json.loads((tmp_path / "plan.json").read_text(encoding="utf-8"))
    assert plan["interrupted"] is True
    assert plan["status"] == "feasible"
    assert len(plan["steps"]) == 1000


@pytest.mark.parametrize(
    ("presses", "waits", "kept"), [(1, 5.0, True), (2, 5.0, True), (3, 5.0, False), (2, 0.0, False)]
)
@pytest.mark.parametrize("when", ["searching", "found"])
def test_a_second_press_does_not_throw_the_plan_away(
    when: str,
    presses: int,
    waits: float,
    kept: bool,
    folder: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Pressed while the first press takes effect, or while the plan is handed over, it is ignored; the third press, and
    one when patience is over, ends at once, and does not say that there was nothing."""
    from sequencer import cli, pipeline

    ordered, write = pipeline.order, cli._write
    monkeypatch.setattr(cli, "PATIENCE", waits)
    heard = signal.getsignal(signal.SIGINT)

    def press(times: int) -> None:
        for _ in range(times):
            os.kill(os.getpid(), signal.SIGINT)
            time.sleep(0.01)

    def pressed(*arguments: object, **more: object) -> object:
        press(presses if when == "searching" else 1)
        assert arguments[-1]() is True  # type: ignore[operator] - the search asks whether to stop
        return ordered(*arguments[:-1], **more)  # type: ignore[arg-type]

    def late(path: str, content: str) -> None:
        press(presses - 1 if when == "found" else 0)
        write(path, content)

    monkeypatch.setattr(pipeline, "order", pressed)
    monkeypatch.setattr(cli, "_write", late)
    code = cli.main(["plan", str(folder / "job.toml"), "--json", str(folder / "plan.json")])
    said = capsys.readouterr()
    assert (folder / "plan.json").exists() is kept
    assert ("Takes" in said.out) is kept
    if kept:
        assert (code, said.err) == (0, "")  # the plan was found and proven all the same
    else:
        assert code == 130
        assert said.err == "interrupted again, before the best plan so far was handed over in full\n"
    assert signal.getsignal(signal.SIGINT) is heard


def test_booklet_goes_to_standard_output_alone(folder: Path) -> None:
    """`cards JOB -o -` writes a PDF to standard output, and nothing beside it nor a file called "-"."""
    root = str(Path(__file__).parent.parent)
    done = subprocess.run(
        [sys.executable, "-m", "sequencer", "cards", "job.toml", "-o", "-", "--csv", "tables"],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": root},
        capture_output=True,
    )
    assert done.returncode == 0
    assert done.stdout.startswith(b"%PDF-")
    assert done.stdout.rstrip().endswith(b"%%EOF")
    assert not (folder / "-").exists()
    assert b"cut-list.csv" in done.stderr


def test_booklet_is_not_poured_into_a_terminal(folder: Path) -> None:
    """Where standard output is a terminal, `-o -` is refused with exit code 2 and what to do instead."""
    pty = pytest.importorskip("pty")
    ours, theirs = pty.openpty()
    done = subprocess.run(
        [sys.executable, "-m", "sequencer", "cards", "job.toml", "-o", "-"],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(Path(__file__).parent.parent)},
        stdout=theirs,
        stderr=subprocess.PIPE,
        text=True,
    )
    os.close(theirs)
    os.close(ours)
    assert done.returncode == 2
    assert "redirect it or name a file" in " ".join(done.stderr.split())


def test_drawings_that_cannot_be_written_leave_nothing_behind(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Their names are known with the plan: a folder of such a name is told before the booklet is written."""
    path = tmp_path / "plan.json"
    path.write_text(tea_boxes("mm").model_dump_json(), encoding="utf-8")
    (tmp_path / "drawn" / "timeline.svg").mkdir(parents=True)
    wanted = ["-o", str(tmp_path / "cards.pdf"), "--svg", str(tmp_path / "drawn")]
    assert main(["cards", str(path), *wanted]) == 2
    assert "this is a folder, not a file to write" in " ".join(capsys.readouterr().err.split())
    assert sorted(each.name for each in tmp_path.rglob("*")) == ["drawn", "plan.json", "timeline.svg"]
    (tmp_path / "drawn" / "timeline.svg").rmdir()
    wanted[1] = str(tmp_path / "drawn" / "timeline.svg")
    assert main(["cards", str(path), *wanted]) == 2
    assert "would be written twice" in " ".join(capsys.readouterr().err.split())
    assert not [*(tmp_path / "drawn").iterdir()]


def test_a_drawing_writes_over_no_file_the_job_is_read_from(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A link of a drawing's name that leads to the shop file is refused, and the shop file stays as it is."""
    examples = Path(__file__).parents[1] / "examples"
    for name in ("shop.toml", "mitred-box/job.toml"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text((examples / name).read_text(encoding="utf-8"), encoding="utf-8")
    shop = (tmp_path / "shop.toml").read_text(encoding="utf-8")
    (tmp_path / "drawn").mkdir()
    (tmp_path / "drawn" / "timeline.svg").symlink_to("../shop.toml")
    job, pdf = str(tmp_path / "mitred-box" / "job.toml"), tmp_path / "cards.pdf"
    assert main(["cards", job, "-o", str(pdf), "--svg", str(tmp_path / "drawn"), "--time-limit", "5"]) == 2
    assert "must not be written over" in " ".join(capsys.readouterr().err.split())
    assert (tmp_path / "shop.toml").read_text(encoding="utf-8") == shop
    assert not pdf.exists()


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (
            ["replan", "job.toml", "plan.json", "--done", "x"],
            "--done: must be a whole number, such as 4, not 'x'",
        ),
        (["plan", "job.toml", "--seed", "1.5"], "--seed: must be a whole number, such as 4, not '1.5'"),
        (
            ["cards", "job.toml", "-o", "c", "--per-sheet", "x"],
            "--per-sheet: must be a whole number, such as 4",
        ),
        (["angles", "--sides", "x"], "--sides: must be a whole number, such as 4, not 'x'"),
        (["angles", "--corner", "x"], "--corner: must be a number of degrees, such as 22.5, not 'x'"),
        (["angles", "--spring", "nan"], "--spring: must be a number of degrees, such as 22.5, not 'nan'"),
        (["plan", ""], "JOB: must name a file, not be empty"),
        (["replan", "job.toml", " ", "--done", "1"], "PLAN.json: must name a file, not be empty"),
        (["show", ""], "PLAN.json: must name a file, not be empty"),
        (["cards", "", "-o", "c"], "JOB: must name a file, not be empty"),
        (["rules", ""], "JOB: must name a file, not be empty"),
    ],
)
def test_what_an_argument_takes(words: list[str], says: str, capsys: pytest.CaptureFixture[str]) -> None:
    """It is told in the words of people, not of the program; an empty name names no file."""
    with pytest.raises(SystemExit) as left:
        main(words)
    assert left.value.code == 2
    assert says in capsys.readouterr().err
