"""Files are written whole or not at all."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from sequencer.diagnostics import InputError
from sequencer.files import write_whole
from sequencer.files.output import Output, demand_writable, make_folder


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


def said(outputs: list[Output], inputs: list[Path] | None = None) -> list[str]:
    """What is said of these outputs."""
    with pytest.raises(InputError) as refused:
        demand_writable(outputs, inputs or ())
    return [fault.message for fault in refused.value.faults]


def test_what_cannot_be_written_is_said_before_the_work(tmp_path: Path) -> None:
    """Folders for files, files for folders, missing folders, and files that are read or written already."""
    job, inside = tmp_path / "job.toml", tmp_path / "inside"
    job.write_text("")
    inside.mkdir()
    (inside / "steps.csv").write_text("read")
    (tmp_path / "link.pdf").symlink_to(job)
    tables = ("cut-list.csv", "steps.csv")
    assert said([Output(str(tmp_path)), Output(str(tmp_path / "none" / "a.pdf")), Output("")]) == [
        "this is a folder, not a file to write",
        f"there is no folder {tmp_path / 'none'} to write into",
        "this names no file to write",
    ]
    assert said([Output(str(job), tables, is_folder=True), Output(str(job / "sub"), is_folder=True)]) == [
        "this is a file, not a folder to write into",
        f"{job} is a file, not a folder to write into",
    ]
    assert said([Output(str(tmp_path / "link.pdf"))], [job]) == [
        "this file is read, and must not be written over"
    ]
    assert said([Output(str(inside), tables, is_folder=True)], [inside / "steps.csv"]) == [
        "this file is read, and must not be written over"
    ]
    a = Output(str(tmp_path / "a.pdf"))
    assert said([a, Output(str(inside / ".." / "a.pdf"))]) == ["this file would be written twice"]
    fresh = Output(str(tmp_path / "new" / "folder"), tables, is_folder=True)
    demand_writable([a, fresh, Output(os.devnull), Output(os.devnull)], [job])
    assert sorted(os.listdir(tmp_path)) == ["inside", "job.toml", "link.pdf"]


@pytest.mark.parametrize("folder", ["a.pdf", "./a.pdf", "a.pdf/figures"])
def test_a_path_is_not_a_file_and_a_folder(tmp_path: Path, folder: str) -> None:
    """Whichever is asked for first, and however it is written; a folder makes those it lies in, too."""
    file, files = (
        Output(str(tmp_path / "a.pdf")),
        Output(f"{tmp_path}/{folder}", ("steps.csv",), is_folder=True),
    )
    for outputs in ([file, files], [files, file]):
        assert said(outputs) == ["this would be both a file and a folder"]
    beside = Output(str(tmp_path / "a"), is_folder=True)
    demand_writable([file, beside, beside])
    assert not os.listdir(tmp_path)


def test_a_folder_is_made_without_detours(tmp_path: Path) -> None:
    """`new/../cards` makes no folder "new", but steps through folders, and links to some, that are there lead on."""
    (tmp_path / "a" / "b").mkdir(parents=True)
    (tmp_path / "link").symlink_to(tmp_path / "a" / "b")
    for asked, made in (
        ("none/../cards", "cards"),
        ("none/more/../../figures/x", "figures/x"),
        ("a/../beside", "beside"),
        ("link/../c", "a/c"),
    ):
        way = make_folder(tmp_path / asked)
        assert (tmp_path / made).is_dir()
        assert way.samefile(tmp_path / made)
    assert sorted(os.listdir(tmp_path)) == ["a", "beside", "cards", "figures", "link"]


def test_files_in_a_folder_that_is_there(tmp_path: Path) -> None:
    """Where a file is to be written into it, a folder of that name is refused; what is not known yet is not."""
    (tmp_path / "out" / "steps.csv").mkdir(parents=True)
    out = Output(str(tmp_path / "out"), ("cut-list.csv", "steps.csv"), is_folder=True)
    with pytest.raises(InputError) as refused:
        demand_writable([out])
    (fault,) = refused.value.faults
    assert (fault.file, fault.message) == (
        str(tmp_path / "out" / "steps.csv"),
        "this is a folder, not a file to write",
    )
    demand_writable([out._replace(names=())])


def test_links_that_lead_nowhere(tmp_path: Path) -> None:
    """What is told is where the link leads, not a permission; before the work and when it is written."""
    for name, to in (
        ("far.json", "nowhere/x.json"),
        ("round.json", "round.json"),
        ("new.json", "fresh.json"),
    ):
        (tmp_path / name).symlink_to(to)
    gone = tmp_path / "nowhere"
    far = f"this link leads to {gone / 'x.json'}, and there is no folder {gone} to write into"
    round_ = "this link leads back to itself"
    for name, why in (("far.json", far), ("round.json", round_)):
        assert said([Output(str(tmp_path / name))]) == [why]
        with pytest.raises(InputError) as refused:
            write_whole(tmp_path / name, "x")
        assert [fault.message for fault in refused.value.faults] == [why]
    demand_writable([Output(str(tmp_path / "new.json"))])
    write_whole(tmp_path / "new.json", "x")
    assert (tmp_path / "fresh.json").read_text() == "x"
