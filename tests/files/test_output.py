"""Files are written whole or not at all."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from sequencer.diagnostics import InputError
from sequencer.files import write_whole


def test_text_and_bytes(tmp_path: Path) -> None:
    """Text is written as UTF-8, bytes as they are, and what stood there before is replaced."""
    path = tmp_path / "plan.json"
    write_whole(path, "45°\n")
    assert path.read_bytes() == "45°\n".encode()
    write_whole(path, b"\x00\xff")
    assert path.read_bytes() == b"\x00\xff"
    assert os.listdir(tmp_path) == ["plan.json"]


def test_permissions_stay(tmp_path: Path) -> None:
    """A file that is replaced keeps its permissions; a new one gets the usual ones."""
    path = tmp_path / "plan.json"
    path.write_text("old")
    path.chmod(0o640)
    write_whole(path, "new")
    assert path.stat().st_mode & 0o777 == 0o640
    mask = os.umask(0)
    os.umask(mask)
    write_whole(tmp_path / "fresh.json", "new")
    assert (tmp_path / "fresh.json").stat().st_mode & 0o777 == 0o666 & ~mask


def test_a_link_stays_a_link(tmp_path: Path) -> None:
    """Written through a link, the file it points to changes and the link stays."""
    (tmp_path / "real.json").write_text("old")
    (tmp_path / "link.json").symlink_to("real.json")
    write_whole(tmp_path / "link.json", "new")
    assert (tmp_path / "link.json").is_symlink()
    assert (tmp_path / "real.json").read_text() == "new"


def test_where_nothing_can_be_written(tmp_path: Path) -> None:
    """A missing folder and a folder in the file's place are told in words."""
    with pytest.raises(InputError, match="there is no folder"):
        write_whole(tmp_path / "none" / "plan.json", "x")
    with pytest.raises(InputError, match="this is a folder"):
        write_whole(tmp_path, "x")
    assert os.listdir(tmp_path) == []


def test_nothing_half_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """When the disk fails on the way, the old file is whole and no other is left behind."""
    path = tmp_path / "plan.json"
    path.write_text("old")

    def full(_handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(InputError, match="no space left on device"):
        write_whole(path, "new")
    assert path.read_text() == "old"
    assert os.listdir(tmp_path) == ["plan.json"]
