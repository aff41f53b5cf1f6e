"""The kernels of the search are compiled once, beside the first tests, and not by each process that runs tests. Ctrl-C
is heard, however the tests were started.
"""

from __future__ import annotations

import signal

import pytest

from sequencer.solve.proof.climb import ready


def pytest_configure() -> None:
    """A shell lets what it starts in the background ignore Ctrl-C, and this is inherited; tests press it."""
    if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
        signal.signal(signal.SIGINT, signal.default_int_handler)


def pytest_sessionstart(session: pytest.Session) -> None:
    """Begin, unless they are kept from an earlier time. Tests that need them wait (`solve/conftest.py`)."""
    if not hasattr(session.config, "workerinput") and not session.config.option.collectonly:
        ready()
