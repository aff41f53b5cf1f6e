"""How near to each other two lengths, places, angles or directions are one."""

from __future__ import annotations

HAIR = 1e-6
"""Between two lengths, mm: what reckoning alone may leave between them, and no tool or rule tells."""
IN_PLACE = 0.25
"""Between two places of a board in the whole, mm: as much as a ring may be open."""
NEAR = 1e-3
"""Between two places that a maker or the program chose, mm: what nobody who marks them out sees."""
ANGLE_HAIR = 1e-6
"""Between two angles, degrees: a tilt or gauge of no more is square."""
COSINE_HAIR = 1e-6
"""Between the cosine of two directions and 0 or 1: nearer to square, or to parallel, than this is that."""
