"""What the built wheel carries: the modules, and the rule books exactly as they stand in `rules/`."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from zipfile import ZipFile

import pytest

ROOT = Path(__file__).parent.parent


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A wheel built from the working tree, without a network."""
    folder = tmp_path_factory.mktemp("wheel")
    # Not through pip: an environment may have none.
    command = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(folder)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    (built,) = folder.glob("*.whl")
    return built


def test_wheel_carries_the_rule_books(wheel: Path) -> None:
    """The wheel's rule books are those of the folder, byte for byte, and nothing besides them."""
    with ZipFile(wheel) as archive:
        shipped = {
            name.removeprefix("sequencer/rules/"): archive.read(name)
            for name in archive.namelist()
            if name.startswith("sequencer/rules/")
        }
    assert shipped == {path.name: path.read_bytes() for path in (ROOT / "rules").glob("*.toml")}


def test_wheel_carries_every_module(wheel: Path) -> None:
    """Every module of the package is in the wheel, and nothing from beside the package but the books."""
    with ZipFile(wheel) as archive:
        names = set(archive.namelist())
    modules = {path.relative_to(ROOT).as_posix() for path in (ROOT / "sequencer").rglob("*.py")}
    assert modules <= names
    assert {name.split("/")[0] for name in names if ".dist-info/" not in name} == {"sequencer"}


def test_wheel_finds_its_books(wheel: Path, tmp_path: Path) -> None:
    """Unpacked elsewhere, or straight from the zipped wheel, the package finds the books it carries."""
    unpacked = tmp_path / "site"
    with ZipFile(wheel) as archive:
        archive.extractall(unpacked)
    titles = {path.stem for path in (ROOT / "rules").glob("*.toml")}
    for place in (unpacked, wheel):
        script = (
            f"import sys; sys.path.insert(0, {str(place)!r})\n"
            "import sequencer; from sequencer.precedence.rulebook import load_books\n"
            f"assert sequencer.__file__.startswith({str(place)!r}), sequencer.__file__\n"
            "print(len(load_books()))"
        )
        command = [sys.executable, "-I", "-c", script]
        done = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True)
        assert done.stdout.strip() == str(len(titles)), done.stderr


def test_rules_folder_holds_only_books() -> None:
    """No module lies among the rule books: an editable install would break on it."""
    assert {path.suffix for path in (ROOT / "rules").iterdir()} == {".toml"}
