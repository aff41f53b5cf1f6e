"""Whole things, rings with shelves and bookcases, built in solids (manifold3d): every shelf in its one place meets the
sides at both its ends. Where boards lie follows from the trade's words (`virtual_build`), never from the slots.
"""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from sequencer.diagnostics import InputError
from sequencer.joinery import derive
from sequencer.model.job import Job
from sequencer.model.parts import CaseMitre, EndToFace
from sequencer.operations import Trench
from tests.joinery.test_virtual_build import check_meeting, check_ring, job_of, joint, part
from tests.joinery.virtual_build import (
    Made,
    Place,
    X,
    Y,
    Z,
    chosen,
    in_order,
    machine,
    mates,
    opposite,
    ring_places,
    shelf_on,
)

REBATE = 'beside = "far edge"\nwidth = 8\ndepth = 6'


def named(kind: str, parts: list[str], name: str, more: str = "") -> str:
    """A `[[joint]]` table with an id of its own."""
    return joint(kind, parts, more).replace(f'id = "{kind}"', f'id = "{name}"')


def shelves(job: Job, sides: dict[str, Place], made: dict[str, Made]) -> Iterator[tuple[str, Place]]:
    """Every shelf on the side that its left end meets, with the joint's id; `sides` by part, or "part left"."""
    for each in job.joints:
        if isinstance(each, EndToFace) and "left end" in each.ends:
            side = sides.get(each.parts[1]) or sides[f"{each.parts[1]} left"]
            for at in each.at:
                yield each.id, shelf_on(each, "left end", at, side, made)


def check_shelves(job: Job, left: Place, right: Place, made: dict[str, Made]) -> int:
    """All shelves, in the place that the left side gives them, meet both sides; the number of slips at right ends."""
    found = 0
    for name, shelf in shelves(job, {left.part: left, f"{left.part} left": left}, made):
        check_meeting(name, shelf, left, made)
        assert float(shelf.y @ left.y) > 0.99
        assert float(shelf.origin @ left.y) == pytest.approx(float(left.origin @ left.y), abs=1e-6)
        other = name.replace("left", "right")
        check_meeting(other, shelf, right, made)
        found += len(mates(shelf, right, other, made))
    return found


def built(job: Job, turn: int = 0) -> dict[str, Made]:
    """All parts as machined, every choice taken its option number `turn`."""
    order = in_order(chosen(derive(job), turn))
    return {p.id: machine(p, order, job.shop.joinery.least_wall) for p in job.parts}


@pytest.mark.parametrize("turn", [0, 1])
def test_a_mitred_case_with_a_shelf_narrower_than_its_sides(turn: int) -> None:
    """A shelf 300 from the left end of the left side is 480 from that of the right one, which is up: 800 - 300 - 20."""
    job = job_of(
        part("left side", 800, 220, 20, 1)
        + part("right side", 800, 220, 20, 1)
        + part("top", 500, 220, 20, 1)
        + part("bottom", 500, 220, 20, 1)
        + part("shelf", 460, 200, 20, 1)
        + joint("case-mitre", ["top", "left side", "bottom", "right side"])
        + named("end-to-face", ["shelf", "left side"], "shelf left", 'at = [300]\nends = ["left end"]')
        + named("end-to-face", ["shelf", "right side"], "shelf right", 'at = [480]\nends = ["right end"]')
        + named("rebate", ["left side", "right side", "top", "bottom"], "rebate", REBATE)
    )
    made = built(job, turn)
    ring = next(each for each in job.joints if isinstance(each, CaseMitre))
    places = ring_places(ring, job, made)
    check_ring(ring, places, made)
    _, left, _, right = places
    assert check_shelves(job, left, right, made) == 3


@pytest.mark.parametrize(("at", "width"), [([390], 200), ([390], 220), ([100, 390, 680], 180)])
def test_a_mitred_case_whose_sides_are_one_part(at: list[int], width: int) -> None:
    """Sides that face each other lie turned end for end; shelves as far from both ends meet both."""
    job = job_of(
        part("side", 800, 220, 20, 2)
        + part("top", 500, 220, 20, 2)
        + part("shelf", 460, width, 20, len(at))
        + joint("case-mitre", ["top", "side"])
        + joint("end-to-face", ["shelf", "side"], f"at = {at}")
        + joint("rebate", ["side", "top"], REBATE)
    )
    made = built(job)
    ring = next(each for each in job.joints if isinstance(each, CaseMitre))
    _, left, _, right = ring_places(ring, job, made)
    assert check_shelves(job, left, right, made) == 3 * len(at)


