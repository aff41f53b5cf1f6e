"""Writing a file whole or not at all."""

from __future__ import annotations

import contextlib
import os
import tempfile
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import NamedTuple

from sequencer.diagnostics import Fault, InputError


def write_whole(path: str | Path, content: str | bytes) -> None:
    """Write `content` to `path`: into a file beside it first, which then takes its place.

    What stood there before stays whole until the new file is complete. A device or a pipe is written to
    directly. Raises InputError where it cannot be written; nothing is left behind then.
    """
    path = Path(path)
    data = content.encode("utf-8") if isinstance(content, str) else content
    try:
        if why := _bars_link(path):
            raise InputError([Fault(why, str(path))])
        if path.exists() and not path.is_file() and not path.is_dir():
            path.write_bytes(data)
            return
        if path.is_dir():
            raise IsADirectoryError
        _replace(path.resolve() if path.is_symlink() else path, data)
    except FileNotFoundError:
        raise InputError([Fault(f"there is no folder {path.parent} to write into", str(path))]) from None
    except IsADirectoryError:
        raise InputError([Fault("this is a folder, not a file to write", str(path))]) from None
    except PermissionError:
        raise InputError([Fault("no permission to write here", str(path))]) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise InputError([Fault(f"cannot be written: {reason.lower()}", str(path))]) from None


_NOT_BOTH = "this would be both a file and a folder"


class Output(NamedTuple):
    """What is to be written: a file, or the files of these names in a folder that is made where it is missing."""

    path: str
    names: tuple[str, ...] = ()
    is_folder: bool = False

    @property
    def files(self) -> list[Path]:
        """The files that are known to be written."""
        return [Path(self.path, name) for name in self.names] if self.is_folder else [Path(self.path)]


def demand_writable(outputs: Iterable[Output], inputs: Iterable[str | Path] = ()) -> None:
    """Raise InputError where not all of this can be written: said before long work, not after it.

    A file that is read (`inputs`) must not be written over, nor one of the outputs by another; nor can a path be a file
    and a folder both.
    """
    taken = {os.path.realpath(path): "is read, and must not be written over" for path in inputs}
    folders: set[str] = set()
    faults = []
    for output in outputs:
        if obstacles := [*_obstacles(output)]:
            faults += obstacles
            continue
        if output.is_folder:
            folder = Path(os.path.realpath(output.path))
            made = {str(folder), *map(str, folder.parents)}
            if made & taken.keys():
                faults.append(Fault(_NOT_BOTH, output.path, accepted="another folder"))
            folders |= made
        for file in output.files:
            real = os.path.realpath(file)
            if real in folders:
                faults.append(Fault(_NOT_BOTH, str(file), accepted="another file"))
            elif real in taken:
                faults.append(Fault(f"this file {taken[real]}", str(file), accepted="another file"))
            if not file.exists() or file.is_file():  # a device takes as much as is written to it
                taken[real] = "would be written twice"
    if faults:
        raise InputError(faults)


def make_folder(folder: Path) -> Path:
    """Make a folder to write into, where it is missing, and nothing besides: `new/../cards` takes no detour by `new`.

    Returns the way to it. Raises InputError where that fails.
    """
    try:
        way = Path()
        for step in folder.parts:
            detour = step == ".." and way.name not in ("", "..") and not way.exists()
            way = way.parent if detour else way / step
        way.mkdir(parents=True, exist_ok=True)
        return way
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise InputError([Fault(f"this folder cannot be made: {reason.lower()}", str(folder))]) from None


def _obstacles(output: Output) -> Iterator[Fault]:
    """Why nothing can be written there: of a folder, what bars it, or the files of it that are known."""
    if not output.path or "\0" in output.path:
        yield Fault("this names no file to write", output.path)
    elif not output.is_folder:
        if why := _bars_file(Path(output.path)):
            yield Fault(why, output.path)
    elif why := _bars_folder(Path(output.path)):
        yield Fault(why, output.path)
    elif os.path.isdir(folder := os.path.realpath(output.path)):
        for name in output.names:
            if why := _bars_file(Path(folder, name)):
                yield Fault(why, str(Path(output.path, name)))


def _bars_folder(path: Path) -> str:
    """Why nothing can be written into a folder, which may be missing; or nothing."""
    there = next(each for each in (path, *path.absolute().parents) if each.exists())
    if not there.is_dir():
        return f"{'this' if there == path else there} is a file, not a folder to write into"
    return "" if os.access(there, os.W_OK | os.X_OK) else f"no permission to write into {there}"


def _bars_file(path: Path) -> str:
    """Why a file cannot be written, or nothing; through a link, the file that it leads to."""
    if path.is_dir():
        return "this is a folder, not a file to write"
    if not path.parent.is_dir():
        return f"there is no folder {path.parent} to write into"
    if why := _bars_link(path):
        return why
    writable = os.access(path, os.W_OK) if path.exists() else True
    if path.exists() and not path.is_file():
        return "" if writable else "no permission to write here"
    return (
        ""
        if writable and os.access(path.resolve().parent, os.W_OK | os.X_OK)
        else "no permission to write here"
    )


def _bars_link(path: Path) -> str:
    """Why nothing can be written through a link, or nothing: it leads round, or into a folder that is missing."""
    real = Path(os.path.realpath(path))
    if not path.is_symlink() or (real.parent.is_dir() and not real.is_symlink()):
        return ""
    if real.is_symlink():
        return "this link leads back to itself"
    return f"this link leads to {real}, and there is no folder {real.parent} to write into"


def _replace(path: Path, data: bytes) -> None:
    if path.exists() and not os.access(path, os.W_OK):
        raise PermissionError
    handle, temporary = tempfile.mkstemp(prefix=f".{path.name[:40]}.", dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        mask = os.umask(0)
        os.umask(mask)
        os.chmod(temporary, path.stat().st_mode & 0o777 if path.exists() else 0o666 & ~mask)
        os.replace(temporary, path)
    except BaseException:
        with contextlib.suppress(OSError):
            os.unlink(temporary)
        raise
