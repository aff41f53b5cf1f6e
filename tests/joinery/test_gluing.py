"""What is glued up together and how often follows from the joints and the pieces (common practice, no source)."""

import networkx as nx
import pytest

from sequencer.joinery import derive
from sequencer.operations import slug
from sequencer.precedence.graph import options_without_order, precedence
from sequencer.precedence.rulebook import in_force, load_books


def part(id, quantity, length=300, width=60, thickness=20):
    """The table of a part."""
    return (
        f'[[part]]\nid = "{id}"\nquantity = {quantity}\nlength = {length}\nwidth = {width}\n'
        f'thickness = {thickness}\nstock = "sized"\n'
    )


def frame(id, rail, stile, more=""):
    """The table of a joint of rails and stiles."""
    return f'[[joint]]\nid = "{id}"\nkind = "end-to-edge"\nparts = ["{rail}", "{stile}"]\n{more}\n'


def holding(id, kind, part, held, more=""):
    """The table of a trench that holds a part."""
    where = "at = [100]\nwidth = 18" if kind == "housing" else "from = 8\nwidth = 6"
    return (
        f'[[joint]]\nid = "{id}"\nkind = "{kind}"\nparts = ["{part}"]\n{where}\ndepth = 5\n'
        f'holds = "{held}"\n{more}\n'
    )


def panel(id, parts, more=""):
    """The table of a joint of boards side by side."""
    return f'[[joint]]\nid = "{id}"\nkind = "edge-to-edge"\nparts = {parts}\n{more}\n'.replace("'", '"')


FRAME = part("rail", 2) + part("stile", 2, 600)
CASE = part("side", 4, 300, 300, 18) + '[[joint]]\nid = "case"\nkind = "case-mitre"\nparts = ["side"]\n'
TABLE = '[[joint]]\nid = "table"\nkind = "leg-to-apron"\nparts = {}\nleg = "leg"\n'


@pytest.mark.parametrize(
    ("text", "glued"),
    [
        # two things that have no part in common
        (
            FRAME
            + part("side", 2, 400, 200, 18)
            + part("shelf", 1, 400, 200, 18)
            + frame("frame", "rail", "stile")
            + holding("seat", "housing", "side", "shelf"),
            {"frame": (("rail", "stile"), 1), "seat": (("side", "shelf"), 1)},
        ),
        # a name that is another joint's id: both are glued up
        (
            FRAME
            + part("rail 2", 2)
            + part("stile 2", 2, 600)
            + frame("lid", "rail", "stile")
            + frame("corner", "rail 2", "stile 2", 'assembly = "Lid"'),
            {"lid-2": (("rail", "stile"), 1), "lid": (("rail 2", "stile 2"), 1)},
        ),
        # what names no assembly belongs to the one it hangs together with, whichever comes first
        (
            CASE + part("bottom", 1) + holding("groove", "groove", "side", "bottom", 'assembly = "box"'),
            {"box": (("side", "bottom"), 1)},
        ),
        # two frames of one assembly each, tied together by what belongs to neither
        (
            FRAME
            + part("rail 2", 2)
            + part("stile 2", 2, 600)
            + frame("one", "rail", "stile", 'assembly = "A"')
            + frame("other", "rail 2", "stile 2", 'assembly = "B"\nedges = ["far edge"]')
            + panel("both", ["stile", "stile 2"]),
            {
                "a": (("rail", "stile"), 1),
                "b": (("rail 2", "stile 2"), 1),
                "both": (("stile", "stile 2"), 2),
            },
        ),
        # one case that holds two panels is glued once, after these
        (
            CASE
            + part("board", 6, 300, 100, 18)
            + panel("top", ["board"], "boards = 3")
            + holding("groove", "groove", "side", "board"),
            {"top": (("board",), 2), "case": (("side", "board"), 1)},
        ),
        # the same with a name for the panels, for the case, and for both in one
        *(
            (
                CASE.replace("\nparts", f'\nassembly = "{case}"\nparts')
                + part("board", 6, 300, 100, 18)
                + panel("top", ["board"], f'boards = 3\nassembly = "{top}"')
                + holding("groove", "groove", "side", "board"),
                glued,
            )
            for case, top, glued in (
                ("", "Panels", {"panels": (("board",), 2), "case": (("side", "board"), 1)}),
                ("Box", "", {"top": (("board",), 2), "box": (("side", "board"), 1)}),
                ("Box", "Box", {"box": (("side", "board"), 1)}),
            )
        ),
        # panels alone
        (part("board", 6, 300, 100) + panel("top", ["board"], "boards = 3"), {"top": (("board",), 2)}),
        # one frame, one of whose parts is in two panels that are glued up by themselves
        (
            FRAME
            + part("top", 2, 600)
            + frame("frame", "rail", "stile", 'assembly = "A"')
            + panel("panel", ["stile", "top"], 'assembly = "B"'),
            {"a": (("rail", "stile"), 1), "b": (("stile", "top"), 2)},
        ),
        # two doors, with three rails each
        (
            part("rail", 6) + part("stile", 4, 600) + frame("door", "rail", "stile", "at = [0, 270, 540]"),
            {"door": (("rail", "stile"), 2)},
        ),
        # posts on one foot each, joined at one end
        (
            part("post", 6)
            + part("foot", 3, 600)
            + frame("foot joint", "post", "foot", 'at = [0, 540]\nends = ["left end"]'),
            {"foot-joint": (("post", "foot"), 3)},
        ),
        # two tables, their aprons alike or two long and two short
        (
            part("apron", 8, 400, 90) + part("leg", 8, 700, 45, 45) + TABLE.format('["apron"]'),
            {"table": (("apron", "leg"), 2)},
        ),
        (
            part("long", 4, 500, 90)
            + part("short", 4, 400, 90)
            + part("leg", 8, 700, 45, 45)
            + TABLE.format('["long", "short"]'),
            {"table": (("long", "short", "leg"), 2)},
        ),
        # four rings and six frames in one thing: what is alike in all of it is there twice
        (
            part("side", 16, 300, 300, 18)
            + '[[joint]]\nid = "case"\nkind = "case-mitre"\nparts = ["side"]\n'
            + part("rail", 12)
            + part("stile", 12, 600)
            + frame("frame", "rail", "stile")
            + holding("groove", "groove", "side", "rail"),
            {"case": (("side", "rail", "stile"), 2)},
        ),
    ],
)
def test_what_hangs_together_is_glued_up_as_often_as_its_pieces_make_it(job, text, glued):
    """Every part that is joined is glued up, under a name of its own, as many times as counted by hand."""
    found = [op for op in derive(job(text)).operations if op.kind == "glue"]
    assert {op.id.removeprefix("glue-"): (op.parts, op.quantity) for op in found} == glued
    assert len({op.id for op in found}) == len(found)


