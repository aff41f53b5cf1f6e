"""Kernels compiled to machine code the first time they are needed on a machine, then kept.

They work on flat numpy arrays only. Plain Python around them lays problems out as arrays, keeps the clock and
asks whether to stop.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar, cast

import numba

_Kernel = TypeVar("_Kernel", bound=Callable[..., object])


def kernel(function: _Kernel) -> _Kernel:
    """Compile this function when it is first called, keep the result on disk, and let other threads run."""
    return cast("_Kernel", numba.njit(cache=True, nogil=True)(function))
