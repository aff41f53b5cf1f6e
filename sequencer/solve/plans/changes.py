"""What is known of changing a plan (`improve`) without its compiled code, which is slow to load."""

from __future__ import annotations

CHANGE = 2
"""Work, in states seen, that takes as long as one change of a plan."""

ENOUGH = 60_000
"""Changes of a plan tried before it is begun anew with, or left alone: another way down is worth more then than more of
the same.
"""
