"""The booklet as one HTML page for a tablet: drawings within it, nothing fetched from elsewhere."""

from __future__ import annotations

import re
from collections.abc import Sequence
from html import escape
from typing import Any

from sequencer.cards.planbook import PlanBook, title
from sequencer.cards.setup_cards import Card, cards
from sequencer.planfile import Plan, Setup
from sequencer.report.card_page import card_figures, card_values, dial
from sequencer.report.drawing.figure import Figure
from sequencer.report.drawing.svg import svg
from sequencer.report.sheet_values import sheets

_STYLE = """
body { font: 18px/1.4 Inter, system-ui, sans-serif; color: #000; background: #fff; max-width: 54rem; margin: 0 auto;
  padding: 1rem 1.2rem 4rem }
h1 { margin: 0 0 .4rem } h2 { margin: 0; font-size: 1.6rem; line-height: 1.1 } h3 { margin: 1.1rem 0 .2rem }
h2 b { font-size: 2.8rem } h2 small { font-weight: normal }
nav { display: flex; flex-wrap: wrap; gap: .4rem; margin: 1rem 0 }
nav a, a.next { border: 2px solid #000; padding: .35rem .7rem; color: #000; text-decoration: none }
a.next { display: block; margin-top: 1rem }
article, section { border-top: .3rem solid #000; margin: 3rem 0 0; padding-top: .5rem }
.sets { display: grid; grid-template-columns: repeat(auto-fit, minmax(20rem, 1fr)); gap: .8rem; margin: .9rem 0 }
.set { border-left: .5rem solid #000; padding-left: .7rem; display: flex; justify-content: space-between }
.set strong { font-size: 2rem; line-height: 1.15; white-space: nowrap }
.set .how { display: block }
.step { background: #000; color: #fff; padding: 0 .4rem; margin-right: .3rem }
.ticks { display: flex; flex-wrap: wrap; gap: .5rem; margin: .4rem 0; align-items: center }
input { width: 1.9rem; height: 1.9rem; margin: 0; appearance: none; border: 2px solid #000 }
input:checked { background: #000; box-shadow: inset 0 0 0 4px #fff } input.spare { border-style: dashed }
dl { display: grid; grid-template-columns: 7.5rem 1fr; gap: .25rem .5rem; margin: .6rem 0 }
dt { font-weight: bold } dd { margin: 0 } small { font-size: .85rem }
.work { display: flex; flex-wrap: wrap; gap: 1rem 2rem; align-items: center } .work > * { flex: 1 1 18rem }
.work > figure { flex: 1 1 20rem } .set > figure { flex: none; width: 7rem }
figure { margin: .5rem 0 } figcaption { text-align: center; font-size: .9rem }
figure svg { width: 100%; height: auto }
.check { border: 1px solid #000; padding: .5rem .7rem; display: flex; gap: .7rem; margin: .8rem 0 }
.check input { flex: none } p { margin: .5rem 0 } .caution { padding-left: 1.2rem; text-indent: -1.2rem }
.hold dt { background: #000; color: #fff; padding: 0 .3rem; align-self: start }
.wide { overflow-x: auto } table { border-collapse: collapse; width: 100% }
th, td { text-align: left; vertical-align: top; padding: .3rem .6rem .3rem 0; border-bottom: 1px solid #000 }
td.size { white-space: nowrap } th { border-bottom-width: 3px }
tr.total td { font-weight: bold; border-top: 3px solid #000 }
.frac { font-variant-numeric: diagonal-fractions; font-size: 1.1em; white-space: nowrap }
@media print { article { break-before: page } nav, a.next { display: none } }
"""


def write_html(plan: Plan) -> str:
    """The sheets and all cards as one self-contained HTML page, with tick boxes that can be ticked."""
    book = PlanBook(plan)
    made = cards(plan)
    links = "".join(f'<a href="#card-{card.number}">{card.number} {_text(card.station)}</a>' for card in made)
    pages = [_card(book, card, setup) for card, setup in zip(made, plan.setups, strict=True)]
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{escape(title(plan))}</title><style>{_STYLE}</style></head>\n"
        f"<body><h1>{_text(title(plan))}</h1>\n<nav>{links}</nav>\n{_sheets(book)}{''.join(pages)}</body></html>\n"
    )


def _sheets(book: PlanBook) -> str:
    says = sheets(book)
    seen = says["overview"]
    heads = ["card", "station", "steps", "resets", "min walk", "min set", "min work"]
    parts = [
        f"<section>{_pairs(seen['facts'])}<p><b>{_text(seen['proof'])}</b></p>{_figure(says['timeline'])}",
        _table(heads, seen["order"], total=True),
        *(f"<p>Note: {_text(remark)}</p>" for remark in seen["remarks"]),
        "</section>",
    ]
    if says["cut_list"]:
        heads = ["part", "finished: length × width × thickness", "rough", "pieces", "spares", "stock"]
        parts.append(
            f"<section><h2>Cut list</h2>{_table(heads, says['cut_list'])}<p>{_text(says['unspared'])}</p>"
        )
        if says["slips"]:
            heads = ["joint", "thickness × width × length", "pieces", "spares"]
            parts.append(f"<h3>Slips to buy or make</h3>{_table(heads, says['slips'])}")
        if says["preparations"]:
            parts.append(
                f"<h3>Setting blocks and test pieces</h3>{_table(['what', 'where'], says['preparations'])}"
            )
        parts.append("</section>")
    if says["marking"]:
        parts.append("<section><h2>Marking out</h2>")
        for group, told in zip(says["marking"], says["marking_says"], strict=True):
            parts.append(f"<p><b>{_text(told)}</b></p>")
            for part in group:
                mates = f"<small>, mate of {_text(part['mates'])}</small>" if part["mates"] else ""
                parts.append(f"<h3>{_text(part['part'])} <small>{_text(part['size'])}</small>{mates}</h3>")
                parts.append(_figure(part["figure"]) if part["figure"] else "")
                parts.append(_table(["from", "squared across", "distances", "what"], part["lines"]))
        parts.append("</section>")
    return "".join(parts) + "\n"