@pytest.mark.parametrize(("of_case", "of_panel"), [("", ""), ("", "Panels"), ("Box", ""), ("Box", "Panels")])
def test_panels_are_glued_up_before_what_holds_them_is_put_together(job, of_case, of_panel):
    """A case is not dry-fitted round boards that are no panel yet, however the two are named; nor is there a circle."""
    text = panel("top", ["board"], f'boards = 3\nassembly = "{of_panel}"') + part("board", 6, 300, 100, 18)
    text += CASE.replace("\nparts", f'\nassembly = "{of_case}"\nparts')
    work = derive(job(text + holding("groove", "groove", "side", "board", f'assembly = "{of_case}"')))
    edges = precedence(work, in_force(load_books()))
    case, panels = slug(of_case or "case"), slug(of_panel or "top")
    (why,) = [e.why for e in edges if (e.before, e.after) == (f"glue-{panels}", f"dry-fit-{case}")]
    assert why == "the glue makes the glued-up panel of board, which the dry-fit registers on"
    assert (f"glue-{panels}", f"glue-{case}") in {(edge.before, edge.after) for edge in edges}
    assert options_without_order(work, edges) == {}


def rebate(part, on="back", beside="edge", more=""):
    """The table of a rebate that holds nothing."""
    return (
        f'[[joint]]\nid = "rebate {part}"\nkind = "rebate"\nparts = ["{part}"]\non = "{on}"\n'
        f'beside = "{beside}"\nwidth = 8\ndepth = 6\n{more}\n'
    )


