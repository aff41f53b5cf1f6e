"""From operations to the engines' problem, on cases worked out by hand."""

from __future__ import annotations

import pytest

from sequencer.encode import disagreements, encode
from sequencer.model.shop import Setting, Shop, Station, Stop
from sequencer.operations import Between, Choice, Edge, MatesGroup, OneOf, Operation, Wanted, Worklist


def shop(**setting: object) -> Shop:
    """A shop with one station "saw" and one setting "tilt"."""
    return Shop(stations=(Station(id="saw", settings=(Setting(id="tilt", **setting),)),))  # type: ignore[arg-type]


def worklist(*wanted: Wanted) -> Worklist:
    """One operation for each thing wanted of the tilt."""
    return Worklist(
        operations=tuple(
            Operation(id=f"op{k}", station="saw", settings={"tilt": want}, minutes_each=0.5)
            for k, want in enumerate(wanted)
        )
    )


def test_values_of_ranges() -> None:
    """Of ranges 20-28 and 24-30 only their common low end 24 is kept: it serves both."""
    encoded = encode(worklist(Between(min=20, max=28), Between(min=24, max=30)), (), shop(reset=1.0))
    assert encoded.values == ((24.0,),)
    assert encoded.problem.lots[0].needs[0].reach == encoded.problem.lots[1].needs[0].reach == 1


def test_a_cheaper_stop_within_a_range_is_a_value_of_its_own() -> None:
    """A stop at 25 costs less than the low end 20, and serves the range as well: 20 is dropped."""
    encoded = encode(
        worklist(Between(min=20, max=28)), (), shop(reset=4.0, stops=(Stop(value=25.0, reset=1.0),))
    )
    assert encoded.values == ((25.0,),)


def test_tolerance_is_not_transitive() -> None:
    """44.98, 45 and 45.02 with tolerance 0.02: the middle serves all three, the outer two not each other."""
    encoded = encode(worklist(44.98, 45.0, 45.02), (), shop(reset=4.0, tolerance=0.02))
    assert encoded.values == ((44.98, 45.0, 45.02),)
    lots = encoded.problem.lots
    assert [lot.needs[0].reach for lot in lots] == [0b001, 0b010, 0b100]
    assert [lot.needs[0].stay for lot in lots] == [0b011, 0b111, 0b110]
    move = encoded.problem.dials[0].move
    assert move[0][1] is None
    assert move[0][2] is not None


def test_costs_share_one_unit() -> None:
    """Minutes 0.5 (work) and 1.25 (reset) are counted in quarters of a minute."""
    encoded = encode(worklist(3.0, OneOf(any=(3.0, 5.0))), (), shop(reset=1.25))
    assert encoded.minute == 4
    assert encoded.problem.dials[0].first == (5,)
    assert encoded.problem.lots[0].work == 2
    assert encoded.minutes(7) == 1.75


def test_edges_become_precedence_and_wishes() -> None:
    """A must-edge becomes precedence once however many rules ask for it, a preference a wish at its price."""
    edges = (
        Edge(before="op0", after="op1", rule="a", why="w"),
        Edge(before="op0", after="op1", rule="b", why="w"),
        Edge(before="op1", after="op2", rule="c", why="w", strength="prefer", price_minutes=1.5),
    )
    problem = encode(worklist(1.0, 2.0, 3.0), edges, shop(reset=1.0)).problem
    assert problem.precedence == ((0, 1),)
    assert [(wish.before, wish.after, wish.price) for wish in problem.wishes] == [(1, 2, 3)]


@pytest.mark.parametrize(
    ("wanted", "says"),
    [
        ((15.0, 0.0), '"op0" asks for 15° and "op1" asks for 0°'),
        ((15.0, 15.0, Between(min=20, max=25)), '"op0" asks for 15° and "op2" asks for 20° to 25°'),
        (
            (OneOf(any=(1.0, 2.0)), OneOf(any=(2.0, 3.0)), OneOf(any=(1.0, 3.0))),
            '"op0" asks for 1° or 2° and "op1"',
        ),
        ((15.0, Between(min=10, max=20), OneOf(any=(0.0, 15.0))), ""),
        ((15.0, 15.05, 14.95), ""),  # standing at 15 serves all
    ],
)
def test_mates_that_never_agree(wanted: tuple[Wanted, ...], says: str) -> None:
    """Mates hold a setting at one value that serves them all; those it cannot serve are named with their values."""
    work = worklist(*wanted)
    group = MatesGroup(operations=tuple(op.id for op in work.operations), hold=("saw.tilt",))
    tight = shop(reset=1.0, tolerance=0.05)
    said = list(disagreements(work.model_copy(update={"mates": (group,)}), tight, "mm"))
    assert [each.startswith(f"mates hold saw.tilt, but {says}") for each in said] == ([True] if says else [])
    choice = Choice(id="c", options={"a": ("op0",), "b": ("op1",)})
    optional = work.model_copy(update={"mates": (group,), "choices": (choice,)})
    assert len(wanted) > 2 or not list(disagreements(optional, tight, "mm"))
