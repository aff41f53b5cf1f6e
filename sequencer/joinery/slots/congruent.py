"""Pairs of seats that are the same figure on other boards: what goes into one goes into all of them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import fields

from sequencer.joinery.basis.seats import Pair, Seat

OF_THE_SEAT = tuple(field.name for field in fields(Seat) if field.name != "body")


def one_of_each(pairs: Iterable[Pair]) -> tuple[Pair, ...]:
    """The first of every lot of congruent pairs: seats with the very same figures in wood with the very same surfaces
    and grooves. A ring of a hundred boards that are alike has one.
    """
    found: dict[tuple[object, ...], Pair] = {}
    for pair in pairs:
        found.setdefault(
            (_figures(pair.first), _figures(pair.second), pair.middle, pair.least, pair.most), pair
        )
    return tuple(found.values())


def _figures(seat: Seat) -> tuple[object, ...]:
    """All that tells where slots can go: everything but which part it is, and in which order it is sawn."""
    grooves = tuple((box.low, box.high) for box in seat.body.grooves)
    return (frozenset(seat.body.sides), grooves, *(getattr(seat, name) for name in OF_THE_SEAT))
