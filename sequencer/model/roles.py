"""What derived operations ask of a shop by name: stations by their role, settings that measure what they do there."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sequencer.model.shop import Station, inferred
from sequencer.quantity import Measure, QuantityError, as_written, parse_angle

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

MEASURED_AT: Mapping[str, Mapping[str, str]] = {"saw": {"stop": "gauge"}}
"""For each role the settings that stand on another one of the station, if it has that, where its file does not say: the
length stop is clamped to the fence of the gauge.
"""

BOUNDS: Mapping[tuple[str, str], tuple[float, float, str]] = {
    ("saw", "tilt"): (-90.0, 90.0, "from vertical, and at 90 the blade lies flat"),
    ("saw", "gauge"): (-90.0, 90.0, "from a square crosscut, and at 90 it points along the blade"),
    ("mortiser", "fence_angle"): (0.0, 180.0, "between fence and base, and at 180 they lie in line"),
}
"""Degrees beyond which no such setting stands, whatever the machine, and why: by what the angle is measured from."""

STANDS_SQUARE: Mapping[tuple[str, str], float] = {
    ("saw", "tilt"): 0.0,
    ("saw", "gauge"): 0.0,
    ("mortiser", "fence_angle"): 90.0,
}
"""Degrees at which a machine stands, and stays, whose station has no such setting."""

OTHER_WORDS: Mapping[str, tuple[str, ...]] = {
    "thickness": ("height", "depth", "planer"),
    "tilt": ("bevel", "arbor"),
    "gauge": ("mitre", "miter", "crosscut", "sledge"),
    "fence": ("rip", "guide"),
    "stop": ("length",),
    "height": ("depth", "projection"),
    "cutter": ("bit", "diameter"),
    "slot_length": ("width", "length", "slack"),
    "fence_angle": ("tilt", "bevel", "mitre", "miter"),
    "fence_height": ("height",),
    "depth": ("plunge",),
    "bit": ("cutter", "diameter"),
}
"""Words by which makers may call a known setting, those that others are known by left aside."""


def role_of(role: str, id: str) -> str:
    """What a station is in the trade's words: its role, or its id where it has none; in small letters."""
    return (role or id).strip().lower()


def measured(setting: Mapping[str, Any], accepted: tuple[Measure, ...]) -> Mapping[str, Any]:
    """The table of a setting that may measure one of `accepted`, with the one it does where its file does not say."""
    if "measures" in setting or not accepted:
        return setting
    told = inferred(setting)
    return {**setting, "measures": told if told in accepted else accepted[0]}


def bounded(
    setting: Mapping[str, Any], role: str, id: str
) -> tuple[Mapping[str, Any], tuple[tuple[str, str, str], ...]]:
    """The table of a setting with the limits that any of its role has where its file gives none, or wider ones; and
    each of those that are wider: its key, what is wrong and what would be accepted.
    """
    limits = setting.get("limits", {})
    if (role, id) not in BOUNDS or not isinstance(limits, Mapping):
        return setting, ()
    low, high, why = BOUNDS[role, id]
    wider = []
    for key in ("min", "max"):
        try:
            if not low <= parse_angle(limits.get(key, low)) <= high:
                what = f"must be {low:g} to {high:g}, not {as_written(limits[key])}"
                wider.append((key, f"{what}: the {id} of a {role} is measured {why}", f"{low:g} to {high:g}"))
        except QuantityError:
            pass  # told where the limits are read
    kept = {key: value for key, value in limits.items() if key not in [key for key, *_ in wider]}
    return {**setting, "limits": {"min": low, "max": high, **kept}}, tuple(wider)


def taken_for(station: Station, setting: str) -> str:
    """The id of a setting of the station that is not known, and most likely is this known one, which the station has
    not; "" where there is none: one that measures the same and has its name, or a word for it, in its own, or that is
    the only one of its kind.
    """
    role = role_of(station.role, station.id)
    known = KNOWN.get(role, {})
    strange = [each for each in station.settings if each.id not in known and each.measures in known[setting]]
    words = (setting, *setting.split("_"), *OTHER_WORDS.get(setting, ()))
    for word in words:
        for each in strange:
            if word in f"{each.id} {each.name}".lower():
                return each.id
    missing = [id for id in known if all(each.id != id for each in station.settings)]
    alike = [id for id in missing if known[id][0] == known[setting][0]]
    return strange[0].id if len(strange) == len(alike) == 1 else ""
