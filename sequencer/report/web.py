"""The cards as one HTML page for a tablet: drawings within it, nothing fetched from elsewhere."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from sequencer.cards import Card, cards
from sequencer.planbook import PlanBook
from sequencer.planfile import Plan, Setup
from sequencer.report.card_page import card_figures, card_values
from sequencer.report.drawing.svg import svg

_STYLE = """
body { font: 17px/1.35 Inter, sans-serif; color: #000; background: #fff }
body { max-width: 46rem; margin: 0 auto; padding: 1rem }
article { border-top: .3rem solid #000; margin: 3rem 0; padding-top: .4rem }
h2 { margin: 0; font-size: 1.5rem } h2 b { font-size: 2.6rem }
.set { border-left: .5rem solid #000; padding-left: .7rem; margin: .7rem 0 }
.set strong { font-size: 1.9rem; display: block; line-height: 1.1 }
dl { display: grid; grid-template-columns: 7.5rem 1fr; gap: .25rem; margin: .6rem 0 }
dt { font-weight: bold } dd { margin: 0 } small { font-size: .85rem } input { width: 1.5rem; height: 1.5rem }
svg { max-width: 100%; height: auto; min-width: min(100%, 30rem) }
"""


def write_html(plan: Plan) -> str:
    """All cards as one self-contained HTML page, with tick boxes that can be ticked."""
    book = PlanBook(plan)
    pages = [_card(book, card, setup) for card, setup in zip(cards(plan), plan.setups, strict=True)]
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{escape(plan.job)}</title><style>{_STYLE}</style></head>\n"
        f"<body><h1>{escape(plan.job)}</h1>\n{''.join(pages)}</body></html>\n"
    )


def _card(book: PlanBook, card: Card, setup: Setup) -> str:
    says = card_values(book, card, setup)
    parts = [
        f'<article id="card-{card.number}"><h2><b>{card.number}</b> of {card.of} {escape(card.station)}</h2>'
        f"<small>{escape(says['time'])}</small>"
    ]
    for line in says["moved"]:
        was = f" <small>was {escape(line['was'])}</small>" if line["was"] else ""
        notes = "".join(f"<small>{escape(note)}</small><br>" for note in line["notes"])
        head = f"{line['word']} {escape(line['name'])}{was}"
        parts.append(f'<div class="set">{head}<strong>{escape(line["value"])}</strong>{notes}</div>')
    parts.append(_pairs(says["stays"]))
    figures = card_figures(book, card)
    for group, drawn in zip(says["groups"], figures, strict=True):
        for work in group["works"]:
            ticks = '<input type="checkbox" aria-label="piece done"> ' * work["ticks"]
            of = "sets" if work["count"].endswith("sets") else "pieces"
            each = f"<small>each box {work['per_tick']} {of}</small>" if work["per_tick"] > 1 else ""
            pieces = "<br>".join(escape(piece) for piece in work["pieces"])
            head = f"<h3>{work['step']}. {escape(work['what'])}  {work['count']}</h3>"
            parts.append(f"{head}<p>{pieces}<br>{ticks}{each}</p>")
        parts += [
            f"<figure>{svg(figure)}<figcaption>{escape(figure.title)}</figcaption></figure>"
            for figure in drawn
        ]
        checks = [["check", check] for check in group["check"]]
        parts.append(_pairs([*group["lie"], *(["pencil", text] for text in group["lines"]), *checks]))
    parts += [
        f"<p><b>!</b> {escape(c['says'])} <small>({escape(c['source'])})</small></p>"
        for c in says["cautions"]
    ]
    parts.append(_pairs(says["foot"]))
    return "".join(parts) + "</article>\n"


def _pairs(rows: Sequence[Sequence[str]]) -> str:
    if not rows:
        return ""
    return (
        "<dl>" + "".join(f"<dt>{escape(name)}</dt><dd>{escape(text)}</dd>" for name, text in rows) + "</dl>"
    )
