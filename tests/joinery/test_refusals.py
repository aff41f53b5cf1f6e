"""What does not fit is refused with the figure that fails and what would pass."""

import re

import pytest

from sequencer.diagnostics import InputError, NoOrderError
from sequencer.joinery import derive, joint_report
from tests.joinery.test_held import joint, part

GROOVE = '[[joint]]\nid = "bottom"\nkind = "groove"\nparts = ["side"]\nfrom = 6\nwidth = 5\n'
CORNER = '[[joint]]\nid = "corner"\nkind = "case-mitre"\nparts = ["side"]\n\n'


def board(quantity, thickness=18, length=300):
    """A part and the head of a joint."""
    return (
        f'[[part]]\nid = "side"\nquantity = {quantity}\nlength = {length}\nwidth = 100\n'
        f'thickness = {thickness}\nstock = "sized"\n[[joint]]\nid = "corner"\n'
    )


@pytest.mark.parametrize(
    ("text", "says", "works"),
    [
        (
            board(4) + 'kind = "case-mitre"\nparts = ["side"]\nslips = { depths = [40, 15] }',
            "40 mm deep is more than the mortiser plunges (30 mm)",
            "at most 30 mm",
        ),
        (
            board(4) + 'kind = "case-mitre"\nparts = ["side"]\nslips = { depths = [15, 15], length = 60 }',
            "longer than both mortises",
            "slips",
        ),
        (board(3) + 'kind = "splayed"\nparts = ["side"]\nsides = 3\nslope = 80', "tilt 58.53", "0 to 46"),
        (
            board(2) + 'kind = "splayed"\nparts = ["side"]\nsides = 2\nslope = 80',
            "2 sides",
            "3 sides or more",
        ),
        (board(4) + 'kind = "splayed"\nparts = ["side"]\nsides = 4\nslope = 0', "slope of 0", "more than 0"),
        (board(4) + 'kind = "splayed"\nparts = ["side"]\nsides = 4\nslope = 95', "slope of 95", "at most 90"),
        (board(4) + 'kind = "case-mitre"\nparts = ["side"]\ncorner = 100', "do not close", "90°"),
        (
            board(4) + 'kind = "splayed"\nparts = ["side"]\nslope = 80\ncorners = [90, 90, 90, 80]',
            "add up to 350",
            "360",
        ),
        (
            board(2)[: -len('[[joint]]\nid = "corner"\n')]
            + board(2).replace('id = "side"', 'id = "end"')
            + 'kind = "splayed"\nparts = ["side", "end"]\nsides = 4\nslope = [80]',
            "1 slope for 2 parts",
            "one slope for each part",
        ),
        (board(4, thickness=10) + 'kind = "frame-mitre"\nparts = ["side"]', "10 mm", "stock 11 mm thick"),
        (board(4, length=100) + 'kind = "frame-mitre"\nparts = ["side"]', "too short", "120 mm"),
        (board(5) + 'kind = "case-mitre"\nparts = ["side"]', "whole rings", "proportion"),
        (
            board(4) + 'kind = "case-mitre"\nparts = ["side"]\nslips = { thickness = 7 }',
            "no cutter of 7 mm",
            "6 mm",
        ),
        (
            '[[part]]\nid = "shelf"\nlength = 400\nwidth = 200\nthickness = 18\n'
            + board(2, length=600).replace("width = 100", "width = 200")
            + 'kind = "end-to-face"\nparts = ["shelf", "side"]\nat = [100]\nslips = { count = 1, at = [50] }',
            "two sides are mirror images",
            "symmetrical about 100 mm",
        ),
    ],
)
def test_refused_with_figure_and_remedy(job, text, says, works):
    """One fault, naming the job file and the joint, says the figure that fails and what would pass."""
    with pytest.raises(InputError) as caught:
        derive(job(text))
    (fault,) = caught.value.faults
    assert says in fault.message
    assert works in fault.accepted
    assert fault.file.endswith("job.toml")
    assert "corner" in fault.where


@pytest.mark.parametrize(
    ("trench", "key", "says", "works"),
    [
        (
            'kind = "groove"\nfrom = 8\nwidth = 200',
            "width",
            "200 mm is wider than side, which is",
            "at most 100 mm",
        ),
        (
            'kind = "housing"\nat = [50]\nwidth = 301',
            "width",
            "301 mm is wider than side, which is",
            "at most 300 mm",
        ),
        ('kind = "rebate"\nwidth = 101', "width", "101 mm is wider than side, which is", "at most 100 mm"),
        ('kind = "groove"\nfrom = 98\nwidth = 6', "from", "from 98 mm to 104 mm is beyond", "at most 94 mm"),
        ('kind = "housing"\nat = [9, 298]\nwidth = 6', "at", "298 mm to 304 mm is beyond", "at most 294 mm"),
    ],
)
def test_a_trench_beyond_its_board(refused, trench, key, says, works):
    """What is wider than the board has no place in it; else the last place is told."""
    (fault,) = refused(board(4) + f'{trench}\ndepth = 5\nparts = ["side"]')
    assert fault.where == f'joint "corner", {key}'
    assert says in fault.message
    assert fault.accepted == works


