"""Which boards are marked together, on operations written by hand: the expected groups are drawn up by eye."""

from __future__ import annotations

from sequencer.cards.marking import Marking
from sequencer.cards.planbook import PlanBook
from sequencer.operations import BATTEN, Meeting, Mortises, Notes, Operation, PencilLine, Slip, Slot
from sequencer.planfile import Plan, Step

NEAR, FAR = (30.0, 70.0), (50.0,)
"""Two rows of slots."""


def slot(part: str, joint: str) -> Slot:
    """A mortise; where it lies is told by the lines."""
    point = (0.0, 0.0, 1.0)
    return Slot(
        part=part, joint=joint, mouth=point, axis=point, along=(1.0, 0.0, 0.0), length=20, width=6, depth=15
    )


def line(part: str, at: tuple[float, ...], start: str = "edge", what: str = "centres") -> PencilLine:
    """Lines on a part."""
    return PencilLine(part=part, start=start, across="face", at=at, what=what)


def plunge(id: str, joint: str, *lines: PencilLine) -> Operation:
    """Slots of a joint in the parts that have lines for them."""
    parts = tuple(dict.fromkeys(each.part for each in lines))
    cuts = tuple(slot(part, joint) for part in parts)
    return Operation(id=id, station="bench", parts=parts, cuts=cuts, notes=Notes(lines=lines))


def marking(*operations: Operation, meets: tuple[tuple[str, str], ...] = ()) -> Marking:
    """The marking of these operations, one after the other, with which mortises meet."""
    steps = tuple(
        Step(
            operation=op.id,
            station="bench",
            setup=1,
            quantity=1,
            walk_minutes=0,
            work_minutes=0,
            settings={},
            resets=(),
        )
        for op in operations
    )
    meetings = tuple(
        Meeting(
            joint="j",
            times=1,
            slip=Slip(thickness=6, width=20, length=28),
            first=Mortises(operation=one, cuts=(0,)),
            second=Mortises(operation=two, cuts=(0,)),
        )
        for one, two in meets
    )
    nothing = dict.fromkeys(
        (
            *("cost_minutes", "bound_minutes", "reset_minutes", "walk_minutes", "work_minutes"),
            *("preference_minutes", "reset_count"),
        ),
        0,
    )
    return Marking(
        PlanBook(
            Plan(
                job="j",
                shop="s",
                unit="mm",
                batch=1,
                status="optimal",
                engine="by hand",
                steps=steps,
                setups=(),
                precedence=(),
                choices={},
                operations=operations,
                meetings=meetings,
                **nothing,
            )
        )
    )


def test_mates_share_joints_and_groups_share_mates() -> None:
    """front - side - back by two joints; a shelf and a rail whose slots name no joint have nothing in common."""
    found = marking(
        plunge("a", "fs", line("front", NEAR)),
        plunge("b", "", line("shelf", NEAR)),
        plunge("c", "fs", line("side", NEAR)),
        plunge("d", "sb", line("side", FAR)),
        plunge("e", "", line("rail", NEAR)),
        plunge("f", "sb", line("back", FAR)),
    )
    assert found.parts == ("front", "shelf", "side", "rail", "back")
    assert found.mates("front") == ("side",)
    assert found.mates("side") == ("front", "back")
    assert found.mates("shelf") == ()
    assert found.groups == (("front", "side", "back"), ("shelf",), ("rail",))


def test_boards_lie_together_whose_rows_each_of_the_others_has_or_lacks_as_a_whole() -> None:
    """front has the near row, back the far one, side both, by two operations: front and side are marked together, and
    back, which shares no row with front, by itself. A batten's line and that of a groove are no rows; the same
    distances from an end are others.
    """
    groove = Operation(id="g", station="bench", parts=("front",), notes=Notes(lines=(line("front", (8.0,)),)))
    found = marking(
        plunge("a", "fs", line("front", NEAR), line("front", (90.0,), what=f"{BATTEN}, first")),
        groove,
        plunge("c", "fs", line("side", NEAR[::-1])),
        plunge("d", "sb", line("side", FAR)),
        plunge("f", "sb", line("back", FAR)),
        plunge("h", "h", line("twin", NEAR), line("far twin", NEAR, "left end")),
    )
    assert found.alike(("front", "side", "back")) == [["front", "side"], ["back"]]
    assert found.same_rows(("front", "twin"))
    assert not found.same_rows(("front", "side"))
    assert not found.same_rows(("front", "back"))
    assert not found.same_rows(("twin", "far twin"))
    near = marking(
        plunge("a", "j", line("front", (30.0,))),
        plunge("b", "j", line("side", (30.0001,))),
        plunge("c", "j", line("back", (30.4,))),
    )
    assert near.alike(("front", "side", "back")) == [["front", "side"], ["back"]]


def test_lines_are_carried_from_the_mate_they_meet_if_it_lies_there() -> None:
    """front lies with side, back by itself (its rows are others'). What front's mortises meet in side is carried
    across; what meets only back is not, though side has such a row; of what meets both, one half is enough."""
    rows = (
        plunge("front near", "j", line("front", NEAR)),
        plunge("side near", "j", line("side", NEAR)),
        plunge("back near", "j", line("back", NEAR)),
        plunge("back far", "j", line("back", FAR)),
        plunge("side last", "j", line("side", (80.0,))),
    )
    for meets, carried in (
        ((("front near", "side near"),), True),
        ((("side near", "front near"),), True),
        ((("front near", "back near"),), False),
        ((("back near", "front near"),), False),
        ((("front near", "back near"), ("side near", "front near")), True),
        (
            (("front near", "back far"),),
            True,
        ),  # that row is none of front's: carried from what lies beside it
        ((), True),
    ):
        found = marking(*rows, meets=meets)
        assert found.alike(("front", "side", "back")) == [["front", "side"], ["back"]]
        assert found.carried(rows[0]) is carried, meets


def test_lines_of_one_board_alone_are_carried_from_nowhere() -> None:
    """Its own row is no other board's; of an operation on two parts one that lies with others is enough."""
    alone = plunge("a", "j", line("front", NEAR))
    other = plunge("b", "j", line("side", FAR))
    assert not marking(alone, other).carried(alone)
    both = plunge("c", "j", line("front", NEAR), line("side", FAR))
    third = plunge("d", "j", line("back", FAR))
    assert marking(both, third).carried(both)
    assert not marking(both).carried(both)
