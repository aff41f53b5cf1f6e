"""The parts of every example, cut as derived and put together, meet as wood does: an independent solid modeller
(manifold3d) is the judge."""

from pathlib import Path

import manifold3d as m3
import numpy as np
import pytest

from sequencer import load_job
from sequencer.joinery import derive
from sequencer.operations import PlaneCut
from tests.joinery.assemblies import assembled

EXAMPLES = sorted(p.parent.name for p in (Path(__file__).parents[2] / "examples").glob("*/job.toml"))


def job_of(name):
    return load_job(Path(__file__).parents[2] / "examples" / name / "job.toml")


def solid(part, operations):
    """The part's wood after all its plane cuts."""
    body = m3.Manifold.cube([part.length, part.width, part.thickness])
    for op in operations:
        for cut in op.cuts:
            if isinstance(cut, PlaneCut) and cut.part == part.id:
                n, p = np.array(cut.normal), np.array(cut.point)
                body = body.trim_by_plane((-n).tolist(), float(-n @ p))
    return body


def made_by(worklist, joint, way):
    """The operations made when a joint is made by one way, and every other as its first option says."""
    gone = set()
    for choice in worklist.choices:
        take = way.replace("-", "_") if choice.id == joint else next(iter(choice.options))
        gone |= {op for name, ops in choice.options.items() if name != take for op in ops}
    return [op for op in worklist.operations if op.id not in gone]


@pytest.mark.parametrize("name", EXAMPLES)
def test_mating_slots_coincide(name):
    """In space, mating slots have one axis line, one direction and one plane of cheeks, within 0.01 mm."""
    job = job_of(name)
    found = assembled(job)
    assert found or not any(hasattr(j, "slips") for j in job.joints)
    for assembly in found:
        for mated in assembly.mated:
            a, b = assembly.placed[mated.first], assembly.placed[mated.second]
            for one, two in mated.slots:
                p = a.rotation @ np.array(one.mouth) + a.origin
                q = b.rotation @ np.array(two.mouth) + b.origin
                axis = a.rotation @ np.array(one.axis)
                assert np.allclose(axis, -(b.rotation @ np.array(two.axis)), atol=1e-5)
                along = a.rotation @ np.array(one.along)
                assert abs(abs(along @ (b.rotation @ np.array(two.along))) - 1) < 1e-6
                aside = (q - p) - ((q - p) @ axis) * axis
                assert np.linalg.norm(aside) < 0.01, (assembly.joint, assembly.way)
                # from bottom to bottom there is room for the slip
                assert one.depth + two.depth - (q - p) @ axis >= mated.slip - 1e-6
                assert one.width == two.width


@pytest.mark.parametrize("name", EXAMPLES)
def test_parts_meet_without_overlap(name):
    """The parts as sawn, placed in space, fill no space twice, and mating parts touch."""
    job = job_of(name)
    worklist = derive(job)
    for assembly in assembled(job):
        ops = made_by(worklist, assembly.joint, assembly.way)
        parts = {p.id: p for p in job.parts}
        bodies = []
        for place in assembly.placed:
            affine = np.hstack([place.rotation, place.origin.reshape(3, 1)])
            bodies.append(solid(parts[place.part], ops).transform(affine.tolist()))
        widest = max(2 * parts[p.part].thickness * max(parts[p.part].width, 1.0) for p in assembly.placed)
        for i, one in enumerate(bodies):
            for two in bodies[:i]:
                # 0.005 mm over the joint: lengths in the job are written to 0.01 mm
                assert (one ^ two).volume() < 0.005 * widest, (assembly.joint, assembly.way)
        for mated in assembly.mated:
            gap = bodies[mated.first].min_gap(bodies[mated.second], 5.0)
            assert gap < 0.01, (assembly.joint, assembly.way, gap)


@pytest.mark.parametrize(("sides", "slope"), [(4, 75), (6, 60), (8, 80)])
def test_ring_closes_with_the_volume_of_the_shell(sides, slope, tmp_path):
    """A splayed ring's parts add up to the analytic volume of the mitred shell (area of section times mean girth):
    a blank too short would pass the overlap test alone. Pappus-like sum, worked out plane by plane here."""
    text = f"""
[job]
shop = "{Path(__file__).parents[2] / "examples" / "shop.toml"}"
[[part]]
id = "side"
quantity = {sides}
length = 400
width = 120
thickness = 20
stock = "planed"
[[joint]]
id = "corner"
kind = "splayed"
parts = ["side"]
sides = {sides}
slope = {slope}
"""
    (tmp_path / "job.toml").write_text(text)
    job = load_job(tmp_path / "job.toml")
    (assembly,) = assembled(job)
    ops = derive(job).operations
    bodies = [
        solid(job.parts[0], ops).transform(np.hstack([p.rotation, p.origin.reshape(3, 1)]).tolist())
        for p in assembly.placed
    ]
    union = bodies[0]
    for body in bodies[1:]:
        union = union + body
    # Board-wise: at depth u in from the outside and height y, the board is shorter by 2 (u tan) of the joint line
    # per mm; the mean length is taken at the middle of the section, for the section is a parallelogram there.
    alpha, s = np.pi / sides, np.radians(slope)
    out = np.cos(s) * np.tan(alpha)  # per mm up the board
    into = np.sin(s) * np.tan(alpha)  # per mm through the thickness
    mean = 400 - 2 * (60 * out + 10 * into)
    assert union.volume() == pytest.approx(sides * mean * 120 * 20, rel=1e-6)
