"""What the maker should know of each joint: geometry, walls, grain, ways ranked, and what happens if it is off.

Plain values: lengths mm, areas mm2, angles degrees. Figures of glue are relative, to compare ways of making one joint;
they are no loads and no design values.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, radians

from sequencer.geometry.gaps import ThinnerSlip, joint_gap, next_slip_down, ring_gap, thinner_slip
from sequencer.geometry.grain import JointGlue, joint_glue, ranked
from sequencer.geometry.refusal import FigureError
from sequencer.geometry.slots import SlotSolid
from sequencer.joinery.basis.seats import Pair
from sequencer.joinery.meetings.joined import Joined, Way
from sequencer.joinery.meetings.rings import inside_of
from sequencer.joinery.slots.fit import Fit
from sequencer.joinery.workshop import Workshop, work_out
from sequencer.model.job import Job
from sequencer.model.parts import CaseMitre, FrameMitre, Joint
from sequencer.operations import StruckOut, Value
from sequencer.quantity import format_length

CONVENTIONS = (
    "slope from horizontal; gauge from a square crosscut; tilt from vertical; "
    "fence angle between base and fence"
)
TRIAL_ERROR = 0.1
"""Degrees: the bevel error for which gaps are told."""


class Angles(Value):
    """How one end or edge is sawn."""

    part: str
    surface: str
    gauge: float
    """As a card tells it: from square, to whichever side."""
    full_edge: str
    """That side: the edge ("edge", "far edge") along which the board keeps its full length; "" where it is square."""
    tilt: float
    fence_angle: float
    """The mortiser's for plunging into the sawn surface; 90 where all is plunged before it is sawn."""


class WallReport(Value):
    """Wood left between the slots of a part and one of its surfaces; or a groove, rebate or housing in it ("rebate"
    and its id), where that is less than the shop's least wall: 0 where they open in it."""

    part: str
    surface: str
    left: float


class GlueReport(Value):
    """Glued areas of the counted walls of all slots of one corner, in one half."""

    part: str
    cheek_to_fibre: float
    long_grain: float
    oblique: float
    end_grain: float


class OffReport(Value):
    """What a bevel error of `error` degrees opens: at one joint, and at the last one of a ring pulled tight."""

    error: float
    joint_gap: float
    ring_gap: float | None
    remedy: str


class WayReport(Value):
    """One way of making a joint; slips and glue are those of its weakest kind of corner."""

    way: str
    rank: int
    """1 for the way with the best relative figure."""
    slips: int
    thickness: float
    width: float
    length: float
    height: float
    """From `height_from` to the middle of the slots, along the surface plunged into; not what the fence is set to where
    that starts from elsewhere."""
    height_from: str
    """Surface and part: "face of side"."""
    depths: tuple[float, float]
    slot_lengths: tuple[float, float]
    embedded: tuple[float, float]
    """Depth of slot left in each half when all is sawn."""
    centres: tuple[float, ...]
    walls: tuple[WallReport, ...]
    glue: tuple[GlueReport, GlueReport]
    relative: float
    against_integral: float | None
    """Beside an integral tenon of the same outside size, 1 = as much."""
    verdict: str


class JointReport(Value):
    """One joint with its ways, the best first."""

    joint: str
    kind: str
    parts: tuple[str, ...]
    sides: int | None
    corner: float | None = None
    """The exact inside angle of a ring's corners, degrees, where the job tells it rounded."""
    angles: tuple[Angles, ...]
    conventions: str = CONVENTIONS
    ways: tuple[WayReport, ...]
    struck_out: tuple[StruckOut, ...]
    off: OffReport | None


def joint_report(job: Job) -> tuple[JointReport, ...]:
    """The report of every joint with slips, in the order of the job. Raises as `derive`."""
    shop = work_out(job)
    return tuple(_joint(shop, each) for each in shop.joined if each.ways)


@dataclass(frozen=True)
class _Weakest:
    """The kind of corner or meeting of a way that holds least: its seats, its slips and its glue."""

    pair: Pair
    fit: Fit
    glue: JointGlue


def _joint(shop: Workshop, each: Joined) -> JointReport:
    weakest = {way.name: _weakest(shop, way) for way in each.ways}
    order = ranked({name: corner.glue for name, corner in weakest.items()})
    ring = each.ring
    cuts = ring.cuts if ring is not None else ()
    bevelled = any(name != "square-first" for name in weakest)
    return JointReport(
        joint=each.joint.id,
        kind=each.joint.kind,
        parts=tuple(each.joint.parts),
        sides=len(ring.places) if ring is not None else None,
        corner=_exact_corner(each.joint),
        angles=tuple(
            Angles(
                part=c.part,
                surface=c.makes,
                gauge=abs(c.angle.gauge),
                full_edge=c.full_edge,
                tilt=c.angle.tilt,
                fence_angle=90 - c.angle.tilt if bevelled else 90.0,
            )
            for c in cuts
        ),
        ways=tuple(
            _way(next(w for w in each.ways if w.name == name), rank, weakest[name])
            for rank, name in enumerate(order, 1)
        ),
        struck_out=tuple(each.struck),
        off=_off(shop, each, weakest[order[0]].fit),
    )


