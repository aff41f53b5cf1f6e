"""Held parts against what holds them, and boards against each other: plain sums of lengths."""

import re

import pytest

from sequencer.diagnostics import InputError
from sequencer.joinery import derive


def part(id, length, width, thickness, quantity=1):
    """A part."""
    return (
        f'[[part]]\nid = "{id}"\nquantity = {quantity}\nlength = {length}\nwidth = {width}\n'
        f'thickness = {thickness}\nstock = "sized"\n'
    )


def joint(id, kind, parts, extra=""):
    """A joint."""
    return f'[[joint]]\nid = "{id}"\nkind = "{kind}"\nparts = {parts}\n{extra}\n'.replace("'", '"')


def remarks(job, text, of="panel"):
    """What is remarked of a part or joint, its name cut off."""
    return [
        says
        for says in derive(job(text)).remarks
        if says.startswith(of) and not re.search(r"\bslips? of\b", says)
    ]


CASE = part("side", 300, 100, 18, 4) + joint("corner", "case-mitre", ["side"])


@pytest.mark.parametrize(("size", "said"), [(264, "falls through"), (276, "leaves no room"), (274, "")])
def test_a_bottom_is_compared_with_its_grooves(job, size, said):
    """A box 300 long of 18 mm stock is 264 inside; a bottom in grooves 6 deep is longer than that and under 276."""
    groove = joint("b", "groove", ["side"], 'from = 6\nwidth = 5\ndepth = 6\nholds = "panel"')
    found = remarks(job, part("panel", size, size, 5) + CASE + groove)
    assert bool(found) == bool(said)
    assert all(said in says for says in found)


@pytest.mark.parametrize(("size", "said"), [(264, "falls through"), (284, "leaves no room"), (280, "")])
def test_a_back_is_compared_with_its_rebates(job, size, said):
    """The same box with rebates 10 deep into its sides, 8 wide along them: a back is longer than 264 and under 284."""
    rebate = joint("b", "rebate", ["side"], 'width = 8\ndepth = 10\nholds = "panel"')
    found = remarks(job, part("panel", size, size, 8) + CASE + rebate)
    assert bool(found) == bool(said)
    assert all(said in says for says in found)


def box(more="", at="[0, 405]", on="back"):
    """A box of sides with boards of 360 between them, butted: inside 360, and as long as the places leave."""
    text = part("front", 360, 110, 15, 2) + part("side", 420, 110, 15, 2)
    return text + joint("corner", "end-to-face", ["front", "side"], f"at = {at}\non = ['{on}']") + more


@pytest.mark.parametrize(
    ("long", "wide", "said"),
    [
        (400, 370, []),
        (390, 360, [(360, "falls through"), (390, "falls through")]),
        (401.5, 371.5, []),
        (402, 372, [(372, "leaves no room"), (402, "leaves no room")]),
        (370, 400, []),
    ],
)
@pytest.mark.parametrize("on", ["back", "face"])
def test_a_bottom_of_a_butted_box_is_compared_with_its_grooves(job, long, wide, said, on):
    """405 less 15 is 390 from front to back, the fronts are 360 long; grooves 6 deep add 12 to both, less the room."""
    groove = joint(
        "g", "groove", ["front", "side"], f'on = "{on}"\nfrom = 10\nwidth = 6\ndepth = 6\nholds = "panel"'
    )
    found = remarks(job, part("panel", long, wide, 6) + box(groove, on=on))
    assert [(size, what) for size, what in said if any(f"{size} mm {what}" in says for says in found)] == said
    assert len(found) == len(said)


@pytest.mark.parametrize(
    ("long", "wide", "many"), [(768, 608, 0), (788, 588, 2), (760, 600, 2), (772, 612, 2)]
)
def test_a_back_of_a_butted_case_is_compared_with_its_rebates(job, long, wide, many):
    """Inside 600 and 780 less 20; rebates 10 along the faces and 6 into them add 12: as deep as they are, not wide. A
    shelf without one, which the back goes behind, parts nothing."""
    text = part("panel", long, wide, 6) + part("side", 800, 240, 20, 2) + part("top", 600, 240, 20, 2)
    text += joint("case", "end-to-face", ["top", "side"], "at = [0, 780]")
    rebate = 'beside = "far edge"\nwidth = 10\ndepth = 6\nholds = "panel"'
    text += joint("r", "rebate", ["side", "top"], rebate)
    assert len(remarks(job, text)) == many
    shelf = part("shelf", 600, 240, 20) + joint("s", "end-to-face", ["shelf", "side"], "at = [390]")
    assert len(remarks(job, text + shelf)) == many