BOOKCASE = (
    part("left side", 800, 220, 20, 1)
    + part("right side", 800, 220, 20, 1)
    + part("shelf", 460, 200, 20, 3)
    + part("back", 800, 470, 6, 1)
    + named("end-to-face", ["shelf", "left side"], "left", 'at = [20, 300, 760]\nends = ["left end"]')
    + named("rebate", ["left side", "right side"], "rebate", f'{REBATE}\nholds = "back"')
)


def right(at: list[int]) -> str:
    """The joint of the shelves' right ends."""
    return named("end-to-face", ["shelf", "right side"], "right", f'at = {at}\nends = ["right end"]')


def test_a_bookcase_has_sides_that_are_mirror_images() -> None:
    """The shelves' reference edges are flush with those of both sides; the rebates for the back face each other."""
    job = job_of(BOOKCASE + right([20, 480, 760]))
    made = built(job)
    left = Place("left side", Z, Y, -X, 0 * X)
    other = opposite(left, made["right side"].part, 460)
    assert check_shelves(job, left, other, made) == 9
    depths = []
    for place in (left, other):
        (cut,) = [
            c
            for op in derive(job).operations
            for c in op.cuts
            if isinstance(c, Trench) and c.part == place.part
        ]
        depths.append(sorted(float(place.point(corner)[1]) for corner in (cut.low, cut.high)))
    assert depths == [[212, 220], [212, 220]]


@pytest.mark.parametrize(("at", "width", "rebated"), [([20, 390, 760], 200, True), ([390], 220, True)])
def test_a_bookcase_whose_sides_are_one_part(at: list[int], width: int, rebated: bool) -> None:
    """Shelves as far from both ends: the right side is the left one turned end for end."""
    job = job_of(
        part("side", 800, 220, 20, 2)
        + part("shelf", 460, width, 20, len(at))
        + joint("end-to-face", ["shelf", "side"], f"at = {at}")
        + (joint("rebate", ["side"], REBATE) if rebated else "")
    )
    made = built(job)
    left = Place("side", Z, Y, -X, 0 * X)
    assert check_shelves(job, left, opposite(left, made["side"].part, 460), made) == 3 * len(at)


def test_sides_that_are_one_part_with_shelves_at_any_height() -> None:
    """Shelves as wide as their sides, slots centred: both left ends down, the reference edges on opposite sides."""
    job = job_of(
        part("side", 800, 220, 20, 2)
        + part("shelf", 460, 220, 20, 2)
        + joint("end-to-face", ["shelf", "side"], "at = [20, 500]")
    )
    made = built(job)
    left = Place("side", Z, Y, -X, 0 * X)
    other = Place("side", Z, -Y, X, 460 * X + 220 * Y)
    assert check_shelves(job, left, other, made) == 6


CASE = (
    part("side", 800, 220, 20, 2)
    + part("top", 500, 220, 20, 2)
    + part("shelf", 460, 220, 20, 1)
    + joint("case-mitre", ["top", "side"])
    + "{}"
)
UNLIKE = (
    part("left side", 800, 220, 20, 1)
    + part("right side", 800, 220, 20, 1)
    + part("top", 500, 220, 20, 2)
    + part("shelf", 460, 200, 20, 1)
    + joint("case-mitre", ["top", "left side", "top", "right side"])
    + named("end-to-face", ["shelf", "left side"], "one", 'at = [300]\nends = ["left end"]')
    + named("end-to-face", ["shelf", "right side"], "other", 'at = [{}]\nends = ["right end"]')
)
DIVIDED = (
    part("front", 300, 100, 15, 2)
    + part("end", 200, 100, 15, 2)
    + part("divider", 180, 80, 6, 1)
    + joint("case-mitre", ["front", "end"])
    + joint("housing", ["front"], 'at = [{}]\nwidth = 6\ndepth = 5\nholds = "divider"')
)
DIVIDED_APART = DIVIDED.replace('id = "front"\nquantity = 2', 'id = "front"\nquantity = 1').replace(
    '["front", "end"]', '["front", "end", "rear", "end"]'
).replace("[[joint]]", part("rear", 300, 100, 15, 1) + "[[joint]]", 1) + named(
    "housing", ["rear"], "other", 'at = [{}]\nwidth = 6\ndepth = 5\nholds = "divider"'
)

