"""What the sheets around the cards say, as the page sets it."""

from __future__ import annotations

from typing import Any

from sequencer.planbook import PlanBook


def sheet_values(book: PlanBook) -> dict[str, Any] | None:
    return None