def test_backs_on_both_sides_of_a_divider(job):
    """290 and 20 and 290 are 600: each back is compared with its own half of the case."""
    text = part("side", 800, 240, 20, 2) + part("top", 600, 240, 20, 2) + part("divider", 760, 240, 20)
    text += joint("case", "end-to-face", ["top", "side"], "at = [0, 780]")
    text += joint("d", "end-to-face", ["divider", "top"], "at = [290]")
    for where, on in ((["side", "top", "divider"], "back"), (["divider"], "face")):
        size = f'on = "{on}"\nbeside = "far edge"\nfrom = 12\nwidth = 6\ndepth = 5\nholds = "panel"'
        text += joint(f"g {on}", "groove", where, size)
    assert not remarks(job, text + part("panel", 768, 298, 6, 2))
    (narrow,) = remarks(job, text + part("panel", 768, 290, 6, 2))
    assert "290 mm falls through: the opening is 290 mm" in narrow


def test_boards_that_stand_elsewhere_bound_no_opening(job):
    """Where no groove holds the panel on the side that the boards stand on, or only one of them has it."""
    outside = joint(
        "g", "groove", ["front", "side"], 'on = "face"\nfrom = 10\nwidth = 6\ndepth = 6\nholds = "panel"'
    )
    assert not remarks(job, part("panel", 300, 300, 6) + box(outside))
    text = part("front", 360, 110, 15) + part("rear", 360, 90, 15)
    for side, end, places in (("left", "left end", (0, 405)), ("right", "right end", (405, 0))):
        text += part(side, 420, 110, 15)
        for board, at in zip(("front", "rear"), places, strict=True):
            text += joint(f"{board} {side}", "end-to-face", [board, side], f'at = [{at}]\nends = ["{end}"]')
    groove = joint(
        "g",
        "groove",
        ["front", "left", "right"],
        'beside = "far edge"\nfrom = 5\nwidth = 6\ndepth = 6\nholds = "panel"',
    )
    assert not remarks(job, text + groove + part("panel", 414, 370, 6))


@pytest.mark.parametrize(
    ("thick", "said"), [(5, ""), (4.5, ""), (3.5, "is loose in"), (9, "does not go into")]
)
def test_the_thickness_of_a_bottom(job, thick, said):
    """A groove 5 wide takes 5 mm; one whose edge is worked further is left to the maker."""
    groove = joint("b", "groove", ["side"], 'from = 6\nwidth = 5\ndepth = 6\nholds = "panel"')
    found = remarks(job, part("panel", 270, 270, thick) + CASE + groove)
    assert bool(found) == bool(said)
    assert all(said in says for says in found)
    tongue = joint("t", "rebate", ["panel"], "width = 6\ndepth = 1")
    assert not remarks(job, part("panel", 270, 270, thick) + CASE + groove + tongue)


@pytest.mark.parametrize(
    ("size", "said"), [((412, 582), []), ((400, 582), ["falls through"]), ((416, 586), ["leaves", "leaves"])]
)
def test_a_panel_in_a_frame_of_unlike_rails(job, size, said):
    """Rails 400 long at 0 and 650 of a 700 mm stile, the lower one 80 wide: the opening 400 by 570, grooves 8 deep."""
    sides = ["left", "right"]
    text = part("panel", size[1], size[0], 6) + part("top", 400, 50, 20) + part("low", 400, 80, 20)
    text += "".join(part(side, 700, 60, 20) for side in sides)
    for rail, places in (("top", {"left": 0, "right": 650}), ("low", {"left": 620, "right": 0})):
        for side, at in places.items():
            end = "right end" if at == 0 else "left end"
            text += joint(f"{rail} {side}", "end-to-edge", [rail, side], f"at = [{at}]\nends = ['{end}']")
    groove = "on = 'edge'\nfrom = 7\nwidth = 6\ndepth = 8\nholds = 'panel'"
    text += joint("g", "groove", ["top", "low", *sides], groove)
    found = remarks(job, text.replace("'", '"'))
    assert len(found) == len(said)
    assert all(word in says for word, says in zip(said, found, strict=True))
    assert not remarks(job, text, "top ") + remarks(job, text, "low ")
    swapped = text.replace("right end", "third").replace("left end", "right end").replace("third", "left end")
    turned = remarks(job, swapped, "top ") + remarks(job, swapped, "low ")
    assert len(turned) == 4
    assert all("has its reference edge outside" in says for says in turned)


