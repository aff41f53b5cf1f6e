"""States that another one of the same pattern outdoes: one with the same values, and no lot left that is not left there
too.

Any order that makes what is left in a state makes what is left in one that outdoes it, once the lots that are made
there are left out of it, and costs no more: what was moved for a lot left out is moved by the next lot that names the
dial, which is not dearer unless it helps to pass through where that lot stood (`passing`). Nor is a visit to a station
that is left out, whatever leaving for it would have lost: the walks cost as much (`joining.losing`); and where only the
first visit helps, values tell whether it was paid. So what is known of a state to cost at least goes for those that it
outdoes, and one opened no deeper in the same search spares opening them. What is learnt from the search holds all the
same: lots left only shrink from one that is spared to what spares it, so the last of such a row was opened, and no way
from the start to the goal is cheaper than the least in the heap. (Dominance between states is as old as branch and
bound: Ibaraki, 1977; from memory.)

What a pattern heeds restricts it:

* Lots that it can help to pass through must be left in both or in neither. Where they are revocable (`stops`) nothing
  is compared at all.
* Mates that are begun bind. So of a group none may be left in the one that outdoes, or the same as in the other. Those
  begun in both are finished by the same lots, and the others can be left out or stay together.
* Wishes do not mind: leaving lots out goes against none.

Where there may be no way on, what is spared must not end a search either: else two states that lead nowhere, each known
to cost a little more than the other at every question, would go on like that up to the dearest order.

It is found by looking along a *shelf*: the states of the same pattern and values that were opened, the latest first,
each with its lots folded into one word, by which nearly all are passed over. What helps changes places with the latest.
Most help comes from the latest, so a shelf keeps but so many.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from sequencer.solve.compiled import inner
from sequencer.solve.compiled.layout import (
    DEPTH,
    DIALS,
    GROUP,
    GROUPS,
    LEAST,
    PATTERN,
    PLACES,
    RULED,
    SHELF,
    SHELVED,
    SHUT,
    TIED,
    VALUE,
)
from sequencer.solve.compiled.rows import Whole

S32 = np.uint64(32)
LOW = np.uint64(0xFFFF_FFFF)


@inner
def shelve(b: Any, e: Whole) -> None:
    """Put a state on its shelf, in the place of the last one where no more may stand there. A shelf that was full until
    now moves to where there is twice the room; nothing is put on it where there is none.
    """
    ints, shelves = b.ints, b.shelves
    shelf = np.int64(b.info[e, SHELF])
    start, size = np.int64(shelves[shelf] >> S32), np.int64(shelves[shelf] & LOW)
    if size < PLACES and size & (size - 1) == 0:
        fresh, words = ints[SHELVED], 4 * size if size else 2
        if fresh + words > shelves.size:
            return
        ints[SHELVED] = fresh + words
        for word in range(2 * size):
            shelves[fresh + word] = shelves[start + word]
        start = fresh
    place = start + 2 * (size & (PLACES - 1))
    shelves[place] = folded(b, e)
    shelves[place + 1] = np.uint64(e)
    shelves[shelf] = np.uint64(start) << S32 | np.uint64(size + 1)


@inner
def folded(b: Any, e: Whole) -> Any:
    """The lots left of a state in one word: what has more lots has no fewer bits."""
    word = b.rest[e, 0]
    for w in range(1, b.rest.shape[1]):
        word |= b.rest[e, w]
    return word


@inner
def outdone(b: Any, p: Whole, e: Whole, depth: Whole, room: Whole, search: Whole) -> Whole:
    """A state that outdoes this one and is known to cost at least `room`, or was opened in this search no deeper; -1 if
    none is found.
    """
    info, shelves = b.info, b.shelves
    shelf = np.int64(info[e, SHELF])
    start, size = np.int64(shelves[shelf] >> S32), np.int64(shelves[shelf] & LOW)
    made = ~folded(b, e)
    for back in range(1, 1 + (size if size < PLACES else PLACES)):
        place = start + 2 * ((size - back) & (PLACES - 1))
        if shelves[place] & made:
            continue
        other = np.int64(shelves[place + 1])
        tells = info[other, LEAST] >= room or (info[other, SHUT] == search and info[other, DEPTH] <= depth)
        if tells and other != e and outdoes(b, p, other, e):
            latest = start + 2 * ((size - 1) & (PLACES - 1))
            shelves[place], shelves[latest] = shelves[latest], shelves[place]
            shelves[place + 1], shelves[latest + 1] = shelves[latest + 1], shelves[place + 1]
            return other
    return np.int64(-1)


@inner
def outdoes(b: Any, p: Whole, one: Whole, other: Whole) -> bool:
    """Whether one state on a shelf outdoes another one, of this pattern, which are not the same."""
    info, bits, rest = b.info, b.bits, b.rest
    if info[one, PATTERN] != info[other, PATTERN]:
        return False
    for w in range(rest.shape[1]):
        if rest[one, w] & ~rest[other, w]:
            return False
    for i in range(b.ints[p + DIALS]):
        if info[one, VALUE + i] != info[other, VALUE + i]:
            return False
    rules = b.ints[p + RULED]
    if not rules:
        return True
    tied, group = b.ints[rules + TIED], b.ints[rules + GROUP]
    for w in range(rest.shape[1]):
        if bits[tied, w] & (rest[one, w] ^ rest[other, w]):
            return False
    for mates in range(group, group + b.ints[rules + GROUPS]):
        same = none = True
        for w in range(rest.shape[1]):
            left = bits[mates, w] & rest[one, w]
            same = same and left == bits[mates, w] & rest[other, w]
            none = none and not left
        if not (same or none):
            return False
    return True