FRAME = (
    part("long", 500, 50, 20, 2)
    + part("short", 400, 50, 20, 2)
    + part("cross", 300, 40, 20, 1)
    + joint("frame-mitre", ["long", "short"])
    + joint("end-to-edge", ["cross", "long"], 'at = [{}]\nedges = ["far edge"]')
)
FRAME_APART = (
    part("near", 500, 50, 20, 1)
    + part("other", 500, 50, 20, 1)
    + part("short", 400, 50, 20, 2)
    + part("cross", 300, 40, 20, 1)
    + joint("frame-mitre", ["near", "short", "other", "short"])
    + named("end-to-edge", ["cross", "near"], "one", 'at = [140]\nends = ["left end"]\nedges = ["far edge"]')
    + named("end-to-edge", ["cross", "other"], "two", 'at = [{}]\nends = ["right end"]\nedges = ["far edge"]')
)
RAILS = part("stile", 800, 60, 20, 2) + part("rail", 480, 60, 20, 3)
RAILS_APART = (
    part("left stile", 800, 60, 20, 1)
    + part("right stile", 800, 60, 20, 1)
    + part("rail", 480, 60, 20, 3)
    + named("end-to-edge", ["rail", "left stile"], "one", 'at = [0, 200, 740]\nends = ["left end"]')
    + named("end-to-edge", ["rail", "right stile"], "two", 'at = [0, 540, 740]\nends = ["right end"]')
)
TABLE = (
    part("leg", 700, 50, 50, 4)
    + part("apron", 900, 90, 22, 2)
    + part("short apron", 500, 90, 22, 2)
    + part("bearer", 546, 60, 22, 2)
    + joint("leg-to-apron", ["apron", "short apron"], 'leg = "leg"\nsetback = 5')
    + joint("end-to-face", ["bearer", "apron"], "at = {}")
)


