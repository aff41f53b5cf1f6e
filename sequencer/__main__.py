"""Where the program begins, as `sequencer` or `python -m sequencer`: from here on Ctrl-C ends it without traceback."""

from __future__ import annotations

import os
import signal

from sequencer import INTERRUPTED

TYPE_CHECKING = False  # of `typing`, which takes longer to load than all this
if TYPE_CHECKING:
    from types import FrameType


def main() -> int:
    """Run one command; returns its exit code (see `sequencer.cli`)."""
    ours = signal.getsignal(signal.SIGINT) is signal.default_int_handler  # else it is to be ignored
    if ours:
        signal.signal(signal.SIGINT, _interrupted)
    try:
        from sequencer.cli import main as run

        return run()
    except KeyboardInterrupt:  # again, while the first was told
        return INTERRUPTED
    finally:
        if ours:
            signal.signal(signal.SIGINT, signal.SIG_DFL)


def _interrupted(_signal: int, frame: FrameType | None) -> None:
    """End the program at once where a module is being loaded, when nothing is being written; else interrupt it.

    Libraries make anything of an interrupt while they are loaded: an ImportError, a panic, half a module.
    """
    while frame is not None:
        if frame.f_code.co_filename.startswith("<frozen importlib"):
            os.write(2, b"interrupted before all was done\n")
            os._exit(INTERRUPTED)
        frame = frame.f_back
    raise KeyboardInterrupt


if __name__ == "__main__":
    raise SystemExit(main())