@pytest.mark.parametrize(
    ("kind", "key", "says"),
    [
        ('kind = "stave"\nparts = ["side"]', "sides", "101 sides are more than the 100 that a ring may have"),
        (
            'kind = "edge-to-edge"\nparts = ["side"]',
            "boards",
            "101 boards are more than the 100 that a panel",
        ),
        ('kind = "frame-mitre"\nparts = ["side"]\ncorner = 179', "corner", "360 sides are more than the 100"),
        (
            f'kind = "splayed"\nparts = ["side"]\nslope = 80\ncorners = {[176.4] * 101}',
            "corners",
            "101 sides are more than the 100",
        ),
    ],
)
def test_rings_and_panels_of_more_than_anyone_puts_together(refused, kind, key, says):
    """Whatever tells how many there are: the limit is that of `sides` and `boards`. A million is refused at once."""
    (fault,) = refused(board(101) + kind)
    assert fault.where == f'joint "corner", {key}'
    assert says in fault.message
    assert fault.accepted.startswith("at most 100 ")
    (fault,) = refused(board(1_000_000) + 'kind = "stave"\nparts = ["side"]')
    assert "1000000 sides" in fault.message


def boards(**quantities):
    """Parts of one size, so many pieces of each."""
    return "".join(
        f'[[part]]\nid = "{name}"\nquantity = {quantity}\nlength = 400\nwidth = 80\nthickness = 40\nstock = "sized"\n'
        for name, quantity in quantities.items()
    )


@pytest.mark.parametrize(
    ("text", "says", "works"),
    [
        (
            boards(side=2, shelf=2)
            + '[[joint]]\nid = "j"\nkind = "end-to-face"\nparts = ["shelf", "side"]\nat = [100]\n'
            'on = ["back", "face"]\n',
            "shelf would reach from face to face of two pieces of side, which look at each other back to back",
            'on = ["back"]',
        ),
        (
            boards(stile=2, rail=4) + '[[joint]]\nid = "j"\nkind = "end-to-edge"\nparts = ["rail", "stile"]\n'
            'edges = ["edge", "far edge"]\n',
            "rail would reach from far edge to far edge of two pieces of stile",
            'ends = ["left end"]',
        ),
        (
            boards(rail=3)
            + '[[joint]]\nid = "j"\nkind = "end-to-face"\nparts = ["rail", "rail"]\nat = [100]\n',
            "rail would be joined to itself",
            "two parts",
        ),
        (
            boards(leg=8) + '[[joint]]\nid = "j"\nkind = "leg-to-apron"\nparts = ["leg"]\nleg = "leg"\n',
            "leg would be joined to itself",
            "two parts",
        ),
        (
            boards(rail=2)
            + '[[joint]]\nid = "j"\nkind = "groove"\nparts = ["rail"]\nfrom = 10\nwidth = 6\ndepth = 5\n'
            'holds = "rail"\n',
            "would hold rail itself",
            "or no holds",
        ),
    ],
)
def test_what_no_pieces_make_is_refused(refused, text, says, works):
    """Boards from outside to outside of two others, or a part that is its own mate."""
    (fault,) = refused(text)
    assert says in fault.message
    assert works in fault.accepted
    assert 'joint "j"' in fault.where


@pytest.mark.parametrize(
    ("kind", "sides"),
    [
        ("end-to-face", 'at = [100]\non = ["back", "face"]'),
        ("end-to-edge", 'at = [100]\nedges = ["edge", "far edge"]'),
    ],
)
@pytest.mark.parametrize("end", ["left end", "right end"])
def test_one_board_between_two_others_has_both_its_sides_joined(job, kind, sides, end):
    """One piece with a board on each side of it, each joined at one end."""
    text = (
        boards(middle=1, wing=2)
        + f'[[joint]]\nid = "j"\nkind = "{kind}"\nparts = ["wing", "middle"]\n{sides}\n'
    )
    made = derive(job(text + f'ends = ["{end}"]\n'))
    assert sum(meeting.times for meeting in made.meetings) == 2


@pytest.mark.parametrize(
    ("kind", "both", "at"),
    [
        ("end-to-edge", 'edges = ["edge", "far edge"]\n', ""),
        ("end-to-face", 'on = ["face", "back"]\n', "at = [0, 360]\n"),
    ],
)
def test_a_board_with_others_on_both_its_sides(job, kind, both, at):
    """README: one joint for each end of the rails or shelves. Four of them, two on each side of the middle board, have
    eight ends that meet it or the outer ones."""
    text = boards(outer=2, middle=1, cross=4)
    for id, mate, end, sides in (("o", "outer", "left", ""), ("m", "middle", "right", both)):
        text += (
            f'[[joint]]\nid = "{id}"\nkind = "{kind}"\nparts = ["cross", "{mate}"]\nends = ["{end} end"]\n'
        )
        text += at + sides
    made = derive(job(text))
    assert sum(meeting.times for meeting in made.meetings) == 8


