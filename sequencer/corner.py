"""The answer to `sequencer angles`: gauge and tilt for a corner, by sides, corner, slope or spring."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict

from sequencer.diagnostics import Fault, InputError
from sequencer.geometry.angles import corner_of, dihedral, mitre, rip_bevel, unequal
from sequencer.geometry.refusal import FigureError
from sequencer.quantity import format_angle

BELOW_SQUARE = (
    "gauge below 0: that side is longer along its lower edge (above 0 along its upper one), so the gauge swings to the "
    "other side of square"
)
"""What a negative gauge means."""

CONVENTIONS = (
    "slope: from horizontal, 90 = upright",
    "corner: inside angle of the corner in plan",
    "gauge: from a square crosscut (many gauge scales read 90 less this)",
    BELOW_SQUARE,
    "tilt: of the blade from vertical, the board's face flat on the table",
    "dihedral: inside angle between the two faces at the joint",
    "rip bevel: tilt for top and bottom edges that lie level",
)
"""What each figure is measured from, as the JSON tells it; `report` says the same beside the figures it prints."""


class CornerAngles(BaseModel):
    """Angles of one corner, degrees, by the conventions above.

    `other_gauge` and `other_rip_bevel` only where the two sides slope differently (the tilt is the same for both).
    """

    model_config = ConfigDict(frozen=True)

    sides: int | None = None
    corner: float
    slope: float
    other_slope: float | None = None
    gauge: float
    tilt: float
    other_gauge: float | None = None
    dihedral: float
    rip_bevel: float
    other_rip_bevel: float | None = None
    conventions: tuple[str, ...] = CONVENTIONS


def corner_angles(
    sides: int | None = None,
    corner: float | None = None,
    slope: float | None = None,
    spring: float | None = None,
    other_slope: float | None = None,
) -> CornerAngles:
    """Angles for a regular form of `sides`, or for one `corner`; upright unless slope or spring is given.

    Raises InputError for what no corner can have, or when the question is not complete.
    """
    if (sides is None) == (corner is None):
        raise _wrong("--sides, --corner", "exactly one of the two is needed", "--sides N or --corner DEGREES")
    if slope is not None and spring is not None:
        raise _wrong(
            "--slope, --spring", "only one of the two can be given", "--slope DEGREES or --spring DEGREES"
        )
    if spring is not None and not 0 <= spring < 90:
        message = f"a spring angle of {format_angle(spring)} is not possible"
        raise _wrong("angles", message, "--spring of 0 or more and less than 90")
    try:
        inside = corner_of(sides) if sides is not None else float(corner or 0.0)
        leaning = 90.0 if slope is None else slope
        if spring is not None:
            leaning = 90.0 - spring
        angle = mitre(inside, leaning)
        other = None if other_slope is None else unequal(inside, leaning, other_slope)
        return CornerAngles(
            sides=sides,
            corner=inside,
            slope=leaning,
            other_slope=other_slope,
            gauge=other[0].gauge if other else angle.gauge,
            tilt=other[0].tilt if other else angle.tilt,
            other_gauge=other[1].gauge if other else None,
            dihedral=dihedral(inside, leaning, other_slope),
            rip_bevel=rip_bevel(leaning),
            other_rip_bevel=None if other_slope is None else rip_bevel(other_slope),
        )
    except FigureError as error:
        raise InputError([Fault(error.message, where="angles", accepted=error.accepted)]) from error


def _wrong(where: str, message: str, accepted: str) -> InputError:
    return InputError([Fault(message, where=where, accepted=accepted)])
