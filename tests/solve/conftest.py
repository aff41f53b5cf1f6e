"""Fixtures for the tests of the engines."""

from __future__ import annotations

from time import sleep

import pytest

from sequencer.solve.climb import ready


@pytest.fixture
def compiled() -> None:
    """The kernels compiled; until they are, the first time on a machine, plain Python fills the time."""
    while not ready():
        sleep(0.1)