def test_a_role_nobody_knows(job):
    """A saw called a sawmill is none, and the refusal tells what the shop's stations are."""
    groove = '[[joint]]\nid = "j"\nkind = "groove"\nparts = ["side"]\nfrom = 8\nwidth = 6\ndepth = 5\n'
    loaded = job(boards(side=4).replace("sized", "planed") + groove)
    renamed = tuple(
        station.model_copy(update={"role": "sawmill"} if station.id == "saw" else {})
        for station in loaded.shop.stations
    )
    shop = loaded.shop.model_copy(update={"stations": renamed})
    with pytest.raises(InputError) as caught:
        derive(loaded.model_copy(update={"shop": shop}))
    (fault,) = caught.value.faults
    assert fault.message == (
        'the shop has no saw; its stations are "mill", "saw" (role "sawmill"), "mortiser", "router", "bench"'
    )


def test_the_depth_that_holds_is_named_and_holds(job):
    """The wall that would be left, the shop's minimum and the depth that holds are told; taking it, it holds."""
    text = board(4) + 'kind = "case-mitre"\nparts = ["side"]\nways = ["bevel-first"]\n'
    with pytest.raises(InputError) as caught:
        derive(job(text + "slips = { thickness = 6, height = 12.7279, depths = [8, 8], length = 8 }"))
    (fault,) = caught.value.faults
    # (c - a/2) sin 45 - d cos 45 = 1.22, and 3 at d = 5.4853
    assert "1.2 mm at depth 8 mm, shop minimum 3 mm" in fault.message
    derive(job(text + "slips = { thickness = 6, height = 12.7279, depths = [5.4, 5.4], length = 8 }"))


def offered(text):
    """What a text of "works:" offers: pairs of depths, the wall in the shop they need, the stock they need."""
    for wall, stock, one, two, one_kept, two_kept in re.findall(
        r"(?:a least_wall of ([\d.]+) mm in the shop's \[joinery\] \(|stock ([\d.]+) mm thick \()"
        r"depths? ([\d.]+) mm(?: and ([\d.]+) mm)?\)|depths? ([\d.]+) mm(?: and ([\d.]+) mm)? holds?",
        text,
    ):
        one, two = one or one_kept, two or two_kept
        yield wall, stock, (one, two or one)


@pytest.mark.parametrize("way", ["square-first", "bevel-first"])
@pytest.mark.parametrize(
    ("thick", "wishes"),
    [
        (15, ""),
        (15, "depths = [12, 12]"),
        (15, "depths = [12.4, 12.4]"),
        (16, "depths = [20, 13]"),
        (12, "width = 18, count = 1"),
        (12, "width = 18, count = 1, depths = [9, 9]"),
        (12, "width = 18, count = 1, depths = [3.2, 3.2]"),
        (12, "width = 18, count = 1, depths = [5, 5]"),
        (18, "thickness = 8, depths = [15, 9]"),
        (18, "thickness = 6, height = 13, depths = [9, 9]"),
    ],
)
def test_depths_that_are_told_hold(job, way, thick, wishes):
    """What is told to work, a depth, or where none does a thinner wall or thicker stock, is tried and works."""

    def box(thickness, slips):
        return (
            board(4, thickness=thickness)
            + f'kind = "case-mitre"\nparts = ["side"]\nways = ["{way}"]\n{slips}\n'
        )

    asked = f"slips = {{ {wishes} }}" if wishes else ""
    try:
        derive(job(box(thick, asked)))
    except InputError as refused:
        (fault,) = refused.faults
    else:
        assert (way, wishes) == ("bevel-first", "")
        return
    found = list(offered(fault.accepted))
    assert found or "deep" in fault.accepted
    if "no other depth serves" in fault.message:
        assert {bool(wall) for wall, stock, _ in found} == {True, False}
        assert all(wall or stock for wall, stock, _ in found)
    kept = ", ".join(re.findall(r"(?:width|count|thickness|height) = \d+", wishes))
    for wall, stock, depths in found:
        slips = ", ".join(filter(None, (kept, f"depths = [{', '.join(depths)}]")))
        text = box(float(stock or thick), f"slips = {{ {slips} }}")
        derive(job(text, shop=f"\nleast_wall = {wall}\n" if wall else ""))


def test_a_way_that_does_not_fit_is_struck_out_where_another_remains(job):
    """In 14 mm stock square first leaves no room: it is struck out with its figures, and bevel first is made."""
    made = derive(job(board(4, thickness=14) + 'kind = "case-mitre"\nparts = ["side"]'))
    assert not made.choices
    (struck,) = made.struck_out
    assert struck.way == "square-first"
    assert "mm" in struck.why