LOOSE = {
    "frame": FRAME + frame("frame", "rail", "stile") + rebate("rail") + rebate("stile"),
    "frame with a panel": FRAME
    + part("panel", 1, 400, 316, 6)
    + frame("frame", "rail", "stile")
    + rebate("rail", more='holds = "panel"')
    + rebate("stile", more='holds = "panel"'),
    "table": part("apron", 4, 400, 90)
    + part("leg", 4, 700, 45, 45)
    + TABLE.format('["apron"]')
    + rebate("apron"),
    "panel": part("board", 6, 700, 110)
    + panel("top", ["board"], "boards = 3")
    + rebate("board", beside="left end"),
    "shelf": part("side", 2, 700, 200)
    + part("shelf", 2, 500, 200)
    + '[[joint]]\nid = "shelves"\nkind = "end-to-face"\nparts = ["shelf", "side"]\nat = [20, 660]\n'
    + rebate("side", beside="far edge"),
    "housed divider": part("shelf", 2, 600, 200)
    + part("divider", 1, 320, 200, 18)
    + holding("seat", "housing", "shelf", "divider"),
    "case": CASE + rebate("side"),
}


@pytest.mark.parametrize("stock", ["rough", "planed", "sheet", "sized"])
@pytest.mark.parametrize("text", LOOSE.values(), ids=LOOSE)
@pytest.mark.parametrize("off", [(), ("cuts-before-sanding",)], ids=["all rules", "sanding when it suits"])
def test_all_work_on_loose_boards_comes_before_the_dry_fit(job, text, stock, off):
    """Nothing is milled, sawn, plunged or routed on a board that is part of something bigger by then (common practice,
    no source); sanding may wait until after the dry fit."""
    work = derive(job(text.replace('stock = "sized"', f'stock = "{stock}"')))
    graph = nx.DiGraph(
        (edge.before, edge.after)
        for edge in precedence(work, in_force(load_books(), off))
        if edge.strength == "must"
    )
    loose = {op.id for op in work.operations if op.kind not in ("sand", "dry-fit", "glue")}
    for fit in [op for op in work.operations if op.kind == "dry-fit"]:
        assert loose - nx.ancestors(graph, fit.id) == set()


def test_what_is_done_by_hand_to_the_whole_may_come_after_the_glue_up(job):
    """A panel is sawn to its length when it is one piece, at an end that its boards had already."""
    text = part("board", 6, 700, 110).replace("sized", "planed") + panel("top", ["board"], "boards = 3")
    by_hand = (
        '[[operation]]\nid = "trim"\nstation = "saw"\nkind = "crosscut"\nparts = ["board"]\nquantity = 2\n'
        'makes = ["right end"]\ndestroys = ["right end"]\nafter = ["glue-top"]\n'
    )
    with_hand = job(text + by_hand)
    derived = derive(with_hand)
    work = derived.model_copy(update={"operations": (*derived.operations, *with_hand.operations)})
    edges = precedence(work, in_force(load_books()))
    assert options_without_order(work, edges) == {}
    assert ("glue-top", "trim") in {(edge.before, edge.after) for edge in edges}


BY_HAND = {
    "ends of a panel": (part("board", 6, 700, 110) + panel("top", ["board"], "boards = 3"), ["board"], "top"),
    "back of a case": (CASE, ["side"], "case"),
}


@pytest.mark.parametrize("station", ["router", "bench"])
@pytest.mark.parametrize(("text", "parts", "name"), BY_HAND.values(), ids=BY_HAND)
def test_rebates_by_hand_may_be_cut_when_all_is_one_piece(job, text, parts, name, station):
    """Across the ends of a panel, or round the back of a case (common practice, no source)."""
    by_hand = (
        f'[[operation]]\nid = "step"\nstation = "{station}"\nkind = "rebate"\nparts = {parts}\nquantity = 2\n'
        f'after = ["glue-{name}"]\n'
    ).replace("'", '"')
    with_hand = job(text + by_hand)
    derived = derive(with_hand)
    work = derived.model_copy(update={"operations": (*derived.operations, *with_hand.operations)})
    edges = precedence(work, in_force(load_books()))
    assert options_without_order(work, edges) == {}
    assert (f"glue-{name}", "step") in {(edge.before, edge.after) for edge in edges}


def test_a_shelf_of_boards_is_sanded_when_it_is_a_panel(job):
    """Boards sanded one by one would not be level once glued (common practice, no source)."""
    text = (
        part("side", 2, 400, 200, 18) + part("board", 6, 306, 100, 18) + panel("top", ["board"], "boards = 3")
    )
    work = derive(job(text + holding("seat", "housing", "side", "board")))
    edges = precedence(work, in_force(load_books()))
    told = {(edge.before, edge.after): edge.why for edge in edges}
    assert (
        told["glue-top", "sand-seat"]
        == "the glue makes the glued-up panel of board, which the sand registers on"
    )
    assert ("sand-seat", "glue-seat") in told
    assert ("sand-seat", "glue-top") not in told
    assert options_without_order(work, edges) == {}