def _exact_corner(joint: Joint) -> float | None:
    if not isinstance(joint, (CaseMitre, FrameMitre)) or inside_of(joint) == joint.corner:
        return None
    return inside_of(joint)


def _weakest(shop: Workshop, way: Way) -> _Weakest:
    found = [_Weakest(pair, fit, _glue(shop, pair, fit)) for pairs, fit in way.fits for pair in pairs]
    return min(
        found, key=lambda corner: round(corner.glue.relative, 6)
    )  # mirror images differ in the last digits


def _glue(shop: Workshop, pair: Pair, fit: Fit) -> JointGlue:
    """The glue of all slips of one corner or meeting: on as much of the slots as these fill."""
    one, other = (
        SlotSolid.of(seat.slot("", fit.centres[0], fit.height, fit.width, fit.thickness, fit.held[half]))
        for half, seat in enumerate((pair.first, pair.second))
    )
    return joint_glue(
        one,
        other,
        count=fit.count,
        count_ends=shop.floor.limits.count_rounded_sides,
        crossed=shop.floor.limits.cross_grain_weight,
    )


def _way(way: Way, rank: int, weakest: _Weakest) -> WayReport:
    pair, fit, glue = weakest.pair, weakest.fit, weakest.glue
    walls = [*(w for _, one in way.fits for w in one.walls), *way.beside]
    halves = [
        GlueReport(
            part=seat.part.id,
            cheek_to_fibre=round(half.cheek_slope, 4),
            long_grain=round(half.area("long grain"), 3),
            oblique=round(half.area("oblique"), 3),
            end_grain=round(half.area("end grain"), 3),
        )
        for seat, half in ((pair.first, glue.one), (pair.second, glue.other))
    ]
    return WayReport(
        way=way.name,
        rank=rank,
        slips=fit.count,
        thickness=fit.thickness,
        width=fit.width,
        length=fit.length,
        height=fit.height,
        height_from=_height_from(pair),
        depths=fit.depths,
        slot_lengths=fit.slots,
        embedded=fit.embedded,
        centres=fit.centres,
        walls=tuple(WallReport(part=w.part, surface=w.surface, left=w.left) for w in walls),
        glue=(halves[0], halves[1]),
        relative=round(glue.relative, 3),
        against_integral=None if glue.against_integral is None else round(glue.against_integral, 4),
        verdict=glue.verdict,
    )


def _height_from(pair: Pair) -> str:
    """What the height of a joint's slots is measured from: face or back of the first board that has it on the fence."""
    seats = [seat for seat in (pair.first, pair.second) if seat.fence in ("face", "back")]
    seat = seats[0] if seats else pair.first
    return f"{seat.fence} of {seat.part.id}"


def _off(shop: Workshop, each: Joined, fit: Fit) -> OffReport | None:
    """What a bevel a little off does, where the joint has one; `fit`: of the way ranked first."""
    ring = each.ring
    if ring is None or not any(c.angle.tilt for c in ring.cuts):
        return None
    cut = max(ring.cuts, key=lambda c: c.angle.tilt)
    length = shop.parts[cut.part].thickness / cos(radians(cut.angle.tilt))
    try:
        thinner = next_slip_down(fit.thickness, _thicknesses(shop, fit))
        remedy = _told(shop, thinner_slip(fit.thickness, thinner, fit.held, TRIAL_ERROR))
    except FigureError:
        size = _thick(shop, fit.thickness)
        remedy = f"plane the slips a little thinner than {size}, and fill with thickened epoxy"
    closed = getattr(each.joint, "closed", True)
    return OffReport(
        error=TRIAL_ERROR,
        joint_gap=round(joint_gap(length, TRIAL_ERROR), 4),
        ring_gap=round(ring_gap(length, TRIAL_ERROR, len(ring.places)), 4) if closed else None,
        remedy=remedy,
    )


def _told(shop: Workshop, thinner: ThinnerSlip) -> str:
    """The remedy of thinner slips as a sentence."""
    verdict = "enough" if thinner.enough else "not enough"
    return (
        f"slips {_thick(shop, thinner.slip_thickness)} thick give {round(thinner.play, 2):g} degrees of play at the "
        f"joint, {round(thinner.needed, 2):g} needed: {verdict}; thickened epoxy fills "
        f"{shop.floor.fine(thinner.adhesive)} at each cheek"
    )


def _thick(shop: Workshop, mm: float) -> str:
    """A slip's thickness in words, in the shop's unit, as its cutter is marked; other lengths are in the job's."""
    return format_length(mm, shop.floor.job.shop.unit, decimals=True)


def _thicknesses(shop: Workshop, fit: Fit) -> list[float]:
    """How thick slips else like these can be had, mm: as the shop has them, or else makes them, to its cutters."""
    ready = shop.floor.limits.slips
    alike = [s for s in ready if abs(s.width - fit.width) < 0.01 and abs(s.length - fit.length) < 0.01]
    return [slip.thickness for slip in alike] if ready else shop.floor.cutters