def test_no_way_left_ends_in_no_order(job):
    """Where no way of a choice fits, the job is sound but cannot be made: exit code 3, with the figures of both."""
    with pytest.raises(NoOrderError) as caught:
        derive(job(board(4, thickness=9) + 'kind = "case-mitre"\nparts = ["side"]'))
    (fault,) = caught.value.faults
    assert "square-first" in fault.message
    assert "bevel-first" in fault.message


def test_near_a_stop_is_said(job):
    """A tilt within half a degree of a positive stop is kept apart from it, and said to be."""
    made = derive(job(board(4) + 'kind = "splayed"\nparts = ["side"]\nsides = 4\nslope = 86\n'))
    bevel = next(op for op in made.operations if op.kind == "bevel")
    assert 44.5 < bevel.settings["tilt"] < 45
    assert any("near the positive stop at 45" in remark for remark in made.remarks)
    assert any("positive stop" in caution.says for caution in bevel.notes.cautions)


def test_an_edge_ripped_near_a_stop_has_its_caution(job):
    """A board at 80 degrees leans 10 from upright, which is near the stop at 0 where 11 are."""
    splayed = 'kind = "splayed"\nparts = ["side"]\nsides = 4\nslope = 80\nlevel_edges = true\n'
    (rip,) = (
        op for op in derive(job(board(4) + splayed, shop="near_stop = 11\n")).operations if "-level-" in op.id
    )
    assert rip.settings["tilt"] == pytest.approx(10)
    assert any("tilt 10° is near the positive stop at 0°" in caution.says for caution in rip.notes.cautions)


@pytest.mark.parametrize(
    ("pieces", "joint", "near"),
    [
        (12, 'kind = "stave"\n', {"bevel", "plunge"}),
        (6, 'kind = "frame-mitre"\ncorner = 120\n', {"mitre"}),
    ],
)
def test_an_angle_near_a_stop_is_proved_with_what_there_is(job, pieces, joint, near):
    """The block is sawn with the saw as it stands and judged by its bevel, so it proves the mortiser's fence alone;
    tilt and gauge are proved on scrap, as for a flat frame, which has no block (common practice, no source)."""
    made = derive(job(board(pieces) + f'parts = ["side"]\n{joint}', shop="near_stop = 16\n"))
    told = {
        (op.kind, caution.says.partition("fall into it. ")[2])
        for op in made.operations
        for caution in op.notes.cautions
        if "near the positive stop" in caution.says
    }
    proved = {
        "plunge": "Check against the block.",
        "bevel": "Prove it on scrap.",
        "mitre": "Prove it on scrap.",
    }
    assert told == {(kind, proved[kind]) for kind in near}
    assert any(op.kind == "block" for op in made.operations) == ("plunge" in near)


@pytest.mark.parametrize(
    ("listed", "joint", "told"),
    [
        (
            "side,4,300,100,18",
            GROOVE + "depth = 60\n",
            'job.toml:13: joint "bottom", depth: 60 mm deep goes through',
        ),
        (
            "side,4,300,100,18",
            CORNER + "slips = { height = 2 }\n",
            'job.toml:12: joint "corner", slips.height: ',
        ),
        ("side,1,300,100,18", CORNER.replace("case-mitre", "stave"), 'job.toml:7: joint "corner"'),
        ("side,1,300,9000,18", GROOVE + "depth = 6\n", 'parts.csv:2: part "side"'),
    ],
)
def test_the_line_is_told(job, tmp_path, listed, joint, told):
    """What geometry refuses names the file and the line: of the key, where it is not written of the joint, or of the
    row in the cut list."""
    (tmp_path / "parts.csv").write_text(f"id,quantity,length,width,thickness\n{listed}\n", encoding="utf-8")
    with pytest.raises(InputError) as caught:
        derive(job('parts = "parts.csv"\n' + joint))
    assert str(caught.value.faults[0]).startswith(f"{tmp_path}/{told}")


@pytest.mark.parametrize(
    ("parts", "says", "works"),
    [
        (["side"], "side alone makes no corner", "two parts or more"),
        (
            ["side", "side"],
            "side would need its left end cut in one place and left square",
            "a part of its own",
        ),
        (["side", "other", "side"], "side would need its left end cut in one place", "a part of its own"),
    ],
)
def test_ends_of_an_open_run_stay_square(refused, parts, says, works):
    """The first part's left end and the last one's right end are not cut, so neither part is another's twin."""
    names = ", ".join(f'"{name}"' for name in parts)
    other = board(1).partition("[[joint]]")[0].replace('"side"', '"other"')
    text = other + board(parts.count("side")) + f'kind = "case-mitre"\nclosed = false\nparts = [{names}]\n'
    (fault,) = refused(text)
    assert says in fault.message
    assert works in fault.accepted


