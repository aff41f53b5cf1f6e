"""A small figure for an angle to be set: blade from upright, gauge from square, fence on its base."""

from __future__ import annotations

import math

from sequencer.quantity import format_angle
from sequencer.report.drawing.dimension import angle as angle_size
from sequencer.report.drawing.figure import TEXT, Figure, Item, Path, Spot, Words, framed, hatching
from sequencer.report.drawing.vectors import polar

_REACH = 9.0  # length of the moving line, mm


def dial_figure(setting: str, degrees: float) -> Figure:
    """The figure for a setting measured in degrees.

    A name with "tilt" is a blade seen from its end, leaning from upright; one with "gauge" the gauge seen from above,
    swung from square to the blade; anything else a fence standing on its base at the angle itself.
    """
    name = format_angle(degrees, decimals=True)
    if "tilt" in setting:
        return framed(_blade(degrees, name), setting, f"blade leaning {name} from upright, table below")
    if "gauge" in setting or "mitre" in setting:
        return framed(
            _gauge(degrees, name), setting, f"gauge {name} from square to the blade, seen from above"
        )
    return framed(_fence(degrees, name), setting, f"fence at {name} to the base")


def _bar(foot: Spot, degrees: float, length: float, thick: float) -> Path:
    """A bar from `foot` in the direction `degrees`, its foot in the middle of its short side."""
    side = polar((0.0, 0.0), thick / 2, degrees + 90)
    tip = polar(foot, length, degrees)
    return Path(
        (
            (foot[0] + side[0], foot[1] + side[1]),
            (tip[0] + side[0], tip[1] + side[1]),
            (tip[0] - side[0], tip[1] - side[1]),
            (foot[0] - side[0], foot[1] - side[1]),
        ),
        "wide",
        closed=True,
    )


def _table(left: float, right: float) -> list[Item]:
    outline = ((left, 0.0), (right, 0.0), (right, -1.6), (left, -1.6))
    return [Path(((left, 0.0), (right, 0.0)), "wide"), *hatching([outline], 45, 0.9)]


def _blade(degrees: float, name: str) -> list[Item]:
    lean = 90.0 + degrees
    items: list[Item] = [*_table(-10.0, 8.0), _bar((0.0, 0.0), lean, _REACH, 0.9)]
    items.append(Path(((0.0, 0.0), (0.0, _REACH + 1.5)), "centre"))
    if abs(degrees) > 0.005:  # the number on the far side of the blade, clear of the upright
        x, y = polar((0.0, 0.0), _REACH * 0.8, lean)
        slope = math.radians(degrees)
        clear = (
            0.8 + 0.4 * TEXT * math.tan(slope) + 0.45 / math.cos(slope)
        )  # its top corner is nearest to the blade
        number = (
            Words((x - clear, y - 0.27 * TEXT), name, "right")
            if degrees > 0
            else Words((x + 1.2, y), name, "left")
        )
        return [*items, *angle_size((0.0, 0.0), _REACH * 0.72, 90.0, lean, "")[:-1], number]
    return items + _label((1.5, _REACH * 0.6), name)


def _gauge(degrees: float, name: str) -> list[Item]:
    items: list[Item] = [_bar((0.0, -5.0), 90, 14.0, 0.9)]  # the blade from above
    items.append(_bar((-2.0, 0.0), 180.0 - degrees, 11.0, 1.6))
    items.append(Path(((-2.0, 0.0), (-14.5, 0.0)), "centre"))
    if abs(degrees) > 0.005:
        return items + list(angle_size((-2.0, 0.0), 8.5, 180.0, 180.0 - degrees, name, outwards=4.5))
    return items + _label((2.0, 1.0), name)


def _fence(degrees: float, name: str) -> list[Item]:
    items: list[Item] = [*_table(-2.0, 14.0), _bar((0.0, 0.0), degrees, _REACH, 1.4)]
    return items + list(angle_size((0.0, 0.0), 6.0, 0.0, degrees, name, outwards=1.2))


def _label(at: Spot, text: str) -> list[Item]:
    return [Words(at, text, "left")]