def test_a_rail_between_others_may_hold_its_panel_on_either_side(job):
    """Only of the outermost rails of a stile it is known on which side an opening is."""
    sides = ["left", "right"]
    text = part("panel", 410, 310, 6) + "".join(part(side, 900, 60, 20) for side in sides)
    places = {"low": (0, 840), "middle": (500, 340), "top": (840, 0)}
    for rail, (left, right) in places.items():
        text += part(rail, 400, 60, 20)
        for side, at in zip(sides, (left, right), strict=True):
            end = "left end" if (side == "left") == (rail != "low") else "right end"
            text += joint(f"{rail} {side}", "end-to-edge", [rail, side], f'at = [{at}]\nends = ["{end}"]')
    text += joint("g", "groove", [*places], 'on = "edge"\nfrom = 7\nwidth = 6\ndepth = 6\nholds = "panel"')
    found = [says for rail in places for side in sides for says in remarks(job, text, f"{rail} {side}")]
    assert not any("middle has its reference edge outside" in says for says in found)
    turned = text.replace("right end", "third").replace("left end", "right end").replace("third", "left end")
    found = [says for rail in places for side in sides for says in remarks(job, turned, f"{rail} {side}")]
    assert any("top has its reference edge outside" in says for says in found)
    assert not any("middle has" in says for says in found)


def door(held, grooved=()):
    """The parts that are held, and what holds them: rails 400 long, stiles and what else is `grooved`, grooves 6 deep
    in both edges; the opening is 400 by 480."""
    text = held + part("rail", 400, 60, 20, 2) + part("stile", 600, 60, 20, 2)
    text += joint("corner", "end-to-edge", ["rail", "stile"])
    for edge in ("edge", "far edge"):
        size = f'on = "{edge}"\nbeside = "face"\nfrom = 7\nwidth = 6\ndepth = 6\nholds = "panel"'
        text += joint(edge, "groove", ["rail", "stile", *grooved], size)
    return text


MUNTIN = part("muntin", 480, 50, 20) + joint("m", "end-to-edge", ["muntin", "rail"], "at = [175]")


@pytest.mark.parametrize(
    ("width", "muntin", "said"),
    [
        (185, ("muntin",), ""),
        (175, ("muntin",), "falls through"),
        (410, ("muntin",), "223 mm too large"),
        (410, (), ""),  # in front of the panel
        (185, (), ""),
        (410, None, ""),
        (185, None, "falls through"),
    ],
)
def test_a_muntin_parts_the_opening(job, width, muntin, said):
    """One 50 wide at 175 along rails 400 long leaves 175 on both sides; grooves 6 deep make it 187 from bottom to
    bottom."""
    held = part("panel", 490, width, 6, 2) + (MUNTIN if muntin is not None else "")
    found = remarks(job, door(held, muntin or ()))
    assert bool(found) == bool(said)
    assert all(said in says for says in found)


@pytest.mark.parametrize(
    ("length", "width", "said"),
    [(490, 137, []), (490, 130, ["390 mm falls through"]), (492, 138, ["2 mm too large", "leaves no room"])],
)
def test_a_panel_of_boards_is_compared_as_a_whole(job, length, width, said):
    """Three boards in an opening 400 by 480, grooves 6 deep: together more than 400 and under 412 wide."""
    held = part("panel", length, width, 18, 3) + joint("p", "edge-to-edge", ["panel"])
    found = [says for says in remarks(job, door(held)) if "18 mm thick" not in says]
    assert len(found) == len(said)
    assert all(word in says for word, says in zip(said, found, strict=True))


def fits(job, refused, text, length, says):
    """Nothing is said where `says` is empty; a remark where it is a list; else a refusal with the length that fits."""
    if not isinstance(says, str):
        assert remarks(job, text) == list(says)
        return
    (fault,) = refused(text)
    assert fault.where == 'joint "h", holds'
    assert says in fault.message
    assert fault.accepted == f"panel {length} mm long"