def inches(id, thickness, quantity=2, length=10):
    """A part in inches."""
    return (
        f'[[part]]\nid = "{id}"\nquantity = {quantity}\nlength = {length}\nwidth = 4\nthickness = {thickness}\n'
        'stock = "sized"\n'
    )


@pytest.mark.parametrize(
    ("text", "says", "works"),
    [
        (
            inches("a", 0.75)
            + inches("b", 0.5)
            + '[[joint]]\nid = "c"\nkind = "case-mitre"\nparts = ["a", "b"]\n',
            "b is 1/2 in thick and a 3/4 in",
            "one thickness",
        ),
        (
            inches("a", 0.75, 1)
            + inches("b", 0.75, 1)
            + inches("c", 0.75, 1)
            + inches("d", 0.75, 1, 10.5)
            + '[[joint]]\nid = "c"\nkind = "frame-mitre"\nparts = ["a", "b", "c", "d"]\n',
            "1/2 in are left open",
            "c 10 in and d 10 in long",
        ),
        (
            inches("a", 0.75)
            + '[[joint]]\nid = "c"\nkind = "groove"\nparts = ["a"]\nfrom = 5\nwidth = 0.25\ndepth = 0.25\n',
            "from 5 in to 5 1/4 in is beyond a, which is 4 in there",
            "at most 3 3/4 in",
        ),
        (
            inches("a", 0.75)
            + '[[joint]]\nid = "c"\nkind = "rebate"\nparts = ["a"]\nwidth = 0.25\ndepth = 1\n',
            "1 in deep goes through a, which is 3/4 in there",
            "less than 3/4 in",
        ),
        (
            inches("a", 0.75)
            + inches("b", 0.75)
            + '[[joint]]\nid = "c"\nkind = "end-to-edge"\nparts = ["a", "b"]\nat = [0, 7]\n',
            "from 7 in to 11 in is beyond b, which is 10 in long",
            "places from 0 to 6 in",
        ),
    ],
)
def test_jobs_in_inches_are_refused_in_inches(refused, text, says, works):
    """Lengths in a refusal are told in the job's unit."""
    (fault,) = refused(text, unit="in")
    assert says in fault.message
    assert works in fault.accepted
    assert "mm" not in fault.message + fault.accepted


@pytest.mark.parametrize(
    ("slips", "says"),
    [
        ("depths = [12, 12], length = 5", "slips 5 mm long have 2.5 mm in each half, shop minimum 4 mm"),
        ("depths = [12, 4.5]", "a mortise 4.5 mm deep holds 3.5 mm of a slip"),
        (
            "depths = [10, 10], length = 20",
            "longer than both mortises (18 mm together when glue has its room)",
        ),
        ("width = 5", "a slip 5 mm wide is not wider than 5 mm, the thinnest cutter"),
        ("width = 6, thickness = 6", "a slip 6 mm wide is not wider than 6 mm, the thickness asked for"),
    ],
)
def test_slips_asked_for_are_held_to_the_shops_limits(refused, slips, says):
    """The shop's embedment of 4 mm and glue room of 1 mm hold for what is asked, too; a slot is longer than wide."""
    text = board(4, thickness=20) + f'kind = "frame-mitre"\nparts = ["side"]\nslips = {{ {slips} }}\n'
    (fault,) = refused(text)
    assert says in fault.message
    assert fault.accepted.startswith(("slips 6 mm × ", "a width of more than "))


def test_a_count_that_does_not_fit_is_answered_with_one_that_does(job, refused):
    """70 mm less a rebate of 10: two slips of 15 and 2 mm play, 10 mm between them and at both ends take 64."""
    text = (
        '[[part]]\nid = "stile"\nquantity = 2\nlength = 700\nwidth = 70\nthickness = 22\n'
        '[[part]]\nid = "rail"\nquantity = 2\nlength = 300\nwidth = 70\nthickness = 22\n'
        '[[joint]]\nid = "reb"\nkind = "rebate"\nparts = ["stile", "rail"]\nwidth = 10\ndepth = 10\n'
        '[[joint]]\nid = "frame"\nkind = "end-to-edge"\nparts = ["rail", "stile"]\nslips = {{ count = {} }}\n'
    )
    (fault,) = refused(text.format(2))
    assert fault.where == 'joint "frame", slips.count'
    assert fault.accepted.startswith("1 slip, 8 mm × 32 mm × 56 mm, 29 mm and 29 mm deep")
    assert sum(meeting.slips for meeting in derive(job(text.format(1))).meetings) == 4


def test_slips_asked_for_may_just_keep_the_shops_limits(job):
    """4 mm in each half and 1 mm for glue: depths of 5 mm, slips of 8 mm. Deeper ones may stay empty below."""
    text = board(4, thickness=20) + 'kind = "frame-mitre"\nparts = ["side"]\n'
    for slips in ("depths = [5, 5]", "depths = [5, 5], length = 8", "depths = [12, 5], length = 8"):
        (meeting,) = derive(job(text + f"slips = {{ {slips} }}\n")).meetings
        assert meeting.slip.length == 8


