"""The Python of README runs as it stands there, one piece after the other, from the root of a clone; its card is
printed so.
"""

from __future__ import annotations

import re
import shutil
from io import StringIO
from pathlib import Path

import pytest

from sequencer import load_job
from sequencer.bench.happened import told
from sequencer.bench.remainder import replan
from sequencer.joinery import derive, joint_report
from sequencer.joinery.report import JointReport
from sequencer.operations import slug
from sequencer.report.terminal import make_console, print_cards
from tests.report.printed import example

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


@pytest.mark.parametrize("name", sorted(path.parent.name for path in (ROOT / "examples").glob("*/job.toml")))
def test_the_ids_of_derived_operations_are_made_as_the_readme_says(name: str) -> None:
    """Of every example: each id is one of the table's, with the job's own names in it."""
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    table = readme.split("| id | of |")[1].split("\n\n")[0]
    forms = [form for form in re.findall(r"`([^`]+)`", table) if form.isascii() and "-" in form.strip("-")]
    job = load_job(ROOT / "examples" / name / "job.toml")
    parts = "|".join(slug(part.id) for part in job.parts)
    joints = "|".join(f"{slug(joint.id)}(?:-square-first|-bevel-first)?" for joint in job.joints)
    glued = "|".join(slug(joint.assembly or joint.id) for joint in job.joints)
    last = "(?:-(?:left|right|end|ends|back|face|edge|far|bevel|bevels|mitre|mitres|no|[0-9]))*"
    patterns = [
        form.replace("PART-ends", "PART")
        .replace("45-00", r"\d+-\d\d")
        .replace("PART", f"(?:{parts})")
        .replace("JOINT", f"(?:{joints})")
        .replace("ASSEMBLY", f"(?:{glued})")
        + last
        for form in forms
    ]
    assert len(patterns) == 15
    for operation in derive(job).operations:
        assert any(re.fullmatch(pattern, operation.id) for pattern in patterns), operation.id


def keys_in(value: object) -> set[str]:
    """Every key of objects within a JSON value."""
    if isinstance(value, dict):
        return set(value) | {key for each in value.values() for key in keys_in(each)}
    return {key for each in value for key in keys_in(each)} if isinstance(value, list) else set()


def test_the_readme_has_every_key_that_joints_writes() -> None:
    """What the examples' joints have, and what any joint may have, is told, and nothing else."""
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    section = readme.split("### What `joints --json` writes")[1].split("\n## ")[0]
    tables = [line for line in section.splitlines() if line.startswith("| `")]
    told = {key for line in tables for key in re.findall(r"`([a-z_]+)`", line)} - {"least_wall", "id"}
    jobs = (load_job(path) for path in sorted((ROOT / "examples").glob("*/job.toml")))
    written = [report.model_dump(mode="json") for job in jobs for report in joint_report(job)]
    schema = JointReport.model_json_schema()
    models = [schema, *schema["$defs"].values()]
    assert keys_in(written) <= told
    assert told == {key for model in models for key in model["properties"]}


def test_the_card_of_the_readme_is_whole() -> None:
    """It is printed as it stands there, from its head to its last line."""
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    (told,) = [text for text in readme.split("```text\n")[1:] if text.startswith("Card 6 of 8")]
    out = StringIO()
    print_cards(example("mitred-box"), make_console(out, width=80))
    (card,) = [text for text in out.getvalue().split("\u2501" * 80 + "\n") if text.startswith("Card 6 of 8")]
    assert told.split("```")[0].strip() == "\n".join(line.rstrip() for line in card.splitlines()).strip()
