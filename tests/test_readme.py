"""The Python of README runs as it stands there, one piece after the other, from the root of a clone."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from sequencer.happened import told
from sequencer.remainder import replan

ROOT = Path(__file__).parent.parent


def test_the_python_of_the_readme_runs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A job is planned, and the plan written is gone on with as the command line beside it says."""
    shutil.copytree(ROOT / "examples", tmp_path / "examples")
    monkeypatch.chdir(tmp_path)
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    planning, going_on = (text.split("```")[0] for text in readme.split("```python\n")[1:])
    said: dict = {"print": lambda *_: None}
    exec(planning, said)
    assert said["found"].status == "optimal"
    Path("boxes.json").write_text(said["found"].model_dump_json(), encoding="utf-8")
    exec(going_on, said)
    (command,) = [line for line in readme.splitlines() if line.startswith("sequencer replan examples/")]
    assert '--done 20 --spoiled "large front=1" --moved saw.tilt' in command
    happened = told(said["job"], said["boxes"], 20, "", ["large front=1"], ["saw.tilt"])
    rest = replan(said["job"], said["boxes"], happened)
    assert said["rest"].model_dump_json() == rest.model_dump_json()
    assert "large front (remade)" in {part.id for part in said["rest"].parts}
