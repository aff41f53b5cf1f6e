"""A kind of joint that has been added to the files only is taken for no other kind: it ends where it is not known.

`mypy` lists these places beforehand, since each ends in `assert_never`.
"""

from types import SimpleNamespace

import pytest

from sequencer.joinery.meetings import quantities
from sequencer.joinery.meetings import square as meetings
from sequencer.joinery.meetings.joined import Joined, Way
from sequencer.joinery.ways import mating
from sequencer.joinery.whole import assembly
from sequencer.joinery.whole import together as whole
from sequencer.joinery.work import truing
from sequencer.model import surfaces
from sequencer.model.parts import Part

WAY = Way("square", (), ())


STRANGER = SimpleNamespace(
    id="pair",
    kind="face-to-face",
    parts=("one", "other"),
    at=(0.0,),
    on=("back",),
    edges=("edge",),
    ends=("left end",),
)
"""The keys of joints that are known, and none of their kinds."""


@pytest.mark.parametrize(
    "ask",
    [
        lambda joint, parts: meetings.pairs_of(joint, {}, None),
        lambda joint, parts: quantities.needed(joint, parts),
        lambda joint, parts: quantities.meetings_made(joint, parts, {"one": 1, "other": 1}),
        lambda joint, parts: mating._times(joint, None, WAY, None, {"one": 1, "other": 1}, 1),
        lambda joint, parts: truing.truing([(joint, None)], parts),
        lambda joint, parts: assembly.links_of(Joined(joint, ways=[WAY]), WAY, {}, parts),
        lambda joint, parts: whole._followed(Joined(joint, ways=[WAY])),
        lambda joint, parts: whole._unlike(joint, parts["one"], parts["other"]),
        lambda joint, parts: list(surfaces.made_by(joint)),
    ],
    ids=["pairs_of", "needed", "meetings_made", "times", "truing", "links", "followed", "unlike", "made_by"],
)
def test_a_kind_that_is_not_known_is_taken_for_no_other(ask) -> None:
    """Each way of telling joints apart says that it does not know this one."""
    parts = {name: Part(id=name, length=300, width=100, thickness=18) for name in ("one", "other")}
    with pytest.raises(AssertionError, match="unreachable"):
        ask(STRANGER, parts)