def test_a_narrow_slip_takes_a_thinner_cutter(job):
    """6 mm would be nearest to a third of 20 mm; a slip 6 mm wide is cut with the next one, 5 mm."""
    text = board(4, thickness=20) + 'kind = "frame-mitre"\nparts = ["side"]\nslips = { width = 6 }\n'
    (meeting,) = derive(job(text)).meetings
    assert (meeting.slip.thickness, meeting.slip.width) == (5, 6)


def test_a_fault_found_twice_is_told_once(refused):
    """Shelves of unlike parts on both faces of a partition, their slots fixed, meet in it at two heights: one fault,
    not one for each.
    """
    fixed = "slips = { at = [65, 185] }"
    text = (
        "".join(part(name, 490, 250, 20, 2) for name in ("one", "other"))
        + part("partition", 860, 250, 20)
        + joint("a", "end-to-face", ["one", "partition"], f"at = [280, 580]\nends = ['right end']\n{fixed}")
        + joint(
            "b",
            "end-to-face",
            ["other", "partition"],
            f"at = [280, 580]\nends = ['left end']\non = ['face']\n{fixed}",
        )
    )
    (fault,) = refused(text)
    assert "of wood would be left in partition, between the slots of a (back)" in fault.message


@pytest.mark.parametrize(
    ("kind", "number", "length", "more"),
    [
        ("case-mitre", 4, 300, "ways = ['bevel-first']"),
        ("case-mitre", 4, 300, ""),
        ("splayed", 4, 300, "sides = 4\nslope = 75"),
        ("stave", 6, 600, ""),
    ],
)
def test_stock_told_to_be_thick_enough_is(job, kind, number, length, more):
    """8 mm are too thin for a slot of 5 and two walls of 3: what is told instead is made, a millimetre less is not."""

    def sides(thick):
        return part("side", length, 100, thick, number) + joint("ring", kind, ["side"], more)

    def faults(thick):
        try:
            derive(job(sides(thick)))
        except (InputError, NoOrderError) as error:
            return error.faults
        return ()

    (fault,) = faults(8)
    assert "stock 8 mm thick is too thin for a slot of 5 mm and two walls of 3 mm" in fault.message
    told = {float(size) for size in re.findall(r"stock ([0-9.]+) mm thick \(depth", str(fault))}
    assert told
    assert not faults(min(told))
    assert faults(min(told) - 1)


def shared(kind, rail, more):
    """Two things, each of two boards of its own between two pieces of one part."""
    return (
        part("stile", 800, 200, 20, 4)
        + part("narrow", 300, 60 if kind == "end-to-edge" else 200, 20, 2)
        + part("wide", rail, 60 if kind == "end-to-edge" else 200, 20, 2)
        + joint("a", kind, ["narrow", "stile"], more)
        + joint("b", kind, ["wide", "stile"], more)
    )


@pytest.mark.parametrize(("kind", "more"), [("end-to-edge", ""), ("end-to-face", "at = [0, 780]")])
@pytest.mark.parametrize("rail", [300, 500])
def test_a_part_shared_by_two_things_is_told_to_be_one_for_each(job, refused, kind, rail, more):
    """Doors or cases with boards in the same places: no quantities let them share a part, but two parts do."""
    text = shared(kind, rail, more)
    faults = refused(text)
    assert [fault.where for fault in faults] == ['joint "a", parts', 'joint "b", parts']
    told = 'a part of its own instead of stile in each of these joints: 2 of 4 in "a", 2 of 4 in "b"'
    assert {fault.accepted for fault in faults} == {told}
    both = text.replace("quantity = 4", "quantity = 2", 1).replace('["wide", "stile"]', '["wide", "other"]')
    derive(job(both + part("other", 800, 200, 20, 2)))


def test_rails_that_may_be_of_one_frame_are_told_both_ways_out(job, refused):
    """Equally long and in places of their own, four of each would make two frames."""
    text = (
        part("stile", 800, 60, 20, 4)
        + part("outer", 300, 60, 20, 2)
        + part("inner", 300, 60, 20, 2)
        + joint("a", "end-to-edge", ["outer", "stile"])
        + joint("b", "end-to-edge", ["inner", "stile"], "at = [100, 640]")
    )
    told = {fault.accepted for fault in refused(text)}
    assert told == {
        "quantities in that proportion, or a part of its own instead of stile in each of these joints: "
        '2 of 4 in "a", 2 of 4 in "b"'
    }
    derive(job(text.replace("quantity = 2", "quantity = 4")))


