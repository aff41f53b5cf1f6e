"""The number on the saw's length stop, held to the cut itself: how far it is from the blade to the end at the stop."""

import numpy as np
import pytest

from sequencer.joinery import derive
from tests.joinery.test_held import joint, part

FRAME = ("frame-mitre", "corner = {}\n", {4: 90, 6: 120, 8: 135, 5: 108})
CASE = ("case-mitre", "corner = {}\n", {4: 90, 6: 120, 8: 135})
"""Rings of so many pieces, with the angle inside their corners."""


def rings():
    """(kind of joint, further keys, pieces) of frames and cases of some sizes."""
    for kind, keys, corners in (FRAME, CASE):
        for count, corner in corners.items():
            yield kind, keys.format(corner), count


def end_cuts(job, kind, keys, count):
    """The operations that mitre or bevel the ends of a ring of boards, 400 x 60 x 20 mm."""
    made = derive(job(part("side", 400, 60, 20, count) + joint("corner", kind, ["side"], keys)))
    return [op for op in made.operations if op.kind in ("mitre", "bevel") and op.joint == "corner"]


def along(normal, point, line):
    """x where a plane crosses the line of these y and z."""
    y, z = line
    return point[0] - (normal[1] * (y - point[1]) + normal[2] * (z - point[2])) / normal[0]


@pytest.mark.parametrize(("kind", "keys", "count"), list(rings()))
def test_the_stop_stands_where_its_card_says(job, kind, keys, count):
    """Measured along the fence of the gauge, so at the edge that lies against it, and low down, so at the surface that
    lies on the table, to the square end at the other end of the board.

    Of a mitre that is its long point, of a bevel the heel: the blade leans over the offcut.
    """
    cuts = end_cuts(job, kind, keys, count)
    assert cuts
    for op in cuts:
        mitred = op.kind == "mitre"
        assert (op.notes.table.startswith("back"), "edge" in op.notes.fence) == (True, True)
        for cut in op.cuts:
            normal, point = np.array(cut.normal), np.array(cut.point)
            at = along(normal, point, (0.0, 0.0))
            length = at if normal[0] > 0 else 400 - at
            assert op.settings["stop"] == pytest.approx(length, abs=1e-6)
            turned = np.degrees(np.arctan2(abs(normal[1]), abs(normal[0])))
            leaning = np.degrees(np.arcsin(abs(normal[2])))
            assert op.settings["gauge"] == pytest.approx(turned, abs=1e-6)
            assert op.settings["tilt"] == pytest.approx(leaning, abs=1e-6)
            far = along(normal, point, (60.0, 0.0) if mitred else (0.0, 20.0))
            other = far if normal[0] > 0 else 400 - far
            assert other < length if mitred else other > length
        how = op.notes.how_to_set["stop"]
        assert ("along the gauge's fence" in how and "at the long point" in how) == mitred
        assert ("low down at the table" in how) == (not mitred)


def test_compound_cuts_have_no_stop(job):
    """They are cut to the line: no number could be set at a gauge and a blade that both stand at an angle."""
    text = part("side", 400, 120, 18, 4) + joint("corner", "splayed", ["side"], "slope = 60\nsides = 4\n")
    cuts = [op for op in derive(job(text)).operations if op.kind == "bevel" and op.settings.get("gauge")]
    assert cuts
    assert all("stop" not in op.settings and "stop" not in op.notes.how_to_set for op in cuts)
