"""What a peer answers."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Answer:
    """An order with the options it takes (None where the time brought none), and the bound claimed, work included."""

    order: tuple[int, ...] | None
    options: tuple[int, ...] = ()
    bound: int = 0


class MissingError(Exception):
    """The library a peer is written with is not installed; the message says which."""
