"""The one way the geometry says no: which figure fails, and what would pass."""

from __future__ import annotations

import math


class FigureError(ValueError):
    """A figure that no cut or corner can have.

    `message` names the figure and why it fails; `accepted` says what would pass.
    """

    def __init__(self, message: str, accepted: str) -> None:
        self.message = message
        self.accepted = accepted
        super().__init__(f"{message}; accepted: {accepted}")


def number(value: float) -> str:
    """The figure as a person writes it: at most four decimals, no trailing noughts.

    >>> number(12.50), number(3), number(0.123456)
    ('12.5', '3', '0.1235')
    """
    text = f"{value:.4f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def require_between(
    what: str,
    value: float,
    low: float,
    high: float,
    unit: str = "degrees",
    *,
    low_open: bool = True,
    high_open: bool = True,
) -> None:
    """Raise FigureError unless low < value < high (or <= where the end is not open)."""
    above = value > low if low_open else value >= low
    below = value < high if high_open else value <= high
    if not (math.isfinite(value) and above and below):
        if math.isinf(high):
            accepted = f"{'more than' if low_open else 'at least'} {number(low)} {unit}"
        else:
            accepted = (
                f"{'more than' if low_open else 'at least'} {number(low)} and "
                f"{'less than' if high_open else 'at most'} {number(high)} {unit}"
            )
        raise FigureError(f"{what} {number(value)} {unit}".rstrip() + " is not possible", accepted.rstrip())
