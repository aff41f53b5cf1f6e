"""Turning the board for the mirror image of a cut, against real rotations."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from sequencer.geometry.angles import CompoundAngle
from sequencer.geometry.turning import longer_face_up, mirror_cuts, swing

HALF_TURN = {"face for face": "x", "end for end": "z", "end over end": "y"}


def cut_normal(gauge: float, tilt: float) -> np.ndarray:
    """Normal into the waste of a right end, the board at rest on the saw: gauge about z, tilt about y."""
    return (
        Rotation.from_euler("z", -gauge, degrees=True) * Rotation.from_euler("y", tilt, degrees=True)
    ).apply([1, 0, 0])


@settings(max_examples=60, deadline=None)
@given(st.floats(-60, 60), st.floats(0, 60))
def test_each_turn_brings_the_mirror_image_to_the_blade(gauge: float, tilt: float) -> None:
    """After the turn, with gauge, tilt and side changed as said, the blade's plane is the mirrored end
    (scipy).
    """
    right = cut_normal(gauge, tilt)
    mirrored = right * [-1, 1, 1]
    for cut in mirror_cuts(CompoundAngle(gauge, tilt)):
        turned = Rotation.from_euler(HALF_TURN[cut.turn], 180, degrees=True).apply(mirrored)
        blade = cut_normal(-gauge if cut.gauge_swings else gauge, -tilt if cut.tilt_reverses else tilt)
        assert turned == pytest.approx(-blade if cut.other_side else blade, abs=1e-9)


def test_face_for_face_always_keeps_the_setting() -> None:
    """A compound cut's mirror image is had without a reset only by turning the board face for face."""
    ways = mirror_cuts(CompoundAngle(14.5, 43.1))
    assert [way.turn for way in ways if way.keeps_setting] == ["face for face"]
    assert ways[0].says == (
        "turn the board face for face, the other edge against the gauge, the other face down, "
        "the piece kept on the other side of the blade, gauge as it is"
    )


def test_straight_bevels_and_flat_mitres_turn_freely() -> None:
    """A straight bevel turns end for end, a flat mitre end over end, without a reset."""
    assert "end for end" in [w.turn for w in mirror_cuts(CompoundAngle(0, 45)) if w.keeps_setting]
    assert "end over end" in [w.turn for w in mirror_cuts(CompoundAngle(45, 0)) if w.keeps_setting]


@settings(max_examples=40, deadline=None)
@given(st.floats(1, 60), st.booleans(), st.sampled_from(["left", "right"]))
def test_gauge_swings_as_the_blade_leaves_the_longer_edge(gauge: float, longer: bool, kept: str) -> None:
    """Swung as said, the blade's path leaves the edge at the gauge longer or shorter as wanted.

    Checked by turning the gauge's arm as a vector (scipy): seen from above, you at the bottom, pushing up.
    """
    sense = swing(CompoundAngle(gauge, 0), longer_edge_at_gauge=longer, kept=kept)  # type: ignore[arg-type]
    arm = np.array([-1.0 if kept == "left" else 1.0, 0, 0])
    turned = Rotation.from_euler("z", gauge if sense == "anticlockwise" else -gauge, degrees=True).apply(arm)
    # The board's corner at gauge and blade is sharp, so its edge at the gauge the longer one, when the arm
    # points ahead.
    assert (turned[1] > 0) == longer


def test_offcut_side_of_a_leaning_blade() -> None:
    """With the blade leaning away from the kept piece its longer face lies up."""
    assert longer_face_up(blade_leans="left", kept="right")
    assert not longer_face_up(blade_leans="left", kept="left")
