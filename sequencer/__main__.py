"""`python -m sequencer`."""

from sequencer.cli import main

if __name__ == "__main__":
    raise SystemExit(main())