def test_stiles_left_over_by_joints_of_one_end_are_not_told_to_be_two_parts(refused):
    """The rails' other ends may be meant for the stiles left over."""
    text = part("stile", 800, 60, 20, 2) + part("top", 300, 60, 20) + part("bottom", 300, 60, 20)
    text += joint("a", "end-to-edge", ["top", "stile"], "at = [0]\nends = ['left end']")
    text += joint("b", "end-to-edge", ["bottom", "stile"], "at = [740]\nends = ['right end']")
    assert {fault.accepted for fault in refused(text)} == {"quantities in that proportion"}


@pytest.mark.parametrize(
    ("corner", "tilt", "least"),
    [
        # 18 mm x tan 0.63 is 0.198 mm and x tan 0.64 is 0.201: what the check allows is 0.2
        (178.74, "0.63°", "0.64°"),
        (179.9999, "0.00005°", "0.64°"),
    ],
)
def test_bevels_that_their_check_cannot_tell_from_square(refused, job, corner, tilt, least):
    """A bevel that moves the cut by no more than its check lets it be off is none."""
    sides = board(1) + part("other", 300, 100, 18)
    text = sides.replace('[[joint]]\nid = "corner"\n', "") + (
        '[[joint]]\nid = "corner"\nkind = "case-mitre"\nparts = ["side", "other"]\nclosed = false\n'
    )
    (fault,) = refused(f"{text}corner = {corner}\n")
    assert f"a tilt of {tilt} moves the cut of side by no more" in fault.message
    assert f"a tilt of {least} or more, or for none" in fault.accepted
    assert derive(job(f"{text}corner = {180 - 2 * float(least.rstrip('°'))}\n")).operations


def test_compound_cuts_that_their_check_cannot_tell_from_square(refused, job):
    """A slope of 89.95 has the gauge at atan(cos 89.95), 0.05 degrees: 0.09 mm across 100 mm. Across the width 0.2 mm
    are atan 0.002, 0.1146 degrees: 89.88 has the gauge at 0.12."""
    sides = part("side", 300, 100, 18, 4)
    (fault,) = refused(sides + joint("c", "splayed", ["side"], "sides = 4\nslope = 89.95"))
    assert "a gauge of 0.05° moves the cut of side by no more" in fault.message
    assert "a gauge of 0.12° or more, or for none" in fault.accepted
    assert derive(job(sides + joint("c", "splayed", ["side"], "sides = 4\nslope = 89.88"))).operations


@pytest.mark.parametrize(
    ("sides", "corner", "exact"),
    [
        (7, 128.57, 128.5714286),
        (7, 128.6, 128.5714286),
        (11, 147.3, 147.2727273),
        (4, 90.01, 90.0),
        (4, 90.05, None),
        (4, 90.1, None),
        (7, 128.5, None),
    ],
)
def test_a_corner_told_rounded_is_that_of_its_ring(refused, job, sides, corner, exact):
    """180 less 360 by the sides, to a tenth or finer; what is no such corner rounded is not made another."""
    text = part("side", 300, 150, 18, sides) + joint("c", "frame-mitre", ["side"], f"corner = {corner}")
    if exact is None:
        (fault,) = refused(text)
        assert f"corners of {corner}° do not close a ring" in fault.message
        return
    (report,) = joint_report(job(text))
    assert report.corner == pytest.approx(exact, abs=1e-7)
    assert [angle.gauge for angle in report.angles] == pytest.approx([180 / sides] * 2, abs=1e-6)


def test_stock_too_thin_for_a_slot_in_its_bevel(refused):
    """Four sides, 8.5 mm thick: 3 mm to the back, square to it, leave 5.5 / cos 45 = 7.8 of the sawn surface, and 3 mm
    and the thinnest slot of 5 take 8."""
    way = "ways = ['bevel-first']"
    (fault,) = refused(part("side", 300, 100, 8.5, 4) + joint("corner", "case-mitre", ["side"], way))
    assert "stock 8.5 mm thick is too thin for a slot of 5 mm and two walls of 3 mm" in fault.message


def test_a_joint_too_short_for_its_slip(job, refused):
    """Apron 35 mm wide, 10 mm free at each end (the shop's): 15 mm, and 2 mm of slack, want 37; without slack 35 do,
    and 34 do not. Two want 2 * 17 + 2 * 10 and what the shop keeps between them.
    """
    text = "".join(
        f'[[part]]\nid = "{id}"\nquantity = 4\nlength = 500\nwidth = {width}\nthickness = {thick}\n'
        for id, width, thick in (("rail", 35, 22), ("leg", 45, 45))
    )
    joint = '[[joint]]\nid = "j"\nkind = "leg-to-apron"\nparts = ["rail"]\nleg = "leg"\n'
    (fault,) = refused(text + joint)
    short = "is too short for one slip 15 mm wide with"
    assert fault.message == f"a joint of 35 mm {short} 2 mm of slack and 10 mm at each end"
    assert fault.accepted == 'a joint of 37 mm or more, or narrower slips, or slips.slack "none"'
    tight = 'slips = { slack = "none" }\n'
    plunges = [op for op in derive(job(text + joint + tight)).operations if op.kind == "plunge"]
    assert [op.settings["slot_length"] for op in plunges] == [15.0] * len(plunges)
    narrow = text.replace("width = 35", "width = 34") + joint
    (fault,) = refused(narrow)
    assert fault.accepted == "a joint of 37 mm or more, or narrower slips"
    (fault,) = refused(narrow + tight)
    assert fault.message == f"a joint of 34 mm {short} 10 mm at each end"
    (fault,) = refused(text + joint + "slips = { count = 2 }\n")
    assert fault.message.startswith(
        "a joint of 35 mm is too short for 2 slips 15 mm wide with 2 mm of slack each, "
    )
    assert fault.message.endswith(" mm between them and 10 mm at each end")


