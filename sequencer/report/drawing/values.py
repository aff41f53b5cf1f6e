"""A figure as plain data for the typesetter: paths and words only, arcs as chains of short lines."""

from __future__ import annotations

import math
from typing import Any

from sequencer.report.drawing.figure import PENS, Arc, Figure, Path, Words


def figure_values(figure: Figure) -> dict[str, Any]:
    """The figure as what JSON can hold, lengths in mm to a thousandth."""
    items: list[dict[str, Any]] = []
    for item in figure.items:
        if isinstance(item, Words):
            items.append(
                {
                    "kind": "words",
                    "at": _rounded(item.at),
                    "text": item.text,
                    "anchor": item.anchor,
                    "size": item.size,
                    "turn": round(item.turn, 3),
                    "bold": item.bold,
                }
            )
            continue
        path = _chain(item) if isinstance(item, Arc) else item
        pen = None if path.pen is None else {"width": PENS[path.pen].width, "dashes": PENS[path.pen].dashes}
        items.append(
            {
                "kind": "path",
                "points": [_rounded(point) for point in path.points],
                "pen": pen,
                "closed": path.closed,
                "fill": path.fill,
            }
        )
    return {
        "items": items,
        "width": figure.width,
        "height": figure.height,
        "title": figure.title,
        "alt": figure.alt,
    }


def _rounded(spot: tuple[float, float]) -> list[float]:
    return [round(spot[0], 3), round(spot[1], 3)]


def _chain(arc: Arc) -> Path:
    steps = max(6, int((arc.end - arc.start) / 6))
    turns = [arc.start + (arc.end - arc.start) * i / steps for i in range(steps + (0 if arc.whole else 1))]
    points = tuple(
        (
            arc.centre[0] + arc.radius * math.cos(math.radians(t)),
            arc.centre[1] + arc.radius * math.sin(math.radians(t)),
        )
        for t in turns
    )
    return Path(points, arc.pen, closed=arc.whole, fill=arc.fill)
