"""Lots that can serve as a stop on the way from one value of a dial to another, and which other lots that helps.

A lot that stands at a value which it can help to pass through (`passing`) may be worth keeping back until the dial
passes there. Which lots to keep back for which stop would be as many questions as there are sets of such lots. So a
search makes each of them as soon as nothing has to be moved for it, for now: it is *revocable*. Where a stop of it
helps, it is revoked, made there instead, and what must follow it and was made goes back to what is left. What is
kept back then shows in a state only where the stop was made.

Nothing is lost by that. Take an order of least cost and pull its lots forward, each to where nothing is moved for it,
as long as no order gets dearer. The lots that stay where they could have been made before, at no move, are stops: what
the next lot moves from there would cost more without them, or could not be moved. Such a lot helps a lot b that
comes after it if, for one of the dials it moves from a to v,

* b may be moved to a value that is cheaper to reach from a by way of v than straight; or
* b accepts v, but cannot be moved there; or
* b accepts v, and may not move the dial because it comes amid mates that hold it, not all of which name it.

And nothing is gained either: made where it was last revoked, or else where nothing was moved for it first, each lot
stands behind all that must come before it, at values it accepts. Moves may have been paid for lots that went back
since. Those to values worth passing through have not: a lot they are made for is not made for now, and what it waits
for is not revoked any more. The others can be left out without making the rest dearer (`passing`), but for a visit to a
station where a dial starts at a value better lost. So what a lot there waits for is not revoked any more once it is
made, either; nor what a lot of a group of mates or a wish waits for, since that lot may have bound others or cost
something. Lots of groups and wishes are never revoked themselves.

In a pattern all of them are revocable, as often as it helps, and bound lots do not go back to what is left when one
that they wait for is revoked. That is less than the whole asks: whatever stops the whole makes after a state, the lots
that make them are left there or revocable, so that they can stop here, too.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from sequencer.solve.problem import FAR
from sequencer.solve.relation import bits

MANY_VALUES = 150
"""Values of a dial up to which it is told which moves a stop makes cheaper."""

Gains = Sequence[Sequence[int]]
"""By the value left (NOTHING last), then by the value stopped at, the lots that helps (masks)."""


@dataclass(frozen=True)
class Stops:
    """What stops of a dial help. `helped`: for each lot that may be one the lots it can help (mask)."""

    gains: Gains
    helped: Mapping[int, int]

    @property
    def lots(self) -> int:
        """The lots that may be stops (mask)."""
        return sum(1 << item for item in self.helped)


def stops_of(
    rows: Sequence[Sequence[int | None]],
    reach: Mapping[int, int],
    stuck: Mapping[int, int] | None = None,
) -> Stops | None:
    """What stops of a dial help; None where they help nobody.

    `rows`: what moves cost, by the value left (NOTHING after the last), then by the value reached; none, or FAR and
    more, where they do not exist. `reach`: the values (a mask) each lot that names the dial may be moved to; `stuck`:
    for each value the lots (a mask) that need it and cannot be moved there.
    """
    values = len(rows[0])
    moved = [0] * values
    for item, mask in reach.items():
        for v in bits(mask):
            moved[v] |= 1 << item
    used = [v for v in range(values) if moved[v]]
    cost = [[FAR if c is None else c for c in row] for row in rows]
    gains = [[0] * values for _ in range(values + 1)]
    some = [0] * values  # whom a stop at a value helps
    for a, row in enumerate(gains):
        for v in used:
            if v == a or cost[a][v] >= FAR:
                continue
            helps = (stuck or {}).get(v, 0)
            for b in used:
                if b not in (a, v) and cost[a][v] + cost[v][b] < cost[a][b]:
                    helps |= moved[b]
            row[v] = helps
            some[v] |= helps
    helped = {}
    for item, mask in reach.items():
        lots = 0
        for v in bits(mask):
            lots |= some[v]
        if lots & ~(1 << item):
            helped[item] = lots & ~(1 << item)
    return Stops(gains, helped) if helped else None