@pytest.mark.parametrize(
    ("text", "says", "works", "mended"),
    [
        (
            CASE.format(joint("end-to-face", ["shelf", "side"], "at = [300]")),
            "300 mm from the left end of one is as far from the right end of the other",
            ("at 390 mm, in the middle", 'ends = ["right end"] and at 480 mm'),
            (CASE.format(joint("end-to-face", ["shelf", "side"], "at = [390]")), UNLIKE.format(480)),
        ),
        (
            UNLIKE.format(300),
            "right side would lie 180 mm from where it does there, along its length",
            ("at 480 mm",),
            (UNLIKE.format(480),),
        ),
        (
            UNLIKE.format(480).replace("length = 460", "length = 470"),
            "shelf, 470 mm long, does not fit between left side and right side, which case-mitre holds 460 mm apart",
            ("shelf 460 mm long",),
            (UNLIKE.format(480),),
        ),
        (
            FRAME.format(140),
            "140 mm from the left end of one is as far from the right end of the other",
            ("at 230 mm, in the middle", 'ends = ["right end"] and at 320 mm'),
            (FRAME.format(230), FRAME_APART.format(320)),
        ),
        (
            FRAME_APART.format(140),
            "other would lie 180 mm from where it does there, along its length",
            ("at 320 mm: measured from the left end of other",),
            (FRAME_APART.format(320),),
        ),
        (
            RAILS + joint("end-to-edge", ["rail", "stile"], "at = [0, 200, 740]"),
            "200 mm from the left end of one is as far from the right end of the other",
            ('ends = ["right end"] and at 0 mm, 540 mm, 740 mm',),
            (RAILS_APART,),
        ),
        (
            TABLE.format([200, 600]),
            "bearer is narrower than apron, so the two aprons are mirror images, not one part",
            ("at 239 mm, 639 mm, alike from both ends",),
            (TABLE.format([239, 639]),),
        ),
        (
            BOOKCASE + right([20, 300, 760]),
            "shelf would lie 180 mm from where it does there, through its thickness",
            ("at 20 mm, 480 mm, 760 mm",),
            (BOOKCASE + right([20, 480, 760]),),
        ),
        (
            part("side", 800, 220, 20, 2)
            + part("shelf", 460, 220, 20, 1)
            + joint("end-to-face", ["shelf", "side"], "at = [300]")
            + joint("rebate", ["side"], REBATE),
            'with the rebate "rebate" the two sides are mirror images, not one part',
            ('ends = ["right end"] and at 480 mm',),
            (),
        ),
        (
            part("side", 800, 220, 20, 2)
            + part("shelf", 460, 200, 20, 1)
            + joint("end-to-face", ["shelf", "side"], "at = [300]"),
            "shelf is narrower than side, so the two sides are mirror images, not one part",
            ("at 390 mm, in the middle", 'ends = ["right end"] and at 480 mm'),
            (),
        ),
        (
            DIVIDED.format(100),
            "the housing 100 mm from the left end of front does not lie across from that in another front",
            ("at 147 mm, in the middle", "194 mm in the other"),
            (DIVIDED.format(147), DIVIDED_APART.format(100, 194)),
        ),
        (
            DIVIDED_APART.format(100, 100),
            "the housing 100 mm from the left end of front does not lie across from that in rear",
            ("194 mm in the other",),
            (DIVIDED_APART.format(100, 194),),
        ),
    ],
)
def test_what_does_not_go_together_is_refused(
    text: str, says: str, works: tuple[str, ...], mended: tuple[str, ...]
) -> None:
    """Boards that two joints would have in two places: with the figure, and ways out that are ones."""
    with pytest.raises(InputError) as refused:
        derive(job_of(text))
    (fault,) = refused.value.faults
    assert says in fault.message
    assert all(word in fault.accepted for word in works)
    assert "of its own" not in fault.accepted or "leg-to-apron" not in text
    for other in mended:
        derive(job_of(other))


@pytest.mark.parametrize(("at", "key"), [("", "parts"), ("at = [0, 650]\n", "at")])
def test_what_does_not_go_together_is_told_at_a_key_that_is_written(at: str, key: str) -> None:
    """Rails flush with the ends of stiles of 720 and 700 mm lie 20 mm apart: told at places, where there are any."""
    text = part("left", 720, 50, 20, 1) + part("right", 700, 50, 20, 1) + part("rail", 400, 50, 20, 2)
    text += named("end-to-edge", ["rail", "left"], "one", 'ends = ["left end"]')
    text += named("end-to-edge", ["rail", "right"], "other", f'{at}ends = ["right end"]')
    with pytest.raises(InputError) as refused:
        derive(job_of(text))
    (fault,) = refused.value.faults
    assert "rail would lie 20 mm from where it does there, across its width" in fault.message
    assert fault.where == f'joint "other", {key}'


def test_what_takes_too_long_to_judge_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """A bookcase that is refused, and one that goes together, are let pass with a remark where no time is given to lay
    shelves on sides."""
    wrong, sound = (BOOKCASE + right([20, place, 760]) for place in (300, 480))
    says = [remark for remark in derive(job_of(sound)).remarks if "judged" in remark]
    assert not says
    monkeypatch.setattr("sequencer.joinery.whole.together.TRIES", 0)
    for text in (wrong, sound):
        (says,) = [remark for remark in derive(job_of(text)).remarks if "judged" in remark]
        assert says == (
            'not judged whether "left" and "right" go together: '
            "there are too many ways of laying their boards out"
        )


def test_bays_that_share_shelves_with_unlike_joints_go_together() -> None:
    """Tops that meet their sides face up go back down to a divider between them where their slots lie alike either way:
    a board may be turned over as long as all its mortises stay where they are."""
    derive(
        job_of(
            part("top", 580, 250, 20, 2)
            + part("side", 800, 250, 20, 2)
            + part("divider", 760, 250, 20, 1)
            + named("end-to-face", ["top", "side"], "tops", "at = [0, 780]")
            + named("end-to-face", ["divider", "top"], "divider", "at = [280]")
        )
    )