@pytest.mark.parametrize(
    ("long", "says"),
    [
        (506, []),
        (506.4, []),  # 0.5 mm is the room a held part has
        (507, "it is longer than the 506 mm from the bottom of one to that of the other"),
        (512, "panel, 512 mm long, does not fit in the housings that hold it once all is put together"),
        (500, "it does not reach from one to the other: they are 500 mm apart"),
        (
            504,
            [
                "panel: 504 mm long, in housings 3 mm deep, does not fit between sides that floor holds 500 mm apart"
            ],
        ),
    ],
)
def test_a_housed_shelf_is_as_long_as_the_sides_are_apart(job, refused, long, says):
    """A floor 500 long stands between the sides; a shelf in housings 3 deep is 506."""
    text = part("panel", long, 200, 18) + part("floor", 500, 200, 18) + part("side", 800, 200, 18, 2)
    text += joint("f", "end-to-face", ["floor", "side"], "at = [60]")
    text += joint("h", "housing", ["side"], 'at = [300]\nwidth = 18\ndepth = 3\nholds = "panel"')
    fits(job, refused, text, 506, says)


@pytest.mark.parametrize(
    ("long", "on", "says"),
    [
        (570, "back", []),
        (600, "back", "it is longer than the 570 mm from the bottom of one to that of the other"),
        (500, "back", "it does not reach from one to the other: they are 560 mm apart"),
        (600, "face", []),
    ],
)
def test_a_shelf_housed_in_a_mitred_case_is_as_long_as_its_sides_are_apart(job, refused, long, on, says):
    """600 less twice 20 is left inside, and twice 5 of housing is added; what is held outside spans anything."""
    text = part("panel", long, 200, 18) + part("top", 600, 200, 20, 2) + part("side", 400, 200, 20, 2)
    text += joint("c", "case-mitre", ["top", "side"])
    text += joint(
        "h", "housing", ["side"], f"at = [191]\nwidth = 18\ndepth = 5\non = '{on}'\nholds = 'panel'"
    )
    fits(job, refused, text, 570, says)


@pytest.mark.parametrize(
    ("long", "says"), [(312, []), (320, "longer than the 312 mm"), (300, "they are 300 mm")]
)
def test_a_shelf_in_housings_of_unlike_depth(job, refused, long, says):
    """Between sides that a floor holds 300 apart, in housings 4 deep in one and 8 in the other, which stands turned end
    for end: 312 mm."""
    text = part("panel", long, 200, 18) + part("floor", 300, 200, 18)
    for name, side, end, floor, housed, depth in (
        ("h", "near", "left", 60, 300, 4),
        ("i", "far", "right", 800 - 60 - 18, 800 - 300 - 18, 8),
    ):
        text += part(side, 800, 200, 18)
        text += joint(f"f{name}", "end-to-face", ["floor", side], f'at = [{floor}]\nends = ["{end} end"]')
        size = f"at = [{housed}]\nwidth = 18\ndepth = {depth}\nholds = 'panel'"
        text += joint(name, "housing", [side], size)
    fits(job, refused, text, 312, says)


@pytest.mark.parametrize(
    ("long", "says"), [(290, []), (310, "longer than the 290 mm"), (280, "they are 280 mm")]
)
def test_a_shelf_housed_between_a_divider_and_the_side_of_a_mitred_case(job, refused, long, says):
    """Sides 580 apart, a divider 20 wide in the middle, housings 5 deep: 280 from one to the other, 290 inside."""
    text = part("panel", long, 250, 18, 2) + part("top", 620, 250, 20, 2) + part("side", 400, 250, 20, 2)
    text += part("divider", 360, 250, 20) + joint("c", "case-mitre", ["top", "side"])
    text += joint("d", "end-to-face", ["divider", "top"], "at = [300]")
    for name, where, at, on in (
        ("h", "side", 191, "back"),
        ("i", "divider", 171, "back"),
        ("j", "divider", 171, "face"),
    ):
        size = f'at = [{at}]\nwidth = 18\ndepth = 5\non = "{on}"\nholds = "panel"'
        text += joint(name, "housing", [where], size)
    fits(job, refused, text, 290, says)


