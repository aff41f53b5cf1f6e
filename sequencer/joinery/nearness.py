"""How near to each other two lengths or places are one, mm."""

from __future__ import annotations

HAIR = 1e-6
"""Between two lengths: what reckoning alone may leave between them, and no tool or rule tells."""
NEAR = 1e-3
"""Between two places or walls in a board: as much less than what the shop keeps passes for it."""
IN_PLACE = 0.25
"""Between two places of a board in the whole: as much as a ring may be open."""
