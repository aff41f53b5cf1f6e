"""What derived operations ask of a shop by name: stations by their role, settings that measure what they do there."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sequencer.model.shop import inferred
from sequencer.quantity import Measure

KNOWN: Mapping[str, Mapping[str, tuple[Measure, ...]]] = {
    "mill": {"thickness": ("length",)},
    "saw": {
        "tilt": ("angle",),
        "gauge": ("angle",),
        "fence": ("length",),
        "stop": ("length",),
        "height": ("length",),
        "blade": ("name",),
    },
    "mortiser": {
        "cutter": ("length",),
        "slot_length": ("length",),
        "fence_angle": ("angle",),
        "fence_height": ("length",),
        "depth": ("length",),
    },
    "router": {"bit": ("length", "name"), "fence": ("length",), "height": ("length",)},
    "bench": {},
}
"""For each role its settings and what each may measure, first what it does where the shop does not say.

Derived operations give lengths in mm and angles in degrees, so that anything else would be another size on the card.
"""


def role_of(role: str, id: str) -> str:
    """What a station is in the trade's words: its role, or its id where it has none; in small letters."""
    return (role or id).strip().lower()


def measured(setting: Mapping[str, Any], accepted: tuple[Measure, ...]) -> Mapping[str, Any]:
    """The table of a setting that may measure one of `accepted`, with the one it does where its file does not say."""
    if "measures" in setting or not accepted:
        return setting
    told = inferred(setting)
    return {**setting, "measures": told if told in accepted else accepted[0]}
