"""How near is as good as the same in drawings: of wood, of points, of directions.

Each is far above what reckoning with binary fractions leaves, and far below what is sawn or seen. None has a source
besides.
"""

from __future__ import annotations

WOOD = 0.01
"""mm of wood: surfaces, cuts and sizes no farther apart are one. At full size it is a seventeenth of the thinnest
line."""
SHOWN = 0.05
"""mm: what is less is told as nothing, for computed sizes are told to a tenth."""
POINT = 1e-6
"""mm: points nearer than this are one, and a line no longer than this has no direction."""
DUST = 1e-9
"""Of a unit vector, a mm or a degree: what rounding may leave of nothing. What leans no more is square, or runs along;
what lies no farther off lies on."""
NEVER = 1e-12
"""mm for each mm of its way: a line that comes no nearer to a plane than this never meets it."""
MOSTLY = 0.5
"""Of a unit vector, along an axis: it goes that way rather than across."""