def _frame(slips):
    rail = '[[part]]\nid = "rail"\nquantity = 2\nlength = 300\nwidth = 70\nthickness = 20\nstock = "sized"\n'
    joint = '[[joint]]\nid = "j"\nkind = "end-to-edge"\nparts = ["rail", "stile"]\n'
    return rail + rail.replace("rail", "stile") + joint + (f"slips = {{ {slips} }}\n" if slips else "")


@pytest.mark.parametrize(
    ("slips", "limits", "message", "where"),
    [
        ("", "slip_lengths = [4]", "slips 4 mm long have 2 mm in each half, shop minimum 4 mm", ""),
        ("", "least_embedment = 35", "slips 36 mm long have 18 mm in each half, shop minimum 35 mm", ""),
        ("", "slip_widths = [4]", "the shop has no slips that fit its cutters", ""),
        ("at = [20, 50], count = 1", "", "2 centres for 1 slip", "slips.at"),
        ("at = [5]", "", "slots at 5 mm do not fit in a joint of 70 mm", "slips.at"),
        ("height = 500", "", "leave less than 3 mm of wood beside them", "slips.height"),
        ("height = 0.1", "", "leave less than 3 mm of wood beside them", "slips.height"),
    ],
)
def test_the_key_and_the_figure_that_stand_in_the_way_are_told(refused, slips, limits, message, where):
    """Not a depth that nobody asked for and that no other depth would mend. A slip lies half in each board."""
    (fault,) = refused(_frame(slips), shop=f"{limits}\n")
    assert message in fault.message
    assert fault.where == ('joint "j"' + (f", {where}" if where else ""))
    assert fault.accepted


def test_slips_of_the_shop_are_wider_than_thick(job):
    """One as thick as it is wide fits no slot: the file is wrong, not the joint too short."""
    with pytest.raises(InputError) as caught:
        job(_frame(""), shop="[[joinery.slips]]\nthickness = 6\nwidth = 6\nlength = 30\n")
    (fault,) = caught.value.faults
    assert "must not have its width at or below its thickness" in fault.message


def test_a_row_that_grooves_leave_too_short_is_told_by_them(refused):
    """A rail 50 wide with a groove 10 wide in its middle: 20 on either side, 15 + 2 and twice 10 are needed."""
    rail = '[[part]]\nid = "rail"\nquantity = 2\nlength = 300\nwidth = 50\nthickness = 20\nstock = "sized"\n'
    text = rail + rail.replace("rail", "stile") + '[[joint]]\nid = "j"\nkind = "end-to-edge"\n'
    text += (
        'parts = ["rail", "stile"]\n'
        + '[[joint]]\nid = "g"\nkind = "groove"\non = "back"\nparts = ["rail"]\n'
    )
    (fault,) = refused(text + "from = 20\nwidth = 10\ndepth = 12\n")
    assert "that grooves leave of a joint of 50 mm are too short for one slip" in fault.message
    assert fault.accepted.startswith("other places for the grooves (37 mm or more beside them)")


def test_thicker_stock_is_tried_as_level_as_it_is(job, refused):
    """Boards of 40 mm that lean 60 degrees, 15 thick, keep 40 - 15 / (2 sin 60) = 31.3 between level edges, and 35.0
    along a mitre of tan = cos 60: less than the 37 that a slip of 15, its slack and two ends of 10 take. Boards of 60
    have room: what is told for them passes.
    """

    def ring(width, thick):
        extra = "slope = 60\nsides = 4\nlevel_edges = true"
        return part("side", 420, width, thick, 4) + joint("ring", "splayed", ["side"], extra)

    (fault,) = refused(ring(40, 10))
    assert "no other depth serves" in fault.message
    assert "stock" not in fault.accepted
    (fault,) = refused(ring(40, 15))
    assert fault.message.startswith("a joint of 35 mm is too short for one slip 15 mm wide")
    (fault,) = refused(ring(60, 10))
    told = re.search(r"stock (\d+) mm thick", fault.accepted)
    assert told is not None
    derive(job(ring(60, int(told[1]))))
