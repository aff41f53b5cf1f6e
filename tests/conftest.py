"""The kernels of the search are compiled once, beside the first tests, and not by each process that runs tests."""

from __future__ import annotations

import pytest

from sequencer.solve.proof.climb import ready


def pytest_sessionstart(session: pytest.Session) -> None:
    """Begin, unless they are kept from an earlier time. Tests that need them wait (`solve/conftest.py`)."""
    if not hasattr(session.config, "workerinput") and not session.config.option.collectonly:
        ready()
