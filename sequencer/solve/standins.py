"""Stand-ins: what is certain about a choice before it is taken.

Whichever option is taken, its lots will need settings. Lots are paired across the options of a choice; such a
row of lots is represented in the bounds by one *stand-in* that accepts what any of them accepts, on the dials
that all of them name.
Whatever is chosen, the lot of the row that is made satisfies the stand-in at that moment, so an order of the whole is
still an order of every pattern and the bounds hold. Stand-ins wait for nothing and nothing waits for them.
"""

from __future__ import annotations

from collections.abc import Sequence

from sequencer.solve.relation import bits

Needs = list[tuple[int, int, tuple[int, ...]]]
"""(dial, values at which the lot can be made as a mask, values worth moving to) for each dial named."""


def stand_ins(options: Sequence[int], needs: Sequence[Needs]) -> list[Needs]:
    """The stand-ins of one choice, given the lots (mask) of each option; none if an option makes nothing."""
    rows: list[Needs] = []
    masks = sorted(options, key=lambda mask: (mask.bit_count(), mask))
    if len(masks) < 2 or not masks[0]:
        return []
    free = list(masks[1:])
    for lot in bits(masks[0]):
        row = [lot]
        for k, mask in enumerate(free):
            if not mask:
                return rows
            partner = max(bits(mask), key=lambda other: (_likeness(needs[lot], needs[other]), -other))
            free[k] ^= 1 << partner
            row.append(partner)
        rows.append(_common([needs[member] for member in row]))
    return rows


def _likeness(one: Needs, other: Needs) -> int:
    """How much two lots have in common: dials both name, and values both accept there."""
    mine = {d: stay for d, stay, _ in one}
    return sum(1 + 2 * bool(mine[d] & stay) for d, stay, _ in other if d in mine)


def _common(row: list[Needs]) -> Needs:
    """What all lots of a row name, with all that any of them accepts."""
    stays = [{d: stay for d, stay, _ in needs} for needs in row]
    common = sorted(set(stays[0]).intersection(*stays[1:]))
    joined = []
    for d in common:
        stay = 0
        for one in stays:
            stay |= one[d]
        joined.append((d, stay, tuple(bits(stay))))
    return joined
