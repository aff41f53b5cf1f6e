"""Kernels compiled to machine code the first time they are needed on a machine, then kept.

They work on flat numpy arrays only. Plain Python around them lays problems out as arrays, keeps the clock and
asks whether to stop.
"""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable, Sequence
from contextlib import suppress
from functools import cache
from hashlib import sha256
from pathlib import Path
from threading import Lock
from time import sleep
from typing import Any, TypeVar, cast

import numba

FAR_64 = 1 << 50
"""A cost no order can have, in tables of 64 bits: a thousand of them can be added up."""

FAR_32 = 1 << 30
"""The same in tables of 32 bits."""

_Kernel = TypeVar("_Kernel", bound=Callable[..., object])

_njit: Any = numba.njit
_OPTIONS = {"nogil": True, "error_model": "numpy", "_nrt": False}
"""Without the reference counts of arrays (`_nrt`): the caller of a kernel holds them, and kernels make none. Counting
them at every call took a fifth of the time.
"""


def kernel(function: _Kernel) -> _Kernel:
    """Compile this function when it is first called, keep the result on disk, and let other threads run."""
    return _compiled(function)


def inner(function: _Kernel) -> _Kernel:
    """The same for a function that only other kernels call: it becomes part of each of them, for the arrays are handed
    over one by one at every call, and compiles in half the time.
    """
    return _compiled(function, no_cpython_wrapper=True, no_cfunc_wrapper=True, forceinline=True)


def _compiled(function: _Kernel, **more: bool) -> _Kernel:
    try:
        compiled = _njit(cache=True, **_OPTIONS, **more)(function)
    except RuntimeError:  # nowhere to keep it
        return cast("_Kernel", _njit(**_OPTIONS, **more)(function))
    _clear(Path(compiled.stats.cache_path))
    return cast("_Kernel", compiled)


@cache
def _clear(folder: Path) -> None:
    """Throw away what was kept from other sources than these.

    What is kept is told apart by the file of its own function only; but kernels are compiled together with
    functions and constants of other files.
    """
    here = sorted(Path(__file__).parent.glob("*.py"))
    sources = sha256(b"".join(path.read_bytes() for path in here)).hexdigest()
    stamp = folder / "kernels.sources"
    with suppress(OSError):
        if not stamp.exists() or stamp.read_text() != sources:
            for path in here:
                for kept in folder.glob(f"{path.stem}.*.nb?"):
                    kept.unlink()
            folder.mkdir(parents=True, exist_ok=True)
            stamp.write_text(sources)


_beside: dict[str, subprocess.Popen[bytes]] = {}
"""The processes that compile, by the module they run."""

_begin = Lock()
"""Lets one thread at a time begin one."""


def ready(kernels: Sequence[Callable[..., object]], warm: str) -> bool:
    """Whether these kernels need no compiling any more.

    If they do, another process begins it, so that clock and stop are heard meanwhile: it runs the module `warm`, which
    calls each of them once. It goes on when this process ends, for the next time.
    """
    if kept(kernels):
        return True
    with _begin:
        if warm not in _beside:
            paths = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
            silent = subprocess.DEVNULL
            _beside[warm] = subprocess.Popen(
                [sys.executable, "-P", "-m", warm],
                env=paths,
                stdin=silent,
                stdout=silent,
                stderr=silent,
                start_new_session=True,
            )
            return False  # just begun, however soon it ends
    ended = _beside[warm].poll()
    if ended == 0:
        renew(kernels)
    return ended is not None


def prepare(kernels: Sequence[Callable[..., object]], warm: str, tick: Callable[[], None]) -> None:
    """Wait until these kernels need no compiling any more; `tick` is asked meanwhile and may raise."""
    while not ready(kernels, warm):
        tick()
        sleep(0.05)


def kept(kernels: Sequence[Callable[..., object]]) -> bool:
    """Whether the results of compiling these are on disk, or cannot be kept there at all."""
    return all(_kept(function) for function in kernels)


def _kept(function: Any) -> bool:
    """Whether the result of compiling this is on disk, newer than its source; or cannot be kept there at all."""
    if not function.stats.cache_path:
        return True
    since = _source(function).stat().st_mtime
    return any(kept.stat().st_mtime >= since for kept in _results(function))


def renew(kernels: Sequence[Callable[..., object]]) -> None:
    """Let what is kept be newer than its source: it may have been found good though it is not, in a copied folder."""
    for function in kernels:
        for kept in _results(function):
            with suppress(OSError):
                kept.touch()


def _results(function: Any) -> list[Path]:
    """Where the results of compiling this are kept, if they are."""
    folder = Path(function.stats.cache_path or os.devnull)
    return list(folder.glob(f"{_source(function).stem}.{function.py_func.__name__}-*.nbi"))


def _source(function: Any) -> Path:
    return Path(function.py_func.__code__.co_filename)
