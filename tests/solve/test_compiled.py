"""Kernels are compiled beside the work: clock and stop are heard meanwhile."""

from __future__ import annotations

import os
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from sequencer.solve.compiled import kept, kernels, prepare
from sequencer.solve.compiled.bits import lowest
from sequencer.solve.proof.warm import warm


def unkept(tmp_path: Any) -> Any:
    """Something like a kernel whose result is nowhere on disk."""
    return SimpleNamespace(py_func=unkept, stats=SimpleNamespace(cache_path=str(tmp_path)))


def test_what_is_kept_is_not_prepared_again() -> None:
    """After the warming up nobody is asked to wait."""
    warm()
    prepare([kernels.entry, kernels.view, kernels.ask], "no.such.module", pytest.fail)


def test_the_clock_is_heard_while_kernels_are_compiled(tmp_path: Any) -> None:
    """What is asked now and then may end the waiting."""

    def out_of_time() -> None:
        raise TimeoutError

    with pytest.raises(TimeoutError):
        prepare([unkept(tmp_path)], "timeit", out_of_time)


def test_a_failing_process_does_no_harm(tmp_path: Any) -> None:
    """Where the process beside cannot do it, the waiting ends all the same."""
    asked = []
    prepare([unkept(tmp_path)], "no.such.module", lambda: asked.append(1))
    assert asked


def test_what_is_kept_counts_as_new_once_it_was_found_good(tmp_path: Path) -> None:
    """In a copied folder it may be older than its source: then a process beside looks at it, and after that nobody
    does. A process that fails makes nothing good.
    """
    old = tmp_path / f"{Path(__file__).stem}.unkept-1.nbi"
    for module, good in (("no.such.module.either", False), ("this", True)):
        old.touch()
        os.utime(old, (0, 0))
        prepare([unkept(tmp_path)], module, lambda: None)
        assert kept([unkept(tmp_path)]) == good


@pytest.mark.parametrize("place", [0, 1, 31, 62, 63])
def test_lowest_bit(place: int) -> None:
    """The place of the lowest bit, whatever stands above it."""
    import numba
    import numpy as np

    @numba.njit
    def found(word: Any) -> Any:
        return lowest(word)

    assert found(np.uint64(1 << place | 1 << 63)) == place