def test_panels_with_a_board_in_common_do_not_wait_for_each_other(job):
    """Two panels named apart are glued up in any order, and no frame but theirs waits for them."""
    text = FRAME + part("one", 2, 600) + part("two", 2, 600) + part("three", 2, 600)
    text += frame("frame", "rail", "stile") + panel("a", ["one", "two"], 'assembly = "A"')
    work = derive(job(text + panel("b", ["two", "three"], 'assembly = "B"')))
    edges = precedence(work, in_force(load_books()))
    glued = {op.id for op in work.operations if op.kind in ("dry-fit", "glue")}
    assert {(edge.before, edge.after) for edge in edges if {edge.before, edge.after} <= glued} == {
        (f"dry-fit-{name}", f"glue-{name}") for name in ("frame", "a", "b")
    }


def test_an_apron_named_twice_is_one_apron_all_round(job):
    """The list of aprons is repeated round the table: slips are as many as with the apron named once, two an end."""
    text = part("apron", 4, 400, 90) + part("leg", 4, 700, 45, 45)
    once, twice = (derive(job(text + TABLE.format(parts))) for parts in ('["apron"]', '["apron", "apron"]'))
    assert once == twice
    assert sum(meeting.slips for meeting in once.meetings) == 4 * 2 * 2


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (part("board", 7, 400, 100) + panel("top", ["board"], "boards = 3"), "whole panels of 3 board"),
        (
            part("one", 3, 400, 100) + part("two", 1, 400, 100) + panel("top", ["one", "two"]),
            "whole panels of 1 one, 1 two",
        ),
        (
            part("long", 3, 500, 90)
            + part("short", 1, 400, 90)
            + part("leg", 4, 700, 45, 45)
            + TABLE.format('["long", "short"]'),
            "whole sets of 2 long, 2 short, 4 leg",
        ),
        (
            part("apron", 3, 400, 90) + part("leg", 3, 700, 45, 45) + TABLE.format('["apron"]'),
            "whole sets of 4 apron, 4 leg",
        ),
        (
            part("rail", 3) + part("stile", 3, 600) + frame("door", "rail", "stile"),
            "whole sets of 2 rail, 2 stile",
        ),
        (
            part("rail", 2) + part("stile", 1, 600) + frame("door", "rail", "stile"),
            "whole sets of 2 rail, 2 stile",
        ),
    ],
)
def test_pieces_left_over_are_refused(refused, text, says):
    """What the pieces should make is told part by part: rails go between two stiles, aprons round four legs."""
    (fault,) = refused(text)
    assert fault.message == f"the pieces do not make {says}"
    assert fault.accepted == "quantities in that proportion"


def test_rails_on_two_sides_of_a_table_only_are_refused_in_words(refused):
    """Half as many as go round: a base of two low rails and a stretcher cannot be told, whatever the quantities."""
    text = part("rail", 4, 400, 90) + part("leg", 8, 700, 45, 45) + TABLE.format('["rail"]')
    (fault,) = refused(text)
    assert fault.message == (
        "the pieces do not make whole sets of 4 rail, 4 leg: aprons and rails go all round the legs; on two sides only "
        "they cannot be told"
    )
    assert fault.accepted == "quantities in that proportion"


@pytest.mark.parametrize("key", ["beside", "on"])
@pytest.mark.parametrize(
    ("surface", "says", "works"),
    [
        (
            "left end",
            'not "left end": grooves run along the grain',
            'across the grain a rebate, beside = "left end"',
        ),
        ("right end", 'not "right end": grooves run', "or a housing, at a place from the left end"),
        ("middle", 'must be "edge", "far edge", "face" or "back", not "middle"', ""),
        (["edge"], 'must be "edge", "far edge", "face" or "back", not', ""),
    ],
)
def test_a_groove_across_the_grain_is_refused_with_what_does_it(refused, key, surface, says, works):
    """A bottom in upright staves lies across their grain: a housing or a rebate beside the end holds it. A groove in
    an end would have the board stand on it, with nothing to keep it upright."""
    where = f"{key} = {surface!r}".replace("'", '"')
    (fault,) = refused(CASE + part("panel", 1) + holding("g", "groove", "side", "panel", where))
    assert says in fault.message
    assert works in fault.accepted


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (
            frame("door", "rail", "stile", 'edges = ["edge", "edge"]'),
            'edges must name each surface once, not "edge"',
        ),
        (
            frame("door", "rail", "stile", 'ends = ["left end", "left end"]'),
            'ends must name each surface once, not "left end"',
        ),
        (
            '[[joint]]\nid = "seat"\nkind = "end-to-face"\nparts = ["rail", "stile"]\nat = [100]\n'
            'on = ["back", "back"]\n',
            'on must name each surface once, not "back"',
        ),
    ],
)
def test_surfaces_named_twice_are_refused(refused, text, says):
    """A surface can be joined but once in one place."""
    (fault,) = refused(FRAME + text)
    assert fault.message == f"{says} twice"