def test_a_shelf_housed_in_a_divider_spans_less_than_the_sides_are_apart(job):
    """Sides 580 apart, a divider 20 wide in the middle: shelves in housings 5 deep are 290 long, and right."""
    text = part("panel", 290, 250, 18, 4) + part("top", 580, 250, 20, 2) + part("side", 800, 250, 20, 2)
    text += part("divider", 760, 250, 20)
    text += joint("t", "end-to-face", ["top", "side"], "at = [0, 780]")
    text += joint("d", "end-to-face", ["divider", "top"], "at = [280]")
    for where, at, on in (("side", 200, "back"), ("divider", 180, "back"), ("divider", 180, "face")):
        size = f'at = [{at}, {at + 200}]\nwidth = 18\ndepth = 5\non = "{on}"\nholds = "panel"'
        text += joint(f"{where} {on}", "housing", [where], size)
    assert not remarks(job, text)


@pytest.mark.parametrize(
    ("at", "housed", "held", "taken"),
    [
        ([60], [300], "panel", ""),
        ([60, 78], [300], "panel", ""),  # one on the other
        ([60, 70], [300], "panel", "overlap on the back of side"),
        ([60], [300, 310], "panel", "overlap on the back of side"),
        ([290], [300], "panel", "overlap on the back of side"),
        ([300], [300], "", "seats floor 6 mm deep in side"),  # 20 + 7 mm deep, slips for 20 + 13
    ],
)
def test_two_boards_do_not_stand_in_one_place(job, at, housed, held, taken):
    """Shelves 18 thick at places along a side, or in its housings, need 18 mm each."""
    text = part("panel", 512, 200, 18) + part("floor", 500, 200, 18, len(at)) + part("side", 800, 200, 18, 2)
    text += joint("f", "end-to-face", ["floor", "side"], f"at = {at}\nslips = {{ depths = [20, 13] }}")
    text += joint("h", "housing", ["side"], f'at = {housed}\nwidth = 18\ndepth = 6\nholds = "{held}"')
    if taken:
        with pytest.raises(InputError) as refused:
            derive(job(text))
        assert taken in str(refused.value)
    else:
        derive(job(text))


@pytest.mark.parametrize(
    ("at", "width", "fits"), [([20, 60], 30, True), ([20, 50], 30, False), ([40, 40], 30, False)]
)
def test_slots_of_one_row_keep_their_wall(job, at, width, fits):
    """Slips 30 wide need slots 32 long in the slack half, and 3 mm between them: 35 from centre to centre."""
    text = part("rail", 300, 80, 20, 2) + part("stile", 700, 60, 20, 2)
    text += joint(
        "j",
        "end-to-edge",
        ["rail", "stile"],
        f"at = [0]\nends = ['left end']\nslips = {{ at = {at}, width = {width} }}",
    )
    if fits:
        derive(job(text))
    else:
        with pytest.raises(InputError) as refused:
            derive(job(text))
        assert "leave no wall of 3 mm between them" in str(refused.value)


def test_a_housed_shelf_is_sanded_with_the_case(job):
    """Its back is inside as a floor's is: all that is reached no more once the case is glued up is sanded before."""
    text = part("panel", 506, 200, 18) + part("floor", 500, 200, 18) + part("side", 800, 200, 18, 2)
    text += joint("f", "end-to-face", ["floor", "side"], "at = [60]\nassembly = 'case'")
    text += joint(
        "h", "housing", ["side"], "at = [300]\nwidth = 18\ndepth = 3\nholds = 'panel'\nassembly = 'case'"
    )
    (sanded,) = [op for op in derive(job(text.replace("'", '"'))).operations if op.kind == "sand"]
    assert set(sanded.parts) == {"panel", "floor", "side"}
    assert sanded.quantity == 4


def outside(job, text):
    """The parts of which it is remarked that what should hold a board in them lies outside, by joint."""
    pattern = (
        r"(.+): the (?:groove|rebate|housing) in the .+? of (.+?)(?:, beside the .+,)? is outside once all"
    )
    found = (re.match(pattern, says) for says in derive(job(text)).remarks)
    return {match[1]: match[2] for match in found if match}


FLAT = part("rail", 400, 50, 20, 4) + joint("f", "frame-mitre", ["rail"])
TRAY = part("side", 300, 80, 14, 8) + joint("c", "splayed", ["side"], "sides = 8\nslope = 60")
HEX = part("stave", 200, 80, 24, 6) + joint("c", "stave", ["stave"])


