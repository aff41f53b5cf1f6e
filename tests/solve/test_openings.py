"""Mates for which a lot outside must move dials beforehand: the last such lot is not made too early."""

from __future__ import annotations

import pytest

from sequencer.solve.plans.greedy import greedy
from sequencer.solve.plans.openings import Openings
from sequencer.solve.plans.quick import dived
from sequencer.solve.plans.standing import Standings
from sequencer.solve.problem import Dial, Lot, Mates, Need, Outcome, Problem

MOVE = ((0, 2), (2, 0))


def _one(value: int) -> Need:
    return Need(1 << value, 1 << value)


def _trap(*, choice: bool) -> Problem:
    """Both dials stand where "both" wants them, so it costs nothing now. But two others move them away and must come
    before the mates, of which each may move back one dial at most: "both" is wanted between the others and the mates.
    """
    dials = (Dial("fence", 0, MOVE, (2, 2), start=0), Dial("height", 0, MOVE, (2, 2), start=0))
    lots = [
        Lot("both", 0, {0: _one(0), 1: _one(0)}),
        Lot("other fence", 0, {0: _one(1)}),
        Lot("other height", 0, {1: _one(1)}),
        Lot("mate at the height", 0, {1: _one(0)}),
        Lot("mate at the fence", 0, {0: _one(0)}),
    ]
    if choice:
        lots.append(Lot("mate at the fence otherwise", 0, {0: _one(0)}))
    mates = range(3, len(lots))
    return Problem(
        tuple(lots),
        dials,
        ((0,),),
        precedence=tuple((other, mate) for other in (1, 2) for mate in mates),
        mates=(Mates(frozenset(mates), frozenset({0, 1})),),
        choices=((frozenset({4}), frozenset({5})),) if choice else (),
    )


@pytest.mark.parametrize(
    "found",
    [greedy(_trap(choice=False), 1), dived(_trap(choice=False)), dived(_trap(choice=True))],
    ids=["beam", "dive", "dive with a choice"],
)
def test_the_last_lot_that_prepares_is_kept(found: Outcome | None) -> None:
    """One order grown at a time is enough; each dial is moved away and back, 2 each time."""
    assert found is not None
    assert found.cost == 8


def test_what_is_lost_is_seen() -> None:
    """With both dials moved away, or still to be, and no lot left that moves them back the mates can be begun no more;
    with one left they can, and where one of them names all dials held nothing is asked of others.
    """
    problem = _trap(choice=False)
    standings = [Standings(dial) for dial in problem.dials]
    openings = Openings(problem, standings)
    away = tuple(known.step(known.start, _one(1), False)[0] for known in standings)  # type: ignore[index]
    half = away[0], standings[1].start
    assert not openings.lost(0b00110, 0b11001, 0b11001, away)
    assert openings.lost(0b00111, 0b11000, 0b11000, away)
    assert not openings.lost(0b00111, 0b11000, 0b11000, half)  # the mate at the fence comes first
    assert openings.lost(0b00011, 0b11100, 0b11100, half)  # the other at the height comes before that
    assert not openings.lost(0b01111, 0b10000, 0b10000, away)  # they are begun
    alone = Problem(problem.lots, problem.dials, ((0,),), (), (Mates(frozenset({0, 4}), frozenset({0})),))
    assert not Openings(alone, standings)
