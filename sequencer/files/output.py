"""Writing a file whole or not at all."""

from __future__ import annotations

import contextlib
import os
import tempfile
from pathlib import Path

from sequencer.diagnostics import Fault, InputError


def write_whole(path: str | Path, content: str | bytes) -> None:
    """Write `content` to `path`: into a file beside it first, which then takes its place.

    What stood there before stays whole until the new file is complete. A device or a pipe is written to
    directly. Raises InputError where it cannot be written; nothing is left behind then.
    """
    path = Path(path)
    data = content.encode("utf-8") if isinstance(content, str) else content
    try:
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


def demand_folder(path: str | Path) -> None:
    """Raise InputError where `path` has no folder to be written into: said before long work, not after it."""
    folder = Path(path).parent
    if not folder.is_dir():
        raise InputError([Fault(f"there is no folder {folder} to write into", str(path))])


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
