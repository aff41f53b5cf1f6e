"""The report of joints on the terminal: angles, ways ranked, walls, glue and grain, and errors."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from rich.console import Console

from sequencer.operations import as_words
from sequencer.quantity import Unit, format_angle, format_length, format_number
from sequencer.report.terminal_page import HEADING, MOVED, QUIET, Page

if TYPE_CHECKING:
    from sequencer.joinery.report import Angles, GlueReport, JointReport, OffReport, WallReport, WayReport

LABELS = 16
_LEAST_AREA = 0.5  # mm²: what is less rounds to nothing
THINNEST = 4
"""Of a way's walls, so many are told."""


def print_joints(
    reports: Sequence[JointReport], console: Console, unit: Unit = "mm", marked: Unit | None = None
) -> None:
    """Print every joint with its ways, the best first; lengths in `unit`, slips as thick as cutters are `marked`."""
    page = Page(console)
    for report in reports:
        _joint(page, report, unit, marked or unit)
    if not reports:
        page.line("No joint with slips in this job.")
        return
    page.stroke("─")
    page.line(
        (
            "Figures of glue compare ways of making one joint; none of them is a load or a design value. ",
            QUIET,
        ),
        ("Angles: " + reports[0].conventions + ".", QUIET),
    )
    page.blank()


def _joint(page: Page, report: JointReport, unit: Unit, marked: Unit) -> None:
    sides = f", {report.sides} sides" if report.sides else ""
    if report.corner is not None:
        sides += f", corners of {format_number(round(report.corner, 4))}°"
    title = page.text((report.joint, HEADING), f"   {as_words(report.kind).replace('-', ' ')}{sides}")
    page.bar(title, ", ".join(report.parts))
    page.blank()
    alike: dict[tuple[str, str], list[Angles]] = {}
    for cut in report.angles:
        gauge, tilt, fence = map(format_angle, (cut.gauge, cut.tilt, cut.fence_angle))
        key = (f"gauge {gauge}, tilt {tilt}, fence angle {fence}", cut.full_edge)
        alike.setdefault(key, []).append(cut)
    for (told, edge), cuts in alike.items():
        where = "; ".join(_surfaces(cuts))
        full = f" (the {edge} keeps its full length)" if edge else ""
        page.entry("angles", (told, HEADING), f" for {where}{full}", at=LABELS)
    for way in report.ways:
        _way(page, report, way, unit, marked)
    for out in report.struck_out:
        page.entry("struck out", (_words(out.way), HEADING), f": {out.why}", at=LABELS)
    if report.off:
        _off(page, report.off, unit)
    page.blank()


def _surfaces(cuts: Sequence[Angles]) -> list[str]:
    """The cuts by part: "side, left bevel and right bevel"."""
    by_part: dict[str, list[str]] = {}
    for cut in cuts:
        by_part.setdefault(cut.part, []).append(cut.surface)
    return [f"{part}, {' and '.join(surfaces)}" for part, surfaces in by_part.items()]


def _way(page: Page, report: JointReport, way: WayReport, unit: Unit, marked: Unit) -> None:
    def size(mm: float, unit: Unit = unit) -> str:
        return format_length(mm, unit, decimals=True)

    def pair(mm: tuple[float, float]) -> str:
        return size(mm[0]) if mm[0] == mm[1] else f"{size(mm[0])} and {size(mm[1])}"

    def entry(label: str, words: str) -> None:
        page.entry(label, words, indent=4, at=LABELS - 2)

    page.blank()
    page.line(f"  {way.rank}  ", (_words(way.way), MOVED))
    place = "corner" if report.sides else "joint"
    start = "left end" if report.kind in ("edge-to-edge", "stave") else "reference edge"
    if report.kind != "stave" and any(angle.gauge for angle in report.angles):
        tilted = any(angle.gauge and angle.tilt for angle in report.angles)
        start += f", along the {'sharp edge of the bevel, at the face' if tilted else 'mitre'}"
    slip = " × ".join((size(way.thickness, marked), size(way.width), size(way.length)))
    entry("slips", f"{way.slips} a {place}, {slip} (thickness, width, length)")
    entry("centres", ", ".join(size(each) for each in way.centres) + f" from the {start}")
    entry("height", f"{size(way.height)} from the {way.height_from} to the middle of the slots")
    entry("plunge", f"{pair(way.depths)} deep, slots {pair(way.slot_lengths)} long")
    if way.embedded != way.depths:
        entry("", f"{pair(way.embedded)} of it left when all is sawn")
    thin = _thinnest(way.walls)
    told = [
        f"{size(wall.left)} to the {wall.surface} of {wall.part}"
        if wall.left >= 0.05
        else f"none to the {wall.surface} of {wall.part}: slots open in it"
        for wall in thin
    ]
    entry("thin walls", told[0] if told else "none")
    for words in told[1:]:
        entry("", words)
    for glue in dict.fromkeys(way.glue):
        entry("grain", _grain(glue, unit))
    beside = (
        ""
        if way.against_integral is None
        else f", {way.against_integral:.2f} of an integral tenon of that size"
    )
    entry("relative", f"{way.relative:.0f}{beside}")
    entry("verdict", way.verdict)


def _thinnest(walls: Sequence[WallReport]) -> list[WallReport]:
    """The thinnest wall to each surface, the thinnest of all first."""
    least: dict[tuple[str, str], WallReport] = {}
    for wall in sorted(walls, key=lambda wall: wall.left):
        least.setdefault((wall.part, wall.surface), wall)
    return list(least.values())[:THINNEST]


def _grain(glue: GlueReport, unit: Unit) -> str:
    kinds = (("long grain", glue.long_grain), ("oblique", glue.oblique), ("end grain", glue.end_grain))
    areas = ", ".join(f"{_area(area, unit)} {kind}" for kind, area in kinds if area >= _LEAST_AREA)
    cheeks = format_angle(round(glue.cheek_to_fibre, 1))
    return f"{glue.part}: cheeks at {cheeks} to the fibre, {areas or 'no glue'}"


def _area(mm2: float, unit: Unit) -> str:
    """An area of glue, to a mm² or a hundredth of a square inch; what is less is told to a thousandth."""
    if unit == "mm":
        return f"{mm2:.0f} mm²"
    inches = mm2 / 25.4**2
    return f"{inches:.2f} in²" if inches >= 0.005 else f"{inches:.3f} in²"


def _off(page: Page, off: OffReport, unit: Unit) -> None:
    page.blank()
    gaps = f"{_gap(off.joint_gap, unit)} at one joint"
    if off.ring_gap is not None:
        gaps += f", {_gap(off.ring_gap, unit)} at the last of a ring pulled tight"
    page.entry(f"off by {format_angle(off.error)}", f"opens {gaps}", at=LABELS)
    page.entry("remedy", off.remedy, at=LABELS)


def _gap(mm: float, unit: Unit) -> str:
    """A gap: finer than lengths are told."""
    return f"{mm:.2f} mm" if unit == "mm" else f"{mm / 25.4:.3f} in"


def _words(way: str) -> str:
    return as_words(way).replace("-", " ")