@pytest.mark.parametrize(
    "text",
    [
        'kind = "groove"\nparts = ["side", "side"]\nfrom = 8\nwidth = 6\ndepth = 5\n',
        'kind = "rebate"\nparts = ["side", "side"]\nwidth = 6\ndepth = 5\n',
        'kind = "housing"\nparts = ["side", "side"]\nat = [80]\nwidth = 6\ndepth = 5\n',
    ],
)
def test_a_part_named_twice_is_worked_once(job, text):
    """A list of parts to work alike is a list of what is worked, whatever stands in it twice."""
    made = derive(job(part("side", 4, 300, 100) + '[[joint]]\nid = "one"\n' + text)).operations
    (trench,) = [op for op in made if op.joint == "one"]
    assert (trench.parts, trench.quantity) == (("side",), 4)


BOX = CASE.replace("\nparts", '\nassembly = "box"\nparts')
IN_THE_BOX = "nothing goes into grooves all round once the boards are together"


@pytest.mark.parametrize(
    ("text", "groove", "works"),
    [
        (
            BOX
            + part("bottom", 1, 270, 270, 6)
            + holding("g", "groove", "side", "bottom", 'assembly = "later"'),
            "g",
            'assembly = "box"',
        ),
        # by itself, since it hangs together with two that have names: a bottom that is a frame
        (
            BOX
            + part("rail", 2, 150)
            + part("stile", 2, 270)
            + frame("bottom", "rail", "stile", 'assembly = "frame"')
            + holding("g", "groove", "side", "rail"),
            "g",
            'assembly = "box"',
        ),
        # rails and stiles of a door, its panel named with the stiles only
        (
            FRAME
            + part("panel", 1, 180, 480, 6)
            + frame("door", "rail", "stile", 'assembly = "door"')
            + holding("one", "groove", "stile", "panel", 'on = "edge"\nassembly = "door"')
            + holding("two", "groove", "rail", "panel", 'on = "edge"\nassembly = "later"'),
            "two",
            'assembly = "door"',
        ),
    ],
)
def test_what_grooves_hold_all_round_is_of_the_same_assembly(refused, text, groove, works):
    """Once four boards with a groove round their inside are glued up, nothing goes in between them."""
    (fault,) = refused(text)
    assert fault.where == f'joint "{groove}", assembly'
    assert IN_THE_BOX in fault.message
    assert fault.accepted == works


@pytest.mark.parametrize(
    "trench",
    [
        # laid in from outside
        holding("g", "rebate", "side", "bottom", 'assembly = "later"').replace("from = 8\n", ""),
        holding("g", "groove", "side", "bottom", 'on = "face"\nassembly = "later"'),  # round the outside
        holding("g", "groove", "side", "bottom", 'assembly = "box"'),
        holding("g", "groove", "side", "bottom"),
    ],
)
def test_what_goes_in_later_may_be_of_another_assembly(job, trench):
    """What is open to one side takes its board afterwards, and what names the case goes with it."""
    derive(job(BOX + part("bottom", 1, 270, 270, 6) + trench))


def test_what_has_no_slips_is_told_without_them(job):
    """Shelves in housings alone: no step speaks of slips."""
    text = part("side", 2, 400, 200, 18) + part("shelf", 1, 400, 200, 18)
    made = derive(job(text + holding("seat", "housing", "side", "shelf"))).operations
    said = [op.notes for op in made if op.kind in ("dry-fit", "glue")]
    assert [notes.what for notes in said] == ["put seat together dry", "glue up seat: close and clamp"]
    assert not any("slip" in text for notes in said for text in (notes.what, notes.way_round))
    told = [op.notes for op in derive(job(FRAME + frame("frame", "rail", "stile"))).operations]
    assert "glue up frame: slips in the tight half first, then close and clamp" in [n.what for n in told]
