"""The one way the derivation says no to a joint: which figure fails, and what would pass."""

from __future__ import annotations

from collections.abc import Callable
from functools import cached_property


class Refusal(Exception):  # noqa: N818 - a verdict, not a fault of the program
    """A way of making a joint that cannot be done. `message` may be left to be made when it is asked for: of the many
    places that are tried for a row of slots one refusal is told. `key` names the key of the table that asked for it;
    `sizes` tells that only other sizes of stock, or limits of the shop, would pass, `slips` that smaller slips might,
    `lacks` that the shop file has no such setting, `slack` that slots without it might."""

    def __init__(
        self,
        message: str | Callable[[], str],
        accepted: str = "",
        key: str = "",
        sizes: bool = False,
        slips: bool = False,
        lacks: bool = False,
        slack: bool = False,
    ) -> None:
        super().__init__()
        self._message = message
        self.accepted = accepted
        self.key = key
        self.sizes = sizes
        self.slips = slips
        self.lacks = lacks
        self.slack = slack

    @cached_property
    def message(self) -> str:
        """Which figure fails, in words."""
        return self._message if isinstance(self._message, str) else self._message()

    def __str__(self) -> str:
        return self.message

    @property
    def sentence(self) -> str:
        """The refusal in one line."""
        return f"{self.message}; works: {self.accepted}" if self.accepted else self.message