@pytest.mark.parametrize(
    ("text", "inside", "out"),
    [
        (CASE, "groove side on = 'back'", "groove side on = 'face'"),
        (CASE, "rebate side on = 'back'", "rebate side on = 'face'"),
        (FLAT, "rebate rail beside = 'far edge'", "rebate rail beside = 'edge'"),
        (TRAY, "groove side on = 'back'", "groove side on = 'face'"),
        (HEX, "housing stave on = 'back'", "housing stave on = 'face'"),
        (HEX, "rebate stave beside = 'left end'", "rebate stave on = 'face'\nbeside = 'left end'"),
    ],
)
def test_what_holds_a_board_opens_to_the_inside(job, text, inside, out):
    """Backs are inside in rings, far edges in flat mitred frames."""
    for told, expected in ((inside, {}), (out, {"h": out.split()[1]})):
        kind, name, where = told.split(" ", 2)
        size = {"groove": "from = 6\n", "housing": "at = [6]\n", "rebate": ""}[
            kind
        ] + "width = 5\ndepth = 4\n"
        held = joint("h", kind, [name], f"{where}\n{size}holds = 'panel'")
        assert outside(job, part("panel", 100, 100, 2) + text + held) == expected


@pytest.mark.parametrize("size", [594, 500, 700])
def test_a_groove_on_the_outside_of_a_door_holds_nothing(job, size):
    """The rails are on the stiles' edges, so their far edges are outside; of what is outside nothing else is said."""
    text = part("panel", size, 334, 6) + part("rail", 320, 60, 22, 2) + part("stile", 700, 60, 22, 2)
    text += joint("f", "end-to-edge", ["rail", "stile"], "at = [0, 640]")
    groove = "from = 8\nwidth = 6\ndepth = 8\nholds = 'panel'"
    both = ["stile", "rail"]
    assert not outside(job, text + joint("g", "groove", both, f"on = 'edge'\n{groove}"))
    wrong = text + joint("g", "groove", both, f"on = 'far edge'\n{groove}")
    assert outside(job, wrong) == {"g": "stile and rail"}
    assert not remarks(job, wrong)
    (told,) = remarks(job, wrong, "g:")
    assert told.endswith("panel does not go in between the boards; inside is the edge")
    stile = joint("g", "groove", ["stile"], f"on = 'far edge'\n{groove}")
    rail = joint("h", "groove", ["rail"], f"on = 'edge'\n{groove}")
    assert outside(job, text + stile + rail) == {"g": "stile"}


def test_what_is_outside_of_two_things_may_hold_a_board_between_them(job):
    """A panel between two frames lies in grooves on the outside of both; of a box butted together sides alone are
    grooved outside."""
    text = part("panel", 590, 200, 6)
    for name in "ab":
        text += part(f"rail {name}", 320, 60, 22, 2) + part(f"stile {name}", 700, 60, 22, 2)
        text += joint(f"f {name}", "end-to-edge", [f"rail {name}", f"stile {name}"])
        size = "on = 'far edge'\nfrom = 8\nwidth = 6\ndepth = 8\nholds = 'panel'"
        text += joint(f"g {name}", "groove", [f"stile {name}"], size)
    assert not outside(job, text)
    size = "on = 'face'\nfrom = 10\nwidth = 6\ndepth = 6\nholds = 'panel'"
    butted = box(joint("g", "groove", ["front", "side"], size))
    assert outside(job, part("panel", 300, 300, 6) + butted) == {"g": "side"}


def test_a_rail_laid_out_turned_is_told_once(job):
    """What turns its reference edge inside is told; not that its groove is outside, too."""
    text = part("panel", 596, 336, 6) + part("left", 700, 60, 22) + part("right", 700, 60, 22)
    text += part("top", 320, 60, 22) + part("low", 320, 60, 22)
    for rail, side, end, at in (
        ("top", "left", "left end", 640),
        ("top", "right", "right end", 0),
        ("low", "left", "left end", 0),
        ("low", "right", "right end", 640),
    ):
        text += joint(f"{rail} {side}", "end-to-edge", [rail, side], f"at = [{at}]\nends = ['{end}']")
    size = "on = 'edge'\nfrom = 8\nwidth = 6\ndepth = 8\nholds = 'panel'"
    text += joint("g", "groove", ["top", "low", "left", "right"], size)
    assert len(remarks(job, text, "low ")) == 2
    assert not outside(job, text)