def _card(book: PlanBook, card: Card, setup: Setup) -> str:
    says = card_values(book, card, setup)
    dials = [dial(book, setup, line.setting) for line in card.settings if line.moves]
    parts = [
        f'<article id="card-{card.number}"><h2><b>{card.number}</b> <small>of {card.of}</small> {_text(card.station)}'
        f"</h2><small>{_text(says['time'])}</small>",
        f'<div class="sets">{"".join(map(_moved, says["moved"], dials))}</div>',
        "" if says["moved"] else "<p>Nothing to set: all stands as it is.</p>",
        _pairs(says["stays"]),
    ]
    for group, drawn in zip(says["groups"], card_figures(book, card), strict=True):
        parts += [_work(work) for work in group["works"]]
        figures = "".join(_figure(figure, titled=len(drawn) > 1) for figure in drawn)
        parts.append(f'<div class="work">{figures}{_pairs(group["lie"])}</div>')
        if group["check"]:
            before, expect, after = map(_text, group["check"])
            tail = f", {after}" if after else ""
            box = '<input type="checkbox" aria-label="first piece checked">'
            parts.append(
                f'<div class="check">{box}<span>check the first piece: {before} <b>{expect}</b>{tail}</span></div>'
            )
    parts += [
        f'<p class="caution"><b>!</b> {_text(c["says"])} <small>({_text(c["source"])})</small></p>'
        for c in says["cautions"]
    ]
    for row in says["foot"]:
        parts.append(_pairs([row], kind="hold" if row[0] == "DO NOT MOVE" else ""))
    if card.next:
        parts.append(f'<a class="next" href="#card-{card.next.number}">to card {card.next.number}</a>')
    return "".join(parts) + "</article>\n"


def _moved(line: dict[str, Any], drawn: Figure | None) -> str:
    was = f" <small>was {_text(line['was'])}</small>" if line["was"] else ""
    notes = "".join(f'<small class="how">{_text(note)}</small>' for note in line["notes"])
    value = f"<strong>{_text(line['value'])}</strong> {_text(line['exact'])}"
    words = f"<div>{line['word']} {_text(line['name'])}{was}<br>{value}{notes}</div>"
    return f'<div class="set">{words}{_figure(drawn) if drawn else ""}</div>'


def _work(work: dict[str, Any]) -> str:
    whole = work["ticks"] - work["spare_ticks"]
    boxes = '<input type="checkbox" aria-label="piece done">' * whole
    boxes += '<input type="checkbox" class="spare" aria-label="spare done">' * work["spare_ticks"]
    each = f"<small>{work['each_box']}</small>" if work["each_box"] else ""
    each += "<small>dashed: spare</small>" if work["spare_ticks"] else ""
    pieces = ", ".join(map(_text, work["pieces"]))
    count = _text(work["count"]).replace("× ", "×&nbsp;")
    return (
        f'<h3><span class="step">{work["step"]}</span> {_text(work["what"])} {count}</h3>'
        f'{pieces}<div class="ticks">{boxes}{each}</div>'
    )


def _figure(figure: Figure, titled: bool = False) -> str:
    caption = f"<figcaption>{_text(figure.title)}</figcaption>" if titled else ""
    return f'<figure style="max-width: {1.6 * figure.width:.0f}mm">{svg(figure)}{caption}</figure>'


def _table(heads: Sequence[str], rows: Sequence[Sequence[str]], total: bool = False) -> str:
    head = "".join(f"<th>{escape(text)}</th>" for text in heads)
    lines = ["".join(f"<td{_whole(text)}>{_text(text)}</td>" for text in row) for row in rows]
    body = [f"<tr>{line}</tr>" for line in lines]
    if total:
        body[-1] = f'<tr class="total">{lines[-1]}</tr>'
    return f'<div class="wide"><table><tr>{head}</tr>{"".join(body)}</table></div>'


def _whole(text: str) -> str:
    """A class for sizes, "600 × 160 × 18 mm", which are not broken into lines."""
    return (
        ' class="size"'
        if "×" in text and not re.search(r"[^\d\s/.×()]", re.sub(r"\b(mm|in)\b", "", text))
        else ""
    )


def _pairs(rows: Sequence[Sequence[str]], kind: str = "") -> str:
    if not rows:
        return ""
    listed = "".join(f"<dt>{escape(name)}</dt><dd>{_text(text)}</dd>" for name, text in rows)
    return f'<dl class="{kind}">{listed}</dl>' if kind else f"<dl>{listed}</dl>"


def _text(text: str) -> str:
    """Text as HTML, its fractions marked to be set as such."""
    return re.sub(r"\b(\d+/\d+)\b", r'<span class="frac">\1</span>', escape(text))
