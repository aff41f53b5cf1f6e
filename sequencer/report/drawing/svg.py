"""A figure as an SVG file, in mm, with its words as text."""

from __future__ import annotations

import math
from xml.sax.saxutils import escape, quoteattr

from sequencer.report.drawing.figure import PENS, Arc, Figure, Item, Path, Words

FACE = "Inter, 'Liberation Sans', Arial, sans-serif"


def svg(figure: Figure) -> str:
    """The figure as an SVG document; its title and description stand in it for screen readers.

    >>> svg(Figure((Path(((0, 0), (2, 1))),), 2, 1)).count("<path")
    1
    """
    body = "\n".join(_element(item, figure.height) for item in figure.items)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{_n(figure.width)}mm" height="{_n(figure.height)}mm" '
        f'viewBox="0 0 {_n(figure.width)} {_n(figure.height)}" '
        f'role="img" aria-label={quoteattr(figure.alt or figure.title)}>\n'
        f"<title>{escape(figure.title)}</title>\n<desc>{escape(figure.alt)}</desc>\n{body}\n</svg>\n"
    )


def _n(value: float) -> str:
    return f"{value:.3f}".rstrip("0").rstrip(".") if abs(value) >= 0.0005 else "0"


def _stroke(pen: str | None) -> str:
    if pen is None:
        return 'stroke="none"'
    line = PENS[pen]  # type: ignore[index]
    dashes = f' stroke-dasharray="{" ".join(_n(d) for d in line.dashes)}"' if line.dashes else ""
    return f'stroke="black" stroke-width="{_n(line.width)}" stroke-linecap="round" stroke-linejoin="round"{dashes}'


def _element(item: Item, height: float) -> str:
    if isinstance(item, Path):
        points = " L".join(f"{_n(x)} {_n(height - y)}" for x, y in item.points)
        return f'<path d="M{points}{" Z" if item.closed else ""}" fill="{item.fill}" {_stroke(item.pen)}/>'
    if isinstance(item, Arc):
        return _arc(item, height)
    return _words(item, height)


def _arc(arc: Arc, height: float) -> str:
    x, y = arc.centre
    if arc.whole:
        return f'<circle cx="{_n(x)}" cy="{_n(height - y)}" r="{_n(arc.radius)}" fill="{arc.fill}" {_stroke(arc.pen)}/>'
    ends = [
        (x + arc.radius * math.cos(math.radians(a)), height - y - arc.radius * math.sin(math.radians(a)))
        for a in (arc.start, arc.end)
    ]
    large = 1 if arc.end - arc.start > 180 else 0
    radius, (start, end) = _n(arc.radius), (f"{_n(px)} {_n(py)}" for px, py in ends)
    path = f"M{start} A{radius} {radius} 0 {large} 0 {end}"
    return f'<path d="{path}" fill="{arc.fill}" {_stroke(arc.pen)}/>'


def _words(words: Words, height: float) -> str:
    x, y = words.at[0], height - words.at[1]
    anchor = {"left": "start", "middle": "middle", "right": "end"}[words.anchor]
    turn = f' transform="rotate({_n(-words.turn)} {_n(x)} {_n(y)})"' if words.turn else ""
    weight = ' font-weight="bold"' if words.bold else ""
    return (
        f'<text x="{_n(x)}" y="{_n(y)}" font-family="{FACE}" font-size="{_n(words.size)}" text-anchor="{anchor}" '
        f'fill="black"{weight}{turn}>{escape(words.text)}</text>'
    )
