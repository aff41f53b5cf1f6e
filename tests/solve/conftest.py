"""Fixtures for the tests of the engines."""

from __future__ import annotations

from time import monotonic, sleep

import pytest

from sequencer.solve.compiled import kept
from sequencer.solve.proof.climb import KERNELS, ready

PATIENCE = 300.0
"""Seconds after which a test compiles what it needs for itself."""


@pytest.fixture(autouse=True, scope="session")
def kernels_kept() -> None:
    """Wait for what was begun when the tests began: compiled here too, it would take twice as long."""
    until = monotonic() + PATIENCE
    while not kept(KERNELS) and monotonic() < until:
        sleep(0.1)


@pytest.fixture
def compiled() -> None:
    """The kernels compiled; until they are, the first time on a machine, plain Python fills the time."""
    while not ready():
        sleep(0.1)
