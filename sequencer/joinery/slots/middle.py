"""Whether a row of slots beside grooves stays in the middle of the thickness, or at which height it lies instead."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from sequencer.joinery.basis.nearness import HAIR
from sequencer.joinery.slots.fit import Fit

SHARE = 0.5
"""The least share of the surface of slips found at any height that is worth a place nearer to the middle."""

Most = Callable[[float, float], Fit | None]
"""The slips with most surface at a height, mm, where it is more than so much, mm²; None where none have."""


def near_the_middle(kept: Fit | None, heights: Sequence[float], most_at: Most) -> Fit | None:
    """The slips `kept` in the middle where they have `SHARE` of the surface that slips have at any of the heights; else
    those with most surface at the first height at which some have as much. None where none hold anywhere.
    """
    least = kept.surface if kept is not None else 0.0
    most, found = least, list[Fit]()
    for height in heights:
        fit = most_at(height, max(least, SHARE * most - HAIR))
        if fit is not None:
            found.append(fit)
            most = max(most, fit.surface)
    if kept is not None and kept.surface > SHARE * most - HAIR:
        return kept
    return next((fit for fit in found if fit.surface > SHARE * most - HAIR), None)
