"""Cutting the mirror image of an end: which turn of the board does it, and what of the saw's setting has to
move.

A saw tilts to one side only, so the left end of a board, or the end of its mirrored partner, cannot simply be
offered the other way about. The board can be turned in three ways without standing it on end; each puts
another edge or face where the first one was. Directions are those of somebody at the saw, the board's length
across the blade's path.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sequencer.geometry.angles import CompoundAngle

Turn = Literal["face for face", "end for end", "end over end"]
Side = Literal["left", "right"]


@dataclass(frozen=True)
class MirrorCut:
    """One way of cutting the mirror image of a cut already set up.

    `turn`: "face for face" rolls the board about its length, "end for end" spins it flat on the table, "end
    over end" turns it about its width. `other_edge`: the other edge lies against the gauge. `other_face`: the
    other face lies on the table. `other_side`: the piece that is kept lies on the other side of the blade.
    `gauge_swings`: the gauge must be swung to the same angle on the other side of square. `tilt_reverses`:
    the blade would have to lean the other way, which a saw that tilts one way cannot do.
    """

    turn: Turn
    other_edge: bool
    other_face: bool
    other_side: bool
    gauge_swings: bool
    tilt_reverses: bool

    @property
    def keeps_setting(self) -> bool:
        """Whether gauge and blade both stay as they are."""
        return not (self.gauge_swings or self.tilt_reverses)

    @property
    def says(self) -> str:
        """The turn as a sentence for the card."""
        words = [
            f"turn the board {self.turn}",
            f"{'the other' if self.other_edge else 'the same'} edge against the gauge",
            f"{'the other' if self.other_face else 'the same'} face down",
        ]
        if self.other_side:
            words.append("the piece kept on the other side of the blade")
        words.append(
            "swing the gauge to the same angle on the other side" if self.gauge_swings else "gauge as it is"
        )
        if self.tilt_reverses:
            words.append("blade leaning the other way")
        return ", ".join(words)


def mirror_cuts(angle: CompoundAngle) -> tuple[MirrorCut, ...]:
    """The ways of cutting the mirror image of a cut at `angle`, those that leave the setting alone first.

    With x along the board, y away from the gauge and z up, the plane of the cut has the normal (a, b, c)
    pointing into the waste, b for the gauge, c for the tilt, and its mirror image (-a, b, c). Face for face
    (half a turn about x) makes that (-a, -b, -c): the same plane with wood and waste exchanged. End for end
    (about z) makes it (a, -b, c), end over end (about y) (a, b, -c). Where the board's edges are not
    parallel, or an edge is a bevel's feather edge, the turns that need the other edge do not apply.

    >>> [cut.turn for cut in mirror_cuts(CompoundAngle(14.5, 43.1)) if cut.keeps_setting]
    ['face for face']
    >>> [cut.turn for cut in mirror_cuts(CompoundAngle(0, 45)) if cut.keeps_setting]
    ['end for end', 'face for face']
    """
    gauge, tilt = abs(angle.gauge) > 1e-9, abs(angle.tilt) > 1e-9
    ways = (
        MirrorCut("end over end", False, True, False, False, tilt),
        MirrorCut("end for end", True, False, False, gauge, False),
        MirrorCut("face for face", True, True, True, False, False),
    )
    return tuple(sorted(ways, key=lambda way: (not way.keeps_setting, way.tilt_reverses)))


def swing(
    angle: CompoundAngle, *, longer_edge_at_gauge: bool, kept: Side
) -> Literal["none", "clockwise", "anticlockwise"]:
    """Which way the gauge turns from square, seen from above.

    You push the work away from you, the gauge on your side of the board. `kept` says on which side of the
    blade the piece lies that is kept; `longer_edge_at_gauge` whether the edge that stays longer lies against
    the gauge. The arm that carries the kept piece then swings away from you when its longer edge is at the
    gauge, else towards you.

    >>> swing(CompoundAngle(14.5, 43.1), longer_edge_at_gauge=True, kept="left")
    'clockwise'
    """
    if abs(angle.gauge) < 1e-9:
        return "none"
    return "clockwise" if longer_edge_at_gauge == (kept == "left") else "anticlockwise"


def longer_face_up(*, blade_leans: Side, kept: Side) -> bool:
    """Whether the face that stays longer lies up: so when the blade leans away from the piece that is kept.

    Then the offcut lies under the leaning blade, where it can be trapped: leave it free to fall away.

    >>> longer_face_up(blade_leans="right", kept="left")
    True
    """
    return blade_leans != kept
