"""Sizes on a figure: dimension lines with extension lines and arrows, running dimensions, angles and leaders.

After the habits of ISO 129-1: narrow lines, the value above its line and read from below or from the right, each size
given once, extension lines a little clear of the outline and reaching a little past the dimension line.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from sequencer.report.drawing.figure import TEXT, Arc, Item, Path, Spot, Words, text_width
from sequencer.report.drawing.nearness import DUST, POINT
from sequencer.report.drawing.vectors import beyond, polar, towards

_ARROW = 1.8  # length of an arrowhead, mm
_CLEAR = 0.7  # from the outline to the extension line
_PAST = 1.0  # extension line beyond the dimension line
_RISE = 0.7  # from the dimension line to the foot of the text
_UPRIGHT = 0.01  # degrees: text leaning no more than this is upright, and read from the right
TOUCHING = TEXT * 1.05
"""Values along a line touch where they are less than this apart, mm."""


def arrow(tip: Spot, direction: Spot) -> Path:
    """A filled arrowhead at `tip` pointing in a direction (unit)."""
    x, y = direction
    back = beyond(tip, direction, -_ARROW)
    half = _ARROW * math.tan(math.radians(10))
    return Path(
        (tip, (back[0] - half * y, back[1] + half * x), (back[0] + half * y, back[1] - half * x)),
        None,
        closed=True,
        fill="black",
    )


def _readable(angle: float) -> float:
    """The angle turned by half a circle if text at it would stand on its head."""
    angle = (angle + 180) % 360 - 180
    if angle > 90 + _UPRIGHT or angle <= -90 + _UPRIGHT:
        angle += 180 if angle <= 0 else -180
    return angle


def linear(start: Spot, end: Spot, away: Spot, distance: float, label: str) -> tuple[Item, ...]:
    """A dimension from `start` to `end`, its line `distance` mm off in the direction `away` (unit, may be askew)."""
    first, last = beyond(start, away, distance), beyond(end, away, distance)
    size = math.dist(first, last)
    if size < POINT:
        return ()
    along = towards(first, last)
    items: list[Item] = [extension(spot, away, distance) for spot in (start, end)]
    roomy = size > 2 * _ARROW + 1.0
    turn = _readable(math.degrees(math.atan2(along[1], along[0])))
    normal = (-math.sin(math.radians(turn)), math.cos(math.radians(turn)))
    if roomy:
        items += [Path((first, last), "narrow"), arrow(first, (-along[0], -along[1])), arrow(last, along)]
    else:  # arrows from outside
        out = _ARROW + 1.2
        items += [
            Path((beyond(first, along, -out), beyond(last, along, out)), "narrow"),
            arrow(first, along),
            arrow(last, (-along[0], -along[1])),
        ]
    if text_width(label, TEXT) + 0.8 <= size:
        middle = ((first[0] + last[0]) / 2, (first[1] + last[1]) / 2)
        items.append(Words(beyond(middle, normal, _RISE), label, turn=turn))
    else:  # beside the line, level
        out = _ARROW + 1.6 if not roomy else 2.2
        right = along[0] > 0 or (abs(along[0]) < DUST and along[1] > 0)
        spot = beyond(last, along, out) if right else beyond(first, along, -out)
        items.append(Words((spot[0], spot[1] - 0.27 * TEXT), label, anchor="left"))
    return tuple(items)


def extension(spot: Spot, away: Spot, distance: float) -> Path:
    """The extension line from the outline at `spot` past a dimension line `distance` mm off."""
    sign = 1.0 if distance >= 0 else -1.0
    return Path((beyond(spot, away, sign * _CLEAR), beyond(spot, away, distance + sign * _PAST)), "narrow")


def running(
    start: Spot, spots: Sequence[Spot], away: Spot, distance: float, labels: Sequence[str]
) -> tuple[Item, ...]:
    """Cumulative dimensions from one origin: one line, an arrow at each place, the values along the extension lines.

    Values that would touch a nearer one are left out, and their arrows with them: an arrow without its value would lend
    itself to the next one. The card's list of pencil lines has them all.
    """
    line_start = beyond(start, away, distance)
    ends = [beyond(spot, away, distance) for spot in spots]
    far = max(ends, key=lambda e: math.dist(line_start, e), default=line_start)
    if math.dist(line_start, far) < POINT:
        return ()
    along = towards(line_start, far)
    items: list[Item] = [Arc(line_start, 0.6, pen="narrow"), extension(start, away, distance)]
    turn = math.degrees(math.atan2(away[1], away[0]))
    flipped = _readable(turn)
    upside = abs(flipped - turn) > 1
    sine = abs(along[0] * away[1] - along[1] * away[0])
    taken, last = -math.inf, line_start
    for end, label in sorted(zip(ends, labels, strict=True), key=lambda pair: math.dist(line_start, pair[0])):
        items.append(extension(beyond(end, away, -distance), away, distance))
        place = math.dist(line_start, end)
        if (place - taken) * sine < TOUCHING:
            continue
        taken, last = place, end
        items += [arrow(end, along)] if place > _ARROW else []
        off = _PAST + 0.6
        if place * sine < 0.5 * TEXT + 0.9:  # past the circle at the origin, or it reads as a degree sign
            circle = ((line_start[0] - end[0]) * away[0] + (line_start[1] - end[1]) * away[1]) / math.hypot(
                *away
            )
            off = max(off, circle + 1.2)
        foot = beyond(end, away, off)
        side = 0.36 * TEXT  # centre the letters on the extension line
        shift = (math.sin(math.radians(flipped)) * side, -math.cos(math.radians(flipped)) * side)
        items.append(
            Words(
                (foot[0] + shift[0], foot[1] + shift[1]), label, "right" if upside else "left", turn=flipped
            )
        )
    return (Path((line_start, last), "narrow"), *items)


def angle(
    centre: Spot, radius: float, start: float, end: float, label: str, outwards: float = 1.6
) -> tuple[Item, ...]:
    """An angular dimension from `start` to `end` degrees about `centre`, the value outside the arc, level."""
    low, high = min(start, end), max(start, end)
    items: list[Item] = [Arc(centre, radius, low, high)]
    for at, sign in ((low, -1.0), (high, 1.0)):
        if math.radians(high - low) * radius > 2 * _ARROW + 0.5:
            lean = math.degrees(_ARROW / 2 / radius)
            tangent = math.radians(at - sign * lean + 90)
            items.append(
                arrow(polar(centre, radius, at), (sign * math.cos(tangent), sign * math.sin(tangent)))
            )
    middle = (low + high) / 2
    spot = polar(centre, radius + outwards, middle)
    cosine = math.cos(math.radians(middle))
    anchor = "left" if cosine > 0.35 else "right" if cosine < -0.35 else "middle"
    items.append(Words((spot[0], spot[1] - 0.27 * TEXT), label, anchor))  # type: ignore[arg-type]
    return tuple(items)


def pointer(tip: Spot, start: Spot) -> tuple[Item, ...]:
    """A leader from beside its note to a point of the drawing."""
    return Path((start, tip), "narrow"), arrow(tip, towards(start, tip))
